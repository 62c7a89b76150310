// Quickens the queue; everything works without it. Moves candidates by keys and by dragging, starts
// a bench record by one key, and says while one types whether a unit is known already.
"use strict";
(() => {
  const queue = document.querySelector(".queue[data-order]");
  if (!queue) return;
  const said = document.getElementById("moved");
  for (const part of queue.querySelectorAll(".with-script, .handle")) part.hidden = false;

  const candidate = (node) => node instanceof Element ? node.closest(".candidate") : null;

  function ends(list) {
    for (const item of list.children) {
      item.querySelector("[value=up]").disabled = item === list.firstElementChild;
      item.querySelector("[value=down]").disabled = item === list.lastElementChild;
    }
  }

  // The page shows the move at once; if the server did not take it, the page is asked for anew.
  async function place(item, focus) {
    const before = item.nextElementSibling;
    const after = item.previousElementSibling;
    const body = new URLSearchParams({
      csrf: item.querySelector("[name=csrf]").value,
      id: item.dataset.id,
    });
    if (before) body.set("before", before.dataset.id);
    else if (after) body.set("after", after.dataset.id);
    ends(item.parentElement);
    focus?.focus();
    const at = [...item.parentElement.children].indexOf(item) + 1;
    try {
      const answer = await fetch(queue.dataset.order, { method: "POST", body, redirect: "manual" });
      if (answer.status !== 204) throw new Error(String(answer.status));
      said.textContent = `${item.dataset.name} is now number ${at} of ${item.parentElement.children.length}.`;
    } catch {
      location.reload();
    }
  }

  function move(item, up, focus) {
    const other = up ? item.previousElementSibling : item.nextElementSibling;
    if (!other) return;
    if (up) other.before(item);
    else other.after(item);
    place(item, focus);
  }

  queue.addEventListener("keydown", (event) => {
    const item = candidate(event.target);
    if (!item || event.isComposing) return;
    if (event.altKey && (event.key === "ArrowUp" || event.key === "ArrowDown")) {
      event.preventDefault();
      move(item, event.key === "ArrowUp", event.target);
    } else if (event.key.toLowerCase() === "b" && !event.altKey && !event.ctrlKey && !event.metaKey
        && !event.target.matches("input, select, textarea")) {
      item.querySelector(".bench-start")?.click();
    }
  });

  queue.addEventListener("click", (event) => {
    const button = event.target.closest("button.move");
    if (!button) return;
    event.preventDefault();
    const item = candidate(button);
    move(item, button.value === "up", button);
    // A button that is switched off loses the focus: its fellow takes it.
    if (button.disabled) item.querySelector("button.move:not([disabled])")?.focus();
  });

  // Dragging, by the handle, within the list of a state.
  let dragged = null;
  const unmark = () => {
    for (const item of queue.querySelectorAll(".drop-above, .drop-below")) item.classList.remove("drop-above", "drop-below");
  };
  const target = (event) => {
    const item = candidate(event.target);
    if (!dragged || !item || item === dragged || item.parentElement !== dragged.parentElement) return null;
    const box = item.getBoundingClientRect();
    return { item, above: event.clientY < box.top + box.height / 2 };
  };
  queue.addEventListener("dragstart", (event) => {
    if (!(event.target instanceof Element) || !event.target.matches(".handle")) return;
    dragged = candidate(event.target);
    dragged.classList.add("dragged");
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", dragged.dataset.name);
    event.dataTransfer.setDragImage(dragged, 10, 10);
  });
  queue.addEventListener("dragover", (event) => {
    unmark();
    const place = target(event);
    if (!place) return;
    event.preventDefault();
    place.item.classList.add(place.above ? "drop-above" : "drop-below");
  });
  queue.addEventListener("drop", (event) => {
    const to = target(event);
    if (!to) return;
    event.preventDefault();
    if (to.above) to.item.before(dragged);
    else to.item.after(dragged);
    place(dragged, null);
  });
  queue.addEventListener("dragend", () => {
    unmark();
    dragged?.classList.remove("dragged");
    dragged = null;
  });

  // "Do we have that one?" while one types.
  const form = queue.querySelector("form.new");
  const known = document.getElementById("alike");
  let timer = 0;
  let asked = null;
  async function ask() {
    asked?.abort();
    asked = new AbortController();
    const query = new URLSearchParams({ maker: form.elements.maker.value, model: form.elements.model.value });
    try {
      const answer = await fetch(`${form.dataset.alike}?${query}`, { signal: asked.signal, redirect: "manual" });
      if (!answer.ok) return;
      const html = (await answer.text()).trim();
      known.innerHTML = html && `<p>May be one that you have:</p>${html}`;
    } catch {
      // The server asks again before anything is added.
    }
  }
  for (const field of [form.elements.maker, form.elements.model]) {
    field.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(ask, 250);
    });
  }
})();
