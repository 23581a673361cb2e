"""Writes reference.json: other people's numbers, which the tests hold ours against.

Every number comes from a published engine or library (named in each section, versions in requirements.txt), run on
small invented inputs that stand beside the results.

    python make_reference.py            writes reference.json
    python make_reference.py --check    exits 1 when the committed file differs from a fresh run
"""

import json
import math
import pathlib
import re
import sys
import tempfile
from importlib.metadata import version

import numpy as np
import ruptures
import statsmodels.api as sm
import wntr
from CoolProp.CoolProp import PropsSI
from fluids import VFD_efficiency, motor_efficiency_underloaded
from iapws import IAPWS97
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from scipy.signal import lfilter
from sklearn.cluster import DBSCAN
from sklearn.metrics import silhouette_score
from sklearn.mixture import GaussianMixture
from statsmodels.stats.stattools import durbin_watson

HERE = pathlib.Path(__file__).resolve().parent
TARGET = HERE / "reference.json"
PACKAGES = ["numpy", "scipy", "scikit-learn", "ruptures", "iapws", "CoolProp", "fluids", "wntr", "statsmodels"]
# Digits written: more than any test asks for, fewer than an engine's last bits.
DIGITS = 10
# Relative difference that --check lets pass: single-precision results of EPANET differ in the eighth digit between machines.
SAME = 2e-7

Q = [0.0, 25.0, 50.0, 75.0, 100.0]


def epanet_run(curve, speed, lift_m, efficiency="E1", extra=""):
    """Flow [L/s], head [m], power [kW], efficiency of a pump that lifts by lift_m through 100 m of 200 mm pipe."""
    text = f"""[JUNCTIONS]
J1 0 0
[RESERVOIRS]
R1 0
R2 {lift_m}
[PIPES]
L1 J1 R2 100 200 0.1 0 Open
[PUMPS]
P1 R1 J1 HEAD C1 SPEED {speed}
[CURVES]
{curve}
E1 0 1
E1 25 60
E1 50 78
E1 75 74
E1 100 55
[ENERGY]
Global Efficiency 75
Pump P1 Efficiency {efficiency}
[OPTIONS]
Units LPS
Headloss D-W
Accuracy 0.00000001
[TIMES]
Duration 0
[END]
"""
    with tempfile.TemporaryDirectory() as folder:
        name = str(pathlib.Path(folder) / "net")
        pathlib.Path(name + ".inp").write_text(text)
        en = wntr.epanet.toolkit.ENepanet(version=2.2)
        en.ENopen(name + ".inp", name + ".rpt", name + ".bin")
        en.ENopenH()
        en.ENinitH(0)
        en.ENrunH()
        link, node = en.ENgetlinkindex("P1"), en.ENgetnodeindex("J1")
        flow, kw, eta = (en.ENgetlinkvalue(link, code) for code in (8, 13, 17))
        head = en.ENgetnodevalue(node, 10)
        en.ENcloseH()
        en.ENclose()
    return {"speed": speed, "lift_m": lift_m, "flow_l_s": flow, "head_m": head, "power_kw": kw, "efficiency": eta}


def epanet():
    one, three = "C1 50 20", "C1 0 30\nC1 40 26\nC1 80 10"
    return {
        "source": "EPANET 2.2 engine in wntr: Rossman et al., EPANET 2.2 User Manual, EPA/600/R-20/133",
        "efficiency_curve": {"flow_l_s": Q, "efficiency": [0.01, 0.60, 0.78, 0.74, 0.55]},
        "one_point": {"flow_l_s": 50.0, "head_m": 20.0,
                      "runs": [epanet_run(one, s, lift) for s, lift in
                               ((1.0, 0), (0.9, 0), (0.8, 0), (0.6, 0), (0.5, 0), (1.0, 15), (0.9, 12), (0.8, 12.5))]},
        "three_point": {"points": [[0.0, 30.0], [40.0, 26.0], [80.0, 10.0]],
                        "runs": [epanet_run(three, s, lift) for s, lift in ((1.0, 5), (0.8, 8), (0.6, 4))]},
    }

