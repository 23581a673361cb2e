//! The words of the plant file and what each stands for, in one place for reading and for writing.

use super::*;

/// An enum whose variants are written as words.
pub trait Words: Copy + 'static {
    /// Every variant, in the order the contract lists them.
    const VARIANTS: &'static [Self];
    /// How it is written.
    fn written(self) -> &'static str;
    /// The variant that a word stands for.
    #[must_use]
    fn read(word: &str) -> Option<Self> {
        Self::VARIANTS.iter().copied().find(|v| v.written() == word)
    }
}

macro_rules! words {
    ($($name:ident { $($variant:ident = $word:literal),+ $(,)? })+) => { $(
        impl $name {
            /// Every variant, in the order the contract lists them.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// How it is written in plant files and results.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
            /// The variant that a word stands for.
            #[must_use]
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$variant),)+ _ => None }
            }
        }
        impl Words for $name {
            const VARIANTS: &'static [Self] = Self::ALL;
            fn written(self) -> &'static str { self.word() }
        }
    )+ };
}

words! {
    UnitSystem { Si = "SI", Ip = "IP" }
    Service { ChilledWater = "chilled-water", HeatingWater = "heating-water", CondenserWater = "condenser-water" }
    FluidKind { Water = "water", EthyleneGlycol = "ethylene-glycol", PropyleneGlycol = "propylene-glycol" }
    Topology {
        PrimaryOnly = "primary-only",
        ConstantPrimary = "constant-primary",
        Secondary = "secondary",
        Tertiary = "tertiary",
        DistrictDirect = "district-direct",
        HeatExchanger = "heat-exchanger",
    }
    Bypass { None = "none", TwoWay = "two-way", ThreeWayCoils = "three-way-coils", Decoupler = "decoupler" }
    Serves {
        Comfort = "comfort",
        Process = "process",
        Critical = "critical",
        DomesticHotWater = "domestic-hot-water",
    }
    Terminal {
        AirCoil = "air-coil",
        FanCoil = "fan-coil",
        Radiator = "radiator",
        Riser = "riser",
        HeatExchanger = "heat-exchanger",
    }
    Valve {
        TwoWay = "two-way",
        ThreeWay = "three-way",
        PressureIndependent = "pressure-independent",
        Thermostatic = "thermostatic",
        None = "none",
    }
    Characteristic { EqualPercentage = "equal-percentage", Linear = "linear" }
    ControlMode {
        ConstantPressure = "constant-pressure",
        RemotePressure = "remote-pressure",
        Proportional = "proportional",
        Quadratic = "quadratic",
        ConstantFlow = "constant-flow",
        FixedSpeed = "fixed-speed",
        Temperature = "temperature",
        DeltaTemperature = "delta-temperature",
        External = "external",
    }
    HeadAt { Pump = "pump", Header = "header" }
    Reset { None = "none", MostOpenValve = "most-open-valve" }
    MotorKind { Induction = "induction", PermanentMagnet = "permanent-magnet" }
    PowerIs { DriveInput = "drive-input", DriveOutput = "drive-output", Shaft = "shaft" }
    Blank { Missing = "missing", Unchanged = "unchanged" }
    Delimiter { Comma = ",", Semicolon = ";", Tab = "tab", Bar = "|", Blanks = "blanks" }
    DecimalSign { Point = ".", Comma = "," }
    TrendShape { Wide = "wide", Tall = "tall", Blocks = "blocks", Pairs = "pairs", OnePoint = "one-point" }
    PercentOf {
        RatedSpeed = "rated-speed",
        RatedFrequency = "rated-frequency",
        MaximumFrequency = "maximum-frequency",
    }
    Role {
        PumpSpeed = "pump-speed",
        PumpSpeedCommand = "pump-speed-command",
        PumpPower = "pump-power",
        PumpEnergy = "pump-energy",
        PumpStatus = "pump-status",
        PumpCommand = "pump-command",
        PumpStarts = "pump-starts",
        PumpFlow = "pump-flow",
        PumpHead = "pump-head",
        TotalPower = "total-power",
        LoopFlow = "loop-flow",
        ThermalLoad = "thermal-load",
        SupplyTemperature = "supply-temperature",
        ReturnTemperature = "return-temperature",
        DifferentialPressure = "differential-pressure",
        DifferentialPressureSetpoint = "differential-pressure-setpoint",
        ValvePosition = "valve-position",
        BypassPosition = "bypass-position",
        BypassFlow = "bypass-flow",
        AirTemperature = "air-temperature",
        AirTemperatureSetpoint = "air-temperature-setpoint",
        SpaceTemperature = "space-temperature",
        SpaceTemperatureSetpoint = "space-temperature-setpoint",
        FanStatus = "fan-status",
        CoilFlow = "coil-flow",
        CoilReturnTemperature = "coil-return-temperature",
        ValveCommand = "valve-command",
        SuctionPressure = "suction-pressure",
        DischargePressure = "discharge-pressure",
        PumpMode = "pump-mode",
        PumpAlarm = "pump-alarm",
        MotorCurrent = "motor-current",
        MotorTorque = "motor-torque",
        SourceStatus = "source-status",
        SourceFlow = "source-flow",
        SourceSupplyTemperature = "source-supply-temperature",
        SourceReturnTemperature = "source-return-temperature",
        OutdoorTemperature = "outdoor-temperature",
        PlantEnable = "plant-enable",
        Ignore = "ignore",
    }
    Dimension {
        Flow = "a flow",
        Pressure = "a pressure",
        Head = "a head",
        Power = "a power",
        Energy = "an energy",
        Temperature = "a temperature",
        TemperatureDifference = "a temperature difference",
        Fraction = "a share in %",
        Frequency = "a frequency",
        ShaftSpeed = "a shaft speed",
        Current = "a current",
        Voltage = "a voltage",
        Time = "a time",
        Torque = "a torque",
        Count = "a count",
    }
}

