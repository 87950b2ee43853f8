//! How to mix a ladder of cups from one's own bath and developer.

use crate::logbook::ladder::Rung;
use crate::present::mixing::{figure, volume};
use crate::present::text::{NARROWEST, WIDEST, put};
use crate::present::words::printable;
use crate::quantity::Millilitres;

/// Standard deviations that hold 95 %.
const COVERAGE: f64 = 1.96;

/// What to pour into each cup, the pH it gets, and what to do with the cups; `width` columns wide.
#[must_use]
pub fn text(bath: &str, developer: &str, cup: Millilitres, rungs: &[Rung], width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let (bath, developer, in_cup) = (printable(bath), printable(developer), volume(cup.value()));
    let mut out = String::new();
    put(&mut out, &format!("a ladder of {bath}, fresh, with {developer}: {in_cup} of bath in each cup"), 2, width);
    for (k, rung) in rungs.iter().enumerate() {
        let added = rung.millilitres * cup.litres();
        let amount = if added > 0.0 { format!("{} ml of developer", figure(added)) } else { "nothing added".to_owned() };
        let range = COVERAGE * rung.sd;
        let line = format!("  cup {}: {amount} ({} %), pH {:.1} +/- {range:.1} (95 %)", k + 1, figure(rung.share), rung.ph.value());
        put(&mut out, &line, 4, width);
    }
    let last = rungs.len() + 1;
    put(
        &mut out,
        &format!("  cup {last}: an excess of baking soda in place of developer; wait until it stops fizzing, and stir"),
        4,
        width,
    );
    put(&mut out, "  as much dye in every cup; photograph all together with the grey card, in the light of your readings", 4, width);
    let shares: Vec<String> = rungs.iter().map(|rung| figure(rung.share)).collect();
    put(&mut out, &format!("  then: tintpoint calibrate PHOTO --ladder {},soda --bath {bath} --save NAME", shares.join(",")), 4, width);
    put(
        &mut out,
        "note: most of the doubt is where the eye calls the dye turned, and all cups share it: buffers tell twice as well",
        2,
        width,
    );
    put(&mut out, "caution: acid and developer together may foam; wear gloves and glasses, and pour no cup back", 2, width);
    out
}