# An invented hydronic loop: one pump, supply and return mains of eight take-offs tied a second time between the fourth and the last, and
# eight branches of coil and control valve. Flows in L/s, heads in m.
PUMP_POINTS = [[0.0, 20.0], [20.0, 16.5], [30.0, 9.8]]
PUMP_EFFICIENCY = [[0.0, 1.0], [6.0, 46.0], [12.0, 68.0], [18.0, 77.0], [24.0, 76.0], [30.0, 57.0]]
PUMP_SPEEDS = [0.40, 0.44, 0.42, 0.47, 0.53, 0.66, 0.85, 1.00, 0.95, 0.88, 0.82, 0.78, 0.75, 0.81, 0.90, 0.97, 0.91, 0.80, 0.71, 0.62, 0.57, 0.50,
               0.45, 0.40]
# Opening that each valve has on average in an hour, and what each branch has beside it.
OPENING = [0.93, 0.80, 0.62, 0.45, 0.30, 0.35, 0.55, 0.75, 0.85, 0.90, 0.78, 0.66, 0.50, 0.40, 0.28, 0.20, 0.33, 0.47, 0.58, 0.70, 0.82, 0.88,
           0.52, 0.25]
BESIDE = [0.06, -0.08, 0.02, 0.10, -0.05, -0.12, 0.04, 0.00]
# Loss coefficients of coil and open valve in a branch of 50 mm, and the valve's range: an equal-percentage valve passes 1/30 when shut.
COIL_LOSS, OPEN_VALVE_LOSS, VALVE_RANGE = 30.0, 9.0, 30.0


def valve_loss(hour, branch):
    """Loss coefficient of a branch's valve, given to the engine with two decimals."""
    opening = min(1.0, max(0.0, OPENING[hour] + BESIDE[(branch + hour) % 8]))
    return round(OPEN_VALVE_LOSS * VALVE_RANGE ** (2 * (1 - opening)), 2)


def network_input():
    hours, branches = range(len(PUMP_SPEEDS)), range(8)
    # Mains narrow as branches leave: one diameter [mm] a stretch.
    mains = [150, 150, 150, 125, 125, 100, 100, 80]
    junctions = ["SUC", "DIS"] + [f"{n}{b}" for b in branches for n in "SRCV"]
    pipes = ["KEEP EXP SUC 1 25 0.05", "HS DIS S0 15 150 0.05 6", "HR R0 SUC 15 150 0.05 6", "TS S3 S7 45 80 0.05", "TR R7 R3 45 80 0.05"]
    for b in branches:
        if b:
            pipes += [f"MS{b} S{b - 1} S{b} 14 {mains[b]} 0.05", f"MR{b} R{b} R{b - 1} 14 {mains[b]} 0.05"]
        pipes += [f"B{b} S{b} C{b} {6 + b} 50 0.05 {COIL_LOSS}", f"X{b} V{b} R{b} {6 + b} 50 0.05"]
    valves = [f"CV{b} C{b} V{b} 50 TCV {valve_loss(0, b)}" for b in branches]
    controls = [f"LINK CV{b} {valve_loss(h, b)} AT TIME {h}:00" for h in hours[1:] for b in branches]
    sections = {
        "JUNCTIONS": [f"{n} 0 0" for n in junctions],
        # A closed loop needs one node of given head: a pressure keeper at the suction, through which nothing flows.
        "RESERVOIRS": ["EXP 15"],
        "PIPES": pipes, "VALVES": valves, "CONTROLS": controls,
        "PUMPS": ["P1 SUC DIS HEAD HC PATTERN SP"],
        "PATTERNS": [f"SP {s}" for s in PUMP_SPEEDS],
        "CURVES": [f"HC {q} {h}" for q, h in PUMP_POINTS] + [f"EC {q} {e}" for q, e in PUMP_EFFICIENCY],
        "ENERGY": ["Pump P1 Efficiency EC"],
        "OPTIONS": ["Units LPS", "Headloss D-W", "Accuracy 0.00000001", "Trials 200"],
        "TIMES": [f"Duration {len(PUMP_SPEEDS) - 1}:00", "Hydraulic Timestep 1:00", "Pattern Timestep 1:00"],
    }
    return "".join(f"[{name}]\n" + "\n".join(lines) + "\n" for name, lines in sections.items()) + "[END]\n"


