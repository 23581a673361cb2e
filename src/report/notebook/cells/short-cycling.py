rows = points.filter(pl.col("pump") == finding["subject"]).sort("time").with_columns(pl.col("local").dt.date().alias("day"))
limit = min(3.0, evidence("starts an hour that the motor stands") or 3.0)
counter = rows["own_pump_starts"] if "own_pump_starts" in rows.columns else None
if counter is not None and counter.is_not_null().sum() * HOURS >= 24:
    # A counter that fell was reset: what it shows was counted since. Steps over missing rows are spread over them.
    values = counter.to_numpy()
    starts, last = np.zeros(len(values)), None
    for k in np.flatnonzero(np.isfinite(values)):
        if last is not None:
            more = values[k] - values[last] if values[k] >= values[last] else values[k]
            if more <= 60 * (k - last) * HOURS + 2:
                starts[last + 1 : k + 1] += more / (k - last)
        last = k
else:
    on, known = rows["on"].to_numpy(), (rows["regime"] != "unknown").fill_null(False).to_numpy()
    speed = (
        rows["own_pump_speed"].cast(pl.Float64).to_numpy() if "own_pump_speed" in rows.columns else np.full(rows.height, np.nan)
    )
    starts, was, least = np.zeros(rows.height), np.nan, None
    for k in range(rows.height):
        if on[k]:
            if least is not None and not (least > 0.5 * was):
                starts[k] = 1
            was, least = (speed[k] if np.isfinite(speed[k]) else was), None
        elif known[k]:
            least = speed[k] if least is None or not np.isfinite(least) else np.fmin(least, speed[k])
if FACTS["frost_protection_below_degc"] is not None and "outdoor_temperature" in loop.columns:
    cold = rows.select("time").join(loop.select("time", "outdoor_temperature", "local"), on="time", how="left")
    on_purpose = (
        cold.select(
            ((pl.col("outdoor_temperature") < FACTS["frost_protection_below_degc"]) & ~scheduled(pl.col("local"))).fill_null(
                False
            )
        )
        .to_series()
        .to_numpy()
    )
    starts[on_purpose] = 0
two_hours = max(int(round(2 / HOURS)), 1)
total = np.concatenate([[0], np.cumsum(starts)])
often = np.zeros(len(starts), dtype=bool)
for k in np.flatnonzero(total[two_hours:] - total[:-two_hours] + 0.01 >= limit * two_hours * HOURS):
    often[k : k + two_hours] = True
hour = max(int(round(1 / HOURS)), 1)
compare(
    "starts an hour in those hours",
    starts[often].sum() / max(often.sum() * HOURS, HOURS),
    evidence("starts an hour in those hours"),
    0.05,
)
compare("busiest hour", (total[hour:] - total[:-hour]).max() / (hour * HOURS), evidence("busiest hour"), 0.05)
compare("days on which it cycles", rows.filter(pl.Series(often))["day"].n_unique(), evidence("days on which it cycles"), 0.05, 1)
compare("hours", often.sum() * HOURS, finding["hours"], 0.05)
