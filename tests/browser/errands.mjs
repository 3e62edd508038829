// What three people come for, each with scripts and without: a beginner, a writer, a keeper.
//
// The errands go by links that can be seen and by the words beside them, not by the markup.

import { plantData, plantSlugs } from './tools.mjs';

const WATER = 'capped-soil';
const ROLE = 'nutrient-uptake';

/**
 * Plants that can be seen on the page to do a job: links to plant pages whose line has the word
 * "mainstay". On a page of many jobs, a list belongs to the last job linked to before it.
 */
const mainstays = ([job, isPageOfJob]) => {
  let current = isPageOfJob;
  const found = [];
  for (const link of document.querySelectorAll('main a[href]')) {
    const path = new URL(link.href).pathname;
    const to = path.match(/\/roles\/[^/]+\/[^/]+\/$/);
    if (to && !isPageOfJob) current = path.endsWith(job);
    const plant = path.match(/\/plants\/([^/]+)\/$/);
    if (!current || !plant || !link.checkVisibility()) continue;
    const line = link.closest('li, tr, article, p') ?? link.parentElement;
    if (/\bmainstay\b/i.test(line.innerText) && !found.includes(plant[1])) found.push(plant[1]);
  }
  return found;
};

/** The first visible link on the page that ends in `path`. */
const linkTo = (page, path) => page.locator(`main a[href$="${path}"]:visible, nav a[href$="${path}"]:visible`).first();

async function beginner({ page, host, site, say }) {
  const job = `/roles/${ROLE}/${WATER}/`;
  await page.goto(host.url);
  let clicks = 0;
  let found = await page.evaluate(mainstays, [job, false]);
  if (found.length < 3) {
    const link = linkTo(page, job.slice(1));
    if (!(await link.count())) return say(`home: no link to ${job}, and ${found.length} mainstays`);
    await link.click();
    clicks += 1;
    found = await page.evaluate(mainstays, [job, true]);
  }
  if (found.length < 3) say(`${found.length} mainstays for ${ROLE} in ${WATER} after ${clicks} clicks, not 3`);
  for (const slug of found) {
    const plant = plantData(site, slug);
    const standing = plant.standings[WATER]?.[ROLE]?.standing;
    if (standing !== 'mainstay') say(`${slug} is shown as a mainstay and is: ${standing}`);
  }
  // A listed plant keeps its standing on the full list; it is not offered on the first page, nor
  // is it first anywhere.
  for (const slug of clicks ? found.slice(0, 3) : found) {
    if (plantData(site, slug).regulated.some((listing) => listing.here)) say(`${slug} is regulated, and offered`);
  }
  if (!found.length) return;
  await linkTo(page, `plants/${found[0]}/`).click();
  clicks += 1;
  const text = await page.locator('main').innerText();
  if (!/\bmainstay for nutrient uptake\b/i.test(text)) say(`plants/${found[0]}/ does not say what it is a mainstay for`);
  if (clicks > 2) say(`${clicks} clicks from the home page to a mainstay's page, not 2`);
}

async function writer({ page, host, site, say, skip }) {
  // The full name under which a loose one hides a plant that grows at another speed.
  const slug = 'cryptocoryne-wendtii-mi-oya';
  const { name } = plantData(site, slug);
  await page.goto(`${host.url}names/cryptocoryne/`);
  const link = page.getByRole('link', { name, exact: true }).first();
  if (!(await link.count())) return say(`names/cryptocoryne/ has no link with the text: ${name}`);
  await link.click();
  if (!page.url().startsWith(`${host.url}plants/${slug}/`)) say(`the link ${name} leads to ${page.url()}`);
  const heading = (await page.locator('h1').first().textContent()).trim();
  if (heading !== name) say(`the page of ${name} has the heading: ${heading}`);
  const cite = page.locator('#cite');
  if (!(await cite.count())) return say('what to cite: no element of the page has the id `cite`');
  if (!(await cite.isVisible())) return say('what to cite cannot be seen');
  // The heading or the part it heads: what stands from there on.
  const part = await cite.evaluate((at) => (/^h\d$/.test(at.localName) ? at.parentElement : at).innerText);
  const title = JSON.parse(await (await fetch(`${host.url}data/guide.json`)).text()).title;
  for (const needed of [name, title, `plants/${slug}/`]) {
    if (!part.includes(needed)) say(`what to cite does not have: ${needed}`);
  }
  if (!/edition/i.test(part)) say('what to cite does not say which edition');
}

async function keeper({ page, host, site, say }) {
  const slug = plantSlugs(site).find((one) => one === 'vallisneria-australis');
  const traits = Object.entries(plantData(site, slug).traits);
  const [trait] = traits.find(([, grade]) => grade.contested) ?? [];
  if (!trait) return say(`${slug} has no contested trait any more: choose another plant`);
  await page.goto(`${host.url}contested/`);
  const balance = linkTo(page, `plants/${slug}/#trait-${trait}`);
  if (!(await balance.count())) return say(`contested/ has no link to the balance of ${slug}, ${trait}`);
  await balance.click();
  const target = page.locator(`#trait-${trait}`);
  if (!(await target.isVisible())) return say(`${slug}: the part on ${trait} cannot be seen`);
  const top = await target.evaluate((part) => part.getBoundingClientRect().top);
  if (top < -4 || top > page.viewportSize().height) say(`${slug}: the link does not lead to ${trait} (${top} px)`);
  const text = await page.locator('main').innerText();
  if (!/would (change|settle)/i.test(text)) say(`${slug}: nothing on what would settle it`);
  if (!/\bmore notes? of\b[^.]*\bwould\b/i.test(text)) say(`${slug}: no number of notes that would settle it`);
  const wanted = linkTo(page, 'wanted/');
  if (!(await wanted.count())) return say(`${slug}: no link to what is wanted`);
  await wanted.click();
  if (!(await linkTo(page, `plants/${slug}/`).count())) say(`wanted/ does not have ${slug}`);
}

/** Runs the errands; returns how many. */
export async function checkErrands({ chromium, host, site, fault, note }) {
  let errands = 0;
  for (const javaScriptEnabled of [true, false]) {
    const context = await chromium.newContext({
      javaScriptEnabled,
      // A link to a part of a page is there at once, not after a smooth run.
      reducedMotion: 'reduce',
      viewport: { width: 360, height: 800 },
    });
    context.setDefaultTimeout(20_000);
    for (const errand of [beginner, writer, keeper]) {
      const page = await context.newPage();
      const scripts = javaScriptEnabled ? 'with scripts' : 'without scripts';
      const say = (what) => fault(`errand of the ${errand.name}, ${scripts}`, 360, 'light', what);
      const skip = (why) => note(`errand of the ${errand.name}, ${scripts}: ${why}`);
      try {
        await errand({ page, host, site, say, skip });
      } catch (error) {
        say(error.message.split('\n')[0]);
      }
      errands += 1;
      await page.close();
    }
    await context.close();
  }
  return errands;
}
