#!/usr/bin/env python3
"""Odd situations for the cross-check: each bends a demo record in one way.

    odd_records.py SEED_DATA_DIRECTORY OUTPUT_DIRECTORY

Writes one record a situation, named after it, and prints the file names. The base records are
chosen by what they are, not by name, so that the demo data may change.
"""

import copy
import json
import math
import sys
from pathlib import Path

import random_reports


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
# Bench reports put together by chance, the same every time.
RANDOM = 120


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
    r["overloads"] = r["sharing"] = r["measurements"] = []
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


# ------------------------------------------------------------ overloads


def overload(r, steps, **more):
    """One test of the first port at its highest voltage: steps as (set, current, voltage, state)."""
    port = r["unit"]["ports"][0]
    top = max((m for m in port["modes"] if m["kind"] == "fixed"), key=lambda m: m["voltage_v"])
    names = ("set_current_a", "current_a", "voltage_v", "state")
    r["overloads"] = [{
        "port": port["label"], "voltage_v": top["voltage_v"],
        "rated_current_a": top["current_a"],
        "steps": [{n: x for n, x in zip(names, step) if x is not None} for step in steps], **more}]
    return top["voltage_v"], top["current_a"]


def without(test, *keys):
    for key in keys:
        test.pop(key, None)


@situation("single")
def overload_with_nothing_but_its_port(r):
    r["overloads"] = [{"port": r["unit"]["ports"][0]["label"]}]


@situation("single")
def overload_of_one_good_step(r):
    v, a = overload(r, [])
    overload(r, [(a, a, v, "on")])


@situation("single")
def overload_that_trips_at_the_first_step(r):
    v, a = overload(r, [])
    overload(r, [(a / 2, 0.0, 0.0, "off"), (a, 0.0, 0.0, "off")])


@situation("single")
def overload_that_trips_at_its_rating(r):
    v, a = overload(r, [])
    overload(r, [(a / 2, a / 2, v, None), (a, 0.0, 0.0, None)])


@situation("single")
def overload_stated_to_trip_at_its_rating(r):
    v, a = overload(r, [])
    overload(r, [], trip_current_a=a)


@situation("single")
def overload_that_trips_within_its_uncertainty(r):
    v, a = overload(r, [])
    overload(r, [], trip_current_a=a + 1e-4)
    r["overloads"].append({**r["overloads"][0], "trip_current_a": a - 1e-4})


@situation("single")
def overload_that_never_trips(r):
    v, a = overload(r, [])
    overload(r, [(a * k, a * k, v, None) for k in (0, 0.5, 1, 1.5)])


@situation("single")
def overload_not_loaded_up_to_its_rating(r):
    v, a = overload(r, [])
    overload(r, [(a * k, a * k, v, None) for k in (0, 0.5)])


@situation("single")
def overload_states_left_to_the_readings(r):
    v, a = overload(r, [])
    overload(r, [(0.0, 0.0, v, None), (a, a, v, None), (1.1 * a, 1.09 * a, 0.9 * v, None),
                 (1.2 * a, 0.5 * a, 0.4 * v, None), (1.3 * a, 0.01, 0.02, None)])


@situation("single")
def overload_read_in_part(r):
    v, a = overload(r, [])
    overload(r, [(a / 2, None, v, None), (a, a, None, None), (1.1 * a, None, None, None),
                 (1.2 * a, None, 0.0, None), (1.3 * a, 0.0, None, None)])


@situation("single")
def overload_held_to_four_fifths(r):
    v, a = overload(r, [])
    overload(r, [(a, a, v, "on"), (1.2 * a, 0.8 * a, v / 2, "limited")])
    more = r["overloads"][0]
    overload(r, [(a, a, v, "on"), (1.2 * a, 0.799 * a, v / 2, "limited")])
    r["overloads"].append(more)


@situation("single")
def overload_that_recovers_between_its_steps(r):
    v, a = overload(r, [])
    overload(r, [(a, a, v, "on"), (1.1 * a, None, None, "cycling"), (1.2 * a, 1.2 * a, v, "on"),
                 (1.3 * a, 0.0, 0.0, "off")])


