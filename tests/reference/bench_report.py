"""Second evaluation of the bench report: ports, sharing, overloads, heat, other measurements, build.

Everything here follows from the published rules (USB PD source power rules and bit layout, limited
power sources, touch temperatures) and from the decisions that DEVELOPERS.md tables, written down
once more with other means: plain sets of labels for combinations of ports, `scipy.optimize` for the
warming, `scipy.stats` for what the scatter is worth. The tables are written out here too, so that a
slip of the pen in `src/standards/` shows.

`cross_check.py` calls `figures(record)` and `of_document(document)` and compares the two.
"""

import itertools
import math

import numpy
from scipy.optimize import curve_fit
from scipy.stats import norm, t as student

# Sections of the evaluation document that are dealt with here.
SECTIONS = ("ports", "sharing", "overloads", "heat", "measurements", "build")
# The warming is a least-squares fit: two solvers agree to this, and to this many kelvins.
FIT_TOLERANCE = 2e-6
FIT_TOLERANCE_K = 1e-6

# ---------------------------------------------------------------- published tables

# Source power rules: (rating over, up to, fixed {V: A or None for rating / V}).
FIXED = [
    (0, 15, {5: None}),
    (15, 27, {5: 3, 9: None}),
    (27, 45, {5: 3, 9: 3, 15: None}),
    (45, 100, {5: 3, 9: 3, 15: 3, 20: None}),
    (100, 140, {5: 3, 9: 3, 15: 3, 20: 5, 28: None}),
    (140, 180, {5: 3, 9: 3, 15: 3, 20: 5, 28: 5, 36: None}),
    (180, 240, {5: 3, 9: 3, 15: 3, 20: 5, 28: 5, 36: 5, 48: None}),
]
CURRENT_SLACK = 0.01
PPS_NAMES = {5.9: "5V Prog", 11.0: "9V Prog", 16.0: "15V Prog", 21.0: "20V Prog"}
PPS_NOMINAL = {5.9: 5, 11.0: 9, 16.0: 15, 21.0: 20}
PPS_STEP = 0.05
PPS_MINIMA = (3.0, 3.3, 5.0)
SPR_AVS = [(27, 45, 15, None), (45, 100, 20, 3.0)]  # over, up to, to V, A to 15 V
EPR_AVS = [(100, 140, 28), (140, 180, 36), (180, 240, 48)]
CABLES = [(3, 21, False), (5, 21, True), (5, 50, True)]  # A, V, e-marker
# Limited power source, inherently limited: (U over, up to, A, VA).
LIMITED = [(0, 20, lambda u: 8.0, 100), (20, 30, lambda u: 8.0, 100),
           (30, 60, lambda u: 150 / u, 100)]
CLASSES = [("PS1", 15), ("PS2", 100)]
# Touch temperature TS1; TS2 is 10 K above.
TOUCH = {
    "held": {"metal": 48, "glass_porcelain": 48, "plastic_rubber": 48, "wood": 48},
    "short": {"metal": 51, "glass_porcelain": 56, "plastic_rubber": 60, "wood": 60},
    "occasional": {"metal": 60, "glass_porcelain": 71, "plastic_rubber": 77, "wood": 107},
    "not_needed": {"metal": 70, "glass_porcelain": 85, "plastic_rubber": 94, "wood": 140},
}
LABEL_ROUNDING = 1.02


def uncertainty(record, quantity, reading):
    """u = a / sqrt(3) of the smallest range that holds the reading, of equal ones the last."""
    rows = [(row.get("range") if row.get("range") is not None else math.inf, -at, row)
            for at, row in enumerate(record.get("instruments", []))
            if row["quantity"] == quantity]
    rows = [r for r in rows if abs(reading) <= r[0]]
    if not rows:
        return None
    row = min(rows, key=lambda r: r[:2])[2]
    return (row.get("reading_percent", 0) * abs(reading) / 100
            + row.get("range_percent", 0) * (row.get("range") or 0) / 100
            + row.get("fixed", 0)) / math.sqrt(3)


def in_quadrature(*parts):
    return None if any(p is None for p in parts) else math.sqrt(sum(p * p for p in parts))


def verdict(margin, u, scale):
    """Guard band of U = 2 u on both sides; equality counts as kept."""
    slack = 1e-12 * max(1.0, abs(scale))
    guard = 2 * u if u else 0.0
    if margin >= guard - slack:
        return "within"
    if not guard:
        return "outside"
    if margin >= -slack:
        return "within-by-less-than-uncertainty"
    return "outside-by-less-than-uncertainty" if margin >= -guard - slack else "outside"


def at_most(unit, measured, u, limit):
    margin = limit - measured
    return {"unit": unit, "limit": limit, "measured": measured, "margin": margin,
            "expanded_uncertainty": None if u is None else 2 * u,
            "risk": float(norm.cdf(margin / u)) if u else None,
            "result": verdict(margin, u, limit)}


# ---------------------------------------------------------------- ports


def bits(word, high, low):
    return int(f"{word:032b}"[31 - high:32 - low], 2)


def decoded(word):
    """A power data object by the published bit table."""
    first, second = bits(word, 31, 30), bits(word, 29, 28)
    if first == 0:
        volts = bits(word, 19, 10) * 5 / 100
        return {"kind": "fixed", "low": volts, "high": volts, "a": bits(word, 9, 0) / 100}
    if first == 1:
        return {"kind": "battery", "low": bits(word, 19, 10) * 5 / 100,
                "high": bits(word, 29, 20) * 5 / 100, "a": None}
    if first == 2:
        return {"kind": "variable", "low": bits(word, 19, 10) * 5 / 100,
                "high": bits(word, 29, 20) * 5 / 100, "a": bits(word, 9, 0) / 100}
    if second == 0:
        return {"kind": "pps", "low": bits(word, 15, 8) / 10, "high": bits(word, 24, 17) / 10,
                "a": bits(word, 6, 0) * 5 / 100, "limited": bits(word, 27, 27) == 1}
    if second == 1:
        high, watts = bits(word, 25, 17) / 10, bits(word, 7, 0)
        return {"kind": "epr-avs", "low": bits(word, 15, 8) / 10, "high": high,
                "a": min(watts / high, 5.0), "w": watts}
    to15, to20 = bits(word, 19, 10) / 100, bits(word, 9, 0) / 100
    return {"kind": "spr-avs", "low": 9.0, "high": 20.0 if to20 else 15.0, "a": max(to15, to20),
            "to15": to15, "to20": to20}


def offers_of(o):
    """What an object adds to the table of voltages: (kind, low, high, A)."""
    if o["kind"] in ("battery", "variable"):
        return []
    if o["kind"] == "spr-avs":
        parts = [(9.0, 15.0, o["to15"]), (15.0, 20.0, o["to20"])]
        return [("spr-avs", low, high, a) for low, high, a in parts if a > 0]
    if o["kind"] == "epr-avs":
        kind = "spr-avs" if o["high"] <= 20.06 else "epr-avs"
        return [(kind, o["low"], o["high"], o["a"])]
    return [(o["kind"], o["low"], o["high"], o["a"])]


