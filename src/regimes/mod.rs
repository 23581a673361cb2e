//! Groups of points that belong together, against the control curve.

/// Where a row stands, named by physics.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regime {
    OnCurve,
    AboveCurve,
    BelowCurve,
    SpeedFloor,
    FullSpeed,
    Off,
    Transient,
    Unknown,
}

/// One named group of one pump.
#[derive(Debug, Clone)]
pub struct Group {
    pub pump: String,
    pub regime: Regime,
    pub hours: f64,
    pub share_of_hours: f64,
    pub share_of_energy: f64,
    /// Centre and spread (standard deviation).
    pub flow_m3h: (f64, f64),
    pub head_excess_kpa: (f64, f64),
    pub speed: (f64, f64),
    pub delta_t_k: (f64, f64),
}

/// One pump's regimes, one entry a row.
#[derive(Debug, Clone)]
pub struct PumpRegimes {
    pub pump: String,
    pub curve_head_kpa: Vec<f64>,
    pub regime: Vec<Regime>,
}

/// All regimes of a review.
#[derive(Debug, Clone)]
pub struct Regimes {
    pub pumps: Vec<PumpRegimes>,
    pub groups: Vec<Group>,
}
