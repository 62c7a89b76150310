"""Bench reports put together by chance: lists, combinations, steps and temperatures that nobody
would think of, from a seed.
"""

import math
import random


def fixed(volts, amperes, flags=0):
    return flags << 23 | round(volts * 20) << 10 | round(amperes * 100)


def pps(chance):
    low, high = chance.choice((3.0, 3.3, 5.0, 4.5)), chance.choice((5.9, 11.0, 16.0, 21.0, 12.0))
    return (0b11 << 30 | chance.choice((0, 1)) << 27 | round(high * 10) << 17 | round(low * 10) << 8
            | chance.randint(10, 100))


def augmented(chance):
    if chance.random() < 0.5:
        return 0b1110 << 28 | chance.choice((0, 150, 300)) << 10 | chance.choice((0, 225, 325))
    high = chance.choice((150, 200, 280, 360, 480))
    return 0b1101 << 28 | high << 17 | 150 << 8 | chance.randint(30, 240)


def words(chance):
    """A list that is often right, sometimes not."""
    volts = [v for v in (5, 9, 12, 15, 20) if v == 5 or chance.random() < 0.7]
    found = [fixed(v, chance.choice((1.5, 2.22, 2.25, 3.0, 3.25, 5.0))) for v in volts]
    found += [pps(chance) for _ in range(chance.randint(0, 2))]
    if chance.random() < 0.3:
        found.append(augmented(chance))
    if chance.random() < 0.15:
        chance.shuffle(found)
    if chance.random() < 0.1:
        found.insert(chance.randint(0, len(found)), 0)
    if chance.random() < 0.1:
        found.append(chance.choice((0x40300801, 0x80300801, 0x4640C83C)))
    found = found[:7]
    if chance.random() < 0.35:
        found += [0] * (7 - len(found)) + [
            fixed(v, 5) for v in (28, 36, 48) if chance.random() < 0.7]
        if chance.random() < 0.5 and len(found) < 11:
            found.append(augmented(chance))
    return [f"0x{w:08X}" for w in found]


def modes(chance):
    found = [{"kind": "fixed", "voltage_v": float(v),
              "current_a": chance.choice((1.5, 2.22, 2.25, 3.0, 3.25, 5.0))}
             for v in (5, 9, 12, 15, 20, 28) if v == 5 or chance.random() < 0.6]
    if chance.random() < 0.4:
        found.append({"kind": "pps", "voltage_min_v": 3.3,
                      "voltage_max_v": chance.choice((5.9, 11.0, 16.0, 21.0)), "current_a": 3.0})
    if chance.random() < 0.2:
        found.append({"kind": "avs", "voltage_min_v": chance.choice((9.0, 15.0)),
                      "voltage_max_v": chance.choice((15.0, 20.0, 28.0)), "current_a": 3.0})
    return found


def port(chance, label):
    made = {"label": label}
    if chance.random() < 0.9:
        made["connector"] = chance.choice(("usb-c", "usb-c", "usb-c", "usb-a", "barrel", "other"))
    if chance.random() < 0.7:
        made["power_w"] = chance.choice((10.0, 15.0, 18.0, 20.0, 27.0, 30.0, 45.0, 50.0, 60.0,
                                         65.0, 100.0, 120.0, 140.0, 180.0, 240.0, 250.0))
    if chance.random() < 0.4:
        made["share_group"] = chance.choice(("one", "two"))
    if chance.random() < 0.6:
        made["source_capabilities"] = words(chance)
    if chance.random() < 0.7:
        made["modes"] = modes(chance)
    return made


def run(chance, number, labels):
    used = [p for p in labels if chance.random() < 0.8] or labels[:1]
    rated = [{"port": p, "voltage_v": float(chance.choice((5, 9, 12, 15, 20, 28))),
              "current_a": 3.0} for p in used]
    found = []
    for percent in (100.0, 75.0, 50.0, 25.0, 10.0):
        outputs = []
        for r in rated:
            out = {"port": r["port"]}
            if chance.random() < 0.95:
                out["voltage_v"] = round(r["voltage_v"] * chance.gauss(1.0, 0.025), 3)
            if chance.random() < 0.95:
                out["current_a"] = round(r["current_a"] * percent / 100, 3)
            outputs.append(out)
        found.append({"load_percent": percent, "outputs": outputs})
    return {"name": f"run {number}", "line": {"voltage_v": 115.0, "frequency_hz": 60.0},
            "rated_outputs": rated, "points": found}


def sharing(chance, labels):
    """Offers of a model with budgets, in any order, now and then with an error."""
    own = {p: chance.choice((15.0, 20.0, 30.0, 45.0, 65.0)) for p in labels}
    budget = {p: chance.choice("xy") for p in labels}
    limit = {"x": chance.choice((40.0, 65.0, 200.0)), "y": chance.choice((30.0, 65.0))}
    found = []
    for _ in range(chance.randint(1, 3 * len(labels))):
        used = [p for p in labels if chance.random() < 0.55] or [chance.choice(labels)]
        offers = []
        for p in used:
            if chance.random() < 0.06:
                continue
            rivals = [q for q in used if budget[q] == budget[p]]
            wanted = sum(own[q] for q in rivals)
            share = own[p] if wanted <= limit[budget[p]] else max(
                7.5, math.floor(own[p] * limit[budget[p]] / wanted / 5) * 5)
            if chance.random() < 0.05:
                share += chance.choice((-5, 0.5, 0.4, 10))
            offer = {"port": p, "power_w": float(share)}
            if chance.random() < 0.3:
                offer["voltage_max_v"] = 20.0 if share > 45 else 9.0
            offers.append(offer)
        seen = {"ports_in_use": used, "offers": offers}
        if len(used) > 1 and chance.random() < 0.6:
            seen["attached"] = used[-1]
            seen["on_attach"] = chance.choice(("held", "reset", "lost"))
            if seen["on_attach"] != "held" and chance.random() < 0.7:
                seen["reset_ports"] = chance.sample(used, chance.randint(0, len(used) - 1))
                seen["interruption_ms"] = float(chance.randint(10, 3000))
            elif seen["on_attach"] == "held" and chance.random() < 0.2:
                # A slip: what is said to have held was disturbed.
                seen["reset_ports"] = chance.sample(used, 1)
                seen["lowest_voltage_v"] = chance.choice((0.0, 0.8, 4.6))
        if chance.random() < 0.3:
            seen["delivered_power_w"] = round(sum(o["power_w"] for o in offers)
                                              * chance.uniform(0.9, 1.05), 1)
        found.append(seen)
    return found


