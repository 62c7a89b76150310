#!/usr/bin/env python3
"""An independent second evaluation of bench records.

    cross_check.py BRICKBOOK RECORD.json...

Evaluates every record again from the published rules, with reference libraries instead of the
program's own code (scipy's non-negative least squares and normal distribution, the
`uncertainties` package for propagation), runs `BRICKBOOK evaluate RECORD.json` and compares the
two documents figure by figure. It shares nothing with the program but the tables of limits in
`src/standards/`, which are data. A figure of the program that this file does not know is a
failure too, so that nothing new goes unchecked.

With demo records from `seed-data/` and the odd situations that `odd_records.py` makes of them it
is a stage of `tests/all.sh`.

Exit code 0: all agree. 1: differences, listed one a line. 2: could not run.
"""

import json
import math
import subprocess
import sys
import tomllib
from pathlib import Path

import bench_report
import numpy
from scipy.optimize import nnls
from scipy.stats import norm
from uncertainties import correlated_values_norm, ufloat

STANDARDS = Path(__file__).resolve().parents[2] / "src" / "standards"
RELATIVE_TOLERANCE = 1e-9
LOSS_MODEL_TOLERANCE = 1e-6
# Below this two figures are both nothing: a probability in the far tail, a rounding residue.
ABSOLUTE_TOLERANCE = 1e-13


# A smaller one is no reading of an adapter under load: nothing is divided by it.
LEAST_POWER_FACTOR = 1e-6


def load_toml(path):
    with open(path, "rb") as file:
        return tomllib.load(file)


PROCEDURE = load_toml(STANDARDS / "procedure.toml")
FORMULA = load_toml(STANDARDS / "score.toml")
CLASSES = load_toml(STANDARDS / "classes.toml")["classes"]
USB_PD = load_toml(STANDARDS / "usb_pd.toml")
LOAD_POINTS = PROCEDURE["load_points"]
AVERAGE_LOADS = LOAD_POINTS["average_percents"]
REGIMES = sorted(
    (load_toml(path) for path in (STANDARDS / "tables").glob("*.toml")), key=lambda r: r["order"]
)
REGIME = {regime["id"]: regime for regime in REGIMES}


# ---------------------------------------------------------------- uncertainty


def standard_uncertainty(record, quantity, reading):
    """u = a / sqrt(3) of the smallest range that holds the reading; None without such a row."""
    best = None
    for row in record.get("instruments", []):
        if row["quantity"] != quantity:
            continue
        full_scale = row.get("range")
        size = math.inf if full_scale is None else full_scale
        # Of equal ranges the last row applies.
        if abs(reading) <= size and (best is None or size <= best[0]):
            half_width = (
                row.get("reading_percent", 0) / 100 * abs(reading)
                + row.get("range_percent", 0) / 100 * (full_scale or 0)
                + row.get("fixed", 0)
            )
            best = (size, half_width / math.sqrt(3))
    return None if best is None else best[1]


class Bench:
    """Turns readings into values with uncertainty; within one point the channels (quantity and
    port) are independent."""

    def __init__(self, record):
        self.record = record
        self.errors = {}

    def read(self, quantity, reading, channel=""):
        """(value with uncertainty or None where that is unknown, plain value or None)."""
        if reading is None:
            return None
        u = standard_uncertainty(self.record, quantity, reading)
        if u is None:
            return Quantity(reading, None)
        error = self.errors.setdefault((quantity, channel), ufloat(0, 1))
        return Quantity(reading, reading + u * error)


class Quantity:
    """A figure `n` and, where its uncertainty is known, the same as a `uncertainties` object."""

    def __init__(self, n, full):
        self.n = n
        self.full = full

    @property
    def u(self):
        if self.full is None:
            return None
        return getattr(self.full, "std_dev", 0.0)


def combine(function, *quantities):
    """function(quantities), with uncertainty where all of them have one. None if one is None."""
    if any(q is None for q in quantities):
        return None
    n = function(*(q.n for q in quantities))
    if any(q.full is None for q in quantities):
        return Quantity(n, None)
    return Quantity(n, function(*(q.full for q in quantities)))


def mean_at_full_correlation(quantities):
    """Mean of figures whose errors all move together (correlation 1 between any two)."""
    n = sum(q.n for q in quantities) / len(quantities)
    if any(q.u is None for q in quantities):
        return Quantity(n, None)
    if any(q.u == 0 for q in quantities):  # no correlation matrix then: the u add up as they are
        return Quantity(n, n + sum(q.u for q in quantities) / len(quantities) * ufloat(0, 1))
    together = correlated_values_norm(
        [(q.n, q.u) for q in quantities], numpy.ones((len(quantities), len(quantities))))
    return Quantity(n, sum(together) / len(together))


def value(quantity):
    return None if quantity is None else quantity.n


def u_of(quantity):
    return None if quantity is None else quantity.u


# ---------------------------------------------------------------- the unit


def mode_voltages(mode):
    if mode["kind"] == "fixed":
        return mode["voltage_v"], mode["voltage_v"]
    return mode["voltage_min_v"], mode["voltage_max_v"]


def negotiates(port):
    modes = port.get("modes", [])
    if any(mode["kind"] != "fixed" for mode in modes):
        return True
    return len({mode["voltage_v"] for mode in modes}) > 1


def is_adaptive(unit):
    return any(negotiates(port) for port in unit.get("ports", []))


def is_multiple(unit):
    """Can the unit deliver different voltages at different ports at the same time?"""
    ports = [p for p in unit.get("ports", []) if p.get("modes")]
    if len(ports) < 2:
        return False
    if any(negotiates(port) for port in ports):
        return True
    return len({port["modes"][0]["voltage_v"] for port in ports}) > 1


def class_of(watts):
    for row in CLASSES:
        if watts > row["over_w"] and watts <= row.get("up_to_w", math.inf):
            return {"id": row["id"], "label": row["label"]}
    return None


