//! The logbook on pages: what is written stands in the file that the command line reads.

use super::*;
use serde_json::Value;
use std::path::{Path, PathBuf};
use tintpoint::desk::book::Book;

/// A server with a logbook of its own.
pub(super) struct Club {
    app: axum::Router,
    folder: tempfile::TempDir,
}

impl Club {
    pub(super) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        Club { app: Club::app(&folder), folder }
    }

    fn app(folder: &tempfile::TempDir) -> axum::Router {
        router(Arc::new(App::alone(2, Shelf::default()).keeping(Book::at(folder.path().join("club.db")))))
    }

    /// Another server on the same logbook, which remembers nothing of this one.
    pub(super) fn restarted(self) -> Self {
        Club { app: Club::app(&self.folder), ..self }
    }

    fn book(&self) -> PathBuf {
        self.folder.path().join("club.db")
    }

    /// `tintpoint bath` on the same logbook.
    pub(super) fn bath(&self, arguments: &[&str]) -> String {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tintpoint"));
        let out = command.arg("bath").args(arguments).arg("--logbook").arg(self.book()).env("USER", "ben").output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    }

    pub(super) fn entries(&self) -> Vec<Value> {
        let all: Value = serde_json::from_str(&self.bath(&["export"])).unwrap();
        all["entries"].as_array().unwrap().clone()
    }

    pub(super) async fn page(&self, path: &str) -> String {
        let response = asked(&self.app, get(path)).await;
        assert_eq!(response.status(), StatusCode::OK, "{path}");
        text(response).await
    }

    pub(super) async fn sends(&self, path: &str, fields: &[(&str, &str)]) -> Response<Body> {
        asked(&self.app, post(path, &form(fields))).await
    }

    /// A bath of fibre prints with one load.
    pub(super) fn with_tray(self) -> Self {
        self.bath(&["new", "tray-1", "--acid", "citric-anhydrous", "--grams-per-litre", "15", "--volume", "2l", "--work", "paper"]);
        self.bath(&["load", "tray-1", "--sheets", "8x10rc=24", "--developer", "carbonate-1+2"]);
        self
    }
}

/// The first form on a page that goes to an address, as its hidden fields send it.
pub(super) fn offered(page: &str, action: &str, holding: &str) -> Vec<(String, String)> {
    let start = format!("action=\"{action}\"");
    let forms = page.split("<form").filter(|form| form.contains(&start)).map(|form| form.split("</form>").next().unwrap());
    let form = forms.into_iter().find(|form| form.contains(holding)).unwrap_or_else(|| panic!("no form with {holding}: {page}"));
    let field = |part: &str| {
        let name = part.split_once("name=\"")?.1.split('"').next()?.to_owned();
        Some((name, part.split_once("value=\"")?.1.split('"').next()?.to_owned()))
    };
    form.split("<input").filter(|part| part.contains("type=\"hidden\"")).filter_map(field).collect()
}

pub(super) fn borrowed(fields: &[(String, String)]) -> Vec<(&str, &str)> {
    fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect()
}

// 24 sheets of 3 ml use a tenth of the tray, and 31 more are safe; then a meter says that it is near its end, whatever was counted. What the state alone would advise ("finish this session at
// most") must not stand beside it.
#[test]
fn what_to_do_with_the_next_session_stands_first() {
    let club = Club::new().with_tray();
    runtime().block_on(async {
        let page = club.page("/baths/tray-1").await;
        assert!(page.contains("Next session (24 x 8x10rc): the bath is good for it"), "{page}");
        // Also about another number, as the form of the page asks.
        assert!(page.contains("action=\"/baths/tray-1\"") && page.contains("name=\"next\""), "{page}");
        assert!(club.page("/baths/tray-1?next=200").await.contains("Next session (200 x 8x10rc): read the bath first"));
        for wrong in ["0", "-3", "1001", "many"] {
            let response = asked(&club.app, get(&format!("/baths/tray-1?next={wrong}"))).await;
            assert_eq!(response.status(), StatusCode::BAD_REQUEST, "{wrong}");
        }
        club.bath(&["reading", "tray-1", "--ph", "5.3"]);
        let (page, list) = (club.page("/baths/tray-1").await, club.page("/baths").await);
        for page in [&page, &list] {
            assert_eq!(page.matches("Next session (24 x 8x10rc): replace the bath before it").count(), 1, "{page}");
            assert!(!page.contains("Finish this session"), "{page}");
        }
        assert!(page.contains("The last look says that more is used than was written down"), "{page}");
    });
}

