#!/usr/bin/env python3
"""A year's energy and its cost, computed a second time.

    cost_of_use.py BRICKBOOK

Starts `BRICKBOOK serve --demo` on a port of its own, downloads the tables of three use profiles
and computes every unit's figures again from its record in `seed-data/`: losses at the load points
with their uncertainty and a non-negative least-squares fit (scipy) as `cross_check.py` makes them,
then energy = sum of loss times hours times 365, cost = energy times tariff. Shares nothing with the
program but tables of data. Records with raw logs are left out: their figures come from the logs.

Exit code 0: all agree. 1: differences, listed one a line. 2: could not run.
"""

import json
import math
import re
import subprocess
import sys
import tempfile
import urllib.request
from pathlib import Path

import cross_check

ROOT = Path(__file__).resolve().parents[2]
PROFILES = ["phone-overnight", "laptop-by-day", "us-charger-class-4"]
TARIFF = 0.37
YEARS = 5
# The two fits end at slightly different digits.
TOLERANCE = 1e-6
FEWEST_UNITS = 20


def runs_of(record):
    """Runs on the line supply of the score, and of these the ones that decide a verdict."""
    line = cross_check.FORMULA["line"]
    volts, hertz = line["voltage_v"], line["frequency_hz"]
    here = [
        cross_check.evaluate_run(record, run)
        for run in record["runs"]
        if abs(run["line"]["voltage_v"] - volts) <= volts * line["voltage_tolerance_percent"] / 100
        and abs(run["line"]["frequency_hz"] - hertz) <= line["frequency_tolerance_hz"]
    ]
    deciding = set()
    for line in {(run["run"]["line"]["voltage_v"], run["run"]["line"]["frequency_hz"]) for run in here}:
        same = [run for run in here
                if (run["run"]["line"]["voltage_v"], run["run"]["line"]["frequency_hz"]) == line]
        deciding |= cross_check.deciding_runs(record["unit"], same)
    return here, [run for run in here if run["name"] in deciding and run["points"]]


def loss_at(run, watts):
    """(loss, standard uncertainty or None) at an output power, or None beyond what was measured."""
    model = run["loss_model"]
    if watts > model["valid_to_w"] * 1.005:
        return None
    current = watts / model["effective_voltage_v"]
    loss = model["a_w"] + model["b_v"] * current + model["c_ohm"] * current**2
    known = sorted(
        [(p["output_power"].n, cross_check.u_of(p["loss"])) for p in run["points"]
         if p["loss"] is not None and p["output_power"] is not None]
        + ([(0.0, cross_check.u_of(run["no_load"]))] if run["no_load"] is not None else []),
        key=lambda pair: pair[0],
    )
    below = [pair for pair in known if pair[0] < watts]
    above = [pair for pair in known if pair[0] >= watts]
    if below and above:
        (p0, u0), (p1, u1) = below[-1], above[0]
        u = None if u0 is None or u1 is None else u0 + (u1 - u0) * (watts - p0) / (p1 - p0)
    else:
        u = (above or below[::-1])[0][1]
    return loss, None if u is None else math.hypot(u, model["rms_residual_w"])


def year(record, profile):
    """Energy, its standard uncertainty, the part without load; or why there is none."""
    here, deciding = runs_of(record)
    run = max(deciding, key=lambda run: run["rated_voltage"] or 0, default=None)
    no_loads = [run["no_load"] for run in here if run["no_load"] is not None]
    energy, u_loaded = 0.0, 0.0
    for load in profile["loads"]:
        if run is None or run["loss_model"] is None:
            return "its losses"
        found = loss_at(run, load["power_w"])
        if found is None:
            return "measured up to"
        hours = load["hours_a_day"] * 365 / 1000
        energy += found[0] * hours
        u_loaded = None if u_loaded is None or found[1] is None else u_loaded + found[1] * hours
    idle, u_idle = 0.0, 0.0
    if profile["no_load_hours_a_day"] > 0:
        if not no_loads:
            return "its no-load power"
        worst = max(no_loads, key=lambda q: q.n)
        hours = profile["no_load_hours_a_day"] * 365 / 1000
        idle = worst.n * hours
        u_idle = None if worst.u is None else worst.u * hours
    u = None if u_loaded is None or u_idle is None else math.hypot(u_loaded, u_idle)
    return energy + idle, u, idle


def served(brickbook, folder):
    """The running program and its address."""
    process = subprocess.Popen(
        [brickbook, "serve", "--demo", "--data-dir", folder, "--listen", "127.0.0.1:0"],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    for line in process.stdout:
        found = re.search(r"serving on (http://[0-9.:]+)/", line)
        if found:
            return process, found.group(1)
    sys.exit("the program did not start")


def main(arguments):
    if len(arguments) != 1:
        print(__doc__)
        return 2
    usage = cross_check.load_toml(ROOT / "src" / "standards" / "usage.toml")["profiles"]
    records = {}
    for path in sorted((ROOT / "seed-data").glob("*.json")):
        record = json.loads(path.read_text())
        if not record.get("logs"):
            unit = record["unit"]
            records[(unit["maker"], unit["model"], unit.get("sample"))] = record
    faults = []

    def compare(what, ours, theirs):
        if ours is None or theirs is None:
            if ours is not theirs:
                faults.append(f"{what}: {ours} here, {theirs} there")
        elif not math.isclose(ours, theirs, rel_tol=TOLERANCE, abs_tol=1e-12):
            faults.append(f"{what}: {ours} here, {theirs} there")

    with tempfile.TemporaryDirectory() as folder:
        process, address = served(arguments[0], folder)
        try:
            for profile in (p for p in usage if p["id"] in PROFILES):
                query = f"tariff={TARIFF}&currency=EUR"
                url = f"{address}/use/{profile['id']}/table.json?{query}"
                with urllib.request.urlopen(url) as answer:
                    table = json.load(answer)
                figures = 0
                for row in table["rows"]:
                    record = records.get((row["maker"], row["model"], row["sample"]))
                    if record is None:
                        continue
                    name = f"{profile['id']} {row['slug']}"
                    ours = year(record, profile)
                    if isinstance(ours, str):
                        because = row["no_figure_because"] or ""
                        if not because.startswith(ours):
                            faults.append(f"{name}: {ours!r} here, {because!r} there")
                        continue
                    figures += 1
                    energy, u, idle = ours
                    compare(f"{name} energy", energy, row["energy_lost"])
                    compare(f"{name} U", None if u is None else 2 * u,
                            row["energy_lost_expanded_uncertainty_k2"])
                    compare(f"{name} no load", idle, row["energy_lost_at_no_load"])
                    compare(f"{name} cost", energy * TARIFF, row["cost"])
                    price = record["unit"].get("price") or {}
                    total = None
                    if price.get("currency") == "EUR":
                        total = float(price["amount"]) + YEARS * TARIFF * energy
                    compare(f"{name} total", total, row["price_and_5_years_of_losses"])
                print(f"{profile['id']}: {figures} units computed again")
                if figures < FEWEST_UNITS:
                    faults.append(f"{profile['id']}: only {figures} units have a figure")
        finally:
            process.terminate()
            process.communicate()
    for fault in faults:
        print(fault)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
