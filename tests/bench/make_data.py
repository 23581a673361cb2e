"""Makes the benchmark's plants: one invented chilled-water pump, 14 points, one row a minute, as a wide and as a tall CSV; and two pumps of half
its size in the same loop, 37 points, as a wide CSV.

    python make_data.py FOLDER ROWS

writes FOLDER/wide/ and FOLDER/tall/, each with a plant.toml and one export that holds the same samples, and FOLDER/two-pumps/, where every rule has
something to look at. The same ROWS give the same bytes with the same numpy. The physics is simple on purpose: this is food for a stopwatch, not evidence.
"""

import pathlib
import sys

import numpy as np

SEED = 20250401
START = np.datetime64("2025-04-01T00:00:00")
CHUNK = 40_000

# The pump at rated speed: head [kPa] = A - C flow - B flow^2, shaft power [kW] a parabola, flow in m3/h.
A, B, C = 230.0, 0.0059, 0.6
DESIGN_FLOW, DESIGN_HEAD, ZERO_FLOW_HEAD = 68.0, 162.0, 81.0
MINIMUM_SPEED = 0.35
TABLE_FLOW = np.array([0.0, 15, 30, 45, 60, 75, 90])
MOTOR_KW, MOTOR_EFFICIENCY, DRIVE_EFFICIENCY = 5.5, 0.896, 0.97
# Motor efficiency at part load over that at full load, 7.5 kW (US DOE, Determining Electric Motor Load and Efficiency, 2014).
LOAD = [0.0, 0.1, 0.2, 0.3, 0.4, 0.6, 1.0]
LOAD_EFFICIENCY = [0.05, 0.4580, 0.7527, 0.8866, 0.9502, 1.0, 1.0]

# Coils: design flow [m3/h] and what pipe and coil of the branch take at design flow [kPa]; the last is the farthest.
COIL_FLOW = np.array([17.0, 14, 12, 10, 9, 6])
COIL_LOSS = np.array([20.0, 26, 32, 38, 44, 52])
COMMON_LOSS = 70.0  # pipes that all flow passes, at design flow [kPa]
OVERSIZED = 1.4  # valves pass this much more than they need at design: the curve asks for too much head
RANGEABILITY = 50.0

# Name, decimals, role, of, unit.
POINTS = [
    ("P-1 SPD", 2, "pump-speed", "P-1", "%"),
    ("P-1 KW", 3, "pump-power", "P-1", "kW"),
    ("P-1 HEAD", 1, "pump-head", "P-1", "kPa"),
    ("LOOP DP", 1, "differential-pressure", None, "kPa"),
    ("CHWS-T", 2, "supply-temperature", None, "degC"),
    ("CHWR-T", 2, "return-temperature", None, "degC"),
    ("OUTDOOR T", 1, "outdoor-temperature", None, "degC"),
    *[(f"AHU-{i} VLV", 1, "valve-position", f"AHU-{i}", "%") for i in range(1, 7)],
    ("P-1 STATUS", 0, "pump-status", "P-1", None),
]

# The same loop with two pumps of half the size, a bypass, and coils whose water and air are trended.
TWO_ABOVE = 30.0  # loop flow from which both run [m3/h]
MINIMUM_FLOW = 12.0  # what the bypass keeps [m3/h]
TWO_BYPASS = f'minimum_flow = "{MINIMUM_FLOW:.0f} m3/h"\nbypass = "two-way"'
TWO_PUMPS = [
    *[
        point
        for pump in ("P-1", "P-2")
        for point in (
            (f"{pump} SPD", 2, "pump-speed", pump, "%"),
            (f"{pump} KW", 3, "pump-power", pump, "kW"),
            (f"{pump} HEAD", 1, "pump-head", pump, "kPa"),
            (f"{pump} STATUS", 0, "pump-status", pump, None),
        )
    ],
    *POINTS[3:7],
    ("BYP POS", 1, "bypass-position", None, "%"),
    *[
        point
        for i in range(1, 7)
        for point in (
            (f"AHU-{i} VLV", 1, "valve-position", f"AHU-{i}", "%"),
            (f"AHU-{i} LWT", 2, "coil-return-temperature", f"AHU-{i}", "degC"),
            (f"AHU-{i} SAT", 2, "air-temperature", f"AHU-{i}", "degC"),
            (f"AHU-{i} SAT SP", 1, "air-temperature-setpoint", f"AHU-{i}", "degC"),
        )
    ],
]