def claims_of(mode):
    if mode["kind"] == "fixed":
        return "fixed", mode["voltage_v"], mode["voltage_v"], mode["current_a"]
    low, high = mode["voltage_min_v"], mode["voltage_max_v"]
    kind = "pps" if mode["kind"] == "pps" else "spr-avs" if high <= 20.06 else "epr-avs"
    return kind, low, high, mode["current_a"]


class Voltages:
    """The table of voltages of one port: one row a fixed voltage or an upper end of a range."""

    def __init__(self):
        self.rows = []

    def row(self, kind, low, high):
        near = 0.01 if kind == "fixed" else 0.06
        for row in self.rows:
            if row["kind"] == kind and abs(row["voltage_max_v"] - high) < near:
                return row
        name = next((n for end, n in PPS_NAMES.items() if abs(end - high) < 0.01), None)
        self.rows.append({"kind": kind, "range": name if kind == "pps" else None,
                          "voltage_min_v": low, "voltage_max_v": high, "required_a": None,
                          "claimed_a": None, "advertised_a": None, "measured": None,
                          "result": None})
        return self.rows[-1]


def most(a, b):
    return b if a is None else max(a, b)


def pps_needed(rating):
    """{upper end: A} that R3.0 asks for beside each other, if any range is offered."""
    x = min(rating, 100)
    if x <= 15:
        return {5.9: x / 5}
    if x < 27:
        return {5.9: 3, 11.0: x / 9}
    if x == 27:
        return {11.0: 3}
    if x < 45:
        return {11.0: 3, 16.0: x / 15}
    if x == 45:
        return {16.0: 3}
    if x < 60:
        return {16.0: 3, 21.0: x / 20}
    return {21.0: x / 20}


def window_of(connector, nominal):
    """(low, high) at the connector."""
    if connector == "usb-c":
        return (4.75, 5.5) if abs(nominal - 5) < 0.01 else (nominal * 0.95, nominal * 1.05)
    if connector == "usb-a":
        return (4.75, 5.25) if abs(nominal - 5) < 0.01 else None
    return (nominal * 0.95, nominal * 1.05) if connector == "barrel" else None


def readings_of(record, label):
    """(nominal V, reading) of every point that loads the port and read its voltage."""
    found = []
    for run in record.get("runs", []):
        rated = next((r for r in run.get("rated_outputs", []) if r["port"] == label), None)
        for point in run.get("points", []) if rated else []:
            out = next((o for o in point.get("outputs", []) if o["port"] == label), {})
            if out.get("voltage_v") is not None:
                found.append((rated["voltage_v"], {
                    "run": run["name"], "load_percent": point["load_percent"],
                    "current_a": out.get("current_a"), "voltage_v": out["voltage_v"]}))
    return found


