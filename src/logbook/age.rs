//! How old a bath may become, whatever its colour.

use super::life::{AcidKind, Keeping, Life};
use crate::chemistry::keeping::{self, Vessel};

/// Seconds of a day.
pub const DAY: f64 = 86_400.0;

/// Age and its limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Age {
    /// Days since it was first mixed; topping up makes nothing younger.
    pub days: f64,
    /// Limit, days.
    pub limit: f64,
}

impl Age {
    /// Age of a bath at a time on its own clock, with the limit of [`usual_limit`] or one's own, days.
    #[must_use]
    pub fn of(life: &Life, now: i64, limit: Option<f64>) -> Self {
        let days = (now - life.mixed).max(0) as f64 / DAY;
        Age { days, limit: limit.unwrap_or_else(|| usual_limit(life.acid, life.keeping)) }
    }

    /// True when it is older than it may be.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.days > self.limit
    }
}

/// Days that a working bath is usually kept, from the one table of [`keeping::days`]: COMMON PRACTICE, to be replaced by the maker's figure or one's own.
#[must_use]
pub fn usual_limit(acid: AcidKind, keeping: Keeping) -> f64 {
    let acid = match acid {
        AcidKind::Acetic => "acetic",
        AcidKind::Citric => "citric",
        AcidKind::Metabisulfite => "sulfurous",
        AcidKind::Other => "unknown",
    };
    let vessel = match keeping {
        Keeping::Bottle => Vessel::FullBottle,
        Keeping::Cold => Vessel::Cold,
        Keeping::Tray => Vessel::Tray,
    };
    f64::from(keeping::days(acid, vessel))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cold_never_ages_faster_and_a_tray_never_slower() {
        for acid in [AcidKind::Acetic, AcidKind::Citric, AcidKind::Metabisulfite, AcidKind::Other] {
            let at = |keeping| usual_limit(acid, keeping);
            assert!(at(Keeping::Cold) >= at(Keeping::Bottle) && at(Keeping::Bottle) > at(Keeping::Tray));
        }
    }
}
