//! Calculators: the same sentences as the command line, and the same reasons against what cannot be.

use super::*;

fn ran(arguments: &[&str]) -> std::process::Output {
    Command::new(env!("CARGO_BIN_EXE_tintpoint")).args(arguments).output().unwrap()
}

/// Words of a text, however its lines are broken.
fn words(text: &str) -> Vec<String> {
    text.split(|c: char| c.is_whitespace() || c == '\u{a0}').filter(|word| !word.is_empty() && *word != "-").map(str::to_owned).collect()
}

/// The text between the marks of a page's answer.
fn answer(page: &str) -> String {
    let report = page.split_once("<div class=\"report\">").unwrap_or_else(|| panic!("no answer: {page}")).1.split("</div>").next().unwrap();
    let text: String = report.split('<').map(|part| part.split_once('>').map_or(part, |(_, text)| text).to_owned() + " ").collect();
    text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&")
}

async fn page(path: &str, fields: &[(&str, &str)]) -> (StatusCode, String) {
    let response = asked(&alone(), get(&format!("{path}?{}", form(fields)))).await;
    (response.status(), text(response).await)
}

#[test]
fn mix_says_what_the_command_line_says() {
    runtime().block_on(async {
        for (fields, arguments) in [
            (
                vec![("from", "acetic"), ("strength", "28"), ("to", "1.7%"), ("make", "2l"), ("mixed", "2026-11-26"), ("by", "M.")],
                vec!["mix", "acetic", "--strength", "28", "--to", "1.7%", "--make", "2l", "--mixed", "2026-11-26", "--by", "M."],
            ),
            (
                vec![("from", "citric-monohydrate"), ("to", "15g/l"), ("make", "1l"), ("for", "film"), ("developer", "carbonate-1+2")],
                vec![
                    "mix",
                    "citric-monohydrate",
                    "--to",
                    "15g/l",
                    "--make",
                    "1l",
                    "--for",
                    "film",
                    "--developer",
                    "carbonate-1+2",
                    "--half",
                ],
            ),
            (
                vec![("from", "concentrate"), ("dilution", "1:20"), ("colon", "in-all"), ("make", "600ml"), ("age-limit", "9")],
                vec!["mix", "concentrate", "--dilution", "1:20", "--colon", "in-all", "--make", "600ml", "--age-limit", "9"],
            ),
        ] {
            let mut fields = fields;
            if arguments.contains(&"--half") {
                fields.push(("half", "yes"));
            }
            let told = String::from_utf8(ran(&arguments).stdout).unwrap();
            let (status, page) = page("/mix", &fields).await;
            assert_eq!(status, StatusCode::OK);
            // Options have other names on a page; nothing else differs.
            let told = told
                .replace("--age-limit sets yours", "a field below sets yours")
                .replace("citric --strength 50", "a citric concentrate of 50 %");
            let joined = words(&told)
                .join(" ")
                .replace("--age-limit sets yours", "a field below sets yours")
                .replace("citric --strength 50", "a citric concentrate of 50 %");
            assert_eq!(words(&answer(&page)).join(" "), joined, "{arguments:?}");
        }
    });
}

#[test]
fn dispose_says_what_the_command_line_says() {
    let arguments =
        ["dispose", "citric-anhydrous", "--to", "15g/l", "--volume", "1l", "--drain", "sewer", "--holder", "home", "--fixer", "no"];
    let told = String::from_utf8(ran(&arguments).stdout).unwrap();
    let fields = [("from", "citric-anhydrous"), ("to", "15g/l"), ("volume", "1l"), ("drain", "sewer"), ("holder", "home"), ("fixer", "no")];
    runtime().block_on(async {
        let (status, page) = page("/dispose", &fields).await;
        assert_eq!(status, StatusCode::OK);
        assert_eq!(words(&answer(&page)), words(&told));
    });
}