def port_figures(record, port):
    unit = record["unit"]
    modes = port.get("modes", [])
    objects = [(at, text, decoded(int(text, 16)))
               for at, text in enumerate(port.get("source_capabilities", []), 1)
               if int(text, 16)]
    listed = [o["low"] * o["a"] if o["kind"] == "fixed" else float(o["w"])
              for _, _, o in objects if o["kind"] in ("fixed", "epr-avs")]
    advertised_w = max(listed, default=None)
    rating, rating_from = None, None
    for watts, source in ((port.get("power_w"), "label"),
                          (unit["nameplate"]["output_power_w"]
                           if len(unit["ports"]) == 1 else None, "nameplate"),
                          (advertised_w, "list")):
        if watts is not None:
            rating, rating_from = (watts, source) if watts > 0 else (None, None)
            break
    fixed_voltages = {m["voltage_v"] for m in modes if m["kind"] == "fixed"}
    negotiates = any(m["kind"] != "fixed" for m in modes) or len(fixed_voltages) > 1
    # Power Delivery belongs to USB-C, whatever a USB-A port sends.
    on_usb_a = port.get("connector") == "usb-a"
    is_pd = bool(objects) and not on_usb_a or port.get("connector") == "usb-c" and negotiates
    has_extended = any(o["kind"] == "epr-avs" or o["kind"] == "fixed" and o["high"] > 21
                       for _, _, o in objects)

    table = Voltages()
    for mode in modes:
        kind, low, high, amperes = claims_of(mode)
        row = table.row(kind, low, high)
        row["claimed_a"] = most(row["claimed_a"], amperes)
    for _, _, o in objects:
        for kind, low, high, amperes in offers_of(o):
            row = table.row(kind, low, high)
            row["advertised_a"] = most(row["advertised_a"], amperes)
            row["voltage_min_v"], row["voltage_max_v"] = low, high

    def offer(row):
        return row["advertised_a"] if objects else row["claimed_a"]

    def outcome(row, slack):
        asked, offered = row["required_a"], offer(row)
        if asked is None:
            return None if offered is None else "optional"
        if offered is None:
            partly = objects and not has_extended and row["voltage_max_v"] > 21
            return "unknown" if partly else "missing"
        return "too-little" if offered < asked - slack - 1e-9 else "met"

    findings = []
    rules = None
    if is_pd and rating is not None:
        rules = next((row[2] for row in FIXED if row[0] < rating <= row[1]), None)
    if rules:
        for volts, amperes in rules.items():
            row = table.row("fixed", float(volts), float(volts))
            row["required_a"] = rating / volts if amperes is None else float(amperes)
        for row in table.rows:
            if row["kind"] == "fixed":
                row["result"] = outcome(row, CURRENT_SLACK)
    if is_pd and any(r["kind"] == "pps" and offer(r) is not None for r in table.rows):
        needed = pps_needed(rating) if rating is not None else {}
        for end, amperes in needed.items():
            covered = any(r["kind"] == "pps" and r["voltage_max_v"] > end - 0.06
                          and offer(r) is not None and offer(r) >= amperes - PPS_STEP - 1e-9
                          for r in table.rows)
            has_row = any(r["range"] == PPS_NAMES[end] for r in table.rows)
            if has_row or not covered:
                table.row("pps", 5.0, end)["required_a"] = float(amperes)
        for row in table.rows:
            if row["kind"] == "pps":
                row["result"] = outcome(row, PPS_STEP)
                if row["result"] == "missing" and row["range"]:
                    findings.append(["pps", "note"])
        for _, _, o in objects:
            if o["kind"] != "pps":
                continue
            findings.append(["pps", "note"])
            nominal = next((n for end, n in PPS_NOMINAL.items() if abs(end - o["high"]) < 0.01),
                           None)
            known = nominal and any(abs(o["low"] - m) < 0.01 for m in PPS_MINIMA)
            if (known and rating is not None and not o["limited"]
                    and o["a"] > rating * LABEL_ROUNDING / nominal + PPS_STEP):
                findings.append(["pps", "contradicts"])
    if is_pd and rating is not None:
        for over, to, top, to_15 in SPR_AVS:
            if not over < rating <= to:
                continue
            rows = [r for r in table.rows if r["kind"] == "spr-avs"]
            for row in rows:
                if row["voltage_max_v"] <= 15.01:
                    row["required_a"] = rating / 15 if to_15 is None else to_15
                elif top >= row["voltage_max_v"] - 0.01:
                    row["required_a"] = rating / 20
                row["result"] = outcome(row, CURRENT_SLACK)
            if objects and not rows:
                findings.append(["spr-avs", "note"])
        for over, to, top in EPR_AVS:
            if not over < rating <= to:
                continue
            row = table.row("epr-avs", 15.0, float(top))
            row["required_a"] = min(rating / top, 5.0)
            for row in table.rows:
                if row["kind"] == "epr-avs":
                    row["result"] = outcome(row, 1 / row["voltage_max_v"])
                    if row["result"] == "missing" and not objects:
                        row["result"] = "unknown"

    readings = readings_of(record, port["label"])
    for nominal, reading in readings:
        if reading["current_a"] is None:
            continue
        row = next((r for r in table.rows if r["kind"] == "fixed"
                    and abs(r["voltage_max_v"] - nominal) < 0.01), None) \
            or next((r for r in table.rows if r["voltage_min_v"] - 0.01 <= nominal
                     <= r["voltage_max_v"] + 0.01), None) \
            or table.row("fixed", nominal, nominal)
        if row["measured"] is None or row["measured"]["current_a"] < reading["current_a"]:
            row["measured"] = reading

    if is_pd:
        judged = [r["result"] for r in table.rows if r["kind"] in ("fixed", "epr-avs")]
        if rules is None:
            findings.append(["power-rules", "unknown"])
        elif "missing" in judged or "too-little" in judged:
            findings.append(["power-rules", "contradicts"])
        else:
            findings.append(["power-rules", "unknown" if "unknown" in judged else "agrees"])
        for row in table.rows:
            if row["kind"] != "fixed" or rating is None or offer(row) is None:
                continue
            volts = row["voltage_max_v"]
            highest = min(rating * LABEL_ROUNDING / volts, 5.0) + CURRENT_SLACK
            subject = "twelve-volt" if abs(volts - 12) < 0.01 else "current"
            if offer(row) > highest + 1e-9:
                findings.append([subject, "contradicts"])
            elif subject == "twelve-volt" or (
                    row["required_a"] is not None
                    and offer(row) > row["required_a"] + CURRENT_SLACK + 1e-9):
                findings.append([subject, "note"])
    if objects:
        if rating is not None and advertised_w is not None and rating_from != "list":
            if rating > 100 and not has_extended:
                findings.append(["rating", "unknown"])
            elif advertised_w * LABEL_ROUNDING < rating:
                findings.append(["rating", "contradicts"])
            else:
                findings.append(
                    ["rating", "note" if advertised_w > rating * LABEL_ROUNDING else "agrees"])
        if modes:
            differs = any(
                r["claimed_a"] is not None and (
                    r["claimed_a"] > r["advertised_a"] + 0.05 + 1e-9
                    if r["advertised_a"] is not None
                    else has_extended or r["voltage_max_v"] <= 21)
                for r in table.rows)
            findings.append(["label", "contradicts" if differs else "agrees"])
        if list_is_odd(objects):
            findings.append(["list", "contradicts"])
        if on_usb_a:
            findings.append(["connector", "note"])
        at, text, first = objects[0]
        if at == 1 and first["kind"] == "fixed" and bits(int(text, 16), 23, 23) == 0 \
                and has_extended:
            findings.append(["list", "contradicts"])
        # Flags of a fixed object are no part of what it offers.
        offered = [int(text, 16) & (0x003FFFFF if o["kind"] == "fixed" else 0xFFFFFFFF)
                   for _, text, o in objects]
        if len(set(offered)) < len(offered):
            findings.append(["list", "note"])
    elif port.get("source_capabilities"):
        findings.append(["list", "contradicts"])

    if not (objects or table.rows or readings or findings):
        return None
    cable = None
    if is_pd:
        # On offer, or asked for where what is on record does not tell.
        needs = [(r["voltage_max_v"], offer(r) if offer(r) is not None else r["required_a"])
                 for r in table.rows
                 if offer(r) is not None or r["result"] == "unknown"]
        if needs:
            volts, amperes = max(n[0] for n in needs), max(n[1] for n in needs)
            kind = next((c for c in CABLES if amperes <= c[0] + 1e-9 and volts <= c[1] + 1e-9),
                        None)
            if kind:
                cable = {"current_a": amperes, "voltage_v": volts, "emarker": kind[2]}
    connector = port.get("connector") or ("usb-c" if is_pd else None)
    windows = []
    for nominal in sorted({n for n, _ in readings}):
        window = window_of(connector, nominal)
        if window is None:
            continue
        here = [r for n, r in readings if abs(n - nominal) < 0.01]
        lowest, highest = (f(here, key=lambda r: r["voltage_v"]) for f in (min, max))
        edges = [(v - window[0], v, window[0]) for v in (lowest["voltage_v"], highest["voltage_v"])]
        edges += [(window[1] - v, v, window[1])
                  for v in (lowest["voltage_v"], highest["voltage_v"])]
        margin, volts, edge = min(edges, key=lambda e: e[0])
        u = uncertainty(record, "output_voltage_v", volts)
        windows.append({
            "voltage_v": nominal, "low_v": window[0], "high_v": window[1], "points": len(here),
            "lowest": lowest, "highest": highest, "margin_v": margin,
            "expanded_uncertainty_v": None if u is None else 2 * u,
            "risk": float(norm.cdf(margin / u)) if u else None,
            "result": verdict(margin, u, edge)})
    order = ("fixed", "pps", "spr-avs", "epr-avs")
    table.rows.sort(key=lambda r: (order.index(r["kind"]), r["voltage_max_v"],
                                   r["voltage_min_v"]))
    return {
        "port": port["label"], "rating_w": rating, "rating_from": rating_from,
        "advertised_power_w": advertised_w,
        "advertised": [{"position": at, "word": text, "kind": o["kind"],
                        "voltage_min_v": o["low"], "voltage_max_v": o["high"],
                        "current_a": o["a"]} for at, text, o in objects],
        "voltages": table.rows, "findings": sorted(findings), "cable": cable,
        "windows": windows}


def list_is_odd(objects):
    """5 V fixed first; fixed, battery, variable, augmented, each by rising voltage; standard
    objects in places 1 to 7 without holes, extended ones in 8 to 11."""
    at, _, first = objects[0]
    if not (at == 1 and first["kind"] == "fixed" and first["high"] == 5.0):
        return True
    rank = {"fixed": 0, "battery": 1, "variable": 2}
    for part in (range(1, 8), range(8, 1000)):
        here = [(at, o) for at, _, o in objects if at in part]
        ranks = [rank.get(o["kind"], 3) for _, o in here]
        if ranks != sorted(ranks):
            return True
        for kind in {o["kind"] for _, o in here}:
            # Only neighbours of a kind have an order among themselves.
            neighbours = [(a, b) for (_, a), (_, b) in zip(here, here[1:])
                          if a["kind"] == b["kind"] == kind]
            if any(a["high"] > b["high"] for a, b in neighbours):
                return True
        places = [at for at, _ in here]
        if places and places != list(range(places[0], places[0] + len(places))):
            return True
        extended = [o["kind"] == "epr-avs" or o["kind"] == "fixed" and o["high"] > 21
                    for _, o in here]
        if part[0] == 1 and any(extended) or part[0] == 8 and not all(extended):
            return True
    return objects[-1][0] > 11


