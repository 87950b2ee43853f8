//! Buffers for people; [`json`] tells the same to programs, [`words`] holds the sentences.

pub mod json;
pub mod words;

use super::number::{by_uncertainty, ph_with};
use super::text::{NARROWEST, WIDEST, put};
use crate::chemistry::buffer::{BufferState, StandardBuffer};
use crate::chemistry::recipe::Recipe;
use crate::chemistry::sheet::{LadderSheet, MixingSheet, Weighed};
use crate::chemistry::uncertainty::Cause;
use crate::quantity::{Celsius, Millilitres};
use std::fmt::Write as _;

/// Two standard uncertainties: the interval that holds the true value in 95 of 100 cases.
pub const COVERAGE: f64 = 2.0;

/// The standard buffers at one temperature and the recipes; a buffer unknown at that temperature says so.
#[must_use]
pub fn list(buffers: &[(&StandardBuffer, Option<BufferState>)], recipes: &[Recipe], temperature: Celsius, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut out = String::new();
    put(&mut out, &format!("standard buffers at {temperature} C"), 0, width);
    for (buffer, state) in buffers {
        let ph = match state {
            Some(state) => ph_with(state.ph.value(), COVERAGE * state.sd),
            None => format!("known from {} to {} C only", buffer.range().0, buffer.range().1),
        };
        put(&mut out, &format!("  {:<17}{ph}", buffer.name), 19, width);
        put(&mut out, &format!("    {}", buffer.plain), 4, width);
    }
    put(&mut out, "recipes for mixing your own, with --ph and --volume", 0, width);
    for recipe in recipes {
        put(&mut out, &format!("  {:<21}pH {:.1} to {:.1}", recipe.name, recipe.low, recipe.high), 4, width);
        put(&mut out, &format!("    {} and {}", recipe.acid.substance, recipe.base.substance), 4, width);
    }
    put(&mut out, words::SOURCES, 0, width);
    out
}

/// One standard buffer; with a volume also what to weigh.
#[must_use]
pub fn standard(buffer: &StandardBuffer, state: BufferState, temperature: Celsius, volume: Option<Millilitres>, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut out = String::new();
    put(&mut out, &format!("{}: {}", buffer.name, buffer.plain), 2, width);
    let ph = ph_with(state.ph.value(), COVERAGE * state.sd);
    put(&mut out, &format!("  pH {ph} at {temperature} C (95 %)"), 4, width);
    put(&mut out, &format!("  ionic strength {:.2} mol/l", state.ionic_strength.value()), 4, width);
    let row: Vec<String> = buffer.points.iter().map(|(t, ph)| format!("{t} C {ph:.2}")).collect();
    put(&mut out, &format!("  table: {}", row.join(", ")), 4, width);
    if let Some(volume) = volume {
        if buffer.grams.is_empty() {
            put(&mut out, &format!("  {}", words::NOT_MIXED), 4, width);
        } else {
            put(&mut out, &format!("  for {}:", words::volume(volume.value())), 4, width);
            for (powder, per_litre) in &buffer.grams {
                let grams = per_litre * volume.litres();
                put(&mut out, &format!("    {} g {powder}", by_uncertainty(grams, WEIGHED_WITH_CARE * grams)), 6, width);
            }
            put(&mut out, &format!("    {}", words::FILL_UP), 6, width);
        }
    }
    cautions(&mut out, &words::common_cautions(), width);
    out
}

/// Relative uncertainty to which the weights of a standard are printed: the stated pH needs them within about 0.3 %.
const WEIGHED_WITH_CARE: f64 = 0.003;

/// Share of the standard deviation from which the weighing is what a larger volume can mend: half of the variance.
const WEIGHING_LEADS: f64 = 0.7;

