// Adds passkeys and signs in with them. The forms are shown only where the browser can do it and the
// page is at the address to which passkeys are bound; elsewhere name and password do.
"use strict";
(() => {
  const form = document.querySelector("form[data-passkey]");
  const able = window.PublicKeyCredential;
  if (!form || !able?.parseCreationOptionsFromJSON || !able.parseRequestOptionsFromJSON
      || !able.prototype.toJSON || location.origin !== form.dataset.origin) return;
  form.hidden = false;
  const elsewhere = document.querySelector("[data-no-passkey]");
  if (elsewhere) elsewhere.hidden = true;
  const said = form.querySelector("[role=alert]");
  let underway = false;

  async function send(address, message) {
    const answer = await fetch(address, {
      method: "POST",
      headers: { "Content-Type": "application/json", "Accept": "application/json" },
      body: JSON.stringify(message),
    });
    let told = {};
    try { told = await answer.json(); } catch { /* not one of our answers */ }
    if (answer.ok) return told;
    if (answer.status === 401) throw new Error("Your session has ended, so nothing was changed. Open this page again and sign in.");
    throw new Error(told.detail || `The server answered ${answer.status}; nothing was changed.`);
  }

  function ask(options) {
    return form.dataset.passkey === "create"
      ? navigator.credentials.create({ publicKey: able.parseCreationOptionsFromJSON(options) })
      : navigator.credentials.get({ publicKey: able.parseRequestOptionsFromJSON(options) });
  }

  // What browsers say of it is not for people.
  function words(fault) {
    if (!(fault instanceof DOMException)) return fault.message;
    if (fault.name === "InvalidStateError") return "This device has a passkey of your account already.";
    if (fault.name === "NotAllowedError") return "No passkey came: it was cancelled, took too long, or there is none of this site here.";
    return `The browser refuses: ${fault.message}`;
  }

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (underway) return;
    underway = true;
    said.textContent = "";
    const { csrf, next, ...typed } = Object.fromEntries(new FormData(form));
    try {
      const options = await send(form.dataset.begin, { csrf, ...typed });
      const credential = await ask(options.publicKey);
      const { to } = await send(form.dataset.finish, { csrf, next, credential: credential.toJSON() });
      location.assign(to);
    } catch (fault) {
      said.textContent = words(fault);
      underway = false;
    }
  });
})();
