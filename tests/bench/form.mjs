// The form's part of a member's path, timed in steps: node tests/bench/form.mjs PONDWEIGH GUIDE

import { fill, opened } from '../browser/desk.mjs';
import { browser } from '../browser/tools.mjs';

const [program, guide] = process.argv.slice(2);
const chromium = await browser();
let from = performance.now();
const step = (what) => {
  const now = performance.now();
  console.log(`  ${((now - from) / 1000).toFixed(2).padStart(6)} s  ${what}`);
  from = performance.now();
};
const desk = await opened(program, guide);
step('pondweigh desk');
const page = await (await chromium.newContext()).newPage();
await page.goto(`${desk.url}/desk/`);
step('the form is there');
await fill(page, {
  plant: 'Water fern of ponds',
  trait: 'Growth',
  value: '30 % to 90 % in 9 d',
  source: 'ferry-school-log',
  date: '2025-06-01 to 2025-06-10',
});
from = performance.now();
await page.getByRole('heading', { name: 'What it would move' }).waitFor();
step('the last field to what it would move, with a wait until typing rests');
await page.getByRole('button', { name: 'Write it into the entry' }).click();
await page.getByRole('heading', { name: 'Written' }).waitFor();
step('written');
await page.locator('#moves').getByRole('link').first().click();
await page.locator('main h1').waitFor();
if (!(await page.locator('main').innerText()).includes('Ferry')) throw new Error('the claim is not on the page');
step('the plant’s page shows it');
await chromium.close();
desk.end();
