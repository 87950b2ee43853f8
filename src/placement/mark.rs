//! The corner marks: which code stands for which sheet and corner, and the cells to print.

use super::{Corner, MOST_CUPS, Paper, Sheet};
use std::sync::LazyLock;

/// Cells along a mark's side, the black border included.
pub const CELLS: usize = 8;
/// First code used: sheet version 1. The first codes of the family, which printed samples elsewhere mostly have, are left alone; a
/// later version of the sheet takes others.
pub const FIRST_ID: usize = 480;
/// Last code used.
pub const LAST_ID: usize = FIRST_ID + 4 * MOST_CUPS * Paper::ALL.len() - 1;

/// The family's codes from [`FIRST_ID`] on.
static CODES: LazyLock<Vec<u64>> = LazyLock::new(|| {
    include_str!("../../calibration/marks.csv")
        .lines()
        .filter(|line| !line.starts_with('#'))
        .filter_map(|line| u64::from_str_radix(line.split_once(',')?.1, 16).ok())
        .collect()
});

impl Sheet {
    /// Code of the mark in a corner, [`FIRST_ID`] to [`LAST_ID`].
    #[must_use]
    pub fn mark_id(self, corner: Corner) -> usize {
        let paper = Paper::ALL.iter().position(|p| *p == self.paper).unwrap_or(0);
        FIRST_ID + (paper * MOST_CUPS + self.cups - 1) * 4 + corner.index()
    }

    /// The sheet and corner that a code stands for; `None` for codes that are on no sheet.
    #[must_use]
    pub fn of_mark(id: usize) -> Option<(Sheet, Corner)> {
        let place = id.checked_sub(FIRST_ID).filter(|_| id <= LAST_ID)?;
        let (kind, corner) = (place / 4, Corner::ALL[place % 4]);
        Some((Sheet { paper: Paper::ALL[kind / MOST_CUPS], cups: kind % MOST_CUPS + 1 }, corner))
    }

    /// Cells of the mark in a corner, row by row; true is black. All marks stand upright.
    #[must_use]
    pub fn mark_cells(self, corner: Corner) -> [[bool; CELLS]; CELLS] {
        let code = CODES.get(self.mark_id(corner) - FIRST_ID).copied().unwrap_or(0);
        std::array::from_fn(|row| {
            std::array::from_fn(|column| {
                let is_border = [row, column].iter().any(|i| *i == 0 || *i == CELLS - 1);
                is_border || (code >> ((row - 1) * (CELLS - 2) + column - 1)) & 1 == 0
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_lead_there_and_back() {
        for id in FIRST_ID..=LAST_ID {
            let (sheet, corner) = Sheet::of_mark(id).unwrap();
            assert_eq!(sheet.mark_id(corner), id);
        }
        assert_eq!(CODES.len(), LAST_ID - FIRST_ID + 1);
        assert!(Sheet::of_mark(FIRST_ID - 1).is_none() && Sheet::of_mark(LAST_ID + 1).is_none() && Sheet::of_mark(0).is_none());
    }

    // The family promises 11 differing bits between any two codes in any turn (its name, 36h11).
    #[test]
    fn marks_differ_as_the_family_promises() {
        let turned = |code: u64| -> u64 { (0..36).filter(|i| code >> i & 1 == 1).map(|i| 1 << ((i % 6) * 6 + 5 - i / 6)).sum() };
        for (i, &one) in CODES.iter().enumerate() {
            for &other in &CODES[..i] {
                let mut code = other;
                for _ in 0..4 {
                    code = turned(code);
                    assert!((one ^ code).count_ones() >= 11, "{one:x} {other:x}");
                }
            }
        }
    }
}
