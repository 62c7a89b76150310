// The site as files: all units at a wattage, and any two figures against each other, worked out as
// the program does it. Uses what `as_files.js`, which is loaded before, reads and makes. The page as
// it was written stands until something else is asked for.

const THIN = "\u202f";

// ------------------------------------------------------------------------------------- numbers

// Digits after the point; an exact half goes to the even digit, as in the program.
function fixed(value, decimals) {
  let text;
  if (decimals >= 0) {
    const places = Math.min(decimals, 12);
    text = Math.abs(value).toFixed(places);
    const shifted = Math.abs(value) * 10 ** places;
    if (shifted % 1 === 0.5 && Math.floor(shifted) % 2 === 0) text = (Math.floor(shifted) / 10 ** places).toFixed(places);
  } else {
    const step = 10 ** -decimals;
    text = (Math.round(Math.abs(value) / step) * step).toFixed(0);
  }
  return value < 0 && /[1-9]/.test(text) ? `−${text}` : text;
}

function decimalsFor(value, digits) {
  if (value === 0 || !Number.isFinite(value)) return digits - 1;
  const decimals = digits - 1 - Math.floor(Math.log10(Math.abs(value)));
  const step = 10 ** -decimals;
  const rounded = Math.round(Math.abs(value) / step) * step;
  return rounded === 0 ? decimals : digits - 1 - Math.floor(Math.log10(rounded * (1 + 1e-12)));
}

// With the language's mark, for people; `plain` and `fixed` have a point, for fields and addresses.
const significant = (value, digits) => localised(fixed(value, decimalsFor(value, digits)));
const plain = (value) => fixed(value, 6).replace(/0+$/, "").replace(/\.$/, "");
const withUnit = (text, unit) => (unit === "" ? text : `${text}${THIN}${unit}`);
const ratedWatts = (watts) => withUnit(localised(plain(watts)), "W");
const watts = (value) => (Math.abs(value) < 1 ? withUnit(significant(value * 1e3, 3), "mW") : withUnit(significant(value, 3), "W"));

// A value and its expanded uncertainty: two digits of the uncertainty, the value to the same place.
function plusMinus(value, expanded, unit, digits) {
  if (expanded !== null && expanded > 0) {
    const decimals = decimalsFor(expanded, 2);
    const text = `${localised(fixed(value, decimals))} ± ${localised(fixed(expanded, decimals))}`;
    return unit === "" ? text : `(${text})${THIN}${unit}`;
  }
  return withUnit(significant(value, digits), unit);
}

const scoreWords = (score) => (score[1] === null ? score[0] : `${score[0]} ± ${score[1]}`);
const filled = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);
const nameOf = (unit) => `${unit.maker} ${unit.model}`;
const wholeName = (unit) => (unit.sample === null ? nameOf(unit) : say("unit_of_sample", { unit: nameOf(unit), sample: unit.sample }));

// -------------------------------------------------------------------------------------- figures

// Loss at an output power with its standard uncertainty, beyond what was measured nothing.
function lossAt(losses, power) {
  if (!(power > 0 && power <= losses.to_w * 1.005)) return null;
  const current = power / losses.at_v;
  const loss = losses.a_w + losses.b_v * current + losses.c_ohm * current * current;
  const known = losses.u;
  let after = known.findIndex(([at]) => at >= power);
  if (after < 0) after = known.length;
  const [below, above] = [known[after - 1], known[after]];
  let u = null;
  if (below !== undefined && above !== undefined) {
    if (below[1] !== null && above[1] !== null) {
      u = below[1] + ((above[1] - below[1]) * (power - below[0])) / (above[0] - below[0]);
    }
  } else u = (below ?? above)?.[1] ?? null;
  return { loss, u: u === null ? null : Math.sqrt(u * u + losses.residual_w ** 2) };
}

// From the places that a unit surely has lost to those that it surely holds; less is better. An
// unknown uncertainty counts as zero.
function rankIntervals(found) {
  const u = (one) => one.u ?? 0;
  const order = [...found].sort((a, b) => a.loss - b.loss);
  const largest = Math.max(0, ...found.map(u));
  order.forEach((one, place) => {
    const certain = 2 * Math.hypot(u(one), largest);
    const alike = (other, difference) => difference <= 2 * Math.sqrt(u(one) ** 2 + u(other) ** 2);
    let [best, worst] = [place + 1, place + 1];
    for (let i = place - 1; i >= 0; i -= 1) {
      const difference = one.loss - order[i].loss;
      if (difference > certain) break;
      if (alike(order[i], difference)) best -= 1;
    }
    for (let i = place + 1; i < order.length; i += 1) {
      const difference = order[i].loss - one.loss;
      if (difference > certain) break;
      if (alike(order[i], difference)) worst += 1;
    }
    one.best = best;
    one.rank = best === worst ? String(best) : `${best}–${worst}`;
  });
}

