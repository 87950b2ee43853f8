//! The arrows between modules point one way, and the core stays pure. DEVELOPERS.md shows the same table to people.

// A test that cannot do its work must stop.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};

/// Module -> what it may import of this crate; `a::b` allows that part alone.
const ALLOWED: [(&str, &[&str]); 18] = [
    ("guide", &[]),
    ("quantity", &[]),
    ("colour", &["quantity"]),
    ("indicator", &["quantity", "colour"]),
    ("chemistry", &["quantity"]),
    ("cost", &["quantity"]),
    ("placement", &["quantity"]),
    ("measurement", &["quantity", "colour", "indicator", "placement"]),
    ("scene", &["quantity", "colour", "indicator", "placement"]),
    ("calibration", &["quantity", "colour", "indicator", "measurement"]),
    // States and their limits are the same for a record as for a photo.
    (
        "logbook",
        &[
            "quantity",
            "indicator",
            "chemistry",
            "measurement::posterior",
            "measurement::reading",
            "measurement::request",
            "measurement::state",
        ],
    ),
    // Told notices and the kinds of pixels are what a photo hands to the measurement; threads are shared out in one place.
    ("photo", &["quantity", "colour", "measurement::frame", "measurement::share", "measurement::warning"]),
    // Profiles and entries are what it understands; all else that is kept is text to it.
    ("store", &["quantity", "colour::generic", "indicator", "measurement::profile", "logbook"]),
    ("present", &["quantity", "colour", "indicator", "chemistry", "cost", "placement", "measurement", "calibration", "logbook"]),
    // What the command line and the page do alike.
    ("desk", &["quantity", "indicator", "chemistry", "measurement", "calibration", "logbook", "photo", "store", "present"]),
    (
        "web",
        &["quantity", "indicator", "chemistry", "placement", "measurement", "calibration", "logbook", "photo", "store", "present", "desk"],
    ),
    (
        "cli",
        &[
            "quantity",
            "colour",
            "indicator",
            "chemistry",
            "cost",
            "placement",
            "measurement",
            "scene",
            "calibration",
            "logbook",
            "photo",
            "store",
            "present",
            "desk",
            "web",
        ],
    ),
    ("main", &["cli"]),
];

/// Words that a pure module must not contain: files, clock, environment, network, printing.
const IMPURE: [&str; 10] =
    ["std::fs", "std::time", "std::env", "std::net", "std::process", "std::thread", "println!", "eprintln!", "print!(", "dbg!"];

/// Modules that must be pure.
const PURE: [&str; 11] =
    ["quantity", "colour", "indicator", "chemistry", "cost", "placement", "measurement", "scene", "calibration", "logbook", "present"];

