checked = []  # one entry a number: here, in findings.json, and how far they may differ


def evidence(start):
    """The finding's evidence whose name starts with these words; None where there is none."""
    return next((e["value"] for e in finding["evidence"] if e["name"].startswith(start)), None)


def compare(name, here, said, tolerance, least=0.0):
    """Notes a number beside the one of findings.json. `tolerance`: a share of that; `least`: so much in any case."""
    if said is None:
        return
    here = None if here is None or not np.isfinite(here) else float(here)
    agrees = here is not None and abs(here - said) <= max(tolerance * abs(said), least)
    checked.append(
        {
            "fault": finding["fault"],
            "subject": finding["subject"],
            "name": name,
            "here": here,
            "findings": said,
            "tolerance": tolerance,
            "least": least,
            "agrees": agrees,
        }
    )
    shown = "not known" if here is None else f"{here:.4g} (differs by {here - said:+.3g})"
    print(f"{name}: here {shown}, findings.json {said:.4g}, tolerance {tolerance:.0%}: {'agrees' if agrees else 'DIFFERS'}")


def compare_waste(here, tolerance):
    """The same for the energy; 2 % of the pumps' energy in any case, since a small waste is the difference of two like numbers."""
    compare("waste, kWh", here, finding["waste_kwh"]["estimate"], tolerance, 0.02 * (FOUND["energy_kwh"] or 0))


def instant(text):
    return pl.lit(text).str.to_datetime("%Y-%m-%dT%H:%M:%SZ", time_unit="ms", time_zone="UTC")


def since_first_seen(rows):
    """Rows from the first to the last instant that the finding names."""
    return rows.filter((pl.col("time") >= instant(finding["first_seen"])) & (pl.col("time") <= instant(finding["last_seen"])))


def median(values):
    return pl.Series(values).drop_nans().drop_nulls().median() if len(values) else None


def hours(rows):
    return rows.height * HOURS


def column(what, of=None):
    """The table's column of a reading, by its role and whose it is; None where it is not in the table."""
    return next((c["column"] for c in FACTS["columns"] if c["what"] == what and c["of"] == of), None)


def coils_with(what):
    """Place in the plant file and column of every coil that has such a reading."""
    return [
        (int(c["column"].rsplit(".")[-1]) - 1, c["column"])
        for c in FACTS["columns"]
        if c["what"].startswith(what) and "." in c["column"] and not c["column"].startswith("as_read")
    ]


def out_of_frost(rows):
    """Rows not below the outdoor temperature at which the plant file lets the pumps run against frost."""
    limit = FACTS["frost_protection_below_degc"]
    return (
        rows
        if limit is None or "outdoor_temperature" not in rows.columns
        else rows.filter(pl.col("outdoor_temperature").fill_null(99) >= limit)
    )


# Whether a pump turns, and one row an interval with what the pumps share.
points = points.with_columns(
    (pl.col("speed") > 0)
    .fill_null(False)
    .or_(pl.col("regime").is_in(["on-curve", "above-curve", "below-curve", "speed-floor", "full-speed", "transient"]))
    .fill_null(False)
    .alias("on")
)
turning = pl.col("on")
beside = [
    c
    for c in points.columns
    if c not in ("time", "pump", "on") and (c.startswith("loop_") or c in {r["column"] for r in FACTS["columns"]})
]
loop = (
    points.group_by("time", maintain_order=True)
    .agg(
        pl.col("local").first(),
        turning.sum().alias("pumps_on"),
        # As many pumps as turn, all of them steady, in one regime.
        (turning.any() & (pl.col("steady").fill_null(False) | ~turning).all()).alias("steady"),
        pl.when(pl.col("regime").filter(turning).n_unique() == 1).then(pl.col("regime").filter(turning).first()).alias("regime"),
        pl.col("head").filter(turning).mean().alias("head"),
        pl.col("curve_head").filter(turning).mean().alias("curve_head"),
        pl.col("speed").filter(turning).mean().alias("speed"),
        pl.when(pl.col("power").is_null().any()).then(None).otherwise(pl.col("power").sum()).alias("power"),
        *(pl.col(c).first() for c in beside if not c.startswith("own_")),
    )
    .with_columns(pl.col("local").dt.date().alias("day"))
)


