//! A life put ready for following it many times, each time with another draw of what is not known.

use super::curve::{Curve, MOST};
use super::drop_test::{DROP, SPREAD as DROP_SPREAD};
use super::evidence::{Evidence, TWO_SIDED};
use super::life::{Change, DropTest, Life, LifeError, Step};
use super::pace::SAME_SESSION;
use super::unknowns::{MOST_UNCOUNTED, Unknowns};
use crate::chemistry::developer;
use crate::chemistry::liquid::Liquid;
use crate::quantity::{MeqPerLitre, Ph};

/// Scatter of carry-over from piece to piece, standard deviation of its logarithm (judgement: no two sheets drain alike); it averages out over many.
const PIECE_SCATTER: f64 = 0.25;
/// Standard deviation of the pH at which a dye is called turned (judgement: about a third of its transition range).
const TURN_SPREAD: f64 = 0.3;
/// Share of drop tests that went wrong altogether.
const GROSS: f64 = 0.02;
/// Chance that a look tells something before a session where nothing is known of the worker (judgement: some are forgotten, some give no answer).
const USUAL: f64 = 0.7;
/// Sessions that this counts for.
const KNOWN: f64 = 5.0;
/// Volume that is never gone below, litres: what clings to the tray.
const DREGS: f64 = 0.01;
/// Scatter of one load takes one of so many evenly spread values.
const SCATTERED: usize = 64;

/// What is in the bath, by one draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bath {
    /// Volume, litres.
    pub(super) litres: f64,
    /// Reserve that its acid would have without developer, in litres of the stated fresh bath, per litre.
    pub(super) acid: f64,
    /// Reserve bound by developer, in the same unit.
    pub(super) alkali: f64,
}

impl Bath {
    /// Share of the reserve that is used: 1 at the spent limit.
    pub(super) fn used(&self) -> f64 {
        self.alkali / self.acid
    }
}

/// Where one draw leads.
#[derive(Debug, Clone)]
pub(super) struct Followed {
    /// What is in the bath.
    pub(super) bath: Bath,
    /// Log likelihood of all that was seen.
    pub(super) log: f64,
    /// As [`Story::carry_overs`].
    pub(super) carry_overs: Vec<f64>,
    /// As [`Story::appetites`].
    pub(super) appetites: Vec<f64>,
}

/// A change as the follower wants it.
#[derive(Debug, Clone)]
enum Event {
    Load {
        count: f64,
        piece: usize,
        developer: usize,
        scatter: Vec<f64>,
    },
    Pour {
        litres: f64,
        strength: f64,
    },
    Lost(f64),
    VolumeIs(f64),
    /// What went through without being written down, until here.
    Uncounted,
    Reading(Evidence),
    Drops {
        developer: usize,
        per_litre: f64,
        error: f64,
        turn: f64,
    },
}

/// A life ready to be followed.
#[derive(Debug, Clone)]
pub(super) struct Story {
    litres: f64,
    events: Vec<Event>,
    /// Litres of the stated fresh bath that a litre of each developer spends.
    pub(super) appetite: Vec<f64>,
    /// Stated carry-over of each kind of piece, ml.
    pieces: Vec<f64>,
    /// The curve that holds now.
    pub(super) curve: Curve,
    pub(super) unknowns: Unknowns,
    /// Chance that a look tells something before a session.
    pub(super) read: f64,
}

impl Story {
    /// Solves the chemistry of a life.
    pub(super) fn new(life: &Life, spent: Ph) -> Result<Self, LifeError> {
        life.check()?;
        let mut curves = Curves::new(life, spent)?;
        let appetite = curves.single.iter().map(|curve| 1.0 / curve.appetite).collect::<Vec<_>>();
        let last_seen = life.steps.iter().rposition(|step| matches!(step.change, Change::Reading(_) | Change::DropTest(_)));
        let mut events = Vec::with_capacity(life.steps.len() + 1);
        for (at, step) in life.steps.iter().enumerate() {
            // Before the last look at an uncounted bath anything may have happened.
            let seen_too_early = !life.counted && last_seen.is_some_and(|last| at < last);
            if !life.counted && last_seen == Some(at) {
                events.push(Event::Uncounted);
            }
            curves.follow(&step.change);
            if !(seen_too_early && matches!(step.change, Change::Reading(_) | Change::DropTest(_) | Change::Load(_))) {
                events.extend(curves.event(at, &step.change)?);
            }
        }
        if !life.counted && last_seen.is_none() {
            events.push(Event::Uncounted);
        }
        let curve = curves.now()?;
        Ok(Story {
            litres: life.litres,
            events,
            appetite,
            pieces: life.pieces.iter().map(|piece| piece.carry_over).collect(),
            curve,
            unknowns: Unknowns::of(life),
            read: read(&life.steps),
        })
    }

