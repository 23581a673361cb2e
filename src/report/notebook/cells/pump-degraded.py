said = evidence("head at like flow and speed")
rows = points.filter((pl.col("pump") == finding["subject"]) & pl.col("steady") & (pl.col("speed") > 0.1)).join(
    loop.select("time", "pumps_on", "day"), on="time"
)
head = (
    "own_pump_head"
    if "own_pump_head" in rows.columns and rows["own_pump_head"].is_not_null().any()
    else "header_head" if "header_head" in rows.columns else "head"
)
power = "own_pump_power" if "own_pump_power" in rows.columns else "power"
by_meter = next((c for c in ("own_pump_flow", "loop_flow_meter") if c in rows.columns and rows[c].is_not_null().any()), None)
s = pl.col("speed")
x = pl.col(by_meter) / (1 if by_meter == "own_pump_flow" else pl.col("pumps_on")) / s if by_meter else pl.col(power) / s**3
rows = (
    rows.with_columns(x.alias("x"), (pl.col(head) / s**2).alias("y"))
    .drop_nulls(["x", "y"])
    .filter(pl.col("x") > 0, pl.col("y") > 0)
)
start = pl.select(instant(finding["first_seen"])).item()
slow = "bit by bit" in finding["because"]
before, after = rows.filter(pl.col("time") < start), rows.filter(pl.col("time") >= start)
if slow and after.height:
    after = after.filter(pl.col("day") >= after["day"].unique().sort()[after["day"].n_unique() // 2])
change = None
if said is not None and before.height > 20 and after.height > 20:
    low, high = before["x"].quantile(0.02), before["x"].quantile(0.98)
    fit = np.polyfit(before["x"].to_numpy(), before["y"].to_numpy(), 2)
    like = after.filter(pl.col("x").is_between(low, high))
    change = (like["y"] / np.polyval(fit, like["x"].to_numpy())).median() - 1 if like.height else None
compare("head at like flow and speed, against earlier in the record", change, said, 0.30 if by_meter else 0.60, 0.01)
turned = points.filter((pl.col("pump") == finding["subject"]) & (pl.col("speed") > 0) & (pl.col("time") >= start))
compare("running hours since", hours(turned), finding["hours"], 0.02)
if finding["waste_kwh"]:
    energy = turned["power"].mean() * hours(turned)
    # By the head lost that the finding names, which is compared above.
    compare("waste, kWh", energy * -said * (0.5 if slow else 1.0), finding["waste_kwh"]["estimate"], 0.05)
