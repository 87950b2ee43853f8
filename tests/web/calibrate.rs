//! A row of buffers becomes a profile on the page, and readings take it at once.

use super::*;
use std::path::Path;

/// The pH of the demo's row of cups, from its table of truth.
fn truth(folder: &Path) -> String {
    let table = std::fs::read_to_string(folder.join("truth.csv")).unwrap();
    let ph = |line: &str| line.split(',').nth(6).unwrap().to_owned();
    table.lines().filter(|line| line.starts_with("row-of-cups.jpg")).map(ph).collect::<Vec<_>>().join(", ")
}

/// The same JPEG with make and model of a camera: an Exif block of two texts (Exif 2.3, 4.6.2; TIFF 6.0, section 2).
fn of_a_camera(jpeg: &[u8]) -> Vec<u8> {
    let (make, model) = (b"Thimble\0", b"Lane One\0\0");
    let mut tiff = b"MM\0\x2a\0\0\0\x08\0\x02".to_vec();
    let after = 8 + 2 + 2 * 12 + 4;
    for (tag, text, at) in [(0x010f_u16, &make[..], after), (0x0110, &model[..], after + make.len())] {
        tiff.extend(tag.to_be_bytes());
        tiff.extend(2_u16.to_be_bytes());
        tiff.extend(u32::try_from(text.len()).unwrap().to_be_bytes());
        tiff.extend(u32::try_from(at).unwrap().to_be_bytes());
    }
    tiff.extend([0; 4]);
    tiff.extend(make);
    tiff.extend(model);
    let mut out = jpeg[..2].to_vec();
    out.extend([0xff, 0xe1]);
    out.extend(u16::try_from(2 + 6 + tiff.len()).unwrap().to_be_bytes());
    out.extend(b"Exif\0\0");
    out.extend(tiff);
    out.extend(&jpeg[2..]);
    out
}

fn with_profiles(folder: &Path) -> axum::Router {
    router(Arc::new(App::alone(2, Shelf::at(&folder.join("profiles")).unwrap())))
}

/// What `tintpoint calibrate` keeps, in the same data folder.
fn calibrated(data: &Path, photo: &Path, ph: &str, name: &str) {
    let out = Command::new(env!("CARGO_BIN_EXE_tintpoint"))
        .arg("calibrate")
        .arg(photo)
        .args(["--ph", &ph.replace(' ', ""), "--save", name])
        .env("TINTPOINT_DATA", data)
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
}

async fn profile_of(app: &axum::Router, photo: &[u8]) -> serde_json::Value {
    let place = location(&asked(app, upload("a.jpg", photo, &[])).await);
    let line = text(asked(app, get(&format!("{place}/reading.json"))).await).await;
    serde_json::from_str::<serde_json::Value>(&line).unwrap()["profile"].clone()
}

#[test]
fn a_row_becomes_a_profile_that_is_used_at_once() {
    let (photos, data) = (demo::photos(), tempfile::tempdir().unwrap());
    let ph = truth(photos.path());
    let row = of_a_camera(&std::fs::read(photos.path().join("row-of-cups.jpg")).unwrap());
    std::fs::write(data.path().join("row.jpg"), &row).unwrap();
    let bath = of_a_camera(&std::fs::read(photos.path().join("spent.jpg")).unwrap());
    runtime().block_on(async {
        let app = with_profiles(data.path());
        assert!(profile_of(&app, &bath).await.is_null());
        let place = location(&asked(&app, upload_to("/calibrate", "row.jpg", &row, &[("row", &ph), ("note", "")])).await);
        let page = text(asked(&app, get(&place)).await).await;
        assert!(
            page.contains("Points and residuals")
                && page.contains("<svg class=\"drawing\"")
                && page.matches("<th scope=\"row\">").count() == 5,
            "{page}"
        );
        let save = |page: &str, name: &str, sure: bool| {
            let mut fields = vec![("once".to_owned(), hidden(page, "once")), ("name".to_owned(), name.to_owned())];
            fields.extend(sure.then(|| ("sure".to_owned(), "yes".to_owned())));
            let fields: Vec<(&str, &str)> = fields.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
            post(&format!("{place}/save"), &form(&fields))
        };
        for name in ["../lamp", "a/b", "", "lamp.toml", "x\u{0}y"] {
            assert_eq!(asked(&app, save(&page, name, true)).await.status(), StatusCode::BAD_REQUEST, "{name}");
        }
        assert!(!data.path().join("lamp.toml").exists());
        location(&asked(&app, save(&page, "lamp", false)).await);
        assert!(text(asked(&app, get(&place)).await).await.contains("Kept as lamp"));
        // The same file as the command line writes, and the server reads with it from now on.
        calibrated(data.path(), &data.path().join("row.jpg"), &ph, "by-hand");
        let file = |name: &str| std::fs::read_to_string(data.path().join(format!("profiles/{name}.toml"))).unwrap();
        assert_eq!(file("lamp"), file("by-hand"));
        assert!(!profile_of(&app, &bath).await.is_null());
        assert!(text(asked(&app, get("/calibrate")).await).await.contains("<li>by-hand</li>"));
        // A name that is taken is replaced only when that is said.
        let page = text(asked(&app, get(&place)).await).await;
        asked(&app, save(&page, "by-hand", false)).await;
        let page = text(asked(&app, get(&place)).await).await;
        assert!(page.contains("There is a profile `by-hand` already") && page.contains("name=\"sure\""), "{page}");
        asked(&app, save(&page, "by-hand", true)).await;
        assert!(text(asked(&app, get(&place)).await).await.contains("Kept as by-hand"));
    });
}