# ---------------------------------------------------------------- limits


def row_of(regime, row_name, watts):
    for row in regime.get("rows", []):
        if row["category"] != row_name:
            continue
        low, high = row["p_min"], row.get("p_max", math.inf)
        above = watts >= low if row.get("p_min_inclusive", False) else watts > low
        below = watts <= high if row.get("p_max_inclusive", True) else watts < high
        if above and below:
            return row
    return None


def curve_at(curve, watts):
    return curve["a"] * math.log(watts) + curve["b"] * watts + curve["c"]


def on_line(run, voltage_v, frequency_hz):
    wide = PROCEDURE["line"]["warning_tolerance_percent"] / 100 + 1e-12
    line = run["line"]
    return (
        abs(line["voltage_v"] - voltage_v) <= wide * voltage_v
        and abs(line["frequency_hz"] - frequency_hz) <= wide * frequency_hz
    )


# ---------------------------------------------------------------- points and runs


def evaluate_point(bench, run, point):
    given = point.get("input") or {}
    input_power = bench.read("input_power_w", given.get("power_w"))
    voltage = bench.read("input_voltage_v", given.get("voltage_v"))
    current = bench.read("input_current_a", given.get("current_a"))

    output_power = output_current = None
    outputs = point.get("outputs", [])
    readings = [
        (
            output["port"],
            bench.read("output_voltage_v", output.get("voltage_v"), output["port"]),
            bench.read("output_current_a", output.get("current_a"), output["port"]),
        )
        for output in outputs
    ]
    if readings and all(v is not None and i is not None for _, v, i in readings):
        output_power = combine(lambda *x: sum(a * b for a, b in zip(x[::2], x[1::2])),
                               *(q for _, v, i in readings for q in (v, i)))
        output_current = sum(i.n for _, _, i in readings)

    efficiency = loss = None
    if output_power is not None and input_power is not None:
        loss = combine(lambda i, o: i - o, input_power, output_power)
        if input_power.n > 0:
            efficiency = combine(lambda i, o: o / i, input_power, output_power)

    apparent = combine(lambda v, i: v * i, voltage, current)
    # The power factor is given or P / S; its uncertainty is that of P / (V I) either way.
    measured_factor = None
    if apparent is not None and apparent.n > 0 and input_power is not None:
        measured_factor = combine(lambda p, v, i: p / (v * i), input_power, voltage, current)
    factor = None
    if given.get("power_factor") is not None:
        stated = given["power_factor"]
        factor = Quantity(stated, None)
        if measured_factor is not None and measured_factor.full is not None and measured_factor.n:
            factor = Quantity(stated, measured_factor.full * (stated / measured_factor.n))
    elif measured_factor is not None:
        factor = measured_factor
        if factor.n > 1:  # rounding of the meter: no power factor is above 1
            factor = Quantity(1.0, None if factor.full is None else factor.full / factor.n)
    if apparent is None and input_power is not None and (given.get("power_factor") or 0) >= LEAST_POWER_FACTOR:
        apparent = Quantity(input_power.n / given["power_factor"], None)
    nonactive = None
    if apparent is not None and input_power is not None:
        nonactive = math.sqrt(max(0.0, apparent.n**2 - input_power.n**2))
    crest = None
    if given.get("current_peak_a") is not None and current is not None and current.n > 0:
        crest = given["current_peak_a"] / current.n

    rated = {output["port"]: output["voltage_v"] for output in run.get("rated_outputs", [])}
    deviation = None
    for port, port_voltage, _ in readings:
        if port_voltage is None or not rated.get(port):
            continue
        nominal = rated[port]
        here = combine(lambda v: 100 * (v - nominal) / nominal, port_voltage)
        # Of two equally large ones, up and down, the last.
        if deviation is None or abs(here.n) >= abs(deviation.n):
            deviation = here
    return {
        "load_percent": point["load_percent"],
        "output_power": output_power,
        "output_current": output_current,
        "input_power": input_power,
        "efficiency": efficiency,
        "loss": loss,
        "apparent": apparent,
        "factor": factor,
        "nonactive": nonactive,
        "crest": crest,
        "thd": given.get("current_thd_percent"),
        "deviation": deviation,
    }


def point_document(point):
    return {
        "load_percent": point["load_percent"],
        "output_power_w": value(point["output_power"]),
        "output_power_u": u_of(point["output_power"]),
        "input_power_w": value(point["input_power"]),
        "input_power_u": u_of(point["input_power"]),
        "efficiency": value(point["efficiency"]),
        "efficiency_u": u_of(point["efficiency"]),
        "loss_w": value(point["loss"]),
        "loss_u": u_of(point["loss"]),
        "apparent_power_va": value(point["apparent"]),
        "power_factor": value(point["factor"]),
        "power_factor_u": u_of(point["factor"]),
        "nonactive_power_va": point["nonactive"],
        "crest_factor": point["crest"],
        "current_thd_percent": point["thd"],
        "voltage_deviation_percent": value(point["deviation"]),
        "voltage_deviation_u": u_of(point["deviation"]),
    }


def point_at(points, percent):
    """The point at a nominal load within the method's tolerance: the nearest, of equals the
    last (a repeated reading replaces the one before)."""
    ten = percent == LOAD_POINTS["ten_percent"]
    tolerance = LOAD_POINTS["ten_percent_tolerance" if ten else "tolerance_percent"]
    near = [p for p in points if abs(p["load_percent"] - percent) <= tolerance]
    return min(reversed(near), key=lambda p: abs(p["load_percent"] - percent), default=None)


