#!/usr/bin/env python3
"""Odd situations for the cross-check: each bends a demo record in one way.

    odd_records.py SEED_DATA_DIRECTORY OUTPUT_DIRECTORY

Writes one record a situation, named after it, and prints the file names. The base records are
chosen by what they are, not by name, so that the demo data may change.
"""

import copy
import json
import sys
from pathlib import Path


def line_of(run):
    return run["line"]["voltage_v"]


def ports_used(run):
    return {output["port"] for output in run["rated_outputs"]}


def choose(records, fits):
    """The first record, in order of file name, that fits."""
    return next(record for record in records if fits(record))


def bases(directory):
    records = [json.loads(path.read_text()) for path in sorted(directory.glob("*.json"))]
    records = [r for r in records if r.get("instruments") and all(
        len(run["points"]) == 5 and run.get("no_load", {}).get("power_w") for run in r["runs"])]

    def voltages(record):
        return {run["rated_outputs"][0]["voltage_v"] for run in record["runs"]}

    def alone(record):
        return any(len(ports_used(run)) < len(record["unit"]["ports"]) for run in record["runs"])

    single = choose(records, lambda r: len(r["unit"]["ports"]) == 1 and len(voltages(r)) >= 3)
    plain = choose(records, lambda r: len(r["unit"]["ports"]) == 1 and len(voltages(r)) == 1
                   and len(r["unit"]["ports"][0]["modes"]) == 1)
    several = choose(records, lambda r: len(r["unit"]["ports"]) >= 3 and alone(r))
    return {"single": single, "plain": plain, "several": several}


SITUATIONS = []


def situation(base):
    def note(function):
        SITUATIONS.append((function.__name__.replace("_", "-"), base, function))
        return function
    return note


def points(record):
    return [point for run in record["runs"] for point in run["points"]]


def on_115(record):
    return [run for run in record["runs"] if line_of(run) == 115]


def is_whole(record, run):
    return len(ports_used(run)) == len(record["unit"]["ports"])


# ------------------------------------------------------------ what is missing


@situation("single")
def no_runs(r):
    r["runs"] = []


@situation("single")
def nothing_measured(r):
    for key in ("runs", "temperatures", "instruments", "overloads", "sharing"):
        r[key] = []


@situation("single")
def unit_without_ports_and_runs_without_loads(r):
    r["unit"]["ports"] = []
    r["overloads"] = r["sharing"] = []
    for run in r["runs"]:
        run["rated_outputs"] = run["points"] = []


@situation("single")
def every_run_holds_no_load_only(r):
    for run in r["runs"]:
        run["points"] = []


@situation("plain")
def one_supply_holds_no_load_only(r):
    for run in on_115(r):
        run["points"] = []


@situation("single")
def lowest_voltage_holds_no_load_only(r):
    for run in r["runs"]:
        if run["rated_outputs"][0]["voltage_v"] == 5:
            run["points"] = []


@situation("several")
def all_ports_runs_without_loads(r):
    for run in r["runs"]:
        if is_whole(r, run):
            run["points"] = []


@situation("single")
def a_second_no_load_reading(r):
    again = copy.deepcopy(r["runs"][0])
    again.update(name="idle again", points=[])
    again["no_load"]["power_w"] *= 1.5
    r["runs"].append(again)


@situation("single")
def readings_missing_here_and_there(r):
    first, second = r["runs"][:2]
    first["points"] = [p for p in first["points"] if p["load_percent"] != 50]
    del second["points"][0]["input"]["power_w"]
    del second["points"][1]["outputs"][0]["voltage_v"]


@situation("single")
def full_load_only(r):
    for run in r["runs"]:
        run["points"] = run["points"][:1]


@situation("single")
def no_line_voltage_nor_current(r):
    for point in points(r):
        for key in ("voltage_v", "current_a"):
            del point["input"][key]


@situation("single")
def power_factor_from_volts_and_amperes(r):
    for point in points(r):
        del point["input"]["power_factor"]


