// Ratings by Lighthouse: node tests/browser/ratings.mjs SITE LIGHTHOUSE

import { execFile } from 'node:child_process';
import { promisify } from 'node:util';
import { serve } from './server.mjs';
import { basePath, plantSlugs } from './tools.mjs';

const [site, lighthouse] = process.argv.slice(2);
if (!lighthouse) {
  console.error('usage: node tests/browser/ratings.mjs SITE LIGHTHOUSE');
  process.exit(2);
}
/** Our choice: what a page of the guide is asked for in each category, of 100. */
const LEAST = 98;
const FLAGS = [
  '--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
  '--disable-background-networking', '--disable-component-update', '--disable-sync',
];
const run = promisify(execFile);
const host = await serve(site, basePath(site));
const slugs = plantSlugs(site);
const plant = slugs.includes('hygrophila-difformis') ? 'hygrophila-difformis' : slugs[0];
let low = 0;
for (const address of ['', 'roles/nutrient-uptake/', 'roles/nutrient-uptake/capped-soil/', `plants/${plant}/`]) {
  for (const look of ['phone', 'desk']) {
    const { stdout } = await run(process.execPath, [
      lighthouse, host.url + address, '--quiet', '--output', 'json', '--disable-full-page-screenshot',
      ...(look === 'desk' ? ['--preset=desktop'] : []), `--chrome-flags=${FLAGS.join(' ')}`,
    ], { env: { ...process.env, CHROME_PATH: process.env.PONDWEIGH_CHROMIUM ?? '/usr/bin/chromium' }, maxBuffer: 1 << 27 });
    const { categories, audits } = JSON.parse(stdout);
    const scores = Object.values(categories).map((category) => {
      const score = Math.round(category.score * 100);
      if (score < LEAST) low += 1;
      return `${category.title.toLowerCase()} ${score}`;
    });
    console.log(`${address || '(home)'} as on a ${look}: ${scores.join(', ')}`);
    for (const { id, weight } of Object.values(categories).flatMap((category) => category.auditRefs)) {
      const audit = audits[id];
      if (weight > 0 && audit.score !== null && audit.score < 0.9) console.log(`  ${audit.title}: ${audit.displayValue ?? audit.score}`);
    }
  }
}
host.close();
if (low > 0) {
  console.log(`${low} below ${LEAST}`);
  process.exit(1);
}
