// The list from A to Z: shows only the plants of a form, a standing, a confidence, a light need.
import { beam, water, waterTitle } from './guide.js';

const template = document.getElementById('filters');
template.after(template.content.cloneNode(true));
const form = document.querySelector('form.filters');
const status = form.querySelector('[role=status]');
const rows = [...document.querySelectorAll('li[data-plant]')];
const sections = [...document.querySelectorAll('main section:has(li[data-plant])')];
const fields = ['form', 'standing', 'confidence', 'light'].map((name) => form.elements.namedItem(name)).filter(Boolean);
const place = (name) => (form.elements.namedItem(name)?.selectedIndex ?? 0) - 1;
const titles = [...form.elements.namedItem('standing').options].slice(1);
let shownWater = 0;

for (const [name, value] of new URLSearchParams(location.search)) {
  const field = fields.find((field) => field.name === name);
  if (field) field.value = value;
  if (field && field.selectedIndex < 0) field.value = '';
}

// A standing's code: a digit, or a letter where it is in doubt.
const code = (row) => row.dataset.at[water()] ?? '-';
const word = (code) => '01234'.indexOf(code) < 0 ? 'abcde'.indexOf(code) : '01234'.indexOf(code);

function standings() {
  if (water() === shownWater) return;
  const before = ` in ${waterTitle(shownWater)}`;
  shownWater = water();
  document.getElementById('in-water').textContent = waterTitle();
  for (const row of rows) {
    const at = word(code(row));
    const place = row.querySelector('.standing');
    if (at < 0 || !place) continue;
    place.querySelector('svg')?.replaceWith(beam(titles[at].value));
    place.querySelector('.word').textContent = titles[at].text + ('abcde'.includes(code(row)) ? ', in doubt' : '');
    const role = place.querySelector('.for');
    if (role?.textContent.endsWith(before)) role.textContent = `${role.textContent.slice(0, -before.length)} in ${waterTitle()}`;
  }
}

function filter() {
  const chosen = form.elements.namedItem('form').value;
  const [standing, sure, light] = ['standing', 'confidence', 'light'].map(place);
  const all = new Set();
  const shown = new Set();
  for (const row of rows) {
    const data = row.dataset;
    const fits = (!chosen || data.forms.split(' ').includes(chosen))
      && (standing < 0 || word(code(row)) === standing)
      && (sure < 0 || Number(data.sure[water()]) >= sure)
      && (light < 0 || (data.light !== '' && Number(data.light) <= light));
    row.hidden = !fits;
    all.add(data.plant);
    if (fits) shown.add(data.plant);
  }
  for (const section of sections) section.hidden = !section.querySelector('li[data-plant]:not([hidden])');
  const counted = shown.size === 1 ? '1 plant' : `${shown.size} plants`;
  status.textContent = shown.size === all.size ? `All ${counted}.` : `${counted} of ${all.size}.`;
}

function changed() {
  const query = new URLSearchParams(fields.filter((field) => field.value).map((field) => [field.name, field.value]));
  history.replaceState(null, '', `${location.pathname}${query.size ? `?${query}` : ''}${location.hash}`);
  filter();
}

form.addEventListener('change', changed);
form.addEventListener('submit', (event) => event.preventDefault());
form.addEventListener('reset', () => setTimeout(changed));
document.addEventListener('water', () => { standings(); filter(); });
standings();
filter();