def loss_model(points, no_load, rated_power):
    """P_loss = a + b I + c I^2 by non-negative least squares over points and no-load."""
    samples = [
        (p["output_current"], p["loss"].n)
        for p in points
        if p["loss"] is not None and p["output_current"] is not None
    ]
    loaded = [p for p in points if p["loss"] is not None and p["output_current"]]
    if no_load is not None:
        samples.append((0.0, no_load.n))
    if len({current for current, _ in samples}) < 3 or not loaded:
        return None
    current = numpy.array([c for c, _ in samples])
    losses = numpy.array([w for _, w in samples])
    matrix = numpy.vander(current, 3, increasing=True)
    # Columns of like size, so that the solver's own tolerance means the same for each.
    scale = numpy.linalg.norm(matrix, axis=0)
    solution, _ = nnls(matrix / scale, losses)
    a, b, c = (float(x) for x in solution / scale)
    residual = math.sqrt(numpy.mean((matrix @ numpy.array([a, b, c]) - losses) ** 2))
    # The voltage that turns current into power: that of the most heavily loaded point.
    top = max(loaded, key=lambda p: p["output_current"])
    volts = top["output_power"].n / top["output_current"]
    if volts <= 0:
        return None
    valid_to = max([rated_power or 0.0] + [p["output_power"].n for p in loaded])

    def efficiency(i):
        return volts * i / (volts * i + a + b * i + c * i * i)

    # d(efficiency)/dI = 0 where a = c I^2; else the end of what was measured.
    most = valid_to / volts
    at = min(most, math.sqrt(a / c)) if c > 0 else most
    return {
        "a_w": a, "b_v": b, "c_ohm": c, "rms_residual_w": residual,
        # Without constant loss efficiency only falls with load: its limit towards none.
        "peak_efficiency": efficiency(at) if at > 0 else volts / (volts + b),
        "peak_at_w": volts * at,
        "effective_voltage_v": volts, "valid_to_w": valid_to,
    }


def category_by_output(outputs):
    """Low voltage: rated below 6 V and at least 0.550 A; else basic."""
    low = (outputs and max(o["voltage_v"] for o in outputs) < 6
           and sum(o["current_a"] for o in outputs) >= 0.550)
    return "low" if low else "basic"


def evaluate_run(record, run):
    unit = record["unit"]
    bench = Bench(record)
    points = [evaluate_point(bench, run, point) for point in run.get("points", [])]
    nameplate = unit["nameplate"]["output_power_w"]
    outputs = run.get("rated_outputs", [])
    total = sum(o["voltage_v"] * o["current_a"] for o in outputs)
    allocation = min(1.0, nameplate / total) if total > 0 else 1.0
    rated_power = min(total, nameplate) if total > 0 else None
    rated_voltage = max((o["voltage_v"] for o in outputs), default=None)
    current = sum(o["current_a"] for o in outputs) * allocation if total > 0 else None

    choice = unit.get("category")
    if choice:
        category = choice["value"]
    elif is_multiple(unit):
        category = "multiple"
    else:
        category = category_by_output(outputs)

    averaged = [point_at(points, load) for load in AVERAGE_LOADS]
    missing = [load for load, p in zip(AVERAGE_LOADS, averaged)
               if p is None or p["efficiency"] is None]
    average = None
    if not missing:
        average = mean_at_full_correlation([p["efficiency"] for p in averaged])
    ten = point_at(points, LOAD_POINTS["ten_percent"])
    ten_percent = ten["efficiency"] if ten else None

    no_load = bench.read("no_load_power_w", (run.get("no_load") or {}).get("power_w"))
    used = {o["port"] for o in outputs}
    ports = {p["label"] for p in unit.get("ports", [])}
    return {
        "name": run["name"], "run": run, "points": points, "category": category,
        "rated_power": rated_power, "rated_current": current, "rated_voltage": rated_voltage,
        "allocation": allocation, "all_ports": ports <= used, "average": average,
        "missing": missing, "ten_percent": ten_percent, "no_load": no_load,
        "loss_model": loss_model(points, no_load, rated_power),
    }


def run_document(run, informative, logs):
    no_load = run["no_load"]
    document = {
        "name": run["name"],
        "line_voltage_v": run["run"]["line"]["voltage_v"],
        "line_frequency_hz": run["run"]["line"]["frequency_hz"],
        "rated_power_w": run["rated_power"],
        "rated_current_a": run["rated_current"],
        "rated_voltage_v": run["rated_voltage"],
        "allocation": run["allocation"],
        "category": run["category"],
        "all_ports": run["all_ports"],
        "informative?": informative,
        "points": [point_document(point) for point in run["points"]],
        "average_efficiency": value(run["average"]),
        "average_efficiency_u": u_of(run["average"]),
        "average_missing": run["missing"],
        "ten_percent_efficiency": value(run["ten_percent"]),
        "ten_percent_efficiency_u": u_of(run["ten_percent"]),
        "loss_model": run["loss_model"],
        "no_load": None if no_load is None else {
            "power_w": no_load.n, "power_u": no_load.u, "method": "reading"},
    }
    if run["run"].get("waveforms"):
        document["waveforms"] = [
            waveform_without_log(wave, logs) for wave in run["run"]["waveforms"]]
    return document


def waveform_without_log(wave, logs):
    """A waveform whose log is not at hand has no figures. Those of waveforms with their logs are
    held against scipy elsewhere (waveforms.py)."""
    return {
        "name": wave["log"],
        "sha256": logs[wave["log"]]["sha256"],
        "load_percent": wave["load_percent"],
        "from_s": wave.get("log_from_s", 0.0),
        "to_s": wave.get("log_to_s"),
        "refused": f"log “{wave['log']}”: it is not kept here",
        "quality": None, "screening": None, "agreement": [], "supply": [],
    }


# ---------------------------------------------------------------- verdicts