def scheduled(local):
    """Whether the loop is meant to run, by the plant file's schedule: a run past midnight belongs to the day it began on."""
    if not FACTS["schedule"]:
        return pl.lit(True)
    minute = local.dt.hour().cast(pl.Int32) * 60 + local.dt.minute()
    today, yesterday = local.dt.date(), local.dt.date().dt.offset_by("-1d")
    holidays = pl.Series(FACTS["holidays"], dtype=pl.String).str.to_date()
    meant = pl.lit(False)
    for window in FACTS["schedule"]:
        days = [k + 1 for k, on in enumerate(window["days"]) if on]
        applies = lambda day: day.dt.weekday().is_in(days) & ~day.is_in(holidays.implode())
        start, end = window["from_min"], window["to_min"]
        if end > start:
            meant = meant | (applies(today) & (minute >= start) & (minute < end))
        else:
            meant = meant | (applies(today) & (minute >= start)) | (applies(yesterday) & (minute < end))
    return meant


def table_of(name):
    """A pump's first tested curve, brought to rated speed by the affinity laws: flow, head, flow, power; None without one."""
    pump = next((p for p in FACTS["pumps"] if p["name"] == name and p["curves"]), None)
    if pump is None:
        return None
    curve = pump["curves"][0]
    s = curve["speed"]
    q, h, qp, p = (np.array(curve[k], dtype=float) for k in ("head_flow_m3_h", "head_kpa", "power_flow_m3_h", "power_kw"))
    return q / s, h / s**2, qp / s, p / s**3


def drawn(x, xs, ys):
    """By straight lines between the points, going on beyond the last one."""
    beyond = ys[-1] + (x - xs[-1]) * (ys[-1] - ys[-2]) / (xs[-1] - xs[-2])
    return np.where(x > xs[-1], beyond, np.interp(x, xs, ys))


def falls_with_speed(shaft, speed, rated, whole):
    """Losses of motor and drive in kW: half go with speed, half with the square of the power (common practice, no source)."""
    return rated * (1 / whole - 1) * (0.5 * speed + 0.5 * (shaft / rated) ** 2)


def as_on_the_mains(shaft, speed, rated, whole):
    """Losses by published part-load efficiencies of motors of 7.5 to 15 kW on the mains (US DOE, Determining Electric Motor Load and Efficiency, 2014) and of drives
    (trade table), over that at full load; below a tenth of load the loss of a tenth is held."""
    load = np.maximum(shaft / rated, 0.1)
    share = np.interp(load, [0.1, 0.2, 0.3, 0.4, 0.6, 1.0], [0.43, 0.74, 0.87, 0.94, 0.98, 1.0])
    return rated * (load / (whole * share) - load)


def by_table(flow, head, pumps_on, name=None, losses=None):
    """Power in kW of the pumps at a flow and head they share: the tested curve by the affinity laws, and losses. Only ratios of it mean anything."""
    losses = losses or LOSSES
    pump = next(
        (p for p in FACTS["pumps"] if p["name"] == name), next((p for p in FACTS["pumps"] if p["curves"]), FACTS["pumps"][0])
    )
    table = table_of(pump["name"])
    flow, head, pumps_on = (np.asarray(v, dtype=float) for v in (flow, head, pumps_on))
    if table is None or not len(table[3]):
        return flow * head  # the same efficiency before and after
    q, h, qp, p = table
    each = flow / np.maximum(pumps_on, 1)
    s = speed_for(each, head, table)
    # A table at the drive's input holds the losses of full speed already.
    whole = (pump["motor_efficiency"] or 0.88) * (pump["drive_efficiency"] or 0.96)
    rated = pump["motor_power_kw"] or p.max()
    at_input = pump["curves"][0]["power_is"] == "drive-input"
    shaft = s**3 * np.maximum(drawn(each / s, qp, p), 0.02 * p.max()) * (whole if at_input else 1)
    return pumps_on * (shaft + losses(shaft, s, rated, whole))


def speed_for(flow, head, table):
    """Speed over rated at which the table makes a head at a flow, by halving."""
    low, high = np.full_like(flow, 0.02), np.full_like(flow, 2.0)
    for _ in range(40):
        s = (low + high) / 2
        enough = s**2 * drawn(flow / s, table[0], table[1]) >= head
        low, high = np.where(enough, low, s), np.where(enough, s, high)
    return high


def saved_kwh(rows, flow, head, pumps_on=None):
    """Energy over rows less what another flow and head would have taken; rows without a known power count as the others."""
    now = by_table(rows["loop_flow"].to_numpy(), rows["head"].to_numpy(), rows["pumps_on"].to_numpy())
    then = by_table(flow, head, rows["pumps_on"].to_numpy() if pumps_on is None else pumps_on)
    saved = rows["power"].to_numpy() * (1 - then / now)
    return np.nanmean(saved) * hours(rows) if np.isfinite(saved).any() else None


