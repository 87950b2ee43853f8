//! How long a working bath keeps: common practice, to be replaced by your own rule.

/// How a bath is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Vessel {
    /// A full, closed bottle at room temperature.
    FullBottle,
    /// A closed bottle with air above the bath.
    PartBottle,
    /// A full, closed bottle in a refrigerator that holds no food.
    Cold,
    /// An open tray.
    Tray,
}

/// Days that a working bath with this acid is commonly kept, whatever its colour; all of it common practice.
///
/// Texts of the trade: citric acid feeds mould and slime - a month refrigerated, days to a few weeks in a full bottle; acetic acid weeks to months; a tray for
/// the day. Half of it with air above the bath, and a week for metabisulfite, which loses sulfur dioxide, are cautious choices without a source.
#[must_use]
pub fn days(acid: &str, vessel: Vessel) -> u32 {
    match (acid, vessel) {
        (_, Vessel::Tray) => 1,
        ("acetic", Vessel::FullBottle | Vessel::Cold) => 60,
        ("acetic", Vessel::PartBottle) => 30,
        ("citric", Vessel::Cold) => 30,
        ("citric", Vessel::FullBottle) => 14,
        // What is not known is kept like the one that keeps least.
        (_, Vessel::FullBottle | Vessel::PartBottle | Vessel::Cold) => 7,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn air_and_warmth_shorten_every_life() {
        for acid in ["acetic", "citric", "sulfurous", "unknown"] {
            let [cold, full, part, tray] = [Vessel::Cold, Vessel::FullBottle, Vessel::PartBottle, Vessel::Tray].map(|v| days(acid, v));
            assert!(cold >= full && full >= part && part > tray && tray == 1, "{acid}");
        }
        assert!(days("acetic", Vessel::FullBottle) > days("citric", Vessel::FullBottle));
    }
}
