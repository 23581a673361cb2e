free = loop.with_columns((~scheduled(pl.col("local"))).alias("outside"), (pl.col("pumps_on") > 0).alias("runs"))
frost = FACTS["frost_protection_below_degc"]
cold = (
    (pl.col("outdoor_temperature") < frost + 2).fill_null(False)
    if frost is not None and "outdoor_temperature" in loop.columns
    else pl.lit(False)
)
free = free.with_columns(
    cold.alias("cold"), pl.struct("outside", "runs").rle_id().alias("run"), (pl.col("outside").rle_id()).alias("night")
)
runs = free.group_by("run", maintain_order=True).agg(
    pl.col("outside").first(), pl.col("runs").first(), pl.col("night").first(), ((~pl.col("cold")).sum() * HOURS).alias("hours")
)
# A run is of a schedule where it begins or ends with one, and the pumps with it.
met = pl.col("outside").not_() & pl.col("runs")
runs = runs.with_columns(met.shift(1, fill_value=False).alias("after"), met.shift(-1, fill_value=False).alias("before")).filter(
    "outside", "runs", pl.col("hours") > 0
)
early = pl.col("before") & ~pl.col("after") & (pl.col("hours") <= 3 + HOURS)
leads = runs.filter(early & (pl.col("hours") > 1 + HOURS))["hours"]
same = leads.len() >= 5 and leads.quantile(0.9) - leads.quantile(0.1) <= max(0.25, 2 * HOURS)
of_the_same = ((pl.col("hours") - (leads.median() or 0)).abs() <= max(0.25, 2 * HOURS)) if same else pl.lit(False)
short = ~pl.col("after") & ~pl.col("before") & (pl.col("hours") <= 0.5 + HOURS)
exercise = short & (pl.col("hours").filter(short).sum().over("night") <= 1)
run_on = pl.col("after") & ~pl.col("before") & (pl.col("hours") <= 0.5 + HOURS)
left = runs.filter(~(early & ~of_the_same) & ~run_on & ~exercise)
rows = since_first_seen(free.filter(pl.col("run").is_in(left["run"].implode()), ~pl.col("cold")))
compare("hours outside the schedule", hours(rows), evidence("hours outside the schedule"), 0.05)
compare("hours on each such day", hours(rows) / max(rows["day"].n_unique(), 1), evidence("hours on each such day"), 0.05)
if finding["waste_kwh"]:
    known = rows["power"].drop_nulls()
    compare("waste, kWh", known.mean() * hours(rows) if known.len() else None, finding["waste_kwh"]["estimate"], 0.05)
