//! The report of many photos as one page that needs nothing else: no network, no script, no font, no file beside it.
//!
//! A page is made in parts, so that whoever writes it need not hold it: [`section`] is one photo, [`head`] and [`foot`] go around
//! the index and the sections, which stand in the order of [`Urgency`].

use super::drawing::Drawing;
use super::svg::{self, escaped};
use super::tally::Tally;
use super::{Entry, Failure, number, sheet, symbol, words};
use crate::measurement::frame::Frame;
use crate::measurement::reading::{CupReading, Reading, State};
use crate::measurement::request::Request;
use crate::measurement::warning::Notice;
use std::fmt::Write as _;

/// How soon somebody has to act on a photo: spent baths first, then those of which nothing is known, for they may be spent too.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Urgency {
    /// At least one cup is spent.
    Spent,
    /// At least one cup, or the photo as a whole, is unclear.
    Unclear,
    /// The photo could not be read.
    Failed,
    /// At least one cup is nearing exhaustion.
    Nearing,
    /// All cups are fresh.
    Fresh,
}

impl Urgency {
    /// That of one photo: of its worst cup.
    #[must_use]
    pub fn of(entry: &Entry) -> Self {
        let Ok(reading) = &entry.outcome else { return Urgency::Failed };
        let worst = reading.cups.iter().map(|cup| match cup.state {
            State::Spent => Urgency::Spent,
            State::Unclear => Urgency::Unclear,
            State::Nearing => Urgency::Nearing,
            State::Fresh => Urgency::Fresh,
        });
        worst.min().unwrap_or(Urgency::Unclear)
    }

    fn word(self) -> &'static str {
        match self {
            Urgency::Spent => words::state(State::Spent),
            Urgency::Unclear => words::state(State::Unclear),
            Urgency::Failed => "failed",
            Urgency::Nearing => words::state(State::Nearing),
            Urgency::Fresh => words::state(State::Fresh),
        }
    }
}

/// One photo's part of the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Section {
    /// Where it stands on the page.
    pub urgency: Urgency,
    /// Its row of the index.
    pub row: String,
    /// Its article.
    pub article: String,
}

/// The two pictures of a photo that was read.
#[derive(Debug)]
pub struct Pictures {
    photo: Drawing,
    curve: Drawing,
}

/// Lays out the pictures of one photo; the pixels are needed no longer afterwards.
#[must_use]
pub fn pictures(name: &str, frame: &Frame, reading: &Reading, request: &Request) -> Pictures {
    Pictures { photo: sheet::overlaid(name, frame, reading), curve: sheet::curve(name, reading, request) }
}

/// The part of one photo; `number` counts from 1 in the order of reading and makes the address of the article.
#[must_use]
pub fn section(number: usize, entry: &Entry, pictures: Option<&Pictures>) -> Section {
    let urgency = Urgency::of(entry);
    let name = escaped(&words::printable(&entry.photo));
    let row = format!(
        "<tr><td><a href=\"#photo-{number}\">{name}</a></td><td class=\"state\">{}</td><td>{}</td></tr>\n",
        marked(urgency),
        escaped(&in_short(entry))
    );
    let mut article = format!("<article id=\"photo-{number}\" aria-labelledby=\"name-{number}\">\n<h2 id=\"name-{number}\">{name}</h2>\n");
    match &entry.outcome {
        Ok(reading) => read(&mut article, entry, reading, pictures),
        Err(failure) => failed(&mut article, failure),
    }
    article.push_str("</article>\n");
    Section { urgency, row, article }
}

/// A state as its shape and its word.
fn marked(urgency: Urgency) -> String {
    let word = urgency.word();
    match urgency {
        // No reading is no state, so it has no shape of one.
        Urgency::Failed => word.to_owned(),
        _ => format!("<svg class=\"mark\" aria-hidden=\"true\"><use href=\"#mark-{word}\"/></svg>{word}"),
    }
}

fn of_state(state: State) -> Urgency {
    match state {
        State::Spent => Urgency::Spent,
        State::Unclear => Urgency::Unclear,
        State::Nearing => Urgency::Nearing,
        State::Fresh => Urgency::Fresh,
    }
}

/// What the index says of a photo.
fn in_short(entry: &Entry) -> String {
    let reading = match &entry.outcome {
        Err(failure) => return failure.message.clone(),
        Ok(reading) if reading.cups.is_empty() => {
            return words::by_gravity(&reading.warnings).first().map_or_else(|| words::NOTHING_TO_JUDGE.to_owned(), |n| words::message(n));
        }
        Ok(reading) => reading,
    };
    if reading.warnings.iter().any(Notice::refuses) {
        return words::by_gravity(&reading.warnings).first().map_or_else(String::new, |notice| words::message(notice));
    }
    // More than a few cups would drown the rest.
    let mut parts: Vec<String> = reading.cups.iter().take(4).map(|cup| format!("{}: {}", words::cup(cup), ph(cup))).collect();
    if reading.cups.len() > 4 {
        parts.push(format!("and {} more", reading.cups.len() - 4));
    }
    parts.join("; ")
}