# Control curves of the same loop before and after: head [m] at no flow and at 20 L/s, quadratic between. Hours whose valves stand in it.
CURVE_FLOW, CURVE_BEFORE, CURVE_AFTER = 20.0, (7.0, 10.0), (3.5, 9.0)
CURVE_HOURS = [2, 3, 6, 7, 11, 13, 17, 23]


def still(hour, speed):
    """Flow [L/s] and head [m] of the looped network at one speed, with the valves of an hour."""
    text = network_input()
    text = text.replace(" PATTERN SP\n", f" SPEED {speed:.9f}\n")
    text = re.sub(r"\[CONTROLS\]\n(LINK.*\n)+", "", text)
    text = re.sub(r"Duration \S+", "Duration 0:00", text)
    for b in range(8):
        text = text.replace(f"CV{b} C{b} V{b} 50 TCV {valve_loss(0, b)}\n", f"CV{b} C{b} V{b} 50 TCV {valve_loss(hour, b)}\n")
    with tempfile.TemporaryDirectory() as folder:
        name = str(pathlib.Path(folder) / "net")
        pathlib.Path(name + ".inp").write_text(text)
        en = wntr.epanet.toolkit.ENepanet(version=2.2)
        en.ENopen(name + ".inp", name + ".rpt", name + ".bin")
        en.ENopenH()
        en.ENinitH(0)
        en.ENrunH()
        link, node = en.ENgetlinkindex, en.ENgetnodeindex
        flow = en.ENgetlinkvalue(link("P1"), 8)
        head = en.ENgetnodevalue(node("DIS"), 10) - en.ENgetnodevalue(node("SUC"), 10)
        en.ENcloseH()
        en.ENclose()
    return flow, head


def on_curve(hour, curve):
    """Speed at which the pump holds a control curve."""
    def beyond(speed):
        flow, head = still(hour, speed)
        return head - curve[0] - (curve[1] - curve[0]) * (flow / CURVE_FLOW) ** 2
    speed = brentq(beyond, 0.3, 1.1, xtol=1e-7)
    flow, head = still(hour, speed)
    return {"speed": speed, "flow_l_s": flow, "head_m": head}


def setpoint_change():
    """The looped network under two control curves, its valves left where they stand."""
    return {
        "source": "EPANET 2.2 engine in wntr, as for network; speed found by scipy.optimize.brentq on the control curve",
        "curve_flow_l_s": CURVE_FLOW, "before_m": CURVE_BEFORE, "after_m": CURVE_AFTER,
        "states": [{"hour": h, "before": on_curve(h, CURVE_BEFORE), "after": on_curve(h, CURVE_AFTER)} for h in CURVE_HOURS],
    }


