// Quickens the photos of the bench form; everything works without it. Sends the chosen files one
// after the other, shows how far each is, and puts what was kept into the form.
"use strict";
(() => {
  const upload = document.querySelector("[data-photo-upload]");
  const rows = document.getElementById("photo-rows");
  if (!upload || !rows) return;
  const form = upload.closest("form");
  const input = document.getElementById("photo-files");
  const list = document.getElementById("photo-progress");
  const status = document.getElementById("photo-status");
  const waiting = [];
  let underway = false;
  let added = 0;
  let refused = 0;
  upload.querySelector("button").hidden = true;

  const say = (text, alarm) => {
    status.textContent = text;
    status.classList.toggle("problem", Boolean(alarm));
  };

  // Only the ends of the list cannot move on.
  const mendMoves = () => {
    const all = [...rows.children];
    all.forEach((row, place) => {
      row.querySelector("[data-move=up]").disabled = place === 0;
      row.querySelector("[data-move=down]").disabled = place + 1 === all.length;
    });
  };

  // A small picture of the file while it is on its way.
  const sketch = async (file, canvas) => {
    try {
      const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
      const scale = Math.min(96 / picture.width, 72 / picture.height, 1);
      canvas.width = Math.max(1, Math.round(picture.width * scale));
      canvas.height = Math.max(1, Math.round(picture.height * scale));
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      picture.close();
    } catch { canvas.remove(); /* the server says whether it can be read */ }
  };

  const line = (file) => {
    const item = document.createElement("li");
    const canvas = document.createElement("canvas");
    canvas.setAttribute("aria-hidden", "true");
    // No span: those with problems are the form's, and are emptied at each save.
    const words = document.createElement("div");
    words.textContent = file.name;
    const bar = document.createElement("progress");
    bar.max = 100;
    bar.value = 0;
    bar.setAttribute("aria-label", "Upload of " + file.name);
    item.append(canvas, words, " ", bar);
    list.append(item);
    sketch(file, canvas);
    return { item, words, bar };
  };

  const send = (file, shown) => new Promise((resolve) => {
    const body = new FormData();
    body.append("csrf", form.elements.namedItem("csrf").value);
    body.append("row", String(rows.children.length));
    body.append("photo", file);
    const request = new XMLHttpRequest();
    request.open("POST", upload.dataset.photoUpload);
    request.setRequestHeader("Accept", "application/json");
    request.upload.addEventListener("progress", (at) => {
      shown.bar.value = at.total ? (at.loaded / at.total) * 100 : 0;
    });
    request.addEventListener("load", () => {
      let answer = {};
      try { answer = JSON.parse(request.responseText); } catch { /* not one of our answers */ }
      if (request.status === 200 && answer.row) resolve(answer);
      else if (request.status === 401) resolve({ fault: "“" + file.name + "” was not uploaded: your session has ended. Sign in in another tab, then choose it again." });
      else resolve({ fault: answer.fault || "“" + file.name + "” was not uploaded: the server answered " + request.status + "." });
    });
    request.addEventListener("error", () => resolve({ fault: "“" + file.name + "” was not uploaded: the connection broke. Choose it again." }));
    request.send(body);
  });

  const goOn = async () => {
    if (underway) return;
    underway = true;
    added = 0;
    refused = 0;
    while (waiting.length) {
      const { file, shown } = waiting.shift();
      say("Uploading " + file.name + (waiting.length ? ", " + waiting.length + " more to come" : "") + ".");
      const answer = await send(file, shown);
      if (answer.row) {
        rows.insertAdjacentHTML("beforeend", answer.row);
        mendMoves();
        shown.item.remove();
        added += 1;
        // The draft is saved as after typing.
        rows.lastElementChild.dispatchEvent(new Event("input", { bubbles: true }));
      } else {
        refused += 1;
        shown.bar.remove();
        shown.words.textContent = answer.fault;
        shown.words.className = "problem";
      }
    }
    underway = false;
    const photos = (count) => count + (count === 1 ? " photo" : " photos");
    say((added ? photos(added) + " added." : "") + (refused ? " " + photos(refused) + " not added; see above." : ""), refused > 0);
  };

  input.addEventListener("change", () => {
    if (!underway) list.replaceChildren();
    for (const file of input.files) waiting.push({ file, shown: line(file) });
    // What was taken must not be sent again with the form.
    input.value = "";
    goOn();
  });
  addEventListener("beforeunload", (event) => { if (underway) event.preventDefault(); });
})();