# ---------------------------------------------------------------- sharing


def same_offer(a, b):
    volts = a.get("voltage_max_v"), b.get("voltage_max_v")
    return abs(a["power_w"] - b["power_w"]) <= 0.5 and (
        None in volts or abs(volts[0] - volts[1]) <= 0.1)


def rises(a, b):
    """More power, or a higher voltage at the same power."""
    more = b["power_w"] - a["power_w"]
    volts = a.get("voltage_max_v"), b.get("voltage_max_v")
    return more > 0.5 or more >= -0.5 and None not in volts and volts[1] - volts[0] > 0.1


def repeats(seen):
    """The same combination twice, and the ports that were offered something else."""
    for a, b in itertools.combinations(seen, 2):
        if a["use"] == b["use"]:
            differing = [p for p in a["order"] if p in a["use"] and p in a["offers"]
                         and p in b["offers"]
                         and not same_offer(a["offers"][p], b["offers"][p])]
            if differing:
                yield a, b, differing


def only_with_more(seen, kept):
    """No change with little in use, a change with the same or more: the first of each pair."""
    done = set()
    for p, between, small, large, changed in comparisons(seen):
        if not changed or len(between) != 1 or rises(small["offers"][p], large["offers"][p]):
            continue
        (q,) = between
        before = next((pair for pair in kept.get((p, q), [])
                       if pair[0]["use"] <= small["use"]), None)
        if before and (p, q) not in done:
            done.add((p, q))
            yield p, q, (*before, small, large)


def comparisons(seen):
    """Every two nested combinations, later one first in order: (smaller, larger) with what p is
    offered in both. Yields (p, ports between, smaller, larger, changed)."""
    for later in range(len(seen)):
        for earlier in range(later):
            small, large = seen[earlier], seen[later]
            if not small["use"] <= large["use"]:
                small, large = large, small
            between = large["use"] - small["use"]
            if not small["use"] < large["use"]:
                continue
            for p in sorted(small["use"], key=small["order"].index):
                if p in small["offers"] and p in large["offers"]:
                    yield (p, between, small, large,
                           not same_offer(small["offers"][p], large["offers"][p]))


def sharing_figures(record):
    observations = record.get("sharing", [])
    if not observations:
        return None
    order = [p["label"] for p in record["unit"]["ports"]]
    seen = []
    for at, s in enumerate(observations):
        use = frozenset(p for p in s["ports_in_use"] if p in order)
        new = s.get("attached")
        seen.append({"at": at, "use": use, "new": new if new in order else None, "order": order, "raw": s,
                     "offers": {o["port"]: o for o in s.get("offers", [])
                                if o["port"] in order}})
    every = frozenset(order)
    alone = {}
    for o in seen:
        if len(o["use"]) == 1:
            (p,) = o["use"]
            if p not in alone:
                alone[p] = o["offers"].get(p)
    combinations = []
    for o in seen:
        raw = o["raw"]
        offers = [o["offers"][p] for p in order if p in o["use"] and p in o["offers"]]
        whole = o["use"] and all(p in o["offers"] for p in o["use"])
        combinations.append({
            "observation": o["at"], "ports": raw["ports_in_use"],
            "offers": [{"port": x["port"], "power_w": x["power_w"],
                        "voltage_max_v": x.get("voltage_max_v"),
                        "change_w": x["power_w"] - alone[x["port"]]["power_w"]
                        if alone.get(x["port"]) else None} for x in offers],
            "total_w": sum(x["power_w"] for x in offers) if whole else None,
            **{key: raw.get(key) for key in (
                "delivered_power_w", "attached", "on_attach", "on_detach", "reset_ports",
                "interruption_ms", "lowest_voltage_v", "note")}})

    # Who changes whom, and the first two observations that show it.
    first_change, kept = {}, {}
    several, risen = [], {}
    for p, between, small, large, changed in comparisons(seen):
        if changed and rises(small["offers"][p], large["offers"][p]):
            # No sharing raises an offer: nothing is learnt but that one of the two is wrong.
            risen.setdefault((p, frozenset(between)), (small, large))
        elif changed and len(between) == 1:
            (q,) = between
            first_change.setdefault((p, q), (small, large))
        elif changed:
            several.append((p, between))
        else:
            for q in between:
                kept.setdefault((p, q), []).append((small, large))
    group = {p: {p} for p in order}
    for p, q in first_change:
        joined = group[p] | group[q]
        for member in joined:
            group[member] = joined
    offered = [p for p in order if any(p in o["use"] and p in o["offers"] for o in seen)]

    def known(p, q):
        """One group, or each left the other's offer as it was up to all ports together."""
        return q in group[p] or all(
            any(large["use"] == every for _, large in kept.get(pair, []))
            for pair in ((p, q), (q, p)))

    unexplained = [1 for p, between in several if not between & group[p]]
    # Ports that share may be offered something else in another order of attaching.
    disputed = bool(risen) or any(
        at[0]["use"] == at[2]["use"] for _, _, at in only_with_more(seen, kept)) or any(
        not (None not in (a["new"], b["new"]) and a["new"] != b["new"]
             and all((group[p] - {p}) & a["use"] for p in differing))
        for a, b, differing in repeats(seen))
    settled = (bool(offered) and not disputed
               and len(offered) == len(order) and not unexplained
               and all(known(p, q) for p, q in itertools.combinations(order, 2)))
    groups = []
    for p in offered:
        members = [q for q in order if q in group[p] and q in offered]
        if members[0] != p:
            continue
        evidence = [
            {"port": a, "by": b, "without": pair[0]["at"], "with": pair[1]["at"],
             "from_w": pair[0]["offers"][a]["power_w"], "to_w": pair[1]["offers"][a]["power_w"]}
            for a in members for b in members
            for pair in [first_change.get((a, b))] if pair]
        groups.append({"ports": members, "evidence": evidence,
                       "unknown": [q for q in order if q not in members
                                   and any(not known(m, q) for m in members)]})

    conflicts = contradictions(record, order, seen, combinations, group, known, settled, kept)
    for (p, between), (small, large) in risen.items():
        conflicts.append(("rise", f"{small['at']} {large['at']}",
                          (p, *(q for q in order if q in between))))
    observed = {o["use"] for o in seen if o["use"] and all(p in o["offers"] for p in o["use"])}
    untested = []
    if 2 <= len(order) <= 8:
        untested = [frozenset(c) for n in range(1, len(order) + 1)
                    for c in itertools.combinations(order, n) if frozenset(c) not in observed]
    totals = [c["total_w"] for c in combinations if c["total_w"] is not None]
    delivered = [c["delivered_power_w"] for c in combinations
                 if c["delivered_power_w"] is not None]
    return {
        "combinations": combinations, "groups": groups, "settled": settled,
        **({"disputed": True} if disputed else {}),
        "offered_max_w": max(totals, default=None),
        "delivered_max_w": max(delivered, default=None),
        "contradictions": sorted(conflicts),
        # A document lists 32 at most.
        "untested": sorted(sorted(u) for u in untested) if len(untested) < 32 else "many"}