/// Foreign crate -> where it may appear, as the start of a path under `src/`.
const FOREIGN: [(&str, &[&str]); 36] = [
    ("clap", &["cli/"]),
    ("clap_complete", &["cli/manual.rs"]),
    ("clap_mangen", &["cli/manual.rs"]),
    ("terminal_size", &["cli/"]),
    ("indicatif", &["cli/progress.rs"]),
    ("glob", &["cli/photos.rs"]),
    ("etcetera", &["store/folder.rs"]),
    ("sha2", &["store/seen.rs"]),
    ("toml", &["store/profiles/"]),
    ("tempfile", &["store/whole.rs", "cli/report.rs"]),
    ("csv", &["present/table.rs", "cli/demo.rs", "store/records/exchange.rs"]),
    (
        "serde_json",
        &[
            "present/bath/costs/json.rs",
            "present/bath/json.rs",
            "present/json.rs",
            "present/buffer/json.rs",
            "present/cost.rs",
            "present/disposal/json.rs",
            "present/mixing/json.rs",
            "store/records/",
            "store/seen.rs",
        ],
    ),
    ("tiny_skia", &["present/raster.rs"]),
    ("ttf_parser", &["present/font.rs"]),
    ("image", &["photo/", "present/raster.rs", "present/svg.rs"]),
    ("exif", &["photo/"]),
    ("moxcms", &["photo/"]),
    ("zune_jpeg", &["photo/jpeg.rs", "photo/jpeg/source.rs"]),
    ("nokhwa", &["photo/camera/grabber.rs"]),
    ("linuxvideo", &["photo/camera/driver.rs"]),
    ("memmap2", &["measurement/frame/pages.rs"]),
    ("memchr", &["photo/jpeg.rs", "store/records/salvage.rs"]),
    ("palette", &["colour/lab.rs"]),
    ("nalgebra", &["colour/space.rs", "measurement/model/", "measurement/panel.rs", "measurement/regions/sheet/"]),
    ("locus_core", &["measurement/regions/sheet/marks.rs"]),
    ("rayon", &["measurement/share.rs"]),
    ("pdf_writer", &["present/pdf.rs"]),
    ("axum", &["web/"]),
    ("hyper", &["web/server.rs"]),
    ("hyper_util", &["web/server.rs"]),
    ("tokio", &["web/"]),
    ("maud", &["web/pages/"]),
    ("getrandom", &["store/records/mod.rs", "web/token.rs"]),
    ("rusqlite", &["store/records/"]),
    ("qrcode", &["cli/serve.rs"]),
    // In the core only for reading a date with its offset, which asks no clock and no table of zones.
    ("jiff", &["logbook/moment.rs", "desk/clock.rs", "cli/"]),
];

/// A source file without its comments and its unit tests.
struct Source {
    /// Path under `src/`, with `/` between the parts.
    path: String,
    /// First part of the path, without `.rs`.
    module: String,
    /// Depth of `super::` that leads to the root of the crate.
    depth: usize,
    code: String,
}

fn sources() -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    collect(&root, &mut files);
    files.into_iter().map(|file| source(&root, &file)).collect()
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|e| e == "rs") {
            files.push(path);
        }
    }
}

