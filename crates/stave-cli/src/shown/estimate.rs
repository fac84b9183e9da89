//! Estimates: figures to be read from across the room, and tables.

use stave::number::padded;
use stave::{Estimate, SectionReport, clock, hours_minutes_seconds};

use super::table::{COLUMNS, beginning, end, left, right, width};

/// Sections shown before the rest is summed up.
const MOST_SHOWN: usize = 24;
/// The columns of a table: names, then both times, lengths, moves. With what stands between them
/// they fill a terminal.
const NAME: usize = 32;
const FIGURES: [usize; 4] = [11, 11, 11, 9];
/// What stands before the names.
const INDENT: usize = 2;

/// A time in figures five lines high, to be read from across the room: `12m05s`, each dot of a
/// figure two blocks wide.
fn large_figure(seconds: f64) -> String {
    let text = match hours_minutes_seconds(seconds) {
        None => format!("{}s", padded(seconds, 1)),
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

/// The two rules for curves are both told where their times differ by more than this share.
const CURVES_DIFFER: f64 = 0.02;

/// Estimates as people read them: of one program all there is to say, of several a line each and
/// the sum. `large` puts the time before it in figures to be read from across the room, which is
/// for a terminal and not for a file.
pub(crate) fn estimates(all: &[Estimate], large: bool) -> String {
    let figure = |seconds: f64| if large { large_figure(seconds) + "\n" } else { String::new() };
    match all {
        [one] => figure(one.duration_s) + &table(one) + &sections(&one.operations),
        _ => {
            let sum = Estimate::sum(all);
            figure(sum.duration_s) + &several(all, &sum) + "\n" + &table(&sum)
        }
    }
}

/// All that is known of one program or sum, a line each.
fn table(one: &Estimate) -> String {
    let mut lines: Vec<(&str, String)> = Vec::new();
    let length =
        |mm: Option<f64>| mm.map_or_else(String::new, |mm| format!("{} mm", padded(mm, 1)));
    let timed = |seconds: f64, mm: Option<f64>| format!("{:<18}{:>14}", clock(seconds), length(mm));
    lines.push(("time", clock(one.duration_s)));
    let (arcs_s, corners_s) = (one.duration_arcs_s, one.duration_corners_s);
    if (arcs_s - corners_s).abs() > CURVES_DIFFER * arcs_s.min(corners_s) {
        lines.push(("curves as arcs", clock(arcs_s)));
        lines.push(("corners alone", clock(corners_s)));
    }
    lines.push(("burning", timed(one.burn_s, one.burn_mm)));
    lines.push(("travelling", timed(one.travel_s, one.travel_mm)));
    lines.push(("dwelling", clock(one.dwell_s)));
    if one.pauses > 0 {
        lines.push(("pauses", format!("{}, the waiting not counted", one.pauses)));
    }
    lines.push(("at the feeds alone", clock(one.at_feeds_s)));
    lines.push(("moves", format!("{} on {} lines", one.moves, one.lines)));
    if let Some((axis, share)) = one.slowest_axis() {
        lines.push(("slowest axis", format!("{axis}, binds {} of the time", percent(share))));
    }
    if let (Some(most), Some(mean)) =
        (one.surface_speed_max_mm_per_s, one.surface_speed_mean_mm_per_s)
    {
        let (most, mean) = (padded(most, 1), padded(mean, 1));
        lines.push(("surface speed", format!("{most} mm/s at most, {mean} mm/s in the mean")));
    }
    lines.push((
        "below the feed",
        format!("{} of the time at a feed", percent(one.below_asked_share)),
    ));
    if let Some(scan) = &one.scan {
        let saves_s = scan.follow_s - scan.again_s;
        let less = if saves_s >= 0.0 { "less" } else { "more" };
        lines.push(("laid, followed", clock(scan.follow_s)));
        let saves = clock(saves_s.abs());
        lines.push(("laid, --scan again", format!("{}, {saves} {less}", clock(scan.again_s))));
    }
    let mut text = format!("{}\n", one.name);
    for (what, value) in lines {
        text += format!("  {what:<20}{value}").trim_end();
        text.push('\n');
    }
    text
}

fn percent(share: f64) -> String {
    format!("{} %", padded(100.0 * share, 1))
}

/// A time for a column: `1:12:05.3`.
fn compact(seconds: f64) -> String {
    let tenths = (10.0 * seconds.max(0.0)).round();
    let (hours, rest) = ((tenths / 36_000.0).floor(), tenths % 36_000.0);
    let (minutes, tenths) = ((rest / 600.0).floor(), rest % 600.0);
    let seconds = padded(tenths / 10.0, 1);
    if hours > 0.0 {
        format!("{hours}:{minutes:02}:{seconds:0>4}")
    } else {
        format!("{minutes}:{seconds:0>4}")
    }
}

/// A line of a table.
struct Row {
    name: String,
    duration_s: f64,
    burn_s: f64,
    burn_mm: Option<f64>,
    moves: u64,
}

/// A line of a table as words; `times` is never cut off the name.
struct Line {
    name: String,
    times: String,
    figures: [String; 4],
}

impl Row {
    fn line(&self, times: &str) -> Line {
        let mm = self.burn_mm.map_or_else(|| "-".to_owned(), |mm| padded(mm, 1));
        let figures = [compact(self.duration_s), compact(self.burn_s), mm, self.moves.to_string()];
        Line { name: self.name.clone(), times: times.to_owned(), figures }
    }
}

/// Lines under their head. Where a name is too long for its column it gets what room the figures
/// leave, and is cut if that is not enough.
fn laid(what: &str, lines: Vec<Line>, cut: fn(&str, usize) -> String) -> String {
    let head = Line {
        name: what.to_owned(),
        times: String::new(),
        figures: ["time", "burning", "burned mm", "moves"].map(str::to_owned),
    };
    let lines: Vec<Line> = std::iter::once(head).chain(lines).collect();
    let longest = lines.iter().map(|line| width(&line.name) + width(&line.times)).max();
    let longest = longest.unwrap_or(NAME);
    let mut figures = FIGURES;
    if longest > NAME {
        for (k, column) in figures.iter_mut().enumerate() {
            let widest = lines.iter().map(|line| line.figures.get(k).map_or(0, |one| width(one)));
            *column = widest.max().map_or(*column, |widest| widest + 1).min(*column);
        }
    }
    let taken = INDENT + figures.iter().map(|column| column + 1).sum::<usize>();
    let name_columns = COLUMNS.saturating_sub(taken).min(longest).max(NAME);
    let text = |line: &Line| {
        let room = name_columns.saturating_sub(width(&line.times));
        let name = cut(&line.name, room) + &line.times;
        let mut out = " ".repeat(INDENT) + &left(&name, name_columns);
        for (figure, column) in line.figures.iter().zip(figures) {
            out.push(' ');
            out.push_str(&right(figure, column));
        }
        out + "\n"
    };
    lines.iter().map(text).collect()
}

/// A section's name without its number: `stroke` of `stroke 3 of 19`.
fn without_number(name: &str) -> &str {
    let is_number = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let split = name.rsplit_once(" of ").filter(|(_, all)| is_number(all));
    let kind = split.and_then(|(numbered, _)| numbered.rsplit_once(' '));
    kind.filter(|(_, number)| is_number(number)).map_or(name, |(kind, _)| kind)
}

/// Sections of one name as one, whatever their numbers: what is burned in forty equal pieces is
/// read as one line, as on the page of the proof.
fn summed(all: &[SectionReport]) -> Vec<(Row, usize)> {
    let mut rows: Vec<(Row, usize)> = Vec::new();
    for one in all {
        let name = without_number(&one.name);
        match rows.iter_mut().find(|(row, _)| row.name == name) {
            Some((row, count)) => {
                row.duration_s += one.duration_s;
                row.burn_s += one.burn_s;
                row.burn_mm = row.burn_mm.zip(one.burn_mm).map(|(a, b)| a + b);
                row.moves += one.moves;
                *count += 1;
            }
            None => rows.push((
                Row {
                    name: name.to_owned(),
                    duration_s: one.duration_s,
                    burn_s: one.burn_s,
                    burn_mm: one.burn_mm,
                    moves: one.moves,
                },
                1,
            )),
        }
    }
    rows
}

fn sections(all: &[SectionReport]) -> String {
    if all.len() < 2 {
        return String::new();
    }
    let mut rows = summed(all);
    let shown = if rows.len() > MOST_SHOWN { MOST_SHOWN - 1 } else { rows.len() };
    let rest = rows.split_off(shown);
    let mut lines = Vec::new();
    for (mut row, count) in rows {
        if row.name.is_empty() {
            row.name = "(before any comment)".to_owned();
        }
        let times = if count > 1 { format!(" × {count}") } else { String::new() };
        lines.push(row.line(&times));
    }
    if !rest.is_empty() {
        let rows = || rest.iter().map(|(row, _)| row);
        let more = Row {
            name: format!("({} more)", rest.len()),
            duration_s: rows().map(|row| row.duration_s).sum(),
            burn_s: rows().map(|row| row.burn_s).sum(),
            burn_mm: rows().map(|row| row.burn_mm).sum(),
            moves: rows().map(|row| row.moves).sum(),
        };
        lines.push(more.line(""));
    }
    "\n".to_owned() + &laid("section", lines, beginning)
}

fn several(all: &[Estimate], sum: &Estimate) -> String {
    let lines = all.iter().chain([sum]).map(|one| {
        let row = Row {
            name: one.name.clone(),
            duration_s: one.duration_s,
            burn_s: one.burn_s,
            burn_mm: one.burn_mm,
            moves: one.moves,
        };
        row.line("")
    });
    laid("program", lines.collect(), end)
}

#[cfg(test)]
mod tests {
    use stave::setup::{Machine, read_machine};
    use stave::{Options, Source, estimate};

    use super::*;

    /// A machine whose axes have 500 units/s, the rotary 90, and 1000 units/s².
    fn machine() -> Machine {
        let axis = "speed = 500.0\nacceleration = 1000.0\n";
        let text = format!(
            "name = \"bench\"\n[controller]\nfeed_counts = \"all-axes\"\ncorner_tolerance = \
             0.02\n[x]\n{axis}[y]\n{axis}[z]\n{axis}up = \"away\"\n[rotary]\nword = \
             \"A\"\nunits_per_turn = 360.0\nspeed = 90.0\nacceleration = 1000.0\n"
        );
        read_machine(&text, "bench.toml").unwrap()
    }

    fn of(program: &str, name: &str) -> Estimate {
        let source = Source::program(program.as_bytes()).named(name);
        estimate(source, &machine(), &Options::default()).unwrap()
    }

    #[test]
    fn one_program_and_several() {
        let one = of(
            "(crest)\nM4 S9\nG1 X400 F600\nG0 X0\n(rim)\nG1 X200 Y3 F1200\nM0\nG4 P70\nM2\n",
            "crest.nc",
        );
        let two = of(
            "M4 S9\nG93\nG1 X30 A40 F0.02\nM2\n",
            "a/folder/with/a/name/too/long/for/a/column.nc",
        );
        insta::assert_snapshot!("one", estimates(std::slice::from_ref(&one), true));
        insta::assert_snapshot!("several", estimates(&[one.clone(), two], false));
    }

    #[test]
    fn a_table_fits_a_terminal_and_equal_sections_are_one_line() {
        let pieces: String =
            (0..40).map(|k| format!("(piece 名前 {})\nG1 X{k} F600\n", k % 3)).collect();
        let shown = estimates(&[of(&format!("M4 S9\n{pieces}M2\n"), "cup.nc")], true);
        assert!(shown.lines().all(|line| super::super::table::width(line) <= 80), "{shown}");
        assert!(shown.contains("piece Ming Qian  0 × 13"), "{shown}");
        // A name gets what room the figures leave before it is cut.
        let named = "(piece text on line 3: Schriftzug A)\nG1 X9 F600\n(rim)\nG1 X1\n".repeat(10);
        let shown = estimates(&[of(&format!("M4 S9\n{named}M2\n"), "cup.nc")], true);
        assert!(shown.contains("piece text on line 3: Schriftzug A × 10 "), "{shown}");
        assert!(shown.lines().all(|line| super::super::table::width(line) <= 80), "{shown}");
        let long = "(piece of a name that is so long that no table of 80 columns holds it whole)\n\
                    G1 X9 F600\n(rim)\nG1 X1\n";
        let shown = estimates(&[of(&format!("M4 S9\n{long}M2\n"), "cup.nc")], true);
        assert!(shown.contains('…'), "{shown}");
        assert!(shown.lines().all(|line| super::super::table::width(line) <= 80), "{shown}");
        let numbered: String =
            (1..20).map(|k| format!("(stroke {k} of 19)\nG1 X{k} F600\n")).collect();
        let shown =
            estimates(&[of(&format!("M4 S9\n(rim)\nG1 X-9 F600\n{numbered}M2\n"), "a.nc")], true);
        assert!(shown.contains("stroke × 19") && !shown.contains("stroke 1 of"), "{shown}");
        assert_eq!(
            ["stroke 3 of 19", "stroke 3", "one of 2", "4 of 5", "rim of 3"].map(without_number),
            ["stroke", "stroke 3", "one of 2", "4 of 5", "rim of 3"]
        );
        assert_eq!(compact(3599.96), "1:00:00.0");
        assert_eq!((compact(5.04), compact(65.25)), ("0:05.0".to_owned(), "1:05.3".to_owned()));
    }

    #[test]
    fn figures_can_be_read_from_across_the_room() {
        insta::assert_snapshot!(
            large_figure(3.0 * 3600.0 + 42.0 * 60.0 + 7.0)
                + "\n"
                + &large_figure(59.94)
                + "\n"
                + &large_figure(1_234_567.0)
        );
        for seconds in [11.0, f64::from(99 * 3600 + 3599)] {
            let large = large_figure(seconds);
            assert_eq!(large.lines().count(), 5);
            assert!(large.lines().all(|line| line.chars().count() <= 80));
        }
    }
}
