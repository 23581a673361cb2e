//! What a word of a point's name can stand for, and sets of it.

macro_rules! concepts {
    ($($name:ident),+ $(,)?) => {
        /// One idea that words of a name carry.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        #[repr(u8)]
        pub enum Concept { $($name),+ }
    };
}

concepts! {
    // Media.
    Chilled, Heating, Condenser, Water, SupplyAir, ReturnAir, MixedAir, Outdoor, ExhaustAir, Air, Domestic, Foreign,
    // Equipment.
    Pump, Pumps, OtherPump, Fan, Coil, Unit, Room, Source, Exchanger, Tower, Machine, Damper, Filter,
    Valve, Bypass, Meter, Drive, Motor, Duct, Building, Electrical, Tank, Loop, Plant, Header, Isolation, Evaporator,
    // Quantities.
    Speed, Frequency, Power, Energy, Status, Flow, AirFlow, Dp, Pressure, Head, Temperature, Position, Current, Torque,
    Voltage, Hours, Starts, Alarm, Mode, Humidity, AirQuality, Level, Load, Enable, StartStop, Volume, Other, Wet,
    DeltaT, Static, Refrigerant, Occupancy, Weather,
    // Qualifiers.
    Setpoint, Command, Output, Feedback, Supply, Return, Total, Limit, Suction, Discharge, Remote, Cooling, Heat, Reheat,
    Electric, Thermal, Count, Hand, Auto, Off, On, Start, Stop, Input, Calculated,
    // No meaning of their own, and short words whose meaning their company gives.
    Noise,
}

/// A set of concepts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Set(u128);

impl Set {
    pub fn add(&mut self, concept: Concept) {
        self.0 |= 1 << concept as u8;
    }
    pub fn has(self, concept: Concept) -> bool {
        self.0 & (1 << concept as u8) != 0
    }
    pub fn any(self, concepts: &[Concept]) -> bool {
        concepts.iter().any(|c| self.has(*c))
    }
    pub fn join(&mut self, other: Self) {
        self.0 |= other.0;
    }
    /// What both hold.
    pub fn meet(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }
}
