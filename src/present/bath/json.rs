//! Baths for programs. The fields are described in `README.md`.

use super::judged::{self, Judged};
use super::words;
use crate::logbook::advice::Planned;
use crate::logbook::belief::Range;
use crate::logbook::event::{Entry, Load, Mixed, Reading};
use crate::logbook::finding::Finding;
use crate::logbook::ledger::{Bath, Standing};
use crate::logbook::trace::{Proof, Session};
use crate::present::number::rounded;
use serde::Serialize;
use std::collections::BTreeMap;

/// Version of the fields; raised when one changes its meaning or goes away, not when one is added.
const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct BathField<'a> {
    schema: u32,
    id: &'a str,
    name: &'a str,
    place: Option<&'a str>,
    state: &'static str,
    discarded: Option<&'a str>,
    mixed: &'a str,
    age_days: i64,
    volume_ml: Option<f64>,
    pieces: &'a BTreeMap<String, f64>,
    carried_ml: Option<f64>,
    bound_meq: Option<f64>,
    reserve_meq: Option<f64>,
    share: Option<f64>,
    guessed: bool,
    judgement: Option<JudgementField>,
    last_reading: Option<ReadingField<'a>>,
    findings: Vec<FindingField>,
    #[serde(skip_serializing_if = "Option::is_none")]
    start: Option<&'a Mixed>,
    #[serde(skip_serializing_if = "Option::is_none")]
    entries: Option<Vec<EntryField<'a>>>,
}

#[derive(Serialize)]
struct JudgementField {
    state: &'static str,
    basis: &'static str,
    fresh: Option<f64>,
    nearing: Option<f64>,
    spent: Option<f64>,
    used: [Option<f64>; 3],
    ph: [Option<f64>; 3],
    left: Vec<LeftField>,
    advice: Option<AdviceField>,
}

/// In pieces of the first of `left`.
#[derive(Serialize)]
struct AdviceField {
    session: Option<f64>,
    run: Option<f64>,
    replace: bool,
    risk: Option<f64>,
    risk_of_all: Option<f64>,
}

#[derive(Serialize)]
struct LeftField {
    piece: String,
    developer: String,
    pieces: [Option<f64>; 3],
    safe: Option<f64>,
}

#[derive(Serialize)]
struct ReadingField<'a> {
    happened: &'a str,
    who: &'a str,
    #[serde(flatten)]
    reading: &'a Reading,
}

#[derive(Serialize)]
struct FindingField {
    code: &'static str,
    message: String,
    hint: &'static str,
}

#[derive(Serialize)]
struct EntryField<'a> {
    counts: bool,
    #[serde(flatten)]
    entry: &'a Entry,
}

/// A bath at a glance, one line.
///
/// # Errors
/// What the writer says.
pub fn list(bath: &Bath, now: i64) -> Result<String, String> {
    told(&bath_field(bath, &bath.standing(), now, Planned::Usual))
}

/// A bath with its beginning and all its entries, and advice on this session, one line.
///
/// # Errors
/// What the writer says.
pub fn show(bath: &Bath, now: i64, planned: Planned) -> Result<String, String> {
    let standing = bath.standing();
    let entries = bath.entries.iter().map(|entry| EntryField { counts: !bath.undone.contains(&entry.id), entry }).collect();
    told(&BathField { start: Some(&bath.start), entries: Some(entries), ..bath_field(bath, &standing, now, planned) })
}

fn bath_field<'a>(bath: &'a Bath, standing: &'a Standing, now: i64, planned: Planned) -> BathField<'a> {
    let judged = judged::judged_for(bath, now, planned).ok();
    BathField {
        schema: SCHEMA,
        id: bath.mixed.id.text(),
        name: &bath.start.name,
        place: bath.start.place.as_deref(),
        state: crate::present::words::state(judged::state(bath, judged.as_ref())),
        judgement: judged.as_ref().filter(|_| bath.discarded().is_none()).map(judgement_field),
        discarded: bath.discarded().map(|entry| entry.happened.text()),
        mixed: bath.mixed.happened.text(),
        age_days: words::days(bath, now),
        volume_ml: rounded(standing.volume_ml, 1),
        pieces: &standing.pieces,
        carried_ml: rounded(standing.carried_ml, 1),
        bound_meq: rounded(standing.bound_meq, 2),
        reserve_meq: rounded(standing.reserve_meq, 2),
        share: rounded(standing.share(), 3),
        guessed: standing.guessed,
        last_reading: bath.readings().next_back().map(|(entry, reading)| reading_field(entry, reading)),
        findings: bath.findings(now).iter().map(finding_field).collect(),
        start: None,
        entries: None,
    }
}

