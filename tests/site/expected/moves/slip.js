// Makes an observation slip in the browser: a claim in YAML, ready to send. Nothing leaves the page.

const form = document.getElementById("slip-form");

/** A text as a YAML scalar in double quotes. */
function quoted(text) {
  return JSON.stringify(text);
}

/** A measurement or word as the key and value of a claim; null where it cannot be read. */
function said(trait, what) {
  const text = what.trim().replace(/(\d),(\d)/g, "$1.$2");
  const grew = text.match(/^([\d.]+ ?\S+) to ([\d.]+ ?\S+) in ([\d.]+ ?\S+)$/i);
  if (trait.dataset.measure === "growth" && grew) {
    return `grew: {from: ${grew[1]}, to: ${grew[2]}, over: ${grew[3]}}`;
  }
  if (trait.dataset.measure === "other" && /^[\d.]+(\.\.[\d.]+)? \S+$/.test(text)) {
    return `measures: ${text}`;
  }
  const level = text.toLowerCase().replace(/ to /g, "..").replace(/ +/g, "-");
  const levels = (trait.dataset.levels || "").split(" ");
  if (level.split("..").every((end) => levels.includes(end))) {
    return `says: ${level}`;
  }
  return null;
}

function slip(fields) {
  const trait = form.elements.trait.selectedOptions[0];
  const value = said(trait, fields.what);
  if (!fields.plant || !value) return null;
  const claim = [`plant: ${quoted(fields.plant)}`, `trait: ${trait.value}`];
  const dates = [fields.from, fields.until].filter(Boolean);
  if (dates.length) claim.push(`seen: ${dates.join("/")}`);
  const where = [...form.querySelectorAll("[data-condition]")]
    .filter((field) => field.value)
    .map((field) => `${field.dataset.condition}: ${field.value}`);
  if (where.length) claim.push(`where: {${where.join(", ")}}`);
  claim.push(value);
  if (fields.remark) claim.push(`remark: ${quoted(fields.remark)}`);
  const by = fields.by ? `# by: ${fields.by.replace(/\s+/g, " ")}\n` : "";
  return `${by}claims:\n  - {${claim.join(", ")}}\n`;
}

function show() {
  const fields = Object.fromEntries(
    [...new FormData(form)].map(([key, value]) => [key, value.trim()]),
  );
  const made = slip(fields);
  const out = document.getElementById("slip-out");
  const told = document.getElementById("slip-told");
  const trait = form.elements.trait.selectedOptions[0];
  const words = (trait.dataset.levels || "").split(" ").filter(Boolean).map((w) => w.replace(/-/g, " "));
  document.getElementById("slip-words").textContent = [
    words.length ? `A word: ${words.join(", ")}.` : "",
    trait.dataset.measure === "growth" ? "Or sizes and a time: 12 cm to 41 cm in 24 days." : "",
    trait.dataset.measure === "other" ? `Or a value with its unit: ${trait.dataset.example}.` : "",
  ].join(" ").trim();
  out.value = made || "";
  told.textContent = made ? "" : "The slip appears here once the plant and what you saw can be read.";
  const send = document.getElementById("slip-send");
  if (send) {
    send.hidden = !made;
    const body = encodeURIComponent(made || "");
    send.href = `${send.dataset.to}?subject=${encodeURIComponent("Observation slip")}&body=${body}`;
  }
  document.getElementById("slip-copy").hidden = !made;
}

if (form) {
  form.hidden = false;
  form.addEventListener("input", show);
  form.addEventListener("submit", (event) => event.preventDefault());
  document.getElementById("slip-copy").addEventListener("click", async () => {
    const out = document.getElementById("slip-out");
    const told = document.getElementById("slip-told");
    try {
      await navigator.clipboard.writeText(out.value);
      told.textContent = "Copied.";
    } catch {
      out.select();
      told.textContent = "Selected: copy it with your keyboard.";
    }
  });
  show();
}
