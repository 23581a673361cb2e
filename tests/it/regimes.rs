//! Regimes on rows whose place against the curve is arithmetic.
