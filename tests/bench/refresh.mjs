// How long an open page takes from a save to being shown anew, in a browser:
// node tests/bench/refresh.mjs PONDWEIGH GUIDE [SAVES]
//
// GUIDE is written by `cargo bench --bench desk -- --make GUIDE`. A save adds a claim or a name to an
// entry; the page is shown when the browser has painted what came of it, or knows that it is the
// same.

import { spawn } from 'node:child_process';
import { readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { browser } from '../browser/tools.mjs';

const [program, guide, saves = '15'] = process.argv.slice(2);
if (!guide) {
  console.error('usage: node tests/bench/refresh.mjs PONDWEIGH GUIDE [SAVES]');
  process.exit(2);
}
const desk = spawn(program, ['desk', guide], { stdio: ['ignore', 'pipe', 'pipe'] });
const said = [];
desk.stderr.setEncoding('utf8').on('data', (text) => said.push(text));
const host = await new Promise((found) => desk.stdout.once('data', (text) => found(String(text).trim().replace(/\/$/, ''))));

const folder = join(guide, 'content/plants');
const entries = readdirSync(folder).flatMap((genus) =>
  readdirSync(join(folder, genus)).map((file) => [genus, file.replace('.yaml', '')]),
);
const chromium = await browser();
const page = await (await chromium.newContext({ viewport: { width: 1280, height: 900 } })).newPage();
const wait = (ms) => new Promise((done) => setTimeout(done, ms));

/** Adds a claim to an entry, or another name; gives its text with it. */
const edits = {
  claim: (text, number) => `${text}  - {trait: height, source: source-${number % 60}, measures: ${20 + number} cm, remark: Seen ${number}.}\n`,
  name: (text, number) => text.replace('\nknown-as: [', `\nknown-as: [Name ${number} of the bench, `),
};

/**
 * Milliseconds from a save of an entry until a page is shown that differs from the one before, or
 * until it is known that the open page is still right.
 */
async function timed(address, entry, number, edit) {
  await page.goto(host + address);
  await page.evaluate(() => scrollTo(0, 600));
  const place = await page.evaluate(() => scrollY);
  await wait(300);
  const file = join(folder, entry[0], `${entry[1]}.yaml`);
  const text = readFileSync(file, 'utf8');
  let isLoadedAgain = false;
  page.once('framenavigated', () => {
    isLoadedAgain = true;
  });
  // The page asks for what moved once it is shown anew, or once it knows that it is right.
  const told = page.waitForRequest((request) => request.url().endsWith('/desk/moved.json'));
  const loaded = page.waitForEvent('load').catch(() => {});
  const saved = Date.now();
  writeFileSync(file, edits[edit](text, number));
  await told;
  if (!isLoadedAgain) {
    const known = Date.now();
    // The wait for a page that is not loaded ends with a page that is.
    await page.goto('about:blank');
    await loaded;
    return { ms: known - saved, is: 'the same' };
  }
  await loaded;
  const shown = await page.evaluate(
    () =>
      new Promise((done) => {
        const paints = performance.getEntriesByName('first-contentful-paint');
        if (paints.length) done(performance.timeOrigin + paints[0].startTime);
        else new PerformanceObserver((list) => done(performance.timeOrigin + list.getEntries()[0].startTime)).observe({ type: 'paint', buffered: true });
      }),
  );
  const kept = await page.evaluate(() => scrollY);
  if (Math.abs(kept - place) > 200) throw new Error(`${address}: scrolled from ${place} to ${kept}`);
  return { ms: shown - saved, is: 'another' };
}

const half = (all) => [...all].sort((a, b) => a - b)[Math.floor(all.length / 2)];
const kinds = [
  ['the plant’s page', (entry) => `/plants/${entry[0]}-${entry[1]}/`, 'claim'],
  ['the home page', () => '/', 'claim'],
  ['a role in a water', () => '/roles/nutrient-uptake/capped-soil/', 'claim'],
  ['all plants, A–Z', () => '/plants/', 'claim'],
  ['all plants, A–Z', () => '/plants/', 'name'],
];
for (const [name, address, edit] of kinds) {
  const found = [];
  // Lists of thousands take the browser seconds to load before each save.
  const most = name.includes('role') || name.includes('A–Z') ? 3 : Number(saves);
  for (let number = 0; number < most; number += 1) {
    const entry = entries[(number * 641) % entries.length];
    found.push(await timed(address(entry), entry, number, edit));
  }
  const times = found.map((one) => one.ms);
  const is = [...new Set(found.map((one) => one.is))].join(' or ');
  console.log(`${name}, after a ${edit}: ${is} page; median ${Math.round(half(times))} ms, slowest ${Math.round(Math.max(...times))} ms, of ${times.length} saves`);
}
console.log(said.join('').trim().split('\n').slice(-1)[0]);
await chromium.close();
desk.kill('SIGINT');
