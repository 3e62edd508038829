// The search page: looks in the drawers that the press filled, opening few for one query.
// Matching and ranking are the library's; this chooses the drawers and shows what is found.
import MiniSearch from './minisearch.js';
import { beam, make, root, water } from './guide.js';

const MOST_NAMES = 40;
const MOST_OF_A_GROUP = 4;

/** Words as the press cuts them. */
function words(text) {
  return text.normalize('NFKD').replace(/\p{M}/gu, '').toLowerCase().replace(/\p{M}/gu, '')
    .split(/[^\p{L}\p{N}]+/u).filter(Boolean);
}

const opened = new Map();
function drawer(path) {
  if (!opened.has(path)) {
    const answer = fetch(`${root}search/${path}.json`).then((response) => {
      if (!response.ok) throw new Error(`${path}: ${response.status}`);
      return response.json();
    });
    answer.catch(() => opened.delete(path));
    opened.set(path, answer);
  }
  return opened.get(path);
}
const contents = drawer('drawers');

/** Drawers in which a word that starts so may lie. */
function places(spans, start) {
  const end = `${start}\uffff`;
  return spans.flatMap(([first, last], at) => (last >= start && first < end ? [at] : []));
}

const common = { tokenize: words, processTerm: (term) => term };
const names = new MiniSearch({ ...common, fields: ['name'], storeFields: ['name', 'kind', 'target'] });
const texts = new MiniSearch({ ...common, fields: ['title', 'text'], storeFields: ['group', 'title', 'href', 'text', 'target'] });
const spellings = new MiniSearch({ ...common, idField: 'word', fields: ['word'] });
const targets = new Map();

function take({ rows, of }, index, read) {
  for (const [key, target] of Object.entries(of)) targets.set(key, target);
  index.addAll(rows.map(read).filter((row) => !index.has(row.id)));
}
const readName = ([id, name, kind, target]) => ({ id, name, kind, target });
const readText = ([id, group, title, href, text, target]) => ({ id, group, title, href, text, target });

// A name that is wider or accepted before the same word in another.
const weight = [1.6, 1.4, 1.1, 1.1, 1.1];

/** Names with all words, or words near them: each word is a list of spellings. */
async function findNames(asked) {
  const { names: spans } = await contents;
  const choices = asked.map((spelled) => [...new Set(spelled.flatMap((word) => places(spans, word)))]);
  // One word's drawers hold every name that has all words: the rarest one's are the fewest.
  const fewest = choices.reduce((best, list) => (list.length < best.length ? list : best));
  const most = asked.length > 1 ? 8 : 3;
  const found = await Promise.all(fewest.slice(0, most).map((at) => drawer(`names/${at}`)));
  for (const one of found) take(one, names, readName);
  const queries = asked.map((spelled) => ({ combineWith: 'OR', queries: spelled }));
  const hits = names.search({ combineWith: 'AND', queries }, {
    prefix: true,
    boostDocument: (id, term, stored) => weight[stored.kind],
  });
  return { hits, more: fewest.length > most };
}

/** Words of names at most two letters away. */
async function near(word) {
  const { words: lengths } = await contents;
  const length = [...word].length;
  const away = length < 4 ? 0 : length < 6 ? 1 : 2;
  if (away === 0) return [];
  const open = lengths.filter((other) => Math.abs(other - length) <= away);
  for (const list of await Promise.all(open.map((other) => drawer(`words/${other}`)))) {
    spellings.addAll(list.filter((word) => !spellings.has(word)).map((word) => ({ word })));
  }
  return spellings.search(word, { fuzzy: away, prefix: false }).slice(0, 6).map((hit) => hit.id);
}

