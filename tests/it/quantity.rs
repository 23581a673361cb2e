//! Units against published factors: NIST Special Publication 811 (2008), appendix B.8, to seven digits as printed
//! there, and definitions. Nothing here comes from the project itself.

use offcurve::plant::units::{self, UnitError};
use offcurve::plant::{Dimension, Role};
use offcurve::quantity::{Density, Flow, Length, Power, Pressure};

/// `value unit` is `si`, to the seven digits that SP 811 prints.
#[track_caller]
fn check(written: &str, value: f64, si: f64) {
    let unit = units::unit(written).unwrap_or_else(|e| panic!("{written}: {e}"));
    let got = value * unit.factor + unit.offset;
    assert!((got - si).abs() <= 5e-7 * si.abs().max(1e-3), "{value} {written}: {got}, published {si}");
}

#[test]
fn flows() {
    // SP 811: gallon (U.S.) per minute 6.309020 E-05 m3/s; times 3600.
    check("gpm", 1.0, 6.309_020e-5 * 3600.0);
    // SP 811: gallon [Canadian and U.K. (Imperial)] 4.54609 E-03 m3, exact; 60 an hour.
    check("imp gpm", 1.0, 4.546_09e-3 * 60.0);
    check("L/s", 1.0, 3.6); // definition
    check("L/min", 1000.0, 60.0); // definition
    check("L/h", 1000.0, 1.0); // definition
    check("m3/s", 1.0, 3600.0); // definition
    check("m3/min", 1.0, 60.0); // definition
    check("m3/h", 68.0, 68.0);
}

#[test]
fn pressures() {
    check("psi", 1.0, 6.894_757); // SP 811: 6.894757 E+00 kPa
    check("bar", 1.0, 100.0); // SP 811, exact
    check("mbar", 1.0, 0.1); // SP 811, exact
    check("ft H2O", 1.0, 2.989_067); // SP 811: foot of water, conventional, 2.989067 kPa
    check("in H2O", 1.0, 0.249_088_9); // SP 811: inch of water, conventional, 2.490889 E+02 Pa
    check("cm H2O", 1.0, 0.098_066_5); // SP 811: centimeter of water, conventional, 9.80665 E+01 Pa
    check("mH2O", 1.0, 9.806_65); // hundred of them
    check("mm H2O", 1.0, 0.009_806_65); // SP 811: 9.80665 Pa
    check("kgf/cm2", 1.0, 98.066_5); // SP 811: kilogram-force per square centimeter, exact
    check("MPa", 1.0, 1000.0);
    check("Pa", 1000.0, 1.0);
    check("hPa", 10.0, 1.0);
}

#[test]
fn heads_powers_energies() {
    check("ft", 1.0, 0.3048); // SP 811, exact
    check("m", 1.0, 1.0);
    check("hp", 1.0, 0.745_699_9); // SP 811: horsepower (550 ft lbf/s) 7.456999 E+02 W
    check("PS", 1.0, 0.735_498_8); // SP 811: horsepower (metric) 7.354988 E+02 W
    check("MW", 1.0, 1000.0);
    check("W", 1000.0, 1.0);
    check("Btu/h", 1.0, 2.930_711e-4); // SP 811: Btu (IT) per hour 2.930711 E-01 W
    check("MBH", 1.0, 0.293_071_1); // a thousand of them
    check("tons", 1.0, 3.516_853); // SP 811: ton of refrigeration (12 000 Btu_IT/h) 3.516853 E+03 W
    check("kWh", 1.0, 1.0);
    check("MWh", 1.0, 1000.0);
    check("MJ", 3.6, 1.0); // SP 811: kilowatt hour 3.6 E+06 J, exact
    check("kBtu", 1.0, 0.293_071_1);
}

#[test]
fn temperatures_and_the_rest() {
    // SP 811: t/degC = (t/degF - 32)/1.8, exact.
    check("degF", 32.0, 0.0);
    check("degF", 212.0, 100.0);
    check("°F", 44.0, 12.0 / 1.8);
    check("degC", 12.0, 12.0);
    check("K", 6.0, 6.0);
    // A difference has no 32 in it: 12 delta degF is 6.667 K.
    check("delta_degF", 12.0, 12.0 / 1.8);
    check("%", 35.0, 0.35);
    check("Hz", 60.0, 60.0);
    check("rpm", 1450.0, 1450.0);
    check("min", 5.0, 300.0);
    check("A", 12.0, 12.0);
    check("mA", 20.0, 0.02);
    check("Nm", 48.0, 48.0);
    check("lbf.ft", 1.0, 1.355_818); // SP 811: pound-force foot 1.355818 N m
}

