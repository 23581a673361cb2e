//! Flow, head, power, speed, temperature: SI inside, built and read by a named unit.
//!
//! Comes in: a number and the unit its name carries. Goes out: one type a quantity, so that a flow cannot be
//! handed over as a head. The factors are those of the `uom` crate; this module adds the trade's short names
//! (`m3h`, `kpa`) and nothing else. Head is a [`Pressure`] in this project: a head in metres or feet becomes one at
//! the density of the loop's fluid at its design supply temperature.
//! Columns of many numbers stay plain `f64` slices with the unit in their name (`flow_m3h`); NaN means missing.

use uom::si;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident = $inner:ty, { $($(#[$udoc:meta])* $unit:ident, $get:ident => $uom:path;)+ }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name($inner);
        impl $name {
            $(
                #[doc = concat!("Builds from a number in the unit `", stringify!($uom), "`.")]
                #[must_use]
                pub fn $unit(value: f64) -> Self { Self(<$inner>::new::<$uom>(value)) }
                #[doc = concat!("Reads as a number in the unit `", stringify!($uom), "`.")]
                #[must_use]
                pub fn $get(self) -> f64 { self.0.get::<$uom>() }
            )+
        }
    };
}

quantity!(/// Volume flow.
    Flow = si::f64::VolumeRate, {
    m3h, in_m3h => si::volume_rate::cubic_meter_per_hour;
    m3s, in_m3s => si::volume_rate::cubic_meter_per_second;
    m3_min, in_m3_min => si::volume_rate::cubic_meter_per_minute;
    l_s, in_l_s => si::volume_rate::liter_per_second;
    l_min, in_l_min => si::volume_rate::liter_per_minute;
    gpm, in_gpm => si::volume_rate::gallon_per_minute;
});
quantity!(/// Pressure or pressure difference; also head, at the loop fluid's density.
    Pressure = si::f64::Pressure, {
    kpa, in_kpa => si::pressure::kilopascal;
    pa, in_pa => si::pressure::pascal;
    hpa, in_hpa => si::pressure::hectopascal;
    mpa, in_mpa => si::pressure::megapascal;
    bar, in_bar => si::pressure::bar;
    mbar, in_mbar => si::pressure::millibar;
    psi, in_psi => si::pressure::pound_force_per_square_inch;
    kgf_cm2, in_kgf_cm2 => si::pressure::kilogram_force_per_square_centimeter;
    foot_water, in_foot_water => si::pressure::foot_of_water;
    inch_water, in_inch_water => si::pressure::inch_of_water;
    cm_water, in_cm_water => si::pressure::centimeter_of_water;
    mm_water, in_mm_water => si::pressure::millimeter_of_water;
});
quantity!(/// Length; a head in metres or feet of the pumped fluid before its density is known.
    Length = si::f64::Length, {
    m, in_m => si::length::meter;
    cm, in_cm => si::length::centimeter;
    mm, in_mm => si::length::millimeter;
    ft, in_ft => si::length::foot;
    inch, in_inch => si::length::inch;
});
quantity!(/// Electric, shaft, hydraulic or thermal power.
    Power = si::f64::Power, {
    kw, in_kw => si::power::kilowatt;
    w, in_w => si::power::watt;
    mw, in_mw => si::power::megawatt;
    hp, in_hp => si::power::horsepower;
    metric_hp, in_metric_hp => si::power::horsepower_metric;
});
quantity!(/// Energy.
    Energy = si::f64::Energy, {
    wh, in_wh => si::energy::watt_hour;
    kwh, in_kwh => si::energy::kilowatt_hour;
    mwh, in_mwh => si::energy::megawatt_hour;
    gwh, in_gwh => si::energy::gigawatt_hour;
    kj, in_kj => si::energy::kilojoule;
    mj, in_mj => si::energy::megajoule;
    gj, in_gj => si::energy::gigajoule;
    btu, in_btu => si::energy::btu_it;
});
quantity!(/// A temperature on a scale (not a difference).
    Temperature = si::f64::ThermodynamicTemperature, {
    celsius, in_celsius => si::thermodynamic_temperature::degree_celsius;
    fahrenheit, in_fahrenheit => si::thermodynamic_temperature::degree_fahrenheit;
});
quantity!(/// A difference of two temperatures.
    TemperatureDifference = si::f64::TemperatureInterval, {
    kelvin, in_kelvin => si::temperature_interval::kelvin;
    delta_f, in_delta_f => si::temperature_interval::degree_fahrenheit;
});
quantity!(/// A share: of rated speed, of full opening, an efficiency.
    Fraction = si::f64::Ratio, {
    of_one, in_of_one => si::ratio::ratio;
    percent, in_percent => si::ratio::percent;
});
quantity!(/// Electrical frequency.
    Frequency = si::f64::Frequency, {
    hz, in_hz => si::frequency::hertz;
});
quantity!(/// Speed of a shaft.
    ShaftSpeed = si::f64::AngularVelocity, {
    rpm, in_rpm => si::angular_velocity::revolution_per_minute;
});
quantity!(/// A span of time.
    Time = si::f64::Time, {
    s, in_s => si::time::second;
    min, in_min => si::time::minute;
    h, in_h => si::time::hour;
    d, in_d => si::time::day;
});
quantity!(/// Electric current.
    Current = si::f64::ElectricCurrent, {
    a, in_a => si::electric_current::ampere;
    ma, in_ma => si::electric_current::milliampere;
});
quantity!(/// Electric potential: a controller's 0 to 10 V signal.
    Voltage = si::f64::ElectricPotential, {
    v, in_v => si::electric_potential::volt;
    mv, in_mv => si::electric_potential::millivolt;
});
quantity!(/// Torque of a shaft.
    Torque = si::f64::Torque, {
    nm, in_nm => si::torque::newton_meter;
    lbf_ft, in_lbf_ft => si::torque::pound_force_foot;
    lbf_in, in_lbf_in => si::torque::pound_force_inch;
});
quantity!(/// Mass density.
    Density = si::f64::MassDensity, {
    kg_m3, in_kg_m3 => si::mass_density::kilogram_per_cubic_meter;
});
quantity!(/// Specific heat capacity.
    HeatCapacity = si::f64::SpecificHeatCapacity, {
    kj_kg_k, in_kj_kg_k => si::specific_heat_capacity::kilojoule_per_kilogram_kelvin;
});
quantity!(/// Dynamic viscosity.
    Viscosity = si::f64::DynamicViscosity, {
    mpa_s, in_mpa_s => si::dynamic_viscosity::millipascal_second;
});

/// Standard acceleration of gravity [m/s2] (3rd CGPM 1901, exact by definition).
pub const STANDARD_GRAVITY: f64 = 9.80665;

/// A ton of refrigeration is 12,000 Btu (International Table) an hour by definition [Btu/h].
const BTU_PER_HOUR_IN_A_TON: f64 = 12_000.0;

impl Power {
    /// Builds from British thermal units (International Table) an hour [Btu/h].
    #[must_use]
    pub fn btu_h(value: f64) -> Self {
        Self(si::f64::Energy::new::<si::energy::btu_it>(value) / si::f64::Time::new::<si::time::hour>(1.0))
    }
    /// Reads as British thermal units (International Table) an hour [Btu/h].
    #[must_use]
    pub fn in_btu_h(self) -> f64 {
        (self.0 * si::f64::Time::new::<si::time::hour>(1.0)).get::<si::energy::btu_it>()
    }
    /// Builds from tons of refrigeration [12,000 Btu/h].
    #[must_use]
    pub fn tons(value: f64) -> Self {
        Self::btu_h(value * BTU_PER_HOUR_IN_A_TON)
    }
    /// Reads as tons of refrigeration [12,000 Btu/h].
    #[must_use]
    pub fn in_tons(self) -> f64 {
        self.in_btu_h() / BTU_PER_HOUR_IN_A_TON
    }
}

impl Flow {
    /// Builds from litres an hour [L/h].
    #[must_use]
    pub fn l_h(value: f64) -> Self {
        Self(si::f64::Volume::new::<si::volume::liter>(value) / si::f64::Time::new::<si::time::hour>(1.0))
    }
    /// Builds from imperial gallons a minute [imp gal/min].
    #[must_use]
    pub fn imperial_gpm(value: f64) -> Self {
        Self(si::f64::Volume::new::<si::volume::gallon_imperial>(value) / si::f64::Time::new::<si::time::minute>(1.0))
    }
}

impl Pressure {
    /// The pressure of a column `head` high of a fluid of this density (p = rho g h).
    #[must_use]
    pub fn of_column(head: Length, density: Density) -> Self {
        Self::pa(head.in_m() * density.in_kg_m3() * STANDARD_GRAVITY)
    }
    /// The height of a column of this density that has this pressure (h = p / (rho g)).
    #[must_use]
    pub fn as_column(self, density: Density) -> Length {
        Length::m(self.in_pa() / (density.in_kg_m3() * STANDARD_GRAVITY))
    }
}

impl Temperature {
    /// `self - other`.
    #[must_use]
    pub fn minus(self, other: Self) -> TemperatureDifference {
        TemperatureDifference::kelvin(self.in_celsius() - other.in_celsius())
    }
}
