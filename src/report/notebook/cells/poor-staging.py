many, few, goes = (
    evidence("share of the running hours with one pump too many"),
    evidence("hours at full speed with the head short"),
    evidence("starts an hour of the lag pump"),
)
wait = max(int(np.ceil(0.5 / HOURS - 1e-9)), 1)
same = (
    (pl.col("pumps_on") == pl.col("pumps_on").shift(1))
    .fill_null(False)
    .cast(pl.Int8)
    .rolling_min(wait)
    .cast(pl.Boolean)
    .fill_null(False)
)
settled = out_of_frost(loop.filter(same & (pl.col("pumps_on") > 0)))
maximum = FACTS["control"]["maximum_speed"] or 1.0
if many is not None:
    rows = settled.filter("steady", pl.col("loop_flow") > 0, pl.col("head") > 0)
    q, h, n = rows["loop_flow"].to_numpy(), rows["head"].to_numpy(), rows["pumps_on"].to_numpy()
    fewer = np.maximum(n - 1, 1)
    now, then = by_table(q, h, n), by_table(q, h, fewer)
    table = next(t for t in (table_of(p["name"]) for p in FACTS["pumps"]) if t)
    best = next((p["best_efficiency_flow_m3_h"] for p in FACTS["pumps"] if p["best_efficiency_flow_m3_h"]), None)
    if best is None:
        fine = np.linspace(0.05 * table[0][-1], table[0][-1], 400)
        best = (
            fine[(fine * drawn(fine, table[0], table[1]) / drawn(fine, table[2], table[3])).argmax()] if len(table[3]) else np.inf
        )
    each = q / fewer
    high = speed_for(each, h, table)
    saving = np.where((n >= 2) & (high <= maximum) & (each <= 1.15 * high * best), 1 - then / now, 0.0)
    wrong = saving >= 0.08
    compare("share of the running hours with one pump too many", wrong.mean(), many, 0.15)
    compare(
        "power that one pump fewer saves",
        saving[wrong].mean() if wrong.any() else None,
        evidence("power that one pump fewer saves"),
        0.35,
    )
    compare(
        "loop flow in those hours, m3/h", np.median(q[wrong]) if wrong.any() else None, evidence("loop flow in those hours"), 0.10
    )
    if finding["waste_kwh"] and wrong.any():
        power = rows["power"].to_numpy()[wrong]
        compare_waste(np.nanmean(power * saving[wrong]) * wrong.sum() * HOURS, 0.35)
if few is not None:
    full = points.group_by("time").agg(
        (~turning | (pl.col("speed") >= maximum - 0.015)).all().alias("full"), pl.col("head_high").filter(turning).first()
    )
    rows = settled.join(full, on="time").filter("full", pl.col("pumps_on") < (FACTS["pumps_on_duty"] or len(FACTS["pumps"])))
    asked = asked_at(rows)
    short = (
        rows["head_high"].to_numpy() < 0.97 * asked
        if np.isfinite(asked).any()
        else above_asked(rows) < -0.03 * (DESIGN_HEAD or 0)
    )
    compare("hours at full speed with the head short and a pump idle", short.sum() * HOURS, few, 0.15)
    lacking = (asked - rows["head"].to_numpy())[short]
    compare(
        "head below the control curve, kPa",
        np.median(lacking) if len(lacking) else None,
        evidence("head below the control curve"),
        0.15,
    )
if goes is not None:
    starts, flow_on, flow_off = np.zeros(loop.height), [], []
    turns = points.pivot("pump", index="time", values="on").sort("time").drop("time").to_numpy().astype(bool)
    flow = loop["loop_flow"].to_numpy()
    for k in range(turns.shape[1]):
        others = np.delete(turns, k, axis=1)
        change = np.diff(turns[:, k].astype(int))
        for came in np.flatnonzero(change == 1) + 1:
            gone = next((g + 1 for g in np.flatnonzero(change == -1) if g + 1 > came), None)
            if gone is not None and others[came - 1 : gone + 1].all(axis=0).any():
                starts[came] += 1
                flow_on.append(flow[came - 1])
                flow_off.append(flow[gone - 1])
    two_hours = max(int(round(2 / HOURS)), 1)
    total = np.concatenate([[0], np.cumsum(starts)])
    often = np.zeros(len(starts), dtype=bool)
    for k in np.flatnonzero(total[two_hours:] - total[:-two_hours] + 0.01 >= 1.5 * two_hours * HOURS):
        often[k : k + two_hours] = True
    compare("starts an hour of the lag pump", starts[often].sum() / max(often.sum() * HOURS, HOURS), goes, 0.05)
    compare(
        "loop flow just before it comes, m3/h",
        np.nanmedian(flow_on) if flow_on else None,
        evidence("loop flow just before it comes"),
        0.05,
    )
    compare(
        "loop flow just before it goes, m3/h",
        np.nanmedian(flow_off) if flow_off else None,
        evidence("loop flow just before it goes"),
        0.05,
    )
    compare("hours", often.sum() * HOURS, finding["hours"], 0.05)
