// The tools of these tests: the browser, the pages of a site, and the list of faults.
//
// npm packages are installed outside the tree; PONDWEIGH_TEST_TOOLS says where.

import { readdirSync, readFileSync, statSync, existsSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join, resolve } from 'node:path';

const installed = resolve(process.env.PONDWEIGH_TEST_TOOLS ?? 'target/test-tools', 'browser');
const require = createRequire(join(installed, 'package.json'));
const { chromium } = require('playwright-core');
const axe = require('@axe-core/playwright');
export const AxeBuilder = axe.default ?? axe;

/** A headless Chromium that asks nothing of any other host by itself. */
export const browser = () =>
  chromium.launch({
    executablePath: process.env.PONDWEIGH_CHROMIUM ?? '/usr/bin/chromium',
    args: [
      '--headless',
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });

/** The path below which a guide says that it is published, such as `/plants/`. */
export function basePath(site) {
  const home = readFileSync(join(site, 'index.html'), 'utf8');
  const canonical = home.match(/<link rel="canonical" href="([^"]+)"/);
  return canonical ? new URL(canonical[1]).pathname : '/plants/';
}

export const plantData = (site, slug) =>
  JSON.parse(readFileSync(join(site, 'plants', slug, 'plant.json'), 'utf8'));

/** Slugs of the plants that have a page of their own, sorted. */
export const plantSlugs = (site) =>
  readdirSync(join(site, 'plants'))
    .filter((slug) => existsSync(join(site, 'plants', slug, 'plant.json')))
    .sort();

/** Page kinds that every guide has; other kinds of a site are found by themselves. */
const EXPECTED = [
  '',
  '404.html',
  'cautions/',
  'compare/',
  'contested/',
  'data/',
  'editions/',
  'method/',
  'names/*/',
  'plantings/',
  'plants/',
  'plants/*/',
  'plants/* contested',
  'plants/* regulated',
  'plants/* former',
  'gone/*/',
  'pages/*/',
  'plantings/*/',
  'roles/',
  'roles/*/',
  'roles/*/*/',
  'sources/',
  'sources/*/',
  'start/',
  'start/*/',
  'traits/',
  'traits/* scale',
  'traits/* span',
  'wanted/',
  'waters/*/',
  'words/',
];

/** Traits whose claims are ranges, not steps of a scale: in the data they have ends, not a level. */
function spanTraits(site) {
  const spans = new Set();
  for (const slug of plantSlugs(site)) {
    for (const [trait, grade] of Object.entries(plantData(site, slug).traits)) {
      if ('low' in grade) spans.add(trait);
    }
  }
  return spans;
}

/** Addresses of all pages of a site, relative to its root, each with its kind and size. */
function addresses(site) {
  const spans = spanTraits(site);
  const found = [];
  const walk = (address) => {
    const folder = join(site, address);
    if (existsSync(join(folder, 'index.html'))) {
      const parts = address.split('/').filter(Boolean);
      let kind = parts.map((part, at) => (at === 0 ? part : '*') + '/').join('');
      if (kind === 'traits/*/') kind = spans.has(parts[1]) ? 'traits/* span' : 'traits/* scale';
      if (kind === 'plants/*/') {
        if (!existsSync(join(folder, 'plant.json'))) kind = 'plants/* former';
        else {
          const plant = plantData(site, parts[1]);
          if (plant.regulated.some((listing) => listing.here)) kind = 'plants/* regulated';
          else if (Object.values(plant.traits).some((t) => t.contested)) kind = 'plants/* contested';
        }
      }
      found.push({ address, kind, size: statSync(join(folder, 'index.html')).size });
    }
    for (const entry of readdirSync(folder, { withFileTypes: true })) {
      if (entry.isDirectory()) walk(`${address}${entry.name}/`);
    }
  };
  walk('');
  return found;
}

/**
 * The longest and the shortest page of every kind, and those of `also`, by address; and the kinds
 * that a guide should have and this one has not.
 */
export function pageKinds(site, also = []) {
  const all = addresses(site);
  const chosen = new Set(also);
  const kinds = new Map();
  for (const page of all) {
    if (!kinds.has(page.kind)) kinds.set(page.kind, []);
    kinds.get(page.kind).push(page);
  }
  for (const pages of kinds.values()) {
    pages.sort((a, b) => a.size - b.size || (a.address < b.address ? -1 : 1));
    chosen.add(pages[0].address);
    chosen.add(pages[pages.length - 1].address);
  }
  const missing = EXPECTED.filter((kind) => kind !== '404.html' && !kinds.has(kind));
  const known = new Set(all.map((page) => page.address));
  for (const address of also) {
    if (!known.has(address)) missing.push(address);
  }
  if (existsSync(join(site, '404.html'))) chosen.add('404.html');
  else missing.push('404.html');
  return { pages: [...chosen].filter((a) => known.has(a) || a === '404.html').sort(), missing };
}

/** Does `task` on every item, `width` of them at a time. */
export async function each(items, width, task) {
  const waiting = [...items];
  const lane = async () => {
    for (let item = waiting.shift(); item !== undefined; item = waiting.shift()) await task(item);
  };
  await Promise.all(Array.from({ length: width }, lane));
}
