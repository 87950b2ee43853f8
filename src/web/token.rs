//! Words that nobody can guess.

use std::fmt::Write as _;

/// Random bytes of a token: 128 bits.
const BYTES: usize = 16;

/// The system gave no randomness, without which nobody may be let in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the system gives no random numbers")]
pub struct NoRandomness;

/// 128 random bits as 32 hexadecimal digits.
///
/// # Errors
/// [`NoRandomness`] when the system has none.
pub(super) fn token() -> Result<String, NoRandomness> {
    let mut bytes = [0; BYTES];
    getrandom::fill(&mut bytes).map_err(|_| NoRandomness)?;
    Ok(bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    }))
}

/// Letters and digits that are not taken for one another when read aloud or typed with gloves on: no 0, 1, I, L, O.
const ALPHABET: &[u8; 31] = b"23456789ABCDEFGHJKMNPQRSTUVWXYZ";

/// A code to type: eight characters, 39 bits.
///
/// # Errors
/// [`NoRandomness`] when the system has none.
pub(super) fn code() -> Result<String, NoRandomness> {
    let mut text = String::new();
    while text.len() < 8 {
        let mut bytes = [0; 16];
        getrandom::fill(&mut bytes).map_err(|_| NoRandomness)?;
        // Bytes from 248 on are passed over: 248 is a multiple of 31, so every character is as likely.
        let fair = bytes.iter().filter(|b| **b < 248).map(|b| char::from(ALPHABET[usize::from(*b) % ALPHABET.len()]));
        text.extend(fair.take(8 - text.len()));
    }
    Ok(text)
}

/// Compares in a time that does not tell how much agrees.
pub(super) fn is_same(one: &str, other: &str) -> bool {
    let differing = one.bytes().zip(other.bytes()).fold(0, |sum, (a, b)| sum | (a ^ b));
    one.len() == other.len() && differing == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tokens_are_tokens_and_differ() {
        let (one, other) = (token().unwrap(), token().unwrap());
        assert!(one.len() == 32 && one.bytes().all(|b| b.is_ascii_hexdigit()));
        assert_ne!(one, other);
    }

    #[test]
    fn codes_use_every_character_about_as_often() {
        let mut counts = [0_usize; 31];
        for _ in 0..2000 {
            let code = code().unwrap();
            assert_eq!(code.len(), 8);
            for byte in code.bytes() {
                counts[ALPHABET.iter().position(|a| *a == byte).unwrap()] += 1;
            }
        }
        // 516 expected, standard deviation 22.
        assert!(counts.iter().all(|n| (380..650).contains(n)), "{counts:?}");
    }

    #[test]
    fn comparison_is_equality() {
        assert!(is_same("abc", "abc") && !is_same("abc", "abd") && !is_same("abc", "ab") && !is_same("", "a"));
    }
}
