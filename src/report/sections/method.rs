//! How it was worked out, how far to trust it, and what to mind before anything is changed.

use crate::{
    faults,
    pipeline::Review,
    report::{document::Block, show::Show},
};

fn list(items: &[&str], show: &Show) -> Block {
    Block::List { label: None, ordered: false, items: items.iter().map(|t| show.sentence(t)).collect() }
}

pub fn method(show: &Show) -> Vec<Block> {
    let items = [
        "The exports were put on one clock. A value that is held stays held, and a gap stays a gap. Every cell that was not used is in the ledger below.",
        "At each instant a pump's flow follows from what was measured (speed with power, with head, with both, or a meter) through its tested curve, with the losses of drive and motor at part load. Its range holds the errors of meters, table and losses. Errors that are the same in every row are kept apart from those that differ row by row.",
        "Steady rows were grouped by flow, head above the control curve, speed and temperature difference. Each group was named by where it stands against the control curve.",
        "Each kind of fault has a rule that answers found, clear or cannot tell, day by day and then for the whole period. Its cost is that of the same hours without the fault.",
        "The proposed setting is the head that would have kept the neediest valve nearly open, worked out again through the same pump, motor and drive. At the same flow a lower head saves in proportion to head, not to the cube of speed.",
        "Who does what follows the trade's usual division of work (common practice, no source); your contracts may divide it otherwise.",
        "How flow is found without a meter, with sources and limits: offcurve explain operating-points. Each rule's equation, limits and source: offcurve explain FAULT.",
    ];
    vec![list(&items, show)]
}

/// What the numbers cannot carry.
pub fn limits(show: &Show) -> Vec<Block> {
    let items = [
        "Flow that was not metered is an estimate, with its range beside it.",
        "A range holds the true value in 19 of 20 cases (95 %). It cannot hold what nobody measured: a wrong pump curve or plant file, or a meter with a fault that nothing else contradicts.",
        "Yearly figures carry the hours seen to a whole year. Their ranges allow for seasons that were not seen. Savings depend on tariff, hours and weather.",
        "That two things happen together does not prove that one causes the other. Each finding says what else could look the same.",
        "A fault smaller than what would have shown may be there unseen.",
    ];
    vec![list(&items, show)]
}

/// What every report says before anything is touched (common practice).
pub fn cautions(review: &Review, show: &Show) -> Vec<Block> {
    let items = [
        "This is advice from trends alone. Confirm on site before a setting is changed. Change one thing at a time, log it, keep the old value, watch the most remote load, and go back if anyone complains.",
        "Electricity and rotating parts: arc flash, electric shock, and a drive whose capacitors stay charged after it is switched off. Work inside is for qualified people under the local electrical safety rules. Stopping a pump from the automation or the drive's keypad does not isolate it: pumps restart by themselves and from afar. Lock out and tag out.",
        "Pressure and heat: hot water scalds above 60 degC and flashes to steam above 100 degC; trapped water expands. Never leave a pump running against a closed discharge.",
        "Chillers and boilers keep their maker's minimum flow and rate of change, whatever this report says. Flow switches trip, and boilers have limits on return temperature. Freeze protection of coils and evaporators comes before any saving; check the strength of glycol.",
        "Domestic hot water and process loops are not to be slowed down without a water-safety plan and the process owner. The same holds for fire and smoke duty, hospitals, laboratories, data halls and standby pumps. Keep lead and lag pumps exercised.",
        "Pump and motor have least speeds for cooling, seal flush and bearings, critical speeds and vibration, a preferred operating region, a least suction head, and check valves to open. The makers' limits rule.",
        "Guarantees, a valid balancing report and other trades' interlocks may depend on today's settings.",
    ];
    vec![
        Block::Caution(
            "Local codes, the makers' instructions and the judgement of licensed practice come before everything in this report."
                .to_owned(),
        ),
        Block::Paragraph(show.sentence(&faults::general_caution(review.plant.system.service))),
        list(&items, show),
    ]
}