def network():
    """A day of the looped network, hour by hour."""
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        name = str(pathlib.Path(folder) / "net")
        pathlib.Path(name + ".inp").write_text(network_input())
        en = wntr.epanet.toolkit.ENepanet(version=2.2)
        en.ENopen(name + ".inp", name + ".rpt", name + ".bin")
        en.ENopenH()
        en.ENinitH(0)
        link, node = en.ENgetlinkindex, en.ENgetnodeindex
        while True:
            seconds = en.ENrunH()
            kept = en.ENgetlinkvalue(link("KEEP"), 8)
            assert abs(kept) < 1e-4, f"{kept} L/s through the pressure keeper"
            flow, speed, kw, eta = (en.ENgetlinkvalue(link("P1"), code) for code in (8, 12, 13, 17))
            head = en.ENgetnodevalue(node("DIS"), 10) - en.ENgetnodevalue(node("SUC"), 10)
            branches = [en.ENgetlinkvalue(link(f"CV{b}"), 8) for b in range(8)]
            assert abs(sum(branches) - flow) < 1e-4 * flow, "the branches share the pump's flow"
            rows.append({"hour": seconds // 3600, "speed": speed, "flow_l_s": flow, "head_m": head, "power_kw": kw, "efficiency": eta,
                         "branch_l_s": branches})
            if en.ENnextH() <= 0:
                break
        en.ENcloseH()
        en.ENclose()
    assert [r["hour"] for r in rows] == list(range(len(PUMP_SPEEDS)))
    return {
        "source": "EPANET 2.2 engine in wntr: Rossman et al., EPANET 2.2 User Manual, EPA/600/R-20/133; invented loop, Darcy-Weisbach",
        "pump": {"flow_l_s": [q for q, _ in PUMP_POINTS], "head_m": [h for _, h in PUMP_POINTS]},
        "efficiency_curve": {"flow_l_s": [q for q, _ in PUMP_EFFICIENCY], "efficiency": [e / 100 for _, e in PUMP_EFFICIENCY]},
        "valve_loss": [[valve_loss(h, b) for b in range(8)] for h in range(len(PUMP_SPEEDS))],
        "hours": rows,
    }


def net1():
    network = wntr.network.WaterNetworkModel(str(pathlib.Path(wntr.__file__).parent / "library/networks/Net1.inp"))
    with tempfile.TemporaryDirectory() as folder:
        result = wntr.sim.EpanetSimulator(network).run_sim(file_prefix=str(pathlib.Path(folder) / "net1"))
    pump = network.get_link("9")
    curve = pump.get_pump_curve()
    rows = []
    for hour in (0, 6, 12):
        t = hour * 3600
        rows.append({"hour": hour, "flow_m3_s": float(result.link["flowrate"].loc[t, "9"]),
                     "head_m": float(result.node["head"].loc[t, pump.end_node_name]
                                     - result.node["head"].loc[t, pump.start_node_name])})
    return {"source": "EPANET's example network 1, pump 9, hydraulics by the EPANET engine in wntr",
            "point": {"flow_m3_s": curve.points[0][0], "head_m": curve.points[0][1]}, "runs": rows}


def pchip():
    head, power = [30.0, 29.5, 27.0, 21.5, 12.0], [1.9, 2.9, 3.7, 4.2, 4.3]
    droop, falling = [28.0, 29.0, 27.5, 22.0, 12.0], [2.0, 3.2, 4.0, 4.15, 3.9]
    at = [0.0, 3.0, 10.0, 25.0, 37.5, 50.0, 60.0, 74.0, 90.0, 100.0]
    # Uneven knots, a flat stretch and ends that would overshoot: every branch of the slope rule.
    uneven_x, uneven_y = [0.0, 1.0, 1.5, 4.0, 4.2, 9.0, 10.0], [0.0, 5.0, 5.0, 4.0, 9.0, 9.5, 3.0]
    uneven_at = list(np.linspace(0.0, 10.0, 41))

    def curve(x, y, at):
        p = PchipInterpolator(x, y)
        return {"x": x, "y": y, "at": at, "value": p(at).tolist(), "slope": p.derivative()(at).tolist()}

    def inside(values, low=0.0, high=100.0):
        return sorted(float(v) for v in values if low <= v <= high)

    h, p = PchipInterpolator(Q, head), PchipInterpolator(Q, power)
    flow_for_head = brentq(lambda q: 0.64 * h(q / 0.8) - 15, 0, 80, xtol=1e-13)
    flow_for_power = brentq(lambda q: 0.512 * p(q / 0.8) - 2.0, 0, 80, xtol=1e-13)
    return {
        "source": "scipy PchipInterpolator (value, derivative, solve), brentq",
        "head": curve(Q, head, at),
        "power": curve(Q, power, at),
        "uneven": curve(uneven_x, uneven_y, uneven_at),
        "roots": [
            {"x": Q, "y": falling, "target": 4.0, "roots": inside(PchipInterpolator(Q, falling).solve(4.0))},
            {"x": Q, "y": droop, "target": 28.5, "roots": inside(PchipInterpolator(Q, droop).solve(28.5))},
            {"x": uneven_x, "y": uneven_y, "target": 4.5, "roots": inside(PchipInterpolator(uneven_x, uneven_y).solve(4.5), 0, 10)},
            {"x": Q, "y": head, "target": 31.0, "roots": []},
        ],
        "affinity": {"flow": Q, "head": head, "power": power, "speed": 0.8, "target_head": 15.0, "flow_for_head": flow_for_head,
                     "target_power": 2.0, "flow_for_power": flow_for_power},
    }