/// What a point of a role hangs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Belongs {
    /// One pump; must be named where there are several.
    Pump,
    /// A pump, or all of them together when it is not named.
    PumpOrAll,
    /// One coil; must be named where there are several.
    Coil,
    /// A coil, or the whole building when it is not named.
    CoilOrAll,
    /// One source; must be named where there are several.
    Source,
    /// A control sensor or the coil it sits at, where named.
    Sensor,
    /// The loop: nothing to name.
    Loop,
    /// Anything: the point is not used.
    Free,
}

impl Role {
    /// What a point of this role hangs on.
    #[must_use]
    pub fn belongs(self) -> Belongs {
        use Role::*;
        match self {
            PumpSpeed | PumpSpeedCommand | PumpPower | PumpEnergy | PumpStatus | PumpCommand | PumpStarts
            | PumpFlow | PumpMode | PumpAlarm | MotorCurrent | MotorTorque => Belongs::Pump,
            PumpHead | SuctionPressure | DischargePressure => Belongs::PumpOrAll,
            ValvePosition
            | ValveCommand
            | AirTemperature
            | AirTemperatureSetpoint
            | FanStatus
            | CoilFlow
            | CoilReturnTemperature => Belongs::Coil,
            SpaceTemperature | SpaceTemperatureSetpoint => Belongs::CoilOrAll,
            SourceStatus | SourceFlow | SourceSupplyTemperature | SourceReturnTemperature => Belongs::Source,
            DifferentialPressure | DifferentialPressureSetpoint => Belongs::Sensor,
            TotalPower | LoopFlow | ThermalLoad | SupplyTemperature | ReturnTemperature | BypassPosition
            | BypassFlow | OutdoorTemperature | PlantEnable => Belongs::Loop,
            Ignore => Belongs::Free,
        }
    }

    /// The dimensions a reading of this role may have, the usual one first. Empty: any (the point is not used).
    #[must_use]
    pub fn dimensions(self) -> &'static [Dimension] {
        use Dimension as D;
        use Role::*;
        match self {
            PumpSpeed | PumpSpeedCommand => &[D::Fraction, D::Frequency, D::ShaftSpeed],
            PumpPower | TotalPower | ThermalLoad => &[D::Power],
            PumpEnergy => &[D::Energy],
            PumpStatus | PumpCommand | PumpStarts | FanStatus | PumpMode | PumpAlarm | SourceStatus | PlantEnable => {
                &[D::Count]
            }
            PumpFlow | LoopFlow | BypassFlow | CoilFlow | SourceFlow => &[D::Flow],
            PumpHead | DifferentialPressure | DifferentialPressureSetpoint | SuctionPressure | DischargePressure => {
                &[D::Pressure, D::Head]
            }
            SupplyTemperature
            | ReturnTemperature
            | AirTemperature
            | AirTemperatureSetpoint
            | SpaceTemperature
            | SpaceTemperatureSetpoint
            | CoilReturnTemperature
            | SourceSupplyTemperature
            | SourceReturnTemperature
            | OutdoorTemperature => &[D::Temperature],
            ValvePosition | BypassPosition | ValveCommand => &[D::Fraction],
            MotorCurrent => &[D::Current, D::Fraction],
            MotorTorque => &[D::Torque, D::Fraction],
            Ignore => &[],
        }
    }
}

impl Dimension {
    /// The SI unit that values of this dimension are kept in; a head becomes a pressure.
    #[must_use]
    pub fn si(self) -> &'static str {
        match self {
            Dimension::Flow => "m3/h",
            Dimension::Pressure | Dimension::Head => "kPa",
            Dimension::Power => "kW",
            Dimension::Energy => "kWh",
            Dimension::Temperature => "degC",
            Dimension::TemperatureDifference => "K",
            Dimension::Fraction => "fraction",
            Dimension::Frequency => "Hz",
            Dimension::ShaftSpeed => "rpm",
            Dimension::Current => "A",
            Dimension::Voltage => "V",
            Dimension::Time => "s",
            Dimension::Torque => "Nm",
            Dimension::Count => "",
        }
    }
}

/// The known name nearest to what was written, whatever the distance; `None` only where nothing is known.
#[must_use]
pub fn nearest<'a>(written: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = written.to_lowercase();
    let mut best: Option<(&str, f64)> = None;
    for name in known {
        let likeness = strsim::jaro_winkler(&lower, &name.to_lowercase());
        if best.is_none_or(|(_, b)| likeness > b) {
            best = Some((name, likeness));
        }
    }
    best.map(|(name, _)| name)
}
