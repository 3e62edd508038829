// Loads the page again when a save has changed it, at the place where the reader was, and leads to
// the form.

const own = new URL(import.meta.url).searchParams;
let shown = Number(own.get("turn"));
const key = `desk:${location.pathname}`;

/** The element with an id that stands at or above the upper edge of the window. */
function landmark() {
  const marked = [...document.querySelectorAll("main [id]")].filter((one) => one.getClientRects().length);
  const above = marked.filter((one) => one.getBoundingClientRect().top <= 1);
  return above[above.length - 1];
}

/** A way to find an element again: its id, or its place among its like. */
function wayTo(element) {
  if (!element || element === document.body) return null;
  if (element.id) return { id: element.id };
  const like = [...document.querySelectorAll(element.localName)];
  return { name: element.localName, at: like.indexOf(element) };
}

function foundBy(way) {
  if (!way) return null;
  return way.id ? document.getElementById(way.id) : document.querySelectorAll(way.name)[way.at];
}

function keep() {
  const mark = landmark();
  const place = {
    y: scrollY,
    mark: mark && mark.id,
    offset: mark ? mark.getBoundingClientRect().top : 0,
    focus: wayTo(document.activeElement),
    open: [...document.querySelectorAll("details")].map((one) => one.open),
  };
  try {
    sessionStorage.setItem(key, JSON.stringify(place));
  } catch {
    // Without storage the page starts at its top.
  }
}

function putBack(place) {
  const mark = place.mark && document.getElementById(place.mark);
  const y = mark ? scrollY + mark.getBoundingClientRect().top - place.offset : place.y;
  scrollTo({ top: y, behavior: "instant" });
}

function restore() {
  let place;
  try {
    place = JSON.parse(sessionStorage.getItem(key));
    sessionStorage.removeItem(key);
  } catch {
    return false;
  }
  if (!place) return false;
  history.scrollRestoration = "manual";
  document.querySelectorAll("details").forEach((one, at) => {
    if (place.open[at] !== undefined) one.open = place.open[at];
  });
  const focus = foundBy(place.focus);
  if (focus) focus.focus({ preventScroll: true });
  putBack(place);
  // Fonts and pictures may move the text a little once they are there.
  let moved = false;
  const leave = () => {
    moved = true;
  };
  ["wheel", "touchstart", "keydown", "pointerdown"].forEach((name) => addEventListener(name, leave, { once: true, passive: true }));
  const settle = () => {
    if (!moved) putBack(place);
    history.scrollRestoration = "auto";
  };
  if (document.readyState === "complete") settle();
  else addEventListener("load", settle, { once: true });
  return true;
}

/** Leads from a page of the guide to the form, with the plant of the page. */
function leadToForm() {
  const list = document.querySelector("header nav ul");
  if (!list || list.querySelector('a[href^="/desk/"]')) return;
  const plant = location.pathname.match(/^\/plants\/([^/]+)\/$/);
  const link = document.createElement("a");
  link.href = plant ? `/desk/?of=${plant[1]}` : "/desk/";
  link.textContent = "Record an observation";
  const item = document.createElement("li");
  item.append(link);
  list.append(item);
}

const MOST = 8;

/** Says in a corner of the page what the save moved. */
async function tellMoves() {
  document.querySelector(".desk-note")?.remove();
  const answer = await fetch("/desk/moved.json");
  const moves = answer.ok ? await answer.json() : [];
  if (!moves.length) return;
  const dress = document.createElement("link");
  dress.rel = "stylesheet";
  dress.href = "/desk/note.css";
  const note = document.createElement("aside");
  note.className = "desk-note";
  note.setAttribute("aria-label", "What the save moved");
  note.tabIndex = 0;
  const head = document.createElement("p");
  head.textContent = "The save moved:";
  const list = document.createElement("ul");
  const lines = moves.slice(0, MOST).map(([plant, of, from, to]) => `${plant}: ${of}: ${from} → ${to}`);
  if (moves.length > MOST) lines.push(`and ${moves.length - MOST} more; the terminal has them`);
  for (const text of lines) {
    const line = document.createElement("li");
    line.textContent = text;
    list.append(line);
  }
  const close = document.createElement("button");
  close.type = "button";
  close.textContent = "Put away";
  close.addEventListener("click", () => note.remove());
  note.append(head, list, close);
  dress.addEventListener("load", () => document.body.append(note));
  document.head.append(dress);
}

function turned(turn, isSame) {
  if (turn === shown) return;
  if (isSame) {
    shown = turn;
    tellMoves();
    return;
  }
  news.close();
  keep();
  location.reload();
}

let news;

/** Listens while the page is seen: a browser opens few connections to one address. */
function listen() {
  if (document.visibilityState === "hidden") {
    news?.close();
    news = undefined;
    return;
  }
  if (news) return;
  const page = new URLSearchParams({ of: location.pathname, turn: shown, mark: own.get("mark") ?? "" });
  news = new EventSource(`/desk/events?${page}`);
  news.addEventListener("turn", (event) => {
    const [turn, is] = event.data.split(" ");
    turned(Number(turn), is === "same");
  });
}

leadToForm();
if (restore()) tellMoves();
listen();
document.addEventListener("visibilitychange", listen);
addEventListener("pagehide", () => news?.close());
addEventListener("pageshow", (event) => {
  if (!event.persisted) return;
  news = undefined;
  listen();
});