def properties():
    def water(t, pressure=0.101325):
        s = IAPWS97(T=t + 273.15, P=pressure)
        return {"t_c": t, "density": s.rho, "heat_capacity": s.cp, "viscosity": s.mu * 1000}

    glycol = []
    for fluid in ("MEG", "MPG"):
        for x in (0.1, 0.25, 0.3, 0.4, 0.5, 0.6):
            code = f"INCOMP::{fluid}[{x}]"
            freeze = PropsSI("T_freeze", "T", 320, "P", 101325, code) - 273.15
            for t in (-30.0, -15.0, -5.0, 5.0, 12.5, 20.0, 40.0, 60.0, 82.0, 100.0):
                if t > freeze:
                    d, c, v = (PropsSI(k, "T", t + 273.15, "P", 101325, code) for k in "DCV")
                    glycol.append({"fluid": fluid, "mass_fraction": x, "t_c": t, "freezing_c": freeze, "density": d,
                                   "heat_capacity": c / 1000, "viscosity": v * 1000})
    return {"source": "water: IAPWS-IF97 and R12-08 (iapws), 0.101325 MPa; glycol: Melinder 2010 as coded in CoolProp",
            "water": [water(t) for t in (0.01, 2.0, 7.0, 12.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 82.0, 90.0, 95.0, 99.5)],
            "glycol": glycol}


def thickness():
    """Kinematic viscosity [mm2/s] of what a loop may hold, and what ANSI/HI 9.6.7 takes from a pump for it."""
    flow_m3h, head_m, speed_rpm = 50.0, 20.0, 1450.0

    def factors(nu):
        b = 16.5 * nu**0.5 * head_m**0.0625 / (flow_m3h**0.375 * speed_rpm**0.25)
        thin = b <= 1
        return {"b": b, "flow": 1.0 if thin else math.exp(-0.165 * math.log10(b) ** 3.15), "efficiency": 1.0 if thin else b ** (-0.0547 * b**0.69)}

    rows = []
    for name, code, x in [("water", "Water", 0.0)] + [(g, f"INCOMP::{g}[{x}]", x) for g in ("MEG", "MPG") for x in (0.2, 0.3, 0.4)]:
        freeze = 0.0 if name == "water" else PropsSI("T_freeze", "T", 320, "P", 101325, code) - 273.15
        for t in (-5.0, 0.0, 5.0, 20.0, 60.0):
            if t > freeze:
                d, v = (PropsSI(k, "T", t + 273.15, "P", 101325, code) for k in "DV")
                nu = v / d * 1e6
                rows.append({"fluid": name, "mass_fraction": x, "t_c": t, "kinematic_viscosity": nu, **factors(nu)})
    return {"source": "water: IAPWS viscosity in CoolProp; glycol: Melinder 2010 as coded in CoolProp; factors: formulas of ANSI/HI 9.6.7",
            "pump": {"flow_m3h": flow_m3h, "head_m": head_m, "speed_rpm": speed_rpm}, "rows": rows}


