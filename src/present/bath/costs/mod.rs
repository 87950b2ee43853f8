//! What the baths of a logbook have cost, for people and for a page.

pub mod json;

use super::words;
use crate::cost::record::{Batch, Costs, Kind, costs};
use crate::cost::{ONE_SHEET, Pack};
use crate::logbook::event::Event;
use crate::logbook::ledger::Bath;
use crate::logbook::piece::Piece;
use crate::logbook::recipe::Recipe;
use crate::present::cost::{advice, money};
use crate::present::mixing::{figure, volume};
use crate::present::svg::escaped;
use crate::present::text::{NARROWEST, WIDEST, put};
use crate::present::words::printable;
use crate::quantity::{Count, Millilitres, Money, RangeError};
use std::fmt::Write as _;

/// A pack that batches without a recorded price were mixed from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bought {
    /// The pack.
    pub pack: Pack,
    /// Paid for it.
    pub price: Money,
}

/// What is told together with the batches.
#[derive(Debug, Clone, PartialEq)]
pub struct Terms {
    /// Currency of all prices; may be empty.
    pub currency: String,
    /// Fee for disposal, a litre.
    pub fee_per_litre: Money,
    /// Bath for a roll or 8x10 sheet that is used once.
    pub one_shot: Option<Millilitres>,
    /// Pupils or members who share the cost.
    pub pupils: Option<Count>,
    /// Price of the pack for batches without one of their own.
    pub bought: Option<Bought>,
    /// First and last date of the period, where one was told.
    pub period: (Option<String>, Option<String>),
    /// Loads in the period that went through baths mixed before it.
    pub earlier_loads: usize,
}

impl Terms {
    /// Nothing but the recorded prices in this currency.
    #[must_use]
    pub fn of_record(currency: &str, nothing: Money) -> Self {
        let (currency, bought) = (currency.to_owned(), None);
        Terms { currency, fee_per_litre: nothing, one_shot: None, pupils: None, bought, period: (None, None), earlier_loads: 0 }
    }
}

/// Some baths with what they cost.
#[derive(Debug, Clone)]
pub struct Account<'a> {
    /// Each bath with its batch.
    pub baths: Vec<(&'a Bath, Batch)>,
    /// All together.
    pub costs: Costs,
    /// What was told.
    pub terms: Terms,
    /// Top-ups of which no price is known: they are in none of the figures.
    pub unpriced_top_ups: usize,
}

impl<'a> Account<'a> {
    /// Reckons what these baths have cost.
    ///
    /// # Errors
    /// [`RangeError`] when the pack makes no bath.
    pub fn of(baths: &[&'a Bath], terms: Terms) -> Result<Self, RangeError> {
        let mut unpriced_top_ups = 0;
        let mut all = Vec::new();
        for bath in baths {
            let (batch, unpriced) = batch(bath, terms.bought.as_ref())?;
            unpriced_top_ups += unpriced;
            all.push((*bath, batch));
        }
        let batches: Vec<Batch> = all.iter().map(|(_, batch)| batch.clone()).collect();
        let costs = costs(&batches, terms.fee_per_litre, terms.one_shot);
        Ok(Account { baths: all, costs, terms, unpriced_top_ups })
    }

    fn money(&self, amount: f64) -> String {
        money(amount, &self.terms.currency)
    }

    /// What the comparison with one-shot use says.
    #[must_use]
    pub fn advice(&self) -> Option<&'static str> {
        Some(advice(self.costs.per_piece()?, self.costs.once?.per_piece))
    }
}

/// Price of a litre by this recipe out of the pack; none when the pack is of the other kind.
fn of_pack(recipe: &Recipe, bought: Option<&Bought>) -> Result<Option<f64>, RangeError> {
    let fitting = bought.filter(|bought| matches!(bought.pack, Pack::Liquid(_)) == recipe.acid.is_liquid());
    fitting.map(|bought| Ok(bought.pack.supply(bought.price, recipe.per_litre)?.per_litre())).transpose()
}

/// A bath as a batch with its price, and how many top-ups have none.
fn batch(bath: &Bath, bought: Option<&Bought>) -> Result<(Batch, usize), RangeError> {
    let start = &bath.start;
    let first = start.volume_ml / 1000.0;
    let per_litre = match &start.paid {
        Some(paid) => Some(paid.amount / first),
        None => of_pack(&start.recipe, bought)?,
    };
    let (mut litres, mut price, mut unpriced) = (first, per_litre.map(|price| price * first), 0);
    for entry in bath.counting() {
        let Event::TopUp { volume_ml, recipe: Some(recipe) } = &entry.event else { continue };
        // The same again costs the same again; anything else only what the pack says.
        let added = if *recipe == start.recipe { per_litre } else { of_pack(recipe, bought)? };
        litres += volume_ml / 1000.0;
        match (&mut price, added) {
            (Some(price), Some(added)) => *price += added * volume_ml / 1000.0,
            (Some(_), None) => unpriced += 1,
            (None, _) => {}
        }
    }
    let price = price.map(Money::new).transpose()?;
    let kinds = bath.standing().pieces.into_iter().filter_map(|(name, count)| {
        let piece = Piece::try_from(name.clone()).ok()?;
        let is_roll = piece.is_roll();
        Some(Kind { name, count, area: piece.area() / ONE_SHEET, is_roll })
    });
    Ok((Batch { litres, price, kinds: kinds.collect() }, unpriced))
}