fn ph(cup: &CupReading) -> String {
    number::ph(cup.ph, cup.ph_low, cup.ph_high).map_or_else(|| words::PH_UNKNOWN.to_owned(), |ph| format!("pH {ph}"))
}

fn read(out: &mut String, entry: &Entry, reading: &Reading, pictures: Option<&Pictures>) {
    let mut about = Vec::new();
    if let Some(taken) = &entry.taken {
        about.push(format!("taken {}", words::printable(taken)));
    }
    if let Some(camera) = &entry.camera {
        about.push(words::printable(camera));
    }
    if let Some(light) = words::light(reading) {
        about.push(format!("light: {light}"));
    }
    if !about.is_empty() {
        let _ = writeln!(out, "<p class=\"about\">{}</p>", escaped(&about.join("; ")));
    }
    if reading.cups.is_empty() {
        let _ = writeln!(out, "<p class=\"state\">{}: {}</p>", marked(Urgency::Unclear), words::NOTHING_TO_JUDGE);
    } else {
        table(out, reading);
    }
    if let Some(Pictures { photo, curve }) = pictures {
        let _ = writeln!(out, "<div class=\"pictures\" style=\"--lanes:{}\">", reading.cups.len().min(sheet::MOST_LANES));
        let _ = writeln!(out, "<figure>{}</figure>\n<figure>{}</figure>\n</div>", svg::inline(photo), svg::inline(curve));
    }
    let said = sheet::sentences(reading);
    if !said.is_empty() {
        out.push_str("<ul>\n");
        for (text, _) in said {
            match text.strip_prefix("- ") {
                Some(hint) => {
                    let _ = writeln!(out, "<li class=\"hint\">hint: {}</li>", escaped(hint));
                }
                None => {
                    let _ = writeln!(out, "<li>{}</li>", escaped(&text));
                }
            }
        }
        out.push_str("</ul>\n");
    }
}

/// The figures of each cup.
fn table(out: &mut String, reading: &Reading) {
    const COLUMNS: [&str; 6] = ["cup", "state", "pH (95 % interval)", "chance of each state", "dye turned", "optical dose"];
    out.push_str("<table class=\"cups\"><thead><tr>");
    for column in COLUMNS {
        let _ = write!(out, "<th scope=\"col\">{column}</th>");
    }
    out.push_str("</tr></thead><tbody>\n");
    for cup in &reading.cups {
        let chance = cup.chance.map_or_else(|| "-".to_owned(), |chance| words::chances(&chance));
        let turned = cup.base_fraction.filter(|v| v.is_finite()).map_or_else(|| "-".to_owned(), number::percent);
        let dose = cup.dose.filter(|v| v.is_finite()).map_or_else(|| "-".to_owned(), number::one_decimal);
        let _ = write!(out, "<tr><th scope=\"row\">{}</th>", escaped(&words::cup(cup)));
        let _ = write!(out, "<td class=\"state\" data-name=\"{}\">{}</td>", COLUMNS[1], marked(of_state(cup.state)));
        for (column, text) in COLUMNS[2..].iter().zip([ph(cup), chance, turned, dose]) {
            let _ = write!(out, "<td data-name=\"{column}\">{}</td>", figures(&text));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table>\n");
}

/// Text with figures, which keep their per cent signs.
fn figures(text: &str) -> String {
    escaped(text).replace(" %", "\u{a0}%")
}

fn failed(out: &mut String, failure: &Failure) {
    let _ = writeln!(out, "<p><span class=\"state\">failed:</span> {}</p>", escaped(&words::printable(&failure.message)));
    if let Some(hint) = &failure.hint {
        let _ = writeln!(out, "<p class=\"hint\">hint: {}</p>", escaped(hint));
    }
}

/// The page up to the rows of the index.
#[must_use]
pub fn head(tally: &Tally) -> String {
    let photos = tally.read + tally.failed;
    let title = format!("Stop bath readings of {photos} photo{}", if photos == 1 { "" } else { "s" });
    let opening = opening(&title, "default-src 'none'; img-src data:; style-src 'unsafe-inline'");
    format!(
        "{opening}{}<h1>{title}</h1>\n<p>{}.</p>\n<main>\n<table class=\"index\">\n<caption>{}</caption>\n\
         <thead><tr><th scope=\"col\">photo</th><th scope=\"col\">worst state</th><th scope=\"col\">cups</th></tr></thead>\n<tbody>\n",
        marks(),
        escaped(&tally.sentence()),
        words::ORDER_OF_REPORT,
    )
}

/// Between the rows of the index and the articles.
#[must_use]
pub fn middle() -> &'static str {
    "</tbody>\n</table>\n"
}

/// A whole page with one subject, which needs nothing else; `body` is markup.
pub(super) fn alone(title: &str, body: &str) -> String {
    let title = escaped(&words::printable(title));
    opening(&title, "default-src 'none'; style-src 'unsafe-inline'") + &format!("<h1>{title}</h1>\n<main>\n{body}") + &foot()
}

/// A page up to its body. The policy keeps a browser from asking for anything, whatever may have slipped into the page.
fn opening(title: &str, policy: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{title}</title>\n<style>\n{}</style>\n</head>\n<body>\n",
        include_str!("report.css"),
    )
}