fn source(root: &Path, file: &Path) -> Source {
    let path = file.strip_prefix(root).unwrap().components().map(|c| c.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/");
    let parts: Vec<&str> = path.trim_end_matches(".rs").split('/').collect();
    let depth = if parts.last() == Some(&"mod") { parts.len() - 1 } else { parts.len() };
    Source { module: parts[0].to_owned(), depth, code: stripped(&fs::read_to_string(file).unwrap()), path }
}

/// Drops `//` comments and everything from the unit tests on, which stand last in a file.
fn stripped(text: &str) -> String {
    let code = text.split("\n#[cfg(test)]\nmod ").next().unwrap_or_default();
    code.lines()
        .map(|line| if line.trim_start().starts_with("//") { "" } else { line.split(" // ").next().unwrap_or("") })
        .collect::<Vec<_>>()
        .join("\n")
}

/// Paths into the crate's own modules, from `crate::` and from `super::` chains that reach the root.
fn targets(code: &str, depth: usize) -> Vec<String> {
    let root = "super::".repeat(depth);
    let mut out = Vec::new();
    for lead in ["crate::", "tintpoint::", root.as_str()] {
        if lead.is_empty() {
            continue;
        }
        for (at, _) in code.match_indices(lead) {
            let before = code[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') {
                continue;
            }
            expand(&code[at + lead.len()..], "", &mut out);
        }
    }
    out
}

/// Reads a path, or a group of paths in braces, as far as two parts deep.
fn expand(rest: &str, lead: &str, out: &mut Vec<String>) {
    if let Some(group) = rest.strip_prefix('{') {
        let mut depth = 0usize;
        let mut start = 0usize;
        for (i, c) in group.char_indices() {
            match c {
                '{' => depth += 1,
                ',' if depth == 0 => {
                    expand(group[start..i].trim(), lead, out);
                    start = i + 1;
                }
                '}' if depth == 0 => {
                    let last = group[start..i].trim();
                    if !last.is_empty() {
                        expand(last, lead, out);
                    }
                    return;
                }
                '}' => depth -= 1,
                _ => {}
            }
        }
        return;
    }
    let name: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
    let path = format!("{lead}{name}");
    match rest[name.len()..].strip_prefix("::") {
        Some(next) if !lead.contains("::") => expand(next, &format!("{path}::"), out),
        _ => out.push(path),
    }
}

fn is_allowed(module: &str, target: &str) -> bool {
    let first = target.split("::").next().unwrap_or(target);
    if first == module || !ALLOWED.iter().any(|(name, _)| *name == first) {
        return true;
    }
    let Some((_, allowed)) = ALLOWED.iter().find(|(name, _)| *name == module) else { return false };
    allowed.iter().any(|a| target == *a || target.starts_with(&format!("{a}::")) || first == *a)
}

#[test]
fn every_module_is_in_the_table() {
    for source in sources() {
        let is_known = source.module == "lib" || ALLOWED.iter().any(|(name, _)| *name == source.module);
        assert!(is_known, "{} belongs to no module of the table", source.path);
    }
}

#[test]
fn arrows_point_down() {
    let mut wrong = Vec::new();
    let mut arrows = 0;
    for source in sources().iter().filter(|s| s.module != "lib") {
        for target in targets(&source.code, source.depth) {
            arrows += 1;
            if !is_allowed(&source.module, &target) {
                wrong.push(format!("{} imports {target}", source.path));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(arrows > 50, "only {arrows} imports were seen: the checker has gone blind");
}

#[test]
fn core_is_pure() {
    for source in sources().iter().filter(|s| PURE.contains(&s.module.as_str())) {
        for word in IMPURE {
            // Work is shared in one place, which keeps results in order, so that they do not depend on the threads.
            let is_share = word == "std::thread" && source.path == "measurement/share.rs";
            assert!(is_share || !source.code.contains(word), "{} contains {word}", source.path);
        }
    }
}

#[test]
fn foreign_crates_stay_in_their_layer() {
    for source in sources() {
        for (name, places) in FOREIGN {
            let is_used = source.code.match_indices(&format!("{name}::")).any(|(at, _)| {
                let before = source.code[..at].chars().next_back();
                !before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':')
            });
            assert!(!is_used || places.iter().any(|place| source.path.starts_with(place)), "{} uses {name}", source.path);
        }
    }
}

// The checker itself: each form of an import is seen, comments and tests are not.
#[test]
fn checker_sees_every_form_of_import() {
    let seen = |code: &str, depth: usize| targets(&stripped(code), depth);
    assert_eq!(seen("use crate::photo::load;", 1), ["photo::load"]);
    assert_eq!(seen("use crate::{photo::{self, load}, cli};", 1), ["photo::self", "photo::load", "cli"]);
    assert_eq!(seen("let x = crate::present::json::line();", 2), ["present::json"]);
    assert_eq!(seen("use super::super::scene::render;", 2), ["scene::render"]);
    assert!(seen("use super::words;", 2).is_empty());
    assert!(seen("/// See crate::cli::main.\n// crate::cli", 1).is_empty());
    assert!(seen("fn a() {}\n#[cfg(test)]\nmod tests { use crate::cli; }", 1).is_empty());
}

#[test]
fn checker_refuses_wrong_arrows() {
    assert!(!is_allowed("measurement", "present::json"));
    assert!(!is_allowed("photo", "measurement::reading"));
    assert!(is_allowed("photo", "measurement::frame"));
    assert!(!is_allowed("present", "photo::load"));
    assert!(is_allowed("present", "measurement::reading"));
    assert!(!is_allowed("logbook", "store::records") && !is_allowed("logbook", "measurement::read"));
    assert!(!is_allowed("quantity", "colour::tone"));
    assert!(is_allowed("colour", "colour::tone"));
}