def decide(measured, limit, limit_is_maximum):
    """ILAC-G8:09/2019 non-binary rule, guard band w = U, beside simple acceptance."""
    margin = limit - measured.n if limit_is_maximum else measured.n - limit
    simple = "pass" if margin >= 0 else "fail"
    u = measured.u
    if not u:
        return {"margin": margin, "expanded_uncertainty": None if u is None else 0.0,
                "risk": None, "result": simple,
                "simple_acceptance": simple, "guarded_acceptance": None}
    expanded = 2 * u
    if margin >= expanded:
        result = "pass"
    elif margin >= 0:
        result = "conditional-pass"
    elif margin >= -expanded:
        result = "conditional-fail"
    else:
        result = "fail"
    return {"margin": margin, "expanded_uncertainty": expanded, "risk": float(norm.cdf(margin / u)),
            "result": result, "simple_acceptance": simple,
            "guarded_acceptance": "pass" if margin >= expanded else "fail"}


def verdict(regime, requirement, run, category, watts, limit, measured, is_maximum, decides):
    found = {
        "regime": regime["id"], "requirement": requirement, "run": run["name"] if run else None,
        "category": category, "limit_power_w": watts, "limit": limit, "measured": value(measured),
        "margin": None, "expanded_uncertainty": None, "risk": None, "result": "not-assessed",
        "simple_acceptance": None, "guarded_acceptance": None, "decides": decides, "also": [],
    }
    if limit is not None and measured is not None:
        found.update(decide(measured, limit, is_maximum))
    elif limit is None:
        found["measured"] = None
    return found


def also(category, limit, measured, is_maximum):
    """What another reading of the rule would give."""
    result = "not-assessed"
    if limit is not None and measured is not None:
        result = decide(measured, limit, is_maximum)["result"]
    return {"category": category, "limit": limit, "result": result}


def other_categories(unit, regime, run, watts, limit_of, measured, is_maximum):
    """The limit under the other category where that is debatable: a unit of several ports, or
    one whose category the tester chose."""
    by_output = category_by_output(run["run"].get("rated_outputs", []))
    if unit.get("category"):
        other = "multiple" if is_multiple(unit) else by_output
        if other == run["category"]:
            return []
    elif run["category"] == "multiple":
        other = by_output
    elif len(unit.get("ports", [])) > 1:
        other = "multiple"
    else:
        return []
    row_name = regime["ac_dc_category_map"].get(other)
    row = row_of(regime, row_name, watts)
    if row is None:
        return [also(None, None, None, is_maximum)]
    limit = limit_of(row)
    return [] if limit is None else [also(row_name, limit, measured, is_maximum)]


def deciding_runs(unit, runs):
    """Runs that load all ports where there are such; of an adaptive unit those at the highest
    and the lowest voltage tested."""
    chosen = [r for r in runs if r["all_ports"]] or runs
    if is_adaptive(unit):
        voltages = [r["rated_voltage"] for r in chosen if r["rated_voltage"] is not None]
        chosen = [r for r in chosen if voltages
                  and r["rated_voltage"] in (max(voltages), min(voltages))]
    return {r["name"] for r in chosen}


def verdicts_on_line(record, regime, runs, voltage_v, frequency_hz):
    unit = record["unit"]
    nameplate = unit["nameplate"]["output_power_w"]
    here = [r for r in runs if on_line(r["run"], voltage_v, frequency_hz)]
    deciding = deciding_runs(unit, here)
    names = regime["ac_dc_category_map"]
    found = []
    if not here:
        return unassessed(regime)

    def efficiency(requirement, curve_name, figure):
        if lacks_a_voltage(unit, here):
            found.append(verdict(regime, requirement, None, None, None, None, None, False, True))
        for run in here:
            if holds_no_load_only(run, here):
                continue
            row_name = names.get(run["category"])
            row = row_of(regime, row_name, run["rated_power"]) if run["rated_power"] else None
            limit = curve_at(row[curve_name], run["rated_power"]) if row else None
            judged = verdict(regime, requirement, run, row_name if row else None,
                             run["rated_power"], limit, run[figure], False,
                             run["name"] in deciding)
            found.append(judged)
            if run["rated_power"] is None or (row and run[figure] is None):
                continue

            def limit_of(other_row):
                return curve_at(other_row[curve_name], run["rated_power"])

            judged["also"] = other_categories(unit, regime, run, run["rated_power"], limit_of,
                                              run[figure], False)
            for alternate in row.get("alternates", []) if row else []:
                if curve_name in alternate:
                    judged["also"].append(also(row_name, limit_of(alternate), run[figure], False))

    efficiency("average-efficiency", "avg_efficiency", "average")
    if regime["ten_percent_is_requirement"]:
        efficiency("ten-percent-efficiency", "ten_percent_efficiency", "ten_percent")

    limit, row_name, category = no_load_limit(unit, regime, here)
    read = [r for r in here if r["no_load"] is not None]
    worst = max(read, key=lambda r: r["no_load"].n, default=None)
    if row_name is not None and limit is None:
        return found + power_factors(regime, here, deciding, voltage_v, frequency_hz)
    reading = worst["no_load"] if worst else None
    judged = verdict(regime, "no-load", worst, row_name, nameplate, limit, reading, True, True)
    found.append(judged)
    if limit is None or reading is not None:
        judged["also"] = other_categories(unit, regime, highest_voltage_run(here), nameplate,
                                          lambda row: row.get("no_load_w"), reading, True)
    if limit is not None and reading is not None:
        table = row_of(regime, row_name, nameplate)["no_load_w"]
        adaptive = regime.get("adaptive_no_load_override_w") if is_adaptive(unit) else None
        if adaptive is not None and adaptive != table:
            other = adaptive if category == "multiple" else table
            judged["also"].append(also(row_name, other, reading, True))
        handheld = regime.get("mobile_handheld_no_load")
        if handheld and nameplate < 8 and handheld["no_load_w"] != limit:
            judged["also"].append(also(row_name, handheld["no_load_w"], reading, True))

    return found + power_factors(regime, here, deciding, voltage_v, frequency_hz)


