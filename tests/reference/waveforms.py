"""Recomputes the power quality of twenty random waveforms with scipy and compares.

    waveforms.py BRICKBOOK DIRECTORY

Makes waveforms by seed (off-nominal mains of 49.3 to 60.7 Hz, harmonics to order 40, noise, dc,
10 kS/s to 1 MS/s), writes each as an instrument log with a record that names it, lets the program
evaluate the record with its log, and holds every harmonic of voltage and current, the groups, the
powers, distortion and frequency against what scipy makes of the same samples:

- a record whose whole cycles are whole samples must be taken as it is, and then agrees with
  scipy.fft over the same samples to 1e-6 of the fundamental;
- any other agrees to 0.1 % of the fundamental with a window of whole cycles that scipy resamples
  (seventh-degree spline on a signal that scipy.signal made eight times as dense), at a frequency
  that scipy.optimize finds, and with a least-squares fit of all harmonics to the raw samples.

Nothing of the program's own method is used here: no shared window, kernel or frequency.
"""

import hashlib
import json
import pathlib
import subprocess
import sys

import numpy as np
import scipy.fft
import scipy.interpolate
import scipy.linalg
import scipy.optimize
import scipy.signal

COUNT = 20
SEED = 20260901
ORDERS = 40
RATES = [10e3, 12.8e3, 20e3, 25e3, 44.1e3, 50e3, 100e3, 200e3, 500e3, 1e6]

SYNCHRONISED = 1e-6  # of the fundamental
RESAMPLED = 1e-3


class Case:
    """One waveform: how it is made, and its samples as the log's digits tell them."""

    def __init__(self, number, random):
        self.number = number
        self.nominal = [50, 60][number % 2]
        self.cycles = {50: 10, 60: 12}[self.nominal]
        self.rate = RATES[number % len(RATES)]
        self.synchronised = number % 3 == 0
        hz = self.nominal + random.uniform(-0.7, 0.7)
        if self.synchronised:
            # A frequency that makes a window a whole number of samples.
            hz = self.cycles * self.rate / round(self.cycles * self.rate / hz)
        self.hz = hz
        # Half a window to three windows more than the one that is needed.
        windows = 1 if self.rate > 3e5 else random.uniform(1.1, 3.6)
        seconds = 1.04 * windows * self.cycles / hz
        if number == 1:
            # One cycle too few for a window of the standard.
            seconds = (self.cycles - 0.6) / hz
        n = int(seconds * self.rate)
        self.noise = 10 ** random.uniform(-5.5, -3.5)
        t = np.arange(n) / self.rate
        v = self.signal(random, t, 230 * random.uniform(0.5, 1.05), 0.02, 0.7)
        i = self.signal(random, t, random.uniform(0.1, 4.0), 0.9, 1.0)
        self.text = "t_s,v_v,i_a\n" + "".join(
            f"{a:.10f},{b:.9g},{c:.9g}\n" for a, b, c in zip(t, v, i)
        )
        columns = np.array([row.split(",") for row in self.text.split()[1:]], dtype=float)
        self.t, self.v, self.i = columns.T.copy()

    def signal(self, random, t, rms, third, falls):
        """Harmonics whose size falls with the order, an interharmonic on a spectral line, dc and
        noise."""
        x = np.zeros_like(t)
        for order in range(1, ORDERS + 1):
            size = 1.0 if order == 1 else third * random.uniform(0.1, 1) / (order - 1) ** falls
            if order % 2 == 0:
                size *= 0.1
            angle = random.uniform(0, 2 * np.pi)
            x += size * np.sin(2 * np.pi * order * self.hz * t + angle)
        between = (self.cycles * random.integers(2, 30) + random.integers(1, self.cycles)) / self.cycles
        x += 0.004 * np.sin(2 * np.pi * between * self.hz * t + 1.0)
        x += random.uniform(-0.01, 0.01)
        x += self.noise * random.standard_normal(len(t))
        return np.sqrt(2) * rms * x

    def record(self, name):
        """A record that names this log. All of it is invented."""
        data = self.text.encode()
        return {
            "format": "brickbook-record/1",
            "unit": {
                "maker": "Larkfield",
                "model": f"waveform {self.number}",
                "nameplate": {"output_power_w": 100},
                "ports": [{"label": "C1", "modes": [{"kind": "fixed", "voltage_v": 20, "current_a": 5}]}],
            },
            "logs": [
                {
                    "name": name,
                    "sha256": hashlib.sha256(data).hexdigest(),
                    "size_bytes": len(data),
                    "layout": {
                        "encoding": "utf-8",
                        "delimiter": "comma",
                        "decimal": "point",
                        "first_line": 2,
                        "time": {"form": "seconds", "column": 1},
                        "columns": [
                            {"column": 2, "quantity": "line_voltage_sample_v"},
                            {"column": 3, "quantity": "line_current_sample_a"},
                        ],
                    },
                }
            ],
            "runs": [
                {
                    "name": "20 V",
                    "line": {"voltage_v": 230, "frequency_hz": self.nominal},
                    "rated_outputs": [{"port": "C1", "voltage_v": 20, "current_a": 5}],
                    "waveforms": [{"log": name, "load_percent": 100}],
                }
            ],
        }


