//! Every spelling of a unit, and those that are refused.
//!
//! English, German, French, Spanish and Italian as the trade writes them, and the local names and words of the usual vocabularies ("DEG_C", "KiloW-HR",
//! "liters_per_second").

use crate::plant::Dimension;
use crate::quantity::{
    Current, Energy, Flow, Fraction, Frequency, Length, Power, Pressure, ShaftSpeed, Temperature,
    TemperatureDifference, Time, Torque, Voltage,
};

/// One unit: its spellings without spaces, the first being the one that is proposed to people.
pub(super) struct Known {
    pub names: &'static [&'static str],
    pub dimension: Dimension,
    /// The number in SI (m3/h, kPa, m for heads, kW, kWh, degC, K, fraction, Hz, rpm, A, V, s, Nm).
    pub si: fn(f64) -> f64,
}

macro_rules! table {
    ($($dimension:ident { $($($name:literal)|+ => $si:expr;)+ })+) => {
        &[$($(Known { names: &[$($name),+], dimension: Dimension::$dimension, si: $si },)+)+]
    };
}

/// Every unit. Spellings are compared after [`super::plain`], first as written, then in lower case.
pub(super) static TABLE: &[Known] = table! {
    Flow {
        "m3/h" | "m3/hr" | "m3/hour" | "m3h" | "m3h1" | "cmh" | "cum/h" | "cum/hr" | "cubicmetersperhour"
            | "cubicmetresperhour" | "m3perhr" | "m3/std" | "m3/stunde" | "cbm/h" | "cbm/std" | "kubikmeter/h" | "m3/heure" | "m3/hora" | "m3/ora" | "mc/h"
            => |v| Flow::m3h(v).in_m3h();
        "m3/min" | "m3permin" | "cbm/min" | "cubicmetersperminute" => |v| Flow::m3_min(v).in_m3h();
        "m3/s" | "m3/sec" | "cms" | "m3/sek" | "m3/seg" | "m3persec" | "cubicmeterspersecond" | "cubicmetrespersecond" => |v| Flow::m3s(v).in_m3h();
        "L/s" | "l/s" | "lps" | "l/sec" | "ltr/s" | "liter/s" | "litre/s" | "liters/s" | "litres/s"
            | "literspersecond" | "litrespersecond" | "lpersec" | "l/sek" | "l/seg" | "liter/sek" | "litros/s" | "litros/seg" | "litri/s"
            => |v| Flow::l_s(v).in_m3h();
        "L/min" | "l/min" | "lpm" | "ltr/min" | "liter/min" | "litre/min" | "liters/min" | "litres/min"
            | "litersperminute" | "litresperminute" | "lpermin" | "l/mn" | "litros/min" | "litri/min" => |v| Flow::l_min(v).in_m3h();
        "L/h" | "l/h" | "lph" | "l/hr" | "ltr/h" | "liter/h" | "litre/h" | "liters/h" | "litres/h"
            | "litersperhour" | "litresperhour" | "lperhr" | "l/std" | "liter/std" | "litres/heure" | "litros/h" | "litros/hora" | "litri/h" | "l/ora"
            => |v| Flow::l_h(v).in_m3h();
        "gpm" | "usgpm" | "gpmus" | "gal/min" | "usgal/min" | "gals/min" | "galpermin" | "gallons/min"
            | "gallonsperminute" | "gal/m" | "galuspermin" | "usgallonsperminute" | "galones/min" => |v| Flow::gpm(v).in_m3h();
        "igpm" | "impgpm" | "ukgpm" | "gpmimp" | "impgal/min" | "galukpermin" => |v| Flow::imperial_gpm(v).in_m3h();
    }
    Pressure {
        "kPa" | "kpa" | "kpad" | "kpag" | "kilopascal" | "kilopascals" | "kilopa" => |v| Pressure::kpa(v).in_kpa();
        "Pa" | "pa" | "pascal" | "pascals" | "pascales" => |v| Pressure::pa(v).in_kpa();
        "hPa" | "hpa" | "hectopa" | "hectopascal" | "hectopascals" | "hektopascal" => |v| Pressure::hpa(v).in_kpa();
        "MPa" | "megapa" | "megapascal" | "megapascals" => |v| Pressure::mpa(v).in_kpa();
        "bar" | "bars" | "bard" | "barg" | "barü" | "barue" => |v| Pressure::bar(v).in_kpa();
        "mbar" | "millibar" | "millibars" => |v| Pressure::mbar(v).in_kpa();
        "psi" | "psig" | "psid" | "lbf/in2" | "lb/in2" | "lbs/in2" | "poundsforcepersquareinch" | "poundspersquareinch" | "lbfperin2"
            => |v| Pressure::psi(v).in_kpa();
        "kgf/cm2" | "kg/cm2" | "kp/cm2" | "at" | "kgfpercm2" => |v| Pressure::kgf_cm2(v).in_kpa();
        "ftH2O" | "fth2o" | "ftwc" | "ftwg" | "ftw" | "ftwater" | "feeth2o" | "feetofwater" | "footofwater"
            => |v| Pressure::foot_water(v).in_kpa();
        "inH2O" | "inh2o" | "inwc" | "inwg" | "wg" | "wc" | "inw" | "inwater" | "inchh2o" | "incheswc" | "incheswg"
            | "inchesofwater" => |v| Pressure::inch_water(v).in_kpa();
        "mH2O" | "mh2o" | "mwc" | "mwg" | "mwater" | "mws" | "mca" | "mce" | "mcda" | "mh20" | "metersofwater" | "metresofwater"
            => |v| Pressure::cm_water(100.0 * v).in_kpa();
        "cmH2O" | "cmh2o" | "cmwc" | "cmws" | "cmca" | "cmce" | "centimh2o" => |v| Pressure::cm_water(v).in_kpa();
        "mmH2O" | "mmh2o" | "mmwc" | "mmwg" | "mmws" | "mmca" | "mmce" | "millimh2o" => |v| Pressure::mm_water(v).in_kpa();
    }
    Head {
        "m" | "meter" | "metre" | "meters" | "metres" | "mhead" | "mfluid" | "mlc" => |v| Length::m(v).in_m();
        "ft" | "feet" | "foot" | "'" | "fthead" | "fthd" | "feethead" | "ftofhead" | "feetofhead" | "tdh"
            => |v| Length::ft(v).in_m();
    }
    Power {
        "kW" | "kw" | "kilowatt" | "kilowatts" | "kwe" | "kwth" | "kilow" | "kilovatios" | "kilovatio" => |v| Power::kw(v).in_kw();
        "W" | "w" | "watt" | "watts" | "vatios" => |v| Power::w(v).in_kw();
        "MW" | "megaw" | "megawatt" | "megawatts" => |v| Power::mw(v).in_kw();
        "hp" | "bhp" | "horsepower" => |v| Power::hp(v).in_kw();
        "PS" | "ps" | "cv" | "ch" | "metrichp" | "hpmetric" | "hpmet" => |v| Power::metric_hp(v).in_kw();
        "Btu/h" | "btu/h" | "btu/hr" | "btuh" | "btu/hour" | "btusperhour" | "btuitperhr" => |v| Power::btu_h(v).in_kw();
        "MBH" | "mbh" | "kbtu/h" | "kbtu/hr" | "kbtuh" | "kilobtuitperhr" | "kilobtusperhour" => |v| Power::btu_h(1e3 * v).in_kw();
        "MMBtu/h" | "mmbtu/h" | "mmbtu/hr" | "mmbtuh" => |v| Power::btu_h(1e6 * v).in_kw();
        "tons" | "ton" | "tr" | "rt" | "tonref" | "tonsref" | "reftons" | "refrigerationtons" | "tonsrefrigeration"
            | "tonsofrefrigeration" | "tonfg" => |v| Power::tons(v).in_kw();
    }
    Energy {
        "kWh" | "kwh" | "kwhr" | "kwhrs" | "kilowatthour" | "kilowatthours" | "kilowhr" | "kilowattstunden" | "kwstd" => |v| Energy::kwh(v).in_kwh();
        "Wh" | "wh" | "whr" | "watthour" | "watthours" => |v| Energy::wh(v).in_kwh();
        "MWh" | "MWH" | "MWhr" | "megawhr" | "megawatthour" | "megawatthours" => |v| Energy::mwh(v).in_kwh();
        "GWh" | "gwh" => |v| Energy::gwh(v).in_kwh();
        "kJ" | "kj" | "kilojoule" | "kilojoules" => |v| Energy::kj(v).in_kwh();
        "MJ" | "megaj" | "megajoule" | "megajoules" => |v| Energy::mj(v).in_kwh();
        "GJ" | "gj" | "gigaj" | "gigajoule" | "gigajoules" => |v| Energy::gj(v).in_kwh();
        "kBtu" | "kbtu" | "kilobtuit" | "kilobtus" => |v| Energy::btu(1e3 * v).in_kwh();
    }
    Temperature {
        "degC" | "degc" | "C" | "c" | "celsius" | "degcelsius" | "degreesc" | "degreescelsius"
            | "gradc" | "gradcelsius" | "degréc" | "degrésc" | "degréscelsius" | "degrec" | "gradosc" | "gradoscelsius" | "gradoscentigrados" | "centigrados"
            | "gradic" | "gradicelsius"
            => |v| Temperature::celsius(v).in_celsius();
        "degF" | "degf" | "F" | "f" | "fahrenheit" | "degfahrenheit" | "degreesf" | "degreesfahrenheit" | "gradf" | "gradfahrenheit" | "gradosf" | "gradosfahrenheit"
            => |v| Temperature::fahrenheit(v).in_celsius();
    }
    TemperatureDifference {
        "K" | "k" | "kelvin" | "deltak" | "deltac" | "deltadegc" | "degcdelta" | "cdeg" | "kelvindegrees" | "celsiusdegrees"
            => |v| TemperatureDifference::kelvin(v).in_kelvin();
        "delta_degF" | "deltadegf" | "deltaf" | "degfdelta" | "fdeg" | "fahrenheitdegrees" => |v| TemperatureDifference::delta_f(v).in_kelvin();
    }
    Fraction {
        "%" | "percent" | "pct" | "perc" | "%open" | "%opn" | "%speed" | "%spd" | "percentopen" | "prozent" | "pourcent" | "porciento" | "percento"
            => |v| Fraction::percent(v).in_of_one();
        "fraction" | "ratio" | "01" | "pu" | "perunit" => |v| Fraction::of_one(v).in_of_one();
    }
    Frequency { "Hz" | "hz" | "hertz" | "hercios" => |v| Frequency::hz(v).in_hz(); }
    ShaftSpeed {
        "rpm" | "r/min" | "rev/min" | "1/min" | "min1" | "u/min" | "revolutionsperminute" | "revpermin" | "upm" | "umin" | "umin1" | "tr/min" | "tr/mn" | "tours/min" | "giri/min" | "vueltas/min"
            => |v| ShaftSpeed::rpm(v).in_rpm();
    }
    Current {
        "A" | "a" | "amp" | "amps" | "ampere" | "amperes" | "ampère" | "ampères" | "amperios" => |v| Current::a(v).in_a();
        "mA" | "ma" | "millia" | "milliamps" | "milliampere" | "milliamperes" => |v| Current::ma(v).in_a();
    }
    Voltage {
        "V" | "v" | "volt" | "volts" | "vdc" | "voltios" => |v| Voltage::v(v).in_v();
        "mV" | "milliv" | "millivolt" | "millivolts" => |v| Voltage::mv(v).in_v();
    }
    Time {
        "s" | "sec" | "secs" | "second" | "seconds" | "sek" | "sekunden" | "seg" | "segundos" | "secondes" | "secondi" => |v| Time::s(v).in_s();
        "min" | "mins" | "minute" | "minutes" | "minuten" | "minutos" | "minuti" | "mn" => |v| Time::min(v).in_s();
        "h" | "hr" | "hrs" | "hour" | "hours" | "std" | "stunde" | "stunden" | "heures" | "horas" | "ore" => |v| Time::h(v).in_s();
        "d" | "day" | "days" | "tag" | "tage" | "jours" | "dias" | "giorni" => |v| Time::d(v).in_s();
    }
    Torque {
        "Nm" | "nm" | "newtonmeter" | "newtonmetre" => |v| Torque::nm(v).in_nm();
        "lbf.ft" | "lbfft" | "lbft" | "ftlb" | "ftlbf" => |v| Torque::lbf_ft(v).in_nm();
        "lbf.in" | "lbfin" | "lbin" | "inlb" | "inlbf" => |v| Torque::lbf_in(v).in_nm();
    }
    Count {
        "count" | "" | "counts" | "starts" | "bool" | "boolean" | "binary" | "on/off" | "onoff" | "state" | "none" | "enum"
            => |v| v;
    }
};

/// Spellings that two readers would take in two ways, and what to write instead.
pub(super) const AMBIGUOUS: &[(&str, &str, &str)] = &[
    ("mw", "it could be megawatts or milliwatts", "MW"),
    ("mwh", "it could be megawatt-hours or milliwatt-hours", "MWh"),
    ("mpa", "it could be megapascals or millipascals", "MPa"),
    ("mj", "it could be megajoules or millijoules", "MJ"),
    ("mv", "it could be millivolts or megavolts", "mV"),
    ("mbtu/h", "it could be thousands or millions of Btu an hour", "MBH"),
    ("mbtuh", "it could be thousands or millions of Btu an hour", "MBH"),
    ("psia", "an absolute pressure is not a difference", "psi"),
    ("bara", "an absolute pressure is not a difference", "bar"),
    ("kpaa", "an absolute pressure is not a difference", "kPa"),
    ("kg/s", "a mass flow needs its density", "m3/h"),
    ("kg/h", "a mass flow needs its density", "m3/h"),
    ("t/h", "a mass flow needs its density", "m3/h"),
    ("kva", "apparent power is more than what the pump takes", "kW"),
];