def contradictions(record, order, seen, combinations, group, known, settled, kept):
    """(kind, observations, ports) of all that does not fit together."""
    found = []
    unit = record["unit"]
    ports = {p["label"]: p for p in unit["ports"]}
    for p, q, at in only_with_more(seen, kept):
        found.append(("groups", " ".join(str(o["at"]) for o in at), (p, q)))
    for a, b, differing in repeats(seen):
        found.append(("repeat", f"{a['at']} {b['at']}", tuple(differing)))
    plate = unit["nameplate"]["output_power_w"]
    for c, o in zip(combinations, seen):
        at, raw = str(c["observation"]), o["raw"]
        if c["total_w"] is not None and c["total_w"] > plate * LABEL_ROUNDING:
            found.append(("nameplate", at, tuple(raw["ports_in_use"])))
        for offer in c["offers"]:
            port = ports[offer["port"]]
            if port.get("power_w") is not None \
                    and offer["power_w"] > port["power_w"] * LABEL_ROUNDING:
                found.append(("port-power", at, (offer["port"],)))
            if port.get("connector") == "usb-c" and offer["power_w"] < 7.5 - 1e-9:
                found.append(("least-offer", at, (offer["port"],)))
        if None not in (c["delivered_power_w"], c["total_w"]) \
                and c["delivered_power_w"] > c["total_w"] * LABEL_ROUNDING:
            found.append(("delivered", at, tuple(raw["ports_in_use"])))
        if c["delivered_power_w"] is not None and c["delivered_power_w"] > plate * LABEL_ROUNDING:
            found.append(("nameplate", at, tuple(raw["ports_in_use"])))
        new = raw.get("attached")
        noted = {raw.get("on_attach"), raw.get("on_detach")}
        if "held" in noted and not noted & {"reset", "lost"}:
            others = [p for p in raw.get("reset_ports") or [] if p != new]
            # vSafe0V: no output.
            if others or (raw.get("interruption_ms") or 0) > 0 \
                    or raw.get("lowest_voltage_v") is not None and raw["lowest_voltage_v"] <= 0.8:
                found.append(("held", at, tuple(others or raw["ports_in_use"])))
        for p in raw.get("reset_ports") or []:
            if new in ports and p in ports and p != new and new not in group[p] and known(p, new):
                found.append(("disturbance", at, (p, new)))
    for q, p in ((order[j], order[i]) for j in range(len(order)) for i in range(j)):
        labelled = ports[p].get("share_group"), ports[q].get("share_group")
        if None in labelled:
            continue
        shared = q in group[p]
        if labelled[0] == labelled[1] and not shared and known(p, q) and settled \
                or labelled[0] != labelled[1] and shared:
            found.append(("label", "", (p, q)))
    return found


# ---------------------------------------------------------------- overload


def state_of(step, nominal, least):
    """As the tester saw it, else: nothing flows, less than asked, or what was asked."""
    if step.get("state"):
        return step["state"]
    volts, amperes, asked = step.get("voltage_v"), step.get("current_a"), step["set_current_a"]
    if volts is None and amperes is None:
        return None
    if volts is not None and volts <= 0.1 * (5.0 if nominal is None else nominal) \
            and (amperes is None or amperes <= 0.1 * asked):
        return "off"
    short = amperes is not None and amperes < 0.98 * asked
    sags = None not in (volts, least) and volts < least
    return "limited" if short or sags else "on"


def granted(o, volts, watts):
    """What an adjustable offer grants at a voltage: a list of nothing or of currents."""
    if not o["low"] - 1e-9 <= volts <= o["high"] + 1e-9:
        return []
    if o["kind"] == "pps" and o["limited"]:
        return [] if watts is None else [min(o["a"], watts / volts)]
    if o["kind"] == "epr-avs":
        return [min(o["w"] / volts, 5.0)]
    if o["kind"] in ("pps", "spr-avs"):
        return [a for _, low, high, a in offers_of(o) if low - 1e-9 <= volts <= high + 1e-9]
    return []


def carried(step):
    """What flowed of a delivered step; where that was not read, what was asked for."""
    return step["set_current_a"] if step.get("current_a") is None else step["current_a"]


