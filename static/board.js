// The ranking answers while one types: the same address that the form's button asks for, its
// table put in place of the present one. Without this script the button does it.

const form = document.getElementById("filter");
const region = () => document.getElementById("board");
const picked = new Set();
let under_way = null;
let waiting = null;

function address() {
  const query = new URLSearchParams();
  for (const [name, value] of new FormData(form)) {
    if (value !== "" || name === "columns") query.append(name, value);
  }
  return `${form.getAttribute("action")}?${query}`;
}

async function show(url) {
  under_way?.abort();
  under_way = new AbortController();
  try {
    const response = await fetch(url, { signal: under_way.signal, headers: { accept: "text/html" } });
    if (!response.ok) throw new Error(String(response.status));
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    const fresh = page.getElementById("board");
    if (!fresh) throw new Error("no table");
    region().replaceWith(document.adoptNode(fresh));
    for (const part of ["h1", ".tabs", "#notices", "#overview", ".languages"]) {
      const now = document.querySelector(part);
      const next = page.querySelector(part);
      if (now && next) now.replaceWith(document.adoptNode(next));
    }
    document.title = page.title;
    history.replaceState(null, "", response.url);
    restore();
  } catch (cause) {
    // Where fetching fails, asking for the page in the ordinary way says why.
    if (cause.name !== "AbortError") location.assign(url);
  }
}

function soon(milliseconds) {
  clearTimeout(waiting);
  waiting = setTimeout(() => show(address()), milliseconds);
}

// What was chosen for comparison stays chosen when the table changes.
function restore() {
  const compare = document.getElementById("compare");
  const shown = new Set();
  for (const box of document.querySelectorAll('input[name="unit"][form="compare"]')) {
    shown.add(box.value);
    if (picked.has(box.value)) box.checked = true;
    else if (box.checked) picked.add(box.value);
  }
  for (const old of compare.querySelectorAll('input[type="hidden"]')) old.remove();
  for (const slug of picked) {
    if (shown.has(slug)) continue;
    const kept = document.createElement("input");
    kept.type = "hidden";
    kept.name = "unit";
    kept.value = slug;
    compare.append(kept);
  }
  const words = document.getElementById("chosen");
  const text = picked.size === 0 ? words.dataset.none : picked.size > 6 ? words.dataset.many : words.dataset.some;
  words.textContent = text.replace("%count%", picked.size);
}

form.addEventListener("input", (event) => soon(event.target.type === "search" ? 150 : 350));
form.addEventListener("submit", (event) => {
  event.preventDefault();
  soon(0);
});
document.addEventListener("change", (event) => {
  if (event.target.name !== "unit") return;
  if (event.target.checked) picked.add(event.target.value);
  else picked.delete(event.target.value);
  restore();
});
restore();
