water = delta_t(out_of_frost(loop.filter("steady")))
supply = pl.col("supply_temperature")
declared = FACTS["supply_temperature_degc"]
if DESIGN_K and FACTS["service"] == "heating-water":
    weather = pl.when(supply - 20.5 >= 5).then(((supply - 20.5) / (declared - 20.5)).clip(upper_bound=1))
elif DESIGN_K:
    weather = pl.when(supply - declared <= 1).then(1.0)
else:
    weather = pl.lit(None, dtype=pl.Float64)
coil_flows = [c["design_flow_m3_h"] or 0 for c in FACTS["coils"]]
three_way = sum(q for q, c in zip(coil_flows, FACTS["coils"]) if c["valve"] == "three-way") / (sum(coil_flows) or 1)
part = (pl.col("loop_flow") / (DESIGN_FLOW or np.nan)).clip(upper_bound=1)
mixed = ((part - three_way) / (1 - three_way) / part).clip(0.2, 1.0) if 0 < three_way < 1 else pl.lit(1.0)
water = water.with_columns((weather * mixed * (DESIGN_K or np.nan)).alias("expected"), weather.alias("weather"))
outdoor = [c for c in ("outdoor_temperature",) if c in water.columns]
coil = (
    next((k for k, c in enumerate(FACTS["coils"]) if c["name"] == finding["subject"]), None)
    if finding["subject"] != "loop"
    else None
)
enough = pl.len() * HOURS >= 1
if coil is None:
    least = max(0.25 * (DESIGN_FLOW or water["loop_flow"].quantile(0.98)), 1.3 * FACTS["minimum_flow_m3_h"])
    rows = water.filter((pl.col("loop_flow") >= least) & (pl.col("regime") != "speed-floor").fill_null(True)).drop_nulls(
        ["difference"]
    )
    level_said, fall_said = evidence("temperature difference over what the terminals should give"), evidence("temperature difference, after over before")
    judged = rows.drop_nulls(["expected"]) if level_said is not None else rows.with_columns(pl.lit(1.0).alias("expected"))
    taken = (pl.col("loop_flow") * pl.col("difference")).sum()
    daily = (
        judged.group_by("day")
        .agg(
            enough.alias("enough"),
            (taken / (pl.col("loop_flow") * pl.col("expected")).sum()).alias("level"),
            (taken / pl.len()).alias("load"),
            pl.col("supply_temperature").mean(),
            *(pl.col(c).mean() for c in outdoor),
        )
        .filter("enough")
        .sort("day")
    )
    since = daily.filter(pl.col("day") >= first_day()) if fall_said is not None else daily
    left = since["level"].median()
    compare("difference over what the terminals should give", left, level_said, 0.05)
    if fall_said is not None:
        step, before = step_at(daily, "level", ["load", "supply_temperature", *outdoor], first_day())
        left = 1 + step / before
        compare("difference after over before, at like load and supply temperature", left, fall_said, 0.10)
    rows = since_first_seen(rows)
else:
    valve = f"valve_position.{coil + 1}"
    rows = delta_t(out_of_frost(loop.filter(pl.col("pumps_on") > 0)), f"coil_return_temperature.{coil + 1}").filter(
        pl.col(valve) >= 0.1
    )
    rows = rows.join(water.select("time", "expected", "weather"), on="time", how="left")
    if f"fan_status.{coil + 1}" in rows.columns:
        rows = rows.filter(pl.col(f"fan_status.{coil + 1}").fill_null(1) >= 0.5)
    rows = rows.drop_nulls(["difference"])
    own = FACTS["coils"][coil]
    both = own["design_load_kw"] and own["design_flow_m3_h"]
    design = own["design_load_kw"] / (1.163 * own["design_flow_m3_h"]) if both else DESIGN_K
    siblings = [pl.col(c) for k, c in coils_with("valve") if k != coil]
    rows = rows.with_columns(pl.mean_horizontal(siblings or [pl.lit(None, dtype=pl.Float64)]).alias("siblings"))
    given = [c for c in ("siblings", "supply_temperature", *outdoor) if rows[c].is_not_null().any()]
    daily = (
        rows.group_by("day").agg(enough.alias("enough"), pl.col(valve, "difference", *given).mean()).filter("enough").sort("day")
    )
    if evidence("valve opened by") is not None:
        compare("valve opened by", step_at(daily, valve, given, first_day())[0], evidence("valve opened by"), 0.15, 0.01)
        step, before = step_at(daily, "difference", given, first_day())
        left = 1 + step / before
        compare("water's difference after over before", left, evidence("its water's temperature difference, after over before"), 0.15)
    else:
        wide = evidence("coil's temperature difference over design, wide open")
        open_from = 0.9 if wide is not None else 0.6
        rows = rows.filter("steady", pl.col(valve) >= open_from).drop_nulls(["expected"])
        ratio = (
            pl.col("difference")
            / (design if wide is None else (DESIGN_K if not both else design))
            / (1 if wide is not None else pl.col("weather"))
        )
        rows = rows.with_columns(ratio.alias("ratio"))
        left = rows["ratio"].median()
        compare("coil's difference over design, valve open", left, evidence("coil's temperature difference over design"), 0.15)
        rows = rows if wide is not None else rows.filter(pl.col("ratio") <= 0.75)
    rows = since_first_seen(rows)
    left = 1 - (own["design_flow_m3_h"] / DESIGN_FLOW if own["design_flow_m3_h"] and DESIGN_FLOW else 1 / len(FACTS["coils"])) * (
        1 - left
    )
compare("hours", hours(rows), finding["hours"], 0.10)
if finding["waste_kwh"]:
    flow = rows["loop_flow"].to_numpy()
    less = flow * np.clip(left, 0.4, 1.0)
    head = rows["head"].to_numpy() - np.nan_to_num(asked_at(rows) - asked_at(rows, less))
    compare_waste(saved_kwh(rows, less, head), 0.25)