    /// Carry-over of each kind of piece under a draw, ml.
    pub(super) fn carry_overs(&self, draw: &[f64]) -> Vec<f64> {
        self.pieces.iter().enumerate().map(|(piece, stated)| stated * self.unknowns.carry_over(piece, draw)).collect()
    }

    /// Reserve that a litre of each developer binds under a draw, in litres of the stated fresh bath.
    pub(super) fn appetites(&self, draw: &[f64]) -> Vec<f64> {
        self.appetite.iter().enumerate().map(|(developer, stated)| stated * self.unknowns.alkalinity(developer, draw)).collect()
    }

    /// True when the last look at what is in the bath now says that more is used than so: a reading, or a drop test that took too little.
    pub(super) fn is_seen_further(&self, bath: &Bath, draw: &[f64], appetites: &[f64]) -> bool {
        let now = self.events.iter().rev().take_while(|event| !matches!(event, Event::Pour { strength, .. } if *strength > 0.0));
        let look = now.into_iter().find_map(|event| match event {
            Event::Reading(evidence) => Some(evidence.is_above(bath.used(), self.unknowns.shared(draw))),
            Event::Drops { developer, per_litre, error, turn } => {
                let wanted = self.wanted(bath, turn + TURN_SPREAD * self.unknowns.turn(draw), appetites[*developer]);
                Some(per_litre + TWO_SIDED * error.hypot(DROP_SPREAD * wanted) < wanted)
            }
            _ => None,
        });
        look.unwrap_or(false)
    }

    /// Litres of a developer that a litre of bath takes until a drop test turns at this pH; below 0 when it has turned.
    fn wanted(&self, bath: &Bath, turn: f64, appetite: f64) -> f64 {
        (self.curve.used_at(turn) * bath.acid - bath.alkali) / appetite
    }

    /// What would be in the bath if every figure were as stated, but for the scatter of single loads.
    pub(super) fn stated(&self) -> Bath {
        self.follow(&vec![0.0; self.unknowns.count()], 0).bath
    }

    /// Follows the life with one draw; `number` tells draws apart for scatter. Gives what is in the bath and the log likelihood of what was seen.
    pub(super) fn follow(&self, draw: &[f64], number: usize) -> Followed {
        let (carry_overs, appetites) = (self.carry_overs(draw), self.appetites(draw));
        let strength = self.unknowns.strength(draw);
        let shared = self.unknowns.shared(draw);
        let turn = TURN_SPREAD * self.unknowns.turn(draw);
        let mut bath = Bath { litres: self.litres, acid: strength, alkali: 0.0 };
        let mut log = 0.0;
        for (at, event) in self.events.iter().enumerate() {
            match event {
                Event::Load { count, piece, developer, scatter } => {
                    let litres = count / 1000.0 * carry_overs[*piece] * scatter[(number.wrapping_mul(37) + 11 * at) % SCATTERED];
                    bath.take_up(litres, appetites[*developer]);
                }
                Event::Pour { litres, strength: poured } => bath.pour(*litres, poured * strength),
                Event::Lost(litres) => bath.litres = (bath.litres - litres).max(DREGS),
                Event::VolumeIs(litres) => bath.concentrate(*litres),
                Event::Uncounted => bath.alkali += bath.acid * self.unknowns.uncounted(draw).unwrap_or(0.0),
                Event::Reading(evidence) => log += evidence.log_likelihood(bath.used(), shared),
                Event::Drops { developer, per_litre, error, turn: ph } => {
                    let wanted = self.wanted(&bath, ph + turn, appetites[*developer]);
                    let distance = (per_litre - wanted) / error.hypot(DROP_SPREAD * wanted.max(0.0));
                    // Relative to a test that fits; 3 deviations wide where it went wrong.
                    log += ((1.0 - GROSS) * (-0.5 * distance * distance).exp() + GROSS * 0.1).ln();
                }
            }
        }
        Followed { bath, log, carry_overs, appetites }
    }
}