@situation("single")
def overload_limited_without_a_current(r):
    v, a = overload(r, [])
    overload(r, [(a, a, v, "on"), (1.1 * a, None, v / 2, "limited")])


@situation("single")
def overload_on_though_its_voltage_sags(r):
    v, a = overload(r, [])
    overload(r, [(a / 2, a / 2, v, "on"), (a, a, 0.94 * v, "on")])


@situation("single")
def overload_that_contradicts_itself(r):
    v, a = overload(r, [])
    overload(r, [(a, a, v, "on"), (1.1 * a, 0.0, 0.0, "off")], protection="foldback",
             trip_current_a=1.3 * a)


@situation("single")
def overload_rated_by_the_list_and_by_the_label(r):
    v, a = overload(r, [])
    overload(r, [(a, a, v, "on"), (1.1 * a, 0.0, 0.0, "off")])
    without(r["overloads"][0], "rated_current_a")
    again = copy.deepcopy(r["overloads"][0])
    again["voltage_v"] = 17.3
    r["overloads"].append(again)
    r["unit"]["ports"][0].pop("source_capabilities", None)
    r["unit"]["ports"][0]["source_capabilities"] = ["0x0801912C"]


@situation("single")
def overload_without_a_voltage(r):
    v, a = overload(r, [])
    overload(r, [(a, a, v, None), (1.1 * a, 0.0, 0.0, None)])
    without(r["overloads"][0], "voltage_v")


@situation("single")
def overload_of_nothing(r):
    v, a = overload(r, [])
    overload(r, [(0.0, 0.0, 0.0, None), (0.0, 0.0, v, None)], rated_current_a=0.0)


@situation("single")
def overload_above_sixty_volts(r):
    overload(r, [(1.0, 1.0, 60.0, "on"), (2.0, 2.0, 60.0, "on")], voltage_v=60.0)


@situation("single")
def overload_without_instruments(r):
    v, a = overload(r, [])
    overload(r, [(a, a, v, "on"), (1.05 * a, 0.0, 0.0, "off")])
    r["instruments"] = []


@situation("single")
def overload_power_without_steps(r):
    overload(r, [], last_good_power_w=99.0)
    r["overloads"].append({**r["overloads"][0], "last_good_power_w": 15.0,
                           "trip_current_a": 3.2})


@situation("single")
def overload_stated_beyond_its_steps(r):
    v, a = overload(r, [])
    overload(r, [(0.8 * a, 0.8 * a, v, None)], trip_current_a=3 * a)
    first = r["overloads"][0]
    overload(r, [(0.8 * a, 0.8 * a, v, None)], trip_current_a=1.1 * a,
             last_good_power_w=1.05 * a * v)
    r["overloads"].append(first)
    r["overloads"].append({**first, "trip_current_a": 0.5 * a})


@situation("single")
def overload_off_inside_the_rating_though_stated_above(r):
    v, a = overload(r, [])
    overload(r, [(0.6 * a, 0.6 * a, v, None), (0.8 * a, 0.0, 0.0, "off")],
             trip_current_a=1.2 * a)


@situation("single")
def overload_whose_load_falls(r):
    v, a = overload(r, [])
    overload(r, [(1.2 * a, 1.2 * a, v, None), (a, a, v, None), (0.8 * a, 0.0, 0.0, None)])
    falling = r["overloads"][0]
    overload(r, [(1.2 * a, 0.0, 0.0, None), (a, a, v, None), (0.0, 0.0, 0.0, None)])
    r["overloads"].append(falling)


@situation("single")
def overload_on_though_little_flowed(r):
    v, a = overload(r, [])
    overload(r, [(a, 0.4 * a, v, "on")])
    first = r["overloads"][0]
    overload(r, [(a, 0.985 * a, v, "on"), (1.1 * a, 0.0, 0.0, None)])
    r["overloads"].append(first)
    r["overloads"].append({**first, "steps": first["steps"] + [
        {"set_current_a": 1.2 * a, "current_a": 0.0, "voltage_v": 0.0}]})


@situation("single")
def overload_at_half_the_voltage(r):
    v, a = overload(r, [])
    overload(r, [(a, a, v / 2, "on"), (1.5 * a, 0.0, 0.0, "off")])