#[test]
fn what_cannot_be_is_refused_for_the_same_reason() {
    runtime().block_on(async {
        for (path, fields, arguments) in [
            ("/mix", vec![("from", "acetic"), ("to", "1.7%"), ("make", "1l")], vec!["mix", "acetic", "--to", "1.7%", "--make", "1l"]),
            ("/mix", vec![("from", "citric-anhydrous"), ("make", "1l")], vec!["mix", "citric-anhydrous", "--make", "1l"]),
            (
                "/mix",
                vec![("from", "vinegar"), ("strength", "5"), ("to", "9%"), ("make", "1l")],
                vec!["mix", "vinegar", "--strength", "5", "--to", "9%", "--make", "1l"],
            ),
            (
                "/mix",
                vec![("from", "citric-anhydrous"), ("strength", "5"), ("to", "15g/l"), ("make", "1l")],
                vec!["mix", "citric-anhydrous", "--strength", "5", "--to", "15g/l", "--make", "1l"],
            ),
            (
                "/mix",
                vec![("from", "citric-anhydrous"), ("to", "15"), ("make", "1l")],
                vec!["mix", "citric-anhydrous", "--to", "15", "--make", "1l"],
            ),
            (
                "/mix",
                vec![("from", "citric-anhydrous"), ("to", "15g/l"), ("make", "900l")],
                vec!["mix", "citric-anhydrous", "--to", "15g/l", "--make", "900l"],
            ),
            (
                "/dispose",
                vec![("from", "acetic"), ("strength", "28"), ("volume", "1l"), ("drain", "sewer"), ("holder", "home"), ("fixer", "no")],
                vec!["dispose", "acetic", "--strength", "28", "--volume", "1l", "--drain", "sewer", "--holder", "home", "--fixer", "no"],
            ),
        ] {
            let out = ran(&arguments);
            assert_eq!(out.status.code(), Some(2), "{arguments:?}");
            let told = String::from_utf8(out.stderr).unwrap();
            // The first line, after what clap puts before it.
            let reason = told.lines().next().unwrap().rsplit(": ").next().unwrap().to_owned();
            let (status, page) = page(path, &fields).await;
            assert_eq!(status, StatusCode::BAD_REQUEST, "{arguments:?}");
            let said = page.split_once("role=\"alert\">").unwrap().1.split("</p>").next().unwrap();
            let plain = |text: &str| text.replace("\u{a0}", " ").to_lowercase();
            assert!(plain(said).contains(&plain(&reason)), "`{reason}` is not in `{said}`");
        }
    });
}

#[test]
fn nothing_is_guessed_about_disposal() {
    runtime().block_on(async {
        let fields = [("from", "citric-anhydrous"), ("to", "15g/l"), ("volume", "1l"), ("drain", "sewer"), ("holder", "home")];
        let (status, page) = page("/dispose", &fields).await;
        assert!(status == StatusCode::BAD_REQUEST && page.contains("has fixer got into the bath?") && !page.contains("class=\"report\""));
    });
}

#[test]
fn what_was_typed_stays_and_stays_text() {
    runtime().block_on(async {
        let (status, page) = page("/mix", &[("from", "acetic"), ("strength", "\"><script>alert(1)</script>"), ("make", "1l")]).await;
        assert_eq!(status, StatusCode::BAD_REQUEST);
        assert!(!page.contains("<script>alert") && page.contains("&lt;script&gt;"), "{page}");
    });
}

#[test]
fn a_label_goes_with_the_mix() {
    runtime().block_on(async {
        let fields = [("from", "acetic"), ("strength", "28"), ("to", "1.7%"), ("make", "1l"), ("mixed", "2026-11-26"), ("by", "M.")];
        let (status, label) = page("/mix/label", &fields).await;
        assert_eq!(status, StatusCode::OK);
        for line in ["STOP BATH, acetic acid 1.7 % (17 g/l)", "mixed 2026-11-26 by M.", "discard by 2027-01-25"] {
            assert!(label.contains(line), "no `{line}` in {label}");
        }
    });
}