#[test]
fn a_profile_of_the_command_line_is_used_while_the_server_runs() {
    let (photos, data) = (demo::photos(), tempfile::tempdir().unwrap());
    std::fs::write(data.path().join("row.jpg"), of_a_camera(&std::fs::read(photos.path().join("row-of-cups.jpg")).unwrap())).unwrap();
    let bath = of_a_camera(&std::fs::read(photos.path().join("nearing.jpg")).unwrap());
    runtime().block_on(async {
        let app = with_profiles(data.path());
        assert!(profile_of(&app, &bath).await.is_null());
        calibrated(data.path(), &data.path().join("row.jpg"), &truth(photos.path()), "lamp");
        assert!(!profile_of(&app, &bath).await.is_null());
        std::fs::remove_file(data.path().join("profiles/lamp.toml")).unwrap();
        assert!(profile_of(&app, &bath).await.is_null(), "what was removed is forgotten");
    });
}

#[test]
fn a_row_is_put_right_and_told_anew() {
    let photos = demo::photos();
    let row = std::fs::read(photos.path().join("row-of-cups.jpg")).unwrap();
    let ph = truth(photos.path());
    runtime().block_on(async {
        let app = alone();
        let place = location(&asked(&app, upload_to("/calibrate", "row.jpg", &row, &[("row", "4.4, 5.1")])).await);
        let page = text(asked(&app, get(&place)).await).await;
        assert!(page.contains("2 buffers were told, but the photos show 5 cups") && page.contains("id=\"marks\""), "{page}");
        let (card, cups) = (hidden(&page, "card"), hidden(&page, "cups"));
        let again = |cups: &str, row: &str| post(&place, &form(&[("card", &card), ("cups", cups), ("row", row), ("temperature", "")]));
        assert_eq!(location(&asked(&app, again(&cups, &ph)).await), format!("{place}#profile"));
        assert!(text(asked(&app, get(&place)).await).await.contains("Points and residuals"));
        // Two cups alone, as told.
        let two = cups.split(';').take(2).collect::<Vec<_>>().join(";");
        asked(&app, again(&two, "4.4, 5.1")).await;
        let page = text(asked(&app, get(&place)).await).await;
        assert_eq!(page.matches("<th scope=\"row\">").count(), 2, "{page}");
        for (wrong, words) in [("4.4, milk", "milk"), ("4.4, 99", "99"), ("", "missing")] {
            asked(&app, again(&two, wrong)).await;
            let page = text(asked(&app, get(&place)).await).await;
            assert!(page.contains("No profile yet") && page.split("role=\"alert\">").nth(1).unwrap().contains(words), "{wrong}: {page}");
        }
        let response = asked(&app, get("/calibrate/none")).await;
        assert_eq!(response.status(), StatusCode::NOT_FOUND);
    });
}
