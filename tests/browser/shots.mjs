// Pictures of every page kind: node tests/browser/shots.mjs SITE OUT
//
// Each page at the width of a desk and of a phone, in light and dark, as long as it is up to a limit.

import { mkdirSync, existsSync } from 'node:fs';
import { join } from 'node:path';
import { serve } from './server.mjs';
import { basePath, browser, each, pageKinds } from './tools.mjs';

/** Our choice, in CSS pixels: enough for the top half of the longest page, and quick to look at. */
const LONGEST = 5000;

const [site, out] = process.argv.slice(2);
if (!out || !existsSync(join(site, 'index.html'))) {
  console.error('usage: node tests/browser/shots.mjs SITE OUT, where SITE is a pressed site');
  process.exit(2);
}
mkdirSync(out, { recursive: true });
const host = await serve(site, basePath(site));
const chromium = await browser();
const { pages: addresses } = pageKinds(site);
let shots = 0;
for (const colorScheme of ['light', 'dark']) {
  for (const width of [1280, 360]) {
    const context = await chromium.newContext({ colorScheme, viewport: { width, height: 900 } });
    await each(addresses, 2, async (address) => {
      const page = await context.newPage();
      await page.goto(host.url + address);
      const length = await page.evaluate(() => document.documentElement.scrollHeight);
      const name = address.replace(/\/$/, '').replaceAll('/', '_') || 'home';
      // A window as long as the page: a picture put together from windows can repeat a part.
      await page.setViewportSize({ width, height: Math.min(length, LONGEST) });
      await page.screenshot({ path: join(out, `${name}-${width}-${colorScheme}.png`) });
      shots += 1;
      await page.close();
    });
    await context.close();
  }
}
console.log(`${shots} pictures of ${addresses.length} pages in ${out}`);
await chromium.close();
host.close();