// Whom no other beats in both; more of either is better. Equal points stand or fall together.
function front(points) {
  const order = points.map((_, index) => index).sort((a, b) => points[b].x - points[a].x || points[b].y - points[a].y);
  let best = -Infinity;
  let leader = null;
  for (const index of order) {
    const { x, y } = points[index];
    const same = leader !== null && leader.x === x && leader.y === y;
    points[index].front = same || y > best;
    if (y > best) [best, leader] = [y, points[index]];
  }
}

// ------------------------------------------------------------------------- what both pages share

// The parts of an address that choose units.
function addNarrowing(query, view) {
  const add = (name, value) => {
    if (value !== "" && value !== null) query.append(name, value);
  };
  add("class", view.class);
  add("q", view.search);
  add("usb_c", view.usbC);
  add("each_w", view.each);
}

const isNarrow = (view) => view.class !== "" || view.search !== "" || view.usbC !== null || view.each !== null;

// Units that a view lets pass, in the order of their names.
function chosenUnits(view) {
  const words = folded(view.search).split(" ").filter((word) => word !== "");
  return data.units.filter((unit) => passes(unit, view, words));
}

// What the page says in sentences and drawings holds for what it was written for.
function hideWhatWasWritten(hidden) {
  for (const part of document.querySelectorAll("#main > .lead, #main > .figure, #main > .notice")) part.hidden = hidden;
}

// The units without a figure, each with the reason.
function showLacking(lacking) {
  let section = document.getElementById("lacking")?.closest("section");
  if (!section) return;
  section.hidden = lacking.length === 0;
  section.querySelector("ul").replaceChildren(
    ...lacking.slice(0, 500).map(([unit, why]) => make("li", {}, make("a", { href: unit_page(unit) }, wholeName(unit)), `: ${why}`)),
  );
}

const label = (id) => data.classes.find((one) => one.id === id)?.label ?? "";

// Numbers change in the words that stand there, whatever the language.
function withNumbers(text, numbers) {
  let next = 0;
  return text.replace(/\d+/g, (old) => numbers[next++] ?? old);
}

// Runs `show` for what the form or a link of the page asks for, and puts that into the address.
function answering(form, links, show) {
  const go = (address, how) => {
    history[how](null, "", address);
    show();
    followInLanguages(address);
  };
  const asked = () => `${location.pathname}?${new URLSearchParams([...new FormData(form)].filter(([, value]) => value !== ""))}`;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    go(asked(), "pushState");
  });
  form.addEventListener("change", () => go(asked(), "replaceState"));
  document.addEventListener("click", (event) => {
    const link = event.target.closest(links);
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button !== 0) return;
    event.preventDefault();
    go(new URL(link.href).pathname + new URL(link.href).search, "pushState");
  });
  addEventListener("popstate", show);
}

// ------------------------------------------------------------------------------ all at a wattage

const AT_SORTS = ["loss", "name", "output-power", "score", "price"];
const AT_PAGE = 100;