def overload_figures(record, at, test):
    label, nominal = test["port"], test.get("voltage_v")
    nominal = nominal if nominal else None
    port = next((p for p in record["unit"].get("ports", []) if p["label"] == label), {})
    steps = test.get("steps", [])
    least = None
    if nominal is not None:
        window = window_of(port.get("connector"), nominal)
        least = window[0] if window else 0.95 * nominal
    rated, rated_from = test.get("rated_current_a"), "record"
    if rated is None and nominal is not None:
        near = lambda v: abs(v - nominal) <= 0.05 * nominal
        objects = [decoded(int(w, 16)) for w in port.get("source_capabilities", [])
                   if int(w, 16)]
        inside = lambda low, high: low - 1e-9 <= nominal <= high + 1e-9
        claims = list(map(claims_of, port.get("modes", [])))
        ways = [
            ("list", [o["a"] for o in objects if o["kind"] == "fixed" and near(o["high"])]),
            ("list", [a for o in objects for a in granted(o, nominal, port.get("power_w"))]),
            ("label", [a for _, low, high, a in claims if near(low) and near(high)]),
            ("label", [a for _, low, high, a in claims if inside(low, high)])]
        rated, rated_from = next(((max(found), way) for way, found in ways if found),
                                 (None, None))
    if rated is None or rated <= 0:
        rated, rated_from = None, None
    states = [(s, state_of(s, nominal, least)) for s in steps]
    states = [(s, state) for s, state in states if state is not None]

    def is_good(s, state):
        return state == "on" and not (
            None not in (s.get("voltage_v"), least) and s["voltage_v"] < least)

    flowing = states
    asleep = bool(states) and states[0][0]["set_current_a"] == 0 and states[0][1] == "off"
    states = [] if asleep else [x for x in states if x[0]["set_current_a"] > 0 or is_good(*x)]
    good = [s for s, _ in itertools.takewhile(lambda x: is_good(*x), states)]
    rest = states[len(good):]
    every_good = [s for s, state in states if is_good(s, state)]
    crossed = bool(rest) and any(
        s["set_current_a"] > rest[0][0]["set_current_a"] + 1e-9 for s in every_good)
    taken = lambda s: s["current_a"] if s.get("current_a") is not None \
        and s["current_a"] < 0.98 * s["set_current_a"] else s["set_current_a"]
    limited = [s["current_a"] for s, state in rest
               if state == "limited" and s.get("current_a") is not None]
    instrument = lambda a: uncertainty(record, "output_current_a", a)
    trip, trip_from, trip_u = None, None, None
    first_bad = rest[0][0]["set_current_a"] if rest else None
    # A limit holds at least what flowed before; a current that has fallen back is none.
    flowed_before = None
    if good:
        flowed_before = carried(good[-1])
    held = max(limited) if limited else None
    if held is not None and flowed_before is not None:
        held = max(held, flowed_before) if held >= 0.98 * flowed_before else None
    if test.get("trip_current_a") is not None:
        trip, trip_from = test["trip_current_a"], "record"
        trip_u = instrument(trip)
    elif crossed:
        pass
    elif held is not None:
        trip, trip_from = held, "limited"
        trip_u = instrument(trip)
    elif rest:
        trip, trip_from = first_bad, "steps"
        if good:
            # The true current lies anywhere between the two steps: a rectangle about its middle.
            trip = (taken(good[-1]) + first_bad) / 2
            width = abs(first_bad - taken(good[-1]))
            trip_u = in_quadrature(instrument(trip), width / 2 / math.sqrt(3))
    last = good[-1] if good else None
    last_power = None
    if last and None not in (last.get("voltage_v"), last.get("current_a")):
        last_power = last["voltage_v"] * last["current_a"]
    good_power = test["last_good_power_w"] if test.get("last_good_power_w") is not None \
        else last_power

    reached = max(map(taken, good), default=None)
    whole = rated is not None and any(
        s["set_current_a"] >= rated - 1e-9 and taken(s) == s["set_current_a"]
        or s.get("current_a") is not None and s["current_a"] >= rated - 1e-9 for s in every_good)
    inside = rated is not None and first_bad is not None and first_bad <= rated + 1e-9
    if rated is None or asleep:
        delivery = "not-assessed"
    elif inside:
        delivery = "conditional-fail" if whole else "fail"
    elif whole:
        doubted = crossed or trip_from == "record" and trip < rated - 1e-9
        delivery = "conditional-pass" if doubted else "pass"
    elif trip is None:
        delivery = "not-assessed"
    elif trip_from != "record" and reached is None:
        # Only steps above the rating were tried, and none was delivered.
        delivery = "not-assessed"
    elif trip_from == "steps":
        delivery = "conditional-pass" if trip >= rated - 1e-9 else "conditional-fail"
    elif abs(trip - rated) <= 1e-9:
        delivery = "fail"
    else:
        delivery = {"within": "pass", "within-by-less-than-uncertainty": "conditional-pass",
                    "outside-by-less-than-uncertainty": "conditional-fail", "outside": "fail"}[
                        verdict(trip - rated, trip_u, rated)]

    shown = None
    after = [state for _, state in rest]
    if "cycling" in after:
        shown = "hiccup"
    elif limited:
        flowed = limited + [s["current_a"] for s in good if s.get("current_a") is not None]
        shown = "constant-current" if limited[-1] >= 0.8 * max(flowed) else "foldback"
    elif "off" in after:
        shown = "shut-off"
    protection = test.get("protection") or shown
    odd = 0
    if test.get("protection") and shown and test["protection"] != shown:
        odd += 1
    odd += crossed
    stated, doubted = test.get("trip_current_a"), False
    if stated is not None:
        if asleep:
            doubted = True
        elif rest:
            doubted = stated > 1.01 * first_bad or bool(good) and stated < 0.99 * taken(good[-1])
        elif every_good:
            doubted = stated < 0.99 * max(map(carried, every_good))
    odd += doubted
    margin = None
    if trip is not None and rated is not None and not doubted \
            and math.isfinite(trip / rated):
        margin = 100 * (trip / rated - 1)
    return {
        "overload": at, "port": label, "voltage_v": test.get("voltage_v"), "rated_current_a": rated,
        "rated_from": rated_from,
        "last_good": last and {"set_current_a": last["set_current_a"],
                               "current_a": last.get("current_a"),
                               "voltage_v": last.get("voltage_v"), "power_w": last_power},
        "last_good_power_w": good_power, "trip_current_a": trip, "trip_from": trip_from,
        "trip_u": trip_u, "trip_margin_percent": margin,
        "held_current_a": max(map(carried, every_good), default=None),
        "highest_set_current_a": max((s["set_current_a"] for s in steps), default=None),
        "delivery": delivery, "protection": protection,
        "protection_from": protection and ("seen" if test.get("protection") else "steps"),
        "recovery": test.get("recovery"), "recovery_s": test.get("recovery_s"),
        "other_ports": test.get("other_ports"),
        "short_circuit_input_power_w": test.get("short_circuit_input_power_w"),
        "line_voltage_v": test.get("line_voltage_v"),
        "screening": screened(
            record, test, flowing, None if asleep else (
                trip if trip_from in ("record", "limited") else
                next((s["set_current_a"] for s, state in rest if state != "on"), None)
                if trip is not None else None)),
        "contradictions": odd}


def screened(record, test, states, let_go):
    """The largest current and power on record against the limited-power and class figures; within
    is only what stays so up to where the port let go."""
    volts = [s["voltage_v"] for s in test.get("steps", []) if s.get("voltage_v") is not None]
    if test.get("voltage_v") is not None:
        volts.append(test["voltage_v"])
    highest = max(volts, default=0)
    flowed = [(s.get("voltage_v"), carried(s)) for s, state in states
              if state == "on" or state == "limited" and s.get("current_a") is not None]
    if highest <= 0:
        return None
    power, power_u = None, None
    both = [(v, i) for v, i in flowed if v is not None]
    if both:
        v, i = max(both, key=lambda x: x[0] * x[1])
        u_v, u_i = uncertainty(record, "output_voltage_v", v), \
            uncertainty(record, "output_current_a", i)
        power, power_u = v * i, None if None in (u_v, u_i) else math.hypot(u_v * i, u_i * v)
    last = test.get("last_good_power_w")
    if last is not None and (power is None or last > power):
        power, power_u = last, None
    if power is None:
        return None
    seen = [i for _, i in flowed]
    if test.get("trip_current_a") is not None:
        seen.append(test["trip_current_a"])
    current = max(seen, default=power / highest)
    current_u = uncertainty(record, "output_current_a", current)
    most_a = math.inf if let_go is None else max(let_go, current)
    most_w = max(power, most_a * highest)

    def shown(figure, most):
        if figure["result"].startswith("within") and most > figure["limit"] * (1 + 1e-12):
            figure.update(result="not-shown", risk=None)
        return figure

    figures, limited = [], None
    for over, to, amperes, va in LIMITED:
        if over < highest <= to:
            pair = [shown(at_most("A", current, current_u, amperes(highest)), most_a),
                    shown(at_most("VA", power, power_u, va), most_w)]
            kinds = {f["result"].split("-")[0] for f in pair}
            limited = False if "outside" in kinds else None if "not" in kinds else True
            figures += pair
    figures += [shown(at_most("W", power, power_u, watts), most_w) for _, watts in CLASSES]
    class_of = lambda w: next((name for name, watts in CLASSES if w <= watts), "PS3")
    firm = class_of(power) == class_of(most_w)
    return {"open_circuit_v": highest, "current_a": current, "power_w": power,
            "indicated_class": class_of(power) if firm else None,
            "within_limited_power": limited, "figures": figures}