def asked_at(rows, flow=None):
    """Head in kPa that the control in force at each row asks at a flow (the row's own where none is given); NaN where it asks none at the pump."""
    flow = rows["loop_flow"].to_numpy() if flow is None else np.asarray(flow, dtype=float)
    time = rows["time"].dt.epoch("ms").to_numpy()
    asked, since = np.full(len(flow), np.nan), np.iinfo(np.int64).min
    for until, setting in [
        *((e["until_ms"], e["control"]) for e in FACTS["control_history"]),
        (np.iinfo(np.int64).max, FACTS["control"]),
    ]:
        then, head = (time >= since) & (time < until), control_head(setting, flow)
        if head is not None:
            asked[then] = head[then]
        if setting["mode"] == "constant-pressure" and "differential_pressure_setpoint" in rows.columns:
            trended = rows["differential_pressure_setpoint"].to_numpy()
            asked[then] = np.where(np.isfinite(trended), trended, asked if setting["reset"] in (None, "none") else np.nan)[then]
        since = until
    return asked


def follows_sensor():
    """Whether the pumps follow a pressure that is trended, not a curve at the pump."""
    control = FACTS["control"]
    remote = control["mode"] == "remote-pressure" or (control["mode"] == "constant-pressure" and control["head_at"] != "pump")
    return remote and "control_pressure" in points.columns


def above_asked(rows):
    """How far the head (or the pressure that the pumps follow) stands above what the control asks, kPa."""
    if not follows_sensor():
        return rows["head"].to_numpy() - asked_at(rows)
    declared = FACTS["control"]["setpoint_kpa"] if FACTS["control"]["reset"] in (None, "none") else None
    declared = np.full(rows.height, np.nan if declared is None else declared)
    trended = rows["differential_pressure_setpoint"].to_numpy() if "differential_pressure_setpoint" in rows.columns else declared
    setpoint = np.where(np.isfinite(trended), trended, declared)
    return rows["control_pressure"].to_numpy() - setpoint


def step_at(daily, y, given, day):
    """Least squares of a daily figure on others and on a step at a day: the step, and the mean before it."""
    known = daily.drop_nulls([y, *given]).filter(pl.all_horizontal(pl.col(y, *given).is_finite()))
    after = (known["day"] >= day).to_numpy().astype(float)
    others = [known[g].to_numpy() for g in given if (known[g].std() or 0) > 1e-9]
    x = np.column_stack([np.ones(known.height), after, *[(o - o.mean()) / o.std() for o in others]])
    fit = np.linalg.lstsq(x, known[y].to_numpy(), rcond=None)[0]
    return fit[1], known[y].to_numpy()[after == 0].mean()


def first_day():
    return pl.select(instant(finding["first_seen"]).dt.convert_time_zone(TIMEZONE).dt.date()).item()


def delta_t(frame, back="return_temperature"):
    """Temperature difference of water that went through the load, positive as it should be."""
    sign = -1 if FACTS["service"] == "heating-water" else 1
    return frame.with_columns((sign * (pl.col(back) - pl.col("supply_temperature"))).alias("difference"))


DESIGN_K = (
    abs(FACTS["return_temperature_degc"] - FACTS["supply_temperature_degc"])
    if None not in (FACTS["return_temperature_degc"], FACTS["supply_temperature_degc"])
    else None
)
DESIGN_FLOW, DESIGN_HEAD = FACTS["design_flow_m3_h"], FACTS["design_head_kpa"]


def spread_of(losses):
    """How far the recorded power strays from the table's with these losses, as share."""
    rows = loop.filter("steady", pl.col("power") > 0).drop_nulls(["loop_flow", "head"])
    rows = rows.gather_every(1 + rows.height // 2000)
    ratio = rows["power"].to_numpy() / by_table(rows["loop_flow"], rows["head"], rows["pumps_on"], losses=losses)
    known = np.log(ratio[np.isfinite(ratio) & (ratio > 0)])
    return np.quantile(known, 0.9) - np.quantile(known, 0.1) if len(known) > 20 else np.inf


def between(share):
    """Losses that lie so far from the first form towards the second."""
    return lambda *motor: (1 - share) * falls_with_speed(*motor) + share * as_on_the_mains(*motor)


# The losses that the recorded power goes along with best.
LOSSES = min((between(share) for share in (0, 0.25, 0.5, 0.75, 1)), key=spread_of)