function atWattage() {
  const main = document.getElementById("main");
  const form = main.querySelector("form.filter");
  const usual = Number(form.elements.w.defaultValue);
  const title = main.querySelector("h1");
  const heading = title.textContent;
  const written = main.querySelector("table.board");
  if (!written) return;
  const caption = written.querySelector("caption");
  const captionText = caption.textContent;
  const nav = main.querySelector("nav.axis");

  const viewNow = () => {
    const query = new URLSearchParams(location.search);
    const typed = Number((query.get("w") ?? "").trim().replace(/\s*W$/i, "").replace(",", "."));
    const sort = AT_SORTS.includes(query.get("sort")) ? query.get("sort") : "loss";
    const dir = query.get("dir");
    return {
      ...viewOf(location.search, page("/at")),
      watts: typed >= 0.1 && typed <= 1000 ? typed : usual,
      sort,
      descending: dir === "desc" || (dir !== "asc" && sort === "score"),
    };
  };
  const addressAt = (view) => {
    const query = new URLSearchParams([["w", plain(view.watts)]]);
    addNarrowing(query, view);
    if (view.sort !== "loss") query.append("sort", view.sort);
    if (view.descending !== (view.sort === "score")) query.append("dir", view.descending ? "desc" : "asc");
    if (view.page > 1) query.append("page", view.page);
    return `${page("/at/")}?${query}`;
  };

  const show = () => {
    const view = viewNow();
    const power = view.watts;
    fill(form, view);
    form.elements.w.value = plain(power);
    let found = [];
    const lacking = [];
    for (const unit of chosenUnits(view)) {
      const at = unit.losses === null ? null : lossAt(unit.losses, power);
      if (at !== null) found.push({ unit, ...at });
      else lacking.push([unit, unit.losses === null ? data.words.no_curve : filled(data.words.measured_to, { watts: watts(unit.losses.to_w) })]);
    }
    rankIntervals(found);
    const by = {
      loss: (one) => one.loss,
      name: () => 0,
      "output-power": (one) => one.unit.rated_w,
      score: (one) => one.unit.values.score,
      price: (one) => one.unit.values.price,
    }[view.sort];
    // Prices of two currencies and provisional scores do not compare with the others.
    const group = (one) => {
      if (by(one) === undefined) return "~~~~";
      if (view.sort === "price") return one.unit.currency ?? "";
      return view.sort === "score" ? String(Number(one.unit.provisional)) : "";
    };
    if (view.sort !== "name") {
      const sign = view.descending ? -1 : 1;
      found.sort((a, b) => (group(a) !== group(b) ? (group(a) < group(b) ? -1 : 1) : sign * ((by(a) ?? 0) - (by(b) ?? 0))));
    } else if (view.descending) found.reverse();

    const pages = Math.max(1, Math.ceil(found.length / AT_PAGE));
    const number = Math.min(view.page, pages);
    const first = (number - 1) * AT_PAGE;
    const shown = found.slice(first, first + AT_PAGE);
    title.textContent = heading.replace(ratedWatts(usual), ratedWatts(power));
    caption.textContent = withNumbers(captionText, [shown.length === 0 ? 0 : first + 1, first + shown.length, found.length]);
    const labels = [...written.querySelectorAll("thead th")].map((cell) => cell.textContent.replace(/[▾▴]/, "").trim());
    const cell = (place, text) => make("td", { class: "n", "data-label": labels[place] }, text ?? none());
    written.querySelector("tbody").replaceChildren(
      ...shown.map((one) => {
        const { unit } = one;
        const share = power / (power + one.loss);
        const shareU = one.u === null ? null : (one.u * share * share) / power;
        const efficiency =
          shareU !== null && shareU > 0 ? plusMinus(100 * share, 200 * shareU, "%", 4) : withUnit(localised(fixed(100 * share, 2)), "%");
        const [scale, unitWord] = one.loss < 1 ? [1e3, "mW"] : [1, "W"];
        const loss = plusMinus(one.loss * scale, one.u === null ? null : 2 * one.u * scale, unitWord, 3);
        const head = make("th", { scope: "row", class: "unit" }, make("a", { href: unit_page(unit) }, nameOf(unit)));
        if (unit.sample !== null) head.append(" ", make("span", { class: "sample" }, say("sample", { name: unit.sample })));
        head.append(" ", make("span", { class: "sub" }, label(unit.class)));
        const rank = cell(0, one.rank);
        rank.classList.add("rank");
        const price = unit.values.price === undefined ? null : `${localised(fixed(unit.values.price, 2))}\u00a0${unit.currency}`;
        return make(
          "tr",
          { class: one.best === 1 ? "best" : null },
          rank,
          head,
          cell(2, efficiency),
          cell(3, loss),
          cell(4, withUnit(significant((100 * power) / unit.rated_w, 2), "%")),
          cell(5, unit.score === null ? null : scoreWords(unit.score)),
          cell(6, price),
        );
      }),
    );
    for (const link of written.querySelectorAll("thead a")) {
      const own = new URLSearchParams(link.search).get("sort") ?? "loss";
      const sorted = own === view.sort;
      const descending = sorted ? !view.descending : own === "score";
      link.href = addressAt({ ...view, sort: own, descending, page: 1 });
      link.querySelector(".arrow")?.remove();
      link.parentElement.removeAttribute("aria-sort");
      if (sorted) {
        link.parentElement.setAttribute("aria-sort", view.descending ? "descending" : "ascending");
        link.append(make("span", { class: "arrow", "aria-hidden": "true" }, view.descending ? "▾" : "▴"));
      }
    }
    for (const link of nav.querySelectorAll("a")) {
      const own = Number(new URLSearchParams(link.search).get("w"));
      link.href = addressAt({ ...view, watts: own, page: 1 });
      if (own === power) link.setAttribute("aria-current", "page");
      else link.removeAttribute("aria-current");
    }
    const turn = written.closest(".scroll").nextElementSibling;
    if (turn?.matches(".pager")) turn.remove();
    if (pages > 1) {
      const links = [number - 1, number + 1].map((other) =>
        other >= 1 && other <= pages ? make("a", { href: addressAt({ ...view, page: other }) }, say(other < number ? "previous" : "next")) : null,
      );
      written
        .closest(".scroll")
        .after(make("nav", { class: "pager", "aria-label": say("pages") }, links[0], make("span", {}, say("page_of", { page: number, pages })), links[1]));
    }
    hideWhatWasWritten(power !== usual || isNarrow(view) || number > 1);
    showLacking(lacking);
  };
  answering(form, "table.board thead a, nav.axis a, .pager a", show);
  show();
}