#[test]
fn a_bath_is_begun_loaded_undone_and_discarded() {
    let club = Club::new();
    runtime().block_on(async {
        assert!(club.page("/baths").await.contains("No bath is in use"));
        let once = hidden(&club.page("/begin").await, "once");
        let bath = [("once", once.as_str()), ("name", "tank 2/b"), ("acid", "acetic"), ("percent", "28"), ("dilution", "1+15")];
        let more = [("volume", "1l"), ("indicator", "none"), ("work", "film"), ("keeping", "bottle")];
        let place = location(&club.sends("/log/begin", &[&bath[..], &more[..]].concat()).await);
        assert!(place.starts_with("/baths/tank%202%2Fb?written="), "{place}");
        let page = club.page(&place).await;
        assert!(page.contains("Written: ") && page.contains("fresh"), "{page}");
        // The first load tells kind and developer; then there are buttons.
        let (once, id) = (hidden(&page, "once"), hidden(&page, "bath"));
        let load = [
            ("once", once.as_str()),
            ("bath", &id),
            ("kind", "135-36"),
            ("count", "2"),
            ("developer", "borax-sulfite-1+1"),
            ("films", "A12, A13"),
        ];
        let page = club.page(&location(&club.sends("/log/load", &load).await)).await;
        assert!(page.contains("1 roll 135-36") && page.contains("2 rolls 135-36") && page.contains("A12, A13"), "{page}");
        let tap = offered(&page, "/log/load", "1 roll 135-36");
        let page = club.page(&location(&club.sends("/log/load", &borrowed(&tap)).await)).await;
        let loads: Vec<f64> = club.entries().iter().filter_map(|e| e["event"]["pieces"][0]["count"].as_f64()).collect();
        assert_eq!(loads, [2.0, 1.0]);
        // An undo is one more entry, and can itself be taken back.
        let undo = offered(&page, "/log/undo", "Take it back");
        let page = club.page(&location(&club.sends("/log/undo", &borrowed(&undo)).await)).await;
        assert!(page.contains("Taken back: ") && page.contains("does not count"), "{page}");
        assert!(club.bath(&["show", "tank 2/b"]).contains("went through: 2 x 135-36"));
        let redo = offered(&page, "/log/undo", "Let it count again");
        let page = club.page(&location(&club.sends("/log/undo", &borrowed(&redo)).await)).await;
        assert!(club.bath(&["show", "tank 2/b"]).contains("went through: 3 x 135-36"));
        assert_eq!(club.entries().len(), 5, "nothing was rewritten");
        let mut gone = offered(&page, "/log/discard", "gone");
        gone.push(("reason".to_owned(), "spent".to_owned()));
        let page = club.page(&location(&club.sends("/log/discard", &borrowed(&gone)).await)).await;
        assert!(page.contains("Discarded 2") && !page.contains("/log/load"), "{page}");
        assert!(club.page("/baths").await.contains("No bath is in use"));
    });
}