def motor():
    hp = 745.6998715822702
    return {
        "source": "fluids: VFD_efficiency (trade table), motor_efficiency_underloaded (WSEO 1993)",
        "drive": [{"rated_kw": p * hp / 1000, "load": load, "efficiency": VFD_efficiency(p * hp, load)}
                  for p in (1, 3, 7.5, 10, 25, 60, 100, 400, 500) for load in (0.01, 0.1, 0.2, 0.25, 0.5, 0.6, 0.75, 1.0)],
        "underloaded": [{"rated_kw": p * hp / 1000, "load": load, "ratio": motor_efficiency_underloaded(p * hp, load)}
                        for p in (10, 25) for load in (0.1, 0.25, 0.5)],
    }


def clusters():
    points = [(20, 8), (21, 8.1), (22, 8.2), (20.5, 8.05), (21.5, 8.15), (50, 12), (51, 12.2), (52, 12.3), (50.5, 12.1),
              (51.5, 12.25), (80, 18), (35, 15)]
    scaled = np.array(points) / (100.0, 20.0)
    fit = DBSCAN(eps=0.05, min_samples=3).fit(scaled)
    x = np.array([10, 10.2, 9.9, 10.1, 10.0, 9.8, 10.3, 20, 20.2, 19.9, 20.1, 20.0, 19.8, 20.3])
    mixtures = []
    for k in (1, 2):
        m = GaussianMixture(k, random_state=0, n_init=5, tol=1e-9, max_iter=1000).fit(x.reshape(-1, 1))
        mixtures.append({"k": k, "bic": m.bic(x.reshape(-1, 1)), "means": sorted(m.means_.ravel().tolist())})
    return {"source": "scikit-learn: DBSCAN, silhouette_score, GaussianMixture (covariance floor 1e-6)",
            "points": scaled.tolist(), "eps": 0.05, "min_points": 3, "labels": fit.labels_.tolist(),
            "core": fit.core_sample_indices_.tolist(), "silhouette": float(silhouette_score(scaled[:10], fit.labels_[:10])),
            "mixture_x": x.tolist(), "mixtures": mixtures}


def change_points():
    signal = np.repeat([0.0, 5.0, 2.0], 20) + np.array([((i * 7919) % 13 - 6) / 20 for i in range(60)])
    column = signal.reshape(-1, 1)
    # A drift, a step and a short level, as a degraded pump's statistic may look.
    days = np.array([0.03 * ((i * 37) % 11 - 5) + (0.6 if i >= 48 else 0.0) + (-0.9 if 90 <= i < 97 else 0.0) for i in range(140)])
    cost = ruptures.costs.CostL2().fit(column)
    runs = []
    for name, s in (("levels", column), ("days", days.reshape(-1, 1))):
        for pen in (0.5, 1, 3, 10, 100):
            best = ruptures.Pelt(model="l2", min_size=2, jump=1).fit(s).predict(pen=pen)
            runs.append({"signal": name, "penalty": pen, "min_rows": 2, "ends": [int(b) for b in best]})
    single = [{"signal": name, "at": int(ruptures.Dynp(model="l2", min_size=3, jump=1).fit(s).predict(n_bkps=1)[0])}
              for name, s in (("levels", column), ("days", days.reshape(-1, 1)))]
    return {"source": "ruptures: Pelt(l2, min_size=2, jump=1), Dynp(l2, min_size=3, jump=1), CostL2", "levels": signal.tolist(),
            "days": days.tolist(), "cost": float(cost.error(0, 60)), "runs": runs, "single": single}


def steady():
    x = [10, 10.2, 9.9, 10.1, 10.0, 9.8, 10.1, 10.3, 9.9, 10.0, 11, 12, 13, 14, 15]
    noise = np.random.default_rng(1).standard_normal(2_000_000)

    def ratios(x, a, b, c):
        x = np.asarray(x, float)
        mean = x[0] + lfilter([a], [1, a - 1], x - x[0])
        nu2 = lfilter([b], [1, b - 1], (x[1:] - mean[:-1]) ** 2)
        d2 = lfilter([c], [1, c - 1], np.diff(x) ** 2)
        return (2 - a) * nu2 / d2

    table = []
    for a, b, c in ((0.2, 0.1, 0.1), (0.1, 0.1, 0.1), (0.05, 0.05, 0.05)):
        r = ratios(noise, a, b, c)[1000:]
        table.append({"factors": [a, b, c], "p95": float(np.quantile(r, 0.95)), "p99": float(np.quantile(r, 0.99))})
    return {"source": "numpy and scipy.signal.lfilter on 2 million normal values, equations of Cao and Rhinehart 1995",
            "x": [float(v) for v in x], "ratio": ratios(x, 0.2, 0.1, 0.1).tolist(), "critical": table}