// -------------------------------------------------------------------------------- the trade-offs

const TRADE_ROWS = 400;

// Round steps over a range.
function steps(from, to, most) {
  const raw = (to - from) / most || 1;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].map((one) => one * power).find((one) => one >= raw);
  const found = [];
  for (let at = Math.ceil(from / step); at * step <= to; at += 1) found.push(at * step);
  return found;
}

function scatter(points, across, up) {
  const [width, height, left, right, top, bottom] = [720, 420, 64, 20, 16, 52];
  const range = (values) => {
    const [low, high] = [Math.min(...values), Math.max(...values)];
    const room = 0.05 * (high - low || Math.abs(high) || 1);
    return [low - room, high + room];
  };
  const [x0, x1] = range(points.map((one) => one.across));
  const [y0, y1] = range(points.map((one) => one.up));
  const x = (value) => left + ((width - left - right) * (value - x0)) / (x1 - x0);
  const y = (value) => top + ((height - top - bottom) * (y1 - value)) / (y1 - y0);
  const svg = draw("svg", { class: "chart files-chart", viewBox: `0 0 ${width} ${height}`, role: "img", "aria-labelledby": "files-title" });
  svg.append(draw("title", { id: "files-title" }, filled(data.words.against, { x: across, y: up })));
  for (const at of steps(y0, y1, 6)) {
    svg.append(draw("line", { class: "c-grid", x1: left, x2: width - right, y1: y(at), y2: y(at) }));
    svg.append(draw("text", { class: "c-text", x: left - 8, y: y(at) + 4, "text-anchor": "end" }, localised(plain(at))));
  }
  for (const at of steps(x0, x1, 8)) {
    svg.append(draw("line", { class: "c-grid", x1: x(at), x2: x(at), y1: top, y2: height - bottom }));
    svg.append(draw("text", { class: "c-text", x: x(at), y: height - bottom + 18, "text-anchor": "middle" }, localised(plain(at))));
  }
  svg.append(draw("text", { class: "c-text", x: (left + width - right) / 2, y: height - 10, "text-anchor": "middle" }, across));
  svg.append(draw("text", { class: "c-text", x: 4, y: top + 4 }, up));
  for (const one of [...points].sort((a, b) => Number(a.front) - Number(b.front))) {
    const [px, py] = [x(one.across), y(one.up)];
    const mark = one.front
      ? draw("path", { class: "c-s2 c-mark", d: `M${px} ${py - 7}L${px + 7} ${py}L${px} ${py + 7}L${px - 7} ${py}Z` })
      : draw("circle", { class: "c-s1 c-mark", cx: px, cy: py, r: 4 });
    mark.append(draw("title", {}, `${wholeName(one.unit)}: ${localised(plain(one.across))}, ${localised(plain(one.up))}`));
    svg.append(mark);
  }
  return svg;
}