#[test]
fn a_form_sent_twice_writes_once() {
    let club = Club::new().with_tray();
    runtime().block_on(async {
        let page = club.page("/baths/tray-1").await;
        let tap = offered(&page, "/log/load", "5 sheets 8x10rc");
        let before = club.entries().len();
        assert!(location(&club.sends("/log/load", &borrowed(&tap)).await).contains("written="));
        let again = location(&club.sends("/log/load", &borrowed(&tap)).await);
        assert!(club.page(&again).await.contains("nothing was written a second time"));
        assert_eq!(club.entries().len(), before + 1);
        // What was refused may be put right and sent again.
        let once = hidden(&club.page("/baths/tray-1").await, "once");
        let id = hidden(&page, "bath");
        let load =
            |count| [("once", once.as_str()), ("bath", id.as_str()), ("kind", "8x10rc"), ("count", count), ("developer", "carbonate-1+2")];
        assert_eq!(club.sends("/log/load", &load("0")).await.status(), StatusCode::BAD_REQUEST);
        assert!(location(&club.sends("/log/load", &load("3")).await).contains("written="));
        assert_eq!(club.entries().len(), before + 2);
    });
}

#[test]
fn what_was_measured_by_oneself_is_kept_for_later_loads() {
    let club = Club::new().with_tray();
    runtime().block_on(async {
        let page = club.page("/baths/tray-1").await;
        let (once, id) = (hidden(&page, "once"), hidden(&page, "bath"));
        let own = [
            ("once", once.as_str()),
            ("bath", &id),
            ("kind", "120"),
            ("count", "1"),
            ("developer", "carbonate-1+2"),
            ("own", "Ours"),
            ("alkalinity", "380"),
            ("carry", "12"),
            ("by", "class 3b"),
        ];
        let page = club.page(&location(&club.sends("/log/load", &own).await)).await;
        let tap = offered(&page, "/log/load", "2 rolls 120");
        let page = club.page(&location(&club.sends("/log/load", &borrowed(&tap)).await)).await;
        let once = hidden(&page, "once");
        let other = [("once", once.as_str()), ("bath", &id), ("kind", "135-36"), ("count", "1"), ("developer", "ours")];
        let page = club.page(&location(&club.sends("/log/load", &other).await)).await;
        let loads: Vec<serde_json::Value> =
            club.entries().into_iter().map(|e| e["event"].clone()).filter(|e| e["pieces"].is_array()).collect();
        let [first, tapped, third] = &loads[loads.len() - 3..] else { panic!("{loads:?}") };
        for load in [first, tapped, third] {
            assert_eq!((&load["developer"]["name"], &load["developer"]["own_meq"]), (&"ours".into(), &380.0.into()), "{load}");
        }
        assert_eq!((&first["by"], &tapped["by"]), (&"class 3b".into(), &serde_json::Value::Null));
        assert_eq!((&tapped["pieces"][0]["carry_over_ml"], &tapped["pieces"][0]["measured"]), (&12.0.into(), &true.into()));
        assert_eq!(third["pieces"][0]["measured"], false);
        // The drop test takes the figure of that developer, and one told for another is that other's.
        let drop = [
            ("once", hidden(&page, "once")),
            ("bath", id.clone()),
            ("sample", "10".to_owned()),
            ("used", "2".to_owned()),
            ("developer", "ours".to_owned()),
        ];
        club.page(&location(&club.sends("/log/drop-test", &borrowed(&drop.map(|(k, v)| (k.to_owned(), v)))).await)).await;
        assert_eq!(club.entries().last().unwrap()["event"]["developer"]["own_meq"], 380.0);
        let (once, bad) = (hidden(&club.page("/baths/tray-1").await, "once"), "much");
        let refused = [("once", once.as_str()), ("bath", &id), ("kind", "120"), ("count", "1"), ("developer", "ours"), ("carry", bad)];
        assert!(text(club.sends("/log/load", &refused).await).await.contains("is not a number"));
    });
}

