mine = points.filter(pl.col("pump") == finding["subject"]).sort("time")
mine = mine.join(loop.select("time", "pumps_on"), on="time", how="left").with_columns(pl.col("local").dt.date().alias("day"))
others = points.filter((pl.col("pump") != finding["subject"]) & turning)
beside = others.group_by("time").agg(
    pl.col("speed").filter(pl.col("steady")).max().alias("faster"),
    (pl.col("own_pump_head") if "own_pump_head" in points.columns else pl.lit(None, dtype=pl.Float64))
    .max()
    .alias("across another"),
)
mine = mine.join(beside, on="time", how="left")
get = lambda name: pl.col(name).cast(pl.Float64) if name in mine.columns else pl.lit(None, dtype=pl.Float64)
own, header, meter, own_meter = get("own_pump_head"), get("header_head"), get("loop_flow_meter"), get("own_pump_flow")
table = table_of(finding["subject"])
shut_off = table[1][0] if table else None
pump = next(p for p in FACTS["pumps"] if p["name"] == finding["subject"])
full = pump["best_efficiency_flow_m3_h"] or (0.7 * table[0][-1] if table else None) or DESIGN_FLOW or np.nan
s = pl.col("speed")
no_flow = s**2 * shut_off if shut_off else pl.lit(None, dtype=pl.Float64)
held = pl.when(header.is_not_null()).then(header).otherwise(pl.max_horizontal("across another", get("control_pressure")))
behind = (pl.col("faster") > s) & (held > 1.06 * no_flow)
alone = pl.col("pumps_on") <= 1
metered = pl.when(own_meter.is_not_null()).then(own_meter).when(alone | (meter <= 0.02 * full)).then(meter)
near = pl.coalesce(own, header) / no_flow
apart = (
    pl.col("steady")
    & (own >= 0.9 * no_flow)
    & ((own > 1.1 * pl.col("across another") + 2) | (pl.max_horizontal(header, get("control_pressure")) <= 0.1 * own))
)
less = pl.lit(False)
for k, name in enumerate(others["pump"].unique(maintain_order=True)):
    one = others.filter((pl.col("pump") == name) & pl.col("steady") & (pl.col("power") >= 0.15))
    mine = mine.join(
        one.select("time", pl.col("power").alias(f"power {k}"), pl.col("speed").alias(f"speed {k}")), on="time", how="left"
    )
    like = pl.col("steady") & ((s - pl.col(f"speed {k}")).abs() <= 0.02 * pl.col(f"speed {k}"))
    ratio = pl.when(like & (pl.col("power") > 0)).then(pl.col("power") / pl.col(f"power {k}"))
    together = mine.select(ratio).to_series().drop_nulls()
    if together.len() * HOURS >= 12:
        less = less | (ratio <= 0.7 * together.median()).fill_null(False)
valves = [pl.col(c) for _, c in coils_with("valve")]
weight = [FACTS["coils"][k]["design_flow_m3_h"] or 1 for k, _ in coils_with("valve")]
# Shut valves bar the way only where nothing else passes water: no three-way coil, and a bypass that is known.
closes = (
    bool(valves)
    and FACTS["bypass"] in ("none", "two-way", None)
    and not any(c["valve"] in ("three-way", "none") for c in FACTS["coils"])
)
closes = closes and (FACTS["bypass"] == "none" or "bypass_position" in mine.columns)
shut = (pl.max_horizontal(valves) <= 0.03) & ~(get("bypass_position") > 0.05).fill_null(False) if closes else pl.lit(False)
calling = (sum(v * w for v, w in zip(valves, weight)) >= 0.7 * sum(weight)) if valves else pl.lit(False)
# An open bypass may take the water before the meter, unless coils call and the head is that of no flow.
passes = (get("bypass_position") > 0.05).fill_null(False) & own_meter.is_null() & ~((near >= 0.94) & calling).fill_null(False)
zero = (metered <= 0.02 * full) & ~near.is_between(0.10, 0.85).fill_null(False) & ~passes
little = pl.col("flow_high") <= 0.20 * s * full
barred = (
    alone
    & metered.is_null()
    & (near >= 0.94)
    & (
        (shut & (pl.col("flow_high") <= 0.10 * s * full))
        | (calling & little)
        | (shut & (pl.lit(len(valves) >= 0.95 * len(FACTS["coils"]))))
    )
)
dead = (
    turning
    & (s > 0.1)
    & (behind.fill_null(False) | zero.fill_null(False) | apart.fill_null(False) | less | barred.fill_null(False))
)
mine = mine.with_columns(turning.rle_id().alias("run")).with_columns(
    (pl.len().over("run") * HOURS).alias("run h"), held.alias("held")
)
# Whole runs of twenty minutes or less are an exercise.
mine = mine.with_columns((dead & (pl.col("run h") > 1 / 3 + 1e-9)).alias("dead"))
mine = mine.with_columns(pl.col("dead").rle_id().alias("stretch")).with_columns(
    (pl.len().over("stretch") * HOURS).alias("stretch h")
)
rows = mine.filter("dead", pl.col("stretch h") >= max(0.25, 2 * HOURS) - 1e-9)
compare("hours without flow", hours(rows), evidence("hours without flow"), 0.15)
compare("longest stretch, h", rows["stretch h"].max(), evidence("longest stretch"), 0.15)
compare("speed in them", rows["speed"].median(), evidence("speed in them"), 0.05)
middle = rows["held"].median()
opens = np.sqrt(middle / shut_off) if shut_off and middle is not None else None
compare("speed that opens its check valve", opens, evidence("speed that opens its check valve"), 0.07)
if finding["waste_kwh"] and rows["power"].drop_nulls().len():
    compare("waste, kWh", rows["power"].mean() * hours(rows), finding["waste_kwh"]["estimate"], 0.15)
