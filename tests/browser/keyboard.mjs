// The keyboard and the printer: the skip link, the focus that can be seen, the printed sheet.

/** How an element looks in the ways that focus may change. */
const looks = () => {
  const names = ['outlineStyle', 'outlineWidth', 'outlineColor', 'boxShadow', 'borderColor', 'backgroundColor'];
  return [...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex]')].map(
    (element, at) => {
      element.dataset.order = at;
      const style = getComputedStyle(element);
      return names.map((name) => style[name]).join('; ');
    },
  );
};

/** The element in focus: its number, how it looks now, and whether it can be seen. */
const inFocus = () => {
  const element = document.activeElement;
  if (!element || element === document.body) return null;
  const names = ['outlineStyle', 'outlineWidth', 'outlineColor', 'boxShadow', 'borderColor', 'backgroundColor'];
  const style = getComputedStyle(element);
  const box = [...element.getClientRects()].find((rect) => rect.width && rect.height);
  const inside =
    box && box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth;
  const across = box && (Math.max(box.left, 0) + Math.min(box.right, innerWidth)) / 2;
  const down = box && (Math.max(box.top, 0) + Math.min(box.bottom, innerHeight)) / 2;
  const above = inside ? document.elementFromPoint(across, down) : null;
  return {
    at: element.dataset.order,
    name: `${element.localName} “${(element.innerText || element.getAttribute('aria-label') || '').slice(0, 30)}”`,
    look: names.map((name) => style[name]).join('; '),
    inside: Boolean(inside),
    covered: Boolean(above) && !element.contains(above) && !above.contains(element),
    inMain: Boolean(element.closest('main')),
  };
};

/** Source: WCAG 2.2, 2.4.1 Bypass blocks; 2.4.7 Focus visible; 2.4.11 Focus not obscured. */
async function tabThrough(page, stops, say) {
  await page.emulateMedia({ reducedMotion: 'reduce' });
  const before = await page.evaluate(looks);
  for (let stop = 0; stop < stops; stop += 1) {
    await page.keyboard.press('Tab');
    const now = await page.evaluate(inFocus);
    if (!now) break;
    if (stop === 0) {
      const href = await page.evaluate(() => document.activeElement.getAttribute('href'));
      const works = href?.startsWith('#') && (await page.locator(href).count());
      if (!works) say(`the first stop of Tab is ${now.name}, which skips nothing`);
    }
    if (!now.inside) say(`focus is out of sight at ${now.name}`);
    if (now.covered) say(`focus is covered at ${now.name}`);
    if (before[now.at] === now.look) say(`focus cannot be told at ${now.name}`);
  }
}

async function skipLink(page, say) {
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.keyboard.press('Tab');
  const now = await page.evaluate(inFocus);
  // A page without a link in its text goes on to the foot.
  const inMain = await page.locator('main').locator('a[href], summary, button, [tabindex]').count();
  if (inMain && !now?.inMain) say(`after the skip link, Tab is at ${now?.name ?? 'nothing'}, not in the text`);
}

/** Runs the checks with the keyboard on `addresses`; returns how many stops were made at most. */
export async function checkKeyboard({ chromium, host, addresses, fault }) {
  const stops = 40;
  for (const width of [360, 1280]) {
    const context = await chromium.newContext({ viewport: { width, height: 800 } });
    for (const address of addresses) {
      const say = (what) => fault(address || '(home)', width, 'light', what);
      const page = await context.newPage();
      await page.goto(host.url + address);
      await tabThrough(page, stops, say);
      await page.goto(host.url + address);
      await skipLink(page, say);
      await page.close();
    }
    await context.close();
  }
}

/**
 * The sheet to print: no navigation, the text there, dark on light also where the screen is dark,
 * and both sides of one sheet of A4.
 */
export async function checkPrint({ chromium, host, address, fault }) {
  const say = (what) => fault(address, 'A4', 'dark', what);
  const context = await chromium.newContext({ colorScheme: 'dark', viewport: { width: 1280, height: 800 } });
  const page = await context.newPage();
  await page.goto(host.url + address);
  await page.emulateMedia({ media: 'print' });
  const shown = await page.evaluate(() => ({
    navigation: [...document.querySelectorAll('nav')].filter((nav) => nav.checkVisibility()).length,
    skip: [...document.querySelectorAll('a[href="#main"]')].filter((link) => link.checkVisibility()).length,
    text: document.querySelector('main')?.checkVisibility() && document.querySelector('main').innerText.length,
    ink: getComputedStyle(document.querySelector('main')).color,
  }));
  if (shown.navigation) say(`${shown.navigation} navigations are printed`);
  if (shown.skip) say('the skip link is printed');
  if (!(shown.text > 200)) say('the text is not printed');
  const brightest = Math.max(...shown.ink.match(/[\d.]+/g).slice(0, 3).map(Number));
  if (brightest > 100) say(`the text is printed in ${shown.ink}`);
  const pdf = (await page.pdf({ format: 'A4', preferCSSPageSize: true })).toString('latin1');
  const sides = pdf.match(/\/Type\s*\/Page\b(?!s)/g)?.length ?? 0;
  if (sides < 1 || sides > 2) say(`prints on ${sides} sides, not 1 or 2`);
  await context.close();
}
