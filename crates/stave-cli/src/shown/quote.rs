//! A quote: the arithmetic, a line a step.

use stave::number::{fixed, padded};
use stave::{QuoteSteps, clock, time_of_day};

fn money(value: f64) -> String {
    padded(value, 2)
}

fn seconds(value: f64) -> String {
    format!("{} s", padded(value, 1))
}

/// The arithmetic, a line a step.
pub(crate) fn quote(steps: &QuoteSteps) -> String {
    let mut text = "quote\n".to_owned();
    for (what, value) in times(steps).into_iter().chain(prices(steps)) {
        text += &format!("  {what:<20}{value}\n");
    }
    text
}

fn times(steps: &QuoteSteps) -> Vec<(&'static str, String)> {
    let (terms, quote) = (&steps.terms, &steps.quote);
    let mut lines = vec![
        (
            "one piece",
            format!(
                "{} on the machine + {} handling = {} ({})",
                seconds(steps.machine_s),
                seconds(terms.handling_s),
                seconds(quote.piece_s),
                clock(quote.piece_s)
            ),
        ),
        (
            "batch",
            format!(
                "{} set-up + {} × {} = {} ({})",
                seconds(terms.set_up_s),
                quote.pieces,
                seconds(quote.piece_s),
                seconds(quote.batch_s),
                clock(quote.batch_s)
            ),
        ),
    ];
    if let (Some(start), Some(finish)) = (terms.start_min, &quote.finish) {
        let day = match finish.days_later {
            0 => String::new(),
            1 => ", one day later".to_owned(),
            days => format!(", {days} days later"),
        };
        let begun = time_of_day(u64::from(start));
        lines.push(("finish", format!("begun at {begun} and never stopped: {}{day}", finish.time)));
    }
    lines
}

/// The steps from times to prices; none without a rate.
fn prices(steps: &QuoteSteps) -> Vec<(&'static str, String)> {
    let all = || {
        let (terms, quote) = (&steps.terms, &steps.quote);
        let (rate, work, material) = (terms.rate_per_hour?, steps.work?, steps.material?);
        let (cost, each) = (money(quote.cost?), money(quote.cost_per_piece?));
        let (price_each, price) = (money(quote.price_per_piece?), money(quote.price?));
        let (count, batch) = (quote.pieces, seconds(quote.batch_s));
        let (work, material) = (money(work), money(material));
        let markup = fixed(terms.markup_percent, 3);
        Some(vec![
            ("work", format!("{batch} × {} / 3600 s = {work}", money(rate))),
            ("material", format!("{count} × {} = {material}", money(terms.material))),
            ("cost", format!("{work} + {material} = {cost}")),
            ("cost of a piece", format!("{cost} / {count} = {each}")),
            ("price of a piece", format!("{each} + {markup} % = {price_each}")),
            ("price of the batch", format!("{count} × {price_each} = {price}")),
        ])
    };
    all().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use stave::Terms;

    use super::*;

    #[test]
    fn every_step_can_be_checked() {
        let terms = Terms {
            rate_per_hour: Some(45.0),
            handling_s: 75.0,
            set_up_s: 900.0,
            pieces: 24,
            material: 6.35,
            markup_percent: 30.0,
            start_min: Some(8 * 60 + 30),
        };
        insta::assert_snapshot!(quote(&QuoteSteps::new(341.23, &terms)));
    }

    #[test]
    fn without_a_rate_nothing_is_said_of_money() {
        let terms = Terms { pieces: 500, start_min: Some(23 * 60 + 59), ..Terms::default() };
        let shown = quote(&QuoteSteps::new(600.0, &terms));
        assert!(!shown.contains("cost"), "{shown}");
        assert!(shown.contains("begun at 23:59 and never stopped: 11:19, 4 days later"), "{shown}");
    }
}
