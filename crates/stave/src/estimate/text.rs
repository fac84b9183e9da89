//! Estimates for people and for programs.

use serde::Serialize;
use stave_toolpath::number::fixed;

use super::{Estimate, Quote, Section};

/// Sections shown before the rest is summed up.
const MOST_SHOWN: usize = 24;
/// The widest name of a section or input in a table, characters.
const NAME: usize = 36;

/// A time as people say it: `8.4 s`, `12 min 05 s`, `1 h 02 min 05 s`.
///
/// ```
/// assert_eq!(stave::clock(8.44), "8.4 s");
/// assert_eq!(stave::clock(59.97), "1 min 00 s");
/// assert_eq!(stave::clock(3725.0), "1 h 02 min 05 s");
/// ```
#[must_use]
pub fn clock(seconds: f64) -> String {
    parts(seconds).map_or_else(
        || format!("{} s", places(seconds, 1)),
        |(h, min, s)| {
            if h > 0 {
                format!("{h} h {min:02} min {s:02} s")
            } else {
                format!("{min} min {s:02} s")
            }
        },
    )
}

/// A number with all of its decimals, so that columns stand under each other.
pub(super) fn places(value: f64, decimals: u32) -> String {
    let mut text = fixed(value, decimals);
    let point = text.find('.').unwrap_or_else(|| {
        text.push('.');
        text.len() - 1
    });
    while text.len() < point + 1 + decimals as usize {
        text.push('0');
    }
    text
}

