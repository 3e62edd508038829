// Tests of the desk in a browser: node tests/browser/desk.mjs PONDWEIGH GUIDE
//
// GUIDE, a folder with `content/`, is copied and stays as it is. A member records an observation by
// the form, with scripts and without; a page that is open keeps its place through a save; faults
// stand in the page's place until they are mended; each page of the desk's own is looked at in both
// color schemes. One line a fault. Exit 0: none; 1: some; 2: could not run.

import { spawn } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { RULES, sideways, unfold, unreachable, violations } from './pages.mjs';
import { browser } from './tools.mjs';

const ENTRY = 'content/plants/azolla/filiculoides.yaml';
const PAGE = '/plants/azolla-filiculoides/';

/** Opens a desk on a guide; gives its address, without a slash at its end, and an end. */
export async function opened(program, guide, port = 0) {
  const desk = spawn(program, ['desk', guide, '--port', String(port)], { stdio: ['ignore', 'pipe', 'ignore'] });
  const first = await new Promise((found, lost) => {
    desk.stdout.once('data', (text) => found(String(text).trim()));
    desk.once('exit', (code) => lost(new Error(`the desk ended with ${code}`)));
  });
  return { url: first.replace(/\/$/, ''), end: () => desk.kill('SIGINT') };
}

/** Fills the form in as a person would who has a slip in hand. */
export async function fill(page, { plant, trait, value, source, date }) {
  const field = (name) => page.locator(`#observation [name="${name}"]`);
  await field('plant').fill(plant);
  await field('trait').selectOption({ label: trait });
  await field('value').fill(value);
  await field('source').selectOption(source);
  await field('date').fill(date);
}

/** Lines that a file has more than before, and whether all others are as they were. */
function added(before, after) {
  const left = before.split('\n');
  const more = [];
  for (const line of after.split('\n')) {
    if (left[0] === line) left.shift();
    else more.push(line);
  }
  return { more, isWhole: left.length === 0 };
}

async function record({ desk, guide, context, say, hasScripts }) {
  const before = readFileSync(join(guide, ENTRY), 'utf8');
  const page = await context.newPage();
  page.on('pageerror', (error) => say(`script: ${error.message}`));
  await page.goto(desk.url + PAGE);
  const voices = await page.locator('main').innerText();
  if (hasScripts) await page.getByRole('link', { name: 'Record an observation' }).click();
  else await page.goto(`${desk.url}/desk/?of=azolla-filiculoides`);
  const name = await page.locator('#observation [name="plant"]').inputValue();
  if (name !== 'Azolla filiculoides') say(`the form has “${name}” for the plant of the page`);
  const slip = {
    plant: 'Water fern of ponds',
    trait: 'Growth',
    value: hasScripts ? '30 % to 90 % in 9 d' : '25 % to 85 % in 9 d',
    source: 'ferry-school-log',
    date: '2025-06-01 to 2025-06-10',
  };
  if (hasScripts) {
    await page.locator('#observation [name="plant"]').fill('fern of po');
    await page.locator('#plant-names option').first().waitFor({ state: 'attached' });
    const offered = await page.locator('#plant-names option').evaluateAll((all) => all.map((one) => one.value));
    if (!offered.includes(slip.plant)) say(`“fern of po” offers ${offered.join(', ')}`);
  }
  await fill(page, slip);
  if (!hasScripts) await page.getByRole('button', { name: 'Show what it would move' }).click();
  const write = page.getByRole('button', { name: 'Write it into the entry' });
  await write.waitFor();
  if (readFileSync(join(guide, ENTRY), 'utf8') !== before) say('the entry is changed before the confirmation');
  if (hasScripts) {
    // What is shown is not written once another value stands in the form.
    await page.locator('#observation [name="value"]').fill('slow');
    if (await write.isEnabled()) say('what was shown can be written after the form has changed');
    await page.locator('#observation [name="value"]').fill('');
    await page.locator('#observation [name="value"]').pressSequentially(slip.value);
    // A click straight from the field that was typed in last is not lost.
    await page.locator('#observation [name="remark"]').pressSequentially('Seen on a Sunday.');
    await page.locator('#moves pre').filter({ hasText: 'Sunday' }).waitFor();
    await page.locator('#moves button:enabled').waitFor();
  }
  const shown = await page.locator('#moves pre').innerText();
  await write.click();
  await page.getByRole('heading', { name: 'Written' }).waitFor();
  const after = readFileSync(join(guide, ENTRY), 'utf8');
  const { more, isWhole } = added(before, after);
  if (!isWhole || more.length !== 1) say(`the entry has ${more.length} more lines, or others than before`);
  if (more[0]?.trim() !== shown.trim()) say(`shown was ${shown.trim()}, written is ${more[0]?.trim()}`);
  // Loaded again, it says the same and sends nothing.
  await page.reload();
  await page.getByRole('heading', { name: 'Written' }).waitFor();
  if (readFileSync(join(guide, ENTRY), 'utf8') !== after) say('the page loaded again writes again');
  const next = (name) => page.locator(`#observation [name="${name}"]`).inputValue();
  if ((await next('source')) !== slip.source || !(await next('date'))) say('the next slip does not keep the source and the date');
  if (await next('plant')) say('the next slip keeps the plant');
  await page.locator('#moves').getByRole('link', { name: 'Azolla filiculoides' }).click();
  if ((await page.locator('main').innerText()) === voices) say('the plant’s page is as it was');
  await page.close();
}

