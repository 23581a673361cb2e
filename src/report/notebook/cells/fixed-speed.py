level_said = evidence("speed it held")
rows = points.filter(
    (pl.col("pump") == finding["subject"]) & turning & (pl.col("regime") != "off") & (pl.col("speed") > 0.02)
).with_columns(pl.col("local").dt.date().alias("day"))
rows = out_of_frost(rows.filter(scheduled(pl.col("local"))))
held = []
for day in rows.drop_nulls("speed").partition_by("day"):
    v = np.sort(day["speed"].to_numpy())
    if hours(day) < 2:
        continue
    width = 0.012  # of rated speed: what drives report, and a little noise
    count = np.searchsorted(v, v + width, side="right") - np.arange(len(v))
    level = np.median(v[count.argmax() : count.argmax() + count.max()])
    at_level = day.with_columns(((pl.col("speed") - level).abs() <= width).alias("held"))
    if at_level["held"].mean() < 0.85:
        # Not the whole day: its longest stretch, which two rows beside the level do not break.
        places = np.flatnonzero(at_level["held"].to_numpy())
        longest = max(np.split(places, np.flatnonzero(np.diff(places) > 3) + 1), key=len)
        at_level = at_level[longest[0] : longest[-1] + 1]
        if hours(at_level.filter("held")) < 5:
            continue
    if abs(level - level_said) <= 0.015:
        held.append(at_level.filter("held").drop("held"))
held = since_first_seen(pl.concat(held) if held else rows.clear())
compare("speed it held", held["speed"].median(), level_said, 0.02)
compare("hours it stood", hours(held), evidence("hours it stood"), 0.20)
for name, values in (("power", held["power"]), ("head", held["head"]), ("flow", held["flow"])):
    said = evidence(f"range of {name}")
    if said is not None and values.drop_nulls().len():
        # The review looks stay by stay and names the one that moved most; this is over all of them.
        print(
            f"range of {name}: here {values.quantile(0.95) - values.quantile(0.05):.3g}, findings.json {said:.3g} (shown, not held against each other)"
        )
if finding["waste_kwh"]:
    rows = loop.filter(pl.col("time").is_in(held["time"].implode())).drop_nulls(["loop_flow", "head"])
    table = table_of(finding["subject"])
    floor = FACTS["control"]["minimum_speed"] or 0.0
    shut_off = table[1][0] if table else np.nan
    by_floor = rows["head"].to_numpy() - shut_off * (rows["speed"].to_numpy() ** 2 - floor**2)
    asked = asked_at(rows)
    asked = rows["head"].to_numpy() - above_asked(rows) if not np.isfinite(asked).any() else asked
    other = np.minimum(np.fmax(asked, by_floor), rows["head"].to_numpy())
    saved = saved_kwh(rows, rows["loop_flow"].to_numpy(), np.where(np.isfinite(asked), other, np.nan))
    compare_waste(saved and saved * held["time"].n_unique() / rows.height, 0.3)