/** Texts with all words, the last of which may be the start of one. */
async function findTexts(asked) {
  const { places: spans, groups, texts: starts } = await contents;
  const sets = await Promise.all(asked.map(async (word, at) => {
    const found = await Promise.all(places(spans, word).slice(0, 2).map((at) => drawer(`places/${at}`)));
    const rows = found.flat().filter(([other]) => other === word || (at === asked.length - 1 && other.startsWith(word)));
    return {
      numbers: new Set(rows.flatMap(([, , numbers]) => numbers)),
      // Of a very common word only the first places are kept: its texts are read for it.
      cut: rows.some(([, total, numbers]) => total > numbers.length),
    };
  }));
  sets.sort((a, b) => a.cut - b.cut || a.numbers.size - b.numbers.size);
  const all = [...sets[0].numbers]
    .filter((number) => sets.slice(1).every((set) => set.cut || set.numbers.has(number)))
    .sort((a, b) => a - b);
  const groupOf = (number) => groups.findLastIndex(([, first]) => first <= number);
  const few = new Set(groups.flatMap((_, group) => all.filter((number) => groupOf(number) === group).slice(0, MOST_OF_A_GROUP)));
  const open = new Set([...few].map((number) => starts.findLastIndex((first) => first <= number)));
  const found = await Promise.all([...open].map((at) => drawer(`texts/${at}`)));
  for (const one of found) take(one, texts, readText);
  const hits = texts.search({ combineWith: 'AND', queries: asked }, {
    prefix: (term) => term === asked.at(-1),
    boost: { title: 3 },
    filter: (hit) => few.has(hit.id),
  });
  return { hits, more: all.length > few.size, groups };
}

/** A plant or a loose name with its standing and notice, as in every list. */
async function card(key) {
  const { waters, roles, standings } = await contents;
  const [html, href, role, codes, law] = targets.get(key);
  const link = make('a', { href: root + href });
  link.innerHTML = html; // Written by the press: text and italics.
  if (key.startsWith('g')) return [link, ' ', make('span', { class: 'known' }, `loose name of ${codes}`)];
  const standing = make('span', { class: 'standing' });
  const at = Math.min(water(), waters.length - 1);
  const code = codes[at] ?? '-';
  const word = standings['01234'.includes(code) ? Number(code) : 'abcde'.indexOf(code)];
  if (word) {
    const doubt = 'abcde'.includes(code) ? ', in doubt' : '';
    standing.append(beam(word[0]), ' ', make('span', { class: 'word' }, word[1] + doubt), ' ',
      make('span', { class: 'for' }, `for ${roles[role]} in ${waters[at][1]}`));
  } else {
    standing.append(make('span', { class: 'word' }, 'no job for its form'));
  }
  return [link, ' ', standing, law ? ' ' : null, law ? make('span', { class: 'law-note' }, law) : null];
}

async function nameList({ hits, more }) {
  const { kinds } = await contents;
  const byTarget = new Map();
  for (const hit of hits) {
    if (!byTarget.has(hit.target)) byTarget.set(hit.target, []);
    byTarget.get(hit.target).push(hit);
  }
  const rows = [];
  for (const [key, found] of [...byTarget].slice(0, MOST_NAMES)) {
    const parts = await card(key);
    const shown = parts[0].textContent;
    const matched = found.filter((hit) => hit.name !== shown).slice(0, 3);
    const other = matched.map((hit) => `${kinds[hit.kind]} “${hit.name}”`);
    rows.push(make('li', {}, ...parts, other.length > 0 ? [' ', make('span', { class: 'known' }, other.join(', '))] : null));
  }
  return { rows, count: byTarget.size, more: more || byTarget.size > MOST_NAMES };
}

/** The part of a text round the first word asked for, that word marked. */
function excerpt(text, asked) {
  const found = [...text.matchAll(/[\p{L}\p{N}\p{M}]+/gu)]
    .find(([word]) => words(word).some((part) => asked.some((start) => part.startsWith(start))));
  if (!found) return [text.length > 160 ? `${text.slice(0, text.lastIndexOf(' ', 160))} …` : text];
  const [from, to] = [found.index, found.index + found[0].length];
  const start = from < 80 ? 0 : text.indexOf(' ', from - 80) + 1;
  const end = text.length - to < 100 ? text.length : Math.max(to, text.lastIndexOf(' ', to + 100));
  return [start > 0 ? '… ' : '', text.slice(start, from), make('mark', {}, text.slice(from, to)), text.slice(to, end), end < text.length ? ' …' : ''];
}