/// Chance that a look tells something before a session, from how often one did: weighed as much as [`KNOWN`] sessions is what people do.
fn read(steps: &[Step]) -> f64 {
    let (mut sessions, mut told, mut is_told, mut last) = (0.0, 0.0, false, None);
    for step in steps {
        match &step.change {
            Change::Reading(reading) => is_told |= reading.low.or(reading.high).or(reading.ph).is_some(),
            Change::DropTest(_) => is_told = true,
            // The first session of a fresh bath asks for no look.
            Change::Load(_) if last.is_none() => (is_told, last) = (false, Some(step.at)),
            Change::Load(_) if is_told || last.is_some_and(|last| step.at.saturating_sub(last) > SAME_SESSION) => {
                sessions += 1.0;
                told += f64::from(u8::from(is_told));
                (is_told, last) = (false, Some(step.at));
            }
            _ => {}
        }
    }
    (told + USUAL * KNOWN) / (sessions + KNOWN)
}

impl Bath {
    /// Each piece carries as much bath out as it carries developer in.
    fn take_up(&mut self, litres: f64, appetite: f64) {
        let stays = (-litres / self.litres).exp();
        self.acid *= stays;
        self.alkali = self.alkali * stays + appetite * (1.0 - stays);
    }

    fn pour(&mut self, litres: f64, strength: f64) {
        let whole = self.litres + litres;
        self.acid = (self.acid * self.litres + strength.max(0.0) * litres) / whole;
        self.alkali = (self.alkali * self.litres + (-strength).max(0.0) * litres) / whole;
        self.litres = whole;
    }

    /// Water alone has come or gone.
    fn concentrate(&mut self, litres: f64) {
        let factor = self.litres / litres;
        *self = Bath { litres, acid: self.acid * factor, alkali: self.alkali * factor };
    }
}

/// Curves for what is in the bath, worked out once for each mixture met.
struct Curves<'a> {
    life: &'a Life,
    spent: Ph,
    /// The fresh bath with each developer alone.
    single: Vec<Curve>,
    /// Volume of acid baths poured, by kind, and of developers carried in, as stated: which acid and which developer prevail.
    acids: Vec<(Liquid, f64)>,
    developers: Vec<f64>,
    made: Vec<(Vec<i64>, Curve)>,
    fresh_reserve: f64,
}

impl<'a> Curves<'a> {
    fn new(life: &'a Life, spent: Ph) -> Result<Self, LifeError> {
        let fresh_reserve = life.fresh.reserve(spent, life.temperature)?.value();
        let single = life
            .developers
            .iter()
            .map(|developer| {
                let named = |e| match e {
                    LifeError::Powerless { lacking: lacking @ "alkalinity", .. } => {
                        LifeError::Powerless { what: developer.name.clone(), lacking }
                    }
                    other => other,
                };
                Curve::new(&life.fresh, &developer.liquid, spent, life.temperature).map_err(named)
            })
            .collect::<Result<Vec<_>, _>>()?;
        let developers = vec![0.0; life.developers.len()];
        Ok(Curves { life, spent, single, acids: vec![(life.fresh.clone(), life.litres)], developers, made: Vec::new(), fresh_reserve })
    }

    fn follow(&mut self, change: &Change) {
        match change {
            Change::Load(load) => self.developers[load.developer] += load.count * self.life.pieces[load.piece].carry_over / 1000.0,
            Change::TopUp { litres, liquid } => match self.acids.iter_mut().find(|(known, _)| known == liquid) {
                Some((_, poured)) => *poured += litres,
                None => self.acids.push((liquid.clone(), *litres)),
            },
            _ => {}
        }
    }

    fn event(&mut self, at: usize, change: &Change) -> Result<Option<Event>, LifeError> {
        Ok(match change {
            Change::Load(load) => Some(Event::Load {
                count: load.count,
                piece: load.piece,
                developer: load.developer,
                scatter: scattered(load.count_spread.hypot(PIECE_SCATTER / load.count.max(1.0).sqrt()), at),
            }),
            Change::TopUp { litres, liquid } => {
                let strength = liquid.reserve(self.spent, self.life.temperature)?.value() / self.fresh_reserve;
                Some(Event::Pour { litres: *litres, strength })
            }
            Change::Water { litres } => Some(Event::Pour { litres: *litres, strength: 0.0 }),
            Change::Lost { litres } => Some(Event::Lost(*litres)),
            Change::VolumeIs { litres } => Some(Event::VolumeIs(*litres)),
            Change::Reading(reading) => {
                let temperature = self.life.temperature;
                let most = if self.life.counted { MOST } else { MOST_UNCOUNTED };
                Evidence::new(reading, &self.now()?, temperature, most).map(Event::Reading)
            }
            Change::DropTest(test) => Some(drops(test)),
        })
    }