def overload(chance, labels):
    nominal = float(chance.choice((5, 9, 15, 20, 28, 48)))
    rated = chance.choice((1.5, 2.4, 3.0, 3.25, 5.0))
    test = {"port": chance.choice(labels)}
    if chance.random() < 0.9:
        test["voltage_v"] = nominal
    if chance.random() < 0.8:
        test["rated_current_a"] = rated
    trip = rated * chance.uniform(0.85, 1.4)
    kind = chance.choice(("off", "limited", "cycling"))
    share, steps = chance.choice((0.0, 0.5, 0.9)), []
    while share < 1.6 and len(steps) < 20:
        asked = round(share * rated, 2)
        step = {"set_current_a": asked}
        good = asked <= trip
        if good:
            reading = (nominal * chance.gauss(1.0, 0.012), asked * chance.gauss(1.0, 0.004), "on")
        elif kind == "limited":
            reading = (nominal * chance.uniform(0.1, 0.9), trip * chance.uniform(0.5, 1.0),
                       "limited")
        else:
            reading = (chance.uniform(0, 0.1), 0.0, kind)
        if chance.random() < 0.9:
            step["voltage_v"] = round(abs(reading[0]), 3)
        if chance.random() < 0.9:
            step["current_a"] = round(abs(reading[1]), 3)
        if chance.random() < 0.6:
            step["state"] = reading[2]
        if chance.random() < 0.5:
            step["held_s"] = float(chance.choice((1, 5, 10, 60)))
        steps.append(step)
        if not good and chance.random() < 0.4:
            break
        share += chance.choice((0.02, 0.05, 0.2))
    if chance.random() < 0.85:
        test["steps"] = steps
    if chance.random() < 0.4:
        test["trip_current_a"] = round(trip * chance.choice((1.0, 1.0, 1.2, 0.7)), 3)
    if chance.random() < 0.3:
        test["last_good_power_w"] = round(nominal * trip * 0.98, 1)
    if chance.random() < 0.4:
        test["protection"] = chance.choice(("shut-off", "hiccup", "foldback", "constant-current"))
    if chance.random() < 0.5:
        test["recovery"] = chance.choice(("auto", "replug", "mains", "none"))
        test["recovery_s"] = 1.5
    return test


def temperatures(chance):
    found = []
    for place in chance.sample(("top", "side", "prongs"), chance.randint(0, 2)):
        constant, final = chance.uniform(4, 40), chance.uniform(-5, 75)
        ambient = chance.uniform(18.5, 31.0)
        material = chance.choice((None, "plastic", "metal", "glass", "wood", "rubber"))
        minute, last = 0.0, chance.choice((8, 20, 45, 90, 150))
        while minute <= last:
            entry = {"load_w": 60.0, "where": place}
            if material:
                entry["material"] = material
            if chance.random() < 0.99:
                entry["minutes"] = round(minute, 1)
            here = ambient + chance.gauss(0, 0.1)
            if chance.random() < 0.985:
                entry["ambient_c"] = round(here, 1)
            rise = final * (1 - math.exp(-minute / constant)) + chance.gauss(0, 0.15)
            entry["hot_spot_c"] = round(here + rise, 1)
            if chance.random() < 0.5:
                entry["surface_c"] = round(here + 0.8 * rise, 1)
            found.append(entry)
            minute += chance.choice((2, 5, 5, 10, 15))
    return found[:60]


def report(base, number):
    """`base` gives the instruments and the format; everything else is drawn from `number`."""
    chance = random.Random(number)
    labels = [f"P{n}" for n in range(1, chance.randint(1, 5) + 1)]
    unit = {"maker": "Larkfield", "model": f"random {number}",
            "nameplate": {"output_power_w": chance.choice((20.0, 45.0, 65.0, 100.0, 140.0, 250.0))},
            "ports": [port(chance, label) for label in labels]}
    if chance.random() < 0.5:
        unit["nameplate"]["max_ambient_c"] = 40.0
    if chance.random() < 0.5:
        unit["size_mm"] = [float(chance.randint(20, 150)) for _ in range(3)]
    if chance.random() < 0.5:
        unit["mass_g"] = {"adapter": float(chance.randint(30, 900))}
    return {
        "format": base["format"], "unit": unit,
        "instruments": base["instruments"] if chance.random() < 0.8 else [],
        "runs": [run(chance, n, labels) for n in range(chance.randint(0, 2))],
        "sharing": sharing(chance, labels) if chance.random() < 0.8 else [],
        "overloads": [overload(chance, labels) for _ in range(chance.randint(0, 3))],
        "temperatures": temperatures(chance)}