def power_factors(regime, here, deciding, voltage_v, frequency_hz):
    """True power factor at one load, where the regime asks for it and enough is drawn."""
    found = []
    names = regime["ac_dc_category_map"]
    rule = regime.get("power_factor")
    if rule and (voltage_v, frequency_hz) == (rule["line_voltage_v"], rule["line_frequency_hz"]):
        for run in here:
            point = point_at(run["points"], rule["at_load_percent"])
            power = value(point["input_power"]) if point else None
            if power is None or power < rule["applies_if_input_power_w_at_least"]:
                continue
            if names.get(run["category"]) is None:
                continue
            found.append(verdict(regime, "power-factor", run, None, None,
                                 rule["min_true_power_factor"], point["factor"], False,
                                 run["name"] in deciding))
    return found


def holds_no_load_only(run, runs_on_line):
    """Is the run there for its no-load reading only, its loading being measured in another?"""
    if run["points"]:
        return False

    def condition(r):
        return (r["rated_voltage"], r["rated_power"], r["all_ports"])

    return any(
        other["points"] and (run["rated_power"] is None or condition(run) == condition(other))
        for other in runs_on_line)


def highest_voltage_run(runs):
    return max(runs, key=lambda r: r["rated_voltage"] or 0.0, default=None)


def no_load_limit(unit, regime, runs_on_line):
    """(limit, row name, our category): band of the nameplate power, category of the
    highest-voltage run, and the figure for adaptive units where the regime has one."""
    nameplate = unit["nameplate"]["output_power_w"]
    scope = regime.get("scope_w", [0, math.inf])
    highest = highest_voltage_run(runs_on_line)
    if highest is None or not scope[0] <= nameplate <= scope[1]:
        return None, None, None
    category = highest["category"]
    row_name = regime["ac_dc_category_map"].get(category)
    row = row_of(regime, row_name, nameplate)
    if row is None:
        return None, None, category
    limit = row.get("no_load_w")  # some tables ask for none
    if limit is None:
        return None, row_name, category
    override = regime.get("adaptive_no_load_override_w")
    if override is not None and is_adaptive(unit) and category != "multiple":
        limit = override
    return limit, row_name, category


def lacks_a_voltage(unit, runs_on_line):
    """A single-port adaptive unit is held at its highest and its lowest voltage."""
    tested = {r["rated_voltage"] for r in runs_on_line} - {None}
    return is_adaptive(unit) and len(unit["ports"]) == 1 and len(tested) == 1


def unassessed(regime):
    """One answer a requirement, of no run: there is nothing to judge by."""
    ten = ["ten-percent-efficiency"] if regime["ten_percent_is_requirement"] else []
    return [verdict(regime, requirement, None, None, None, None, None, False, True)
            for requirement in ["average-efficiency", *ten, "no-load"]]


def evaluate_regime(record, regime, runs):
    scope = regime.get("scope_w", [0, math.inf])
    nameplate = record["unit"]["nameplate"]["output_power_w"]
    if not regime.get("limits_known", True) or not scope[0] <= nameplate <= scope[1]:
        return unassessed(regime), {"regime": regime["id"], "result": "not-assessed"}
    lines = [(regime["line_voltage_v"], regime["line_frequency_hz"])]
    if "alt_line" in regime:
        # Held on each supply that the nameplate covers.
        low, high = (record["unit"]["nameplate"].get(f"input_voltage_{end}_v")
                     for end in ("min", "max"))
        if low is not None and high is not None:
            lines.append(tuple(regime["alt_line"]))
            lines = [line for line in lines if low <= line[0] <= high]
        if not lines:
            return unassessed(regime), {"regime": regime["id"], "result": "not-assessed"}
    found = []
    for voltage_v, frequency_hz in lines:
        found += verdicts_on_line(record, regime, runs, voltage_v, frequency_hz)
    results = [v["result"] for v in found if v["decides"]]
    if "fail" in results:
        result = "fail"
    elif all(r == "not-assessed" for r in results):
        result = "not-assessed"
    elif "not-assessed" in results:
        result = "incomplete"
    else:
        result = next(r for r in ("conditional-fail", "conditional-pass", "pass") if r in results)
    return found, {"regime": regime["id"], "result": result}


# ---------------------------------------------------------------- score


def points_for(measured, reference, k):
    """(points, is it clamped): 50 - 50 ln(measured / reference) / ln(k), within 0..100."""
    if measured <= 0:
        return 100.0, True
    raw = 50 - 50 * math.log(measured / reference) / math.log(k)
    return min(100.0, max(0.0, raw)), not 0 < raw < 100


def scored(run_name, measured, reference, k, none=False):
    """One run's share of a term. `measured` is a Quantity."""
    if none:
        points, clamped = 0.0, True
    else:
        points, clamped = points_for(measured.n, reference, k)
    u = measured.u
    if u is None:
        points_u = None
    else:
        points_u = 0.0 if clamped else 50 / math.log(k) * u / measured.n
    return {"run": run_name, "measured": measured.n, "measured_u": u, "reference": reference,
            "points": points, "points_u": points_u}


def mean(figures):
    figures = list(figures)
    if not figures or any(f is None for f in figures):
        return None
    return sum(figures) / len(figures)


def nonactive_ratio(factor):
    """N/P = sqrt(1/PF^2 - 1). At PF 1 the first-order slope has no bound: no contribution."""
    if factor.n >= 1:
        return Quantity(0.0, None if factor.full is None else 0.0)
    return combine(lambda x: (1 / x**2 - 1) ** 0.5, factor)


