//! `tintpoint cost`.

mod logged;

use super::args::{number, quantity};
use super::failure::Status;
use super::mix::Form;
use super::output;
use super::source::volume;
use crate::chemistry::dilution::Written;
use crate::cost::{Counts, Pace, Pack, Practice, as_sheets, expected, period};
use crate::present::cost::{self as present, Bill};
use crate::quantity::{Count, GramsPerLitre, Millilitres, Money, RangeError};

const EXAMPLES: &str = "Examples:
  tintpoint cost --pack 500ml --price 12 --dilution 1+19 --per-litre 15 --one-shot 300ml --currency EUR
  tintpoint cost --pack 1kg --price 6 --strength 15g/l --per-litre 20 --piece sheet --batch 2l
  tintpoint cost --pack 500ml --price 12 --dilution 1+19 --per-litre 15 --one-shot 300ml --per-month 4 --days-kept 14
  tintpoint cost --pack 500ml --price 12 --dilution 1+19 --batch 2l --fee 0.5 --batches 12 --rolls 20 --sheets 180 --pupils 20 --period term
  tintpoint cost --bath tray-1 --one-shot 300ml
  tintpoint cost --since 2026-01-01 --until 2026-03-31 --pack 1kg --price 6 --currency EUR --pupils 20

With --bath, --since or --until batches and counts come from the logbook; prices from `bath new --price`, else from --pack and --price.";

/// Options of `tintpoint cost`.
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct CostOptions {
    #[command(flatten)]
    log: logged::LogOptions,
    /// Pack that was bought, with its unit: 500ml, 1l, 250g, 1kg.
    #[arg(long, value_name = "PACK", value_parser = pack, allow_hyphen_values = true, required_unless_present = "log", requires = "price")]
    pack: Option<Pack>,
    /// What was paid for it.
    #[arg(long, value_name = "MONEY", value_parser = money, allow_hyphen_values = true, required_unless_present = "log", requires = "pack")]
    price: Option<Money>,
    /// Currency, printed beside every amount; that of the logbook unless told.
    #[arg(long, value_name = "NAME")]
    currency: Option<String>,
    /// Dilution of a liquid, with a plus sign: 1+19.
    #[arg(long, value_name = "PARTS", value_parser = dilution, conflicts_with = "strength")]
    dilution: Option<f64>,
    /// Strength of a bath from powder: 15g/l.
    #[arg(long, value_name = "G/L", value_parser = grams_per_litre)]
    strength: Option<GramsPerLitre>,
    /// Volume of a batch.
    #[arg(long, value_name = "V", default_value = "1l", value_parser = volume)]
    batch: Millilitres,
    /// Rolls or sheets that a litre stops in your hands; without it there is no cost of a piece.
    #[arg(long, value_name = "N", value_parser = count, allow_hyphen_values = true)]
    per_litre: Option<Count>,
    /// What is counted, such as roll or sheet.
    #[arg(long, value_name = "WORD", default_value = "roll")]
    piece: String,
    /// Bath for one piece when it is used once and thrown away.
    #[arg(long, value_name = "V", value_parser = volume)]
    one_shot: Option<Millilitres>,
    /// Fee for disposal, a litre.
    #[arg(long, value_name = "MONEY", default_value = "0", value_parser = money, allow_hyphen_values = true)]
    fee: Money,
    /// Pieces in a month, to compare reuse with one-shot.
    #[arg(long, value_name = "N", value_parser = count, requires = "days_kept", allow_hyphen_values = true)]
    per_month: Option<Count>,
    /// Days that you keep a batch, whatever its load.
    #[arg(long, value_name = "DAYS", value_parser = count, requires = "per_month", allow_hyphen_values = true)]
    days_kept: Option<Count>,
    /// Batches mixed in the period, those thrown away unused included.
    #[arg(long, value_name = "N", value_parser = count, allow_hyphen_values = true)]
    batches: Option<Count>,
    /// Rolls stopped in the period.
    #[arg(long, value_name = "N", default_value = "0", value_parser = count, requires = "batches", allow_hyphen_values = true)]
    rolls: Count,
    /// Sheets stopped in the period, of the size of --sheet-size.
    #[arg(long, value_name = "N", default_value = "0", value_parser = count, requires = "batches", allow_hyphen_values = true)]
    sheets: Count,
    /// Size of the sheets, such as 5x7in or 18x24cm; they count by area as sheets of 8x10 inches, which a roll has about the area of.
    #[arg(long, value_name = "SIZE", default_value = "8x10in", value_parser = sides)]
    sheet_size: Sides,
    /// Pupils or members who share the cost.
    #[arg(long, value_name = "N", default_value = "0", value_parser = count, requires = "batches", allow_hyphen_values = true)]
    pupils: Count,
    /// Name of the period.
    #[arg(long, value_name = "WORD", default_value = "period")]
    period: String,
    /// Form of the report.
    #[arg(long, value_enum, default_value_t = Form::Text)]
    format: Form,
}

/// Sides of a sheet, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sides(f64, f64);

