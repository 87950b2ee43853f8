//! What somebody does in the darkroom, step by step.

use super::{Scene, walk};
use fantoccini::Locator;
use fantoccini::key::Key;

pub(crate) const PHONE: (u32, u32) = (390, 844);
pub(crate) const SMALL: (u32, u32) = (360, 640);
pub(crate) const DESK: (u32, u32) = (1280, 900);

/// The page as it stands is sound: engine, targets, width.
pub(crate) async fn is_sound(scene: &Scene, place: &str) {
    assert_eq!(scene.browser.violations().await, Vec::<String>::new(), "{place}");
    assert_eq!(scene.browser.small_targets().await, Vec::<String>::new(), "{place}");
    scene.browser.shot(&format!("{} {place}", scene.width)).await;
    assert!(scene.browser.fits(scene.width).await, "{place}");
}

pub(crate) async fn send(scene: &Scene, photo: &str) {
    scene.browser.open(&format!("{}/", scene.served.url)).await;
    scene.browser.type_into("#choose", &scene.photo(photo)).await;
    scene.browser.click("button.main").await;
    scene.browser.text("#reading").await;
}

#[test]
fn every_page_is_sound_in_either_theme_and_on_a_small_screen() {
    for size in [PHONE, SMALL] {
        walk(&["--listen", "127.0.0.1:0"], size, async |scene: &Scene| {
            for theme in ["plain", "red"] {
                for page in ["/", "/print", "/pair", "/baths", "/begin", "/mix", "/dispose", "/calibrate"] {
                    scene.browser.open(&format!("{}{page}", scene.served.url)).await;
                    is_sound(scene, &format!("{page} {theme}")).await;
                }
                send(scene, "spent.jpg").await;
                is_sound(scene, &format!("reading {theme}")).await;
                let other = if theme == "plain" { "bright page" } else { "red page" };
                scene.browser.click(".theme button").await;
                scene.browser.says(".theme", other).await;
            }
            // The switch has gone to and fro.
            scene.browser.says(".theme", "red page").await;
        });
    }
}

#[test]
fn a_photo_is_read_and_a_cup_put_right_by_hand() {
    walk(&["--listen", "127.0.0.1:0"], PHONE, async |scene: &Scene| {
        send(scene, "spent.jpg").await;
        let before = scene.browser.text("#reading").await;
        assert!(before.contains("cup 1: spent"), "{before}");
        let cup = || async {
            scene.browser.page.find(Locator::Css("#place input[name=cups]")).await.unwrap().prop("value").await.unwrap().unwrap()
        };
        let was = cup().await;
        // The cup is dragged off its place by a third of its radius.
        scene.browser.page.execute("document.querySelector('#marks').scrollIntoView({block: 'center'})", Vec::new()).await.unwrap();
        let script = "const b = document.querySelector('[data-which=\"1\"] .over').getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2, b.width / 2]";
        let place = scene.browser.page.execute(script, Vec::new()).await.unwrap();
        let [x, y, r] = [0, 1, 2].map(|i| place[i].as_f64().unwrap());
        scene.browser.drag((x, y), (x + r / 3.0, y)).await;
        let moved = cup().await;
        let figures = |text: &str| text.split(',').map(|v| v.parse::<f64>().unwrap()).collect::<Vec<_>>();
        let (was, now) = (figures(&was), figures(&moved));
        assert!((now[0] - was[0] - was[2] / 3.0).abs() < 0.05 * was[2] && (now[1] - was[1]).abs() < 0.05 * was[2], "{was:?} {now:?}");
        scene.browser.click("#place button.main").await;
        scene.browser.text("#reading").await;
        let json = scene.browser.page.execute_async(
            "const done = arguments[0]; fetch(location.pathname + '/reading.json').then((r) => r.json()).then((j) => done(j.cups[0].x))", Vec::new()).await.unwrap();
        assert!((json.as_f64().unwrap() - now[0]).abs() < 0.1, "{json} {now:?}");
    });
}

#[test]
fn the_keyboard_alone_does_it() {
    walk(&["--listen", "127.0.0.1:0"], DESK, async |scene: &Scene| {
        scene.browser.open(&format!("{}/", scene.served.url)).await;
        scene.browser.type_into("#choose", &scene.photo("fresh.jpg")).await;
        scene.browser.page.execute("document.querySelector('#choose').focus()", Vec::new()).await.unwrap();
        // Over the summary to the button.
        scene.browser.press(&[Key::Tab.into(), Key::Tab.into(), Key::Enter.into()]).await;
        assert!(scene.browser.text("#reading").await.contains("fresh"));
        // The skip link is the first stop and leads to the content.
        scene.browser.press(&[Key::Tab.into()]).await;
        let focused = scene.browser.page.execute("return document.activeElement.className", Vec::new()).await.unwrap();
        assert_eq!(focused, "skip");
        scene.browser.page.execute("document.querySelector('[data-which=\"1\"]').focus()", Vec::new()).await.unwrap();
        let cup = || async {
            scene.browser.page.find(Locator::Css("#place input[name=cups]")).await.unwrap().prop("value").await.unwrap().unwrap()
        };
        let first = |text: &str| text.split(',').next().unwrap().parse::<f64>().unwrap();
        let was = first(&cup().await);
        scene.browser.press(&[Key::Right.into(), Key::Right.into(), '+']).await;
        assert!(first(&cup().await) > was);
        let label = scene.browser.page.execute("return document.activeElement.getAttribute('aria-label')", Vec::new()).await.unwrap();
        assert_eq!(label, "cup 1", "the focus stays where the hand is");
    });
}

#[test]
fn a_device_is_paired_or_refused() {
    walk(&["--lan", "--listen", "127.0.0.1:0"], PHONE, async |scene: &Scene| {
        let line = scene.served.line_with("code");
        let code = line.trim().rsplit(' ').next().unwrap().to_owned();
        scene.browser.open(&format!("{}/", scene.served.url)).await;
        scene.browser.says("h1", "Pair this device").await;
        scene.browser.type_into("#code", "WRONGONE").await;
        scene.browser.click("main button").await;
        scene.browser.says("[role=alert]", "not the code").await;
        is_sound(scene, "refused").await;
        scene.browser.type_into("#code", &code.to_lowercase()).await;
        scene.browser.click("main button").await;
        scene.browser.says("h1", "Check a stop bath").await;
        send(scene, "fresh.jpg").await;
    });
}

#[test]
fn a_spoilt_file_is_said_on_the_page() {
    walk(&["--listen", "127.0.0.1:0"], PHONE, async |scene: &Scene| {
        let folder = tempfile::tempdir().unwrap();
        let spoilt = folder.path().join("spoilt.jpg");
        std::fs::write(&spoilt, b"not a photo at all").unwrap();
        scene.browser.open(&format!("{}/", scene.served.url)).await;
        scene.browser.click("button.main").await;
        scene.browser.says("#progress", "first").await;
        scene.browser.type_into("#choose", spoilt.to_str().unwrap()).await;
        scene.browser.click("button.main").await;
        assert!(!scene.browser.text("[role=alert]").await.is_empty());
        is_sound(scene, "spoilt").await;
    });
}
