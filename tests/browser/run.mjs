// Tests of a pressed site in a browser: node tests/browser/run.mjs SITE
//
// One line a fault: page, width, color scheme, what. Exit 0: none; 1: some; 2: could not run.

import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { checkErrands } from './errands.mjs';
import { checkKeyboard, checkPrint } from './keyboard.mjs';
import { checkPages } from './pages.mjs';
import { serve } from './server.mjs';
import { basePath, browser, pageKinds } from './tools.mjs';

/** Pages of the demonstration guide that the tests name; the rest are found by kind. */
const NAMED = ['names/cryptocoryne/', 'plants/elodea-canadensis/', 'plants/vallisneria-australis/'];
const KEYBOARD = ['', 'plants/', 'plants/vallisneria-australis/', 'compare/', 'search/'];
const PRINTED = 'start/capped-soil/';

const site = process.argv[2];
if (!site || !existsSync(join(site, 'index.html'))) {
  console.error('usage: node tests/browser/run.mjs SITE, where SITE is a pressed site');
  process.exit(2);
}
const began = Date.now();
const seconds = () => `${Math.round((Date.now() - began) / 1000)} s`;
const host = await serve(site, basePath(site));
const chromium = await browser();

/** What is wrong, each with the widths and schemes it was seen in, so that it takes one line. */
const faults = new Map();
const fault = (page, width, scheme, what) => {
  const key = `${page}\n${what}`;
  if (!faults.has(key)) faults.set(key, new Set());
  faults.get(key).add(`${width} ${scheme}`);
};
const note = (text) => console.log(`skipped: ${text}`);

const { pages: addresses, missing } = pageKinds(site, NAMED);
for (const kind of missing) fault(kind || '(home)', '-', '-', 'no such page in the site');

const errands = await checkErrands({ chromium, host, site, fault, note });
const reached = KEYBOARD.filter((address) => existsSync(join(site, address, 'index.html')));
await checkKeyboard({ chromium, host, addresses: reached, fault });
await checkPrint({ chromium, host, address: PRINTED, fault });
const looks = await checkPages({ chromium, host, addresses, fault, lanes: 2 });

for (const [key, seen] of faults) {
  const [page, what] = key.split('\n');
  console.log(`FAULT ${page} (${[...seen].join(', ')}): ${what}`);
}
console.log(`${addresses.length} pages in ${looks} looks, ${errands} errands, ${faults.size} faults, ${seconds()}`);
await chromium.close();
host.close();
process.exitCode = faults.size ? 1 : 0;