function tradeOffs() {
  const main = document.getElementById("main");
  const form = main.querySelector("form.filter");
  const title = main.querySelector("h1");
  const figure = main.querySelector("figure.figure");
  const written = main.querySelector("table.narrow");
  if (!written) return;
  const heads = written.querySelectorAll("thead th");
  const nav = main.querySelector("nav.axis");
  const drawnAtFirst = [...figure.querySelectorAll("svg")];
  const usual = { x: form.elements.x.value, y: form.elements.y.value };
  const index = (id) => data.figures.findIndex((one) => one.id === id);

  const viewNow = () => {
    const query = new URLSearchParams(location.search);
    const asked = (name) => (index(query.get(name)) >= 0 ? query.get(name) : usual[name]);
    const currencies = [...new Set(data.units.map((unit) => unit.currency).filter((one) => one !== null))];
    const currency = currencies.find((one) => one.toLowerCase() === (query.get("currency") ?? "").toLowerCase());
    return { ...viewOf(location.search, page("/trade-offs")), x: asked("x"), y: asked("y"), currency: currency ?? data.currency };
  };
  const addressOfPair = (view) => {
    const query = new URLSearchParams([["x", view.x], ["y", view.y]]);
    if ((view.x === "price" || view.y === "price") && view.currency !== data.currency) query.append("currency", view.currency);
    addNarrowing(query, view);
    return `${page("/trade-offs/")}?${query}`;
  };
  // The figure of a unit, or why it has none that compares.
  const valueOf = (unit, id, currency) => {
    const known = unit.figures[index(id)];
    if (known !== null && id === "price" && unit.currency !== currency) return filled(data.words.priced_in, { currency: unit.currency });
    if (known !== null) return known;
    if (id === "score" && unit.score !== null) return data.words.provisional;
    return filled(data.words.not_known, { figure: data.figures[index(id)].inside });
  };
  const words = (id, unit, [value, expanded]) => {
    if (id === "score") return scoreWords(unit.score);
    return id === "price" ? localised(fixed(value, 2)) : plusMinus(value, expanded, "", 3);
  };

  const show = () => {
    const view = viewNow();
    const [across, up] = [data.figures[index(view.x)], data.figures[index(view.y)]];
    fill(form, view);
    form.elements.x.value = view.x;
    form.elements.y.value = view.y;
    const currencyField = form.elements.currency;
    if (currencyField) {
      currencyField.value = view.currency;
      currencyField.closest("label").hidden = view.x !== "price" && view.y !== "price";
    }
    const points = [];
    const lacking = [];
    for (const unit of chosenUnits(view)) {
      const [x, y] = [valueOf(unit, view.x, view.currency), valueOf(unit, view.y, view.currency)];
      const why = [x, y].filter((one) => typeof one === "string");
      if (why.length > 0) lacking.push([unit, [...new Set(why)].join("; ")]);
      else {
        const signed = (one, value) => (one.more_is_better ? value : -value);
        points.push({ unit, across: x[0], up: y[0], cells: [x, y], x: signed(across, x[0]), y: signed(up, y[0]) });
      }
    }
    front(points);
    const named = (one) => withUnitName(one, view.currency);
    const sign = across.more_is_better ? -1 : 1;
    const rows = [...points].sort((a, b) => Number(b.front) - Number(a.front) || sign * (a.across - b.across));
    title.textContent = filled(data.words.against, { x: across.label, y: up.inside });
    [across, up].forEach((one, place) => {
      const way = make("small", {}, one.more_is_better ? data.words.more_is_better : data.words.less_is_better);
      heads[place + 1].replaceChildren(named(one), " ", way);
    });
    written.querySelector("tbody").replaceChildren(
      ...rows.slice(0, TRADE_ROWS).map((one) => {
        const { unit } = one;
        const head = make("th", { scope: "row" }, make("a", { href: unit_page(unit) }, nameOf(unit)));
        if (unit.sample !== null) head.append(" ", make("span", { class: "sample" }, say("sample", { name: unit.sample })));
        head.append(" ", make("small", {}, label(unit.class)));
        const last = make("td");
        if (one.front) last.append(make("span", { class: "yes-sign", "aria-hidden": "true" }, "◆"), ` ${say("yes")}`);
        return make(
          "tr",
          { class: one.front ? "best" : null },
          head,
          make("td", { class: "n" }, words(view.x, unit, one.cells[0])),
          make("td", { class: "n" }, words(view.y, unit, one.cells[1])),
          last,
        );
      }),
    );
    for (const link of nav.querySelectorAll("a")) {
      const query = new URLSearchParams(link.search);
      const own = { ...view, x: query.get("x"), y: query.get("y") };
      link.href = addressOfPair(own);
      if (own.x === view.x && own.y === view.y) link.setAttribute("aria-current", "page");
      else link.removeAttribute("aria-current");
    }
    const asWritten = view.x === usual.x && view.y === usual.y && view.currency === data.currency && !isNarrow(view);
    for (const old of figure.querySelectorAll("svg")) old.remove();
    if (asWritten) figure.prepend(...drawnAtFirst);
    else if (points.length > 0) figure.prepend(scatter(points, named(across), named(up)));
    for (const part of main.querySelectorAll(":scope > .lead, :scope > .notice")) part.hidden = !asWritten;
    showLacking(lacking);
  };
  answering(form, "nav.axis a", show);
  show();
}

function withUnitName(figure, currency) {
  const unit = figure.id === "price" ? currency : figure.unit;
  return unit === "" || unit === null ? figure.label : `${figure.label}, ${unit}`;
}