def design(t, hz):
    """Columns dc, cos and sin of every order."""
    angles = 2 * np.pi * hz * np.outer(t, np.arange(1, ORDERS + 1))
    return np.hstack([np.ones((len(t), 1)), np.cos(angles), np.sin(angles)])


def least_squares(columns, values):
    # The columns are nearly orthogonal, so the normal equations lose nothing.
    return scipy.linalg.solve(columns.T @ columns, columns.T @ values, assume_a="pos")


def fitted(case, x, cycles, hz):
    """r.m.s. of all orders by linear least squares over the samples of whole windows: over fewer
    cycles what lies between the harmonics would be taken for a part of them."""
    windows = max(1, int((len(x) + 0.5) / case.rate * hz / cycles))
    thin = max(1, len(x) // 25_000)
    while thin * ORDERS * hz * 2.2 > case.rate:
        thin -= 1
    keep = case.t - case.t[0] < windows * cycles / hz - 1e-9
    t, x = case.t[keep][::thin], x[keep][::thin]
    solution = least_squares(design(t, hz), x)
    return np.abs(solution[1 : ORDERS + 1] - 1j * solution[ORDERS + 1 :]) / np.sqrt(2)


def frequency(case):
    """Least squares over the frequency of a sum of harmonics; the amplitudes follow linearly."""
    thin = max(1, len(case.v) // 3000)
    while thin * ORDERS * case.nominal * 2.4 > case.rate:
        thin -= 1
    t, v = case.t, case.v
    if thin > 1:
        # Means of neighbours keep the noise down; they shift every order's angle alike in time.
        n = len(v) // thin * thin
        t, v = t[:n].reshape(-1, thin).mean(axis=1), v[:n].reshape(-1, thin).mean(axis=1)
    scale = np.std(v)

    def residual(hz, orders=ORDERS):
        columns = design(t, hz)[:, [0, *range(1, orders + 1), *range(ORDERS + 1, ORDERS + 1 + orders)]]
        return (columns @ least_squares(columns, v) - v) / scale

    # The squares are bowl-shaped only near their least: begin from the best of some steps.
    steps = np.arange(case.nominal - 0.8, case.nominal + 0.81, 0.05)
    begin = min(steps, key=lambda hz: np.sum(residual(hz, 1) ** 2))
    found = scipy.optimize.least_squares(
        lambda hz: residual(hz[0]), [begin], diff_step=1e-7, xtol=1e-11, ftol=None, gtol=None
    )
    return float(found.x[0])


def lines(x):
    """r.m.s. of spectral lines of one window, the mean first."""
    found = scipy.fft.rfft(x) * np.sqrt(2) / len(x)
    found[0] /= np.sqrt(2)
    return found


def group(spectrum, order, cycles):
    k, square = order * cycles, np.abs(spectrum) ** 2
    near = (cycles - 1) // 2
    inner = square[k - near : k + near + 1].sum()
    if cycles % 2 == 0:
        inner += (square[k - cycles // 2] + square[k + cycles // 2]) / 2
    return np.sqrt(inner)


def subgroup(spectrum, order, cycles):
    k = order * cycles
    return np.sqrt((np.abs(spectrum[k - 1 : k + 2]) ** 2).sum())


def windows_as_they_are(case, cycles, points):
    count = int((len(case.v) + 0.5) // points)
    return [
        (case.v[k * points : (k + 1) * points], case.i[k * points : (k + 1) * points])
        for k in range(max(count, 1))
    ]


def windows_resampled(case, cycles, hz):
    """Whole cycles by a seventh-degree spline on a denser signal."""
    length = cycles / hz
    n = len(case.v)
    count = max(1, int((n + 0.5) / case.rate / length))
    dense = 8 if case.rate < 60e3 else 1

    def spline(x):
        if dense > 1:
            # resample_poly rings at the ends of a record: a smooth continuation keeps it away.
            x = scipy.signal.resample_poly(x, dense, 1, padtype="line", window=("kaiser", 12.0))
        t = np.arange(len(x)) / (case.rate * dense)
        return scipy.interpolate.make_interp_spline(t, x, k=7)

    v, i = spline(case.v), spline(case.i)
    points = 2 * int(np.ceil(length * case.rate))
    found = []
    for k in range(count):
        t = length * (k + np.arange(points) / points)
        t = np.minimum(t, (n - 0.5) / case.rate)
        found.append((v(t), i(t)))
    return found


def figures(windows, cycles):
    """What the program also says, from windows of whole cycles."""
    of_v = [lines(v) for v, _ in windows]
    of_i = [lines(i) for _, i in windows]
    mean = lambda values: float(np.mean(list(values)))
    harmonic = lambda spectra, n: mean(abs(s[n * cycles]) for s in spectra)
    v1 = np.sqrt(mean(abs(s[cycles]) ** 2 for s in of_v))
    i1 = np.sqrt(mean(abs(s[cycles]) ** 2 for s in of_i))
    v = np.sqrt(mean(np.mean(v * v) for v, _ in windows))
    i = np.sqrt(mean(np.mean(i * i) for _, i in windows))
    power = np.mean([a[cycles] * np.conj(b[cycles]) for a, b in zip(of_v, of_i)])
    p = mean(np.mean(v * i) for v, i in windows)
    orders = range(1, ORDERS + 1)
    i_lines = [harmonic(of_i, n) for n in orders]
    return {
        "v_lines": [harmonic(of_v, n) for n in orders],
        "i_lines": i_lines,
        "groups": [mean(group(s, n, cycles) for s in of_i) for n in orders],
        "subgroups": [mean(subgroup(s, n, cycles) for s in of_i) for n in orders],
        "v": v,
        "i": i,
        "v1": v1,
        "i1": i1,
        "p": p,
        "p1": power.real,
        "q1": power.imag,
        "v_dc": mean(s[0].real for s in of_v),
        "i_dc": mean(s[0].real for s in of_i),
        "thd_all": np.sqrt(i * i - i1 * i1) / i1,
        "thd_2_40": np.sqrt(sum(a * a for a in i_lines[1:])) / i_lines[0],
    }


class Comparison:
    def __init__(self):
        self.compared = 0
        self.failed = []
        self.worst = {}

    def hold(self, case, kind, what, ours, theirs, scale, tolerance):
        off = abs(ours - theirs) / scale
        self.compared += 1
        self.worst[kind] = max(self.worst.get(kind, 0.0), off)
        if not off <= tolerance:
            self.failed.append(
                f"waveform {case.number} ({kind}), {what}: {ours!r}, scipy {float(theirs)!r}, "
                f"off by {off:.2e} of {scale:.6g}, allowed {tolerance:.0e}"
            )

    def all(self, case, kind, quality, reference, tolerance):
        v1, i1 = reference["v1"], reference["i1"]
        harmonics = quality["harmonics"]
        assert [h["order"] for h in harmonics] == list(range(1, ORDERS + 1)), case.number
        for h, v, i, group, sub in zip(
            harmonics,
            reference["v_lines"],
            reference["i_lines"],
            reference["groups"],
            reference["subgroups"],
        ):
            n = h["order"]
            self.hold(case, kind, f"voltage order {n}", h["voltage_v"], v, v1, tolerance)
            self.hold(case, kind, f"current order {n}", h["current_a"], i, i1, tolerance)
            self.hold(case, kind, f"group {n}", h["current_group_a"], group, i1, tolerance)
            if h["current_subgroup_a"] is not None:
                self.hold(case, kind, f"subgroup {n}", h["current_subgroup_a"], sub, i1, tolerance)
        first, distortion = quality["fundamental"], quality["distortion"]
        apparent = reference["v"] * reference["i"]
        for what, ours, scale in [
            ("v", quality["voltage_rms_v"], v1),
            ("i", quality["current_rms_a"], i1),
            ("p", quality["active_power_w"], apparent),
            ("v1", first["voltage_v"], v1),
            ("i1", first["current_a"], i1),
            ("p1", first["active_power_w"], apparent),
            ("q1", first["reactive_power_var"], apparent),
            ("v_dc", quality["voltage_dc_v"], v1),
            ("i_dc", quality["current_dc_a"], i1),
            ("thd_all", distortion["current_thd_all_percent"] / 100, 1.0),
            ("thd_2_40", distortion["current_thd_harmonics_percent"] / 100, 1.0),
        ]:
            self.hold(case, kind, what, ours, reference[what], scale, tolerance)


def main():
    program, directory = sys.argv[1], pathlib.Path(sys.argv[2])
    directory.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng(SEED)
    told = Comparison()
    taken_as_they_are = 0
    for number in range(COUNT):
        case = Case(number, random)
        folder = directory / f"{number:02}"
        folder.mkdir(exist_ok=True)
        name = f"waveform-{number:02}.csv"
        (folder / name).write_text(case.text)
        record = folder / "record.json"
        record.write_text(json.dumps(case.record(name)))
        answer = subprocess.run(
            [program, "evaluate", "--logs", str(folder), str(record)],
            capture_output=True,
            text=True,
            check=False,
        )
        if answer.returncode != 0:
            raise SystemExit(f"waveform {number}: {answer.stderr}")
        waveform = json.loads(answer.stdout)["runs"][0]["waveforms"][0]
        if waveform["refused"]:
            raise SystemExit(f"waveform {number}: refused: {waveform['refused']}")
        quality = waveform["quality"]
        windows = quality["windows"]
        cycles = windows["cycles"]

        hz = frequency(case)
        told.hold(case, "frequency", "hz", quality["frequency_hz"], hz, hz, 5e-6)
        held = (len(case.v) + 0.5) / case.rate * hz
        expected_cycles = case.cycles if held >= case.cycles else int(held)
        assert cycles == expected_cycles, (number, cycles, held)
        assert windows["full_length"] == (cycles == case.cycles), number
        if case.synchronised:
            assert not windows["resampled"], f"waveform {number}: whole cycles are whole samples"
        if not windows["resampled"]:
            taken_as_they_are += 1
            points = round(cycles / case.hz * case.rate)
            assert windows["points"] == points, (number, windows["points"], points)
            reference = figures(windows_as_they_are(case, cycles, points), cycles)
            told.all(case, "as it is", quality, reference, SYNCHRONISED)
        else:
            told.all(
                case,
                "resampled",
                quality,
                figures(windows_resampled(case, cycles, hz), cycles),
                RESAMPLED,
            )
        # Held against the samples themselves, whatever the window.
        for what, x in [("voltage_v", case.v), ("current_a", case.i)]:
            orders = fitted(case, x, cycles, hz)
            for h, rms in zip(quality["harmonics"], orders):
                told.hold(
                    case, "fit", f"{what} order {h['order']}", h[what], rms, orders[0], RESAMPLED
                )
        peak = np.max(np.abs(case.i))
        told.hold(case, "peak", "current", quality["current_peak_a"], peak, peak, 1e-12)

    assert 7 <= taken_as_they_are < COUNT, taken_as_they_are
    for kind, off in told.worst.items():
        print(f"{kind}: largest difference {off:.1e}")
    for failure in told.failed[:40]:
        print(failure)
    print(f"{COUNT} waveforms, {taken_as_they_are} of them taken as they are")
    print(f"{told.compared - len(told.failed)} passed, {len(told.failed)} failed")
    if told.failed:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
