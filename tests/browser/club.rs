//! What somebody does in the darkroom with the logbook, the calculators and a row of buffers, step by step.

use super::walks::{DESK, PHONE, SMALL, is_sound, send};
use super::{Scene, walk};
use fantoccini::Locator;
use fantoccini::key::Key;

const HERE: [&str; 2] = ["--listen", "127.0.0.1:0"];

async fn open(scene: &Scene, path: &str) {
    scene.browser.open(&format!("{}{path}", scene.served.url)).await;
}

/// Puts a text into a field in place of what is there.
async fn fill(scene: &Scene, css: &str, text: &str) {
    let field = scene.browser.page.find(Locator::Css(css)).await.unwrap();
    field.clear().await.unwrap();
    field.send_keys(text).await.unwrap();
}

async fn begin(scene: &Scene, name: &str) {
    open(scene, "/begin").await;
    fill(scene, "#name", name).await;
    fill(scene, "#grams", "15").await;
    scene.browser.click("main button.main").await;
    scene.browser.says("[role=status]", "Written").await;
}

/// Brings the first load, after which there are buttons.
async fn first_load(scene: &Scene) {
    fill(scene, "#kind", "8x10rc").await;
    fill(scene, "#count", "5").await;
    scene.browser.click("section details button.main").await;
    scene.browser.says("[role=status]", "5 x 8x10rc").await;
}

/// Loads that count, by the buttons that are offered and the line of entries.
async fn entries(scene: &Scene) -> String {
    scene.browser.text("section[aria-labelledby=entries]").await
}

#[test]
fn a_load_takes_two_taps_and_is_taken_back() {
    walk(&HERE, PHONE, async |scene: &Scene| {
        begin(scene, "tray-1").await;
        first_load(scene).await;
        open(scene, "/baths").await;
        // One tap for the bath, one for what goes through.
        scene.browser.click(".bath a.main").await;
        scene.browser.text(".grid").await;
        scene.browser.click(".grid form:nth-child(3) button").await;
        scene.browser.says("[role=status]", "10 x 8x10rc").await;
        assert_eq!(entries(scene).await.matches("load:").count(), 2);
        // A reload asks for the page, and sends nothing again.
        scene.browser.page.refresh().await.unwrap();
        assert_eq!(entries(scene).await.matches("load:").count(), 2);
        scene.browser.click(".back button").await;
        scene.browser.says("[role=status]", "Taken back").await;
        assert!(entries(scene).await.contains("does not count"));
        is_sound(scene, "bath after an undo").await;
    });
}

#[test]
fn pages_of_a_bath_are_sound_in_either_theme_and_on_a_small_screen() {
    for size in [PHONE, SMALL] {
        walk(&HERE, size, async |scene: &Scene| {
            begin(scene, "tray-1").await;
            first_load(scene).await;
            for theme in ["plain", "red"] {
                for page in ["/baths", "/baths/tray-1", "/baths/tray-1/label"] {
                    open(scene, page).await;
                    is_sound(scene, &format!("{page} {theme}")).await;
                    // What is folded away as well.
                    scene
                        .browser
                        .page
                        .execute("document.querySelectorAll('details').forEach((d) => { d.open = true; })", Vec::new())
                        .await
                        .unwrap();
                    is_sound(scene, &format!("{page} open {theme}")).await;
                }
                open(scene, "/mix?from=acetic&strength=28&to=1.7%25&make=1l").await;
                is_sound(scene, &format!("mixed {theme}")).await;
                open(scene, "/mix?from=acetic&to=1.7%25&make=1l").await;
                scene.browser.says("[role=alert]", "strength").await;
                is_sound(scene, &format!("refused {theme}")).await;
                open(scene, "/dispose?from=citric-anhydrous&to=15g/l&volume=1l&drain=sewer&holder=home&fixer=no").await;
                is_sound(scene, &format!("disposed {theme}")).await;
                send(scene, "spent.jpg").await;
                is_sound(scene, &format!("to be saved {theme}")).await;
                scene.browser.click(".theme button").await;
            }
        });
    }
}

