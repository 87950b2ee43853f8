//! What happens to a bath besides loads, written by forms: the same entries as by the command line, each once.

use super::baths::{Club, borrowed, offered};
use super::*;
use serde_json::Value;

/// What somebody types: names of fields and texts.
type Typed = &'static [(&'static str, &'static str)];

/// What is kept of the entry at the end, without id, time and number.
fn last(club: &Club) -> (Value, Value) {
    let entry = club.entries().last().unwrap().clone();
    (entry["event"].clone(), entry["note"].clone())
}

/// The form of that kind, with what somebody types into it.
async fn filled(club: &Club, kind: &str, typed: &[(&str, &str)]) -> Vec<(String, String)> {
    let page = club.page("/baths/tray-1").await;
    let mut fields = offered(&page, &format!("/log/{kind}"), "Write it down");
    fields.extend(typed.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())));
    fields
}

#[test]
fn forms_write_what_the_command_line_writes() {
    let club = Club::new().with_tray();
    runtime().block_on(async {
        let cases: [(&str, Typed, &[&str]); 10] = [
            (
                "top-up",
                &[("volume", "200ml"), ("what", "same"), ("note", "a little")],
                &["top-up", "tray-1", "--volume", "200ml", "--note", "a little"],
            ),
            ("top-up", &[("volume", "0.1 l"), ("what", "water")], &["top-up", "tray-1", "--volume", "100ml", "--water"]),
            (
                "top-up",
                &[("volume", "10ml"), ("what", "other"), ("acid", "acetic"), ("percent", "28"), ("dilution", "1+0")],
                &["top-up", "tray-1", "--volume", "10ml", "--acid", "acetic", "--strength", "28", "--dilution", "1+0"],
            ),
            ("volume", &[("volume", "1.7l"), ("what", "now")], &["volume", "tray-1", "--is", "1.7l"]),
            ("volume", &[("volume", "50ml"), ("what", "gone")], &["volume", "tray-1", "--lost", "50ml"]),
            (
                "drop-test",
                &[("sample", "10"), ("used", "2.4"), ("developer", "carbonate-1+2")],
                &["drop-test", "tray-1", "--sample", "10", "--used", "2.4"],
            ),
            ("reading", &[("ph", "4.6"), ("with", "meter")], &["reading", "tray-1", "--ph", "4.6", "--with", "meter"]),
            (
                "reading",
                &[("high", "4.9"), ("with", "eye"), ("light", "daylight")],
                &["reading", "tray-1", "--high", "4.9", "--with", "eye", "--light", "daylight"],
            ),
            (
                "reading",
                &[("ph", "5.3"), ("low", "5.0"), ("high", "5.6"), ("with", "pH paper")],
                &["reading", "tray-1", "--ph", "5.3", "--low", "5.0", "--high", "5.6", "--with", "pH paper"],
            ),
            ("note", &[("note", "smells of sulfur")], &["note", "tray-1", "smells of sulfur"]),
        ];
        for (kind, typed, line) in cases {
            let fields = filled(&club, kind, typed).await;
            let place = location(&club.sends(&format!("/log/{kind}"), &borrowed(&fields)).await);
            assert!(club.page(&place).await.contains("Written: "), "{kind} {typed:?}");
            let by_form = last(&club);
            club.bath(line);
            assert_eq!(by_form, last(&club), "{kind} {typed:?}");
        }
    });
}

#[test]
fn what_cannot_be_is_refused_and_writes_nothing() {
    let club = Club::new().with_tray();
    runtime().block_on(async {
        let before = club.entries().len();
        let cases: [(&str, Typed, &str); 12] = [
            ("top-up", &[("volume", "200")], "has no unit"),
            ("top-up", &[("volume", "200ml"), ("what", "beer")], "no such choice"),
            ("top-up", &[("volume", "200ml"), ("what", "other"), ("acid", "acetic")], "dilution is missing"),
            ("volume", &[("volume", "")], "volume"),
            ("volume", &[("volume", "-1l")], "volume"),
            ("drop-test", &[("sample", "ten"), ("used", "2")], "is not a number"),
            ("drop-test", &[("sample", "10"), ("used", "2"), ("developer", "soup")], "no such developer"),
            ("reading", &[("ph", "44")], "pH"),
            ("reading", &[], "neither pH nor bound"),
            ("reading", &[("ph", "5"), ("low", "6"), ("high", "7")], "outside its own interval"),
            ("note", &[("note", "  ")], "note is empty"),
            ("note", &[("note", "x"), ("at", "2100-01-01")], "lies after now"),
        ];
        for (kind, typed, words) in cases {
            let fields = filled(&club, kind, typed).await;
            let answer = club.sends(&format!("/log/{kind}"), &borrowed(&fields)).await;
            assert_eq!(answer.status(), StatusCode::BAD_REQUEST, "{kind} {typed:?}");
            let page = text(answer).await;
            assert!(page.contains(words) || page.contains(&words.replacen("n", "N", 1)), "{kind} {typed:?}: {page}");
            assert!(!page.contains("--"), "a page names no option of the command line: {page}");
        }
        assert_eq!(club.entries().len(), before);
    });
}

#[test]
fn a_form_sent_again_to_a_server_started_anew_writes_once() {
    let club = Club::new().with_tray();
    runtime().block_on(async {
        let page = club.page("/baths/tray-1").await;
        let load = offered(&page, "/log/load", "5 sheets 8x10rc");
        assert!(location(&club.sends("/log/load", &borrowed(&load)).await).contains("written="));
        let undo = offered(&club.page("/baths/tray-1").await, "/log/undo", "Take it back");
        club.sends("/log/undo", &borrowed(&undo)).await;
        let note = filled(&club, "note", &[("note", "once")]).await;
        club.sends("/log/note", &borrowed(&note)).await;
        let begin = [
            ("once", hidden(&club.page("/begin").await, "once")),
            ("name", "b".to_owned()),
            ("grams", "15".to_owned()),
            ("volume", "1l".to_owned()),
        ];
        let begin: Vec<(&str, &str)> = begin
            .iter()
            .map(|(name, value)| (*name, value.as_str()))
            .chain([("acid", "citric-anhydrous"), ("indicator", "none")])
            .collect();
        assert!(location(&club.sends("/log/begin", &begin).await).contains("written="));
        let before = club.entries();
        let club = club.restarted();
        for (path, fields) in
            [("/log/load", borrowed(&load)), ("/log/undo", borrowed(&undo)), ("/log/note", borrowed(&note)), ("/log/begin", begin)]
        {
            let place = location(&club.sends(path, &fields).await);
            assert!(place.ends_with("?again=1"), "{path}: {place}");
            assert!(club.page(&place).await.contains("nothing was written a second time"), "{path}");
        }
        assert_eq!(club.entries(), before);
    });
}

#[test]
fn loads_stay_two_taps() {
    let club = Club::new().with_tray();
    runtime().block_on(async {
        let page = club.page("/baths/tray-1").await;
        let (first, rest) = page.split_once("What else happened").unwrap();
        assert!(first.contains("5 sheets 8x10rc"), "buttons for loads come first");
        let forms = rest.split("</section>").next().unwrap();
        assert_eq!((forms.matches("<details>").count(), forms.matches("<form").count()), (5, 5), "all else is folded away");
        // Ids are told apart, or labels would lead to another form.
        let mut ids: Vec<&str> = page.split(" id=\"").skip(1).map(|rest| rest.split('"').next().unwrap()).collect();
        let all = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), all);
    });
}
