rows = points if finding["subject"] == "loop" else points.filter(pl.col("pump") == finding["subject"])
rows = rows.filter(turning & pl.col("steady") & pl.col("regime").is_in(["on-curve", "above-curve", "below-curve"]))
rows = rows.with_columns(pl.Series("distance", above_asked(rows)), pl.col("local").dt.date().alias("day"))
reference = DESIGN_HEAD or loop["head"].median()
pipes = 0.0 if FACTS["control"]["head_at"] == "pump" or follows_sensor() or not DESIGN_FLOW else 0.12 * reference
pipes = pl.lit(0.0) if not pipes else pipes * (pl.col("loop_flow") / DESIGN_FLOW) ** 2
half = pl.lit(0.0) if follows_sensor() else (pl.col("head_high") - pl.col("head_low")) / 2
rows = rows.filter(pl.col("distance").is_finite()).with_columns(
    (pl.col("distance") - half - pipes > 0.03 * reference).alias("above"),
    (pl.col("distance") + half < -0.03 * reference).alias("below"),
)
said = evidence("median distance from the curve")
side = "above" if (said if said is not None else evidence("change of the daily distance")) > 0 else "below"
if said is not None:
    off_days = (
        rows.group_by("day")
        .agg(pl.len(), pl.col(side).mean().alias("share"))
        .filter((pl.col("len") * HOURS >= 1) & (pl.col("share") >= 0.5))
    )
    off = rows.filter(pl.col(side) & pl.col("day").is_in(off_days["day"].implode()))
    compare("median distance from the curve, kPa", median(off["distance"]), said, 0.10)
    share = off["time"].n_unique() / max(rows["time"].n_unique(), 1)
    compare("share of judged rows off the curve", share, evidence("share of judged rows off the curve"), 0.15, 0.02)
    off = since_first_seen(off)
    compare("hours off the curve", off["time"].n_unique() * HOURS, finding["hours"], 0.15)
    distance = off.group_by("time").agg(pl.col("distance").median())
    off = loop.join(distance, on="time")
else:
    span = since_first_seen(rows)
    others = rows.filter(~pl.col("time").is_in(span["time"].implode()))
    # Days count alike, whatever their hours.
    middle = lambda r: r.group_by("day").agg(pl.col("distance").median())["distance"].median()
    compare(
        "change of the daily distance, kPa",
        (middle(span) or np.nan) - (middle(others) or np.nan),
        evidence("change of the daily distance"),
        0.35,
    )
    compare("hours", span["time"].n_unique() * HOURS, finding["hours"], 0.10)
    off = loop.filter(pl.col("time").is_in(span["time"].implode())).with_columns(
        pl.lit(evidence("change of the daily distance")).alias("distance")
    )
if finding["waste_kwh"]:
    here = saved_kwh(off, off["loop_flow"].to_numpy(), (off["head"] - off["distance"]).to_numpy())
    compare_waste(here, 0.25)
