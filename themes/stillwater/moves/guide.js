// Every page: the reader's kind of tank or pond comes first, and plants can be set beside others.
// A page is whole without this.

/** The site's root: this file stands in a folder right below it. */
export const root = new URL('../', import.meta.url).href;

/** An element with attributes and children. */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return element;
}

/** A standing's beam, drawn once in the page. */
export function beam(id) {
  const space = 'http://www.w3.org/2000/svg';
  const svg = document.createElementNS(space, 'svg');
  for (const [name, value] of [['class', 'beam'], ['width', '32'], ['height', '18'], ['aria-hidden', 'true']]) {
    svg.setAttribute(name, value);
  }
  svg.append(document.createElementNS(space, 'use'));
  svg.firstChild.setAttribute('href', `#beam-${id}`);
  return svg;
}

// Storage may be forbidden or full; the page does without.
function kept(store, key) {
  try { return window[store].getItem(`pondweigh ${root} ${key}`); } catch { return null; }
}
function keep(store, key, value) {
  try { window[store].setItem(`pondweigh ${root} ${key}`, value); } catch { /* not kept */ }
}

// The chooser.
const choice = document.getElementById('water-choice');
let select = null;
if (choice) {
  choice.before(choice.content.cloneNode(true));
  select = document.getElementById('your-water');
  select.value = kept('localStorage', 'water') ?? '';
  if (select.selectedIndex < 0) select.value = '';
  select.addEventListener('change', () => {
    keep('localStorage', 'water', select.value);
    arrange();
    document.dispatchEvent(new Event('water'));
  });
}

/** The waters as ids, the default one first. */
export const waters = select ? [...select.options].slice(1).map((option) => option.value) : [];

/** Place of the chosen water in `waters`; the default one's where none is chosen. */
export const water = () => Math.max(0, select ? waters.indexOf(select.value) : 0);

/** The title of the chosen or default water. */
export const waterTitle = (at = water()) => select?.options[at + 1]?.text ?? '';

// Parts of the page by water, in the order they were written in.
const groups = new Map();
for (const part of document.querySelectorAll('main [data-water]')) {
  if (!groups.has(part.parentNode)) {
    const mark = document.createComment('');
    part.before(mark);
    groups.set(part.parentNode, { mark, parts: [] });
  }
  groups.get(part.parentNode).parts.push(part);
}

function arrange() {
  const chosen = select?.value;
  // The short answer at the head of a plant's page is for one water at a time.
  for (const answer of document.querySelectorAll('[data-answer]')) {
    answer.hidden = answer.dataset.answer !== (chosen || waters[0] || answer.dataset.answer);
  }
  for (const old of document.querySelectorAll('main .yours')) old.remove();
  for (const { mark, parts } of groups.values()) {
    const first = parts.filter((part) => part.dataset.water === chosen);
    mark.after(...first, ...parts.filter((part) => part.dataset.water !== chosen));
    for (const part of first) {
      part.querySelector(':scope > details.jobs')?.setAttribute('open', '');
      const head = part.querySelector('h2, h3') ?? part.querySelector('a');
      const note = make('span', { class: 'yours' }, ' your choice');
      if (head?.matches('a')) head.after(note); else head?.append(note);
    }
  }
  const link = chosen && document.querySelector(`main a[data-water-link="${CSS.escape(chosen)}"]`);
  if (link) {
    link.closest('p').before(make('p', { class: 'yours' }, 'Your kind of tank or pond: ', link.cloneNode(true)));
  }
}
arrange();
// Parts have moved: the one that was asked for is shown again.
if (select?.value && location.hash.length > 1) {
  document.getElementById(decodeURIComponent(location.hash.slice(1)))?.scrollIntoView();
}

// Plants set beside others: at most four, kept as long as the window.
const MOST = 4;
let tray = [];
try { tray = JSON.parse(kept('sessionStorage', 'beside')) ?? []; } catch { /* none */ }
if (!Array.isArray(tray)) tray = [];

const box = make('aside', { class: 'tray', 'aria-label': 'Plants to set side by side', hidden: '' });
const said = make('p', { role: 'status', class: 'tray-said' });
const buttons = new Map();

/** The page of plants side by side in the chosen water. */
const comparePage = () => `${root}compare/${water() > 0 ? `${waters[water()]}/` : ''}`;

function change(plant) {
  const has = tray.some((other) => other.slug === plant.slug);
  if (!has && tray.length >= MOST) {
    said.textContent = 'Four at most: take one away first.';
    return;
  }
  tray = has ? tray.filter((other) => other.slug !== plant.slug) : [...tray, plant];
  keep('sessionStorage', 'beside', JSON.stringify(tray));
  said.textContent = `${plant.name} ${has ? 'taken away' : 'set beside others'}.`;
  showTray();
}

function showTray() {
  box.hidden = tray.length === 0;
  const rows = tray.map((plant) => {
    const away = make('button', { type: 'button', 'aria-label': `Take away: ${plant.name}` }, 'Take away');
    away.addEventListener('click', () => {
      change(plant);
      (box.querySelector('summary') ?? buttons.get(plant.slug))?.focus();
    });
    return make('li', {}, make('a', { href: `${root}plants/${encodeURIComponent(plant.slug)}/` }, plant.name), ' ',
      make('span', { class: 'standing-note' }, plant.standing), ' ',
      plant.law ? make('span', { class: 'law-note' }, `${plant.law} `) : null, away);
  });
  const slugs = tray.map((plant) => encodeURIComponent(plant.slug)).join(',');
  const go = tray.length > 1
    ? make('a', { class: 'tray-go', href: `${comparePage()}?plants=${slugs}` }, `See these ${tray.length} side by side`)
    : make('span', {}, 'Set another beside it to compare.');
  const list = make('details', {}, make('summary', {}, tray.length === 1 ? '1 plant set aside' : `${tray.length} plants set aside`), make('ul', {}, ...rows));
  list.open = box.querySelector('details')?.open ?? false;
  box.replaceChildren(list, make('p', {}, go), said);
  for (const [slug, button] of buttons) {
    button.textContent = tray.some((plant) => plant.slug === slug) ? 'Take away' : 'Set beside others';
    button.setAttribute('aria-label', `${button.textContent}: ${button.dataset.name}`);
  }
}

for (const host of document.querySelectorAll('header[data-plant], li[data-plant]')) {
  const row = host.matches('li');
  // A row of another name leads to the plant's own row.
  if (row && host.firstChild !== host.querySelector('a')) continue;
  const name = row ? host.querySelector('a').textContent : host.dataset.name;
  const button = make('button', { type: 'button', class: 'beside-button', 'data-name': name });
  button.addEventListener('click', () => change({
    slug: host.dataset.plant,
    name,
    standing: row ? host.querySelector('.standing').textContent.trim() : host.dataset.standing,
    law: (row ? host.querySelector('.law-note')?.textContent : host.dataset.law) ?? '',
  }));
  buttons.set(host.dataset.plant, button);
  (host.querySelector('.beside-place') ?? host).append(' ', button);
}
// Where plants stand side by side already, the tray would hide them.
if (!document.querySelector('tr[data-plant]')) document.querySelector('main')?.after(box);
showTray();
document.addEventListener('water', showTray);
