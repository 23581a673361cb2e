minimum, together = FACTS["minimum_flow_m3_h"], FACTS["minimum_flow_of_all_m3_h"]
least = max(1.5 * minimum, 1.1 * together) if minimum else 0.5 * (DESIGN_FLOW or np.nan)
rows = delta_t(loop) if "return_temperature" in loop.columns else loop
valves = dict(coils_with("valve"))


def lets_through(k):
    """Share of its most that a valve lets through: equal percentage with a range of 50, unless declared linear."""
    x = pl.col(valves[k]).clip(0, 1)
    return (
        pl.when(x >= 0.02).then(x if FACTS["coils"][k]["characteristic"] == "linear" else pl.lit(50.0).pow(x - 1)).otherwise(0.0)
    )


share = None
position, past, unexplained = (
    evidence(e)
    for e in ("bypass position", "share of the flow past the coils", "share of the flow that the valves do not explain")
)
if position is not None:
    stuck = since_first_seen(rows.filter(pl.col("loop_flow") >= least, pl.col("bypass_position") >= 0.2))
    compare("bypass position well above minimum flow", stuck["bypass_position"].median(), position, 0.03)
if past is not None:
    stuck = since_first_seen(rows.filter("steady", pl.col("loop_flow") >= least)).drop_nulls("difference")
    own = {k: delta_t(stuck, c)["difference"] for k, c in coils_with("coil-return-temperature") if k in valves}
    stuck = stuck.with_columns(
        **{f"own {k}": d for k, d in own.items()},
        **{f"weight {k}": lets_through(k) * (FACTS["coils"][k]["design_flow_m3_h"] or 1) for k in own},
    )
    seen = [pl.when(pl.col(f"own {k}").is_not_null()).then(pl.col(f"weight {k}")) for k in own]
    mix = pl.sum_horizontal([pl.col(f"own {k}") * pl.col(f"weight {k}") for k in own]) / pl.sum_horizontal(seen)
    worst = pl.min_horizontal([pl.when(pl.col(valves[k]) >= 0.15).then(pl.col(f"own {k}")) for k in own])
    mixed = stuck.with_columns(mix.alias("mix"), worst.alias("worst")).filter(pl.col("mix") > 1, pl.col("worst") > 1)
    share = (1 - mixed["difference"] / mixed["mix"]).median()
    compare("share of the flow past the coils", share, past, 0.10)
    compare(
        "plant difference over the smallest of the open coils",
        (mixed["difference"] / mixed["worst"]).median(),
        evidence("plant difference over the smallest"),
        0.05,
    )
if unexplained is not None:
    taking = [k for k in valves if FACTS["coils"][k]["valve"] not in ("three-way", "none")]
    known = rows.filter(
        "steady",
        pl.col("loop_flow") >= max(0.25 * (DESIGN_FLOW or 0), 1.1 * minimum),
        pl.col("head") > (FACTS["static_head_kpa"] or 0),
    ).drop_nulls([valves[k] for k in taking])
    after = (known["time"] >= pl.select(instant(finding["first_seen"])).item()).to_numpy().astype(float)
    conducts = known["loop_flow"].to_numpy() / np.sqrt(known["head"].to_numpy() - (FACTS["static_head_kpa"] or 0))
    ways = [np.ones(known.height), *(known.select(lets_through(k)).to_series().to_numpy() for k in taking)]
    ways += [known["bypass_position"].fill_null(0).to_numpy()] if "bypass_position" in known.columns else []
    # Relative errors count alike: each row is divided by what it conducts.
    fit = np.linalg.lstsq(np.column_stack([*ways, after]) / conducts[:, None], np.ones(known.height), rcond=None)[0]
    share = np.median(fit[-1] / conducts[after > 0])
    compare("share of the flow that the valves do not explain", share, unexplained, 0.50)
    stuck = since_first_seen(rows.filter(pl.col("pumps_on") > 0)).drop_nulls("loop_flow")
compare("hours", hours(stuck), finding["hours"], 0.10)
if finding["waste_kwh"] and share:
    # The energy of the share that the finding names: the share itself is compared above.
    share = past if past is not None else unexplained
    flow = stuck["loop_flow"].to_numpy()
    less = flow * (1 - share)
    fall = np.nan_to_num(asked_at(stuck) - asked_at(stuck, less))
    held = stuck["regime"].is_in(["speed-floor", "full-speed"]).fill_null(False).to_numpy()
    compare_waste(saved_kwh(stuck, less, stuck["head"].to_numpy() - np.where(held, 0, fall)), 0.25)
