// The site as files: nothing answers a query, so filters, orders, search and comparison are worked
// out here, from one data file that the program wrote with the pages. Addresses are the same as on
// a site that the program serves. All words come with the data, in the language of the page.

const SVG = "http://www.w3.org/2000/svg";
const MOST_COMPARED = 6;
const picked = new Set();
let data = null;

function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child !== null));
  return element;
}

// The text of that key, with what is put in the place of %name%.
const say = (key, values = {}) => data.texts[key].replace(/%(\w+)%/g, (_, name) => values[name]);

// A number that was written with a point, as the page's language writes it.
const localised = (text) => text.replace(".", data.decimal_mark);

const none = () =>
  make("span", { class: "none" }, make("span", { "aria-hidden": "true" }, "–"), make("span", { class: "vh" }, say("not_measured")));

// The address of a page in the language of this one.
const page = (path) => `${data.prefix}${path}`;

// The links to the other languages lead to what is shown now.
function followInLanguages(address) {
  const plain = address.slice(data.prefix.length);
  for (const other of document.querySelectorAll(".languages a")) other.href = `${data.prefixes[other.hreflang]}${plain}`;
}

const unit_page = (unit) => page(`/unit/${encodeURIComponent(unit.slug)}/`);

// As the program folds names: no case, one space between words.
const folded = (text) => text.trim().split(/\s+/).join(" ").toLowerCase();

// ---------------------------------------------------------------------------- what is asked for

// The view that an address asks for; what makes no sense is left out.
function viewOf(search, path) {
  const query = new URLSearchParams(search);
  const last = (name) => {
    const all = query.getAll(name).map((value) => value.trim()).filter((value) => value !== "");
    return all.length > 0 ? all[all.length - 1] : "";
  };
  const whole = (name) => (/^\d{1,3}$/.test(last(name)) ? Number(last(name)) : null);
  const number = (name) => {
    const value = Number(last(name).replace(",", "."));
    return last(name) !== "" && Number.isFinite(value) && value >= 0 ? value : null;
  };
  const ofPath = path.slice(data.prefix.length).match(/^\/class\/([^/]+)/);
  const sort = data.sorts.find((one) => one.id === last("sort")) ?? data.sorts[0];
  const columns = query.getAll("columns").flatMap((value) => value.split(","));
  return {
    search: last("q"),
    class: ofPath ? decodeURIComponent(ofPath[1]) : last("class"),
    maker: last("maker"),
    ports: whole("ports"),
    usbC: whole("usb_c"),
    each: number("each_w"),
    regime: last("regime"),
    verdict: last("verdict"),
    price: number("price"),
    currency: last("currency"),
    from: last("from"),
    to: last("to"),
    sort,
    descending: last("dir") === "" ? sort.descending_first : last("dir") === "desc",
    columns: data.columns.filter((one) => columns.includes(one.id)).map((one) => one.id),
    page: Math.max(1, whole("page") ?? 1),
  };
}

// The address of a view: only what differs from what one gets anyway.
function addressOf(view) {
  const query = new URLSearchParams();
  const add = (name, value) => {
    if (value !== "" && value !== null) query.append(name, value);
  };
  add("q", view.search);
  add("maker", view.maker);
  add("ports", view.ports);
  add("usb_c", view.usbC);
  add("each_w", view.each);
  if (view.verdict !== "") {
    add("regime", view.regime);
    add("verdict", view.verdict);
  }
  if (view.price !== null) {
    add("price", view.price);
    add("currency", view.currency);
  }
  add("from", view.from);
  add("to", view.to);
  if (view.sort !== data.sorts[0]) add("sort", view.sort.id);
  if (view.descending !== view.sort.descending_first) add("dir", view.descending ? "desc" : "asc");
  if (view.columns.join() !== data.usual.join()) add("columns", view.columns.join(","));
  if (view.page > 1) add("page", view.page);
  const path = page(view.class === "" ? "/" : `/class/${encodeURIComponent(view.class)}/`);
  const text = query.toString();
  return text === "" ? path : `${path}?${text}`;
}