    /// The curve for what has come together so far.
    fn now(&mut self) -> Result<Curve, LifeError> {
        if self.acids.len() == 1 {
            match self.life.developers.len() {
                0 => {}
                1 => return Ok(self.single[0].clone()),
                _ => {
                    // One that has brought nine tenths of the alkali prevails.
                    let brought: Vec<f64> = self.developers.iter().zip(&self.single).map(|(v, curve)| v / curve.appetite).collect();
                    let all: f64 = brought.iter().sum();
                    if let Some(i) = brought.iter().position(|b| *b >= 0.9 * all) {
                        return Ok(self.single[i].clone());
                    }
                }
            }
        }
        self.mixed()
    }

    fn mixed(&mut self) -> Result<Curve, LifeError> {
        let tenths = |parts: &[f64]| {
            let whole: f64 = parts.iter().sum::<f64>().max(f64::MIN_POSITIVE);
            parts.iter().map(|part| (10.0 * part / whole).round() as i64).collect::<Vec<_>>()
        };
        let acids: Vec<f64> = self.acids.iter().map(|(_, litres)| *litres).collect();
        let mut key = tenths(&acids);
        key.extend(tenths(&self.developers));
        if let Some((_, curve)) = self.made.iter().find(|(known, _)| *known == key) {
            return Ok(curve.clone());
        }
        let acid = blend(self.acids.iter().map(|(liquid, litres)| (liquid, *litres)));
        let carried = self.life.developers.iter().map(|developer| &developer.liquid).zip(self.developers.iter().copied());
        let developer = if self.developers.iter().all(|litres| *litres <= 0.0) { plain_alkali(self.life) } else { blend(carried) };
        let curve = Curve::new(&acid, &developer, self.spent, self.life.temperature)?;
        self.made.push((key, curve.clone()));
        Ok(curve)
    }
}

/// What comes of pouring all together.
fn blend<'l>(parts: impl Iterator<Item = (&'l Liquid, f64)>) -> Liquid {
    parts
        .filter(|(_, litres)| *litres > 0.0)
        .fold((Liquid::water(), 0.0), |(mixed, whole), (liquid, litres)| (mixed.mixed(whole, liquid, litres), whole + litres))
        .0
}

/// A developer that nobody named: the first on the list, else the commonest paper developer, else pure alkali.
fn plain_alkali(life: &Life) -> Liquid {
    let listed = life.developers.first().map(|developer| developer.liquid.clone());
    listed.or_else(|| developer::find("carbonate-1+2").ok().map(developer::Developer::liquid)).unwrap_or_else(|| {
        // 500 meq/l is a paper developer at working strength.
        MeqPerLitre::new(500.0).map_or_else(|_| Liquid::water(), |alkali| Liquid::water().with_alkali(alkali))
    })
}

fn drops(test: &DropTest) -> Event {
    Event::Drops { developer: test.developer, per_litre: test.used / test.bath, error: DROP / test.bath, turn: test.turn.value() }
}

/// Evenly spread factors of this spread with mean logarithm 0, in an order of its own for each load.
fn scattered(spread: f64, at: usize) -> Vec<f64> {
    let value = |i: usize| (spread * super::normal::quantile((i as f64 + 0.5) / SCATTERED as f64)).exp();
    // Odd multipliers run through all residues of a power of two.
    (0..SCATTERED).map(|i| value((i * (2 * (at * 7 % 31) + 1) + 5 * at) % SCATTERED)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::example::{ROLLS, load, yellow};
    use super::super::life::Reading;
    use super::*;
    use approx::assert_abs_diff_eq;

    // By hand: before the second and the fourth of four sessions a look told something; the first asks for none, and two loads of one evening are one session: 2 of 3, with 3.5 of 5 for
    // what people do.
    #[test]
    fn how_often_a_look_tells_something_is_learnt() {
        let day = |days: i64, change: Change| Step { at: 86_400 * days, change };
        let unclear = Change::Reading(Reading::default());
        assert_abs_diff_eq!(read(&[]), 0.7);
        assert_abs_diff_eq!(read(&[day(0, yellow()), day(0, load(2.0, ROLLS))]), 0.7);
        let steps = [
            day(0, load(2.0, ROLLS)),
            day(3, yellow()),
            day(3, load(2.0, ROLLS)),
            day(3, load(1.0, ROLLS)),
            day(6, unclear),
            day(6, load(2.0, ROLLS)),
            day(9, yellow()),
            day(9, load(2.0, ROLLS)),
        ];
        assert_abs_diff_eq!(read(&steps), 5.5 / 8.0, epsilon = 1e-12);
    }
}