# ---------------------------------------------------------------- heat


def warming(minutes, final, amplitude, constant):
    return final + amplitude * numpy.exp(-minutes / constant)


def slopes(minutes, final, amplitude, constant):
    decay = numpy.exp(-minutes / constant)
    return numpy.column_stack(
        [numpy.ones_like(minutes), decay, amplitude * minutes / constant**2 * decay])


def fitted(minutes, rises):
    """First-order warming by least squares; None with under four readings, without an interior
    best time constant between a fiftieth and five times the span."""
    if len(minutes) < 4 or minutes[-1] <= minutes[0] or max(rises) == min(rises):
        return None
    t, y = numpy.array(minutes) - minutes[0], numpy.array(rises)
    span = t[-1]

    def linear_at(constant):
        matrix = numpy.column_stack([numpy.ones_like(t), numpy.exp(-t / constant)])
        if numpy.linalg.cond(matrix) > 1e7:
            return None, math.inf
        (final, amplitude), *_ = numpy.linalg.lstsq(matrix, y, rcond=None)
        return (final, amplitude), float(
            numpy.sum((y - final - amplitude * matrix[:, 1]) ** 2))

    constants = numpy.geomspace(span / 50, span * 5, 801)
    rests = [linear_at(c)[1] for c in constants]
    at = int(numpy.argmin(rests))
    if not math.isfinite(rests[at]) or at < 2 or at > len(constants) - 3:
        return None
    (final, amplitude), _ = linear_at(constants[at])
    try:
        best, shape = curve_fit(warming, t, y, p0=(final, amplitude, constants[at]), jac=slopes,
                                sigma=numpy.ones_like(y), absolute_sigma=True,
                                xtol=1e-14, ftol=1e-14, gtol=1e-14, maxfev=20000)
    except RuntimeError:
        return None
    if not numpy.all(numpy.isfinite(shape)):
        return None
    rest = float(numpy.sum((y - warming(t, *best)) ** 2))
    free = len(y) - 3
    scatter = max(rest / free if free else 0.0, 0.1**2 / 12)  # at least the display's 0.1 K
    return {"final_rise_k": float(best[0]), "amplitude_k": float(best[1]),
            "time_constant_min": float(best[2]),
            "final_rise_u": math.sqrt(shape[0, 0] * scatter), "degrees_of_freedom": free,
            "coverage_factor": float(student.ppf(0.975, free)),
            "rms_residual_k": math.sqrt(rest / len(y))} if free else None


def change_in_10_min(course):
    """Largest change to the end, per 10 min, since the latest reading 10 to 15 min before it."""
    if not course:
        return None
    end, last = course[-1]
    starts = [t for t, _ in course if end - t >= 10 - 1e-9]
    if not starts:
        return None
    start = max(starts)
    if end - start > 15 + 1e-9:  # says nothing of the end
        return None
    changes = [(last - y) * 10 / (end - start) for t, y in course if t >= start]
    return max(reversed(changes), key=abs)


def heat_figures(record):
    groups = {}
    for at, entry in enumerate(record.get("temperatures", [])):
        key = tuple(entry.get(k) for k in ("where", "load_w", "material"))
        groups.setdefault(key, []).append((at, entry))
    series = []
    for key, entries in groups.items():
        timed = [x for x in entries if x[1].get("minutes") is not None]
        if len({x[1]["minutes"] for x in timed}) == len(timed):
            # No minute twice: one course, in whatever order it was entered.
            pieces = [[x] for x in entries if x not in timed]
            pieces += [sorted(timed, key=lambda x: x[1]["minutes"])] if timed else []
        else:
            pieces = []
            for x in entries:
                before = pieces[-1][-1][1].get("minutes") if pieces else None
                now = x[1].get("minutes")
                if None not in (before, now) and now > before:
                    pieces[-1].append(x)
                else:
                    pieces.append([x])
        series += [{"key": key, "entries": piece} for piece in pieces]
    series.sort(key=lambda s: min(at for at, _ in s["entries"]))
    found = []
    for s in series:
        for quantity, name in (("hot-spot", "hot_spot_c"), ("surface", "surface_c")):
            readings = [(at, e) for at, e in s["entries"] if e.get(name) is not None]
            if readings:
                found.append(one_series(record, quantity, name, s["key"], readings))
    return found


def one_series(record, quantity, name, key, readings):
    place, load, noted = key
    material = {"metal": "metal", "glass": "glass_porcelain", "wood": "wood"}.get(
        noted, "plastic_rubber")
    entries = [e for _, e in readings]
    last = entries[-1]
    ambient = last.get("ambient_c")
    whole = all(None not in (e.get("minutes"), e.get("ambient_c")) for e in entries)
    course = [(e["minutes"], e[name] - (e["ambient_c"] if whole else 0.0))
              for e in entries if e.get("minutes") is not None]
    rate = change_in_10_min(course)
    fit = fitted([t for t, _ in course], [y for _, y in course]) if whole else None
    warms = bool(fit) and fit["amplitude_k"] < 0
    tells = warms and course[-1][0] - course[0][0] >= fit["time_constant_min"]
    gap = fit["final_rise_k"] - course[-1][1] if warms else 0.0
    if warms and gap <= fit["coverage_factor"] * fit["final_rise_u"]:
        gap = 0.0
    gap = max(gap, 0.0)
    if rate is not None and abs(rate) < 1 and gap < 1:
        state = "steady"
    elif tells:
        state = "extrapolated"
    else:
        state = "unknown" if rate is None else "changing"
    celsius, rise, course_part = last[name], None, gap / 2 if state == "steady" else 0.0
    if ambient is not None:
        rise = last[name] - ambient
    if state == "extrapolated":
        rise = fit["final_rise_k"]
        celsius = ambient + rise
        course_part = fit["coverage_factor"] * fit["final_rise_u"] / 2

    def thermometer(hot, room):
        return in_quadrature(uncertainty(record, "temperature_c", hot),
                             uncertainty(record, "temperature_c", room))

    reference, u, rows = None, None, []
    if ambient is not None:
        reference = celsius - ambient + 25
        u = in_quadrature(thermometer(celsius, ambient), course_part)
    known = u if u is not None else course_part or None
    is_settled = state in ("steady", "extrapolated") and ambient is not None \
        and 20 <= ambient <= 30
    shifted = [(e[name] - e["ambient_c"] + 25, at, e) for at, e in readings
               if e.get("ambient_c") is not None and 20 <= e["ambient_c"] <= 30]
    peak, value, value_u = None, None, None
    if is_settled:
        value, value_u = reference, known
    elif ambient is not None and 20 <= ambient <= 30:
        value, value_u = reference, u
    if shifted:
        top, at, hottest = max(reversed(shifted), key=lambda x: x[0])
        if is_settled:
            band = 2 * (known or 0.0)
            over = top - reference
            if over > max(band if state == "steady" else 0.0, 0.1) + 1e-9:
                peak, value = (at, hottest), top
                if over > band:
                    value_u = thermometer(hottest[name], hottest["ambient_c"])
        elif hottest is not last:
            peak, value = (at, hottest), top
            value_u = thermometer(hottest[name], hottest["ambient_c"])
    for row, limits in TOUCH.items() if value is not None else ():
        ts1 = at_most("°C", value, value_u, limits[material])
        ts2 = at_most("°C", value, value_u, limits[material] + 10)
        # What has not settled can only be said to be outside already.
        if is_settled or ts1["result"].startswith("outside"):
            over = (value > limits[material]) + (value > limits[material] + 10)
            rows.append({"row": row, "usual": row == "occasional", "comfort": row == "held",
                         "class": f"TS{1 + over}", "ts1": ts1, "ts2": ts2})

    def as_reading(at, e):
        return {"temperature": at, "minutes": e.get("minutes"), "temperature_c": e[name],
                "ambient_c": e.get("ambient_c")}

    largest_rise = peak[1][name] - peak[1]["ambient_c"] if peak else rise
    highest = record["unit"]["nameplate"].get("max_ambient_c")
    return {
        "quantity": quantity, "place": place, "load_w": load, "material": material,
        "material_noted": noted is not None,
        "readings": [as_reading(at, e) for at, e in readings],
        "state": state, "change_k_per_10_min": rate, "fit": fit, "temperature_c": celsius,
        "ambient_c": ambient, "rise_k": rise, "at_reference_c": reference, "at_reference_u": u,
        "peak": as_reading(*peak) if peak else None,
        "compared_c": value if is_settled else None,
        "compared_u": value_u if is_settled else None,
        "at_max_ambient_c": None if None in (largest_rise, highest) else largest_rise + highest,
        "rows": rows}