@situation("single")
def overload_of_a_port_that_was_off(r):
    v, a = overload(r, [])
    overload(r, [(0.0, 0.0, 0.0, None), (a, 0.0, 0.0, None)], trip_current_a=2 * a)
    r["overloads"].append({**r["overloads"][0], "voltage_v": 0.0})


@situation("single")
def overload_below_the_first_class(r):
    overload(r, [(1.0, 1.0, 5.0, None), (2.0, 2.0, 5.0, None)], voltage_v=5.0)
    first = r["overloads"][0]
    overload(r, [(1.0, 1.0, 5.0, None), (2.0, 2.0, 5.0, None), (2.4, 0.0, 0.0, None)],
             voltage_v=5.0)
    r["overloads"].append(first)


@situation("single")
def overload_within_adjustable_ranges(r):
    overload(r, [], trip_current_a=3.4)
    first = r["overloads"][0]
    without(first, "rated_current_a")
    port = r["unit"]["ports"][0]
    port["modes"] = [{"kind": "pps", "voltage_min_v": 3.3, "voltage_max_v": 11, "current_a": 3}]
    r["overloads"] = [{**first, "voltage_v": x} for x in (3.3, 7.0, 11.0, 12.5, 16.0, 24.0)]
    # 5 V 3 A; 3.3 V to 11 V 3 A held to the power; 9 V to 15 V 3 A and to 20 V 2.25 A;
    # 15 V to 28 V 140 W
    port["source_capabilities"] = ["0x0801912C", "0xC8DC213C", "0xE004B0E1", "0xD230968C"]


@situation("single")
def measurements_of_a_phone_charger(r):
    r["unit"]["nameplate"]["output_power_w"] = 7.5
    port = r["unit"]["ports"][0]
    port["power_w"] = 7.5
    port["modes"] = [{"kind": "fixed", "voltage_v": 5, "current_a": 1.5}]
    without(port, "source_capabilities")
    r["measurements"] = [
        {"quantity": "ripple_mv", "value": 78.0, "voltage_v": 5.0, "accuracy": 4.0},
        {"quantity": "ripple_mv", "value": 78.0, "voltage_v": 9.0},
        {"quantity": "touch_current_ua", "value": 91.0}]


# ------------------------------------------------------------ temperatures


def warm(r, course, ambient=24.0, **more):
    """Temperatures from (minutes, rise)."""
    r["temperatures"] = [
        {key: x for key, x in {"load_w": 60.0, "minutes": minutes, "ambient_c": ambient,
                               "hot_spot_c": None if rise is None else round(24.0 + rise, 1),
                               "where": "top face", **more}.items() if x is not None}
        for minutes, rise in course]


def rising(final, constant, minutes):
    return [(m, final * (1 - math.exp(-m / constant))) for m in minutes]


@situation("single")
def warming_to_a_steady_state(r):
    warm(r, rising(42, 9, range(0, 91, 10)), material="plastic")


@situation("single")
def warming_cut_short_and_extrapolated(r):
    warm(r, rising(55, 20, range(0, 46, 5)), material="metal")


@situation("single")
def warming_cut_before_one_time_constant(r):
    warm(r, rising(55, 60, range(0, 31, 5)), material="wood")


@situation("single")
def warming_with_three_readings(r):
    warm(r, rising(40, 12, (0, 15, 30)))


@situation("single")
def warming_with_four_readings(r):
    warm(r, rising(40, 12, (0, 8, 16, 24)), material="glass")


@situation("single")
def warming_without_ambient(r):
    warm(r, rising(40, 12, range(0, 61, 10)), ambient=None)


@situation("single")
def warming_with_one_ambient_missing(r):
    warm(r, rising(40, 12, range(0, 61, 10)))
    del r["temperatures"][2]["ambient_c"]


@situation("single")
def warming_whose_last_ambient_is_missing(r):
    warm(r, rising(40, 12, range(0, 61, 10)))
    del r["temperatures"][-1]["ambient_c"]


@situation("single")
def warming_in_a_cold_room(r):
    warm(r, rising(40, 12, range(0, 61, 10)), ambient=19.9)


@situation("single")
def warming_in_a_room_of_30_c(r):
    warm(r, rising(80, 12, range(0, 61, 10)), ambient=30.0)