async function textLists({ hits, more, groups }, asked) {
  const parts = [];
  for (const [group, [title]] of groups.entries()) {
    const mine = hits.filter((hit) => hit.group === group);
    if (mine.length === 0) continue;
    const rows = [];
    for (const hit of mine) {
      const head = hit.target ? await card(hit.target) : [make('a', { href: root + hit.href }, hit.title)];
      const quoted = group === 0 ? make('span', { class: 'from' }, hit.text) : make('q', {}, ...excerpt(hit.text, asked));
      rows.push(make('li', {}, ...head, hit.text ? make('p', {}, quoted) : null));
    }
    parts.push(make('h2', {}, title), make('ul', { class: 'plants' }, ...rows));
  }
  if (more) parts.push(make('p', { class: 'more' }, 'More texts have these words: add a word to narrow them down.'));
  return parts;
}

const field = make('input', { id: 'find', type: 'search', name: 'q', autocomplete: 'off', spellcheck: 'false' });
const form = make('form', { role: 'search', class: 'find' }, make('label', { for: 'find' }, 'Name, source or word'), ' ', field);
const status = make('p', { role: 'status' });
const nameBox = make('div');
const textBox = make('div');
const allNames = document.getElementById('all-names');
document.getElementById('finder').append(form, status, nameBox, textBox);

const counted = (count, what, more) => (count === 0 && !more ? `no ${what}` : `${more ? 'at least ' : ''}${count} ${what}${count === 1 ? '' : 's'}`);
const sentence = (text) => `${text[0].toUpperCase()}${text.slice(1)}.`;

let latest = 0;
async function search() {
  const mine = ++latest;
  const typed = field.value.trim();
  const asked = words(typed).filter((word, at, all) => word !== 'x' || all.length === 1).slice(0, 8);
  history.replaceState(null, '', typed ? `?q=${encodeURIComponent(typed)}` : location.pathname);
  allNames.hidden = asked.length > 0;
  if (asked.length === 0) {
    status.textContent = '';
    nameBox.replaceChildren();
    textBox.replaceChildren();
    return;
  }
  let found = await findNames(asked.map((word) => [word]));
  let said = '';
  if (found.hits.length === 0) {
    const spelled = await Promise.all(asked.map(async (word) => [word, ...await near(word)]));
    if (spelled.some((list) => list.length > 1)) {
      found = await findNames(spelled);
      if (found.hits.length > 0) said = 'No name is spelled so; these are near. ';
    }
  }
  const list = await nameList(found);
  if (mine !== latest) return;
  const heading = list.count > 0 ? [make('h2', {}, 'Names'), make('ul', { class: 'plants' }, ...list.rows)] : [];
  if (list.more) heading.push(make('p', { class: 'more' }, 'There are more names: type more letters, or another word.'));
  nameBox.replaceChildren(...heading);
  const named = counted(Math.min(list.count, MOST_NAMES), 'name', list.more);
  status.textContent = said + sentence(named);
  const inTexts = await findTexts(asked);
  const parts = await textLists(inTexts, asked);
  if (mine !== latest) return;
  textBox.replaceChildren(...parts);
  status.textContent = said + sentence(`${named}, ${counted(inTexts.hits.length, 'text', inTexts.more)}`);
}

function tell(error) {
  status.textContent = 'The search could not be opened. All names are listed below.';
  allNames.hidden = false;
  console.error(error);
}
let waiting = 0;
const soon = () => {
  clearTimeout(waiting);
  waiting = setTimeout(() => search().catch(tell), 30);
};
field.addEventListener('input', soon);
form.addEventListener('submit', (event) => { event.preventDefault(); soon(); });
document.addEventListener('water', soon);

// Arrow keys go from the field to the links found and back.
document.getElementById('finder').addEventListener('keydown', (event) => {
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!step || event.altKey || event.ctrlKey || event.metaKey) return;
  const stops = [field, ...document.querySelectorAll('#finder li > a')];
  const next = stops[stops.indexOf(document.activeElement) + step];
  if (next) {
    event.preventDefault();
    next.focus();
  }
});

field.value = new URLSearchParams(location.search).get('q') ?? '';
if (field.value) soon();
if (!location.hash) field.focus({ preventScroll: true });