// ------------------------------------------------------------------------------ which units pass

// Do the ports give so much at the same time? As the program decides it: observations of so many
// ports outweigh the label.
function gives(unit, count, each) {
  const together = unit.together;
  const powers = (ports, kind) =>
    ports.filter(([connector]) => kind === null || connector === kind).map(([, power]) => power).sort((a, b) => b - a);
  const kind = count.usbC !== null ? "usb-c" : null;
  const wanted = Math.max(1, count.usbC ?? count.ports ?? 1);
  const enough = (list) => list.length >= wanted && list[wanted - 1] + data.rounding_w >= each;
  const observed = together.observed.map((ports) => powers(ports, kind)).filter((list) => list.length >= wanted);
  if (observed.length > 0) return observed.some(enough) ? "observed" : null;
  return wanted * each <= together.total_w + data.rounding_w && enough(powers(together.labelled, kind)) ? "label" : null;
}

function passes(unit, view, words) {
  const outcome = view.verdict === "" ? null : unit.outcomes[view.regime];
  return (
    (view.class === "" || unit.class === view.class) &&
    (view.maker === "" || folded(unit.maker) === folded(view.maker)) &&
    (view.ports === null || unit.ports >= view.ports) &&
    (view.usbC === null || unit.usb_c >= view.usbC) &&
    (view.each === null || gives(unit, view, view.each) !== null) &&
    (view.price === null ||
      (unit.values.price !== undefined && unit.values.price <= view.price && (view.currency === "" || unit.currency === view.currency))) &&
    (view.from === "" || (unit.tested_on ?? "") >= view.from) &&
    (view.to === "" || (unit.tested_on !== null && unit.tested_on <= view.to)) &&
    (view.verdict === "" || (outcome !== undefined && (data.verdicts[view.verdict] ?? []).includes(outcome))) &&
    words.every((word) => unit.find.includes(word))
  );
}

// Units stand in the order of their names, which decides between equals; whoever has no value comes
// last in either direction.
function ordered(units, view) {
  const { id } = view.sort;
  const value = (unit) => (id === "tested-on" ? (unit.tested_on ?? undefined) : unit.values[id]);
  const group = (unit) =>
    id === "price"
      ? (unit.currency ?? "")
      : id === "score"
        ? String(Number(unit.provisional))
        : id === "points-for-price"
          ? `${Number(unit.provisional)}${unit.currency ?? ""}`
          : "";
  const sign = view.descending ? -1 : 1;
  if (id === "name") return view.descending ? [...units].reverse() : units;
  return [...units].sort((a, b) => {
    const [x, y] = [value(a), value(b)];
    if (x === undefined || y === undefined) {
      return x === y ? a.place - b.place : x === undefined ? 1 : -1;
    }
    const [g, h] = [group(a), group(b)];
    if (g !== h) return g < h ? -1 : 1;
    if (x !== y) return x < y ? -sign : sign;
    return a.place - b.place;
  });
}

// --------------------------------------------------------------------------------- the ranking

function markOf(index) {
  const mark = data.marks[index];
  return make(
    "li",
    { class: `mark ${mark.outcome}`, title: `${mark.regime}: ${mark.word}` },
    make("i", { "aria-hidden": "true" }, mark.sign),
    ` ${mark.label}`,
    make("span", { class: "vh" }, `: ${mark.word}`),
  );
}

