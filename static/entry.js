// Quickens the bench form; everything works without it. Saves while somebody types, shows the
// server's judgement, and spreads pasted cells.
"use strict";
(() => {
  const form = document.querySelector("form[data-autosave]");
  for (const button of document.querySelectorAll("[data-copy]")) {
    button.hidden = false;
    button.addEventListener("click", async () => {
      await navigator.clipboard.writeText(button.dataset.copy);
      button.textContent = "Copied";
    });
  }
  if (!form) return;

  const saved = document.getElementById("saved");
  const panel = document.getElementById("panel");
  const summary = document.getElementById("live-summary");
  const field = (name) => form.elements.namedItem(name);
  const heading = document.querySelector("h1");
  // Where another page saved meanwhile, the tester chooses first.
  let stopped = Boolean(document.querySelector("[data-conflict]"));
  let timer = 0;
  let underway = null;
  let dirty = false;
  let leaving = false;

  const say = (text, alarm) => {
    saved.textContent = text;
    saved.classList.toggle("alarm", Boolean(alarm));
  };

  const body = () => {
    const save = field("editor_save");
    save.value = String(Number(save.value) + 1);
    return new URLSearchParams(new FormData(form));
  };

  const send = (keepalive) =>
    fetch(form.dataset.autosave, { method: "POST", body: body(), keepalive, redirect: "manual" });

  async function saveNow(again) {
    clearTimeout(timer);
    if (stopped) return false;
    if (underway) {
      await underway;
      if (!dirty) return true;
    }
    dirty = false;
    let done;
    underway = new Promise((resolve) => { done = resolve; });
    let well = false;
    let retry = false;
    try {
      const answer = await send(false);
      if (answer.ok) {
        show(await answer.json());
        say("Saved " + new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit" }));
        well = true;
      } else if (answer.status === 409) {
        stopped = true;
        dirty = true;
        conflict(await answer.json());
      } else if (answer.status === 403 && !again) {
        const present = await answer.json().catch(() => ({}));
        if (present.csrf) {
          for (const input of document.querySelectorAll("input[name=csrf]")) input.value = present.csrf;
          retry = true;
        }
        dirty = true;
      } else if (answer.status === 401 || answer.type === "opaqueredirect") {
        dirty = true;
        say("Not saved: your session has ended. Sign in in another tab; this page then saves by itself.", true);
      } else if (answer.status === 404) {
        stopped = true;
        dirty = true;
        say("Not saved: this draft was published or discarded elsewhere.", true);
      } else {
        dirty = true;
        say("Not saved: the server answered " + answer.status + ". Trying again.", true);
      }
    } catch {
      dirty = true;
      say("Not saved: the server cannot be reached. Trying again.", true);
    }
    underway = null;
    done();
    if (retry) return saveNow(true);
    if (dirty && !stopped) later(well ? 400 : 3000);
    return well;
  }

  function later(ms) {
    clearTimeout(timer);
    timer = setTimeout(() => saveNow(false), ms);
  }

  function show(answer) {
    field("version").value = answer.version;
    const named = ["maker", "model", "sample"].map((key) => field("unit." + key).value.trim()).filter(Boolean).join(" ");
    heading.textContent = named || "Untitled record";
    const open = new Set([...panel.querySelectorAll("details[open] summary")].map((s) => s.textContent));
    panel.innerHTML = answer.panel;
    for (const s of panel.querySelectorAll("summary")) if (open.has(s.textContent)) s.parentElement.open = true;
    const score = panel.querySelector(".figure");
    const problems = panel.querySelectorAll(".problems li").length;
    const words = (score ? "Score " + score.textContent.trim() : "No score yet") + (problems ? ", problems: " + problems : "");
    if (summary.textContent !== words) summary.textContent = words;
    for (const place of form.querySelectorAll("span.problem")) {
      const id = place.id.slice(0, -"-problem".length);
      const text = answer.problems[id] || "";
      if (place.textContent !== text) place.textContent = text;
      place.hidden = !text;
      const input = document.getElementById(id);
      if (!input) continue;
      if (text) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
    }
    for (const [id, text] of Object.entries(answer.targets)) {
      const place = document.getElementById(id);
      if (place && place.textContent !== text) place.textContent = text;
    }
    form.dispatchEvent(new CustomEvent("judged", { detail: answer }));
  }

  function conflict(newer) {
    say("Not saved: another page saved this draft meanwhile (" + newer.saved + ").", true);
    const box = document.createElement("div");
    box.className = "notice alarm";
    box.setAttribute("role", "alert");
    const text = document.createElement("p");
    text.textContent = "Another page saved this draft meanwhile. What you typed here still stands here. Choose:";
    const over = choice("Save what stands here over it", () => {
      field("version").value = newer.version;
      box.remove();
      stopped = false;
      saveNow(false);
    });
    const own = document.createElement("button");
    own.type = "submit";
    own.setAttribute("form", form.id);
    own.name = "action";
    own.value = "as-new";
    own.textContent = "Keep this as a draft of its own";
    const other = choice("Go on with the other one instead", () => {
      leaving = true;
      location.assign(form.getAttribute("action"));
    });
    const row = document.createElement("p");
    row.append(over, " ", own, " ", other);
    box.append(text, row);
    form.before(box);
    over.focus();
  }

  function choice(label, act) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label;
    button.addEventListener("click", act);
    return button;
  }

  form.addEventListener("input", () => {
    dirty = true;
    if (!stopped) {
      say("Not saved yet");
      later(400);
    }
  });
  form.addEventListener("focusout", () => { if (dirty && !stopped) later(0); });
  document.addEventListener("visibilitychange", () => {
    // A hidden page may never come back: send at once, even beside a save under way; the counts of
    // saves tell the server which is the later one.
    if (document.visibilityState === "hidden" && dirty && !stopped && !leaving) {
      const pending = send(true);
      pending.then((answer) => { if (answer.ok) { dirty = false; return answer.json().then(show); } }).catch(() => {});
    }
  });
  addEventListener("beforeunload", (event) => { if (dirty && !leaving) event.preventDefault(); });

  // A button sends the whole form. It waits for a save under way, whose version it must know.
  form.addEventListener("submit", async (event) => {
    const button = event.submitter;
    if (!button || button.value === "save") {
      if (stopped) { leaving = true; return; }
      event.preventDefault();
      dirty = true;
      await saveNow(false);
      return;
    }
    clearTimeout(timer);
    if (underway) {
      event.preventDefault();
      await underway;
      clearTimeout(timer);
      form.requestSubmit(button);
      return;
    }
    field("editor_save").value = String(Number(field("editor_save").value) + 1);
    leaving = true;
  });
  addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });

  // Enter goes down a column of a table, as in a spreadsheet; elsewhere on to the next field.
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing || event.ctrlKey || event.altKey || event.metaKey) return;
    const from = event.target;
    if (!(from instanceof HTMLInputElement) || from.type === "file") return;
    event.preventDefault();
    const next = (event.shiftKey ? above(from) : below(from)) || beside(from, event.shiftKey ? -1 : 1);
    if (next) { next.focus(); if (next.select) next.select(); }
  });

  const inputsOf = (row) => row ? [...row.querySelectorAll("input, select")] : [];
  function inColumn(from, step) {
    const row = from.closest("table.entry tbody tr");
    if (!row) return null;
    const place = inputsOf(row).indexOf(from);
    const other = step > 0 ? row.nextElementSibling : row.previousElementSibling;
    return inputsOf(other)[place] || null;
  }
  const below = (from) => inColumn(from, 1);
  const above = (from) => inColumn(from, -1);
  function beside(from, step) {
    const all = [...form.querySelectorAll("input:not([type=hidden]), select, textarea")]
      .filter((input) => input.getClientRects().length > 0);
    return all[all.indexOf(from) + step] || null;
  }

  // A block of cells pasted into a table cell fills the cells from there on.
  form.addEventListener("paste", (event) => {
    const table = event.target.closest("table[data-paste]");
    const text = event.clipboardData.getData("text/plain");
    if (!table || !/[\t\n]/.test(text.trim())) return;
    event.preventDefault();
    const rows = text.replace(/\r/g, "").replace(/\n+$/, "").split("\n").map((line) => line.split("\t"));
    const all = [...table.tBodies[0].rows];
    const first = all.indexOf(event.target.closest("tr"));
    const column = inputsOf(all[first]).indexOf(event.target);
    let lost = 0;
    rows.forEach((cells, r) => cells.forEach((cell, c) => {
      const input = inputsOf(all[first + r])[column + c];
      if (input) input.value = cell.trim();
      else if (cell.trim()) lost += 1;
    }));
    event.target.dispatchEvent(new Event("input", { bubbles: true }));
    if (lost) {
      say(lost + " pasted cells had no place in the table. Undo by typing, or use “Paste cells from a spreadsheet” below it, which adds rows.", true);
    }
  });
})();