/// What stops the command.
#[derive(Debug, thiserror::Error)]
enum CostFailure {
    #[error("a liquid needs --dilution")]
    NoDilution,
    #[error("a powder needs --strength in g/l")]
    NoStrength,
    #[error("`{0}` has no pack and price")]
    NoPack(&'static str),
    #[error(transparent)]
    Range(#[from] RangeError),
    #[error("cannot put the report into JSON: {0}")]
    Report(#[from] std::io::Error),
}

impl CostFailure {
    fn hint(&self) -> &'static str {
        match self {
            CostFailure::NoDilution => "write --dilution 1+19; the label tells",
            CostFailure::NoStrength => "write --strength 15g/l",
            CostFailure::NoPack(_) => "give --pack and --price, or take the counts from the logbook with --bath or --since",
            CostFailure::Range(_) => "give amounts above 0",
            CostFailure::Report(_) => "this is a fault of the program; please report it",
        }
    }
}

/// Says what bath and pieces cost.
pub(crate) fn run(options: &CostOptions) -> Status {
    if options.log.is_wanted() {
        return logged::run(options);
    }
    output::ended(report(options), CostFailure::hint, |failure| {
        if matches!(failure, CostFailure::Report(_)) { Status::Failed } else { Status::Usage }
    })
}

fn report(options: &CostOptions) -> Result<String, CostFailure> {
    let (Some(pack), Some(price)) = (options.pack, options.price) else { return Err(CostFailure::NoPack("cost")) };
    let supply = match (pack, options.dilution, options.strength) {
        (Pack::Liquid(_), Some(share), _) => pack.supply(price, 1000.0 * share)?,
        (Pack::Powder(_), _, Some(strength)) => pack.supply(price, strength.value())?,
        (Pack::Liquid(_), None, _) => return Err(CostFailure::NoDilution),
        (Pack::Powder(_), _, None) => return Err(CostFailure::NoStrength),
    };
    let pace = options.per_month.zip(options.days_kept).map(|(per_month, days_kept)| Pace { per_month, days_kept });
    let practice = Practice {
        batch: options.batch,
        fee_per_litre: options.fee,
        capacity_per_litre: options.per_litre,
        one_shot: options.one_shot,
        pace,
    };
    let sheets = as_sheets(options.sheets, (options.sheet_size.0, options.sheet_size.1))?;
    let counts = options.batches.map(|batches| Counts { batches, rolls: options.rolls, sheets, pupils: options.pupils });
    let bill = Bill {
        currency: options.currency.clone().unwrap_or_default(),
        piece: options.piece.clone(),
        period_name: options.period.clone(),
        supply,
        practice,
        expected: expected(&supply, &practice),
        spent: counts.map(|counts| (counts, period(&supply, &practice, &counts))),
    };
    Ok(match options.format {
        Form::Text => present::report(&bill, output::columns()),
        Form::Json => present::line(&bill).map_err(std::io::Error::other)? + "\n",
    })
}

pub(super) fn pack(text: &str) -> Result<Pack, String> {
    let text = text.trim();
    let grams = |figure: &str, factor: f64| match number(figure)? * factor {
        grams if grams > 0.0 && grams <= 1e6 => Ok(Pack::Powder(grams)),
        grams => Err(format!("a pack of {grams} g is outside 0 to 1000000 g")),
    };
    if let Some(figure) = text.strip_suffix("kg") {
        return grams(figure, 1000.0);
    }
    match text.strip_suffix('g') {
        Some(figure) => grams(figure, 1.0),
        None => volume(text).map(Pack::Liquid).map_err(|e| format!("{e}, or 250g of a powder")),
    }
}

pub(super) fn money(text: &str) -> Result<Money, String> {
    quantity(text, Money::new)
}

fn count(text: &str) -> Result<Count, String> {
    quantity(text, Count::new)
}

fn grams_per_litre(text: &str) -> Result<GramsPerLitre, String> {
    let figure = text.trim().strip_suffix("g/l").ok_or_else(|| format!("`{}` has no unit\nhint: write 15g/l", text.trim()))?;
    quantity(figure, GramsPerLitre::new)
}

/// A size with its unit: `5x7in`, `18x24cm`.
fn sides(text: &str) -> Result<Sides, String> {
    let wrong = || format!("`{}` is no size of a sheet\nhint: write 5x7in or 18x24cm", text.trim());
    let text = text.trim().to_lowercase();
    let (figures, metres) = match (text.strip_suffix("in"), text.strip_suffix("cm")) {
        (Some(figures), _) => (figures, 0.0254),
        (None, Some(figures)) => (figures, 0.01),
        (None, None) => return Err(wrong()),
    };
    let (width, height) = figures.split_once('x').ok_or_else(wrong)?;
    Ok(Sides(number(width)? * metres, number(height)? * metres))
}

/// Share of concentrate in the bath.
fn dilution(text: &str) -> Result<f64, String> {
    let readings = Written::parse(text).map_err(|e| format!("{e}\nhint: {}", e.hint()))?.readings();
    match readings.as_slice() {
        [(_, ratio)] => Ok(ratio.share()),
        _ => Err(format!("`{}` is meant in two ways\nhint: write it with a plus sign, such as 1+19", text.trim())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packs_and_dilutions_are_read() {
        assert_eq!(pack("1kg"), Ok(Pack::Powder(1000.0)));
        assert_eq!(pack("250 g"), Ok(Pack::Powder(250.0)));
        assert_eq!(pack("500ml"), Ok(Pack::Liquid(Millilitres::new(500.0).unwrap())));
        for wrong in ["500", "-1kg", "0g", "kg", ""] {
            assert!(pack(wrong).is_err(), "{wrong}");
        }
        assert!((dilution("1+19").unwrap() - 0.05).abs() < 1e-12);
        assert!(dilution("1:20").is_err());
        assert_eq!(sides("18x24cm"), Ok(Sides(0.18, 0.24)));
        assert!(["8x10", "8in", "axbcm"].iter().all(|wrong| sides(wrong).is_err()));
    }
}
