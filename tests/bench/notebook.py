"""The same job as a competent analyst would write it in a notebook: pandas, scipy and scikit-learn, one plant.

    python notebook.py PLANT.toml OUT

Reads the export (wide or tall), aligns it, reconstructs flow from head and power with intervals, keeps steady rows, groups
them, compares them with the control curve, checks delta-T, hunting and the need of the valves, prices the excess head,
and writes a parquet and a JSON file. Everything is vectorised, and the fastest reader of pandas is used.
"""

import json
import pathlib
import sys
import tomllib

import numpy as np
import pandas as pd
from scipy.interpolate import PchipInterpolator
from scipy.optimize import least_squares
from scipy.signal import find_peaks, lfilter
from sklearn.cluster import DBSCAN
from sklearn.mixture import GaussianMixture
from sklearn.preprocessing import StandardScaler

# Motor efficiency at part load over that at full load, 7.5 kW (US DOE, Determining Electric Motor Load and Efficiency, 2014).
LOAD = [0.0, 0.1, 0.2, 0.3, 0.4, 0.6, 1.0]
LOAD_EFFICIENCY = [0.05, 0.4580, 0.7527, 0.8866, 0.9502, 1.0, 1.0]
GRID = 121  # flows tried a row
BLOCK = 20_000  # rows at once, so that the grid stays in the cache and in memory
THINNED = 5_000  # points to cluster
RANGEABILITY = 50.0
RATIO = 3.0  # of the steady-state test: 99 % of rows at rest stay below 1.723, and a slow drift may pass


def number(text):
    return float(str(text).split()[0])


# --- read and align
def read(plant, folder):
    frame = pd.read_csv(folder / plant["trends"]["files"][0], engine="pyarrow")
    if list(frame.columns) == ["Timestamp", "Point", "Value"]:
        frame = frame.pivot(index="Timestamp", columns="Point", values="Value")
    else:
        frame = frame.set_index("Timestamp")
    frame.index = pd.to_datetime(frame.index).tz_localize(plant["trends"]["timezone"])
    frame = frame.apply(pd.to_numeric, errors="coerce").sort_index()
    frame = frame[~frame.index.duplicated()].asfreq("1min")
    names = {}
    for point in plant["point"]:
        of = point.get("of", "")
        names[point["name"]] = f"valve {of}" if point["role"] == "valve-position" else point["role"]
    frame = frame.rename(columns=names)
    for column in frame.columns[frame.columns.str.startswith("valve ") | (frame.columns == "pump-speed")]:
        frame[column] = frame[column].clip(0, 100) / 100
    return frame


# --- flow from head and power: likelihood on a grid
class Pump:
    def __init__(self, declared):
        curve = declared["curve"][0]
        flow = np.array(curve["flow"]["values"], float)
        self.head = PchipInterpolator(flow, curve["head"]["values"])
        self.shaft = PchipInterpolator(flow, curve["power"]["values"])
        self.grid = np.linspace(flow[0], flow[-1], GRID)
        self.grid_head, self.grid_shaft = self.head(self.grid), self.shaft(self.grid)
        self.motor_kw = number(declared["motor_power"])
        self.full = declared["motor_efficiency"] * declared["drive_efficiency"]

    def electric(self, shaft):
        return shaft / (self.full * np.interp(shaft / self.motor_kw, LOAD, LOAD_EFFICIENCY))

    def at(self, flow, speed):
        speed = np.maximum(speed, 0.05)
        reduced = np.clip(flow / speed, self.grid[0], self.grid[-1])
        return speed**2 * self.head(reduced), self.electric(speed**3 * self.shaft(reduced))

    def speed_for(self, flow, head):
        """Speed that gives this head at this flow, by bisection."""
        low, high = np.full(len(flow), 0.1), np.full(len(flow), 1.2)
        for _ in range(30):
            middle = (low + high) / 2
            reached = middle**2 * self.head(np.clip(flow / middle, self.grid[0], self.grid[-1])) >= head
            low, high = np.where(reached, low, middle), np.where(reached, middle, high)
        return high

    def flow(self, speed, head, power):
        """Best flow and its 95 % interval."""
        best, low, high = (np.full(len(speed), np.nan) for _ in range(3))
        for first in range(0, len(speed), BLOCK):
            rows = slice(first, first + BLOCK)
            n, h, p = speed[rows, None], head[rows, None], power[rows, None]
            off = ((h - n**2 * self.grid_head) / np.maximum(0.01 * h, 1.0)) ** 2
            off += ((p - self.electric(n**3 * self.grid_shaft)) / (0.03 * p)) ** 2
            weight = np.exp(-0.5 * (off - off.min(axis=1, keepdims=True)))
            share = np.cumsum(weight, axis=1)
            share /= share[:, -1:]
            peak = np.clip(off.argmin(axis=1), 1, GRID - 2)
            row = np.arange(len(peak))
            left, centre, right = off[row, peak - 1], off[row, peak], off[row, peak + 1]
            step = np.clip(0.5 * (left - right) / np.maximum(left - 2 * centre + right, 1e-12), -1, 1)
            scale = n[:, 0]
            best[rows] = scale * (self.grid[peak] + step * (self.grid[1] - self.grid[0]))
            low[rows] = scale * self.grid[(share < 0.025).sum(axis=1).clip(0, GRID - 1)]
            high[rows] = scale * self.grid[(share < 0.975).sum(axis=1).clip(0, GRID - 1)]
        return best, low, high