/** A page that is open through a save keeps its place; a fault stands in its place and goes away. */
async function keepsPlace({ desk, guide, context, say }) {
  const file = join(guide, ENTRY);
  const before = readFileSync(file, 'utf8');
  const page = await context.newPage();
  await page.goto(desk.url + PAGE);
  await page.locator('main summary').first().focus();
  await page.evaluate(() => scrollTo(0, 900));
  const mark = () =>
    page.evaluate(() => {
      const first = [...document.querySelectorAll('main h2, main h3')].find((one) => one.getBoundingClientRect().top > 0);
      return [first.textContent, Math.round(first.getBoundingClientRect().top), document.activeElement.localName];
    });
  await page.waitForTimeout(200);
  const [title, top, focus] = await mark();
  let loaded = page.waitForEvent('load');
  // More above the place: it moves down with its heading.
  writeFileSync(file, before.replace('summary: ', 'summary: Looked at once more, and at some length, on a Sunday in May. '));
  await loaded;
  await page.waitForTimeout(300);
  const [titleAfter, topAfter, focusAfter] = await mark();
  if (title !== titleAfter || Math.abs(top - topAfter) > 2) say(`“${title}” at ${top} px became “${titleAfter}” at ${topAfter} px`);
  if (focus !== focusAfter) say(`the focus was on ${focus}, and is on ${focusAfter}`);
  loaded = page.waitForEvent('load');
  writeFileSync(file, before.replace('source: floating-trial', 'source: no-such-trial'));
  await loaded;
  await page.getByRole('heading', { name: 'The guide has errors' }).waitFor();
  const excerpt = await page.locator('.faults').innerText();
  if (!excerpt.includes(ENTRY) || !excerpt.includes('no-such-trial')) say(`the fault is shown as ${excerpt}`);
  loaded = page.waitForEvent('load');
  writeFileSync(file, before);
  await loaded;
  if (!(await page.locator('h1').innerText()).includes('Azolla')) say('the page does not come back');
  await page.close();
}

/** A page that a save does not change stays as it is, with all that was typed and opened in it. */
async function staysPut({ desk, guide, context, say }) {
  const file = join(guide, ENTRY);
  const before = readFileSync(file, 'utf8');
  const page = await context.newPage();
  await page.goto(`${desk.url}/words/`);
  await page.evaluate(() => {
    globalThis.isOld = true;
  });
  const note = page.getByRole('complementary', { name: 'What the save moved' });
  for (const text of [before.split('\n').filter((line) => !line.includes('survival')).join('\n'), before]) {
    writeFileSync(file, text);
    await note.waitFor();
    if (!(await page.evaluate(() => globalThis.isOld))) say('a page that is the same was loaded again');
    await note.evaluate((one) => one.remove());
  }
  await page.close();
}

/** What is typed into a form goes on after the desk was started anew. */
async function startsAnew({ program, guide, context, say }) {
  const first = await opened(program, guide);
  const page = await context.newPage();
  await page.goto(`${first.url}/desk/`);
  await fill(page, { plant: 'Azolla filiculoides', trait: 'Growth', value: 'slow', source: 'ferry-school-log', date: '2025-07-01' });
  const told = page.getByRole('heading', { name: 'What it would move' });
  await told.waitFor();
  first.end();
  await page.locator('#observation [name="value"]').fill('fas');
  await page.locator('#moves').getByText('The desk does not answer').waitFor();
  const again = await opened(program, guide, new URL(first.url).port);
  await page.locator('#observation [name="value"]').fill('fast');
  await told.waitFor({ timeout: 5000 }).catch(() => say('a desk that was started anew takes the form no more'));
  await page.close();
  again.end();
}