#[test]
fn trade_spellings() {
    let rows: &[(&[&str], &str)] = &[
        (&["m³/h", "m3/hr", "M3/H", "m^3/h", "m3 / h", "CMH", "cum/h", "m3·h⁻¹"], "m3/h"),
        (&["GPM", "US gpm", "USGPM", "gal/min", "U.S. GPM", "gpm (US)", "Gpm"], "gpm"),
        (&["l/s", "L/S", "lps", "LPS", "l/sec", "liters/s", "litres per second"], "L/s"),
        (&["l/min", "LPM", "litres/min"], "L/min"),
        (&["KPA", "kpa", "Kpa", "kPa(d)"], "kPa"),
        (&["psig", "PSI", "psid", "lbf/in²", "lb/in2"], "psi"),
        (&["in wg", "in. w.g.", "\"wg", "inH₂O", "IN WC", "in.H2O", "wg", "inches WC"], "inH2O"),
        (&["ft H2O", "ftH₂O", "FT WG", "feet of water", "ft.w.c."], "ftH2O"),
        (&["mH2O", "mwc", "m WG", "mH₂O"], "mH2O"),
        (&["feet", "FT", "Ft.", "ft head"], "ft"),
        (&["°C", "C", "deg C", "DEG C", "º C", "℃", "Celsius"], "degC"),
        (&["°F", "F", "deg F", "DEGF", "℉"], "degF"),
        (&["Δ°F", "delta °F", "delta_degF", "ΔF"], "delta_degF"),
        (&["ΔK", "kelvin", "delta K", "Δ°C"], "K"),
        (&["percent", "pct", "% open", "％", "%Open"], "%"),
        (&["KW", "kw", "Kilowatts"], "kW"),
        (&["HP", "bhp", "BHP"], "hp"),
        (&["TONS", "tons ref", "ton", "TR"], "tons"),
        (&["mbh", "kBtu/h", "KBTUH"], "MBH"),
        (&["RPM", "r/min", "rev/min", "min-1"], "rpm"),
        (&["HZ", "hertz"], "Hz"),
        (&["KWH", "kW-h", "kW·h", "kWhr"], "kWh"),
    ];
    for (spellings, plain) in rows {
        let wanted = units::unit(plain).expect("a plain spelling");
        for spelling in *spellings {
            let got = units::unit(spelling).unwrap_or_else(|e| panic!("{spelling}: {e}"));
            assert_eq!(
                (got.dimension, got.factor, got.offset),
                (wanted.dimension, wanted.factor, wanted.offset),
                "{spelling}"
            );
        }
    }
}

#[test]
fn what_is_not_guessed() {
    for (written, instead) in [
        ("mW", "MW"),
        ("mwh", "MWh"),
        ("mPa", "MPa"),
        ("MBtu/h", "MBH"),
        ("psia", "psi"),
        ("kg/s", "m3/h"),
        ("kVA", "kW"),
    ] {
        let error = units::unit(written).expect_err(written);
        assert!(matches!(error, UnitError::Ambiguous { .. }), "{written}: {error}");
        assert_eq!(error.instead(), instead, "{written}");
    }
    for (written, instead) in [("kpaa1", "kPa"), ("m3/hh", "m3/h"), ("gpmm", "gpm"), ("degCC", "degC"), ("kWW", "kW")] {
        let error = units::unit(written).expect_err(written);
        assert_eq!(error.instead(), instead, "{written}: {error}");
    }
}

/// The dimension must be one that the role means; a head becomes a pressure at the fluid's density.
#[test]
fn units_for_roles() {
    let density = Density::kg_m3(998.2061); // water at 20 degC, IAPWS-IF97
    let fit = |role, unit: &str| units::for_role(role, &units::unit(unit).expect("known"), density);
    // p = rho g h: 998.2061 * 9.80665 * 0.3048 = 2983.7 Pa a foot.
    let (factor, offset) = fit(Role::DifferentialPressure, "ft").expect("a head is a pressure");
    assert!((factor - 998.2061 * 9.80665 * 0.3048 / 1000.0).abs() < 1e-9 && offset == 0.0);
    // A foot of conventional water is one whatever is pumped.
    assert!((fit(Role::PumpHead, "ft H2O").expect("pressure").0 - 2.989_067).abs() < 1e-6);
    assert_eq!(fit(Role::ValvePosition, "%"), Ok((0.01, 0.0)));
    assert!(fit(Role::Ignore, "kW").is_ok());
    for (role, unit) in [
        (Role::SupplyTemperature, "kW"),
        (Role::SupplyTemperature, "K"),
        (Role::PumpPower, "kWh"),
        (Role::PumpEnergy, "kW"),
        (Role::LoopFlow, "kPa"),
        (Role::ValvePosition, "degC"),
        (Role::PumpStatus, "%"),
    ] {
        assert!(matches!(fit(role, unit), Err(UnitError::Dimension { .. })), "{role:?} in {unit}");
    }
}

/// Every role takes its own first dimension, and every dimension has a unit that reads back to itself in SI.
#[test]
fn si_units_read_back() {
    for dimension in Dimension::ALL {
        if matches!(dimension, Dimension::Head | Dimension::Count) {
            continue;
        }
        let unit = units::unit(dimension.si()).expect("an SI unit is known");
        assert_eq!((unit.dimension, unit.offset), (*dimension, 0.0));
        assert!((unit.factor - 1.0).abs() < 1e-12, "{dimension:?}: {}", unit.factor);
    }
}

#[test]
fn round_trips_and_heads() {
    assert!((Power::tons(2.0).in_tons() - 2.0).abs() < 1e-12);
    assert!((Power::btu_h(3412.142).in_kw() - 1.0).abs() < 1e-6); // SP 811: 1 kW is 3412.142 Btu_IT/h
    assert!((Flow::imperial_gpm(1.0).in_l_s() - 0.075_768_17).abs() < 1e-8); // SP 811: 7.576817 E-05 m3/s
    // 1 psi is 2.3067 ft of water at 1000 kg/m3: 6894.757 / (1000 * 9.80665 * 0.3048).
    assert!((Pressure::psi(1.0).as_column(Density::kg_m3(1000.0)).in_ft() - 2.3067).abs() < 5e-5);
    assert!((Pressure::of_column(Length::m(10.0), Density::kg_m3(1000.0)).in_kpa() - 98.0665).abs() < 1e-9);
}