function rowOf(unit, view, columns) {
  const name = `${unit.maker} ${unit.model}`;
  const sample = unit.sample === null ? "" : ` ${say("sample", { name: unit.sample })}`;
  const box = make("input", { type: "checkbox", form: "compare", name: "unit", value: unit.slug, "aria-label": say("pick_unit", { unit: `${name}${sample}` }) });
  box.checked = picked.has(unit.slug);
  const rank = view.class === "" ? unit.rank?.overall : unit.rank?.class;
  const score = make("td", { class: "n score", "data-label": say("score") });
  if (unit.score === null) score.append(none());
  else {
    score.append(make("b", {}, unit.score[0]), " ");
    score.append(
      unit.score[1] === null
        ? make("small", {}, make("abbr", { title: say("uncertainty_unknown") }, "±\u202f?"))
        : make("small", {}, `±\u202f${unit.score[1]}`),
    );
  }
  const place = make("td", { class: "n rank", "data-label": say("rank") }, rank ?? none());
  if (unit.provisional) place.append(" ", make("abbr", { title: say("provisional") }, say("provisional_short")));
  const head = make("th", { scope: "row", class: "unit" }, make("a", { href: unit_page(unit) }, name));
  if (sample !== "") head.append(" ", make("span", { class: "sample" }, sample.trim()));
  head.append(" ", make("span", { class: "sub" }, unit.watts));
  return make(
    "tr",
    {},
    make("td", { class: "pick" }, box),
    place,
    head,
    score,
    make("td", { class: "marks", "data-label": say("verdicts") }, make("ul", {}, ...unit.marks.map(markOf))),
    ...columns.map((column) => {
      let text = unit.cells[column.id];
      // How it is known that the ports give what was asked for.
      if (column.id === "ports" && text !== undefined && view.each !== null) text = say(`ports_${gives(unit, view, view.each)}`, { ports: text });
      return make("td", { class: column.numeric ? "n" : null, "data-label": column.label }, text ?? none());
    }),
  );
}

function headingOf(view, id, label, title, numeric) {
  const sort = data.sorts.find((one) => one.id === id);
  const sorted = sort === view.sort;
  const cell = make("th", { scope: "col", class: numeric ? "n" : null, "aria-sort": sorted ? (view.descending ? "descending" : "ascending") : null });
  if (sort === undefined) {
    cell.append(make("span", { title }, label));
    return cell;
  }
  const descending = sorted ? !view.descending : sort.descending_first;
  const link = make("a", { href: addressOf({ ...view, sort, descending, page: 1 }), title: say("sort_by", { column: title }) }, label);
  if (sorted) link.append(make("span", { class: "arrow", "aria-hidden": "true" }, view.descending ? "▾" : "▴"));
  cell.append(link);
  return cell;
}

