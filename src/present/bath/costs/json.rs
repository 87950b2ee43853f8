//! What baths have cost, for programs. The fields are described in `README.md`.

use super::Account;
use crate::present::number::rounded;
use serde::Serialize;
use std::collections::BTreeMap;

/// Version of the fields; raised when one changes its meaning or goes away, not when one is added.
const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct AccountField<'a> {
    schema: u32,
    currency: &'a str,
    since: Option<&'a str>,
    until: Option<&'a str>,
    baths: Vec<BathField<'a>>,
    kinds: Vec<KindField<'a>>,
    batches: usize,
    unpriced: usize,
    unpriced_top_ups: usize,
    earlier_loads: usize,
    litres: Option<f64>,
    total: Option<f64>,
    fee: Option<f64>,
    per_litre: Option<f64>,
    per_batch: Option<f64>,
    per_roll: Option<f64>,
    per_sheet: Option<f64>,
    per_piece: Option<f64>,
    bath_per_piece_ml: Option<f64>,
    per_pupil: Option<f64>,
    one_shot: Option<OnceField>,
    advice: Option<&'static str>,
}

#[derive(Serialize)]
struct BathField<'a> {
    id: &'a str,
    name: &'a str,
    mixed: &'a str,
    discarded: Option<&'a str>,
    litres: Option<f64>,
    price: Option<f64>,
    pieces: BTreeMap<String, f64>,
}

#[derive(Serialize)]
struct KindField<'a> {
    kind: &'a str,
    count: Option<f64>,
    each: Option<f64>,
    all: Option<f64>,
}

#[derive(Serialize)]
struct OnceField {
    volume_ml: f64,
    per_piece: Option<f64>,
    total: Option<f64>,
}

/// The account as one line, without the line feed.
///
/// # Errors
/// When serialising fails, which these fields cannot.
pub fn line(account: &Account<'_>) -> Result<String, serde_json::Error> {
    // A millionth of any currency is below anything that is paid.
    let amount = |value: Option<f64>| value.and_then(|v| rounded(v, 6));
    let (costs, terms) = (&account.costs, &account.terms);
    let baths = account.baths.iter().map(|(bath, batch)| BathField {
        id: bath.mixed.id.text(),
        name: &bath.start.name,
        mixed: bath.mixed.happened.text(),
        discarded: bath.discarded().map(|entry| entry.happened.text()),
        litres: rounded(batch.litres, 4),
        price: amount(batch.price.map(|price| price.value())),
        pieces: bath.standing().pieces,
    });
    let kinds = costs.kinds.iter().map(|kind| KindField {
        kind: &kind.name,
        count: rounded(kind.count, 2),
        each: amount(Some(kind.each())),
        all: amount(Some(kind.cost)),
    });
    serde_json::to_string(&AccountField {
        schema: SCHEMA,
        currency: &terms.currency,
        since: terms.period.0.as_deref(),
        until: terms.period.1.as_deref(),
        baths: baths.collect(),
        kinds: kinds.collect(),
        batches: costs.batches,
        unpriced: costs.unpriced,
        unpriced_top_ups: account.unpriced_top_ups,
        earlier_loads: terms.earlier_loads,
        litres: rounded(costs.litres, 4),
        total: amount(Some(costs.total)),
        fee: amount(Some(costs.fee)),
        per_litre: amount(costs.per_litre()),
        per_batch: amount(costs.per_batch()),
        per_roll: amount(costs.per_roll()),
        per_sheet: amount(costs.per_sheet()),
        per_piece: amount(costs.per_piece()),
        bath_per_piece_ml: costs.bath_per_piece().and_then(|ml| rounded(ml, 1)),
        per_pupil: amount(terms.pupils.and_then(|pupils| costs.per_pupil(pupils))),
        one_shot: costs.once.map(|once| OnceField {
            volume_ml: once.volume.value(),
            per_piece: amount(Some(once.per_piece)),
            total: amount(Some(once.total)),
        }),
        advice: account.advice(),
    })
}