@situation("single")
def cooling(r):
    warm(r, [(m, 40 * math.exp(-m / 15)) for m in range(0, 31, 5)])


@situation("single")
def warming_in_a_straight_line(r):
    warm(r, [(m, m / 2) for m in range(0, 61, 10)])


@situation("single")
def no_warming_at_all(r):
    warm(r, [(m, 30.0) for m in range(0, 61, 10)])


@situation("single")
def warming_by_exactly_one_kelvin_in_ten_minutes(r):
    warm(r, [(0, 30.0), (10, 31.0)])


@situation("single")
def up_and_down_again_is_not_steady(r):
    warm(r, [(0, 30.0), (30, 40.0), (35, 43.0), (40, 40.2)])


@situation("single")
def one_temperature_without_minutes(r):
    warm(r, [(None, 54.0)])


@situation("single")
def minutes_that_do_not_rise(r):
    warm(r, [(0, 1.0), (10, 20.0), (10, 21.0), (5, 12.0), (15, 25.0)])


@situation("single")
def two_places_turn_by_turn(r):
    warm(r, rising(40, 12, range(0, 61, 10)))
    other = copy.deepcopy(r["temperatures"])
    for entry in other:
        entry.update({"where": "prongs", "surface_c": entry["hot_spot_c"] - 6})
    r["temperatures"] = [e for pair in zip(r["temperatures"], other) for e in pair]


@situation("single")
def thermometer_of_unknown_accuracy(r):
    warm(r, rising(40, 12, range(0, 91, 10)))
    r["instruments"] = [i for i in r["instruments"] if i["quantity"] != "temperature_c"]


@situation("single")
def warming_that_fell_again(r):
    warm(r, [(0, 6.0), (10, 46.0), (20, 68.0), (30, 71.0), (40, 46.0), (50, 45.8), (60, 45.7)])


@situation("single")
def a_peak_before_the_ambient_was_not_read_any_more(r):
    warm(r, [(45, 71.0), (60, 36.0)])
    del r["temperatures"][-1]["ambient_c"]


@situation("single")
def a_noisy_fit_by_a_thermometer_of_unknown_accuracy(r):
    warm(r, [(0, 0.0), (5, 26.0), (10, 31.0), (15, 42.0)])
    r["instruments"] = [i for i in r["instruments"] if i["quantity"] != "temperature_c"]


@situation("single")
def slow_warming_that_looks_steady(r):
    warm(r, rising(54, 60, range(0, 161, 10)))


@situation("single")
def temperatures_newest_first(r):
    warm(r, reversed(rising(42, 9, range(0, 91, 10))))


@situation("single")
def a_hot_spot_read_at_the_start_alone(r):
    warm(r, [(0, 6.0)])


@situation("single")
def a_surface_hotter_than_its_hot_spot(r):
    warm(r, [(50, 46.0), (60, 46.2)], surface_c=90.0)


@situation("single")
def warming_onto_the_figures_themselves(r):
    warm(r, [(0, 51.0), (30, 52.0), (45, 52.0)])
    for entry in r["temperatures"]:
        entry["ambient_c"] = 25.0
        entry["hot_spot_c"] = 77.0


# ------------------------------------------------------------ sharing


def ports_of(r, *labels, group=None):
    """Plain USB-C ports, so that any offer may stand in the record."""
    r["unit"]["ports"] = [{"label": label, "connector": "usb-c", "modes": [
        {"kind": "fixed", "voltage_v": 5.0, "current_a": 3.0}],
        **({"share_group": group} if group else {})} for label in labels]
    r["runs"] = r["overloads"] = r["measurements"] = []


def share(r, *observations, **more):
    r["sharing"] = [{"ports_in_use": list(o), "offers": [
        {"port": p, "power_w": float(w)} for p, w in o.items() if w is not None], **more}
        for o in observations]


@situation("several")
def three_ports_observed_in_part(r):
    ports_of(r, "A", "B", "C")
    share(r, {"A": 65}, {"A": 45, "B": 20}, {"A": 45, "B": 20, "C": 15})


@situation("several")
def three_ports_in_pairs_only(r):
    ports_of(r, "A", "B", "C")
    share(r, {"A": 45, "B": 20}, {"B": 20, "C": 20}, {"A": 45, "C": 20})


