//! What an order costs: decimal arithmetic, every line of it shown.
//!
//! Seconds are rounded to a tenth and money to the decimals of its currency, half up, at each line
//! that has a name; what stands within a line is exact.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;
use stave_setup::PriceTerms;

/// Pieces of an order, for its price.
#[derive(Clone, Debug)]
pub struct PricedPiece {
    /// How many there are.
    pub count: u32,
    /// How long one takes, seconds.
    pub duration_s: f64,
    /// The price of its blank.
    pub material: Decimal,
    /// Which blank it is: set up for once.
    pub blank: String,
}

/// A price reckoned out; all but the pieces as text, so that no digit is lost.
#[derive(Clone, Debug, Eq, PartialEq, Serialize)]
pub struct OrderQuote {
    /// How many pieces there are.
    pub pieces: u64,
    /// Machine, hands and setting up, seconds.
    pub work_s: String,
    /// What they cost.
    pub work: String,
    /// What the blanks cost.
    pub material: String,
    /// Work and material.
    pub cost: String,
    /// What is put on.
    pub markup: String,
    /// What is taken off.
    pub discount: String,
    /// Before tax.
    pub net: String,
    /// Tax.
    pub tax: String,
    /// All of it.
    pub total: String,
    /// How each line was reckoned.
    pub lines: Vec<QuoteLine>,
}

/// A line of arithmetic.
#[derive(Clone, Debug, Eq, PartialEq, Serialize)]
pub struct QuoteLine {
    /// What it is.
    pub name: &'static str,
    /// The arithmetic.
    pub reckoned: String,
    /// What it comes to.
    pub amount: String,
}

/// A price past what can be reckoned with 28 digits.
#[derive(Clone, Copy, Debug, Eq, PartialEq, thiserror::Error)]
#[error("the price has more digits than can be reckoned with: look at the counts and the terms")]
pub struct TooMuch;

/// Reckons the price of pieces.
///
/// # Errors
/// [`TooMuch`] where it does not go into 28 digits.
///
/// ```
/// use stave::{PricedPiece, price, setup};
/// let text = "rows = \"r.csv\"\nname = \"{n}\"\n[[make]]\n\
///     [price]\nrate = 45.0\nhandling = 60\nset_up = 600\n";
/// let terms = setup::read_order(text, "order.toml")?.price.ok_or("no terms")?;
/// let (material, blank) = (0.into(), "cup".to_owned());
/// let piece = PricedPiece { count: 24, duration_s: 300.0, material, blank };
/// // 24 × 360 s + 600 s = 9240 s at 45 an hour.
/// assert_eq!(price(&terms, &[piece])?.total, "115.50");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn price(terms: &PriceTerms, pieces: &[PricedPiece]) -> Result<OrderQuote, TooMuch> {
    reckon(terms, pieces).ok_or(TooMuch)
}

