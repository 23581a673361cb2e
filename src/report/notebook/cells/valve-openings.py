valves = [c for c in FACTS["columns"] if c["column"].startswith("valve_position.")]
if valves:
    fig, ax = plt.subplots(figsize=(8, 0.5 + 0.35 * len(valves)))
    turning = running.unique("time", maintain_order=True)
    ax.boxplot([100 * turning[c["column"]].drop_nulls().to_numpy() for c in valves], orientation="horizontal", showfliers=False)
    # Names are text, never mathematics: a dollar sign would start that.
    ax.set_yticklabels([str(c["of"]).replace("$", r"\$") for c in valves])
    ax.set_xlabel("valve open while a pump runs, %")
    plt.show()
