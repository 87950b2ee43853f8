//! The order in which people count: IMG_2 before IMG_10.

use std::cmp::Ordering;

/// Compares runs of digits as numbers and the rest as lower case; equal names fall back to their bytes, so that the order is
/// the same everywhere.
pub(crate) fn compare(one: &str, other: &str) -> Ordering {
    let (mut a, mut b) = (one, other);
    while !a.is_empty() && !b.is_empty() {
        let (left, right) = (taken(&mut a), taken(&mut b));
        let order = match (is_number(left), is_number(right)) {
            (true, true) => {
                let (x, y) = (left.trim_start_matches('0'), right.trim_start_matches('0'));
                // Without leading zeros the longer number is the larger; no number is too long for this.
                x.len().cmp(&y.len()).then_with(|| x.cmp(y))
            }
            _ => left.to_lowercase().cmp(&right.to_lowercase()),
        };
        if order != Ordering::Equal {
            return order;
        }
    }
    a.len().cmp(&b.len()).then_with(|| one.cmp(other))
}

/// Takes the run of digits, or of anything else, at the front.
fn taken<'a>(text: &mut &'a str) -> &'a str {
    let is_digits = is_number(text);
    let end = text.find(|c: char| c.is_ascii_digit() != is_digits).unwrap_or(text.len());
    let (run, rest) = text.split_at(end);
    *text = rest;
    run
}

fn is_number(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_count_as_numbers() {
        let mut names =
            ["IMG_10.jpg", "img_2.jpg", "IMG_1.jpg", "IMG_2b.jpg", "IMG_99999999999999999999999.jpg", "IMG_002.jpg", "A.jpg", "IMG"];
        names.sort_by(|a, b| compare(a, b));
        let sorted =
            ["A.jpg", "IMG", "IMG_1.jpg", "IMG_002.jpg", "img_2.jpg", "IMG_2b.jpg", "IMG_10.jpg", "IMG_99999999999999999999999.jpg"];
        assert_eq!(names, sorted);
    }

    // Sorting panics or loops on an order that is none.
    #[test]
    fn the_order_is_an_order() {
        let names = ["", "0", "00", "a0", "a00", "a1", "A1", "1a", "01a", "é2", "é10", "a", "a-1", "a_1"];
        for a in names {
            for b in names {
                assert_eq!(compare(a, b), compare(b, a).reverse(), "{a} {b}");
                for c in names {
                    assert!(compare(a, b) != Ordering::Less || compare(b, c) != Ordering::Less || compare(a, c) == Ordering::Less);
                }
            }
        }
    }
}
