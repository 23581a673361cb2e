rows = out_of_frost(
    points.filter((pl.col("pump") == finding["subject"]) & pl.col("steady") & (pl.col("speed") > 0.1))
).with_columns(pl.col("local").dt.date().alias("day"))
openings = [c for _, c in coils_with("valve")]
if openings:
    rows = rows.filter(~(pl.max_horizontal(openings) <= 0.05).fill_null(False))
asked = asked_at(rows)
asked = rows["head"].to_numpy() - above_asked(rows) if follows_sensor() and not np.isfinite(asked).any() else asked
need = rows["need_head"].to_numpy() if "need_head" in rows.columns else np.full(rows.height, np.nan)
needed = np.where(np.isfinite(need), np.fmax(asked, np.fmin(need, rows["head"].to_numpy())), asked)
rows = rows.with_columns(pl.Series("needed", needed), pl.col("speed").quantile(0.02).over("day").alias("low"))
on = pl.col("speed") <= pl.col("low") + 0.012
leaves = pl.col("speed") > pl.col("low") + 0.024
declared = FACTS["control"]["minimum_speed"]
as_declared = ((pl.col("low") - declared).abs() <= 0.05) if declared is not None else pl.lit(False)
piled = (on.mean().over("day") >= 0.10) & ((leaves.mean().over("day") >= 0.10) | as_declared)
lowest = evidence("lowest speed that maker and machines allow")
spare = 0.06 if next(p for p in FACTS["pumps"] if p["name"] == finding["subject"])["minimum_allowed_speed"] is not None else 0.15
enough_head = pl.min_horizontal("head", "head_low") - pl.col("needed") > 0.03 * (DESIGN_HEAD or 0)
spent = rows.filter(piled & on & enough_head & (pl.col("speed") - lowest >= spare) & pl.col("needed").is_finite())
table = table_of(finding["subject"])
shut_off = table[1][0] if table else np.nan
over = np.maximum((spent["head"] - spent["needed"]).to_numpy(), 0)
slower = np.sqrt(np.maximum(spent["speed"].to_numpy() ** 2 - over / shut_off, 0)) if table else spent["speed"].to_numpy() * 0
spent = spent.filter(pl.Series(spent["speed"].to_numpy() - np.fmax(slower, lowest) >= (spare if spare > 0.06 else 0.03)))
compare("speed floor", spent["speed"].median(), evidence("speed floor"), 0.02)
compare("head on it, kPa", spent["head"].median(), evidence("head on it"), 0.05)
compare("hours on it with speed to spare", hours(spent), evidence("hours at it with speed to spare"), 0.15)
if finding["waste_kwh"]:
    rows = loop.join(spent.select("time", "needed", pl.col("speed").alias("own speed")), on="time").drop_nulls(
        ["loop_flow", "head"]
    )
    v = rows["own speed"].to_numpy()
    makes = rows["head"].to_numpy() - shut_off * (v**2 - lowest**2) if table else rows["head"].to_numpy() * (lowest / v) ** 2
    other = np.minimum(np.fmax(rows["needed"].to_numpy(), makes), rows["head"].to_numpy())
    here = saved_kwh(rows, rows["loop_flow"].to_numpy(), other)
    compare_waste(here and here * spent.height / rows.height, 0.3)