function showRanking(view) {
  const words = folded(view.search).split(" ").filter((word) => word !== "");
  const all = ordered(data.units.filter((unit) => passes(unit, view, words)), view);
  const pages = Math.max(1, Math.ceil(all.length / data.per_page));
  view.page = Math.min(view.page, pages);
  const first = (view.page - 1) * data.per_page;
  const shown = all.slice(first, first + data.per_page);
  const chosen = [...(view.columns.length > 0 ? view.columns : data.usual), view.sort.id];
  const columns = data.columns.filter((column) => chosen.includes(column.id) && all.some((unit) => unit.cells[column.id] !== undefined));

  const range = { first: first + 1, last: first + shown.length, count: all.length };
  document.getElementById("count").textContent = all.length === 0 ? say("no_units") : say(all.length === 1 ? "range_of_one" : "range", range);

  const label = data.classes.find((one) => one.id === view.class)?.heading;
  const heading = label ?? data.heading;
  document.querySelector("h1").textContent = heading;
  for (const tab of document.querySelectorAll(".tabs a")) {
    const ofClass = viewOf("", new URL(tab.href).pathname).class;
    if (ofClass === view.class) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  }

  const board = document.getElementById("board");
  board.querySelector(".scroll")?.remove();
  board.querySelector(".empty")?.remove();
  board.querySelector(".pager")?.remove();
  const after = board.querySelector(".after");
  if (shown.length === 0) {
    after.before(
      make("div", { class: "empty" }, make("p", {}, say("none_fits")), make("p", {}, make("a", { href: page("/") }, say("show_all")))),
    );
  } else {
    const head = make(
      "tr",
      {},
      make("th", { scope: "col" }, make("span", { class: "vh" }, say("pick"))),
      headingOf(view, null, say("rank"), say("rank_title"), true),
      headingOf(view, "name", say("unit"), say("unit_title"), false),
      headingOf(view, "score", say("score"), say("score_title"), true),
      headingOf(view, "verdict", say("verdicts"), say("verdicts_title"), false),
      ...columns.map((column) => headingOf(view, column.id, column.heading, column.title, column.numeric)),
    );
    const table = make(
      "table",
      { class: "board" },
      make(
        "caption",
        { id: "board-caption" },
        make("span", { class: "vh" }, `${heading}: `),
        say(view.class === "" ? "caption_all" : "caption_class"),
      ),
      make("thead", {}, head),
    );
    let body = make("tbody");
    table.append(body);
    for (const unit of shown) {
      if (view.sort.id === "score" && unit.provisional && !body.classList.contains("provisional")) {
        body = make(
          "tbody",
          { class: "provisional" },
          make(
            "tr",
            { class: "group" },
            make(
              "th",
              { colspan: columns.length + 5, scope: "rowgroup" },
              say("provisional_group"),
            ),
          ),
        );
        table.append(body);
      }
      body.append(rowOf(unit, view, columns));
    }
    after.before(make("div", { class: "scroll", role: "region", "aria-labelledby": "board-caption", tabindex: "0" }, table));
  }
  if (pages > 1) {
    const turn = (page, label, rel) =>
      page >= 1 && page <= pages ? make("a", { rel, href: addressOf({ ...view, page }) }, label) : make("span", { class: "off" }, label);
    after.before(
      make(
        "nav",
        { class: "pager", "aria-label": say("pages") },
        turn(view.page - 1, say("previous"), "prev"),
        make("span", {}, say("page_of", { page: view.page, pages })),
        turn(view.page + 1, say("next"), "next"),
      ),
    );
  }
  const plain = view.search === "" && addressOf({ ...view, sort: data.sorts[0], descending: true, columns: [], page: 1 }).indexOf("?") < 0;
  const overview = document.getElementById("overview");
  if (overview) overview.hidden = !plain || view.page > 1;
  const link = board.querySelector(".after .fine a");
  if (link) {
    link.href = addressOf(view);
    link.textContent = new URL(addressOf(view), location.href).href;
  }
  followInLanguages(addressOf(view));
  restore();
}

// What was chosen for comparison stays chosen when the table changes.
function restore() {
  const compare = document.getElementById("compare");
  if (!compare) return;
  const shown = new Set([...document.querySelectorAll('input[name="unit"][form="compare"]')].map((box) => box.value));
  for (const old of compare.querySelectorAll('input[type="hidden"]')) old.remove();
  for (const slug of picked) {
    if (!shown.has(slug)) compare.append(make("input", { type: "hidden", name: "unit", value: slug }));
  }
  const words = document.getElementById("chosen");
  const text = picked.size === 0 ? words.dataset.none : picked.size > MOST_COMPARED ? words.dataset.many : words.dataset.some;
  words.textContent = text.replace("%count%", picked.size);
}

// Puts a view into the form's fields, so that both always say the same.
function fill(form, view) {
  const set = (name, value) => {
    if (form.elements[name] && "value" in form.elements[name]) form.elements[name].value = value ?? "";
  };
  set("q", view.search);
  set("class", view.class);
  set("maker", view.maker);
  set("ports", view.ports);
  set("usb_c", view.usbC);
  set("each_w", view.each);
  if (view.regime !== "") set("regime", view.regime);
  set("verdict", view.verdict);
  set("price", view.price);
  if (view.currency !== "") set("currency", view.currency);
  set("from", view.from);
  set("to", view.to);
  set("sort", view.sort.id);
  set("dir", view.descending ? "desc" : "asc");
}

