own = next(
    (c["column"] for c in FACTS["columns"] if c["column"].startswith("as_read.") and finding["subject"] in c["points"]), None
)
role = next((c["what"] for c in FACTS["columns"] if c["column"] == own), None)
before_these = len(checked)
span_h = (pl.select(instant(finding["last_seen"]) - instant(finding["first_seen"])).item().total_seconds()) / 3600
if own is not None:
    read = loop.select("time", "day", "pumps_on", pl.col(own).alias("value"))
    stood = evidence("hours at one value")
    if stood is not None:
        seen = since_first_seen(read).with_row_index("row").drop_nulls("value")
        run = seen.group_by((pl.col("value") != pl.col("value").shift(1)).fill_null(True).cum_sum().alias("run")).agg(
            (pl.col("row").max() - pl.col("row").min() + 1).alias("rows"), (pl.col("pumps_on") > 0).sum().alias("with a pump on")
        )
        if "through all running hours" in finding["because"]:
            here = run.sort("rows")["with a pump on"][-1] * HOURS
        else:
            here = run.filter(pl.col("rows") * HOURS >= 6)["rows"].sum() * HOURS
        compare("hours at one value", here, stood, 0.15)
    settled = evidence("return less supply with settled pipes")
    if settled is not None:
        both = {c["what"]: c["column"] for c in FACTS["columns"] if c["column"].startswith("as_read.")}
        supply, back = both.get("supply-temperature", "supply_temperature"), both.get("return-temperature", "return_temperature")
        sign = -1 if FACTS["service"] == "heating-water" else 1
        rest = (loop["pumps_on"] == 0).cast(pl.Int8).rolling_min(max(int(round(4 / HOURS)), 2)).cast(pl.Boolean).fill_null(False)
        difference = loop.filter(rest).select(sign * (pl.col(back) - pl.col(supply))).to_series()
        # How long pipes take to settle is known to neither: a third, or half a kelvin.
        compare("return less supply with settled pipes, K", difference.median(), settled, 0.33, 0.5)
    spikes = evidence("share of readings that cannot be")
    if spikes is not None:
        v = read["value"].drop_nulls()
        jump = pl.DataFrame({"v": v}).with_columns(
            (pl.col("v") - pl.col("v").rolling_median(7, center=True, min_samples=1)).abs().alias("off")
        )
        usual = jump["off"].quantile(0.9) or 0
        span = (v.quantile(0.95) - v.quantile(0.05)) or 1
        compare(
            "share of readings that cannot be",
            jump.filter(pl.col("off") > max(0.4 * span, 6 * usual)).height / max(v.len(), 1),
            spikes,
            0.50,
            0.005,
        )
    at_rest = evidence("reading with every pump at rest")
    if at_rest is not None:
        # The first quarter of an hour after a stop, in which it dies away, is left out.
        quiet = read.filter(
            (pl.col("pumps_on") == 0)
            .fill_null(False)
            .rolling_min(max(int(round(0.5 / HOURS)), 2))
            .cast(pl.Boolean)
            .fill_null(False)
        )
        compare("reading with every pump at rest", quiet["value"].median(), at_rest, 0.15)
    exchanged = evidence("middle of return less supply")
    if exchanged is not None:
        both = {c["what"]: c["column"] for c in FACTS["columns"] if c["column"].startswith("as_read.")}
        supply, back = both.get("supply-temperature", "supply_temperature"), both.get("return-temperature", "return_temperature")
        sign = -1 if FACTS["service"] == "heating-water" else 1
        difference = loop.filter(pl.col("pumps_on") > 0).select(sign * (pl.col(back) - pl.col(supply))).to_series()
        compare("middle of return less supply, K", difference.median(), exchanged, 0.10, 0.2)
    middle = evidence("middle reading")
    if middle is not None:
        compare("middle reading", read.filter(pl.col("pumps_on") > 0)["value"].median(), middle, 0.05)
moved = next((e for e in finding["evidence"] if e["name"].startswith("change of") and " against what " in e["name"]), None)
if moved is not None:
    start = pl.select(instant(finding["first_seen"])).item()
    for e in finding["evidence"]:
        words = e["name"].removeprefix("change of ").split(" against what ")
        if len(words) != 2:
            continue
        of, by = words[0], words[1].removesuffix(" and table say")
        best = None
        for pump in points["pump"].unique(maintain_order=True):
            rows = points.filter((pl.col("pump") == pump) & pl.col("steady") & (pl.col("speed") > 0.1)).join(
                loop.select("time", "pumps_on"), on="time"
            )
            s = pl.col("speed")
            head = next(
                (c for c in ("own_pump_head", "header_head", "head") if c in rows.columns and rows[c].is_not_null().any()), "head"
            )
            meter = (
                pl.col("own_pump_flow")
                if "own_pump_flow" in rows.columns
                else (
                    pl.col("loop_flow_meter") / pl.col("pumps_on")
                    if "loop_flow_meter" in rows.columns
                    else pl.lit(None, dtype=pl.Float64)
                )
            )
            reduced = {
                "head": pl.col(head) / s**2,
                "power": pl.col("own_pump_power" if "own_pump_power" in rows.columns else "power") / s**3,
                "flow meter": meter / s,
            }
            rows = (
                rows.with_columns(reduced[by].alias("x"), reduced[of].alias("y"))
                .drop_nulls(["x", "y"])
                .filter(pl.col("x") > 0, pl.col("y") > 0)
            )
            before, after = rows.filter(pl.col("time") < start), rows.filter(pl.col("time") >= start)
            if "bit by bit" in finding["because"] and after.height:
                after = after.filter(pl.col("time") >= after["time"][after.height // 2])
            if before.height < 20 or after.height < 20:
                continue
            fit = np.polyfit(before["x"].to_numpy(), before["y"].to_numpy(), 2)
            like = after.filter(pl.col("x").is_between(before["x"].quantile(0.02), before["x"].quantile(0.98)))
            here = (like["y"] / np.polyval(fit, like["x"].to_numpy())).median() - 1 if like.height else np.nan
            best = here if best is None or abs(here) > abs(best) else best  # the pump on which it moved most
        if abs(e["value"]) >= 0.03:
            compare(e["name"], best, e["value"], 0.50, 0.015)
    rows = loop.filter(pl.col("time") >= start)
    compare("hours since", hours(rows), finding["hours"], 0.05)
if len(checked) == before_these and finding["evidence"]:
    print(
        "the number that gives it away rests on rows that only the review names; what is checked is that its hours fit the span it was seen in"
    )
    most = span_h + HOURS
    compare(
        "hours, held only to be no more than the span from first to last sight",
        min(most, finding["hours"]),
        finding["hours"],
        0.0,
        HOURS,
    )
