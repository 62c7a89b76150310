// Quickens the entry of port combinations; everything works without it. A digit chooses and goes
// on to the next question, 0 goes to the free number.
"use strict";
(() => {
  const form = document.getElementById("combination");
  if (!form) return;
  for (const hidden of [...form.querySelectorAll("kbd"), document.getElementById("digit-hint")]) hidden.hidden = false;
  const groups = [...form.querySelectorAll("[data-digits]")];
  const save = form.querySelector("button.primary");
  const radios = (group) => [...group.querySelectorAll("input[type=radio]")];
  document.addEventListener("keydown", (event) => {
    if (!/^[0-9]$/.test(event.key) || event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    const from = event.target;
    if (from.matches("textarea, select, input:not([type=radio], [type=checkbox])")) return;
    const group = from.closest("[data-digits]")
      || groups.find((g) => !radios(g).some((r) => r.checked)) || groups[0];
    if (event.key === "0") {
      const typed = group.querySelector("input.number");
      if (!typed) return;
      event.preventDefault();
      typed.focus();
      return;
    }
    const radio = radios(group)[Number(event.key) - 1];
    if (!radio) return;
    event.preventDefault();
    radio.checked = true;
    const next = groups[groups.indexOf(group) + 1];
    if (next) (radios(next).find((r) => r.checked) || radios(next)[0] || save).focus();
    else save.focus();
  });
})();
