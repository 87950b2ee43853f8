//! What a bath costs, for people and, as one JSON object whose fields `README.md` describes, for programs.

use super::mixing::{figure, volume};
use super::number::rounded;
use super::text::{NARROWEST, WIDEST, put};
use super::words::printable;
use crate::cost::{Counts, Expected, Practice, Spent, Supply};
use serde::Serialize;

/// All that is told.
#[derive(Debug, Clone)]
pub struct Bill {
    /// Currency as named by the user; may be empty.
    pub currency: String,
    /// What is counted, such as `roll`.
    pub piece: String,
    /// Name of the period.
    pub period_name: String,
    /// What was bought.
    pub supply: Supply,
    /// How it is used.
    pub practice: Practice,
    /// What litre, batch and piece cost.
    pub expected: Expected,
    /// What a period has cost.
    pub spent: Option<(Counts, Spent)>,
}

/// Version of the fields; raised when one changes its meaning or goes away, not when one is added.
pub const SCHEMA: u32 = 1;

/// Reuse saves less than this share of one-shot: then the fresh bath is worth more (common practice).
const NEARLY_ALIKE: f64 = 0.2;

/// An amount with its currency: two decimals, as prices have, but small amounts need two digits that say something.
pub(super) fn money(amount: f64, currency: &str) -> String {
    let text = if amount == 0.0 || amount >= 0.995 {
        format!("{amount:.2}")
    } else {
        let places = (1 - amount.log10().floor() as i32).clamp(2, 8) as usize;
        format!("{amount:.places$}")
    };
    if currency.is_empty() { text } else { format!("{text} {}", printable(currency)) }
}

/// What a piece through reused bath and one through bath used once say of each other.
pub(super) fn advice(reused: f64, once: f64) -> &'static str {
    if reused >= once {
        "one-shot costs no more at this pace, and each piece gets fresh bath: nothing to count, nothing grows old"
    } else if reused > (1.0 - NEARLY_ALIKE) * once {
        "reuse saves little at this pace; one-shot is the safer of the two"
    } else {
        "reuse is cheaper; it asks for a count and a look before each session. One spoilt roll costs more than a batch: when in doubt, mix anew"
    }
}

impl Bill {
    fn money(&self, amount: f64) -> String {
        money(amount, &self.currency)
    }

    /// What the comparison with one-shot use says; none when there is nothing to compare.
    #[must_use]
    pub fn advice(&self) -> Option<&'static str> {
        let once = self.expected.per_piece_one_shot?;
        let reused = self.expected.per_piece_at_pace.or(self.expected.per_piece)?;
        Some(advice(reused, once))
    }
}

/// The report, `width` columns wide.
#[must_use]
pub fn report(bill: &Bill, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut out = String::new();
    let (expected, piece) = (&bill.expected, printable(&bill.piece));
    put(&mut out, &format!("the pack makes {}", volume(1000.0 * bill.supply.litres())), 2, width);
    let with = if bill.practice.fee_per_litre.value() > 0.0 { ", disposal included" } else { "" };
    put(&mut out, &format!("a litre: {}{with}", bill.money(expected.per_litre)), 2, width);
    put(&mut out, &format!("a batch of {}: {}", volume(bill.practice.batch.value()), bill.money(expected.per_batch)), 2, width);
    let (full, once) = expected.pieces_per_pack;
    let lines = [
        (format!("a {piece}, every batch used up"), expected.per_piece, full),
        (format!("a {piece}, used once"), expected.per_piece_one_shot, once),
    ];
    for (what, cost, pieces) in lines {
        if let (Some(cost), Some(pieces)) = (cost, pieces) {
            let line = format!("{what}: {} ({} {piece}s a pack)", bill.money(cost), figure(pieces.floor()));
            put(&mut out, &line, 2, width);
        }
    }
    if let (Some(cost), Some(pieces)) = (expected.per_piece_at_pace, expected.pieces_per_batch) {
        let line =
            format!("a {piece} at your pace: {} (a batch sees {} {piece}s before it is full or too old)", bill.money(cost), figure(pieces));
        put(&mut out, &line, 2, width);
    }
    if let Some(advice) = bill.advice() {
        put(&mut out, &format!("note: {advice}"), 2, width);
    }
    if let Some((counts, spent)) = &bill.spent {
        put(&mut out, &format!("this {}:", printable(&bill.period_name)), 2, width);
        let batches = figure(counts.batches.value());
        put(&mut out, &format!("  {batches} batches, {} l: {}", figure(spent.litres), bill.money(spent.total)), 4, width);
        if spent.fee > 0.0 {
            put(&mut out, &format!("  of that for disposal: {}", bill.money(spent.fee)), 4, width);
        }
        for (what, cost) in [("a roll or 8x10 sheet, waste included", spent.per_piece), ("a pupil", spent.per_pupil)] {
            if let Some(cost) = cost {
                put(&mut out, &format!("  {what}: {}", bill.money(cost)), 4, width);
            }
        }
    }
    out
}

