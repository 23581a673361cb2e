rows = out_of_frost(loop.filter("steady", pl.col("regime").is_in(["on-curve", "speed-floor"])))
rising = -1 if FACTS["service"] == "heating-water" else 1
coils, work = FACTS["coils"], []
flows = [c["design_flow_m3_h"] for c in coils]
weights = flows if None not in flows else [c["count"] for c in coils]
meant = loop.with_columns(scheduled(pl.col("local")).alias("meant"))["meant"]
for k, valve in coils_with("valve"):
    if coils[k]["valve"] in ("three-way", "thermostatic", "none"):
        continue
    n = k + 1
    pair = next(
        (
            (f"{a}.{n}", f"{a}_setpoint.{n}")
            for a in ("air_temperature", "space_temperature")
            if {f"{a}.{n}", f"{a}_setpoint.{n}"} <= set(loop.columns)
        ),
        None,
    )
    if coils[k]["valve"] == "pressure-independent" and pair is None:
        continue
    frame = loop.select(
        "time",
        (pl.col("pumps_on") > 0).alias("on"),
        pl.col(valve).alias("valve"),
        (pl.col(f"fan_status.{n}").fill_null(1) >= 0.5 if f"fan_status.{n}" in loop.columns else pl.lit(True)).alias("fan"),
        (rising * (pl.col(pair[0]) - pl.col(pair[1])) if pair else pl.lit(None, dtype=pl.Float64)).alias("short_by"),
        (pl.col(pair[1]).diff().abs().fill_null(0) >= 1 if pair else pl.lit(False)).alias("ordered"),
    )
    starts = meant & ~meant.shift(1, fill_value=True)
    # Work begins anew at a start of the schedule and at a jump of the setpoint.
    frame = frame.with_columns((pl.col("on") & pl.col("fan") & (pl.col("valve") >= 0.1)).fill_null(False).alias("works"))
    frame = frame.with_columns((~pl.col("works") | starts | pl.col("ordered")).alias("anew"))
    frame = frame.with_columns(
        (pl.int_range(pl.len()) - pl.when("anew").then(pl.int_range(pl.len())).forward_fill().fill_null(-1)).alias("rows at work")
    )
    frame = frame.with_columns((pl.col("works") & (pl.col("rows at work") * HOURS >= 2 - 1e-9)).alias("settled"))
    end = pl.col("settled") & (pl.col("valve") >= 0.95)
    work.append(
        (
            k,
            frame.with_columns(
                (end & (pl.col("short_by") >= 1).fill_null(False)).alias("short"),
                (end & pl.col("short_by").is_null()).alias("mute"),
                (end & (pl.col("short_by") < 1).fill_null(False)).alias("content"),
            ),
        )
    )
state = lambda what: np.column_stack([f[what].fill_null(False).to_numpy() for _, f in work])
short, mute, content, settled = state("short"), state("mute"), state("content"), state("settled")
index = np.array([coils[k]["index"] for k, _ in work])
share = np.array([weights[k] for k, _ in work]) / sum(weights)
by_air = (short & index).any(axis=1) | (short.any(axis=1) & (short.sum(axis=1) + mute.sum(axis=1) >= 2))
with np.errstate(all="ignore"):
    open_ = np.where(settled, np.column_stack([f["valve"].to_numpy() for _, f in work]), np.nan)
    middle = np.array([np.nanmedian(r) if np.isfinite(r).any() else np.nan for r in open_])
by_valves = ~short.any(axis=1) & ~content.any(axis=1) & (mute.sum(axis=1) >= 2) & (mute @ share >= 1 / 3) & (middle >= 0.7)
starved = loop.select("time").with_columns(pl.Series("starved", by_air | by_valves), pl.Series("row", np.arange(loop.height)))
rows = rows.join(starved, on="time").filter("starved", pl.col("loop_flow").fill_null(0) < 0.97 * (DESIGN_FLOW or np.inf))
if FACTS["service"] == "chilled-water" and FACTS["supply_temperature_degc"] is not None and "supply_temperature" in rows.columns:
    rows = rows.filter((pl.col("supply_temperature") - FACTS["supply_temperature_degc"]).fill_null(0) <= 1)
rows = rows.filter((pl.len().over("day") * HOURS) >= 1)
compare("hours with coils short on the curve", hours(rows), evidence("hours with coils short on the curve"), 0.15)
rows = since_first_seen(rows)
compare("hours since it is seen", hours(rows), finding["hours"], 0.15)
at = rows["row"].to_numpy()
for e in finding["evidence"]:
    for column_, (k, _) in enumerate(work):
        if e["name"] == f"hours with {coils[k]['name']} fully open":
            compare(f"hours that coil {k + 1} is at its end", (short | mute)[at, column_].sum() * HOURS, e["value"], 0.15)
if "need_head" in rows.columns:
    compare(
        "need above the head given, kPa",
        (rows["need_head"] - rows["head"]).median(),
        evidence("need above the head given"),
        0.10,
        0.5,
    )
if "supply_temperature" in rows.columns and DESIGN_K:
    drive = (
        ((rows["supply_temperature"] - 20.5) / (FACTS["supply_temperature_degc"] - 20.5)).clip(upper_bound=1).to_numpy()
        if FACTS["service"] == "heating-water"
        else 1.0
    )
    ratios = []
    for column_, (k, _) in enumerate(work):
        back = f"coil_return_temperature.{k + 1}"
        own = coils[k]["design_load_kw"] and coils[k]["design_flow_m3_h"]
        design = coils[k]["design_load_kw"] / (1.163 * coils[k]["design_flow_m3_h"]) if own else DESIGN_K
        if back in rows.columns:
            ratios.append(
                np.where((short | mute)[at, column_], delta_t(rows, back)["difference"].to_numpy() / design / drive, np.nan)
            )
    if not ratios or not np.isfinite(np.array(ratios, dtype=float)).any():
        ratios = [delta_t(rows)["difference"].to_numpy() / DESIGN_K / drive]
    each = [np.nanquantile(r, 0.5, method="higher") for r in np.column_stack(ratios).astype(float) if np.isfinite(r).any()]
    compare(
        "difference of the starved coils' water over what it should be",
        np.median(each),
        evidence("difference of the starved coils' water"),
        0.15,
    )