# --- steady rows: ratio of two variance estimates (Cao and Rhinehart 1997)
def steady(values, l1=0.2, l2=0.1, l3=0.1):
    x = pd.Series(values).ffill().bfill().to_numpy()
    smooth, _ = lfilter([l1], [1, l1 - 1], x, zi=[x[0] * (1 - l1)])
    before = np.concatenate([[x[0]], smooth[:-1]])
    spread = lfilter([l2], [1, l2 - 1], (x - before) ** 2)
    step = lfilter([l3], [1, l3 - 1], np.diff(x, prepend=x[0]) ** 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        return (2 - l1) * spread / step < RATIO


# --- groups of points
def groups(points):
    scaled = StandardScaler().fit_transform(points)
    dense = DBSCAN(eps=0.3, min_samples=20).fit_predict(scaled)
    kept = scaled[dense >= 0]
    fits = [GaussianMixture(k, n_init=3, random_state=0).fit(kept) for k in range(1, 6)]
    best = min(fits, key=lambda f: f.bic(kept))
    return int(dense.max() + 1), int(best.n_components), best.weights_.tolist()


# --- the loop, and what it needed
def learn_loop(flow, head, valves, design):
    """Common resistance and one conductance a coil, from steady rows."""
    opening = RANGEABILITY ** (valves - 1) * (valves > 0.01)

    def modelled(x):
        passed = opening @ np.exp(x[1:])
        return flow**2 * (np.exp(x[0]) + 1 / np.maximum(passed, 1e-9) ** 2)

    start = np.log(np.concatenate([[0.4 * design[1] / design[0] ** 2], np.full(valves.shape[1], 1.5)]))
    return least_squares(lambda x: (modelled(x) - head) / design[1], start, loss="soft_l1", f_scale=0.02).x


def hunting(speed, floor, day):
    """Days on which the speed swings off its floor regularly."""
    found = 0
    for _, part in pd.Series(speed).groupby(day):
        x = part.to_numpy()
        if np.isnan(x).any() or (x < floor + 0.015).mean() < 0.1:
            continue
        x = x - x.mean()
        spectrum = np.fft.rfft(x, 2 * len(x))
        ratio = np.fft.irfft(np.abs(spectrum) ** 2)[: len(x)]
        peaks, _ = find_peaks(ratio / max(ratio[0], 1e-12), height=0.5, distance=4)
        found += bool(len(peaks) and peaks[0] < 90)
    return found


def review(plant_file, out):
    plant = tomllib.loads(plant_file.read_text(encoding="utf-8"))
    frame = read(plant, plant_file.parent)
    pump, loop, control = Pump(plant["pump"][0]), plant["loop"], plant["control"]
    design = number(loop["design_flow"]), number(loop["design_head"])

    on = (frame["pump-status"] > 0.5) & (frame["pump-speed"] > 0.05)
    run = frame[on]
    speed, head, power = (run[c].to_numpy(float) for c in ("pump-speed", "pump-head", "pump-power"))
    frame.loc[on, ["flow", "flow_low", "flow_high"]] = np.column_stack(pump.flow(speed, head, power))
    still = np.logical_and.reduce([steady(frame[c].to_numpy(float)) for c in ("pump-speed", "pump-power", "pump-head")])
    frame["steady"] = still & on & frame["flow"].notna()

    zero, slope = number(control["zero_flow_head"]), design[1] - number(control["zero_flow_head"])
    frame["curve_head"] = zero + slope * (frame["flow"] / design[0]) ** 2
    excess = (frame["pump-head"] - frame["curve_head"]) / design[1]
    floor = number(control["minimum_speed"]) / 100
    frame["regime"] = np.select(
        [~on, ~frame["steady"], frame["pump-speed"] < floor + 0.01, frame["pump-speed"] > 0.99, excess > 0.03, excess < -0.03],
        ["off", "transient", "speed-floor", "full-speed", "above-curve", "below-curve"],
        "on-curve",
    )
    rows = frame[frame["steady"]]
    rise = rows["return-temperature"] - rows["supply-temperature"]
    thin = rows.iloc[:: -(-len(rows) // THINNED)]
    clusters = groups(
        np.column_stack(
            [
                thin["flow"] / design[0],
                excess[thin.index],
                thin["pump-speed"],
                (thin["return-temperature"] - thin["supply-temperature"]) / 6,
            ]
        )
    )

    local = frame.index.tz_convert(plant["site"]["timezone"])
    day = pd.Series(local.normalize().asi8, index=frame.index)
    daily = rise.groupby(day[rows.index]).median()
    low_rise = int((daily < 0.7 * (number(loop["return_temperature"]) - number(loop["supply_temperature"]))).sum())

    valves = [c for c in frame.columns if c.startswith("valve ")]
    opening = rows[valves].to_numpy(float)
    thin_opening = thin[valves].to_numpy(float)
    x = learn_loop(thin["flow"].to_numpy(), thin["pump-head"].to_numpy(float), thin_opening, design)
    flow = rows["flow"].to_numpy()
    common = np.exp(x[0]) * flow**2
    # The neediest valve opened to 90 %, at the flow it took.
    branch = np.maximum(rows["pump-head"].to_numpy(float) - common, 0)
    need = common + branch * RANGEABILITY ** (2 * (opening.max(axis=1) - 0.9))
    bins = np.digitize(flow / design[0], np.linspace(0, 1, 21))
    envelope = pd.Series(need).groupby(bins).quantile(0.98)
    centre = (envelope.index.to_numpy() - 0.5) / 20
    basis = np.column_stack([np.ones(len(centre)), centre**2])
    proposed = np.linalg.lstsq(basis, envelope.to_numpy() * 1.05, rcond=None)[0]
    asked = np.minimum(proposed[0] + proposed[1] * (flow / design[0]) ** 2, rows["pump-head"].to_numpy(float))
    today = pump.at(flow, rows["pump-speed"].to_numpy(float))[1]
    after = pump.at(flow, np.maximum(pump.speed_for(flow, asked), floor))[1]
    per_day = pd.DataFrame({"today": today, "after": after}).groupby(day[rows.index].to_numpy()).sum().to_numpy()
    random = np.random.default_rng(0)
    again = per_day[random.integers(0, len(per_day), (400, len(per_day)))].sum(axis=1)
    saved = np.quantile(1 - again[:, 1] / again[:, 0], [0.025, 0.5, 0.975])

    out.mkdir(parents=True, exist_ok=True)
    wanted = ["pump-speed", "flow", "flow_low", "flow_high", "pump-head", "pump-power", "curve_head", "regime", "steady"]
    frame[wanted].rename_axis("time").to_parquet(out / "operating-points.parquet")
    result = {
        "rows": len(frame),
        "steady": len(rows),
        "energy_kwh": float(frame["pump-power"].sum() / 60),
        "hours": {k: v / 60 for k, v in frame["regime"].value_counts().items()},
        "clusters": clusters,
        "low_delta_t_days": low_rise,
        "hunting_days": hunting(frame["pump-speed"].to_numpy(float), floor, day.to_numpy()),
        "widest_valve": float(np.quantile(opening.max(axis=1), 0.95)),
        "proposed_head_kpa": [float(proposed[0]), float(proposed.sum())],
        "saving_fraction": saved.tolist(),
    }
    (out / "findings.json").write_text(json.dumps(result, indent=1), encoding="utf-8")
    print(f"rows={len(frame)} steady={len(rows)}")


if __name__ == "__main__":
    review(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]))