fn reckon(terms: &PriceTerms, pieces: &[PricedPiece]) -> Option<OrderQuote> {
    let hundred = Decimal::ONE_HUNDRED;
    let money = |amount: Decimal| half_up(amount, terms.decimals);
    let shown = |amount: Decimal| fixed(amount, terms.decimals);
    let spoiled = Decimal::ONE.checked_add(terms.spoilage_percent.checked_div(hundred)?)?;
    let (mut count, mut each_s, mut bought) = (Decimal::ZERO, Decimal::ZERO, Decimal::ZERO);
    let mut blanks: Vec<&str> = Vec::new();
    for piece in pieces {
        let of_piece = Decimal::from(piece.count);
        let time = half_up(Decimal::from_f64_retain(piece.duration_s)?, 1);
        count = count.checked_add(of_piece)?;
        each_s = each_s.checked_add(of_piece.checked_mul(time.checked_add(terms.handling_s)?)?)?;
        bought = bought.checked_add(of_piece.checked_mul(piece.material)?)?;
        if !blanks.contains(&piece.blank.as_str()) {
            blanks.push(&piece.blank);
        }
    }
    let mut lines = Vec::new();
    let mut line = |name: &'static str, reckoned: String, amount: String| {
        lines.push(QuoteLine { name, reckoned, amount });
    };
    let set_up_s = Decimal::from(blanks.len()).checked_mul(terms.set_up_s)?;
    let work_s = half_up(each_s.checked_mul(spoiled)?.checked_add(set_up_s)?, 1);
    line(
        "work_s",
        format!(
            "{} pieces, time and handling {} s × {} + {} × {} s set-up",
            plain(count),
            plain(each_s),
            plain(spoiled),
            blanks.len(),
            plain(terms.set_up_s)
        ),
        format!("{} s", fixed(work_s, 1)),
    );
    let work = money(work_s.checked_mul(terms.rate)?.checked_div(Decimal::from(3600))?);
    line("work", format!("{} s × {} / 3600 s", fixed(work_s, 1), plain(terms.rate)), shown(work));
    let material = money(bought.checked_mul(spoiled)?);
    line("material", format!("{} × {}", plain(bought), plain(spoiled)), shown(material));
    let cost = work.checked_add(material)?;
    line("cost", format!("{} + {}", shown(work), shown(material)), shown(cost));
    let percent =
        |of: Decimal, percent: Decimal| Some(money(of.checked_mul(percent)?.checked_div(hundred)?));
    let markup = percent(cost, terms.markup_percent)?;
    line("markup", format!("{} × {} %", shown(cost), plain(terms.markup_percent)), shown(markup));
    let before = cost.checked_add(markup)?;
    let step = terms.discount.iter().rev().find(|(from, _)| Decimal::from(*from) <= count);
    let discount_percent = step.map_or(Decimal::ZERO, |(_, percent)| *percent);
    let discount = percent(before, discount_percent)?;
    let from = step.map_or_else(String::new, |(from, _)| format!(" from {from} pieces"));
    line(
        "discount",
        format!("({} + {}) × {} %{from}", shown(cost), shown(markup), plain(discount_percent)),
        shown(discount),
    );
    let net = before.checked_sub(discount)?;
    line("net", format!("{} + {} − {}", shown(cost), shown(markup), shown(discount)), shown(net));
    let tax = percent(net, terms.tax_percent)?;
    line("tax", format!("{} × {} %", shown(net), plain(terms.tax_percent)), shown(tax));
    let total = net.checked_add(tax)?;
    line("total", format!("{} + {}", shown(net), shown(tax)), shown(total));
    Some(OrderQuote {
        pieces: count.try_into().ok()?,
        work_s: fixed(work_s, 1),
        work: shown(work),
        material: shown(material),
        cost: shown(cost),
        markup: shown(markup),
        discount: shown(discount),
        net: shown(net),
        tax: shown(tax),
        total: shown(total),
        lines,
    })
}

/// No amount here is negative: away from zero is up.
fn half_up(amount: Decimal, decimals: u32) -> Decimal {
    amount.round_dp_with_strategy(decimals, RoundingStrategy::MidpointAwayFromZero)
}

fn fixed(amount: Decimal, decimals: u32) -> String {
    format!("{amount:.*}", usize::try_from(decimals).unwrap_or(0))
}

/// As many digits as it has.
fn plain(amount: Decimal) -> String {
    amount.normalize().to_string()
}

#[cfg(test)]
mod tests {
    use std::process::Command;

    use super::*;

    fn decimal(text: &str) -> Decimal {
        Decimal::from_str_exact(text).unwrap()
    }

    fn terms() -> PriceTerms {
        PriceTerms {
            rate: decimal("45.0"),
            set_up_s: decimal("900"),
            handling_s: decimal("75"),
            spoilage_percent: decimal("2.0"),
            markup_percent: decimal("30.0"),
            discount: vec![(12, decimal("5.0")), (50, decimal("10.0"))],
            tax_percent: decimal("20.0"),
            decimals: 2,
        }
    }