/// The sheet for one home-mixed buffer.
#[must_use]
pub fn mixture(sheet: &MixingSheet, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut out = String::new();
    let ph = ph_with(sheet.state.ph.value(), COVERAGE * sheet.state.sd);
    put(&mut out, &format!("{}: pH {ph} at {} C (95 %)", sheet.mix.recipe.name, sheet.mix.temperature), 2, width);
    put(&mut out, &format!("  for {}:", words::volume(sheet.volume.value())), 4, width);
    portions(&mut out, &sheet.acid, width);
    portions(&mut out, &sheet.base, width);
    put(&mut out, &format!("    {}", words::FILL_UP), 6, width);
    let salt = sheet.state.ionic_strength.value();
    put(
        &mut out,
        &format!("  ionic strength {salt:.2} mol/l; withstands {:.0} mmol/l of acid or alkali per pH", 1000.0 * sheet.buffer_value),
        4,
        width,
    );
    let warmth: Vec<String> = sheet
        .warmth
        .iter()
        .map(|(t, ph)| format!("{t} C {:+.2}", ph.value() - sheet.state.ph.value() + 0.0))
        .map(|s| s.replace("-0.00", "+0.00"))
        .collect();
    put(&mut out, &format!("  pH shifts when used at {}", warmth.join(", ")), 4, width);
    let parts: Vec<String> = sheet.budget.parts.iter().map(|(cause, part)| format!("{} {:.3}", words::cause(*cause), part)).collect();
    put(&mut out, &format!("  one standard deviation of pH, {:.2}, comes from: {}", sheet.state.sd, parts.join(", ")), 4, width);
    if sheet.budget.parts.iter().any(|(cause, part)| *cause == Cause::Weighing && *part > WEIGHING_LEADS * sheet.budget.sd()) {
        put(&mut out, &format!("  hint: {}", words::LARGER), 4, width);
    }
    if !sheet.others.is_empty() {
        let others: Vec<String> =
            sheet.others.iter().map(|(recipe, sd)| format!("{} +/- {}", recipe.name, words::half_width(*sd))).collect();
        put(&mut out, &format!("  other recipes for this pH: {}", others.join(", ")), 4, width);
    }
    put(&mut out, &format!("  write on the bottle: {}", words::bottle(&sheet.mix.name(), &ph)), 4, width);
    let powders = [sheet.acid.first(), sheet.base.first()].into_iter().flatten().map(|w| w.portion.powder.name);
    cautions(&mut out, &words::cautions(powders), width);
    out
}

/// A substance in the form at hand, and its other forms.
fn portions(out: &mut String, all: &[Weighed], width: usize) {
    for (i, weighed) in all.iter().enumerate() {
        let lead = if i == 0 { "" } else { "or " };
        put(out, &format!("{}{lead}{}", if i == 0 { "    " } else { "      " }, words::portion(weighed)), 8, width);
    }
}

/// The sheet for a ladder of buffers.
#[must_use]
pub fn ladder(sheet: &LadderSheet, temperature: Celsius, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut out = String::new();
    let count = sheet.rungs.len();
    put(
        &mut out,
        &format!("{}: {count} buffers of {} at {temperature} C", sheet.recipe.name, words::volume(sheet.volume.value())),
        2,
        width,
    );
    for (name, bottle) in [("acid", &sheet.acid), ("base", &sheet.base)] {
        let strength = bottle.stock.strength;
        let told = words::portion(&bottle.weighed);
        put(
            &mut out,
            &format!("  {name} stock, {strength} mol/l: {told}, {} {}", words::FILL_UP_TO, words::volume(bottle.volume.value())),
            4,
            width,
        );
    }
    let _ = writeln!(out, "{:>13} {:>8} {:>8} {:>7}", "pH (95 %)", "acid ml", "base ml", "mol/l");
    for rung in &sheet.rungs {
        let ph = ph_with(rung.state.ph.value(), COVERAGE * rung.state.sd);
        // Cylinders and syringes measure to about 1 %, and none below 0.05 ml.
        let [acid, base] = [rung.acid_ml, rung.base_ml].map(|ml| by_uncertainty(ml, (0.01 * ml).max(0.05)));
        let _ = writeln!(out, "{ph:>13} {acid:>8} {base:>8} {:>7.2}", rung.state.ionic_strength.value());
    }
    put(&mut out, words::SALT_COLUMN, 0, width);
    let powders = [&sheet.acid, &sheet.base].into_iter().map(|bottle| bottle.weighed.portion.powder.name);
    cautions(&mut out, &words::cautions(powders), width);
    out
}

