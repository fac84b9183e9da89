//! What is said of readings: what looks wrong, and what a person should know.

use stave_check::{CentreKnown, FEWEST_TO_JUDGE, Measured, MeasuredStation, Slip};
use stave_setup::{FAR_FROM_ROUND, Gauge, LengthUnit};
use stave_toolpath::number::fixed;
use stave_wall::{OutOfRound, TrueRunning};

use super::{MeasureOptions, Odd, mm, turn_text};

/// What is said of a place whose own readings lie too far apart.
fn torn(station: &MeasuredStation, unit: LengthUnit) -> String {
    let left_out = &station.left_out;
    let which = match left_out.as_slice() {
        [] if station.values > 2 => "one of them was misread, or is of another place, so that the \
                                     middle one is taken"
            .to_owned(),
        [] => "one of them was misread, or is of another place".to_owned(),
        some => {
            let values: Vec<String> =
                some.iter().map(|(gauge, at)| read(*gauge, *at, unit)).collect();
            format!(
                "{} {} likely misread, or of another place, and left out",
                values.join(", "),
                if values.len() == 1 { "is" } else { "are" }
            )
        }
    };
    let around = match (station.round, station.read_around) {
        (None, false) => {
            "; or the ware is not round: read it around the turn, `AT @ TURN diameter`, at 0, 60 \
             and 120 degrees"
        }
        (None, true) => "",
        (Some(_), _) => ", or at another turn",
    };
    format!(
        "its {} readings lie {} mm of diameter apart: {which}{around}",
        station.values + left_out.len(),
        mm(station.spread_mm)
    )
}

/// A reading as a person wrote it.
fn read(gauge: Gauge, value_mm: f64, unit: LengthUnit) -> String {
    let value = match unit {
        LengthUnit::Mm => format!("{} mm", fixed(value_mm, 3)),
        LengthUnit::Inch => format!("{} in", fixed(LengthUnit::Inch.of_mm(value_mm), 4)),
    };
    format!("the {} of {value}", gauge.quantity())
}

/// What looks wrong, the worst first.
pub(super) fn odd(found: &Measured, options: &MeasureOptions) -> Vec<Odd> {
    let at =
        |index: usize| found.stations.get(index).map_or(String::new(), |station| mm(station.at_mm));
    let mut odd = Vec::new();
    let mut add = |index: usize, message: String| {
        odd.push(Odd { at: found.stations.get(index).map(|station| station.at_mm), message });
    };
    for &index in &found.torn {
        let Some(station) = found.stations.get(index) else { continue };
        add(index, torn(station, options.unit));
    }
    for (index, station) in found.stations.iter().enumerate() {
        let most_mm = station.round.map_or(0.0, |round| round.most_mm());
        if most_mm > FAR_FROM_ROUND * 0.5 * station.diameter_mm {
            add(
                index,
                format!(
                    "by its readings around the turn the wall goes ±{} mm in and out, more than \
                     turned ware does: one of them was misread, or is of another place",
                    mm(most_mm)
                ),
            );
        }
    }
    for off in &found.off_trend {
        let Some(station) = found.stations.get(off.index) else { continue };
        let (is, near) = (mm(station.diameter_mm), mm(off.expected_mm));
        if let Some(slip) = off.likely {
            let slip = slip_words(slip);
            add(
                off.index,
                format!(
                    "a diameter of {is} mm is {slip}; by its neighbours it would be near {near} \
                     mm: {}",
                    if station.agree {
                        "its readings agree, so see how they were taken, and leave it where the \
                         ware has that shape"
                    } else {
                        "measure it again"
                    }
                ),
            );
            continue;
        }
        let or = match off.or.as_slice() {
            [] => String::new(),
            some => format!(
                ", and the one at {} mm, for it may be that one",
                some.iter().map(|index| at(*index)).collect::<Vec<_>>().join(" or ")
            ),
        };
        add(
            off.index,
            format!(
                "a diameter of {is} mm lies off the trend: by its neighbours it would be near \
                 {near} mm; measure it again{or}"
            ),
        );
    }
    for under in &found.under_tape {
        add(
            under.index,
            format!(
                "a tape cannot lie flat here: under its {} mm the wall's diameter changes by {} \
                 mm, and it bears on the widest, {} mm more than at its middle; use a caliper, or \
                 tape where the wall is even",
                fixed(options.gauges.tape_width_mm, 1),
                mm(under.change_mm),
                mm(under.widest_off_mm)
            ),
        );
    }
    odd
}

