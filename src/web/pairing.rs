//! Who may use the page: a code from the terminal is exchanged once for a session.

use super::token::{self, NoRandomness};
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// A code is good for this long.
const CODE_LIFE: Duration = Duration::from_secs(600);
/// Wrong codes in a row, from anybody, after which the code is replaced: 10 of 31^8 is a chance of one in 10^11.
const WRONG_LIMIT: u32 = 10;
/// Sessions kept; the one unused longest makes room for the next. A class has fewer phones.
const SESSIONS: usize = 64;
/// A session that is not used for this long ends: a day's work and a night.
const SESSION_LIFE: Duration = Duration::from_secs(36 * 3600);

/// What became of a code that was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Answer {
    /// Let in, with this session. A new code is to be shown.
    Paired(String),
    /// Not the code.
    Wrong,
    /// Not the code, and too many of them: a new one is to be shown.
    TooMany,
}

/// The current code and the sessions.
#[derive(Debug)]
pub(super) struct Pairing {
    code: String,
    since: Instant,
    wrong: u32,
    /// Least recently used first.
    sessions: VecDeque<(String, Instant)>,
}

impl Pairing {
    pub(super) fn new(now: Instant) -> Result<Self, NoRandomness> {
        Ok(Pairing { code: token::code()?, since: now, wrong: 0, sessions: VecDeque::new() })
    }

    /// The code to be shown; a stale one is replaced first.
    pub(super) fn code(&mut self, now: Instant) -> Result<&str, NoRandomness> {
        if now.duration_since(self.since) >= CODE_LIFE {
            self.renew(now)?;
        }
        Ok(&self.code)
    }

    /// Tries a code as somebody typed it: small letters, spaces and hyphens do not matter.
    pub(super) fn tried(&mut self, typed: &str, now: Instant) -> Result<Answer, NoRandomness> {
        let typed: String = typed.chars().filter(|c| !c.is_whitespace() && *c != '-').take(16).collect::<String>().to_uppercase();
        if token::is_same(&typed, self.code(now)?) {
            let session = token::token()?;
            // Used up: whoever looks over a shoulder comes too late.
            self.renew(now)?;
            if self.sessions.len() == SESSIONS {
                self.sessions.pop_front();
            }
            self.sessions.push_back((session.clone(), now));
            return Ok(Answer::Paired(session));
        }
        self.wrong += 1;
        if self.wrong < WRONG_LIMIT {
            return Ok(Answer::Wrong);
        }
        self.renew(now)?;
        Ok(Answer::TooMany)
    }

    /// True for a live session, which lives on by being used.
    pub(super) fn knows(&mut self, session: &str, now: Instant) -> bool {
        self.sessions.retain(|(_, used)| now.duration_since(*used) < SESSION_LIFE);
        let Some(at) = self.sessions.iter().position(|(known, _)| token::is_same(known, session)) else { return false };
        if let Some((known, _)) = self.sessions.remove(at) {
            self.sessions.push_back((known, now));
        }
        true
    }

    fn renew(&mut self, now: Instant) -> Result<(), NoRandomness> {
        self.code = token::code()?;
        self.since = now;
        self.wrong = 0;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_lets_in_one_and_then_no_other() {
        let now = Instant::now();
        let mut pairing = Pairing::new(now).unwrap();
        let code = pairing.code(now).unwrap().to_owned();
        let typed = format!(" {}-{} ", code[..4].to_lowercase(), &code[4..]);
        let Answer::Paired(session) = pairing.tried(&typed, now).unwrap() else { panic!("the right code") };
        assert!(pairing.knows(&session, now));
        assert_eq!(pairing.tried(&code, now).unwrap(), Answer::Wrong);
        assert!(!pairing.knows("", now) && !pairing.knows(&code, now));
    }

    #[test]
    fn a_code_grows_stale() {
        let now = Instant::now();
        let mut pairing = Pairing::new(now).unwrap();
        let code = pairing.code(now).unwrap().to_owned();
        assert_eq!(pairing.code(now + CODE_LIFE - Duration::from_secs(1)).unwrap(), code);
        assert_eq!(pairing.tried(&code, now + CODE_LIFE).unwrap(), Answer::Wrong);
    }

    #[test]
    fn guessing_costs_the_code() {
        let now = Instant::now();
        let mut pairing = Pairing::new(now).unwrap();
        let code = pairing.code(now).unwrap().to_owned();
        for _ in 1..WRONG_LIMIT {
            assert_eq!(pairing.tried("WRONG", now).unwrap(), Answer::Wrong);
        }
        assert_eq!(pairing.tried("WRONG", now).unwrap(), Answer::TooMany);
        assert_ne!(pairing.code(now).unwrap(), code);
        assert_eq!(pairing.tried(&code, now).unwrap(), Answer::Wrong);
    }

    #[test]
    fn sessions_end_unused_and_are_bounded() {
        let now = Instant::now();
        let mut pairing = Pairing::new(now).unwrap();
        let pair = |pairing: &mut Pairing| {
            let code = pairing.code(now).unwrap().to_owned();
            match pairing.tried(&code, now).unwrap() {
                Answer::Paired(session) => session,
                other => panic!("{other:?}"),
            }
        };
        let first = pair(&mut pairing);
        let sessions: Vec<String> = (0..SESSIONS).map(|_| pair(&mut pairing)).collect();
        assert!(!pairing.knows(&first, now), "the oldest made room");
        assert!(sessions.iter().all(|s| pairing.knows(s, now)));
        let later = now + SESSION_LIFE;
        assert!(pairing.knows(&sessions[0], later - Duration::from_secs(1)));
        assert!(pairing.knows(&sessions[0], later) && !pairing.knows(&sessions[1], later));
    }
}
