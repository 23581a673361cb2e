//! Which plants and trended sets allow a proposal. Frozen: written before any figure was made with it.
//!
//! Where a proposal is wanted, a refusal counts as a miss as soon as the truth holds a saving of [`WORTH_ASKING`]; where none may be made, any
//! proposal is an error; `May` is neither. The reasons are common practice, no source.

use crate::corpus::Trended;

/// True saving from which a refusal is a miss [-].
pub const WORTH_ASKING: f64 = 0.05;

/// What the pumps follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Follows {
    /// Constant, proportional or quadratic, at the pump or the headers.
    Curve,
    Remote,
    /// Any of them moved by the widest valve.
    Reset,
    Fixed,
}

/// What lets water through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Terminals {
    /// Two-way valves with trended positions carry most of the design flow, the index branch among them.
    Throttling,
    /// Pressure-independent valves: they need what their maker declares.
    Independent,
    /// Half of the design flow or more has no trended valve (thermostatic, none, not trended).
    Untrended,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Allowed {
    Wanted,
    May,
    Never,
}

/// One line: the first that fits holds. `None` fits all.
pub struct Row {
    pub trended: &'static [Trended],
    pub follows: Option<Follows>,
    pub terminals: Option<Terminals>,
    pub allowed: Allowed,
    pub why: &'static str,
}

const ANY: &[Trended] = &Trended::ALL;
const WITH_HEAD: &[Trended] = &[Trended::All, Trended::Usual];

pub const TABLE: [Row; 8] = [
    Row {
        trended: &[Trended::Metered, Trended::Drive, Trended::Temperatures],
        follows: None,
        terminals: None,
        allowed: Allowed::Never,
        why: "no valve positions: nobody knows what the neediest coil wants",
    },
    Row { trended: ANY, follows: Some(Follows::Fixed), terminals: None, allowed: Allowed::Never, why: "no curve" },
    Row {
        trended: ANY,
        follows: None,
        terminals: Some(Terminals::Untrended),
        allowed: Allowed::Never,
        why: "most of the design flow is not seen",
    },
    Row {
        trended: ANY,
        follows: Some(Follows::Reset),
        terminals: None,
        allowed: Allowed::May,
        why: "the widest valve already sets it; its ends may be moved",
    },
    Row {
        trended: &[Trended::NoPressure],
        follows: None,
        terminals: None,
        allowed: Allowed::May,
        why: "head comes from speed and flow through the table alone",
    },
    Row {
        trended: &[Trended::Usual],
        follows: Some(Follows::Remote),
        terminals: None,
        allowed: Allowed::May,
        why: "the sensor's reading is not trended: only its setpoint is known",
    },
    Row {
        trended: WITH_HEAD,
        follows: None,
        terminals: Some(Terminals::Independent),
        allowed: Allowed::Wanted,
        why: "the declared least pressure plus the pipe",
    },
    Row {
        trended: WITH_HEAD,
        follows: None,
        terminals: None,
        allowed: Allowed::Wanted,
        why: "flow, head and the valves are seen",
    },
];

/// What holds of a plant, and why.
pub fn allowed(trended: Trended, follows: Follows, terminals: Terminals) -> &'static Row {
    let fits = |r: &&Row| {
        r.trended.contains(&trended)
            && r.follows.is_none_or(|f| f == follows)
            && r.terminals.is_none_or(|t| t == terminals)
    };
    TABLE.iter().find(fits).expect("the last line fits what the first ones leave")
}
