//! Forms that write are taken once: a second tap, or the same page sent again, must not write twice.

use std::collections::VecDeque;

/// Words of forms that are remembered; older ones belong to pages that nobody has open any more.
const MOST: usize = 4096;

/// Words of the forms that were taken.
#[derive(Debug, Default)]
pub(super) struct Once(VecDeque<String>);

impl Once {
    /// True for a word that was not taken before; from now on it is.
    pub(super) fn take(&mut self, word: &str) -> bool {
        if self.0.iter().any(|taken| taken == word) {
            return false;
        }
        if self.0.len() == MOST {
            self.0.pop_front();
        }
        self.0.push_back(word.to_owned());
        true
    }

    /// Lets a word be taken again, since nothing came of it.
    pub(super) fn give_back(&mut self, word: &str) {
        self.0.retain(|taken| taken != word);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_is_taken_once_unless_nothing_came_of_it() {
        let mut once = Once::default();
        assert!(once.take("a") && !once.take("a") && once.take("b"));
        once.give_back("a");
        assert!(once.take("a") && !once.take("b"));
    }

    #[test]
    fn memory_has_a_bound() {
        let mut once = Once::default();
        assert!((0..=MOST).all(|n| once.take(&n.to_string())));
        assert_eq!(once.0.len(), MOST);
        assert!(!once.take(&MOST.to_string()), "the latest stays");
    }
}