@situation("several")
def ports_observed_from_all_to_one(r):
    ports_of(r, "A", "B", "C")
    share(r, {"A": 20, "B": 20, "C": 15}, {"A": 20, "B": 20}, {"A": 20, "C": 15},
          {"B": 20, "C": 15}, {"A": 65}, {"B": 30}, {"C": 15})


@situation("several")
def sharing_without_any_offer(r):
    ports_of(r, "A", "B")
    share(r, {"A": None}, {"A": None, "B": None})


@situation("several")
def one_offer_of_a_combination_missing(r):
    ports_of(r, "A", "B", "C")
    share(r, {"A": 65}, {"B": 30}, {"A": 45, "B": None}, {"A": 30, "B": None, "C": 15})


@situation("several")
def ports_that_held_and_yet_were_disturbed(r):
    ports_of(r, "A", "B")
    share(r, {"A": 65}, {"B": 30}, {"A": 45, "B": 20}, {"A": 45, "B": 20}, {"A": 45, "B": 20})
    r["sharing"][2].update(attached="B", on_attach="held", reset_ports=["A"])
    r["sharing"][3].update(attached="B", on_attach="held", on_detach="reset", reset_ports=["A"])
    r["sharing"][4].update(attached="B", on_detach="held", reset_ports=["B"],
                           lowest_voltage_v=0.8)


@situation("several")
def a_combination_offered_otherwise_in_another_order(r):
    ports_of(r, "A", "B")
    share(r, {"A": 65}, {"B": 65}, {"A": 45, "B": 20}, {"A": 20, "B": 45})
    r["sharing"][2]["attached"], r["sharing"][3]["attached"] = "B", "A"


@situation("several")
def delivered_power_alone_beyond_the_nameplate(r):
    ports_of(r, "A", "B")
    share(r, {"A": None, "B": None})
    r["unit"]["nameplate"]["output_power_w"] = 100.0
    r["sharing"][0]["delivered_power_w"] = 180.0


@situation("several")
def an_only_port_among_its_combinations(r):
    ports_of(r, "A")
    share(r, {"A": 65})


@situation("several")
def offers_that_differ_by_just_half_a_watt(r):
    ports_of(r, "A", "B", "C")
    share(r, {"A": 65}, {"B": 20}, {"C": 15}, {"A": 64.5, "B": 20}, {"A": 64.4, "C": 15},
          {"B": 20, "C": 15}, {"A": 64.4, "B": 20, "C": 15})


@situation("several")
def only_the_voltage_changes(r):
    ports_of(r, "A", "B")
    share(r, {"A": 45}, {"B": 20}, {"A": 45, "B": 20})
    for observation, volts in zip(r["sharing"], (20.0, 9.0, 15.0)):
        observation["offers"][0]["voltage_max_v"] = volts


@situation("several")
def three_ports_two_of_which_change_the_third_together(r):
    ports_of(r, "A", "B", "C")
    share(r, {"A": 65}, {"B": 20}, {"C": 20}, {"A": 45, "B": 20, "C": 20})


@situation("several")
def an_offer_that_rises_with_another_port(r):
    ports_of(r, "A", "B", "C")
    share(r, {"A": 30}, {"B": 20}, {"A": 45, "B": 20}, {"A": 30, "B": 20, "C": 15},
          {"A": 30, "C": 15})


@situation("several")
def a_label_of_one_group_for_ports_that_do_not_share(r):
    ports_of(r, "A", "B", group="all")
    share(r, {"A": 30}, {"B": 20}, {"A": 30, "B": 20}, attached="B", on_attach="reset",
          reset_ports=["A"])
    for observation in r["sharing"][:2]:
        without(observation, "attached", "reset_ports", "on_attach")


@situation("several")
def combinations_beyond_label_and_nameplate(r):
    ports_of(r, "A", "B")
    r["unit"]["nameplate"]["output_power_w"] = 60.0
    r["unit"]["ports"][0]["power_w"] = 45.0
    share(r, {"A": 65}, {"B": 5}, {"A": 45, "B": 20}, {"A": 45, "B": 15})
    r["sharing"][3]["delivered_power_w"] = 66.0


