rows = loop.filter(
    "steady",
    (pl.col("regime") == "on-curve")
    | (
        pl.col("regime").is_null()
        if FACTS["control"]["mode"] != "remote-pressure" or "control_pressure" in loop.columns
        else (pl.col("regime") == "unknown")
    ),
)
rows = since_first_seen(rows.filter(pl.col("need_head").is_not_null(), pl.col("head") > 0, pl.col("loop_flow") > 0))
rows = out_of_frost(rows)
compare("hours on the curve with a known need", hours(rows), finding["hours"], 0.10)
set_zero, needed_zero = evidence("zero-flow head set"), evidence("zero-flow head that was needed")
if set_zero is None:
    opens = [k for k, c in enumerate(FACTS["coils"]) if c["valve"] not in ("pressure-independent", "thermostatic", "none")]
    shown = lambda k, c: (
        pl.when(pl.col(f"fan_status.{k + 1}").fill_null(1) >= 0.5).then(pl.col(c))
        if f"fan_status.{k + 1}" in rows.columns
        else pl.col(c)
    )
    widest = rows.select(pl.max_horizontal([shown(k, c) for k, c in coils_with("valve") if k in opens])).to_series()
    ratio = (rows["need_head"] / rows["head"]).quantile(0.95)
    compare("need over head, 95th percentile", ratio, evidence("need over head, 95th percentile"), 0.05)
    compare("widest valve, 95th percentile", widest.quantile(0.95), evidence("widest valve, 95th percentile"), 0.03)
    compare(
        "highest flow seen over design flow", rows["loop_flow"].quantile(0.98) / DESIGN_FLOW, evidence("highest flow seen"), 0.03
    )
    enough = min(max(ratio, evidence("need at design flow over")) * 1.1, 1.0)
    other = np.maximum(rows["head"].to_numpy() * enough, np.minimum(rows["need_head"].to_numpy(), rows["head"].to_numpy()))
else:
    control = FACTS["control"]
    x = rows["loop_flow"] / (control["design_flow_m3_h"] or DESIGN_FLOW)
    rise = (x if control["mode"] == "proportional" else x**2).to_numpy()
    design_head = control["design_head_kpa"] or DESIGN_HEAD
    zero = ((rows["need_head_high"].to_numpy() - design_head * rise) / (1 - rise))[rise <= 0.5]
    needed = np.nanquantile(zero, 0.98)
    compare("zero-flow head set, kPa", control["zero_flow_head_kpa"], set_zero, 0.001)
    compare("zero-flow head that was needed, 98th percentile, kPa", needed, needed_zero, 0.15)
    enough = max(needed_zero, 0.2 * design_head) + 0.02 * design_head
    other = rows["head"].to_numpy() - max(set_zero - enough, 0) * np.maximum(1 - rise, 0)
if finding["waste_kwh"]:
    compare_waste(saved_kwh(rows, rows["loop_flow"].to_numpy(), other), 0.25)