/// What a slip is likely to be.
fn slip_words(slip: Slip) -> &'static str {
    match slip {
        Slip::Radius => "near half of what it should be, likely a radius given for a diameter",
        Slip::Twice => "near twice what it should be, likely doubled though it was a diameter",
        Slip::Around => {
            "near π times what it should be, likely a circumference given for a diameter"
        }
        Slip::Across => {
            "near 1/π of what it should be, likely a diameter given for a circumference"
        }
        Slip::Millimetres => {
            "near 25.4 times what it should be, likely millimetres where inches are read"
        }
        Slip::Inches => {
            "near 1/25.4 of what it should be, likely inches where millimetres are read"
        }
    }
}

/// What else a person should know.
pub(super) fn notes(
    found: &Measured,
    running: &TrueRunning,
    options: &MeasureOptions,
) -> Vec<String> {
    let gauges = &options.gauges;
    let mut notes = vec![format!(
        "± holds 95 in 100, from a caliper of ±{} mm, a tape of ±{} mm around and a place known \
         to ±{} mm{}",
        fixed(gauges.caliper_mm, 3),
        fixed(gauges.tape_mm, 3),
        fixed(gauges.place_mm, 3),
        if found.repeated { ", and from how far repeated readings scatter" } else { "" },
    )];
    if !found.repeated {
        notes.push(unrepeated(found).into());
    }
    notes.extend(out_of_round(found, running));
    if found.stations.len() < FEWEST_TO_JUDGE {
        notes.push(format!(
            "with fewer than {FEWEST_TO_JUDGE} stations no reading can be seen to lie off the \
             trend: measure at more places"
        ));
    }
    notes
}

/// Why ± knows nothing of the hand that measured.
fn unrepeated(found: &Measured) -> &'static str {
    if !found.torn.is_empty() {
        return "what was read more than once at a place does not agree, so ± knows nothing of \
                your hand: measure it again";
    }
    if found.stations.iter().any(|station| station.values > 1) {
        return "no more was read at a place than its oval takes, so ± knows nothing of your hand: \
                measure each turn twice to see it";
    }
    "no place was measured twice, so ± knows nothing of your hand: measure each place three times \
     to see it"
}

/// What ware that is not round or does not run true does to a job.
fn out_of_round(found: &Measured, running: &TrueRunning) -> Vec<String> {
    let mut notes = Vec::new();
    let off = |round: &OutOfRound| round.most_mm();
    let worst = running.stations().iter().max_by(|a, b| off(a).total_cmp(&off(b)));
    if let Some(worst) = worst {
        let radius_mm = found
            .stations
            .iter()
            .find(|station| station.at_mm == worst.at_mm)
            .map_or(f64::INFINITY, |station| 0.5 * station.diameter_mm);
        let mut note = format!(
            "the ware is not round or does not run true: at {} mm the wall goes ±{} mm in and out \
             of focus over a turn, and widths go ±{} % off",
            mm(worst.at_mm),
            mm(worst.most_mm()),
            fixed(100.0 * worst.most_mm() / radius_mm, 2)
        );
        if let Some(turn) = running.steadiest_half_rad() {
            note.push_str(&format!(
                "; it strays least over the half turn about {}°: put the middle of the art there",
                turn_text(turn.to_degrees(), 360.0, 0)
            ));
        }
        notes.push(note);
    }
    notes.extend(found.stations.iter().flat_map(half_known));
    notes
}

/// What the readings around a place leave open.
pub(super) fn half_known(station: &MeasuredStation) -> Vec<String> {
    let at = mm(station.at_mm);
    let round = station.round.unwrap_or_default();
    let runout = mm(round.runout_mm);
    let mut notes = Vec::new();
    match (station.oval_known, station.centre_known) {
        (1, CentreKnown::Unread) => notes.push(format!(
            "at {at} mm the oval is seen along one turn only and may be greater: measure at a \
             third turn, halfway between the two"
        )),
        (1, _) => notes.push(format!(
            "at {at} mm the turns that were read tell the oval along one turn only, and it may be \
             greater: read {FIVE_OR_THREE}"
        )),
        _ => {}
    }
    match station.centre_known {
        CentreKnown::Untold => notes.push(format!(
            "at {at} mm the dial was read at too few turns, or too near to each other, to tell \
             the runout, and was not used for it: read {FIVE_OR_THREE}"
        )),
        CentreKnown::AlongOne => notes.push(format!(
            "at {at} mm the dial tells the runout along one turn only, {runout} mm, and it may be \
             greater: read {FIVE_OR_THREE}"
        )),
        CentreKnown::UnlessOval => notes.push(format!(
            "at {at} mm the runout of {runout} mm may be an oval of up to {} mm instead, in part \
             or all of it, for the turns that were read cannot part them: read {FIVE_OR_THREE}",
            mm(4.0 * round.runout_mm)
        )),
        CentreKnown::Unread | CentreKnown::Wholly => {}
    }
    notes
}

/// What tells both oval and runout.
const FIVE_OR_THREE: &str = "the dial at five turns 72 degrees apart, or at three 120 degrees \
                             apart and diameters at 0, 60 and 120 degrees";