@situation("several")
def six_ports_and_one_observation(r):
    ports_of(r, *"ABCDEF")
    share(r, {p: 15 for p in "ABCDEF"})


# ------------------------------------------------------------ ports


def listed(r, *words, rating=None, connector="usb-c", modes=()):
    """One port with this list, and nothing measured."""
    r["unit"]["ports"] = [{"label": "C1", "connector": connector, "power_w": rating,
                           "source_capabilities": [f"0x{w:08X}" for w in words],
                           "modes": list(modes)}]
    for key in [k for k, x in r["unit"]["ports"][0].items() if x is None]:
        del r["unit"]["ports"][0][key]
    r["runs"] = r["overloads"] = r["sharing"] = []


SPR_45 = (0x0801912C, 0x0002D12C, 0x0004B12C, 0x000640E1)
EPR_240 = (0x0A91912C, 0x0002D12C, 0x0004B12C, 0x001641F4, 0xC9A43264, 0, 0, 0x0018C1F4,
           0x001B41F4, 0x001F01F4)


@situation("several")
def a_list_of_zeros_alone(r):
    listed(r, 0, 0, rating=15.0)


@situation("several")
def objects_that_offer_the_same(r):
    listed(r, 0x0801912C, 0x0001912C, 0x0002D12C, 0x0002D12C, rating=27.0)


@situation("several")
def power_delivery_on_a_usb_a_port(r):
    listed(r, 0x0801912C, 0x0002D12C, rating=18.0, connector="usb-a")


@situation("single")
def list_of_a_captured_45_w_source(r):
    listed(r, *SPR_45, 0xC8DC2128, 0xC940213C, 0xC9A4212D, rating=45.0)


@situation("single")
def list_of_an_extended_source_in_chunks(r):
    listed(r, *EPR_240, rating=240.0)


@situation("single")
def list_of_an_extended_source_with_its_adjustable_supply(r):
    listed(r, 0x0A91912C, 0x0002D12C, 0x0004B12C, 0x000641F4, 0, 0, 0, 0x0008C1F4, 0xD230968C,
           rating=140.0)


@situation("single")
def list_whose_standard_part_alone_was_read(r):
    listed(r, *EPR_240[:5], rating=240.0)


@situation("single")
def list_without_a_rating(r):
    listed(r, *SPR_45)
    r["unit"]["ports"].append({"label": "A1"})


@situation("single")
def list_of_zeros(r):
    listed(r, 0, 0, 0)


@situation("single")
def list_that_does_not_begin_at_5_v(r):
    listed(r, *SPR_45[1:], rating=45.0)


@situation("single")
def list_in_falling_order(r):
    listed(r, *SPR_45[::-1], rating=45.0)


@situation("single")
def list_with_a_hole(r):
    listed(r, SPR_45[0], 0, *SPR_45[1:], rating=45.0)


@situation("single")
def extended_objects_in_the_standard_places(r):
    listed(r, *EPR_240[:4], 0x0018C1F4, rating=140.0)


@situation("single")
def list_of_every_kind(r):
    listed(r, 0x0801912C, 0x0003C12C, 0x40300801, 0x80300801, 0xC9402128, 0xE004B145,
           rating=60.0)


@situation("single")
def list_that_ends_below_20_v_for_65_w(r):
    listed(r, *SPR_45[:3], rating=65.0)


@situation("single")
def list_with_more_current_than_its_rating(r):
    listed(r, 0x080191F4, 0x0002D1F4, 0x0004B1F4, 0x000641F4, 0xC1A4326E, rating=45.0)


@situation("single")
def programmable_range_of_no_standard(r):
    listed(r, *SPR_45[:2], 0xC8F03C28, rating=20.0)


@situation("single")
def rating_beyond_all_tables(r):
    listed(r, *EPR_240, rating=300.0)


@situation("single")
def rating_between_standard_and_extended(r):
    listed(r, *SPR_45[:3], 0x000641F4, rating=100.5)