@situation("single")
def nameplate_without_input(r):
    for key in ("input_voltage_min_v", "input_voltage_max_v", "input_current_a"):
        del r["unit"]["nameplate"][key]


@situation("single")
def temperature_at_an_unknown_load(r):
    for temperature in r["temperatures"]:
        del temperature["load_w"]


# ------------------------------------------------------------ instruments


@situation("several")
def no_instruments(r):
    r["instruments"] = []


@situation("several")
def instruments_of_the_output_only(r):
    r["instruments"] = [i for i in r["instruments"] if i["quantity"].startswith("output")]


@situation("single")
def readings_above_every_range(r):
    for instrument in r["instruments"]:
        if instrument["quantity"] == "input_power_w":
            instrument["range"] = 20.0


@situation("single")
def instruments_without_any_error(r):
    for instrument in r["instruments"]:
        instrument.update(reading_percent=0.0, range_percent=0.0, fixed=0.0)


@situation("single")
def instruments_of_fifty_percent(r):
    for instrument in r["instruments"]:
        instrument["reading_percent"] = 50.0


@situation("single")
def two_rows_of_one_range(r):
    r["instruments"] += [dict(i, reading_percent=3 * i["reading_percent"])
                         for i in r["instruments"]]


# ------------------------------------------------------------ zeros and edges


@situation("single")
def no_load_reads_zero(r):
    for run in r["runs"]:
        run["no_load"]["power_w"] = 0.0


@situation("single")
def a_point_without_any_power(r):
    point = r["runs"][0]["points"][0]
    point["input"]["power_w"] = 0.0
    for output in point["outputs"]:
        output["current_a"] = 0.0


@situation("single")
def a_point_without_line_volts_and_amperes(r):
    r["runs"][0]["points"][0]["input"].update(voltage_v=0.0, current_a=0.0, current_peak_a=0.0)


@situation("single")
def a_point_without_output(r):
    for output in r["runs"][0]["points"][0]["outputs"]:
        output.update(voltage_v=0.0, current_a=0.0)


@situation("single")
def power_factor_zero(r):
    for point in points(r):
        point["input"]["power_factor"] = 0.0


@situation("single")
def power_factor_next_to_zero(r):
    for point in points(r):
        point["input"]["power_factor"] = 1e-12


@situation("single")
def power_factor_one(r):
    for point in points(r):
        point["input"]["power_factor"] = 1.0


@situation("single")
def power_factor_one_at_full_load(r):
    r["runs"][0]["points"][0]["input"]["power_factor"] = 1.0


@situation("single")
def a_unit_without_losses(r):
    for point in points(r):
        point["input"]["power_w"] = sum(
            o["voltage_v"] * o["current_a"] for o in point["outputs"])
    for run in r["runs"]:
        run["no_load"]["power_w"] = 0.0


@situation("single")
def colder_than_the_room(r):
    for temperature in r["temperatures"]:
        temperature.update(hot_spot_c=10.0, surface_c=9.0)


@situation("single")
def full_load_not_held(r):
    for point in (run["points"][0] for run in on_115(r)):
        point["input"]["power_w"] *= 0.92
        for output in point["outputs"]:
            output["current_a"] *= 0.9


# ------------------------------------------------------------ loads


@situation("single")
def a_load_that_stands_twice(r):
    again = copy.deepcopy(r["runs"][0]["points"][0])
    again["input"]["power_w"] += 3
    r["runs"][0]["points"].append(again)


@situation("single")
def two_loads_equally_near(r):
    r["runs"][0]["points"][0]["load_percent"] = 99.0
    again = copy.deepcopy(r["runs"][0]["points"][0])
    again["load_percent"] = 101.0
    again["input"]["power_w"] += 3
    r["runs"][0]["points"].append(again)


@situation("single")
def loads_beyond_the_tolerance(r):
    r["runs"][0]["points"][0]["load_percent"] = 97.5
    r["runs"][0]["points"][4]["load_percent"] = 8.9


# ------------------------------------------------------------ power and category