function ranking(form) {
  const formView = () => viewOf(`?${new URLSearchParams([...new FormData(form)].filter(([, value]) => value !== ""))}`, page("/"));
  let waiting = null;
  let sortBefore = form.elements.sort?.value;
  const answer = () => {
    // Another quantity begins at its better end, as a click on its heading would.
    if (form.elements.sort && form.elements.sort.value !== sortBefore) {
      sortBefore = form.elements.sort.value;
      const sort = data.sorts.find((one) => one.id === sortBefore);
      if (sort) form.elements.dir.value = sort.descending_first ? "desc" : "asc";
    }
    const view = formView();
    showRanking(view);
    history.replaceState(null, "", addressOf(view));
  };
  const soon = (milliseconds) => {
    clearTimeout(waiting);
    waiting = setTimeout(answer, milliseconds);
  };
  form.addEventListener("input", (event) => soon(event.target.type === "search" ? 150 : 350));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    soon(0);
  });
  const go = () => {
    const view = viewOf(location.search, location.pathname);
    fill(form, view);
    sortBefore = form.elements.sort?.value;
    showRanking(view);
  };
  // Headings, pages and classes of this very page are answered here as well.
  document.addEventListener("click", (event) => {
    const link = event.target.closest("#board thead a, #board .pager a, #board .empty a");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button !== 0) return;
    event.preventDefault();
    history.pushState(null, "", link.getAttribute("href"));
    go();
  });
  addEventListener("popstate", go);
  document.addEventListener("change", (event) => {
    if (event.target.name !== "unit") return;
    if (event.target.checked) picked.add(event.target.value);
    else picked.delete(event.target.value);
    restore();
  });
  if (location.search !== "") go();
  else restore();
}

// ------------------------------------------------------------------------------- the comparison

const draw = (tag, attributes = {}, ...children) => {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
};

const percent = (share) => localised(`${(100 * share).toFixed(2)} %`);

// Efficiency against output power on a logarithmic axis, one line a unit, its name in the key.
function curves(units) {
  const [width, height, left, right, top, bottom] = [720, 380, 56, 16, 16, 48];
  const points = units.flatMap((unit) => unit.curve).filter(([watts]) => watts > 0);
  if (points.length === 0) return null;
  const low = Math.min(...points.map(([watts]) => watts));
  const high = Math.max(...points.map(([watts]) => watts));
  const worst = Math.floor(Math.min(...points.map(([, share]) => share)) * 20) / 20;
  const span = Math.log(high / low) || 1;
  const x = (watts) => left + ((width - left - right) * Math.log(watts / low)) / span;
  const y = (share) => top + ((height - top - bottom) * (1 - share)) / (1 - worst || 1);
  const svg = draw("svg", { class: "chart files-chart", viewBox: `0 0 ${width} ${height}`, role: "img", "aria-labelledby": "files-title files-desc" });
  svg.append(
    draw("title", { id: "files-title" }, say("curves_title")),
    draw("desc", { id: "files-desc" }, say("curves_description", { units: units.map((unit) => `${unit.maker} ${unit.model}`).join(", ") })),
  );
  for (let share = worst; share < 1.001; share += 0.05) {
    svg.append(draw("line", { class: "c-grid", x1: left, x2: width - right, y1: y(share), y2: y(share) }));
    svg.append(draw("text", { class: "c-text", x: left - 8, y: y(share) + 4, "text-anchor": "end" }, `${Math.round(100 * share)} %`));
  }
  for (const watts of [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500].filter((one) => one >= low && one <= high)) {
    svg.append(draw("line", { class: "c-grid", x1: x(watts), x2: x(watts), y1: top, y2: height - bottom }));
    svg.append(draw("text", { class: "c-text", x: x(watts), y: height - bottom + 18, "text-anchor": "middle" }, localised(String(watts))));
  }
  svg.append(draw("text", { class: "c-text", x: (left + width - right) / 2, y: height - 8, "text-anchor": "middle" }, say("curves_axis")));
  units.forEach((unit, index) => {
    const line = unit.curve.filter(([watts]) => watts > 0);
    const path = line.map(([watts, share]) => `${x(watts).toFixed(1)},${y(share).toFixed(1)}`).join(" ");
    const series = `c-s${index + 1}`;
    svg.append(draw("polyline", { class: `${series} c-line c-d${index + 1}`, points: path }));
    for (const [watts, share] of line) svg.append(draw("circle", { class: `${series} c-mark`, cx: x(watts), cy: y(share), r: 4 }));
  });
  const key = make("ul", { class: "files-key" });
  units.forEach((unit, index) => {
    const sample = draw("svg", { class: "chart", viewBox: "0 0 40 12", width: 40, height: 12, "aria-hidden": "true" });
    sample.append(
      draw("line", { class: `c-s${index + 1} c-line c-d${index + 1}`, x1: 0, x2: 40, y1: 6, y2: 6 }),
      draw("circle", { class: `c-s${index + 1} c-mark`, cx: 20, cy: 6, r: 4 }),
    );
    key.append(make("li", {}, sample, ` ${unit.maker} ${unit.model}`));
  });
  return make("figure", { class: "figure" }, svg, key);
}