/// Hours, minutes and seconds, to the second; `None` below a minute, and where it is no number of
/// seconds that a program takes.
fn parts(seconds: f64) -> Option<(u64, u64, u64)> {
    if !(59.95..1e15).contains(&seconds) {
        return None;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let whole = seconds.round() as u64;
    Some((whole / 3600, whole / 60 % 60, whole % 60))
}

/// A time in figures five lines high, to be read from across the room: `12m05s`, each dot of a
/// figure two blocks wide.
///
/// ```
/// let large = stave::large_figure(11.0);
/// assert_eq!(large.lines().count(), 5);
/// assert!(large.lines().all(|line| line.chars().count() <= 80));
/// ```
#[must_use]
pub fn large_figure(seconds: f64) -> String {
    let text = match parts(seconds) {
        None => format!("{}s", places(seconds, 1)),
        Some((0, min, s)) => format!("{min}m{s:02}s"),
        Some((h, min, _)) if h > 99 => format!("{h}h{min:02}m"),
        Some((h, min, s)) => format!("{h}h{min:02}m{s:02}s"),
    };
    let mut lines = vec![String::new(); 5];
    for letter in text.chars() {
        for (line, dots) in lines.iter_mut().zip(glyph(letter)) {
            let blocks = dots.chars().map(|dot| if dot == '#' { "██" } else { "  " });
            line.extend(blocks.chain([" "]));
        }
    }
    lines.iter().map(|line| line.trim_end().to_owned() + "\n").collect()
}

fn glyph(letter: char) -> [&'static str; 5] {
    match letter {
        '0' => ["###", "# #", "# #", "# #", "###"],
        '1' => [" # ", "## ", " # ", " # ", "###"],
        '2' => ["###", "  #", "###", "#  ", "###"],
        '3' => ["###", "  #", " ##", "  #", "###"],
        '4' => ["# #", "# #", "###", "  #", "  #"],
        '5' => ["###", "#  ", "###", "  #", "###"],
        '6' => ["###", "#  ", "###", "# #", "###"],
        '7' => ["###", "  #", "  #", " # ", " # "],
        '8' => ["###", "# #", "###", "# #", "###"],
        '9' => ["###", "# #", "###", "  #", "###"],
        'h' => ["#  ", "#  ", "###", "# #", "# #"],
        'm' => ["     ", "     ", "#####", "# # #", "# # #"],
        's' => ["   ", "   ", " ##", " # ", "## "],
        '.' => [" ", " ", " ", " ", "#"],
        _ => ["   ", "   ", "###", "   ", "   "],
    }
}

/// Estimates as people read them: of one program all there is to say, of several a line each and
/// the sum.
#[must_use]
pub fn estimates_shown(all: &[Estimate]) -> String {
    match all {
        [one] => large_figure(one.duration_s) + "\n" + &table(one) + &sections(&one.operations),
        _ => {
            let sum = Estimate::sum(all);
            large_figure(sum.duration_s) + "\n" + &several(all, &sum) + "\n" + &table(&sum)
        }
    }
}

/// All that is known of one program or sum, a line each.
fn table(one: &Estimate) -> String {
    let mut lines: Vec<(&str, String)> = Vec::new();
    let length =
        |mm: Option<f64>| mm.map_or_else(String::new, |mm| format!("{} mm", places(mm, 1)));
    let timed = |seconds: f64, mm: Option<f64>| format!("{:<18}{:>14}", clock(seconds), length(mm));
    lines.push(("time", clock(one.duration_s)));
    lines.push(("burning", timed(one.burn_s, one.burn_mm)));
    lines.push(("travelling", timed(one.travel_s, one.travel_mm)));
    lines.push(("dwelling", clock(one.dwell_s)));
    if one.pauses > 0 {
        lines.push(("pauses", format!("{}, the waiting not counted", one.pauses)));
    }
    lines.push(("at the feeds alone", clock(one.nominal_s)));
    lines.push(("moves", format!("{} on {} lines", one.moves, one.lines)));
    if let Some((axis, share)) = one.slowest_axis() {
        lines.push(("slowest axis", format!("{axis}, binds {} of the time", percent(share))));
    }
    if let (Some(most), Some(mean)) =
        (one.surface_speed_max_mm_per_s, one.surface_speed_mean_mm_per_s)
    {
        let (most, mean) = (places(most, 1), places(mean, 1));
        lines.push(("surface speed", format!("{most} mm/s at most, {mean} mm/s in the mean")));
    }
    lines.push((
        "below the feed",
        format!("{} of the time at a feed", percent(one.below_asked_share)),
    ));
    let mut text = format!("{}\n", one.name);
    for (what, value) in lines {
        text += format!("  {what:<20}{value}").trim_end();
        text.push('\n');
    }
    text
}

fn percent(share: f64) -> String {
    format!("{} %", places(100.0 * share, 1))
}

/// A name no wider than its column: of a section its beginning, of a file's path its end.
fn narrow(name: &str, keep_end: bool) -> String {
    let count = name.chars().count();
    if count <= NAME {
        name.to_owned()
    } else if keep_end {
        ['…'].into_iter().chain(name.chars().skip(count - NAME + 1)).collect()
    } else {
        name.chars().take(NAME - 1).chain(['…']).collect()
    }
}

fn row(name: &str, seconds: f64, burn_s: f64, burn_mm: Option<f64>, moves: u64) -> String {
    let mm = burn_mm.map_or_else(|| "-".to_owned(), |mm| places(mm, 1));
    format!("  {:<NAME$} {:>18} {:>18} {mm:>12} {moves:>9}\n", name, clock(seconds), clock(burn_s))
}

fn head(what: &str) -> String {
    format!("  {what:<NAME$} {:>18} {:>18} {:>12} {:>9}\n", "time", "burning", "burned mm", "moves")
}

fn sections(all: &[Section]) -> String {
    if all.len() < 2 {
        return String::new();
    }
    let mut text = "\n".to_owned() + &head("section");
    let shown = if all.len() > MOST_SHOWN { MOST_SHOWN - 1 } else { all.len() };
    for one in &all[..shown] {
        let name = if one.name.is_empty() { "(before any comment)" } else { &one.name };
        text += &row(&narrow(name, false), one.duration_s, one.burn_s, one.burn_mm, one.moves);
    }
    let rest = &all[shown..];
    if !rest.is_empty() {
        let sum = |value: fn(&Section) -> f64| rest.iter().map(value).sum::<f64>();
        let mm = rest.iter().map(|one| one.burn_mm).sum();
        let moves = rest.iter().map(|one| one.moves).sum();
        let name = format!("({} more)", rest.len());
        text += &row(&name, sum(|one| one.duration_s), sum(|one| one.burn_s), mm, moves);
    }
    text
}

fn several(all: &[Estimate], sum: &Estimate) -> String {
    let mut text = head("program");
    for one in all.iter().chain([sum]) {
        text += &row(&narrow(&one.name, true), one.duration_s, one.burn_s, one.burn_mm, one.moves);
    }
    text
}

/// As one JSON object: that of the program, or the sum's with each program under `programs`; with
/// `quote` where there is one.
///
/// # Errors
/// Never for estimates of ours; serialising is fallible in general.
pub fn estimates_to_json(all: &[Estimate], quote: Option<&Quote>) -> serde_json::Result<String> {
    #[derive(Serialize)]
    struct Whole<'a> {
        #[serde(flatten)]
        sum: &'a Estimate,
        #[serde(skip_serializing_if = "Option::is_none")]
        programs: Option<&'a [Estimate]>,
        #[serde(skip_serializing_if = "Option::is_none")]
        quote: Option<&'a Quote>,
    }
    match all {
        [one] => serde_json::to_string_pretty(&Whole { sum: one, programs: None, quote }),
        _ => serde_json::to_string_pretty(&Whole {
            sum: &Estimate::sum(all),
            programs: Some(all),
            quote,
        }),
    }
}