def evaluate_score(record, runs):
    unit = record["unit"]
    line = FORMULA["line"]
    here = [
        r for r in runs
        if abs(r["run"]["line"]["voltage_v"] - line["voltage_v"])
        <= line["voltage_tolerance_percent"] / 100 * line["voltage_v"] + 1e-9
        and abs(r["run"]["line"]["frequency_hz"] - line["frequency_hz"])
        <= line["frequency_tolerance_hz"] + 1e-9
    ]
    shares = {}

    rule = FORMULA["active_loss"]
    regime = REGIME[rule["regime"]]
    shares["active_loss"] = []
    for run in here:
        row_name = regime["ac_dc_category_map"].get(run["category"])
        row = row_of(regime, row_name, run["rated_power"]) if run["rated_power"] else None
        if row and run["average"]:
            limit = curve_at(row["avg_efficiency"], run["rated_power"])
            shares["active_loss"].append(scored(
                run["name"], combine(lambda e: 1 - e, run["average"]), 1 - limit, rule["k"]))

    rule = FORMULA["light_load_loss"]
    regime = REGIME[rule["regime"]]
    shares["light_load_loss"] = []
    for run in here:
        row_name = regime["ac_dc_category_map"].get(run["category"])
        if run["category"] == "multiple":
            row_name = rule["multiple_uses"]
        row = row_of(regime, row_name, run["rated_power"]) if run["rated_power"] else None
        if row and run["ten_percent"]:
            limit = curve_at(row["ten_percent_efficiency"], run["rated_power"])
            shares["light_load_loss"].append(scored(
                run["name"], combine(lambda e: 1 - e, run["ten_percent"]), 1 - limit, rule["k"]))

    rule = FORMULA["no_load"]
    regime = REGIME[rule["regime"]]
    on_regime_line = [r for r in runs
                      if on_line(r["run"], regime["line_voltage_v"], regime["line_frequency_hz"])]
    limit, _, _ = no_load_limit(unit, regime, on_regime_line)
    shares["no_load"] = [
        scored(r["name"], r["no_load"], limit, rule["k"])
        for r in here if r["no_load"] is not None and limit is not None
    ]

    rule = FORMULA["line_current"]
    reference = math.sqrt(1 / rule["reference_power_factor"] ** 2 - 1)
    shares["line_current"] = []
    for run in here:
        factors = [point_at(run["points"], load) for load in rule["load_percents"]]
        if any(p is None or p["factor"] is None or p["factor"].n < LEAST_POWER_FACTOR for p in factors):
            continue
        ratio = mean_at_full_correlation([nonactive_ratio(p["factor"]) for p in factors])
        shares["line_current"].append(scored(run["name"], ratio, reference, rule["k"]))

    rule = FORMULA["delivery"]
    shares["delivery"] = []
    for run in here:
        deviations = [p["deviation"] for p in run["points"] if p["deviation"] is not None]
        if not deviations:
            continue
        worst = max(reversed(deviations), key=lambda d: abs(d.n))
        worst = worst if worst.n >= 0 else combine(lambda d: -d, worst)
        dropped = any(
            p["load_percent"] == 100 and p["output_power"] is not None
            and p["output_power"].n < rule["held_above"] * run["rated_power"]
            for p in run["points"])
        shares["delivery"].append(
            scored(run["name"], worst, rule["reference_percent"], rule["k"], none=dropped))

    rule = FORMULA["surface"]
    shares["surface"] = []
    known = [t for t in record.get("temperatures", [])
             if t.get("hot_spot_c") is not None and t.get("ambient_c") is not None
             and t.get("load_w") is not None]
    if known:
        # A series over time begins cold: of several readings at the highest load the largest rise.
        # A surface hotter than its hot spot counts in its place.
        def hot(t):
            return max(t["hot_spot_c"], t.get("surface_c") or t["hot_spot_c"])

        hottest = max(known, key=lambda t: (t["load_w"], hot(t) - t["ambient_c"]))
        warmed = any(t.get("minutes") != 0 for t in known if t["load_w"] == hottest["load_w"])
        if warmed and hot(hottest) > hottest["ambient_c"]:
            bench = Bench(record)
            rise = combine(lambda h, a: h - a,
                           bench.read("temperature_c", hot(hottest), "hot spot"),
                           bench.read("temperature_c", hottest["ambient_c"], "ambient"))
            shares["surface"].append(scored(None, rise, rule["reference_rise_k"], rule["k"]))

    terms, weight, total, variance, known_u, lacking = [], 0.0, 0.0, 0.0, False, []
    all_weight = sum(FORMULA[name]["weight"] for name in shares)
    for name, parts in shares.items():
        term = name.replace("_", "-")
        document = {
            "term": term, "weight": FORMULA[name]["weight"], "k": FORMULA[name]["k"],
            "points": mean(p["points"] for p in parts),
            "points_u": mean(p["points_u"] for p in parts),
            "measured": mean(p["measured"] for p in parts),
            "reference": mean(p["reference"] for p in parts), "runs": parts}
        terms.append(document)
        if not parts:
            continue
        weight += document["weight"]
        total += document["weight"] * document["points"]
        if document["points_u"] is None:
            lacking.append(term)
        else:
            known_u = True
            variance += (document["weight"] * document["points_u"]) ** 2
    coverage = weight / all_weight
    return {
        "version": FORMULA["version"],
        "value": total / weight if weight else None,
        "u": math.sqrt(variance) / weight if weight and known_u else None,
        "coverage": coverage, "provisional": coverage < FORMULA["provisional_below"],
        "u_lacks": lacking, "terms": terms,
    }


# ---------------------------------------------------------------- the label


