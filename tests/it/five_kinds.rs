//! Every rule has its five kinds of row: found, near miss, innocent look-alike, no data, missing declaration. Each is named here by the words of one row,
//! which stands in the tests beside with the answer wanted; a row that is dropped or reworded is missed here.

use offcurve::faults::Fault;

const SOURCES: [&str; 11] = [
    include_str!("faults.rs"),
    include_str!("faults_duty.rs"),
    include_str!("faults_pressure.rs"),
    include_str!("faults_sensors.rs"),
    include_str!("faults_swings.rs"),
    include_str!("screening.rs"),
    include_str!("thresholds_duty.rs"),
    include_str!("thresholds_pressure.rs"),
    include_str!("thresholds_screening.rs"),
    include_str!("thresholds_sensors.rs"),
    include_str!("thresholds_swings.rs"),
];

/// Found, near miss, innocent look-alike, no data, missing declaration.
const ROWS: [(Fault, [&str; 5]); 16] = [
    (
        Fault::LowDeltaT,
        [
            "all coils take twice the water from the first day on",
            "a tenth more water leaves 95 % of design and more",
            "a supply raised by 3 K all month changes the difference honestly",
            "no return temperature",
            "the design temperatures are not declared and nothing fell",
        ],
    ),
    (
        Fault::StuckBypass,
        [
            "a fifth of the design conductance from day 12 on, at load",
            "two hundredths: below what valve characteristics leave over",
            "a fouled coil opens its own valve, which explains the flow",
            "no valves, no position",
            "of design flow, no least flow declared, the bypass open",
        ],
    ),
    (
        Fault::MinimumSpeedHunting,
        [
            "10 % of speed off the floor every 40 min, seen every 5",
            "2 % of speed is noise",
            "the swing comes with a pump that stages on and off",
            "a pump that never ran",
            "no floor declared and none to see",
        ],
    ),
    (
        Fault::SpeedHunting,
        [
            "its period wanders by a tenth",
            "3.5 % is below the 4 % that count",
            "every 2 hours it is the load",
            "no speed is known",
            "no floor declared: a swing above it is one all the same",
        ],
    ),
    (
        Fault::SetpointTooHigh,
        [
            "200 kPa where 130 do at design flow",
            "a curve from 68 kPa where 63 would do",
            "one that reads 30 kPa low: the sensor, not the setting",
            "no valves trended",
            "no design flow declared",
        ],
    ),
    (
        Fault::SetpointTooLow,
        [
            "two coils 2 K short for 5 h a day, with much from little water",
            "0.9 K short",
            "valves open on stopped fans",
            "no water temperatures",
            "no design temperature",
        ],
    ),
    (
        Fault::OffControlCurve,
        [
            "60 kPa less from day 10 on",
            "3 % more: inside the tolerance",
            "the speed floor stands above the curve on purpose",
            "no head known",
            "no mode declared",
        ],
    ),
    (
        Fault::FixedSpeed,
        [
            "85 % all month while power moves by half",
            "two days in hand are a service visit: three are needed",
            "rests on its floor, above what the curve asks",
            "nothing but speed is trended",
            "no mode is declared, and it never moves",
        ],
    ),
    (
        Fault::OutOfHoursRunning,
        [
            "an hour and a half after every stop",
            "an hour every other night: below half an hour a day",
            "an optimum start",
            "nobody knows when the pumps run",
            "no schedule",
        ],
    ),
    (
        Fault::PumpDegraded,
        [
            "two: wear by the meter",
            "wear of 2 % is no matter",
            "a setpoint: head down, power up at like speed, no misfit",
            "nothing but gaps",
            "no table",
        ],
    ),
    (
        Fault::ShortCycling,
        [
            "3.2 an hour is above the 3 that count",
            "2.5 an hour is below",
            "the status flickers while the speed stays",
            "nothing but holes, and rows of 15 min",
            "no size declared",
        ],
    ),
    (
        Fault::SensorFault,
        [
            "a head sensor takes its own reading alone",
            "named, not found",
            "a few odd values are no fault of the point",
            "no measured point is trended",
            "no design supply temperature: nothing says which of the two",
        ],
    ),
    (
        Fault::MinimumSpeedTooHigh,
        [
            "70 % where 59 % would do and the maker allows 30",
            "60 % where 59 % would do",
            "on its floor at night with every valve shut",
            "nobody knows what is asked",
            "no limit, nothing to spare",
        ],
    ),
    (
        Fault::OutsidePreferredRegion,
        [
            "best at 130: 0.29 to 0.54, and 0.52 at design",
            "best at 60: 0.64 to 1.17",
            "a mild month of a pump that fits, and reaches its region at times",
            "a bound or speed alone fixes no flow",
            "one hour in ten reaches, design unknown",
        ],
    ),
    (
        Fault::PoorStaging,
        [
            "two pumps at 25 m3/h all day",
            "25 % of the hours: what staging in health may take",
            "45 min of overlap a day",
            "no power can be told",
            "neither curve nor setpoint",
        ],
    ),
    (
        Fault::Deadheading,
        [
            "two hours a day at 45 % beside a pump at 65 to 78 %",
            "a tenth of the flow is little, and flow",
            "a least-flow bypass stands open",
            "power and speed alone",
            "no table: {:#?}",
        ],
    ),
];

#[test]
fn every_rule_has_its_five_kinds_of_row() {
    for fault in Fault::ALL {
        let named: Vec<&[&str; 5]> = ROWS.iter().filter(|r| r.0 == fault).map(|r| &r.1).collect();
        assert_eq!(named.len(), 1, "{}", fault.code());
        for row in named[0] {
            let stands = SOURCES.iter().any(|s| s.contains(&format!("\"{row}")));
            assert!(stands, "{}: no row says \"{row}\"", fault.code());
        }
    }
}
