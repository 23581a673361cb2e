//! Operating points with their intervals: where each pump really ran.

/// What a pump was doing in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    Unknown,
    Off,
    Starting,
    Transient,
    Steady,
}

/// Which measurements fixed the point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    None,
    Off,
    Meter,
    HeadPower,
    Head,
    Power,
    Speed,
    MeterHeadPower,
    MeterHead,
    MeterPower,
    PowerBound,
    OutsideTable,
}

/// One pump's columns, one entry a row of the clock; NaN where it cannot be known.
#[derive(Debug, Clone)]
pub struct PumpPoints {
    pub pump: String,
    pub state: Vec<State>,
    /// Shaft speed over rated speed [-].
    pub speed: Vec<f64>,
    pub flow_m3h: Vec<f64>,
    pub flow_low_m3h: Vec<f64>,
    pub flow_high_m3h: Vec<f64>,
    pub head_kpa: Vec<f64>,
    pub head_low_kpa: Vec<f64>,
    pub head_high_kpa: Vec<f64>,
    /// Electric (drive input), as trended or reconstructed [kW].
    pub power_kw: Vec<f64>,
    /// Wire to water [-].
    pub efficiency: Vec<f64>,
    pub basis: Vec<Basis>,
    /// Part of the standard deviation that all rows of the pump share.
    pub flow_sd_common_m3h: Vec<f64>,
    pub head_sd_common_kpa: Vec<f64>,
}

/// The loop's columns: all pumps together.
#[derive(Debug, Clone)]
pub struct LoopPoints {
    pub flow_m3h: Vec<f64>,
    pub flow_low_m3h: Vec<f64>,
    pub flow_high_m3h: Vec<f64>,
    /// Head the pumps make together [kPa]: that of the running pumps.
    pub head_kpa: Vec<f64>,
    /// Electric power of all pumps [kW].
    pub power_kw: Vec<f64>,
    /// How many deliver.
    pub pumps_on: Vec<u8>,
    /// Every running pump steady.
    pub steady: Vec<bool>,
}

/// All operating points of a review.
#[derive(Debug, Clone)]
pub struct OperatingPoints {
    pub pumps: Vec<PumpPoints>,
    pub system: LoopPoints,
}
