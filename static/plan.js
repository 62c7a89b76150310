// Quickens the bench sheet; everything works without it. Marks loads that are done, and leads from
// one open reading to the next.
"use strict";
(() => {
  const form = document.getElementById("bench");
  if (!form) return;

  form.addEventListener("judged", (event) => {
    const done = new Set(event.detail.done || []);
    for (const load of form.querySelectorAll(".run > .load")) load.classList.toggle("done", done.has(load.id));
  });

  const isOpen = (input) => !input.value.trim() && !input.closest(".load.done");
  function next() {
    const all = [...form.querySelectorAll(".needed :is(input, select)")].filter(isOpen);
    const here = document.activeElement;
    const after = all.find((input) => here.compareDocumentPosition(input) & Node.DOCUMENT_POSITION_FOLLOWING && !here.contains(input));
    const to = after || all[0];
    if (!to) return;
    to.focus({ preventScroll: true });
    (to.closest(".load") || to).scrollIntoView({ block: "start" });
    const box = to.getBoundingClientRect();
    if (box.bottom > innerHeight) to.scrollIntoView({ block: "center" });
  }
  const link = document.getElementById("next-open");
  if (link) link.addEventListener("click", (event) => { event.preventDefault(); next(); });
  document.addEventListener("keydown", (event) => {
    if (event.key === "F2") { event.preventDefault(); next(); }
  });
})();