#[derive(Serialize)]
struct BillRecord<'a> {
    schema: u32,
    currency: &'a str,
    piece: &'a str,
    pack_litres: Option<f64>,
    per_litre: Option<f64>,
    per_batch: Option<f64>,
    per_piece: Option<f64>,
    per_piece_one_shot: Option<f64>,
    per_piece_at_pace: Option<f64>,
    pieces_per_batch: Option<f64>,
    advice: Option<&'static str>,
    period: Option<PeriodField<'a>>,
}

#[derive(Serialize)]
struct PeriodField<'a> {
    name: &'a str,
    batches: f64,
    rolls: f64,
    sheets: f64,
    pupils: f64,
    litres: Option<f64>,
    total: Option<f64>,
    fee: Option<f64>,
    per_piece: Option<f64>,
    per_pupil: Option<f64>,
}

/// The bill as one line, without the line feed.
///
/// # Errors
/// When serialising fails, which these fields cannot.
pub fn line(bill: &Bill) -> Result<String, serde_json::Error> {
    // A millionth of any currency is below anything that is paid.
    let amount = |value: Option<f64>| value.and_then(|v| rounded(v, 6));
    let expected = &bill.expected;
    serde_json::to_string(&BillRecord {
        schema: SCHEMA,
        currency: &bill.currency,
        piece: &bill.piece,
        pack_litres: rounded(bill.supply.litres(), 4),
        per_litre: amount(Some(expected.per_litre)),
        per_batch: amount(Some(expected.per_batch)),
        per_piece: amount(expected.per_piece),
        per_piece_one_shot: amount(expected.per_piece_one_shot),
        per_piece_at_pace: amount(expected.per_piece_at_pace),
        pieces_per_batch: amount(expected.pieces_per_batch),
        advice: bill.advice(),
        period: bill.spent.as_ref().map(|(counts, spent)| PeriodField {
            name: &bill.period_name,
            batches: counts.batches.value(),
            rolls: counts.rolls.value(),
            sheets: counts.sheets.value(),
            pupils: counts.pupils.value(),
            litres: amount(Some(spent.litres)),
            total: amount(Some(spent.total)),
            fee: amount(Some(spent.fee)),
            per_piece: amount(spent.per_piece),
            per_pupil: amount(spent.per_pupil),
        }),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cost::{Pace, expected, period};
    use crate::quantity::{Count, Millilitres, Money};
    use serde_json::Value;

    fn bill(per_month: Option<f64>) -> Bill {
        let count = |value| Count::new(value).unwrap();
        let volume = |value| Millilitres::new(value).unwrap();
        let supply = Supply::concentrate(Money::new(12.0).unwrap(), volume(500.0), 0.05).unwrap();
        let practice = Practice {
            batch: volume(1000.0),
            fee_per_litre: Money::new(0.5).unwrap(),
            capacity_per_litre: Some(count(15.0)),
            one_shot: Some(volume(300.0)),
            pace: per_month.map(|per_month| Pace { per_month: count(per_month), days_kept: count(14.0) }),
        };
        let counts = Counts { batches: count(12.0), rolls: count(20.0), sheets: count(100.0), pupils: count(20.0) };
        Bill {
            currency: "EUR".to_owned(),
            piece: "roll".to_owned(),
            period_name: "term".to_owned(),
            supply,
            practice,
            expected: expected(&supply, &practice),
            spent: Some((counts, period(&supply, &practice, &counts))),
        }
    }

    #[test]
    fn everything_fits_forty_columns() {
        for bill in [bill(None), bill(Some(4.0))] {
            let text = report(&bill, 40);
            assert!(text.lines().all(|line| line.chars().count() <= 40), "{text}");
        }
    }

    #[test]
    fn small_amounts_keep_their_digits() {
        let bill = bill(None);
        assert_eq!(
            [0.0, 0.0804, 0.36, 12.0, 0.00421].map(|v| bill.money(v)),
            ["0.00 EUR", "0.080 EUR", "0.36 EUR", "12.00 EUR", "0.0042 EUR"]
        );
    }

    // Few rolls: the batch grows old, and one-shot is as cheap; many: reuse.
    #[test]
    fn advice_follows_the_pace() {
        assert!(bill(Some(2.0)).advice().unwrap().contains("one-shot costs no more"));
        assert!(bill(Some(60.0)).advice().unwrap().contains("reuse is cheaper"));
    }

    #[test]
    fn fields_are_the_documented_ones() {
        let json: Value = serde_json::from_str(&line(&bill(Some(4.0))).unwrap()).unwrap();
        let readme = include_str!("../../README.md");
        for object in [&json, &json["period"]] {
            for key in object.as_object().unwrap().keys() {
                assert!(readme.contains(&format!("`{key}`")), "README does not describe `{key}`");
            }
        }
    }
}
