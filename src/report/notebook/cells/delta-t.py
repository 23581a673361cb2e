if {"supply_temperature", "return_temperature"} <= set(points.columns):
    sign = -1 if FACTS["service"] == "heating-water" else 1
    water = running.filter(pl.col("steady")).with_columns(
        (sign * (pl.col("return_temperature") - pl.col("supply_temperature"))).alias("difference")
    )
    water = water.drop_nulls(["loop_flow", "difference"]).unique("time", maintain_order=True)
    shown = water.gather_every(1 + water.height // 5000)
    fig, ax = plt.subplots(figsize=(8, 4))
    ax.scatter(shown["loop_flow"], shown["difference"], s=4, alpha=0.3)
    if None not in (FACTS["supply_temperature_degc"], FACTS["return_temperature_degc"]):
        design = abs(FACTS["return_temperature_degc"] - FACTS["supply_temperature_degc"])
        ax.axhline(design, color="black", linewidth=0.8, label="design")
        ax.legend()
    ax.set_xlabel("flow of all pumps, m3/h")
    ax.set_ylabel("temperature difference, K")
    plt.show()