/// Lower end, likely, upper end.
fn ends(range: Range, places: i32) -> [Option<f64>; 3] {
    [range.low, range.likely, range.high].map(|v| rounded(v, places))
}

fn judgement_field(judged: &Judged) -> JudgementField {
    let Judged { life, judgement, .. } = judged;
    let left = judgement.left.iter().zip(&judgement.safe).map(|(left, safe)| LeftField {
        piece: life.pieces[left.kind.piece].name.clone(),
        developer: life.developers[left.kind.developer].name.clone(),
        pieces: ends(left.pieces, 1),
        safe: rounded(*safe, 0),
    });
    JudgementField {
        state: crate::present::words::state(judgement.state),
        basis: judged::basis(judgement.basis),
        fresh: rounded(judgement.chance.fresh, 4),
        nearing: rounded(judgement.chance.nearing, 4),
        spent: rounded(judgement.chance.spent, 4),
        used: ends(judgement.used, 3),
        ph: ends(judgement.ph, 2),
        left: left.collect(),
        advice: judgement.advice.map(|advice| AdviceField {
            session: rounded(advice.session, 1),
            run: rounded(advice.run, 1),
            replace: advice.replace,
            risk: rounded(advice.risk, 4),
            risk_of_all: rounded(advice.risk_of_all, 4),
        }),
    }
}

fn reading_field<'a>(entry: &'a Entry, reading: &'a Reading) -> ReadingField<'a> {
    ReadingField { happened: entry.happened.text(), who: &entry.who, reading }
}

fn finding_field(finding: &Finding) -> FindingField {
    let (message, hint) = words::finding(finding);
    let code = match finding {
        Finding::Backward { .. } => "backward",
        Finding::Spread { .. } => "spread",
        Finding::ToppedUp { .. } => "topped-up",
        Finding::SamePhoto { .. } => "same-photo",
        Finding::MixedWork => "mixed-work",
        Finding::WrongWork { .. } => "wrong-work",
        Finding::Overdrawn => "overdrawn",
        Finding::Old { .. } => "old",
        Finding::AfterDiscard { .. } => "after-discard",
        Finding::BeforeMix { .. } => "before-mix",
        Finding::Future { .. } => "future",
    };
    FindingField { code, message, hint }
}

#[derive(Serialize)]
struct SessionField<'a> {
    schema: u32,
    bath: &'a str,
    name: &'a str,
    age_days: i64,
    entry: &'a str,
    happened: &'a str,
    load: &'a Load,
    pieces_before: &'a BTreeMap<String, f64>,
    share_before: Option<f64>,
    share_after: Option<f64>,
    last_reading: Option<ReadingField<'a>>,
    next_reading: Option<ReadingField<'a>>,
    topped_between: bool,
    proof: &'static str,
    message: &'static str,
    findings: Vec<FindingField>,
    suspects: &'static str,
}

/// One load with what was known of its bath then, one line.
///
/// # Errors
/// What the writer says.
pub fn trace(session: &Session) -> Result<String, String> {
    let proof = match session.proof {
        Proof::ClearedAfter => "cleared-after",
        Proof::ClearedBefore => "cleared-before",
        Proof::BlamedByReading => "blamed-by-reading",
        Proof::BlamedByCount => "blamed-by-count",
        Proof::Neither => "neither",
    };
    told(&SessionField {
        schema: SCHEMA,
        bath: session.bath.text(),
        name: &session.name,
        age_days: session.age_days,
        entry: session.entry.id.text(),
        happened: session.entry.happened.text(),
        load: &session.load,
        pieces_before: &session.before.pieces,
        share_before: rounded(session.before.share(), 3),
        share_after: rounded(session.after.share(), 3),
        last_reading: session.last.as_ref().map(|(entry, reading)| reading_field(entry, reading)),
        next_reading: session.next.as_ref().map(|(entry, reading)| reading_field(entry, reading)),
        topped_between: session.topped_between,
        proof,
        message: words::proof(session.proof),
        findings: session.findings.iter().map(finding_field).collect(),
        suspects: words::SUSPECTS,
    })
}

fn told(field: &impl Serialize) -> Result<String, String> {
    serde_json::to_string(field).map_err(|e| e.to_string())
}