/** Looks at each page of the desk's own. */
async function looks({ desk, guide, context, scheme, fault }) {
  const page = await context.newPage();
  let name = '';
  let width = 0;
  const say = (what) => fault(`desk, ${name} (${width} ${scheme}): ${what}`);
  page.on('pageerror', (error) => say(`script: ${error.message}`));
  page.on('console', (message) => {
    // That a page of faults answers 503 and a lost one 404 is right, and Chromium notes it.
    if (message.type() === 'error' && !/status of (404|422|503)/.test(message.text())) say(`console: ${message.text()}`);
  });
  const look = async (what) => {
    name = what;
    await page.evaluate(unfold);
    for (width of [320, 360, 640, 1280]) {
      await page.setViewportSize({ width, height: 900 });
      const wide = await page.evaluate(sideways);
      if (wide) say(wide);
      for (const box of await page.evaluate(unreachable)) say(`scrolls, but cannot be focused: ${box}`);
      if (width !== 360 && width !== 1280) continue;
      for (const rule of await violations(page, RULES)) say(`axe ${rule.id}: ${rule.nodes[0].target.join(' ')}: ${rule.help}`);
    }
  };
  await page.goto(`${desk.url}/desk/`);
  await look('the form');
  const slip = { plant: 'Azolla filiculoides', trait: 'Growth', value: 'slow', source: 'ferry-school-log', date: '2025-06-01' };
  await fill(page, slip);
  await page.getByRole('heading', { name: 'What it would move' }).waitFor();
  await look('an observation');
  await fill(page, { ...slip, value: 'swiftly' });
  await page.getByRole('heading', { name: 'To settle first' }).waitFor();
  await look('an unclear observation');
  await page.goto(`${desk.url}/plants/no-such-plant/`);
  await look('a lost page');
  const file = join(guide, ENTRY);
  const before = readFileSync(file, 'utf8');
  await page.setViewportSize({ width: 360, height: 700 });
  await page.goto(desk.url + PAGE);
  writeFileSync(file, before.split('\n').filter((line) => !line.includes('survival')).join('\n'));
  const note = page.getByRole('complementary', { name: 'What the save moved' });
  await note.waitFor();
  if (!(await note.innerText()).includes('Azolla filiculoides: Survival')) say(`the note says ${await note.innerText()}`);
  await look('a save that moved something');
  await note.getByRole('button', { name: 'Put away' }).click();
  if (await note.count()) say('the note stays');
  const back = page.waitForEvent('load');
  writeFileSync(file, before);
  await back;
  const loaded = page.waitForEvent('load');
  writeFileSync(file, before.replace('says: thrives', 'says: thrivez'));
  await loaded;
  await page.getByRole('heading', { name: 'The guide has errors' }).waitFor();
  await look('faults');
  if (await note.count()) say('a guide with errors says what a save moved');
  const mended = page.waitForEvent('load');
  writeFileSync(file, before);
  await mended;
  await page.close();
}

async function main() {
  const [program, from] = process.argv.slice(2);
  if (!from || !existsSync(join(from, ENTRY))) {
    console.error('usage: node tests/browser/desk.mjs PONDWEIGH GUIDE, where GUIDE is the demonstration guide');
    process.exit(2);
  }
  const guide = mkdtempSync(join(tmpdir(), 'desk-'));
  cpSync(join(from, 'content'), join(guide, 'content'), { recursive: true });
  let faults = 0;
  const fault = (text) => {
    console.log(`FAULT ${text}`);
    faults += 1;
  };
  const desk = await opened(program, guide);
  const chromium = await browser();
  for (const hasScripts of [true, false]) {
    const context = await chromium.newContext({ javaScriptEnabled: hasScripts });
    const say = (what) => fault(`desk, a slip ${hasScripts ? 'with' : 'without'} scripts: ${what}`);
    await record({ desk, guide, context, say, hasScripts });
    await context.close();
  }
  for (const scheme of ['light', 'dark']) {
    const context = await chromium.newContext({ colorScheme: scheme });
    const say = (what) => fault(`desk, a save: ${what}`);
    if (scheme === 'light') {
      await keepsPlace({ desk, guide, context, say });
      await staysPut({ desk, guide, context, say });
      await startsAnew({ program, guide, context, say });
    }
    await looks({ desk, guide, context, scheme, fault });
    await context.close();
  }
  console.log(`the desk: a slip with scripts and without, a save, six pages in both schemes, ${faults} faults`);
  await chromium.close();
  desk.end();
  rmSync(guide, { recursive: true });
  process.exitCode = faults ? 1 : 0;
}

if (process.argv[1]?.endsWith('browser/desk.mjs')) await main();