fn cautions(out: &mut String, all: &[&str], width: usize) {
    for caution in all {
        put(out, &format!("- {caution}"), 2, width);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::recipe;
    use crate::chemistry::sheet::{self, Order};
    use crate::chemistry::{buffer, powder};
    use crate::quantity::{BalanceStep, MassPercent, Ph};

    fn order(chosen: &[&str]) -> Order {
        Order {
            volume: Millilitres::new(100.0).unwrap(),
            temperature: Celsius::new(25.0).unwrap(),
            chosen: chosen.iter().map(|name| powder::find(name).unwrap()).collect(),
            strength: MassPercent::new(28.0).unwrap(),
            balance: BalanceStep::new(0.01).unwrap(),
        }
    }

    #[test]
    fn everything_fits_forty_columns() {
        let warm = Celsius::new(25.0).unwrap();
        let all: Vec<_> = buffer::all().iter().map(|b| (b, buffer::Buffer::Standard(b).at(warm).ok())).collect();
        let mut texts = vec![list(&all, recipe::all(), warm, 40)];
        texts.extend(all.iter().filter_map(|(b, state)| Some(standard(b, (*state)?, warm, Some(Millilitres::new(500.0).unwrap()), 40))));
        for one in recipe::all() {
            let middle = Ph::new(0.5 * (one.low + one.high)).unwrap();
            texts.push(mixture(&sheet::mixing_sheet(one, middle, &order(&[])).unwrap(), 40));
            let ends = (Ph::new(one.low).unwrap(), Ph::new(one.high).unwrap());
            texts.push(ladder(&sheet::ladder_sheet(one, 5, ends, &order(&[])).unwrap(), warm, 40));
        }
        for text in texts {
            assert!(text.lines().all(|line| line.chars().count() <= 40), "{text}");
        }
    }

    // What can burn must be said where it is used, and only there.
    #[test]
    fn cautions_fit_the_powders() {
        let said = |name: &str, ph: f64| {
            mixture(&sheet::mixing_sheet(recipe::find(name).unwrap(), Ph::new(ph).unwrap(), &order(&[])).unwrap(), 88)
        };
        assert!(said("citrate-hydroxide", 5.0).contains("burns skin and eyes") && !said("citrate", 5.0).contains("burns skin and eyes"));
        assert!(said("citrate-bicarbonate", 5.0).contains("foams") && !said("citrate", 5.0).contains("foams"));
        assert!(said("acetate", 4.6).contains("vapour") && !said("citrate", 5.0).contains("vapour"));
        assert!(said("citrate", 5.0).contains("oggles"));
    }

    // What a larger volume can mend must be said, and not where the salt model leads.
    #[test]
    fn coarse_balance_earns_a_hint() {
        let said = |step: f64| {
            let order = Order { balance: BalanceStep::new(step).unwrap(), ..order(&[]) };
            mixture(&sheet::mixing_sheet(recipe::find("citrate").unwrap(), Ph::new(5.0).unwrap(), &order).unwrap(), 88)
                .contains(words::LARGER)
        };
        assert!(said(0.1) && !said(0.001));
    }

    // The weight of the form at hand leads, and the weights follow the molar masses: 1.42 g of anhydrous disodium phosphate are 3.58 g of the dodecahydrate.
    #[test]
    fn hydrates_stand_below_the_chosen_form() {
        let sheet = sheet::mixing_sheet(
            recipe::find("citrate-phosphate").unwrap(),
            Ph::new(6.0).unwrap(),
            &order(&["disodium-phosphate-dihydrate"]),
        )
        .unwrap();
        let text = mixture(&sheet, 88);
        let at = |word: &str| text.find(word).unwrap_or_else(|| panic!("no {word} in {text}"));
        assert!(at("(dihydrate)") < at("(dodecahydrate)"));
    }
}