#[test]
fn nonsense_is_refused_and_writes_nothing() {
    let club = Club::new().with_tray();
    runtime().block_on(async {
        let page = club.page("/baths/tray-1").await;
        let (once, id) = (hidden(&page, "once"), hidden(&page, "bath"));
        let before = club.entries().len();
        let load = |bath, kind, count, developer| {
            [("once", once.as_str()), ("bath", bath), ("kind", kind), ("count", count), ("developer", developer)]
        };
        for (fields, status, words) in [
            (load(&id, "8x10", "1", "carbonate-1+2"), StatusCode::BAD_REQUEST, "is no kind of film or paper"),
            (load(&id, "120", "many", "carbonate-1+2"), StatusCode::BAD_REQUEST, "is not a number"),
            (load(&id, "120", "1e9", "carbonate-1+2"), StatusCode::BAD_REQUEST, "outside"),
            (load(&id, "120", "1", "soup"), StatusCode::BAD_REQUEST, "no such developer"),
            (load("0123", "120", "1", "carbonate-1+2"), StatusCode::NOT_FOUND, "there is no bath"),
        ] {
            let response = club.sends("/log/load", &fields).await;
            assert_eq!(response.status(), status, "{words}");
            assert!(text(response).await.to_lowercase().contains(words), "{words}");
        }
        assert_eq!(club.sends("/log/load", &[("bath", &id), ("kind", "120"), ("count", "1")]).await.status(), StatusCode::BAD_REQUEST);
        assert_eq!(club.sends("/log/undo", &[("once", once.as_str()), ("entry", "f00")]).await.status(), StatusCode::NOT_FOUND);
        let begin = |name, dilution| {
            [
                ("once", once.as_str()),
                ("name", name),
                ("acid", "acetic"),
                ("percent", "28"),
                ("dilution", dilution),
                ("volume", "1l"),
                ("indicator", "none"),
            ]
        };
        for (name, dilution, words) in
            [("tray-1", "1+15", "already"), ("b", "1:20", "two ways"), ("", "1+15", "The name"), ("b", "", "dilution is missing")]
        {
            let said = text(club.sends("/log/begin", &begin(name, dilution)).await).await;
            assert!(said.contains(words), "{words}: {said}");
        }
        assert_eq!(asked(&club.app, get("/baths/nobody")).await.status(), StatusCode::NOT_FOUND);
        assert_eq!(club.entries().len(), before);
    });
}

#[test]
fn a_reading_is_saved_once_unless_asked() {
    let club = Club::new().with_tray();
    let photos = demo::photos();
    let bytes = std::fs::read(photos.path().join("spent.jpg")).unwrap();
    runtime().block_on(async {
        let place = location(&asked(&club.app, upload("spent.jpg", &bytes, &[])).await);
        let page = club.page(&place).await;
        let id = page
            .split_once("selected>tray-1")
            .map(|(before, _)| before.rsplit("value=\"").next().unwrap().split('"').next().unwrap().to_owned());
        let id = id.expect("the only bath is the one that is meant");
        let save = format!("{place}/save");
        let fields = [("once", hidden(&page, "once")), ("cup-1", id.clone())].map(|(n, v)| (n.to_owned(), v));
        assert_eq!(location(&club.sends(&save, &borrowed(&fields)).await), format!("{place}#keep"));
        assert!(club.page(&place).await.contains("Written for <a href=\"/baths/tray-1\""));
        // The same tap again, then a new form, then on purpose.
        let again = location(&club.sends(&save, &borrowed(&fields)).await);
        assert!(club.page(again.split('#').next().unwrap()).await.contains("nothing was written a second time"));
        let next = |page: &str, sure: &str| {
            let mut fields = vec![("once".to_owned(), hidden(page, "once")), ("cup-1".to_owned(), id.clone())];
            if !sure.is_empty() {
                fields.push(("sure".to_owned(), sure.to_owned()));
            }
            fields
        };
        club.sends(&save, &borrowed(&next(&club.page(&place).await, ""))).await;
        let page = club.page(&place).await;
        assert!(page.contains("is in the logbook for `tray-1` already") && page.contains("name=\"sure\""), "{page}");
        let readings = || club.entries().iter().filter(|e| e["event"]["kind"] == "reading").count();
        assert_eq!(readings(), 1);
        club.sends(&save, &borrowed(&next(&page, "yes"))).await;
        assert_eq!(readings(), 2);
        assert_eq!(club.sends(&save, &[("once", &hidden(&page, "once")), ("cup-1", "")]).await.status(), StatusCode::BAD_REQUEST);
    });
}

