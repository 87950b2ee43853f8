//! `tintpoint cost` with batches and counts from the logbook.

use super::CostOptions;
use crate::cli::args;
use crate::cli::bath::{self, BathError};
use crate::cli::failure::Status;
use crate::cli::mix::Form;
use crate::cli::output::{self, Output};
use crate::logbook::check::EntryError;
use crate::logbook::event::Event;
use crate::logbook::ledger::{Bath, Ledger};
use crate::present::bath::costs::{self, Account, Bought, Terms};
use std::collections::BTreeSet;
use std::path::PathBuf;

/// Which batches of the logbook.
#[derive(Debug, clap::Args)]
#[group(id = "log", multiple = true, conflicts_with_all = [
    "dilution", "strength", "batch", "per_litre", "piece", "per_month", "days_kept", "batches", "rolls", "sheets", "sheet_size", "period",
])]
pub(super) struct LogOptions {
    /// What these baths of the logbook have cost, by their names.
    #[arg(long, value_name = "NAME", value_delimiter = ',')]
    bath: Vec<String>,
    /// Baths of the logbook that were mixed on this day or later, with all that went through them.
    #[arg(long, value_name = "DATE", value_parser = args::date)]
    since: Option<String>,
    /// Baths of the logbook that were mixed on this day or earlier.
    #[arg(long, value_name = "DATE", value_parser = args::date)]
    until: Option<String>,
    /// The logbook, a file; in your data folder unless told.
    #[arg(long, value_name = "FILE")]
    logbook: Option<PathBuf>,
}

impl LogOptions {
    pub(super) fn is_wanted(&self) -> bool {
        !self.bath.is_empty() || self.since.is_some() || self.until.is_some() || self.logbook.is_some()
    }

    fn is_in_period(&self, date: &str) -> bool {
        // Dates of the form 2026-03-14 sort as they follow each other.
        self.since.as_deref().is_none_or(|since| since <= date) && self.until.as_deref().is_none_or(|until| date <= until)
    }

    /// The baths that were asked for, in the order in which they were mixed.
    fn baths<'a>(&self, ledger: &'a Ledger) -> Result<Vec<&'a Bath>, BathError> {
        let named = self.bath.iter().map(|name| Ok(bath::bath(ledger, name)?.mixed.id.clone())).collect::<Result<Vec<_>, BathError>>()?;
        let is_wanted =
            |bath: &&Bath| (named.is_empty() || named.contains(&bath.mixed.id)) && self.is_in_period(bath.mixed.happened.date());
        Ok(ledger.baths.iter().filter(is_wanted).collect())
    }

    /// Loads of the period that went through none of these baths.
    fn elsewhere(&self, ledger: &Ledger, baths: &[&Bath]) -> usize {
        if self.since.is_none() && self.until.is_none() {
            return 0;
        }
        let others = ledger.baths.iter().filter(|bath| baths.iter().all(|known| known.mixed.id != bath.mixed.id));
        let loads = others.flat_map(Bath::counting).filter(|entry| matches!(entry.event, Event::Load(_)));
        loads.filter(|entry| self.is_in_period(entry.happened.date())).count()
    }
}

/// Says what baths of the logbook have cost.
pub(super) fn run(options: &CostOptions) -> Status {
    match text(options).and_then(|text| Output::new().put(&text).map_err(BathError::Report)) {
        Ok(()) => Status::Judged,
        Err(error) => error.told(),
    }
}

fn text(options: &CostOptions) -> Result<String, BathError> {
    let log = &options.log;
    let ledger = Ledger::of(bath::entries(&bath::place(log.logbook.as_deref())?)?);
    let baths = log.baths(&ledger)?;
    if baths.is_empty() {
        return Err(BathError::Usage("no bath of the logbook was mixed then".to_owned(), "`tintpoint bath list --all` shows them"));
    }
    let bought = options.pack.zip(options.price).map(|(pack, price)| Bought { pack, price });
    if bought.is_some() {
        one_acid(&baths)?;
    }
    let currency = currency(options.currency.as_deref(), &baths)?;
    let terms = Terms {
        currency,
        fee_per_litre: options.fee,
        one_shot: options.one_shot,
        pupils: Some(options.pupils).filter(|pupils| pupils.value() > 0.0),
        bought,
        period: (log.since.clone(), log.until.clone()),
        earlier_loads: log.elsewhere(&ledger, &baths),
    };
    let account = Account::of(&baths, terms).map_err(EntryError::from)?;
    if account.costs.batches == 0 {
        let hint = "give --pack and --price of what they were mixed from, and `bath new --price` with the next one";
        return Err(BathError::Usage("none of these baths has a price".to_owned(), hint));
    }
    match options.format {
        Form::Text => Ok(costs::report(&account, output::columns())),
        Form::Json => costs::json::line(&account).map(|line| line + "\n").map_err(|e| BathError::Report(std::io::Error::other(e))),
    }
}

/// One pack is of one acid: what else was mixed needs prices of its own.
fn one_acid(baths: &[&Bath]) -> Result<(), BathError> {
    let unpriced = baths.iter().filter(|bath| bath.start.paid.is_none());
    let acids: BTreeSet<&str> = unpriced.map(|bath| bath.start.recipe.acid.name()).collect();
    if acids.len() <= 1 {
        return Ok(());
    }
    let acids = acids.into_iter().collect::<Vec<_>>().join(" and ");
    let hint = "name the baths of one acid with --bath, or keep prices with `bath new --price`";
    Err(BathError::Usage(format!("one pack cannot have made baths of {acids}"), hint))
}

/// The currency of all prices.
fn currency(told: Option<&str>, baths: &[&Bath]) -> Result<String, BathError> {
    let paid = baths.iter().filter_map(|bath| bath.start.paid.as_ref());
    let mut all: Vec<&str> = paid.map(|paid| paid.currency.as_str()).chain(told).map(str::trim).filter(|name| !name.is_empty()).collect();
    all.sort_unstable();
    all.dedup_by(|a, b| a.eq_ignore_ascii_case(b));
    match all.as_slice() {
        [] => Ok(String::new()),
        [one] => Ok((*one).to_owned()),
        many => {
            let message = format!("prices in {} cannot be added", many.join(" and "));
            Err(BathError::Usage(message, "name the baths of one currency with --bath"))
        }
    }
}