@situation("single")
def label_and_list_that_differ(r):
    listed(r, *SPR_45, 0xC940213C, rating=45.0, modes=[
        {"kind": "fixed", "voltage_v": 5.0, "current_a": 3.0},
        {"kind": "fixed", "voltage_v": 12.0, "current_a": 3.0},
        {"kind": "fixed", "voltage_v": 20.0, "current_a": 2.5},
        {"kind": "pps", "voltage_min_v": 5.0, "voltage_max_v": 16.0, "current_a": 3.0}])


@situation("single")
def label_of_an_extended_port_alone(r):
    listed(r, rating=140.0, modes=[
        {"kind": "fixed", "voltage_v": v, "current_a": a}
        for v, a in ((5.0, 3.0), (9.0, 3.0), (15.0, 3.0), (20.0, 5.0), (28.0, 5.0))])


@situation("single")
def list_on_a_port_without_a_connector(r):
    ports = r["unit"]["ports"]
    ports[0].pop("connector", None)


@situation("single")
def list_on_a_usb_a_port(r):
    r["unit"]["ports"][0].update(connector="usb-a", source_capabilities=["0x0801912C"])


@situation("single")
def barrel_output(r):
    r["unit"]["ports"][0].update(connector="barrel", source_capabilities=[])


@situation("single")
def voltages_at_the_edges_of_their_windows(r):
    for run in r["runs"]:
        nominal = run["rated_outputs"][0]["voltage_v"]
        for point, share in zip(run["points"], (0.95, 1.05, 0.9499, 1.0502, 1.0)):
            point["outputs"][0]["voltage_v"] = round(nominal * share, 5)


@situation("plain")
def a_charging_port_that_droops(r):
    r["runs"][0]["points"][0]["outputs"][0].update(voltage_v=3.9, current_a=1.2)


@situation("single")
def readings_without_a_current(r):
    for point in points(r):
        without(point["outputs"][0], "current_a")


# ------------------------------------------------------------ other measurements


@situation("single")
def other_measurements_of_every_kind(r):
    r["measurements"] = [
        {"quantity": "ripple_mv", "value": 79.0, "voltage_v": 5.0, "accuracy": 2.0},
        {"quantity": "ripple_mv", "value": 80.0, "voltage_v": 5.0},
        {"quantity": "ripple_mv", "value": 80.1, "voltage_v": 5.0, "accuracy": 0.0},
        {"quantity": "ripple_mv", "value": 30.0, "voltage_v": 5.005},
        {"quantity": "ripple_mv", "value": 30.0},
        {"quantity": "touch_current_ua", "value": 131.0, "accuracy": 40.0},
        {"quantity": "load_regulation_percent", "value": -1.5, "port": r["unit"]["ports"][0]["label"]},
        {"quantity": "line_regulation_percent", "value": 0.0},
        {"quantity": "turn_on_delay_ms", "value": 400.0, "line_voltage_v": 115.0},
        {"quantity": "hold_up_ms", "value": 18.0, "load_percent": 100.0, "note": "x"},
        {"quantity": "inrush_a", "value": 31.0}, {"quantity": "acoustic_noise_dba", "value": 18.0}]


@situation("single")
def neither_size_nor_mass(r):
    without(r["unit"], "size_mm", "mass_g")


@situation("single")
def size_without_mass(r):
    without(r["unit"], "mass_g")


@situation("single")
def mass_of_the_cord_alone(r):
    r["unit"]["mass_g"] = {"cord": 90.0}


# ------------------------------------------------------------ what must be refused


@situation("single")
def refused_reserved_kind_of_object(r):
    listed(r, *SPR_45, 0xF0000401, rating=45.0)


@situation("single")
def refused_reserved_bit_of_a_fixed_object(r):
    listed(r, SPR_45[0], SPR_45[1] | 1 << 22, rating=45.0)


@situation("single")
def refused_range_that_ends_below_its_beginning(r):
    listed(r, SPR_45[0], 0xC021A53C, rating=45.0)


@situation("single")
def refused_word_of_seven_digits(r):
    listed(r, *SPR_45, rating=45.0)
    r["unit"]["ports"][0]["source_capabilities"][1] = "0x002D12C"


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
    for number in range(RANDOM):
        record = random_reports.report(copy.deepcopy(records["plain"]), number)
        path = target / f"random-{number:03}.json"
        path.write_text(json.dumps(record, indent=1))
        print(path)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