    fn pieces(list: &[(u32, f64, &str, &str)]) -> Vec<PricedPiece> {
        let piece = |(count, duration_s, material, blank): &(u32, f64, &str, &str)| PricedPiece {
            count: *count,
            duration_s: *duration_s,
            material: decimal(material),
            blank: (*blank).to_owned(),
        };
        list.iter().map(piece).collect()
    }

    /// Reckoned by hand: 12 × (100.0 + 75) + 3 × (50.3 + 75) = 2475.9 s, × 1.02 = 2525.418, + 2 ×
    /// 900 = 4325.418, so 4325.4 s; × 45 / 3600 = 54.0675.
    #[test]
    fn an_order_by_hand() {
        let list = pieces(&[(12, 100.0, "6.35", "cup"), (3, 50.25, "4.10", "can")]);
        let quote = price(&terms(), &list).unwrap();
        let found = [&quote.work_s, &quote.work, &quote.material, &quote.cost, &quote.markup];
        // (12 × 6.35 + 3 × 4.10) × 1.02 = 88.50 × 1.02 = 90.27.
        assert_eq!(found, ["4325.4", "54.07", "90.27", "144.34", "43.30"]);
        // 187.64 × 5 % = 9.382.
        assert_eq!(
            [&quote.discount, &quote.net, &quote.tax, &quote.total],
            ["9.38", "178.26", "35.65", "213.91"]
        );
        assert_eq!(quote.pieces, 15);
        assert_eq!(quote.lines[1].reckoned, "4325.4 s × 45 / 3600 s");
    }

    #[test]
    fn halves_go_up_and_currencies_have_their_decimals() {
        let flat = PriceTerms {
            rate: decimal("3600"),
            set_up_s: Decimal::ZERO,
            handling_s: Decimal::ZERO,
            spoilage_percent: Decimal::ZERO,
            markup_percent: decimal("50"),
            discount: Vec::new(),
            tax_percent: Decimal::ZERO,
            decimals: 0,
        };
        // Half of 1 is 0.5, which is 1 without decimals.
        let quote = price(&flat, &pieces(&[(1, 1.0, "0", "cup")])).unwrap();
        assert_eq!([&quote.work, &quote.markup, &quote.total], ["1", "1", "2"]);
        let three = PriceTerms { decimals: 3, markup_percent: decimal("0.05"), ..flat.clone() };
        let quote = price(&three, &pieces(&[(1, 1.0, "0.005", "cup")])).unwrap();
        assert_eq!([&quote.cost, &quote.markup, &quote.total], ["1.005", "0.001", "1.006"]);
        assert_eq!(price(&flat, &[]).unwrap().total, "0");
        // A tenth of a second, half up, as it is written.
        let quote = price(&flat, &pieces(&[(1, 0.05, "0", "cup")])).unwrap();
        assert_eq!(quote.work_s, "0.1");
    }

    #[test]
    fn what_has_too_many_digits_is_told() {
        let most = PriceTerms { rate: decimal("1000000000"), ..terms() };
        let list = vec![
            PricedPiece {
                count: 1_000_000,
                duration_s: 1e15,
                material: decimal("1000000000"),
                blank: "cup".to_owned(),
            };
            1000
        ];
        assert_eq!(price(&most, &list), Err(TooMuch));
        let endless = PricedPiece { duration_s: f64::INFINITY, ..list[0].clone() };
        assert_eq!(price(&most, &[endless]), Err(TooMuch));
    }

