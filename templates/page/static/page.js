// What the page does by itself: the scheme, dropping a mesh, levers, and where the focus goes. Figures are the server's.

const root = document.documentElement;

// Where the page stands in this run, so that the printed address leads here again; kept for this port alone.
try { localStorage.setItem("room", new URL("..", import.meta.url).pathname); } catch { /* not kept then */ }

function showScheme() {
  const button = document.getElementById("scheme");
  const dark = root.dataset.scheme === "dark";
  button.setAttribute("aria-pressed", String(dark));
}

document.getElementById("scheme").addEventListener("click", () => {
  root.dataset.scheme = root.dataset.scheme === "dark" ? "light" : "dark";
  try { localStorage.setItem("scheme", root.dataset.scheme); } catch { /* not kept then */ }
  showScheme();
  document.dispatchEvent(new Event("scheme"));
});
showScheme();

// On a phone the views fold away behind a button.
document.getElementById("menu").addEventListener("click", (event) => {
  const open = document.getElementById("views").classList.toggle("is-open");
  event.target.setAttribute("aria-expanded", String(open));
});

// Ways of stating a volume: only the fields of the chosen one are seen and sent.
function showWays(scope = document) {
  for (const casting of scope.querySelectorAll(".casting")) {
    const chosen = casting.querySelector("input[data-shows]:checked")?.dataset.shows ?? casting.dataset.way;
    for (const way of casting.querySelectorAll(".way")) {
      way.hidden = !way.dataset.for.split(" ").includes(chosen);
    }
  }
}

// Levers: the figure beside each moves with it, and it with the figure; what it was is told once it has moved.
const runs = [0, 1, 2, 3, 5, 8, 12, 20, 30, 50, 80, 120, 200, 400];
const amount = new Intl.NumberFormat("en-GB", { minimumFractionDigits: 2, maximumFractionDigits: 2 });

function figureOf(value, kind) {
  return { amount: () => amount.format(value), fraction: () => (100 * value).toFixed(1),
           run: () => (runs[value] ? `a run of ${runs[value]}` : "steady work") }[kind]();
}

function tellLever(lever) {
  const value = Number(lever.value);
  const { kind, start } = lever.dataset;
  const place = lever.parentElement;
  const told = figureOf(value, kind);
  const typed = place.querySelector("[data-types]");
  if (typed && typed !== document.activeElement) typed.value = told;
  const output = place.querySelector("output");
  if (output) output.textContent = told;
  lever.setAttribute("aria-valuetext", kind === "fraction" ? `${told} %` : told);
  const moved = Math.abs(value - Number(start)) > 1e-9;
  place.classList.toggle("is-moved", moved);
  place.querySelector(".ends").textContent = moved ? `was ${figureOf(Number(start), kind)}` : "";
}

function typeLever(typed) {
  const lever = document.getElementById(typed.dataset.types);
  const value = Number(typed.value.replace(",", ".")) / (lever.dataset.kind === "fraction" ? 100 : 1);
  if (!typed.value.trim() || Number.isNaN(value)) return;
  lever.value = Math.min(Number(lever.max), Math.max(Number(lever.min), value));
  tellLever(lever);
}

function tellLevers() {
  document.querySelectorAll(".lever input[type=range]").forEach(tellLever);
}

document.addEventListener("input", (event) => {
  if (event.target.matches?.(".lever input[type=range]")) tellLever(event.target);
  if (event.target.matches?.("[data-types]")) typeLever(event.target);
  if (event.target.matches?.("input[data-shows]")) showWays();
});

// A field that is left shows where its lever really stands: no further than it reaches.
document.addEventListener("focusout", (event) => {
  if (event.target.matches?.("[data-types]")) {
    event.target.value = figureOf(Number(document.getElementById(event.target.dataset.types).value),
                                  document.getElementById(event.target.dataset.types).dataset.kind);
  }
});

// What another piece lends stands pale in its field until it is taken.
function showLent() {
  const lent = document.querySelector("[data-lent]");
  for (const field of document.querySelectorAll(".is-lent")) {
    field.classList.remove("is-lent");
    field.removeAttribute("placeholder");
  }
  for (const [name, , value] of lent ? JSON.parse(lent.dataset.lent) : []) {
    const field = document.getElementById(`f-${name}`);
    if (!field) continue;
    field.classList.add("is-lent");
    if (field.tagName === "INPUT") field.placeholder = `${value}, borrowed`;
  }
}

function takeLent() {
  for (const [name, , value] of JSON.parse(document.querySelector("[data-lent]").dataset.lent)) {
    const field = document.getElementById(`f-${name}`);
    if (field && (!field.value || field.tagName === "SELECT")) field.value = value;
  }
  document.getElementById("design").dispatchEvent(new Event("input", { bubbles: true }));
}

