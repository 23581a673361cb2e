def control_head(setting, flow):
    """Head in kPa that a setting asks at a flow in m3/h; None where it asks none at the pump."""
    zero, setpoint = setting["zero_flow_head_kpa"], setting["setpoint_kpa"]
    design_flow = setting["design_flow_m3_h"] or FACTS["design_flow_m3_h"]
    design_head = setting["design_head_kpa"] or FACTS["design_head_kpa"]
    if setting["mode"] == "constant-pressure" and setpoint:
        return np.full_like(flow, setpoint)
    if setting["mode"] in ("proportional", "quadratic") and zero is not None and design_flow and design_head:
        power = 1 if setting["mode"] == "proportional" else 2
        return zero + (design_head - zero) * (flow / design_flow) ** power
    return None


fig, ax = plt.subplots(figsize=(8, 5))
known = running.drop_nulls(["loop_flow", "head"])
for marker, ((regime,), rows) in zip("o^vsDPX*" * 2, known.sort("regime").group_by("regime", maintain_order=True)):
    rows = rows.gather_every(1 + rows.height // 3000)
    ax.scatter(rows["loop_flow"], rows["head"], s=8, alpha=0.3, marker=marker, label=regime or "unknown")
largest = known["loop_flow"].max() or FACTS["design_flow_m3_h"] or 1.0
flow = np.linspace(0, 1.1 * largest, 100)
recommended = FOUND["recommendation"]
for label, setting, style in (
    ("control curve today", FACTS["control"], "-"),
    ("proposed", recommended and recommended["proposed"], "--"),
):
    asked = control_head(setting, flow) if setting else None
    if asked is not None:
        ax.plot(flow, asked, style, color="black", label=label)
for k, pump in enumerate(FACTS["pumps"]):
    for curve in pump["curves"]:
        text = f"pump {k + 1}, table at {curve['speed']:.0%}"
        ax.plot(curve["head_flow_m3_h"], curve["head_kpa"], ":", color="0.4", label=text)
ax.set_xlabel("flow of all pumps, m3/h")
ax.set_ylabel("head, kPa")
ax.set_ylim(bottom=0)
ax.legend(fontsize=8)
plt.show()