function table(caption, corner, units, lines) {
  return make(
    "div",
    { class: "scroll", role: "region", tabindex: "0", "aria-label": caption },
    make(
      "table",
      {},
      make("caption", {}, caption),
      make("thead", {}, make("tr", {}, make("th", { scope: "col" }, corner), ...units.map((unit) => make("th", { scope: "col", class: "n" }, `${unit.maker} ${unit.model}`)))),
      make("tbody", {}, ...lines.map(([label, cells]) => make("tr", {}, make("th", { scope: "row" }, label), ...cells.map((cell) => make("td", { class: "n" }, cell ?? none()))))),
    ),
  );
}

function comparison() {
  const query = new URLSearchParams(location.search);
  const main = document.getElementById("main");
  const slugs = [...new Set(query.getAll("unit"))];
  const units = slugs.map((slug) => data.units.find((unit) => unit.slug === slug)).filter((unit) => unit !== undefined);
  const address = (list) => `${page("/compare/")}?${new URLSearchParams(list.map((unit) => ["unit", unit.slug]))}`;
  const form = main.querySelector("form.filter");
  form.querySelector('[name="at_w"]')?.closest("label").remove();
  const notices = make("div");
  const unknown = slugs.filter((slug) => !data.units.some((unit) => unit.slug === slug));
  for (const slug of unknown) notices.append(make("p", { class: "notice", role: "status" }, say("no_unit", { name: slug.slice(0, 60) })));
  if (units.length > MOST_COMPARED) {
    notices.append(make("p", { class: "notice", role: "status" }, say("too_many", { most: MOST_COMPARED })));
    units.length = MOST_COMPARED;
  }
  for (const unit of units) form.append(make("input", { type: "hidden", name: "unit", value: unit.slug }));
  const wanted = folded(query.get("add") ?? "");
  if (wanted !== "") {
    const found = data.units.filter((unit) => !units.includes(unit) && wanted.split(" ").every((word) => unit.find.includes(word)));
    const offers = make("ul", {}, ...found.slice(0, 12).map((unit) => make("li", {}, make("a", { href: address([...units, unit]) }, `${unit.maker} ${unit.model}`))));
    notices.append(found.length === 0 ? make("p", { class: "notice", role: "status" }, say("no_other", { words: wanted })) : make("p", {}, say("which_one")));
    if (found.length > 0) notices.append(offers);
    if (found.length === 1 && units.length < MOST_COMPARED) location.replace(address([...units, found[0]]));
  }
  form.after(notices);
  if (units.length === 0) return;
  const heads = make("ul", { class: "compare-heads" });
  for (const unit of units) {
    heads.append(
      make(
        "li",
        {},
        make("a", { href: unit_page(unit) }, `${unit.maker} ${unit.model}`),
        `, ${data.classes.find((one) => one.id === unit.class)?.label ?? ""} `,
        make("a", { class: "fine", href: address(units.filter((other) => other !== unit)) }, say("leave_out"), make("span", { class: "vh" }, ` ${unit.maker} ${unit.model}`)),
      ),
    );
  }
  form.before(heads);
  if (units.length < 2) return;
  main.querySelector(".lead")?.remove();
  const drawn = curves(units);
  if (drawn) notices.after(make("section", { "aria-labelledby": "curves" }, make("h2", { id: "curves" }, say("curves_heading")), drawn));
  const figures = [
    [say("score"), units.map((unit) => (unit.score === null ? null : `${unit.score[0]} ± ${unit.score[1] ?? "?"}`))],
    [say("rank_in_class"), units.map((unit) => unit.rank?.class ?? null)],
    ...data.columns
      .filter((column) => units.some((unit) => unit.cells[column.id] !== undefined))
      .map((column) => [column.label, units.map((unit) => unit.cells[column.id] ?? null)]),
  ];
  main.append(
    make("section", { "aria-labelledby": "figures" }, make("h2", { id: "figures" }, say("figures")), table(say("figures_caption"), say("quantity"), units, figures)),
  );
  const loads = [...new Set(units.flatMap((unit) => unit.curve.map(([watts]) => watts)))].sort((a, b) => a - b);
  const points = loads.map((watts) => [
    localised(`${Number(watts.toPrecision(4))} W`),
    units.map((unit) => {
      const at = unit.curve.find(([own]) => own === watts);
      return at ? percent(at[1]) : null;
    }),
  ]);
  main.append(
    make("section", { "aria-labelledby": "points" }, make("h2", { id: "points" }, say("points")), table(say("points_caption"), say("output_power"), units, points)),
    make("p", { class: "fine" }, say("not_certified")),
  );
}