def coil():
    def effectiveness(ntu, cr):
        e = math.exp(-ntu * (1 - cr))
        return (1 - e) / (1 - cr * e)

    def heat(ua, air, water, entering):
        least, most = min(air, water), max(air, water)
        return effectiveness(ua / least, least / most) * least * entering

    ua = brentq(lambda u: heat(u, 10, 140 / 8.3, 21) - 140, 0.1, 100, xtol=1e-13)
    rows = []
    for share in (1.0, 0.75, 0.5, 0.25):
        for exponent in (0.8, 0.0):
            u, load = ua * share**exponent, 140 * share
            water = brentq(lambda w: heat(u, 10 * share, w, 21) - load, 0.05, 200, xtol=1e-13)
            rows.append({"air_share": share, "exponent": exponent, "water": water, "delta_t": load / water})
    u = ua * 0.5**0.8
    resets = []
    for leaving, entering_water in ((11, 6), (13, 8)):
        load, entering = 5 * (27 - leaving), 27 - entering_water
        water = brentq(lambda w: heat(u, 5, w, entering) - load, 0.05, 400, xtol=1e-13)
        resets.append({"air_leaving_c": leaving, "water_entering_c": entering_water, "delta_t": load / water})
    return {"source": "counterflow effectiveness-NTU equations solved with scipy brentq", "ua": ua, "part_load": rows, "resets": resets}


def slip():
    rows = []
    for hz in (20.0, 30.0, 45.0, 60.0):
        s0 = 60 * (1800 - 1750) / 1800
        n = brentq(lambda n: n - 30 * (hz - s0 * (n / 1750) ** 2), 0, 1800, xtol=1e-12)
        rows.append({"hz": hz, "speed": n / 1750})
    # What a pump's curve says at 30 Hz when half of rated speed is believed: flows by power and by head, of which there may be none.
    head, power = PchipInterpolator(Q, [30.0, 29.5, 27.0, 21.5, 12.0]), PchipInterpolator(Q, [1.9, 2.9, 3.7, 4.2, 4.3])
    true, believed = rows[1]["speed"], 0.5
    cases = []
    for similar in (30.0, 50.0, 70.0):
        h, p = true**2 * head(similar), true**3 * power(similar)
        by_head, by_power = head.solve(h / believed**2, extrapolate=False), power.solve(p / believed**3, extrapolate=False)
        cases.append({"flow": similar * true, "head": float(h), "power": float(p),
                      "by_head": [believed * float(q) for q in by_head], "by_power": [believed * float(q) for q in by_power]})
    return {"source": "torque-slip line of a 1750 rpm, 60 Hz motor under quadratic load, solved with scipy brentq; PchipInterpolator.solve",
            "rows": rows, "true_speed": true, "believed_speed": believed, "believed": cases}


