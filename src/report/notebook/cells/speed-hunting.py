named = points.filter(turning)["pump"].unique(maintain_order=True) if finding["subject"] == "loop" else [finding["subject"]]
period_said, swing_said = evidence("period"), evidence("swing of the speed")
lag_most, window = int(round(2.5 / HOURS)), max(int(round(period_said / 60 / HOURS)), 3)
sums, weights, swings, marked = np.zeros(lag_most), np.zeros(lag_most), [], []
for name in named:
    mine = since_first_seen(points.filter(pl.col("pump") == name)).join(loop.select("time", "pumps_on"), on="time", how="left")
    mine = mine.with_columns(
        pl.when(turning).then(pl.col("speed")).alias("speed"),
        (turning & (pl.col("pumps_on") == pl.col("pumps_on").shift(1))).rle_id().alias("stretch"),
    )
    for stretch in mine.filter(turning).partition_by("stretch"):
        v = stretch["speed"].interpolate().drop_nulls().to_numpy()
        if len(v) < 2 * window:
            continue
        high, low = stretch["speed"].rolling_max(window, center=True), stretch["speed"].rolling_min(window, center=True)
        range_ = (high - low).to_numpy()
        swinging = range_ >= 0.5 * swing_said
        swings.extend(range_[swinging])
        marked.extend(stretch.filter(pl.Series(swinging))["time"].to_list())
        smooth = max(int(round(1.5 / HOURS)), 3)
        level = np.convolve(np.pad(v, smooth // 2, mode="edge"), np.ones(smooth) / smooth, "same")[
            smooth // 2 : smooth // 2 + len(v)
        ]
        # Only what swings counts, so that hours of rest do not drown it.
        rest = (v - level) * np.interp(np.arange(len(v)), np.arange(len(range_)), np.nan_to_num(range_) >= 0.5 * swing_said)
        for lag in range(1, min(lag_most, len(v) // 2)):
            sums[lag] += float(rest[lag:] @ rest[:-lag])
            weights[lag] += float(rest @ rest)
alike = np.divide(sums, weights, out=np.full(lag_most, np.nan), where=weights > 0)
inner = np.arange(2, lag_most - 1)
minima = [k for k in inner if alike[k] <= alike[k - 1] and alike[k] < alike[k + 1] and alike[k] < 0]
maxima = [k for k in inner if minima and k > minima[0] and alike[k] >= alike[k - 1] and alike[k] > alike[k + 1]]
period = np.nan
if maxima:
    k = maxima[0]  # between rows by the parabola through the three points at the top
    bend = alike[k - 1] - 2 * alike[k] + alike[k + 1]
    period = (k + 0.5 * (alike[k - 1] - alike[k + 1]) / bend) * HOURS * 60
compare("period, min", period, period_said, 0.25, 60 * HOURS)
compare("swing of the speed, trough to crest", np.nanmedian(swings) if swings else None, swing_said, 0.25)
compare("hours", len(set(marked)) * HOURS, finding["hours"], 0.35)
