//! The colours, each with the name of the page's variable that replaces it.

use crate::regimes::Regime;
use plotters::style::RGBColor;

/// Around words that stand on lines.
const PAPER: RGBColor = RGBColor(0xff, 0xff, 0xff);
pub const INK: RGBColor = RGBColor(0x20, 0x24, 0x2a);
pub const MUTED: RGBColor = RGBColor(0x62, 0x67, 0x6f);
pub const GRID: RGBColor = RGBColor(0xe4, 0xe1, 0xd8);
pub const PUMP: RGBColor = RGBColor(0x8d, 0x90, 0x96);
pub const PRESENT: RGBColor = RGBColor(0x20, 0x24, 0x2b);
pub const PROPOSED: RGBColor = RGBColor(0x14, 0x67, 0xb3);
pub const BY_HEAD: RGBColor = RGBColor(0x1f, 0x5c, 0x8f);
pub const BY_POWER: RGBColor = RGBColor(0xb0, 0x4a, 0x1c);
pub const BY_METER: RGBColor = RGBColor(0x2b, 0x7a, 0x50);
pub const BY_HEAT: RGBColor = RGBColor(0x8a, 0x64, 0x0c);
pub const BY_REMOTE: RGBColor = RGBColor(0x6f, 0x4c, 0xa0);

/// The coils that were neediest most often, the first of them first; the rest is grey.
pub const COILS: [RGBColor; 4] = [BY_POWER, BY_METER, BY_REMOTE, BY_HEAT];

// Regimes: chosen so that no two of the first five come near each other with any of the three deficiencies of colour vision, and each
// stands out from paper (tests/page/check_colours.py).
const ON_CURVE: RGBColor = RGBColor(0x00, 0x8c, 0x81);
const ABOVE: RGBColor = RGBColor(0xb7, 0x31, 0x25);
const BELOW: RGBColor = RGBColor(0x63, 0x3a, 0xb8);
const FLOOR: RGBColor = RGBColor(0xba, 0x76, 0x00);
const FULL: RGBColor = RGBColor(0x8c, 0x1c, 0x47);
const TRANSIENT: RGBColor = RGBColor(0x7f, 0x86, 0x8f);
const UNKNOWN: RGBColor = RGBColor(0xa7, 0x9f, 0x90);
const OFF: RGBColor = RGBColor(0xc9, 0xc8, 0xc2);

const VARIABLES: [(RGBColor, &str); 20] = [
    (PAPER, "paper"),
    (INK, "ink"),
    (MUTED, "muted"),
    (GRID, "grid"),
    (PUMP, "pump"),
    (PRESENT, "present"),
    (PROPOSED, "proposed"),
    (ON_CURVE, "on-curve"),
    (ABOVE, "above-curve"),
    (BELOW, "below-curve"),
    (FLOOR, "speed-floor"),
    (FULL, "full-speed"),
    (TRANSIENT, "transient"),
    (UNKNOWN, "unknown"),
    (OFF, "off"),
    (BY_HEAD, "by-head"),
    (BY_POWER, "by-power"),
    (BY_METER, "by-meter"),
    (BY_HEAT, "by-heat"),
    (BY_REMOTE, "by-remote"),
];

/// The colour of a regime.
pub fn regime(regime: Regime) -> RGBColor {
    match regime {
        Regime::OnCurve => ON_CURVE,
        Regime::AboveCurve => ABOVE,
        Regime::BelowCurve => BELOW,
        Regime::SpeedFloor => FLOOR,
        Regime::FullSpeed => FULL,
        Regime::Off => OFF,
        Regime::Transient => TRANSIENT,
        Regime::Unknown => UNKNOWN,
    }
}

/// The same drawing with the page's variables for colours.
pub fn to_variables(svg: &str) -> String {
    VARIABLES.iter().fold(svg.to_owned(), |text, (c, name)| {
        text.replace(&format!("=\"#{:02X}{:02X}{:02X}\"", c.0, c.1, c.2), &format!("=\"var(--{name})\""))
    })
}
