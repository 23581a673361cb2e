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
    l_s, in_l_s => si::volume_rate::liter_per_second;
    gpm, in_gpm => si::volume_rate::gallon_per_minute;
});
quantity!(/// Pressure or pressure difference; also head, at the loop fluid's density.
    Pressure = si::f64::Pressure, {
    kpa, in_kpa => si::pressure::kilopascal;
    pa, in_pa => si::pressure::pascal;
    bar, in_bar => si::pressure::bar;
    psi, in_psi => si::pressure::pound_force_per_square_inch;
});
quantity!(/// Length; a head in metres or feet of the pumped fluid before its density is known.
    Length = si::f64::Length, {
    m, in_m => si::length::meter;
    ft, in_ft => si::length::foot;
});
quantity!(/// Electric, shaft, hydraulic or thermal power.
    Power = si::f64::Power, {
    kw, in_kw => si::power::kilowatt;
    w, in_w => si::power::watt;
    hp, in_hp => si::power::horsepower;
});
quantity!(/// Energy.
    Energy = si::f64::Energy, {
    kwh, in_kwh => si::energy::kilowatt_hour;
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