def label_checks(unit, regimes):
    """Figures and findings of the label's checks, by check and port."""
    plate = unit["nameplate"]
    watts = plate["output_power_w"]
    found = {}
    low, amperes = plate.get("input_voltage_min_v"), plate.get("input_current_a")
    if low and amperes:
        rule = PROCEDURE["implied_power_factor"]
        implied = watts / rule["assumed_efficiency"] / (low * amperes)
        found["implied-power-factor"] = {
            "figure": f"{implied:.3f}", "result": "contradicts" if implied > 1 else "note"}
    mark = plate.get("efficiency_mark")
    if mark:
        results = {r["regime"]: r["result"] for r in regimes}
        levels = {
            level: results[next(r["id"] for r in REGIMES
                                if r.get("marking") == level and r["role"] != "earlier")]
            for level in ("VI", "V", "IV", "III")}
        reached = next((f"level {level}" for level, result in levels.items()
                        if result in ("pass", "conditional-pass")), None)
        found["efficiency-mark"] = {"figure": reached, "result": {
            "pass": "agrees", "conditional-pass": "agrees", "conditional-fail": "note",
            "fail": "contradicts"}.get(levels.get(mark), "unknown")}
    for port in unit.get("ports", []):
        rating = port.get("power_w")
        if port.get("connector") != "usb-c" or not negotiates(port) or rating is None:
            continue
        row = next((r for r in USB_PD["rows"] if r["over_w"] < rating <= r["up_to_w"]), None)
        result = "unknown"
        if row:
            offered = {}
            for mode in port["modes"]:
                if mode["kind"] == "fixed":
                    volts = mode["voltage_v"]
                    offered[volts] = max(offered.get(volts, 0), mode["current_a"])
            result = "agrees" if all(
                offered.get(need["voltage_v"], -1)
                >= need.get("current_a", rating / need["voltage_v"])
                - USB_PD["current_tolerance_a"]
                for need in row["fixed"]) else "contradicts"
        found[f"pd-power-rules {port['label']}"] = {"result": result}
    return found


def label_figures(document):
    """The same of the program's document; port sums are plain arithmetic and left out."""
    found = {}
    for check in document["label_checks"]:
        if check["check"] == "implied-power-factor":
            found[check["check"]] = {"figure": check["claim"], "result": check["result"]}
        elif check["check"] == "efficiency-mark":
            found[check["check"]] = {"figure": check["found"], "result": check["result"]}
        elif check["check"] == "pd-power-rules":
            found[f"pd-power-rules {check['port']}"] = {"result": check["result"]}
    return found


# ---------------------------------------------------------------- the document


def evaluate(record):
    runs = [evaluate_run(record, run) for run in record.get("runs", [])]
    informative = set()
    by_line = {}
    for run in runs:
        line = run["run"]["line"]
        by_line.setdefault((line["voltage_v"], line["frequency_hz"]), []).append(run)
    for same_line in by_line.values():
        deciding = deciding_runs(record["unit"], same_line)
        informative |= {r["name"] for r in same_line if r["name"] not in deciding}
    verdicts, regimes = [], []
    for regime in REGIMES:
        found, result = evaluate_regime(record, regime, runs)
        verdicts += found
        regimes.append(result)
    return {
        "format": "brickbook-evaluation/1",
        "class": class_of(record["unit"]["nameplate"]["output_power_w"]),
        "runs": [
            run_document(run, run["name"] in informative,
                         {log["name"]: log for log in record.get("logs", [])})
            for run in runs],
        "verdicts": verdicts,
        "regimes": regimes,
        "score": evaluate_score(record, runs),
        "labels": label_checks(record["unit"], regimes),
        "bench": bench_report.figures(record),
    }


# ---------------------------------------------------------------- comparison

# Text for readers and what the tables say word for word: no figures of their own.
PROSE = {*bench_report.SECTIONS, "bench", "reason", "category_reason", "citation", "confidence",
         "engine", "warnings", "alternatives", "also", "label_checks", "labels", "informative", "informative?"}


class Comparison:
    def __init__(self):
        self.figures = 0
        self.words = 0
        self.differences = []

    def differ(self, path, ours, theirs):
        self.differences.append(f"{path}: program {theirs!r}, reference {ours!r}")

    def compare(self, path, ours, theirs):
        if isinstance(ours, dict) and isinstance(theirs, dict):
            for key in sorted(set(ours) | set(theirs)):
                # The bench report comes without its sentences.
                if key in PROSE and not path.startswith(".bench"):
                    continue
                if key not in ours or key not in theirs:
                    self.differ(f"{path}.{key}", ours.get(key, "(unknown field)"),
                                theirs.get(key, "(absent)"))
                else:
                    self.compare(f"{path}.{key}", ours[key], theirs[key])
            if "also" in ours:
                self.compare(f"{path}.alternatives", ours["also"], [
                    {key: a[key] for key in ("category", "limit", "result")}
                    for a in theirs.get("alternatives", [])])
            if "labels" in ours:
                self.compare(f"{path}.label_checks", ours["labels"], label_figures(theirs))
            if "bench" in ours:
                self.compare(f"{path}.bench", ours["bench"],
                             bench_report.of_document(theirs))
            if "informative?" in ours:
                self.compare(f"{path}.informative", ours["informative?"],
                             theirs.get("informative") is not None)
        elif isinstance(ours, list) and isinstance(theirs, list):
            if len(ours) != len(theirs):
                self.differ(f"{path} (length)", len(ours), len(theirs))
            for index, (a, b) in enumerate(zip(ours, theirs)):
                self.compare(f"{path}[{index}]", a, b)
        elif is_number(ours) and is_number(theirs):
            self.figures += 1
            relative, absolute = tolerance_at(path)
            if not math.isclose(ours, theirs, rel_tol=relative, abs_tol=absolute):
                self.differ(path, ours, theirs)
        else:
            self.words += 1
            if ours != theirs or type(ours) is not type(theirs):
                self.differ(path, ours, theirs)


def tolerance_at(path):
    """(relative, absolute)"""
    if ".loss_model" in path:
        return LOSS_MODEL_TOLERANCE, ABSOLUTE_TOLERANCE
    if ".heat" in path:
        return bench_report.FIT_TOLERANCE, bench_report.FIT_TOLERANCE_K
    return RELATIVE_TOLERANCE, ABSOLUTE_TOLERANCE


