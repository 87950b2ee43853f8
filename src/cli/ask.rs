//! Questions on a terminal, for what an option did not say.

use std::io::{self, IsTerminal, Write};

/// Times that an answer which is none of the choices is asked for again.
const TRIES: usize = 3;

/// The number of the choice that somebody at a terminal makes, by its word or its number from 1; none without a terminal or an answer.
pub(crate) fn choice(question: &str, choices: &[(&str, &str)]) -> Option<usize> {
    if !(io::stdin().is_terminal() && io::stderr().is_terminal()) {
        return None;
    }
    let mut err = io::stderr().lock();
    let _ = writeln!(err, "{question}");
    for (i, (word, plain)) in choices.iter().enumerate() {
        let _ = writeln!(err, "  {} {word}: {plain}", i + 1);
    }
    for _ in 0..TRIES {
        let _ = write!(err, "> ");
        let _ = err.flush();
        let mut line = String::new();
        if io::stdin().read_line(&mut line).ok()? == 0 {
            return None;
        }
        if let Some(chosen) = answer(&line, choices) {
            return Some(chosen);
        }
        let _ = writeln!(err, "give a number from 1 to {}", choices.len());
    }
    None
}

fn answer(line: &str, choices: &[(&str, &str)]) -> Option<usize> {
    let line = line.trim().to_lowercase();
    match line.parse::<usize>() {
        Ok(number) => number.checked_sub(1).filter(|i| *i < choices.len()),
        Err(_) => choices.iter().position(|(word, _)| *word == line),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn number_or_word_is_an_answer() {
        let choices = [("yes", ""), ("no", "")];
        assert_eq!((answer(" 2\n", &choices), answer("Yes", &choices)), (Some(1), Some(0)));
        assert_eq!((answer("0", &choices), answer("3", &choices), answer("", &choices)), (None, None, None));
    }
}