def baselines():
    t = np.array([-5, -3, -1, 0, 2, 4, 6, 8, 10, 12, 14, 15, 16, 18, 20, 22, 24, 26, 28, 30, 31, 32, 33, 35], float)
    d = np.array([((37 * i) % 11 - 5) * 0.1 for i in range(24)])
    over = lambda v: np.maximum(v, 0.0)
    fit = lambda y, *columns: sm.OLS(y, sm.add_constant(np.column_stack(columns))).fit()
    cooling, heating = 10 + 0.8 * over(t - 16) + d, 10 + 0.5 * over(14 - t) + d
    both = 10 + 0.5 * over(10 - t) + 0.8 * over(t - 20) + d

    def told(y, m, points):
        return {"points": points, "coefficients": m.params.tolist(), "errors": m.bse.tolist(), "sse": float(m.ssr),
                "r2": float(m.rsquared), "cv": float(np.sqrt(m.ssr / (len(y) - len(m.params) - len(points))) / y.mean()),
                "durbin_watson": float(durbin_watson(m.resid)),
                "autocorrelation": float(np.corrcoef(m.resid[1:], m.resid[:-1])[0, 1])}

    grid = np.round(np.arange(-4, 34, 0.01), 2)
    tc = float(min(grid, key=lambda p: fit(cooling, over(t - p)).ssr))
    th = float(min(grid, key=lambda p: fit(heating, over(p - t)).ssr))
    coarse = np.round(np.arange(0, 31, 0.1), 1)
    pair = min(((a, b) for a in coarse for b in coarse if b > a + 1), key=lambda p: np.linalg.lstsq(
        np.column_stack([np.ones(24), over(p[0] - t), over(t - p[1])]), both, rcond=None)[1].sum())
    low, high = map(float, pair)
    # Daily totals with errors of first order: what exact generalised least squares gives for a known correlation, one day missing.
    days = np.array([k for k in range(41) if k != 17])
    x = 15 + 8 * np.sin(days / 5)
    e = np.array([((7919 * k) % 13 - 6) / 3 for k in days])
    y = 50 + 1.5 * over(x - 14) + e
    r = 0.6
    v = r ** np.abs(days[:, None] - days[None, :])
    gls = sm.GLS(y, sm.add_constant(over(x - 14)), sigma=v).fit()
    w = np.where(days < 30, 1 / 30, -1 / 10)
    return {"source": "statsmodels: OLS, GLS, durbin_watson; change points by a grid of numpy",
            "t": t.tolist(), "cooling_y": cooling.tolist(), "heating_y": heating.tolist(), "both_y": both.tolist(),
            "line": told(cooling, fit(cooling, t), []), "cooling": told(cooling, fit(cooling, over(t - tc)), [tc]),
            "heating": told(heating, fit(heating, over(th - t)), [th]),
            "both": told(both, fit(both, over(low - t), over(t - high)), [low, high]),
            "gls": {"r": r, "days": days.tolist(), "x": over(x - 14).tolist(), "y": y.tolist(), "coefficients": gls.params.tolist(),
                    "errors": gls.bse.tolist(), "weights": w.tolist(), "variance": float(w @ v @ w)}}


def rounded(value):
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(v) for v in value]
    if isinstance(value, (float, np.floating)):
        return 0.0 if abs(value) < 1e-15 else float(f"{value:.{DIGITS}g}")
    return value


def differences(old, new, place=""):
    if isinstance(old, dict) and isinstance(new, dict):
        for key in sorted(old.keys() | new.keys()):
            if key in old and key in new:
                yield from differences(old[key], new[key], f"{place}.{key}")
            else:
                yield f"{place}.{key}: only in one"
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for i, (a, b) in enumerate(zip(old, new)):
            yield from differences(a, b, f"{place}[{i}]")
    elif isinstance(old, (int, float)) and isinstance(new, (int, float)):
        if not math.isclose(old, new, rel_tol=SAME, abs_tol=1e-9):
            yield f"{place}: {old} committed, {new} now"
    elif old != new:
        yield f"{place}: {old!r} committed, {new!r} now"


def main():
    result = rounded({
        "made_by": "tests/reference/make_reference.py",
        "versions": {name: version(name) for name in PACKAGES},
        "epanet": epanet(), "network": network(), "setpoint_change": setpoint_change(), "net1": net1(), "pchip": pchip(), "properties": properties(), "thickness": thickness(), "motor": motor(),
        "clusters": clusters(), "change_points": change_points(), "steady": steady(), "coil": coil(), "slip": slip(),
        "baselines": baselines(),
    })
    if "--check" not in sys.argv:
        TARGET.write_text(json.dumps(result, indent=1) + "\n")
        return 0
    found = list(differences(json.loads(TARGET.read_text()), result))
    print("\n".join(found) or "same", file=sys.stderr)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