/// What is kept of a photo, without id and time.
fn reading_of(entries: &[Value], place: usize) -> Value {
    entries.iter().filter(|e| e["event"]["kind"] == "reading").nth(place).unwrap()["event"].clone()
}

#[test]
fn page_and_command_line_keep_the_same_reading() {
    let club = Club::new().with_tray();
    let photos = demo::photos();
    runtime().block_on(async {
        let bytes = std::fs::read(photos.path().join("nearing.jpg")).unwrap();
        let place = location(&asked(&club.app, upload("nearing.jpg", &bytes, &[])).await);
        let page = club.page(&place).await;
        let id = hidden(&club.page("/baths/tray-1").await, "bath");
        club.sends(&format!("{place}/save"), &[("once", &hidden(&page, "once")), ("cup-1", &id)]).await;
        let read = Command::new(env!("CARGO_BIN_EXE_tintpoint"))
            .current_dir(photos.path())
            .args(["read", "nearing.jpg", "--bath", "tray-1", "--logbook"])
            .arg(club.book())
            .env("TINTPOINT_DATA", photos.path().join("none"))
            .output()
            .unwrap();
        assert!(read.status.code().is_some_and(|code| code != 1 && code != 2), "{}", String::from_utf8_lossy(&read.stderr));
        let entries = club.entries();
        assert_eq!(reading_of(&entries, 0), reading_of(&entries, 1));
    });
}

#[test]
fn labels_and_writers_are_those_of_the_club() {
    let club = Club::new().with_tray();
    runtime().block_on(async {
        let label = club.page("/baths/tray-1/label").await;
        for line in club.bath(&["label", "tray-1"]).lines().filter(|line| !line.starts_with(' ') && line.len() < 36) {
            assert!(label.contains(line), "no `{line}` in {label}");
        }
        let named = club.sends("/who", &[("who", "Zoë <b>"), ("back", "/baths")]).await;
        let cookie = named.headers()[header::SET_COOKIE].to_str().unwrap().split(';').next().unwrap().to_owned();
        assert_eq!(location(&named), "/baths");
        let page = club.page("/baths/tray-1").await;
        let mut request = post("/log/load", &form(&borrowed(&offered(&page, "/log/load", "1 sheet 8x10rc"))));
        request.headers_mut().insert(header::COOKIE, cookie.parse().unwrap());
        let page = club.page(&location(&asked(&club.app, request).await)).await;
        assert!(page.contains("(Zoë &lt;b&gt;)") && !page.contains("<b>)"), "{page}");
        assert_eq!(club.entries().last().unwrap()["who"], "Zoë <b>");
    });
}

#[test]
fn a_server_without_a_logbook_says_so() {
    runtime().block_on(async {
        let response = asked(&alone(), get("/baths")).await;
        assert_eq!(response.status(), StatusCode::NOT_FOUND);
        assert!(text(response).await.contains("This server has no logbook."));
    });
}

// Damage is told, and neither hides nor breaks the other pages.
#[test]
fn a_damaged_logbook_is_told() {
    let club = Club::new().with_tray();
    let bytes = std::fs::read(club.book()).unwrap();
    std::fs::write(club.book(), &bytes[..bytes.len() / 2]).unwrap();
    runtime().block_on(async {
        let response = asked(&club.app, get("/baths")).await;
        assert_eq!(response.status(), StatusCode::INTERNAL_SERVER_ERROR);
        assert!(text(response).await.contains("logbook"));
        assert_eq!(asked(&club.app, get("/")).await.status(), StatusCode::OK);
    });
    assert!(Path::new(&club.book()).is_file());
}