    /// Python's decimal module (its documentation: "Decimal fixed-point and floating-point
    /// arithmetic", after the General Decimal Arithmetic Specification) reckons the same orders.
    #[test]
    fn another_decimal_library_agrees() {
        let script = r#"
import json, sys
from decimal import Decimal as D, ROUND_HALF_UP, getcontext
getcontext().prec = 60
out = []
for case in json.load(sys.stdin):
    q = lambda x, d: x.quantize(D(1).scaleb(-d), rounding=ROUND_HALF_UP)
    t = {k: D(v) for k, v in case["terms"].items()}
    d = case["decimals"]
    k = 1 + t["spoilage"] / 100
    n = sum(c for c, *_ in case["pieces"])
    s = sum(c * (q(D(time), 1) + t["handling"]) for c, time, m, b in case["pieces"])
    work_s = q(s * k + len({b for *_, b in case["pieces"]}) * t["set_up"], 1)
    work = q(work_s * t["rate"] / 3600, d)
    material = q(sum(c * D(m) for c, time, m, b in case["pieces"]) * k, d)
    cost = work + material
    markup = q(cost * t["markup"] / 100, d)
    off = [D(p) for f, p in case["discount"] if f <= n]
    discount = q((cost + markup) * (off[-1] if off else 0) / 100, d)
    net = cost + markup - discount
    tax = q(net * t["tax"] / 100, d)
    money = (work, material, cost, markup, discount, net, tax, net + tax)
    out.append([str(work_s)] + [f"{x:.{d}f}" for x in money])
json.dump(out, sys.stdout)
"#;
        let mut seed = 20_261_129_u64;
        let mut random = |below: u64| {
            // The constants of Knuth's MMIX (The Art of Computer Programming 2, 3.3.4).
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) % below
        };
        let mut text = |whole: u64, decimals: u32| {
            let scale = 10_u64.pow(decimals);
            Decimal::new(i64::try_from(random(whole * scale)).unwrap(), decimals).to_string()
        };
        let (mut asked, mut ours) = (Vec::new(), Vec::new());
        for case in 0..200_u32 {
            let decimals = case % 4;
            let names = ["rate", "set_up", "handling", "spoilage", "markup", "tax"];
            let values =
                [text(90, 2), text(2000, 1), text(200, 2), text(20, 2), text(80, 3), text(25, 1)];
            let list: Vec<(u32, String, String, String)> = (0..1 + case % 5)
                .map(|k| {
                    (1 + (case * 7 + k) % 40, text(900, 1), text(30, 2), format!("b{}", k % 3))
                })
                .collect();
            let discount = [(5, text(10, 1)), (40, text(20, 1))];
            asked.push(serde_json::json!({
                "decimals": decimals,
                "terms": names.iter().zip(&values).collect::<std::collections::BTreeMap<_, _>>(),
                "pieces": list,
                "discount": discount,
            }));
            let [rate, set_up_s, handling_s, spoilage_percent, markup_percent, tax_percent] =
                values.map(|value| decimal(&value));
            let discount = discount.map(|(from, percent)| (from, decimal(&percent))).to_vec();
            let terms = PriceTerms {
                rate,
                set_up_s,
                handling_s,
                spoilage_percent,
                markup_percent,
                discount,
                tax_percent,
                decimals,
            };
            let list: Vec<PricedPiece> = list
                .iter()
                .map(|(count, time, material, blank)| PricedPiece {
                    count: *count,
                    duration_s: time.parse().unwrap(),
                    material: decimal(material),
                    blank: blank.clone(),
                })
                .collect();
            let q = price(&terms, &list).unwrap();
            ours.push([
                q.work_s, q.work, q.material, q.cost, q.markup, q.discount, q.net, q.tax, q.total,
            ]);
        }
        let mut child = Command::new("python3")
            .args(["-c", script])
            .stdin(std::process::Stdio::piped())
            .stdout(std::process::Stdio::piped())
            .spawn()
            .expect("python3 is needed for this test");
        let input = serde_json::to_vec(&asked).unwrap();
        std::io::Write::write_all(&mut child.stdin.take().unwrap(), &input).unwrap();
        let output = child.wait_with_output().unwrap();
        assert!(output.status.success());
        let theirs: Vec<[String; 9]> = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(ours, theirs);
    }
}
