//! What a batch takes and costs: plain arithmetic, every step of it kept.

use serde::{Deserialize, Serialize};
use stave_toolpath::time_of_day;

/// What a shop knows of a batch.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
pub struct Terms {
    /// Price of an hour of machine and hands, in any currency; `None` reckons times alone.
    pub rate_per_hour: Option<f64>,
    /// Loading, aligning and cleaning of one piece, seconds.
    pub handling_s: f64,
    /// What is done once a batch, seconds.
    pub set_up_s: f64,
    /// Pieces in the batch, at least 1.
    pub pieces: u32,
    /// Price of what one piece is made of: the blank, what is used up.
    pub material: f64,
    /// What is put on the cost, percent.
    pub markup_percent: f64,
    /// When the batch is begun, minutes after midnight.
    pub start_min: Option<u32>,
}

impl Default for Terms {
    fn default() -> Self {
        Self {
            rate_per_hour: None,
            handling_s: 0.0,
            set_up_s: 0.0,
            pieces: 1,
            material: 0.0,
            markup_percent: 0.0,
            start_min: None,
        }
    }
}

/// A batch reckoned out. Times are rounded to a tenth of a second and money to hundredths at every
/// step, so that the steps shown add up.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct Quote {
    /// Pieces in the batch.
    pub pieces: u32,
    /// Machine time and handling of one piece, seconds.
    pub piece_s: f64,
    /// The whole batch, seconds.
    pub batch_s: f64,
    /// When it is done, `HH:MM`, and on which day after the first, where the start is known.
    pub finish: Option<Finish>,
    /// What one piece costs; null without a rate.
    pub cost_per_piece: Option<f64>,
    /// What one piece is sold for; null without a rate.
    pub price_per_piece: Option<f64>,
    /// What the batch costs.
    pub cost: Option<f64>,
    /// What the batch is sold for: the price of a piece times the pieces.
    pub price: Option<f64>,
}

/// When a batch is done.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct Finish {
    /// `HH:MM`.
    pub time: String,
    /// Days after the one on which it was begun.
    pub days_later: u64,
}

/// To the nearest of `per` parts.
fn rounded(value: f64, per: f64) -> f64 {
    (value * per).round() / per
}

impl Quote {
    /// A batch of pieces that each take the machine `machine_s` seconds.
    ///
    /// ```
    /// use stave::{Quote, Terms};
    /// let terms = Terms {
    ///     rate_per_hour: Some(45.0),
    ///     handling_s: 60.0,
    ///     set_up_s: 600.0,
    ///     pieces: 24,
    ///     ..Terms::default()
    /// };
    /// let quote = Quote::new(300.0, &terms);
    /// assert_eq!(quote.batch_s, 600.0 + 24.0 * 360.0);
    /// assert_eq!(quote.cost_per_piece, Some(4.81)); // 9240 s at 45 an hour are 115.50
    /// ```
    #[must_use]
    pub fn new(machine_s: f64, terms: &Terms) -> Self {
        QuoteSteps::new(machine_s, terms).quote
    }
}

/// A quote together with what it was reckoned from and through, so that every step can be shown.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct QuoteSteps {
    /// What is known of the batch.
    pub terms: Terms,
    /// Machine time of one piece, seconds.
    pub machine_s: f64,
    /// What machine and hands cost for the batch; null without a rate.
    pub work: Option<f64>,
    /// What the pieces are made of, for the batch; null without a rate.
    pub material: Option<f64>,
    /// What it comes to.
    pub quote: Quote,
}

impl QuoteSteps {
    /// As [`Quote::new`], with the steps between.
    #[must_use]
    pub fn new(machine_s: f64, terms: &Terms) -> Self {
        let count = terms.pieces.max(1);
        let pieces = f64::from(count);
        let machine_s = rounded(machine_s, 10.0);
        let piece_s = rounded(machine_s + terms.handling_s, 10.0);
        let batch_s = rounded(terms.set_up_s + pieces * piece_s, 10.0);
        let mut quote = Quote {
            pieces: count,
            piece_s,
            batch_s,
            finish: terms.start_min.map(|start| finish(start, batch_s)),
            cost_per_piece: None,
            price_per_piece: None,
            cost: None,
            price: None,
        };
        let (mut work, mut material) = (None, None);
        if let Some(rate) = terms.rate_per_hour {
            let work_cost = rounded(batch_s * rate / 3600.0, 100.0);
            let material_cost = rounded(pieces * terms.material, 100.0);
            let cost = rounded(work_cost + material_cost, 100.0);
            let each = rounded(cost / pieces, 100.0);
            let price_each = rounded(each * (1.0 + terms.markup_percent / 100.0), 100.0);
            (work, material) = (Some(work_cost), Some(material_cost));
            quote.cost = Some(cost);
            quote.cost_per_piece = Some(each);
            quote.price_per_piece = Some(price_each);
            quote.price = Some(rounded(pieces * price_each, 100.0));
        }
        Self { terms: *terms, machine_s, work, material, quote }
    }
}

/// The minute within which the batch is over.
fn finish(start_min: u32, batch_s: f64) -> Finish {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the cast saturates; times are not negative"
    )]
    let minutes = u64::from(start_min) + (batch_s / 60.0).ceil() as u64;
    Finish { time: time_of_day(minutes), days_later: minutes / (24 * 60) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_batch_that_runs_on_into_other_days() {
        let terms = Terms { pieces: 500, start_min: Some(23 * 60 + 59), ..Terms::default() };
        let quote = Quote::new(600.0, &terms);
        // 5000 minutes after 23:59: 3 days 11 h 20 min.
        assert_eq!(quote.finish, Some(Finish { time: "11:19".into(), days_later: 4 }));
        assert_eq!(quote.cost, None);
    }
}
