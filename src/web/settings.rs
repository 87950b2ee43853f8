//! What a form tells about a photo, and how it is said again in the next form.

use crate::indicator::{Indicator, catalogue};
use crate::measurement::regions::{Circle, Rectangle};
use crate::measurement::request::{Contents, LightChoice, Request};

/// Cups that are taken from a form; a photo with more is read on the command line.
pub(super) const MOST_CUPS: usize = 24;
/// Values that the form offers for the light, and their words.
pub(super) const LIGHTS: [(&str, &str, LightChoice); 5] = [
    ("auto", "find out", LightChoice::Auto),
    ("daylight", "daylight", LightChoice::Daylight),
    ("tungsten", "filament lamp", LightChoice::Tungsten),
    ("led", "white LED", LightChoice::Led),
    ("fluorescent", "fluorescent tube", LightChoice::Fluorescent),
];

/// Words of the kinds of light, for the pages.
pub(super) fn lights() -> impl Iterator<Item = (&'static str, &'static str)> {
    LIGHTS.iter().map(|(value, words, _)| (*value, *words))
}

/// Why a form is not understood.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(super) enum SettingError {
    #[error("`{0}` is no indicator that is known here")]
    Indicator(String),
    #[error("`{0}` is no kind of light that is known here")]
    Light(String),
    #[error("`{0}` is no area of a picture")]
    Area(String),
    #[error("{0} cups were told, at most {MOST_CUPS} are read here")]
    Cups(usize),
}

/// What was told of a photo.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Settings {
    pub(super) indicator: &'static Indicator,
    pub(super) light: LightChoice,
    pub(super) card: Option<Rectangle>,
    pub(super) cups: Vec<Circle>,
}

impl Settings {
    /// Nothing told but the dye.
    pub(super) fn of(indicator: &'static Indicator) -> Self {
        Settings { indicator, light: LightChoice::Auto, card: None, cups: Vec::new() }
    }

    /// Takes one field of a form; a name that is not known is passed over.
    pub(super) fn tell(&mut self, name: &str, value: &str) -> Result<(), SettingError> {
        match name {
            "indicator" => self.indicator = catalogue::find(value).ok_or_else(|| SettingError::Indicator(cut(value)))?,
            "light" => {
                let known = LIGHTS.iter().find(|(word, ..)| *word == value);
                self.light = known.ok_or_else(|| SettingError::Light(cut(value)))?.2;
            }
            "card" if value.is_empty() => self.card = None,
            "card" => {
                let [x, y, w, h] = figures(value)?;
                self.card = Some(Rectangle { x, y, w, h });
            }
            "cups" => {
                let told: Vec<&str> = value.split(';').filter(|part| !part.is_empty()).collect();
                if told.len() > MOST_CUPS {
                    return Err(SettingError::Cups(told.len()));
                }
                let circle = |part: &&str| figures(part).map(|[x, y, radius]| Circle { x, y, radius });
                self.cups = told.iter().map(circle).collect::<Result<_, _>>()?;
                // A circle without a size is no place to look at.
                if self.cups.iter().any(|cup| cup.radius < 1.0) {
                    return Err(SettingError::Area(cut(value)));
                }
            }
            _ => {}
        }
        Ok(())
    }

    /// The card as [`Settings::tell`] takes it.
    pub(super) fn card_text(&self) -> String {
        self.card.map_or_else(String::new, |c| format!("{:.1},{:.1},{:.1},{:.1}", c.x, c.y, c.w, c.h))
    }

    /// The cups as [`Settings::tell`] takes them.
    pub(super) fn cups_text(&self) -> String {
        self.cups.iter().map(|c| format!("{:.1},{:.1},{:.1}", c.x, c.y, c.radius)).collect::<Vec<_>>().join(";")
    }

    /// The word of the light.
    pub(super) fn light_word(&self) -> &'static str {
        LIGHTS.iter().find(|(.., light)| *light == self.light).map_or("auto", |(word, ..)| word)
    }

    /// The request; what the form does not ask for is what the command line takes unless told, as a test compares.
    pub(super) fn request(&self) -> Request {
        Request {
            contents: Contents::of(self.indicator),
            light: self.light,
            card: self.card,
            cups: self.cups.clone(),
            ..Request::default()
        }
    }
}

fn figures<const N: usize>(text: &str) -> Result<[f64; N], SettingError> {
    let wrong = || SettingError::Area(cut(text));
    let values: Vec<f64> = text.split(',').map(|part| part.trim().parse::<f64>()).collect::<Result<_, _>>().map_err(|_| wrong())?;
    // Beyond a hundred thousand pixels there is no picture; neither infinity nor NaN passes.
    if values.iter().any(|v| !(0.0..1e5).contains(v)) {
        return Err(wrong());
    }
    values.try_into().map_err(|_| wrong())
}

/// As much of what was sent as a message needs.
fn cut(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn purple() -> Settings {
        Settings::of(catalogue::usual())
    }

    #[test]
    fn what_is_told_is_said_again() {
        let mut told = purple();
        told.tell("indicator", "bromocresol-green").unwrap();
        told.tell("light", "led").unwrap();
        told.tell("card", "10,20.5,30,40").unwrap();
        told.tell("cups", "1,2,3;4,5,6.5;").unwrap();
        told.tell("whatever", "else").unwrap();
        let mut again = purple();
        again.tell("indicator", told.indicator.name).unwrap();
        again.tell("light", told.light_word()).unwrap();
        again.tell("card", &told.card_text()).unwrap();
        again.tell("cups", &told.cups_text()).unwrap();
        assert_eq!(told, again);
        assert_eq!(again.cups.len(), 2);
    }

    #[test]
    fn nonsense_is_refused() {
        let mut settings = purple();
        for (name, value) in [
            ("indicator", "litmus-of-the-moon"),
            ("light", "moon"),
            ("card", "1,2,3"),
            ("card", "1,2,3,NaN"),
            ("card", "1,2,3,inf"),
            ("card", "-1,2,3,4"),
            ("cups", "1,2,0"),
            ("cups", "a,b,c"),
        ] {
            assert!(settings.tell(name, value).is_err(), "{name}={value}");
        }
        let many = "1,1,5;".repeat(MOST_CUPS + 1);
        assert_eq!(settings.tell("cups", &many), Err(SettingError::Cups(MOST_CUPS + 1)));
    }
}
