// Helps with the form: names of plants to choose from, words that fit the trait, and at once what
// an observation would move. Without it the form works the same, a button at a time.

const form = document.getElementById("observation");
const moves = document.getElementById("moves");

/** Runs a function once nothing has called for it for a while. */
function later(run, wait) {
  let timer;
  return () => {
    clearTimeout(timer);
    timer = setTimeout(run, wait);
  };
}

async function offerNames() {
  const wanted = form.elements.plant.value.trim();
  if (wanted.length < 2) return;
  const answer = await fetch(`/desk/names?q=${encodeURIComponent(wanted)}`);
  if (!answer.ok) return;
  const options = (await answer.json()).map(([name, whom]) => {
    const option = document.createElement("option");
    option.value = name;
    if (whom) option.label = whom;
    return option;
  });
  document.getElementById("plant-names").replaceChildren(...options);
}

function fitTrait() {
  const trait = form.elements.trait.selectedOptions[0];
  const levels = (trait?.dataset.levels || "").split(" ").filter(Boolean);
  const words = levels.map((level) => {
    const option = document.createElement("option");
    option.value = level.replaceAll("-", " ");
    return option;
  });
  document.getElementById("value-words").replaceChildren(...words);
  document.getElementById("value-hint").textContent = trait?.dataset.hint || "";
}

function fitSource() {
  const part = document.getElementById("new-source");
  part.hidden = form.elements.source.value !== part.dataset.when;
  part.disabled = part.hidden;
}

let asked = 0;

/** What is shown is of what stood in the form before: it cannot be written any more. */
function outdate() {
  for (const button of moves.querySelectorAll("button")) button.disabled = true;
  moves.classList.add("is-old");
}

function tell(text) {
  const line = document.createElement("p");
  line.className = "wrong";
  line.textContent = text;
  moves.replaceChildren(line);
}

const WITHOUT_ANSWER = {
  403: "This form is not of this run of the desk. Copy what you typed, and load this page again.",
  503: "The guide has errors now. Mend them, and look again; what you typed stays here.",
};

/** Takes the token of this run of the desk. */
async function renew() {
  const page = new DOMParser().parseFromString(await (await fetch("/desk/")).text(), "text/html");
  const token = page.querySelector('meta[name="desk-token"]')?.content;
  if (token) form.elements.token.value = token;
  return Boolean(token);
}

/** Asks what the observation would move, and shows the answer where the page has it. */
async function look() {
  const { plant, trait, value, source } = form.elements;
  const own = (asked += 1);
  if (![plant, trait, value, source].every((field) => field.value.trim())) {
    moves.replaceChildren();
    return;
  }
  const body = new URLSearchParams(new FormData(form));
  let found;
  let status = 0;
  try {
    const ask = () => fetch(form.action, { method: "POST", body });
    let answer = await ask();
    // The desk was started anew: what was typed goes on with its new token.
    if (answer.status === 403 && (await renew())) {
      body.set("token", form.elements.token.value);
      answer = await ask();
    }
    status = answer.status;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    found = page.getElementById("moves");
  } catch {
    // Told below.
  }
  // A later question has its own answer.
  if (own !== asked) return;
  moves.classList.remove("is-old");
  if (found) moves.replaceChildren(...found.childNodes);
  else tell(WITHOUT_ANSWER[status] || "The desk does not answer. Is it still running?");
}

if (form) {
  const names = later(offerNames, 120);
  const moved = later(look, 350);
  form.elements.plant.addEventListener("input", names);
  form.elements.trait.addEventListener("change", fitTrait);
  form.elements.source.addEventListener("change", fitSource);
  let last = "";
  const changed = () => {
    // A field that is left tells once more what it told while it was typed in.
    const now = new URLSearchParams(new FormData(form)).toString();
    if (now === last) return;
    last = now;
    outdate();
    moved();
  };
  form.addEventListener("input", changed);
  form.addEventListener("change", changed);
  fitTrait();
  fitSource();
}