// A link to a field opens the section that it stands in.
function openFor(hash) {
  const field = hash.length > 1 && document.getElementById(decodeURIComponent(hash.slice(1)));
  for (let part = field && field.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
}
window.addEventListener("hashchange", () => openFor(location.hash));

// The tables of a study: all open where there is room, in a hand one at a time, as their common name has it.
const roomy = matchMedia("(min-width: 47.01rem)");
function tendFolds() {
  for (const fold of document.querySelectorAll("details.fold")) {
    fold.name = roomy.matches ? "" : "tables";
    fold.open = roomy.matches;
    fold.classList.add("is-tended");
  }
  openFor(location.hash);
}
roomy.addEventListener("change", tendFolds);
tendFolds();

// Leaving with typing that is not saved asks first. Levers are not saved, so they do not count.
const PASSING = /^(?:(?:metal|hour|good):.*|run|levers|strip-channel)$/s;
const kept = new Map();
let leaving = false;

function typedIn(form) {
  return JSON.stringify([...new FormData(form)].filter(([name, value]) => value && typeof value === "string" && !PASSING.test(name)));
}
for (const form of document.querySelectorAll("form[data-keeps]")) {
  kept.set(form, form.dataset.keeps === "unsaved" ? null : typedIn(form));
}
document.addEventListener("submit", (event) => { leaving = !event.defaultPrevented; });
window.addEventListener("pageshow", () => { leaving = false; });
window.addEventListener("beforeunload", (event) => {
  if (!leaving && [...kept].some(([form, before]) => form.isConnected && typedIn(form) !== before)) event.preventDefault();
});

document.addEventListener("click", (event) => {
  if (event.target.id === "take-lent") takeLent();
  const link = event.target.closest?.("a[href^='#']");
  if (link) openFor(link.getAttribute("href"));
  if (event.target.id === "levers-back") {
    document.querySelectorAll(".lever input[type=range]").forEach((lever) => {
      lever.value = lever.dataset.start;
      tellLever(lever);
    });
    document.getElementById("design").dispatchEvent(new Event("input", { bubbles: true }));
  }
  if (event.target.matches(".inches")) {
    // A mesh says no unit: what it measures in inches is typed in its place.
    const { place, volume, area } = event.target.dataset;
    document.querySelector(`input[name="castings-${place}-way"][value="volume"]`).checked = true;
    document.getElementById(`f-castings-${place}-volume_cm3`).value = volume;
    document.getElementById(`f-castings-${place}-area_cm2`).value = area;
    showWays();
    document.getElementById(`f-castings-${place}-volume_cm3`).focus();
    document.getElementById("design").dispatchEvent(new Event("input", { bubbles: true }));
  }
  if (event.target.id === "work-close") {
    document.getElementById("work").replaceChildren();
    lastFigure?.focus();
  }
});

// Dropping a mesh is choosing it.
for (const drop of document.querySelectorAll(".drop")) {
  const input = drop.querySelector("input[type=file]");
  drop.addEventListener("dragover", (event) => { event.preventDefault(); drop.classList.add("is-over"); });
  drop.addEventListener("dragleave", () => drop.classList.remove("is-over"));
  drop.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("is-over");
    if (event.dataTransfer.files.length) {
      input.files = event.dataTransfer.files;
      input.dispatchEvent(new Event("change", { bubbles: true }));
    }
  });
}
// A file that misses the place must not replace the page.
for (const kind of ["dragover", "drop"]) {
  document.addEventListener(kind, (event) => {
    if (event.dataTransfer?.types.includes("Files")) event.preventDefault();
  });
}

// The work of a figure takes the focus, and gives it back.
let lastFigure = null;
document.body.addEventListener("htmx:beforeRequest", (event) => {
  if (event.detail.elt.matches(".figure, .why")) lastFigure = event.detail.elt;
});
document.body.addEventListener("htmx:afterSettle", (event) => {
  const target = event.detail.target;
  const offer = event.detail.requestConfig?.elt;
  if (offer?.matches?.(".add")) {
    // What was added is filled in next, and not offered twice.
    const added = document.querySelector(offer.getAttribute("hx-select"));
    added?.querySelector("input, select, summary")?.focus();
    offer.closest("li")?.remove();
  }
  if (target.id === "work" || target.matches(".why-here")) target.querySelector("h2, h3")?.focus();
  if (target.id === "answer" && !target.querySelector(".waiting")) {
    // What was told when it could not be saved is mended; that somebody else changed the file still holds.
    document.querySelectorAll(".trouble-box:not([aria-labelledby])").forEach((box) => box.remove());
  }
  tellLevers();
  showWays();
  showLent();
  showMeshes();
});

// What is typed or ticked while further questions are fetched stays so.
const meanwhile = new Map();
document.body.addEventListener("htmx:beforeSwap", (event) => {
  const { target, requestConfig } = event.detail;
  meanwhile.clear();
  if (target.id !== "start-fields") return;
  for (const field of target.querySelectorAll("input:not([type=file]):not([type=hidden]), select")) {
    const sent = requestConfig.formData.getAll(field.name);
    if (field.type === "checkbox" ? field.checked !== sent.includes(field.value) : field.value !== (sent[0] ?? "")) {
      meanwhile.set(field.id, field.type === "checkbox" ? field.checked : field.value);
    }
  }
});
document.body.addEventListener("htmx:afterSwap", () => {
  for (const [id, value] of meanwhile) {
    const field = document.getElementById(id);
    if (field) field[field.type === "checkbox" ? "checked" : "value"] = value;
  }
  meanwhile.clear();
});

// Where a fault leads to a line of the text, that line is shown.
const text = document.getElementById("text");
if (text && Number(text.dataset.line) > 0) {
  const lines = text.value.split("\n");
  const line = Math.min(Number(text.dataset.line), lines.length);
  const start = lines.slice(0, line - 1).reduce((sum, each) => sum + each.length + 1, 0);
  text.focus();
  text.setSelectionRange(start, start + lines[line - 1].length);
  text.scrollTop = Math.max(0, (line - 6) * parseFloat(getComputedStyle(text).lineHeight));
}

// Meshes are turned only where there is one, so only there the viewer is fetched.
async function showMeshes() {
  const waiting = [...document.querySelectorAll(".viewer:not(.is-shown)")];
  if (!waiting.length) return;
  const { show } = await import("./viewer.js");
  for (const place of waiting) {
    if (place.classList.contains("is-shown") || !place.isConnected) continue;
    place.classList.add("is-shown");
    show(place).catch(() => place.classList.add("is-flat"));
  }
}

showWays();
tellLevers();
showLent();
showMeshes();
openFor(location.hash);