# ---------------------------------------------------------------- the rest


UNITS = {"mv": "mV", "percent": "%", "ms": "ms", "a": "A", "ua": "µA", "dba": "dB(A)"}


def is_phone_charger(unit):
    """One port of 5 V within 0.25 V and 0.5 A to 1.5 A, by all that its label and list say."""
    if len(unit.get("ports", [])) != 1:
        return False
    port = unit["ports"][0]
    offers = [claims_of(m) for m in port.get("modes", [])]
    for o in (decoded(int(w, 16)) for w in port.get("source_capabilities", []) if int(w, 16)):
        offers.append((o["kind"], o["low"], o["high"], o["a"]))
    watts = [w for w in (unit["nameplate"]["output_power_w"], port.get("power_w"))
             if w is not None]
    return bool(offers) and max(watts) <= 5.25 * 1.5 and all(
        kind == "fixed" and 4.75 <= high <= 5.25 and 0.5 <= a <= 1.5
        for kind, _, high, a in offers)


def measurement_figures(at, m, phone_charger):
    u = None if m.get("accuracy") is None else m["accuracy"] / math.sqrt(3)
    figure = None
    if not phone_charger:
        pass
    elif m["quantity"] == "ripple_mv" and m.get("voltage_v") is not None \
            and abs(m["voltage_v"] - 5) < 0.01:
        figure = at_most("mV", m["value"], u, 80)
    elif m["quantity"] == "touch_current_ua":
        figure = at_most("µA", m["value"], u, 90)
    return {"measurement": at, "quantity": m["quantity"],
            "unit": UNITS[m["quantity"].rsplit("_", 1)[1]], "value": m["value"], "u": u,
            "figure": figure,
            **{key: m.get(key) for key in ("port", "voltage_v", "load_percent",
                                           "line_voltage_v", "note")}}


def build_figures(unit):
    size, grams = unit.get("size_mm"), (unit.get("mass_g") or {}).get("adapter")
    volume = math.prod(size) / 1000 if size and math.prod(size) > 0 else None
    grams = grams if grams else None
    if volume is None and grams is None:
        return None
    watts = unit["nameplate"]["output_power_w"]
    return {"volume_cm3": volume,
            "power_density_w_per_cm3": None if volume is None else watts / volume,
            "mass_g": grams, "specific_power_w_per_g": None if grams is None else watts / grams}


def figures(record):
    unit = record["unit"]
    ports = (port_figures(record, p) for p in unit.get("ports", []))
    return {
        "ports": [p for p in ports if p is not None],
        "sharing": sharing_figures(record),
        "overloads": [overload_figures(record, at, o)
                      for at, o in enumerate(record.get("overloads", []))],
        "heat": heat_figures(record),
        "measurements": [measurement_figures(at, m, is_phone_charger(unit))
                         for at, m in enumerate(record.get("measurements", []))],
        "build": build_figures(unit)}


# ---------------------------------------------------------------- the program's document

# Sentences for readers, and names and sources that the tables say word for word.
SENTENCES = {"not_shown", "message", "source", "state_why", "protection_why", "delivery_reason", "statement",
             "why", "remark", "cautions", "text", "duration"}
# Left out of a document where there is nothing to say.
EMPTY = {"advertised": [], "voltages": [], "findings": [], "windows": [], "cable": None,
         "contradictions": [], "untested": [], "fit": None, "rows": [], "peak": None,
         "compared_c": None, "compared_u": None}
SHAPES = {
    "ports": ("advertised", "voltages", "findings", "windows", "cable"),
    "sharing": ("contradictions", "untested"),
    "overloads": ("contradictions",), "heat": ("fit", "rows", "peak", "compared_c", "compared_u")}


def bare(node):
    """Without sentences, names and sources."""
    if isinstance(node, list):
        return [bare(x) for x in node]
    if not isinstance(node, dict):
        return node
    return {key: bare(x) for key, x in node.items()
            if key not in SENTENCES and not (key in ("figure", "name") and isinstance(x, str))}


def of_document(document):
    """The same figures of the program's document."""
    found = {}
    for section in SECTIONS:
        whole = document.get(section, [] if section not in ("sharing", "build") else None)
        items = whole if isinstance(whole, list) else [whole] if whole else []
        shaped = []
        for item in items:
            # Contradictions of overloads are sentences alone: how many is what counts.
            shape = dict(item)
            for key in SHAPES.get(section, ()):
                shape.setdefault(key, EMPTY[key])
            if section == "overloads":
                shape["contradictions"] = len(shape["contradictions"])
            if section == "sharing":
                shape["contradictions"] = sorted(
                    (c["kind"], " ".join(map(str, c["observations"])), tuple(c["ports"]))
                    for c in shape["contradictions"])
                sets = [sorted(u["ports"]) for u in shape["untested"]]
                shape["untested"] = sorted(sets) if len(sets) < 32 else "many"
            shape = bare(shape)
            if section == "ports":
                shape["findings"] = sorted([f["subject"], f["result"]] for f in shape["findings"])
            shaped.append(shape)
        found[section] = shaped if isinstance(whole, list) else (shaped[0] if shaped else None)
    return found
