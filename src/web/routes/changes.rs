//! What happens to a bath besides loads: topped up, measured, tested, read by hand, noted.

use super::baths::{developer, led, recipe, redirected};
use crate::desk::change::{self, ByHand};
use crate::desk::typed;
use crate::logbook::event::Event;
use crate::logbook::ledger::Bath;
use crate::logbook::recipe::Acid;
use crate::measurement::request::Limits;
use crate::quantity::Ph;
use crate::web::app::App;
use crate::web::fields::{Fields, Writer};
use crate::web::problem::Problem;
use axum::Router;
use axum::extract::State;
use axum::response::Response;
use axum::routing::post;
use std::sync::Arc;

/// What may be poured in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Poured {
    Same,
    Water,
    Other,
}

/// What is told of a volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Told {
    Now,
    Gone,
}

pub(super) fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/log/top-up", post(top_up))
        .route("/log/volume", post(volume))
        .route("/log/drop-test", post(drop_test))
        .route("/log/reading", post(reading))
        .route("/log/note", post(note))
}

/// Writes an event about the bath that the form names, once.
async fn written(
    app: &App,
    who: String,
    fields: &Fields,
    make: impl FnOnce(&Bath) -> Result<Event, crate::desk::book::BookError> + Send + 'static,
) -> Result<Response, Problem> {
    let bath = fields.text("bath").to_owned();
    let written = app.write_once(fields, who, move |book, by| led(book, &book.add(by, &bath, make)?)).await?;
    Ok(redirected(written, fields))
}

fn millilitres(fields: &Fields) -> Result<f64, Problem> {
    typed::volume(fields.text("volume")).map(|volume| volume.value()).map_err(|text| Problem::typed("the volume", &text))
}

async fn top_up(State(app): State<Arc<App>>, Writer(who): Writer, fields: Fields) -> Result<Response, Problem> {
    let volume_ml = millilitres(&fields)?;
    let poured = fields.one_of("what", &[("same", Poured::Same), ("water", Poured::Water), ("other", Poured::Other)])?;
    let other = match poured {
        Poured::Other => {
            let acids: Vec<(&str, Acid)> = Acid::ALL.into_iter().map(|acid| (acid.name(), acid)).collect();
            Some(recipe(fields.one_of("acid", &acids)?, &fields)?)
        }
        Poured::Same | Poured::Water => None,
    };
    let make =
        move |bath: &Bath| Ok(Event::TopUp { volume_ml, recipe: if poured == Poured::Same { Some(bath.start.recipe) } else { other } });
    written(&app, who, &fields, make).await
}

async fn volume(State(app): State<Arc<App>>, Writer(who): Writer, fields: Fields) -> Result<Response, Problem> {
    let volume_ml = millilitres(&fields)?;
    let event = match fields.one_of("what", &[("now", Told::Now), ("gone", Told::Gone)])? {
        Told::Now => Event::Volume { volume_ml },
        Told::Gone => Event::Lost { volume_ml },
    };
    written(&app, who, &fields, move |_| Ok(event)).await
}

async fn drop_test(State(app): State<Arc<App>>, Writer(who): Writer, fields: Fields) -> Result<Response, Problem> {
    let number = |name: &str, words: &str| typed::number(fields.text(name)).map_err(|text| Problem::typed(words, &text));
    let (bath_ml, used_ml) = (number("sample", "the sample of bath")?, number("used", "the developer used")?);
    let told = developer(&fields)?;
    let make = move |bath: &Bath| change::drop_test(bath, bath_ml, used_ml, told);
    written(&app, who, &fields, make).await
}

async fn reading(State(app): State<Arc<App>>, Writer(who): Writer, fields: Fields) -> Result<Response, Problem> {
    let ph = |name: &str| {
        let told = fields.told(name).map(|text| typed::quantity(text, Ph::new));
        told.transpose().map_err(|text| Problem::typed("the pH", &text))
    };
    let by_hand = ByHand {
        ph: ph("ph")?,
        low: ph("low")?,
        high: ph("high")?,
        means: fields.told("with").unwrap_or("hand").to_owned(),
        light: fields.told("light").map(str::to_owned),
    };
    written(&app, who, &fields, move |_| Ok(Event::Reading(by_hand.reading(Limits::USUAL)))).await
}

async fn note(State(app): State<Arc<App>>, Writer(who): Writer, fields: Fields) -> Result<Response, Problem> {
    if fields.told("note").is_none() {
        return Err(Problem::form("the note is empty", "write something"));
    }
    written(&app, who, &fields, |_| Ok(Event::Note)).await
}