/// What a period is called.
fn period(terms: &Terms) -> Option<String> {
    match &terms.period {
        (None, None) => None,
        (Some(since), None) => Some(format!("mixed since {since}")),
        (None, Some(until)) => Some(format!("mixed until {until}")),
        (Some(since), Some(until)) => Some(format!("mixed from {since} to {until}")),
    }
}

/// Sentences about all batches together, without the kinds of pieces.
fn sentences(account: &Account<'_>) -> Vec<String> {
    let Account { costs, terms, .. } = account;
    let mut said = Vec::new();
    let (mut together, many) = (format!("{} batch", costs.batches), costs.batches != 1);
    together.push_str(if many { "es" } else { "" });
    let period = period(terms).map(|period| format!(" {period}")).unwrap_or_default();
    said.push(format!("{together}{period}, {} l: {}", figure(costs.litres), account.money(costs.total)));
    if costs.fee > 0.0 {
        said.push(format!("of that for disposal: {}", account.money(costs.fee)));
    }
    if many && let Some(each) = costs.per_batch() {
        said.push(format!("a batch: {}", account.money(each)));
    }
    let waste = if account.baths.iter().any(|(_, batch)| batch.price.is_some() && batch.pieces() <= 0.0) {
        ", batches that stopped nothing included"
    } else {
        ""
    };
    match (costs.per_piece(), costs.bath_per_piece()) {
        (Some(each), Some(bath)) => {
            said.push(format!("a roll or 8x10 sheet{waste}: {}, out of {} of bath", account.money(each), volume(bath)));
        }
        _ => said.push("nothing went through yet".to_owned()),
    }
    if let Some(each) = terms.pupils.and_then(|pupils| costs.per_pupil(pupils)) {
        said.push(format!("a pupil: {}", account.money(each)));
    }
    if let Some(once) = costs.once {
        let (each, all) = (account.money(once.per_piece), account.money(once.total));
        said.push(format!("used once at {} each: {each}, together {all}", volume(once.volume.value())));
    }
    said.extend(notes(account));
    said
}

/// What the figures leave out, and what they say.
fn notes(account: &Account<'_>) -> Vec<String> {
    let mut said: Vec<String> = account.advice().into_iter().map(str::to_owned).collect();
    if account.baths.iter().any(|(bath, batch)| batch.price.is_some() && bath.discarded().is_none()) {
        said.push("what is in use still gets cheaper by the piece".to_owned());
    }
    if account.costs.unpriced > 0 {
        said.push(format!("{} without a price: in none of the figures", counted(account.costs.unpriced, "batch", "batches")));
    }
    if account.unpriced_top_ups > 0 {
        said.push(format!("{} of another recipe without a price: left out", counted(account.unpriced_top_ups, "top-up", "top-ups")));
    }
    if account.terms.earlier_loads > 0 {
        let loads = counted(account.terms.earlier_loads, "load", "loads");
        said.push(format!("{loads} of this period went through other baths, mixed before it or not asked for, and count with those"));
    }
    said
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// The report, `width` columns wide.
#[must_use]
pub fn report(account: &Account<'_>, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut out = String::new();
    for (bath, batch) in &account.baths {
        let state = bath.discarded().map_or_else(|| "in use".to_owned(), |gone| format!("discarded {}", gone.happened.date()));
        let price = batch.price.map_or_else(|| "no price".to_owned(), |price| account.money(price.value()));
        let (name, through) = (printable(&bath.start.name), words::pieces(&bath.standing()));
        let bath_volume = volume(1000.0 * batch.litres);
        put(&mut out, &format!("{name}, mixed {}, {bath_volume}, {state}: {price}; {through}", bath.mixed.happened.date()), 2, width);
    }
    for kind in &account.costs.kinds {
        let (each, all) = (account.money(kind.each()), account.money(kind.cost));
        put(&mut out, &format!("  one {}: {each} ({} for {all})", kind.name, figure(kind.count)), 4, width);
    }
    for sentence in sentences(account) {
        put(&mut out, &format!("  {sentence}"), 4, width);
    }
    out
}

/// A table for a page: what went through, and what one of each cost; a sentence where no price was written down.
#[must_use]
pub fn part(account: &Account<'_>) -> String {
    let mut out = "<h2>What it cost</h2>\n".to_owned();
    if account.costs.batches == 0 {
        out.push_str("<p>No price was written down; <code>tintpoint bath new --price</code> keeps one.</p>\n");
        return out;
    }
    if !account.costs.kinds.is_empty() {
        out.push_str("<table class=\"cups\"><thead><tr><th>kind</th><th>number</th><th>one</th><th>all</th></tr></thead>\n<tbody>\n");
        for kind in &account.costs.kinds {
            let (each, all) = (account.money(kind.each()), account.money(kind.cost));
            let (name, count) = (escaped(&kind.name), figure(kind.count));
            let _ = writeln!(out, "<tr><td>{name}</td><td>{count}</td><td>{}</td><td>{}</td></tr>", escaped(&each), escaped(&all));
        }
        out.push_str("</tbody></table>\n");
    }
    out.push_str("<ul>\n");
    for sentence in sentences(account) {
        let _ = writeln!(out, "<li>{}</li>", escaped(&sentence));
    }
    out.push_str("</ul>\n");
    out
}