def is_number(x):
    return isinstance(x, (int, float)) and not isinstance(x, bool)


def by_key(verdicts):
    """Verdicts as a mapping, so that their order is free but none is missing or double."""
    found = {}
    for v in verdicts:
        key = f"{v['regime']}/{v['requirement']}/{v['run']}"
        while key in found:
            key += "+"
        found[key] = v
    return found


def published_examples():
    """The worked examples of the uncertainty notes, so that the reference is itself held."""
    record = {"instruments": [
        {"quantity": "input_power_w", "reading_percent": 0.1, "range_percent": 0.05, "range": 150},
        {"quantity": "no_load_power_w", "reading_percent": 0.1, "range_percent": 0.1, "range": 3},
        {"quantity": "output_voltage_v", "reading_percent": 0.025, "range_percent": 0.005,
         "range": 100},
        {"quantity": "output_current_a", "reading_percent": 0.1, "range_percent": 0.02,
         "range": 10}]}
    bench = Bench(record)
    run = {"rated_outputs": [{"port": "C1", "voltage_v": 20, "current_a": 3.25}]}
    points = []
    full = evaluate_point(bench, run, {
        "load_percent": 100, "input": {"power_w": 71.85},
        "outputs": [{"port": "C1", "voltage_v": 20.010, "current_a": 3.248}]})
    for watts_out, watts_in in ((16.248, 18.1), (32.496, 35.55), (48.744, 53.42),
                                (64.992, 71.85)):
        points.append(evaluate_point(bench, run, {
            "load_percent": 100 * watts_out / 64.992, "input": {"power_w": watts_in},
            "outputs": [{"port": "C1", "voltage_v": 20.010, "current_a": watts_out / 20.010}]}))
    average = mean_at_full_correlation([p["efficiency"] for p in points])
    apart = math.sqrt(sum(p["efficiency"].u ** 2 for p in points)) / 4
    idle = bench.read("no_load_power_w", 0.0652)
    at_limit = decide(Quantity(0.8912, ufloat(0.8912, 0.0012)), 0.8900, False)
    return [
        ("E1 efficiency", full["efficiency"].n, 0.9045578, 1e-7),
        ("E1 u of efficiency", full["efficiency"].u, 0.0013855, 1e-7),
        ("E1 U of loss", 2 * full["loss"].u, 0.2118, 1e-4),
        ("E2 average efficiency", average.n, 0.9071977, 1e-6),
        ("E2 u, fully correlated", average.u, 0.0020643, 1e-7),
        ("E2 u, were the points independent", apart, 0.0010914, 1e-7),
        ("E3 U of no-load", 2 * idle.u, 0.00354, 1e-5),
        ("probability of conformity", at_limit["risk"], 0.841, 1e-3),
    ]


def unnoticed(ours, theirs):
    """Alters each figure of the program's document by a little, one at a time, and returns the
    paths of those that the comparison did not notice."""
    missed, tried = [], 0

    def walk(path, node):
        nonlocal tried
        for key in list(node if isinstance(node, dict) else range(len(node))):
            if key in PROSE and key not in ("alternatives", *bench_report.SECTIONS):
                continue
            kept = node[key]
            if isinstance(kept, (dict, list)):
                walk(f"{path}.{key}", kept)
            elif is_number(kept):
                tried += 1
                relative, absolute = tolerance_at(f"{path}.")
                node[key] = kept * (1 + 20 * relative) + 20 * absolute
                comparison = Comparison()
                comparison.compare("", ours, theirs)
                if not comparison.differences:
                    missed.append(f"{path}.{key}")
                node[key] = kept

    walk("", theirs)
    return tried, missed


def is_rich(document):
    """Does it hold figures of every section of the bench report?"""
    return (all(document.get(section) for section in bench_report.SECTIONS)
            and any(o["screening"] and o.get("last_good") for o in document["overloads"])
            and any(h.get("fit") and h.get("rows") for h in document["heat"])
            and any(p.get("advertised") for p in document["ports"]))


def main(arguments):
    if len(arguments) < 2:
        print(__doc__)
        return 2
    program, files = arguments[0], arguments[1:]
    passed = failed = figures = words = 0
    thorough = False
    for name, ours, published, tolerance in published_examples():
        figures += 1
        if abs(ours - published) <= tolerance:
            passed += 1
        else:
            failed += 1
            print(f"reference itself: {name}: {ours}, published {published}")
    for file in files:
        run = subprocess.run([program, "evaluate", file], capture_output=True, text=True)
        if Path(file).name.startswith("refused-"):
            refused = run.returncode != 0 and "source_capabilities" in run.stderr
            passed += refused
            failed += not refused
            if not refused:
                print(f"{file}: taken, though it must be refused")
            continue
        if run.returncode != 0:
            failed += 1
            print(f"{file}: evaluate failed: {run.stderr.strip()}")
            continue
        theirs = json.loads(run.stdout)
        ours = evaluate(json.loads(Path(file).read_text()))
        for document in (ours, theirs):
            document["verdicts"] = by_key(document["verdicts"])
        comparison = Comparison()
        comparison.compare("", ours, theirs)
        figures += comparison.figures
        words += comparison.words
        if comparison.differences:
            failed += 1
            for difference in comparison.differences:
                print(f"{file}{difference}")
        else:
            passed += 1
            if file == files[0] or not thorough and is_rich(theirs):
                thorough = thorough or is_rich(theirs)
                tried, missed = unnoticed(ours, theirs)
                print(f"{tried} figures of {file} altered one by one: "
                      f"{tried - len(missed)} noticed")
                failed += bool(missed)
                passed += not missed
                for path in missed:
                    print(f"{file}{path}: an altered figure was not noticed")
    print(f"{figures} figures and {words} words compared in {len(files)} records")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
