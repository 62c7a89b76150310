// Quickens the pages about logs; everything works without it. Shows how far an upload is, waits
// for a log that is being read, and lets a section be dragged on its chart.
"use strict";
(() => {
  const size = (bytes) => {
    const units = ["B", "kB", "MB", "GB"];
    let unit = 0;
    while (bytes >= 999.5 && unit + 1 < units.length) { bytes /= 1000; unit += 1; }
    return (unit ? bytes.toPrecision(3) : bytes) + " " + units[unit];
  };

  // ---- uploading ----

  const upload = document.getElementById("upload");
  if (upload) {
    const file = document.getElementById("log");
    const cancel = document.getElementById("upload-cancel");
    const box = document.getElementById("upload-progress");
    const bar = document.getElementById("upload-bar");
    const count = document.getElementById("upload-bytes");
    const status = document.getElementById("upload-status");
    const button = upload.querySelector("button.primary");
    let underway = null;

    const say = (text, alarm) => {
      status.textContent = text;
      status.classList.toggle("problem", Boolean(alarm));
    };
    const ended = () => {
      underway = null;
      box.hidden = true;
      cancel.hidden = true;
      button.disabled = false;
    };

    upload.addEventListener("submit", (event) => {
      const chosen = file.files[0];
      if (!chosen || underway) { if (underway) event.preventDefault(); return; }
      event.preventDefault();
      if (chosen.size > Number(upload.dataset.limit)) {
        say(chosen.name + " has " + size(chosen.size) + "; this site takes at most "
          + upload.dataset.limitWords + ". Compress it with gzip, or cut it at the instrument.", true);
        return;
      }
      const request = new XMLHttpRequest();
      underway = request;
      let told = 0;
      request.open("POST", upload.getAttribute("action"));
      request.setRequestHeader("Accept", "application/json");
      request.upload.addEventListener("progress", (at) => {
        const percent = at.total ? Math.floor((at.loaded / at.total) * 100) : 0;
        bar.value = percent;
        count.textContent = size(at.loaded) + " of " + size(at.total) + ", " + percent + " %";
        // Announced at every quarter; the bar and the figures move all the time.
        const quarter = Math.floor(percent / 25) * 25;
        if (percent >= 100) say("All sent. What it holds is being read.");
        else if (quarter > told) { told = quarter; say(quarter + " % sent"); }
      });
      request.addEventListener("load", () => {
        ended();
        let answer = {};
        try { answer = JSON.parse(request.responseText); } catch { /* not one of our answers */ }
        if (request.status === 200 && answer.url) {
          say("Uploaded.");
          location.assign(answer.url);
        } else if (request.status === 401) {
          say("Not uploaded: your session has ended. Sign in in another tab, then send it again.", true);
        } else {
          say(answer.fault || "Not uploaded: the server answered " + request.status + ".", true);
        }
      });
      request.addEventListener("error", () => {
        ended();
        say("Not uploaded: the connection broke, and nothing was kept. Send it again.", true);
      });
      request.addEventListener("abort", () => {
        ended();
        say("Cancelled. Nothing was kept.");
        button.focus();
      });
      box.hidden = false;
      cancel.hidden = false;
      button.disabled = true;
      bar.value = 0;
      count.textContent = "0 B of " + size(chosen.size);
      say("Uploading " + chosen.name + ".");
      cancel.focus();
      request.send(new FormData(upload));
    });
    cancel.addEventListener("click", () => underway && underway.abort());
    addEventListener("beforeunload", (event) => { if (underway) event.preventDefault(); });
  }

  // ---- waiting for a log that is being read ----

  const reading = document.querySelector("[data-reading]");
  if (reading) {
    const bar = reading.querySelector("progress");
    const words = reading.querySelector("[data-percent]");
    const look = async () => {
      try {
        const answer = await fetch(reading.dataset.reading, { headers: { Accept: "application/json" } });
        const now = await answer.json();
        if (!now.reading) { location.reload(); return; }
        bar.value = now.percent;
        words.textContent = now.percent + " %";
      } catch { /* the next look may find the server again */ }
      setTimeout(look, 700);
    };
    setTimeout(look, 700);
  }

  // ---- dragging a section ----

  const from = document.getElementById("cut-from");
  const to = document.getElementById("cut-to");
  if (!from || !to) return;

  // Seconds of a field; null where it is empty or cannot be read.
  const seconds = (field) => {
    const text = field.value.trim().replace(/\s*s$/, "");
    if (!text) return null;
    const parts = text.replace(",", ".").split(":").map(Number);
    if (parts.some(Number.isNaN)) return null;
    if (parts.length === 1) return parts[0];
    return parts.length === 3 ? parts[0] * 3600 + parts[1] * 60 + parts[2] : null;
  };

  const charts = [...document.querySelectorAll(".cut-chart")].map((box) => {
    const first = Number(box.dataset.fromS);
    const last = Number(box.dataset.toS);
    const span = last - first;
    // A thousandth of what is shown is as fine as a hand can drag.
    const decimals = Math.max(0, Math.min(6, Math.ceil(-Math.log10(span / 1000))));
    const written = (t) => String(Number(Math.min(last, Math.max(first, t)).toFixed(decimals)));
    const layer = document.createElement("div");
    layer.className = "pick";
    const range = document.createElement("div");
    range.className = "pick-range";
    const handle = (label) => {
      const knob = document.createElement("div");
      knob.className = "pick-end";
      knob.tabIndex = 0;
      knob.setAttribute("role", "slider");
      knob.setAttribute("aria-label", label);
      knob.setAttribute("aria-valuemin", String(first));
      knob.setAttribute("aria-valuemax", String(last));
      return knob;
    };
    const begin = handle("Begin of the section");
    const end = handle("End of the section");
    layer.append(range, begin, end);
    box.append(layer);

    // The plotting area of the drawing that is shown, in pixels from the box's left edge.
    const area = () => {
      const svg = [...box.querySelectorAll("svg")].find((s) => s.getClientRects().length > 0);
      if (!svg) return null;
      const edges = (svg.classList.contains("chart-narrow") ? box.dataset.narrow : box.dataset.wide).split(" ").map(Number);
      const outer = box.getBoundingClientRect();
      const inner = svg.getBoundingClientRect();
      return { left: inner.left - outer.left + inner.width * edges[0], width: inner.width * (edges[1] - edges[0]), height: inner.height, outer };
    };
    const timeAt = (clientX) => {
      const a = area();
      return a ? first + ((clientX - a.outer.left - a.left) / a.width) * span : first;
    };
    const draw = () => {
      const a = area();
      if (!a) return;
      const low = Math.min(last, Math.max(first, seconds(from) ?? first));
      const high = Math.min(last, Math.max(first, seconds(to) ?? last));
      const x = (t) => ((t - first) / span) * a.width;
      layer.style.left = a.left + "px";
      layer.style.width = a.width + "px";
      layer.style.height = a.height + "px";
      range.classList.toggle("whole", !from.value.trim() && !to.value.trim());
      range.style.left = x(low) + "px";
      range.style.width = Math.max(0, x(high) - x(low)) + "px";
      begin.style.left = x(low) + "px";
      end.style.left = x(high) + "px";
      for (const [knob, t] of [[begin, low], [end, high]]) {
        knob.setAttribute("aria-valuenow", String(Number(t.toFixed(decimals))));
        knob.setAttribute("aria-valuetext", written(t) + " s");
      }
    };
    const set = (field, t) => {
      field.value = written(t);
      redraw();
    };
    const both = (a, b) => {
      from.value = written(Math.min(a, b));
      to.value = written(Math.max(a, b));
      redraw();
    };

    layer.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      event.preventDefault();
      layer.setPointerCapture(event.pointerId);
      const fixed = event.target === begin ? (seconds(to) ?? last)
        : event.target === end ? (seconds(from) ?? first)
        : timeAt(event.clientX);
      if (event.target === begin || event.target === end) event.target.focus();
      const started = event.clientX;
      let moved = event.target === begin || event.target === end;
      const move = (at) => {
        moved ||= Math.abs(at.clientX - started) > 3;
        if (moved) both(fixed, timeAt(at.clientX));
      };
      const stop = () => {
        layer.removeEventListener("pointermove", move);
        layer.removeEventListener("pointerup", stop);
        layer.removeEventListener("pointercancel", stop);
      };
      layer.addEventListener("pointermove", move);
      layer.addEventListener("pointerup", stop);
      layer.addEventListener("pointercancel", stop);
    });

    for (const [knob, field, other, rest] of [[begin, from, to, first], [end, to, from, last]]) {
      knob.addEventListener("keydown", (event) => {
        const step = (span / 200) * (event.shiftKey ? 10 : 1);
        const now = seconds(field) ?? rest;
        const wanted = { ArrowLeft: now - step, ArrowDown: now - step, ArrowRight: now + step, ArrowUp: now + step,
          PageDown: now - 10 * step, PageUp: now + 10 * step, Home: first, End: last }[event.key];
        if (wanted === undefined) return;
        event.preventDefault();
        const bound = seconds(other);
        // The ends never pass each other.
        set(field, bound === null ? wanted : knob === begin ? Math.min(wanted, bound - span / 1000) : Math.max(wanted, bound + span / 1000));
      });
    }
    return { draw };
  });
  const redraw = () => charts.forEach((chart) => chart.draw());
  from.addEventListener("input", redraw);
  to.addEventListener("input", redraw);
  new ResizeObserver(redraw).observe(document.querySelector(".cut-chart"));
  redraw();
})();