def shrink(r, factor):
    unit = r["unit"]
    output = r["runs"][0]["rated_outputs"][0]
    watts = output["voltage_v"] * output["current_a"] * factor
    unit["nameplate"]["output_power_w"] = unit["ports"][0]["power_w"] = watts
    for mode in unit["ports"][0]["modes"]:
        mode["current_a"] *= factor
    for run in r["runs"]:
        for rated in run["rated_outputs"]:
            rated["current_a"] *= factor
        for point in run["points"]:
            for key in ("power_w", "current_a", "current_peak_a"):
                point["input"][key] *= factor
            for reading in point["outputs"]:
                reading["current_a"] *= factor


@situation("plain")
def nameplate_of_a_third_of_a_watt(r):
    output = r["runs"][0]["rated_outputs"][0]
    shrink(r, 0.3 / (output["voltage_v"] * output["current_a"]))
    r["unit"]["nameplate"]["output_power_w"] = 0.3


@situation("single")
def nameplate_of_500_w(r):
    r["unit"]["nameplate"]["output_power_w"] = 500.0


@situation("single")
def nameplate_at_the_edge_of_250_w(r):
    r["unit"]["nameplate"]["output_power_w"] = 250.0


@situation("single")
def nameplate_at_the_edge_of_49_w(r):
    r["unit"]["nameplate"]["output_power_w"] = 49.0


@situation("several")
def nameplate_below_its_runs(r):
    r["unit"]["nameplate"]["output_power_w"] = 30.0


@situation("several")
def chosen_as_basic(r):
    r["unit"]["category"] = {"value": "basic", "reason": "outputs hang together"}


@situation("single")
def chosen_as_multiple(r):
    r["unit"]["category"] = {"value": "multiple", "reason": "to see what follows"}


@situation("plain")
def chosen_as_what_it_is(r):
    r["unit"]["category"] = {"value": "low", "reason": "below 6 V"}


# ------------------------------------------------------------ supplies and runs


@situation("single")
def off_the_supply(r):
    for run in on_115(r):
        run["line"] = {"voltage_v": 100.0, "frequency_hz": 50.0}


@situation("single")
def near_the_supply(r):
    for run in on_115(r):
        run["line"] = {"voltage_v": 120.0, "frequency_hz": 60.0}


@situation("single")
def right_volts_wrong_hertz(r):
    for run in on_115(r):
        run["line"]["frequency_hz"] = 50.0


@situation("single")
def one_supply_only(r):
    r["runs"] = [run for run in r["runs"] if line_of(run) == 230]


@situation("single")
def nameplate_of_one_supply(r):
    r["unit"]["nameplate"].update(input_voltage_min_v=200.0, input_voltage_max_v=240.0)


@situation("single")
def lowest_voltage_not_tested(r):
    r["runs"] = [run for run in r["runs"] if run["rated_outputs"][0]["voltage_v"] != 5]


@situation("single")
def one_voltage_tested(r):
    volts = r["runs"][0]["rated_outputs"][0]["voltage_v"]
    r["runs"] = [run for run in r["runs"] if run["rated_outputs"][0]["voltage_v"] == volts]


@situation("several")
def several_ports_at_one_voltage(r):
    volts = r["runs"][0]["rated_outputs"][0]["voltage_v"]
    r["runs"] = [run for run in r["runs"] if run["rated_outputs"][0]["voltage_v"] == volts]


@situation("several")
def ports_one_by_one_only(r):
    r["runs"] = [run for run in r["runs"] if not is_whole(r, run)]


@situation("several")
def one_port_left_out_of_every_run(r):
    for run in r["runs"]:
        run["rated_outputs"] = run["rated_outputs"][:2]


def main(arguments):
    if len(arguments) != 2:
        print(__doc__)
        return 2
    records = bases(Path(arguments[0]))
    target = Path(arguments[1])
    target.mkdir(parents=True, exist_ok=True)
    for name, base, bend in SITUATIONS:
        record = copy.deepcopy(records[base])
        record["unit"]["model"] = f"odd: {name}"
        bend(record)
        path = target / f"{name}.json"
        path.write_text(json.dumps(record, indent=1))
        print(path)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
