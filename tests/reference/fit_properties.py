"""Writes src/hydraulics/coefficients.rs: polynomials for water and glycol, fitted to published formulations.

Water: IAPWS-IF97 and IAPWS R12-08 (package iapws), liquid at 0.3 MPa, 0 to 100 degC.
Glycols: Melinder, Properties of Secondary Working Fluids, IIR 2010, as coded in CoolProp (INCOMP::MEG, INCOMP::MPG);
the fit has the same 18 terms as the source, so that it repeats it to rounding.

    python fit_properties.py            writes the file
    python fit_properties.py --check    exits 1 when the committed file differs from a fresh fit by more than rounding
"""

import pathlib
import re
import sys

import numpy as np
from CoolProp.CoolProp import PropsSI
from iapws import IAPWS97

TARGET = pathlib.Path(__file__).resolve().parents[2] / "src/hydraulics/coefficients.rs"
# Powers (of mass fraction, of temperature) in Melinder's polynomials.
TERMS = [(i, j) for i in range(6) for j in range(4 if i < 3 else 6 - i)]
X_MID, X_HALF = 0.3, 0.3
T_MID, T_HALF = 25.0, 75.0


def water():
    t = np.arange(0.01, 100.001, 0.5)
    states = [IAPWS97(T=c + 273.15, P=0.3) for c in t]
    u = t / 50.0 - 1.0
    out = {}
    for name, values, degree in (
        ("DENSITY", np.array([s.rho for s in states]), 5),
        ("HEAT_CAPACITY", np.array([s.cp for s in states]), 7),
        ("LN_VISCOSITY", np.log([s.mu * 1000 for s in states]), 6),
    ):
        coef = np.polynomial.polynomial.polyfit(u, values, degree)
        miss = np.max(np.abs(np.polynomial.polynomial.polyval(u, coef) / values - 1)) if name != "LN_VISCOSITY" else np.max(
            np.abs(np.polynomial.polynomial.polyval(u, coef) - values))
        out["WATER_" + name] = (coef, miss)
    return out


def glycol(fluid, prefix):
    rows, freezing = [], []
    for x in np.linspace(0.0, 0.6, 25):
        code = f"INCOMP::{fluid}[{x}]"
        freeze = PropsSI("T_freeze", "T", 320, "P", 101325, code) - 273.15
        freezing.append((x, freeze))
        for t in np.linspace(freeze + 0.01, 100.0, 25):
            state = [PropsSI(k, "T", t + 273.15, "P", 101325, code) for k in "DCV"]
            rows.append((x, t, state[0], state[1] / 1000, np.log(state[2] * 1000)))
    a = np.array(rows)
    u, v = (a[:, 0] - X_MID) / X_HALF, (a[:, 1] - T_MID) / T_HALF
    design = np.column_stack([u**i * v**j for i, j in TERMS])
    out = {}
    for name, y in (("DENSITY", a[:, 2]), ("HEAT_CAPACITY", a[:, 3]), ("LN_VISCOSITY", a[:, 4])):
        coef = np.linalg.lstsq(design, y, rcond=None)[0]
        out[f"{prefix}_{name}"] = (coef, np.max(np.abs(design @ coef - y)))
    f = np.array(freezing)
    coef = np.polynomial.polynomial.polyfit((f[:, 0] - X_MID) / X_HALF, f[:, 1], 5)
    miss = np.max(np.abs(np.polynomial.polynomial.polyval((f[:, 0] - X_MID) / X_HALF, coef) - f[:, 1]))
    out[f"{prefix}_FREEZING"] = (coef, miss)
    return out


def rust(tables):
    lines = [
        "//! Coefficients of the property polynomials. Written by `tests/reference/fit_properties.py`; not edited by hand.",
        "//!",
        "//! Water: powers of `t / 50 - 1`, t in degC. Glycol: the powers of [`GLYCOL_TERMS`] of `(x - 0.3) / 0.3` (mass fraction)",
        "//! and `(t - 25) / 75`; freezing points [degC]: powers of `(x - 0.3) / 0.3`.",
        "",
        "/// Powers of mass fraction and of temperature, one pair a coefficient.",
        f"pub(super) const GLYCOL_TERMS: [(i32, i32); {len(TERMS)}] = [",
    ]
    for k in range(0, len(TERMS), 9):
        lines.append("    " + ", ".join(f"({i}, {j})" for i, j in TERMS[k:k + 9]) + ",")
    lines += ["];"]
    for name, (coef, miss) in tables.items():
        lines += ["", f"/// Largest departure from the source: {miss:.1e}.",
                  f"pub(super) const {name}: [f64; {len(coef)}] = ["]
        lines += [f"    {c:.9e}," for c in coef]
        lines += ["];"]
    return "\n".join(lines) + "\n"


def main():
    tables = {**water(), **glycol("MEG", "ETHYLENE"), **glycol("MPG", "PROPYLENE")}
    for name, (_, miss) in tables.items():
        print(f"{name:24s} {miss:.2e}", file=sys.stderr)
    text = rust(tables)
    if "--check" not in sys.argv:
        TARGET.write_text(text)
        return 0
    number = re.compile(r"(-?\d\.\d{9}e[-+]\d+)")
    old, new = ([float(m) for m in number.findall(t)] for t in (TARGET.read_text(), text))
    same = len(old) == len(new) and all(abs(a - b) <= 1e-7 * max(1.0, abs(b)) for a, b in zip(old, new))
    print("same" if same else "coefficients differ", file=sys.stderr)
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main())
