by_day = (
    points.group_by(pl.col("local").dt.date().alias("day"))
    .agg(
        (pl.col("power").sum() * HOURS).alias("kWh"),
        pl.col("loop_flow").filter(pl.col("speed") > 0).median().alias("flow m3/h"),
        pl.col("head").filter(pl.col("speed") > 0).median().alias("head kPa"),
    )
    .sort("day")
)
fig, axes = plt.subplots(3, 1, figsize=(8, 6), sharex=True)
axes[0].bar(by_day["day"], by_day["kWh"])
axes[1].plot(by_day["day"], by_day["flow m3/h"], "o-", markersize=3)
axes[2].plot(by_day["day"], by_day["head kPa"], "o-", markersize=3)
for ax, name in zip(axes, ("energy, kWh a day", "flow, m3/h", "head, kPa")):
    ax.set_ylabel(name)
    ax.set_ylim(bottom=0)
for finding in FINDINGS:
    axes[0].axvline(np.datetime64(finding["first_seen"][:19]), color="0.6", linewidth=0.8)
fig.autofmt_xdate()
plt.show()
by_day