/// The end of the page.
#[must_use]
pub fn foot() -> String {
    format!("</main>\n<footer class=\"cautions\"><h2>Cautions</h2>\n<p>{}</p></footer>\n</body>\n</html>\n", escaped(words::CAUTIONS))
}

/// The shapes of the states, drawn once and used wherever a state is named.
fn marks() -> String {
    let mut out = String::from("<svg width=\"0\" height=\"0\" style=\"position:absolute\" aria-hidden=\"true\">\n");
    for state in [State::Spent, State::Nearing, State::Fresh, State::Unclear] {
        let mut drawing = Drawing { width: 24.0, height: 24.0, title: String::new(), items: Vec::new() };
        symbol::draw(&mut drawing, state, (12.0, 12.0), 10.0);
        let _ = writeln!(out, "<symbol id=\"mark-{}\" viewBox=\"0 0 24 24\">\n{}</symbol>", words::state(state), svg::elements(&drawing));
    }
    out.push_str("</svg>\n");
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::examples;

    fn page(entries: &[Entry]) -> String {
        let mut tally = Tally::default();
        entries.iter().for_each(|entry| tally.add(entry));
        let sections: Vec<Section> = entries.iter().enumerate().map(|(i, entry)| section(i + 1, entry, None)).collect();
        let rows: String = sections.iter().map(|s| s.row.as_str()).collect();
        let articles: String = sections.iter().map(|s| s.article.as_str()).collect();
        head(&tally) + &rows + middle() + &articles + &foot()
    }

    #[test]
    fn what_needs_somebody_comes_first() {
        let mut order = [
            examples::entry("fresh.jpg", examples::fresh_cup()),
            examples::failed("failed.jpg"),
            examples::entry("none.jpg", examples::no_cup()),
            examples::entry("three.jpg", examples::three_cups()),
        ];
        order.sort_by_key(Urgency::of);
        assert_eq!(order.map(|e| e.photo), ["three.jpg", "none.jpg", "failed.jpg", "fresh.jpg"]);
    }

    #[test]
    fn names_from_outside_stay_text() {
        let nasty = "<script>alert(\"x\")</script> & 'a\u{1b}.jpg";
        let mut reading = examples::three_cups();
        reading.cups[0].label = Some("<b>tray</b>".to_owned());
        let mut entry = examples::entry(nasty, reading);
        entry.camera = Some("<img src=x onerror=alert(1)>".to_owned());
        entry.taken = Some("\"><i>".to_owned());
        let mut failed = examples::failed(nasty);
        failed.outcome = Err(Failure { code: "damaged".to_owned(), message: "<u>".to_owned(), hint: Some("<s>".to_owned()) });
        let text = page(&[entry, failed]);
        for wrong in ["<script", "<b>", "<img", "<i>", "<u>", "<s>", "\u{1b}"] {
            assert!(!text.contains(wrong), "{wrong}");
        }
        assert!(text.contains("&lt;script&gt;"));
    }

    #[test]
    fn every_element_is_closed() {
        let text = page(&[
            examples::entry("a.jpg", examples::three_cups()),
            examples::failed("b.jpg"),
            examples::entry("c.jpg", examples::no_cup()),
        ]);
        for name in
            ["html", "head", "body", "main", "table", "tbody", "tr", "td", "article", "ul", "li", "svg", "symbol", "style", "footer"]
        {
            let opened = text.matches(&format!("<{name}>")).count() + text.matches(&format!("<{name} ")).count();
            assert_eq!(opened, text.matches(&format!("</{name}>")).count(), "{name}");
            assert!(opened > 0, "{name}");
        }
    }

    #[test]
    fn figures_reasons_and_cautions_are_there() {
        let text = page(&[examples::entry("a.jpg", examples::three_cups())]);
        for part in ["pH 5.9 (5.7 to 6.2)", "chance of each state", "pour it shallower", "unevenly lit", "safety data sheet", "lang=\"en\""]
        {
            assert!(text.contains(part), "{part}");
        }
    }

    #[test]
    fn every_link_has_its_target() {
        let text = page(&[examples::entry("a.jpg", examples::three_cups()), examples::entry("b.jpg", examples::fresh_cup())]);
        for part in text.split("href=\"").skip(1) {
            let target = part.split('"').next().unwrap();
            let id = target.strip_prefix('#').unwrap_or_else(|| panic!("`{target}` leads out of the page"));
            assert!(text.contains(&format!("id=\"{id}\"")), "{target}");
        }
    }
}