def shaft_kw(flow):
    return 1.9 + 0.0437 * flow - 0.00017 * flow**2


def drive_kw(flow, speed, size=1.0):
    """What a pump of some size takes at the drive's input [kW]."""
    safe = np.maximum(speed, 0.05)
    shaft = size * safe**3 * shaft_kw(flow / size / safe)
    motor = MOTOR_EFFICIENCY * np.interp(shaft / MOTOR_KW / size, LOAD, LOAD_EFFICIENCY)
    return shaft / motor / DRIVE_EFFICIENCY


def smooth(rng, rows, every, spread):
    """Random values every so many rows, joined by straight lines."""
    knots = rng.normal(0.0, spread, rows // every + 2)
    return np.interp(np.arange(rows), np.arange(len(knots)) * every, knots)


def physics(rng, rows):
    """What happens in the loop, before anybody reads it."""
    minute = np.arange(rows)
    hour = minute / 60 % 24
    day = minute // 1440
    # 1 April 2025 is a Tuesday; no Sundays. Warmest in late July, and at 15 h.
    sunday = (day + 1) % 7 == 6
    season = 17 + 8 * np.cos(2 * np.pi * (day - 115) / 365)
    outdoor = season + 5 * np.cos(2 * np.pi * (hour - 15) / 24) + smooth(rng, rows, 720, 2.0)
    on = ~sunday & (hour >= 5) & (hour < 22)

    load = np.clip((outdoor - 4) / 28, 0.12, 1.0)
    demand = np.stack([np.clip(load * (1 + smooth(rng, rows, 60, 0.05)), 0.05, 1.0) for _ in COIL_FLOW])
    coil_flow = COIL_FLOW[:, None] * demand
    flow = coil_flow.sum(axis=0)
    asked = ZERO_FLOW_HEAD + (DESIGN_HEAD - ZERO_FLOW_HEAD) * (flow / DESIGN_FLOW) ** 2
    root = np.sqrt((C * flow) ** 2 + 4 * A * (asked + B * flow**2))
    speed = np.maximum((C * flow + root) / (2 * A), MINIMUM_SPEED)
    # A start takes three minutes to run up.
    since = np.where(on, (hour - 5) * 60 + 1, 0)
    speed = speed * np.clip(since / 3, 0, 1)
    flow = np.where(since < 3, flow * np.clip(since / 3, 0, 1), flow)
    head = np.where(on, np.maximum(A * speed**2 - C * speed * flow - B * flow**2, 0), 0)

    power = np.where(on, drive_kw(flow, speed), 0.02)

    branch = np.maximum(head - COMMON_LOSS * (flow / DESIGN_FLOW) ** 2, 0.5)
    at_valve = np.maximum(branch - COIL_LOSS[:, None] * (coil_flow / COIL_FLOW[:, None]) ** 2, 0.5)
    capacity = OVERSIZED * COIL_FLOW / np.sqrt(DESIGN_HEAD - COMMON_LOSS - COIL_LOSS)
    share = coil_flow / (capacity[:, None] * np.sqrt(at_valve))
    valve = np.clip(1 + np.log(share) / np.log(RANGEABILITY), 0, 1)
    valve = np.where(on, valve, 0.0)
    far_dp = branch * on

    supply = np.where(on, 6.2 + smooth(rng, rows, 20, 0.15), 6.2 + 8 * (1 - np.exp(-((hour - 22) % 24) / 4)))
    rise = 6.0 * (1 + 0.35 * (1 - load)) * (1 + smooth(rng, rows, 60, 0.03))
    back = np.where(on, supply + rise, supply + 2.0)
    return locals()


def samples(rows):
    """Each point's values, in the order of POINTS."""
    rng = np.random.default_rng(SEED)
    at = physics(rng, rows)
    on, speed, power, head, far_dp = (at[k] for k in ("on", "speed", "power", "head", "far_dp"))
    supply, back, outdoor, valve = (at[k] for k in ("supply", "back", "outdoor", "valve"))

    def noisy(values, spread):
        return values + rng.normal(0, spread, rows)

    return [
        np.where(on, noisy(100 * speed, 0.15), 0),
        np.where(on, noisy(power, 0.02), power),
        np.where(on, noisy(head, 0.4), 0),
        np.where(on, noisy(far_dp, 0.4), 0),
        noisy(supply, 0.03),
        noisy(back, 0.03),
        noisy(outdoor, 0.1),
        *[np.clip(noisy(100 * v, 0.2), 0, 100) * on for v in valve],
        on.astype(float),
    ]


def samples_of_two(rows):
    """Each point's values, in the order of TWO_PUMPS."""
    rng = np.random.default_rng(SEED)
    at = physics(rng, rows)
    on, flow, head, supply, back = (at[k] for k in ("on", "flow", "head", "supply", "back"))

    def noisy(values, spread):
        return values + rng.normal(0, spread, rows)

    back = np.where(on, back, supply + 0.3)  # at rest the pipes come to one temperature
    # Half the pump at half the flow makes the same head.
    run_up = np.clip(at["since"] / 3, 0, 1)
    both = on & (flow >= TWO_ABOVE)
    columns = []
    for runs in (on, both):
        mine = np.where(runs, flow / (1 + both), 0.0)
        root = np.sqrt((2 * C * mine) ** 2 + 4 * A * (head + 4 * B * mine**2))
        speed = np.where(runs, np.maximum((2 * C * mine + root) / (2 * A), MINIMUM_SPEED) * run_up, 0.0)
        made = np.maximum(A * speed**2 - 2 * C * speed * mine - 4 * B * mine**2, 0)
        columns += [
            np.where(runs, noisy(100 * speed, 0.15), 0),
            np.where(runs, noisy(drive_kw(mine, speed, 0.5), 0.01), 0.02),
            np.where(runs, noisy(made, 0.4), 0),
            runs.astype(float),
        ]
    bypass = np.where(on, np.clip((MINIMUM_FLOW - flow) / MINIMUM_FLOW, 0, 1), 0.0)
    columns += [noisy(at["far_dp"], 0.4) * on, noisy(supply, 0.03), noisy(back, 0.03), noisy(at["outdoor"], 0.1), 100 * bypass]
    for valve in at["valve"]:
        setpoint = 13.0 + 0.5 * (at["outdoor"] < 15)
        leaving = np.where(on, supply + (back - supply) * (1 + smooth(rng, rows, 90, 0.04)), back)
        columns += [
            np.clip(noisy(100 * valve, 0.2), 0, 100) * on,
            noisy(leaving, 0.05),
            noisy(np.where(on, setpoint, 20.0), 0.1),
            setpoint,
        ]
    return columns


def cells(values, decimals):
    """Values as text, through a table of every number that occurs."""
    fixed = np.rint(values * 10**decimals).astype(np.int64)
    low = fixed.min()
    table = np.array([f"{i / 10**decimals:.{decimals}f}".encode() for i in range(low, fixed.max() + 1)], dtype=object)
    return table[fixed - low]


def stamps(first, last):
    """The times of some rows as text."""
    times = np.datetime_as_string(START + np.arange(first, last).astype("timedelta64[m]"), unit="s")
    return [s.replace("T", " ").encode() for s in times.tolist()]


def write(folder, rows):
    wide, tall = folder / "wide", folder / "tall"
    columns = [cells(v, p[1]) for v, p in zip(samples(rows), POINTS)]
    names = [p[0].encode() for p in POINTS]
    for place in (wide, tall):
        place.mkdir(parents=True, exist_ok=True)
    with open(wide / "trends.csv", "wb") as w, open(tall / "trends.csv", "wb") as t:
        w.write(b"Timestamp," + b",".join(names) + b"\n")
        t.write(b"Timestamp,Point,Value\n")
        for first in range(0, rows, CHUNK):
            last = min(first + CHUNK, rows)
            times = stamps(first, last)
            part = [c[first:last].tolist() for c in columns]
            w.write(b"\n".join(map(b",".join, zip(times, *part))) + b"\n")
            lines = [[b"%b,%b,%b" % (s, name, v) for s, v in zip(times, c)] for name, c in zip(names, part)]
            t.write(b"\n".join(line for row in zip(*lines) for line in row) + b"\n")
    for place in (wide, tall):
        (place / "plant.toml").write_text(plant_file(), encoding="utf-8")
    write_two(folder / "two-pumps", rows)


def write_two(place, rows):
    place.mkdir(parents=True, exist_ok=True)
    columns = [cells(v, p[1]) for v, p in zip(samples_of_two(rows), TWO_PUMPS)]
    with open(place / "trends.csv", "wb") as w:
        w.write(b"Timestamp," + b",".join(p[0].encode() for p in TWO_PUMPS) + b"\n")
        for first in range(0, rows, CHUNK):
            last = min(first + CHUNK, rows)
            w.write(b"\n".join(map(b",".join, zip(stamps(first, last), *[c[first:last].tolist() for c in columns]))) + b"\n")
    (place / "plant.toml").write_text(plant_file(TWO_PUMPS, ("P-1", "P-2"), TWO_BYPASS), encoding="utf-8")


def numbers(values, digits):
    return "[" + ", ".join(f"{v:.{digits}f}" for v in values) + "]"


def plant_file(trended=POINTS, pumps=("P-1",), bypass='bypass = "none"'):
    size = 1 / len(pumps)
    coils = "".join(
        f"""
[[coil]]
name = "AHU-{i}"
terminal = "air-coil"
design_flow = "{flow:.0f} m3/h"
valve = "two-way"
characteristic = "equal-percentage"
"""
        + ("index = true\n" if i == len(COIL_FLOW) else "")
        for i, flow in enumerate(COIL_FLOW, 1)
    )
    points = "".join(
        f'\n[[point]]\nname = "{name}"\nrole = "{role}"\n'
        + (f'of = "{of}"\n' if of else "")
        + (f'unit = "{unit}"\n' if unit else "")
        for name, _, role, of, unit in trended
    )
    return f"""# An invented plant for the benchmark; made by tests/bench/make_data.py.
units = "SI"

[site]
name = "Benchmark"
timezone = "Europe/Lisbon"
currency = "EUR"
energy_price = 0.19

[loop]
name = "Chilled water"
service = "chilled-water"
design_flow = "{DESIGN_FLOW:.0f} m3/h"
design_head = "{DESIGN_HEAD:.0f} kPa"
supply_temperature = "6 degC"
return_temperature = "12 degC"
topology = "primary-only"
{bypass}
{coils}
[control]
mode = "quadratic"
head_at = "pump"
zero_flow_head = "{ZERO_FLOW_HEAD:.0f} kPa"
minimum_speed = "{100 * MINIMUM_SPEED:.0f} %"
maximum_speed = "100 %"

[[schedule]]
days = "mon-sat"
from = "05:00"
to = "23:00"
{"".join(pump(name, size) for name in pumps)}
[trends]
files = ["trends.csv"]
timezone = "UTC"
interval = "1 min"
{points}"""


def pump(name, size):
    return f"""
[[pump]]
name = "{name}"
rated_speed = "1450 rpm"
rated_frequency = "50 Hz"
minimum_allowed_speed = "30 %"
motor = "induction"
motor_power = "{MOTOR_KW * size} kW"
motor_efficiency = {MOTOR_EFFICIENCY}
drive_efficiency = {DRIVE_EFFICIENCY}

[[pump.curve]]
speed = "100 %"
power_is = "shaft"
flow = {{ unit = "m3/h", values = {numbers(TABLE_FLOW * size, 0 if size == 1 else 1)} }}
head = {{ unit = "kPa", values = {numbers(A - C * TABLE_FLOW - B * TABLE_FLOW**2, 1)} }}
power = {{ unit = "kW", values = {numbers(size * shaft_kw(TABLE_FLOW), 3)} }}
"""


if __name__ == "__main__":
    write(pathlib.Path(sys.argv[1]), int(sys.argv[2]))
