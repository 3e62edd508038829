// Checks of every page kind: access rules, console, requests, width, scrolling boxes, motion.

import { AxeBuilder, each } from './tools.mjs';

/** Access rules: the Web Content Accessibility Guidelines 2.2, A and AA, and axe's own advice. */
export const RULES = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

/**
 * Widths in CSS pixels. 320: WCAG 2.2, 1.4.10 Reflow. 640: a window of 1280 at 200 %, 1.4.4 Resize
 * text. 360, 768, 1280: a phone, a tablet, a desk; common practice, no source.
 */
const WIDTHS = [320, 360, 640, 768, 1280];
/**
 * The rules that axe runs, by color scheme and width. A scheme changes colors and nothing else, so
 * that every rule runs once a width and once a scheme, and those on color in all four looks.
 */
const COLOR_RULES = ['color-contrast', 'link-in-text-block'];
const AXE = {
  light: { 360: RULES, 1280: COLOR_RULES },
  dark: { 360: COLOR_RULES, 1280: RULES },
};

/** Runs axe on a page without frames; the violations alone are worked out in full. */
export async function violations(page, rules) {
  const type = rules === RULES ? 'tag' : 'rule';
  // Without frames there is no need of the second page that axe opens to gather them.
  const builder = new AxeBuilder({ page }).setLegacyMode();
  builder.options({ runOnly: { type, values: rules }, resultTypes: ['violations'] });
  return (await builder.analyze()).violations;
}

/** How far the page can be scrolled sideways, and the first element that makes it so. */
export const sideways = () => {
  const page = document.documentElement;
  if (page.scrollWidth <= page.clientWidth) return null;
  const clipped = (element) => {
    for (let box = element.parentElement; box && box !== document.body; box = box.parentElement) {
      if (getComputedStyle(box).overflowX !== 'visible') return true;
    }
    return false;
  };
  const out = [...document.body.querySelectorAll('*')].find(
    (element) => element.getBoundingClientRect().right > page.clientWidth + 0.5 && !clipped(element),
  );
  const name = out ? `${out.localName}${out.className && !out.ownerSVGElement ? '.' + out.classList[0] : ''}` : '?';
  return `${page.scrollWidth - page.clientWidth} px too wide, at ${name}`;
};

/** Boxes with a scroll bar of their own that the keyboard cannot reach. */
export const unreachable = () =>
  [...document.body.querySelectorAll('*')]
    .filter((element) => {
      const style = getComputedStyle(element);
      const across = /auto|scroll/.test(style.overflowX) && element.scrollWidth > element.clientWidth + 1;
      const down = /auto|scroll/.test(style.overflowY) && element.scrollHeight > element.clientHeight + 1;
      return (across || down) && element.checkVisibility() && element.tabIndex < 0;
    })
    .map((element) => `${element.localName}.${element.className}`);

/** Opens every closed part, so that what is in it is checked as well. */
export const unfold = () => {
  for (const part of document.querySelectorAll('details')) part.open = true;
};

/** Does every check on every page of `addresses`, in both color schemes. */
export async function checkPages({ chromium, host, addresses, fault, lanes }) {
  let looks = 0;
  for (const scheme of ['light', 'dark']) {
    const context = await chromium.newContext({
      colorScheme: scheme,
      viewport: { width: WIDTHS[0], height: 900 },
    });
    await each(addresses, lanes, async (address) => {
      const page = await context.newPage();
      let width = WIDTHS[0];
      const say = (what) => fault(address || '(home)', width, scheme, what);
      // A missing page is asked for where it is missing: in a folder, where only links with the
      // full path work. That it answers 404 is right, and Chromium notes it in the console.
      const url = host.url + (address === '404.html' ? 'plants/no-such-plant/' : address);
      page.on('console', (message) => {
        const own = address === '404.html' && message.location().url === url;
        if (message.type() === 'error' && !own) say(`console: ${message.text()}`);
      });
      page.on('pageerror', (error) => say(`script: ${error.message}`));
      page.on('requestfailed', (request) => say(`request failed: ${request.url()}`));
      page.on('request', (request) => {
        if (!/^(data|blob):/.test(request.url()) && !request.url().startsWith(`${host.origin}/`)) {
          say(`asks another host: ${request.url()}`);
        }
      });
      page.on('response', (response) => {
        if (response.status() >= 400 && response.url() !== url) say(`${response.status()}: ${response.url()}`);
      });
      const answer = await page.goto(url);
      const expected = address === '404.html' ? 404 : 200;
      if (answer.status() !== expected) say(`answers ${answer.status()}, not ${expected}`);
      for (width of WIDTHS) {
        await page.setViewportSize({ width, height: 900 });
        looks += 1;
        const wide = await page.evaluate(sideways);
        if (wide) say(wide);
      }
      await page.evaluate(unfold);
      for (width of WIDTHS) {
        await page.setViewportSize({ width, height: 900 });
        const wide = await page.evaluate(sideways);
        if (wide) say(`with every part open: ${wide}`);
        for (const box of await page.evaluate(unreachable)) say(`scrolls, but cannot be focused: ${box}`);
        const rules = AXE[scheme][width];
        for (const rule of rules ? await violations(page, rules) : []) {
          const first = rule.nodes[0];
          const why = first.failureSummary.split('\n')[1]?.trim() ?? rule.help;
          say(`axe ${rule.id}, ${rule.nodes.length} ×: ${first.target.join(' ')}: ${why}`);
        }
      }
      await page.emulateMedia({ reducedMotion: 'reduce' });
      const moving = await page.evaluate(
        () => document.getAnimations().filter((motion) => motion.playState === 'running').length,
      );
      if (moving) say(`${moving} animations run where reduced motion is asked for`);
      const smooth = await page.evaluate(
        () => getComputedStyle(document.documentElement).scrollBehavior === 'smooth',
      );
      if (smooth) say('scrolls smoothly where reduced motion is asked for');
      await page.close();
    });
    await context.close();
  }
  return looks;
}