#[test]
fn what_else_happened_is_written_down_with_a_thumb() {
    walk(&HERE, SMALL, async |scene: &Scene| {
        begin(scene, "tray-1").await;
        first_load(scene).await;
        let unfold = async |kind: &str| {
            let form = format!("form[action='/log/{kind}']");
            scene.browser.click(&format!("details:has({form}) > summary")).await;
            form
        };
        let form = unfold("reading").await;
        fill(scene, "#reading-ph", "4.6").await;
        scene.browser.click(&format!("{form} button.main")).await;
        scene.browser.says("[role=status]", "pH 4.6").await;
        let form = unfold("volume").await;
        fill(scene, "#volume-volume", "0.9l").await;
        fill(scene, "#volume-note", "warm room").await;
        scene.browser.click(&format!("{form} button.main")).await;
        scene.browser.says("[role=status]", "volume measured: 900 ml").await;
        assert!(entries(scene).await.contains("warm room"));
        // What is refused says why, in words of the page.
        let form = unfold("top-up").await;
        fill(scene, "#top-up-volume", "200").await;
        scene.browser.click(&format!("{form} button.main")).await;
        scene.browser.says("[role=alert]", "no unit").await;
        is_sound(scene, "refused top-up").await;
    });
}

#[test]
fn a_reading_is_saved_to_its_bath() {
    walk(&HERE, PHONE, async |scene: &Scene| {
        begin(scene, "tray-1").await;
        send(scene, "nearing.jpg").await;
        scene.browser.click("#keep button.main").await;
        scene.browser.says("#keep [role=status]", "Written for tray-1").await;
        scene.browser.click("#keep button.main").await;
        scene.browser.says("#keep [role=alert]", "already").await;
        is_sound(scene, "saved").await;
        scene.browser.click("#keep [role=status] a").await;
        assert_eq!(entries(scene).await.matches("reading:").count(), 1);
    });
}

#[test]
fn a_row_of_buffers_is_calibrated() {
    walk(&HERE, PHONE, async |scene: &Scene| {
        open(scene, "/calibrate").await;
        scene.browser.type_into("#choose", &scene.photo("row-of-cups.jpg")).await;
        fill(scene, "#row", "4.4, 5.1").await;
        scene.browser.click("button.main").await;
        scene.browser.says("#profile", "2 buffers").await;
        is_sound(scene, "no profile yet").await;
        fill(scene, "#row", "4.4, 5.1, 5.5, 5.9, 6.5").await;
        scene.browser.click("#place button.main").await;
        scene.browser.says("#profile", "Points and residuals").await;
        is_sound(scene, "points").await;
        fill(scene, "#name", "bench-lamp").await;
        scene.browser.click("#profile button.main").await;
        scene.browser.says("#profile [role=status]", "Kept as bench-lamp").await;
        scene.browser.click(".theme button").await;
        open(scene, "/calibrate").await;
        scene.browser.says("main", "bench-lamp").await;
        is_sound(scene, "profiles, red").await;
    });
}

#[test]
fn the_keyboard_alone_writes_down_a_load() {
    walk(&HERE, DESK, async |scene: &Scene| {
        begin(scene, "tray-1").await;
        first_load(scene).await;
        scene.browser.page.execute("document.querySelector('.grid button').focus()", Vec::new()).await.unwrap();
        scene.browser.press(&[Key::Tab.into(), Key::Enter.into()]).await;
        scene.browser.says("[role=status]", "5 x 8x10rc").await;
        assert_eq!(entries(scene).await.matches("load:").count(), 2);
        scene.browser.page.execute("document.querySelector('.back button').focus()", Vec::new()).await.unwrap();
        scene.browser.press(&[Key::Enter.into()]).await;
        scene.browser.says("[role=status]", "Taken back").await;
    });
}
