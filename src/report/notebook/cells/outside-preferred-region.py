pump = next(p for p in FACTS["pumps"] if p["name"] == finding["subject"])
best, room, known_to = pump["best_efficiency_flow_m3_h"], 1.0, 0.03
if best is None and table_of(pump["name"]) is not None:
    q, h, qp, p = table_of(pump["name"])
    fine = np.linspace(0.05 * q[-1], q[-1], 400)
    smooth_h, smooth_p = np.polyfit(q, h, min(3, len(q) - 1)), np.polyfit(qp, p, min(3, len(qp) - 1)) if len(qp) else None
    best = fine[(fine * np.polyval(smooth_h, fine) / (np.polyval(smooth_p, fine) if smooth_p is not None else 1)).argmax()]
    room, known_to = 1.05, 0.12  # a table with a flat top gives its best flow to a tenth
rows = points.filter((pl.col("pump") == pump["name"]) & pl.col("steady") & (pl.col("speed") > 0.15)).join(
    loop.select("time", "pumps_on"), on="time"
)
meter = (
    pl.col("own_pump_flow")
    if "own_pump_flow" in rows.columns
    else pl.col("loop_flow_meter") / pl.col("pumps_on") if "loop_flow_meter" in rows.columns else pl.lit(None, dtype=pl.Float64)
)
beyond = pl.col("basis") == "outside-table"
rows = rows.with_columns(
    pl.when(beyond).then(meter).otherwise(pl.col("flow")).alias("q"),
    pl.when(beyond).then(0.95 * meter).otherwise(pl.col("flow_low")).alias("q low"),
    pl.when(beyond).then(1.05 * meter).otherwise(pl.col("flow_high")).alias("q high"),
)
rows = rows.filter(pl.col("basis").is_not_null() & (pl.col("basis") != "speed")).drop_nulls(["q", "q low", "q high"])
rows = rows.with_columns((pl.col("q") / pl.col("speed") / (best or np.nan)).alias("part"))
compare(
    "flow over best-efficiency flow, middle of the hours",
    rows["part"].median(),
    evidence("flow over best-efficiency flow"),
    known_to,
)
compare("the same, reached in one hour of twenty", rows["part"].quantile(0.95), evidence("the same, reached"), known_to)
left = rows["part"].median() is not None and rows["part"].median() < 0.95
top = 1.15 if (evidence("US specific speed") or 0) > 4500 else 1.20
edge = pl.col("speed") * (best or np.nan)
outside = rows.filter(pl.col("q high") / edge * room < 0.70) if left else rows.filter(pl.col("q low") / edge / room > top)
compare(
    "share of the steady hours outside", outside.height / max(rows.height, 1), evidence("share of the steady hours outside"), 0.20
)
compare(
    "share of the energy outside",
    (outside["power"].sum() / rows["power"].sum()) if rows["power"].sum() else None,
    evidence("share of the energy outside"),
    0.20,
)