// ----------------------------------------------------------------------------------- the start

// What the file holds as lists in the order of their names gets its names.
function spread(unit, place) {
  const named = (names, list) => Object.fromEntries(list.flatMap((one, at) => (one === null ? [] : [[names[at], one]])));
  unit.place = place;
  unit.cells = named(data.columns.map((column) => column.id), unit.cells);
  unit.values = named(data.sorts.map((sort) => sort.id), unit.values);
  unit.outcomes = named(data.regimes, unit.results.map((result) => (result === null ? null : data.outcomes[result])));
  unit.find = folded(`${unit.maker} ${unit.model} ${unit.sample ?? ""}`);
}

async function start() {
  const form = document.getElementById("filter");
  // A page of another language has its tag before its address.
  const prefix = `/${document.documentElement.lang}/`;
  const path = location.pathname.replace(/\/$/, "");
  const here = path.startsWith(prefix) ? path.slice(prefix.length - 1) : path;
  const pages = {
    "/compare": comparison,
    // Of `as_files_choose.js`.
    "/at": () => atWattage(),
    "/trade-offs": () => tradeOffs(),
  };
  if (!form && !pages[here]) return;
  const source = document.querySelector("link[data-units]");
  try {
    const response = await fetch(source.getAttribute("href"));
    if (!response.ok) throw new Error(String(response.status));
    data = await response.json();
    data.units.forEach(spread);
    if (form) ranking(form);
    else pages[here]();
  } catch (cause) {
    document
      .getElementById("main")
      .prepend(
        make(
          "p",
          { class: "notice alarm", role: "alert" },
          source.dataset.failed.replace("%cause%", cause.message),
        ),
      );
  }
}

start();
