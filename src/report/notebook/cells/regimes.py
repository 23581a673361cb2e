(
    points.group_by("pump", "regime")
    .agg(
        (pl.len() * HOURS).alias("hours"),
        (pl.col("power").sum() * HOURS).alias("kWh"),
        pl.col("flow").mean().alias("mean flow m3/h"),
        pl.col("head").mean().alias("mean head kPa"),
    )
    .sort("pump", "hours", descending=[False, True])
)
