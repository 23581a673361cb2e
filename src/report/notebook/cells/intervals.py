(
    running.drop_nulls(["flow_low", "flow_high"])
    .with_columns((pl.col("flow_high") - pl.col("flow_low")).alias("width"))
    .group_by("pump", "basis")
    .agg(
        (pl.len() * HOURS).alias("hours"),
        pl.col("width").median().alias("median width m3/h"),
        pl.col("width").quantile(0.95).alias("95th percentile m3/h"),
    )
    .sort("pump", "basis")
)
