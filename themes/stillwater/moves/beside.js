// Plants side by side: with ?plants=a,b,c,d in the address only those, at most four.
import { make } from './guide.js';

const asked = (new URLSearchParams(location.search).get('plants') ?? '').split(',').filter(Boolean);
const wanted = [...new Set(asked)].slice(0, 4);
const rows = [...document.querySelectorAll('tr[data-plant]')];
const known = wanted.filter((slug) => rows.some((row) => row.dataset.plant === slug));
const sections = [...document.querySelectorAll('section.by-form')];
const forms = document.getElementById('forms');

function show(only) {
  for (const row of rows) row.hidden = only !== null && !only.includes(row.dataset.plant);
  for (const section of sections) section.hidden = !section.querySelector('tr[data-plant]:not([hidden])');
  for (const count of document.querySelectorAll('section.by-form .count')) count.hidden = only !== null;
  forms.hidden = only !== null;
}

function link(plants) {
  for (const other of document.querySelectorAll('main a[data-water-link]')) {
    const address = new URL(other.href);
    address.search = plants ? `?plants=${plants.map(encodeURIComponent).join(',')}` : '';
    other.href = address.href;
  }
}

if (wanted.length > 0) {
  const all = new Set(rows.map((row) => row.dataset.plant)).size;
  const missing = wanted.filter((slug) => !known.includes(slug));
  const status = make('span', { role: 'status' });
  const button = make('button', { type: 'button' }, 'Show all plants');
  const words = known.length > 0 ? `${known.length} of ${all} plants. ` : '';
  const lost = missing.length > 0 ? `Not in this guide: ${missing.join(', ')}. ` : '';
  forms.before(make('p', { class: 'chosen-plants' }, status, button));
  const start = () => {
    show(known.length > 0 ? known : null);
    link(known);
    status.textContent = words + lost;
  };
  start();
  document.addEventListener('water', () => link(known));
  button.addEventListener('click', () => {
    show(null);
    link(null);
    history.replaceState(null, '', location.pathname);
    status.textContent = `All ${all} plants. `;
    known.length = 0;
    button.remove();
  });
}
