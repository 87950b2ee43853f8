//! What each notice says, what to do about it, and which comes first.

use super::printable;
use crate::measurement::verdict::MOST_STAIN;
use crate::measurement::warning::Notice;
use crate::present::number::{one_decimal, percent};

/// What a notice says.
#[must_use]
pub fn message(notice: &Notice) -> String {
    match notice {
        Notice::Safelight => "no white light: one or two colour channels hold no signal, as under a safelight".to_owned(),
        Notice::CardMissing => "no grey card was found".to_owned(),
        Notice::CardClipped { channel, share } => format!("the grey card is clipped in {channel} ({} of its pixels)", percent(*share)),
        Notice::CardShaded { ratio } => {
            format!("the grey card is unevenly lit: one part is {} times as bright as another", one_decimal(*ratio))
        }
        Notice::MixedLight { difference } => {
            let factor = one_decimal(10f64.powf(difference.abs()));
            format!("two kinds of light are mixed: white areas differ in colour by a factor of {factor}")
        }
        Notice::TooDark { white } => format!("the picture is too dark: white reaches only {} of full scale", percent(*white)),
        Notice::Blurred { width } => {
            format!("the picture is blurred: even its sharpest edges are {} % of its longer side wide", one_decimal(100.0 * width))
        }
        Notice::CupMissing => "no sample cup was found".to_owned(),
        Notice::SheetMarkMissing { missing, is_used } => {
            let names: Vec<&str> = missing.iter().map(|corner| corner.name()).collect();
            let (some, verb) = if names.len() == 1 { ("mark", "was") } else { ("marks", "were") };
            let effect = if *is_used { "the others were enough" } else { "so the sheet could not be used" };
            format!("the {} {some} of the placement sheet {verb} not read; {effect}", names.join(", "))
        }
        Notice::TooPale { dose } => format!("too little dye to read (optical dose {dose:.2})"),
        Notice::TooDeep { dose } => format!("the sample is too deep in colour to see through (optical dose {})", one_decimal(*dose)),
        Notice::Stained { density } if *density > MOST_STAIN => {
            format!("brown developer stain hides the indicator (density {density:.2} at 420 nm)")
        }
        Notice::Stained { .. } => "brown developer stain would give this colour as well as the indicator does".to_owned(),
        Notice::OtherDye { .. } => {
            "this is no colour the chosen indicator would have in a likely light, or another indicator explains it better".to_owned()
        }
        Notice::CupUnusable => "the cup reaches outside the picture or is too small to measure".to_owned(),
        Notice::Undecided { fresh, spent } => {
            format!("both fresh ({}) and spent ({}) are still possible", percent(*fresh), percent(*spent))
        }
        Notice::ReserveUnseen => "plain acid colour: colour alone cannot see how much reserve is left".to_owned(),
        Notice::BoundOnly => "the pH lies beyond what this indicator can show, so only a bound is given".to_owned(),
        Notice::CupCount { named, found } => format!("cups were named up to number {named}, but the photo shows {found}"),
        Notice::LabelCount { named, found } => {
            format!("names were given for {named} cups, but the photo shows {found}; they were left off")
        }
        Notice::Blank => "plain water, as told: taken for white".to_owned(),
        Notice::BlankColoured { density } => {
            format!("told to be plain water, but it is coloured (density {density:.2}); it was left out")
        }
        Notice::PanelContradicts { cup: Some(cup), .. } => {
            format!("the cups cannot hold the same bath: cup {cup} disagrees with the others")
        }
        Notice::PanelContradicts { cup: None, .. } => "the cups cannot hold the same bath: they disagree".to_owned(),
        Notice::PanelEmpty => "no cup of the panel could be judged".to_owned(),
        Notice::ColourSpaceAssumed => {
            "the camera says that the colours are not sRGB, but not what they are; they were taken as sRGB".to_owned()
        }
        Notice::CameraCodingAssumed => {
            "the camera does not tell clearly how it codes colours; the usual matrix and range (Rec. 601) were assumed".to_owned()
        }
        Notice::CameraUnsettled { change } => {
            format!("exposure or white balance of the camera had not come to rest: the light still changed by {}", percent(*change))
        }
        Notice::Calibrated { name, salt: None, .. } => format!("read with the profile `{}`", printable(name)),
        Notice::Calibrated { name, salt: Some(shift), salt_unsure } => format!(
            "read with the profile `{}`; pKa' moved by {shift:+.2} from the salt of its buffers to that of the bath, uncertain by {salt_unsure:.2}",
            printable(name)
        ),
        Notice::ProfileChosen { name, matches: 1 } => {
            format!("the profile `{}` was chosen by itself: it was made with this camera and dye", printable(name))
        }
        Notice::ProfileChosen { name, matches } => {
            format!("the profile `{}` was chosen by itself: of {matches} made with this camera and dye it is the newest", printable(name))
        }
        Notice::OtherProfile { name, indicator } => {
            format!("the profile `{}` holds for {indicator} alone and was not used", printable(name))
        }
        Notice::CheckHolds { cup, off: Some(off) } => {
            format!("cup {cup} bears the profile out: it read {off:+.2} pH off, which is corrected in all cups")
        }
        Notice::CheckHolds { cup, off: None } => {
            format!("cup {cup} is beyond the turn and bears the profile out on that side: its pH lies within the bound that it read")
        }
        Notice::CheckSilent { cup } => {
            format!("cup {cup} is so far beyond the turn that it neither bears the profile out nor belies it")
        }
        Notice::CheckFailed { cup, off: Some(off) } => format!("cup {cup} belies the profile: it read {off:+.2} pH off"),
        Notice::CheckFailed { cup, off: None } => format!("cup {cup} cannot test the profile: it was not read"),
        Notice::ProfileIgnored { name } => {
            format!("the colour profile `{}` could not be used; colours were taken as sRGB", printable(name))
        }
    }
}

/// What to do about a notice, when something can be done.
#[must_use]
pub fn remedy(notice: &Notice) -> Option<&'static str> {
    Some(match notice {
        Notice::Safelight => "retake under white light, paper covered, safelight off",
        Notice::CardMissing => {
            "lay a grey card flat beside the cup and retake, or tell where it is: --card X,Y,W,H \
             (left, top, width and height in pixels of the upright picture)"
        }
        Notice::CardClipped { .. } => "retake with less exposure, and turn the card until no lamp mirrors in it",
        Notice::CardShaded { .. } => "retake with card and cup in the same even light, no shadow of hand or phone across them",
        Notice::MixedLight { .. } => "leave one kind of lamp on, or shut out the daylight, and retake",
        Notice::TooDark { .. } => "retake with more light or a longer exposure",
        Notice::Blurred { .. } => "rest the camera on something, focus on the rim of the cup, and retake",
        Notice::CupMissing => {
            "look straight down on a white cup on white paper and retake, or tell where the liquid is: --cup X,Y,R \
             (centre and radius in pixels of the upright picture)"
        }
        Notice::SheetMarkMissing { .. } => "retake with all four corner marks in the picture, flat, and nothing on them",
        Notice::TooPale { .. } => "take a deeper sample, or add a drop more indicator",
        Notice::TooDeep { .. } => "pour it shallower, and retake",
        Notice::Stained { .. } => {
            "retake with a sample half as deep, where dye and stain part; or do the drop-count test: count the drops of working \
             developer that 10 ml of the bath takes before it turns, \
             and compare with the fresh day's count"
        }
        Notice::OtherDye { .. } => {
            "name the dye that is in the bath: --indicator NAME (`tintpoint indicators` lists them); if it is the right one, \
             a stain or a film dye is in the way: do the drop-count test"
        }
        Notice::CupUnusable => "retake closer, with the whole cup in the picture",
        Notice::Undecided { .. } => "retake in daylight beside the card; in doubt mix a new batch, it costs less than a roll",
        Notice::ReserveUnseen => "keep a count of rolls and sheets; a drop-count test shows the reserve",
        Notice::BoundOnly => "for a closer figure put an indicator that turns there into a separate sample; never pour that sample back",
        Notice::CupCount { .. } => {
            "compare with `--picture out.png`, which shows the cups found and their numbers; name as many, or tell where they are: --cup X,Y,R"
        }
        Notice::LabelCount { .. } => "give one name for each cup, or name single ones: --labels 2=left tray",
        Notice::ProfileChosen { .. } => {
            "read with --no-profile to do without it; another lot of dye or another lamp asks for a calibration of its own"
        }
        Notice::Blank | Notice::Calibrated { .. } | Notice::CheckHolds { .. } => return None,
        Notice::CheckSilent { .. } => "put a buffer near the middle of the turn into the photo",
        Notice::OtherProfile { .. } => "calibrate with this indicator, or read without a profile",
        Notice::CheckFailed { .. } => "calibrate again in this light, or read without the profile; see that the cup holds a fresh buffer",
        Notice::BlankColoured { .. } => "name the cup that holds water: --blank NUMBER, or rinse it, fill it anew and retake",
        Notice::PanelContradicts { .. } => {
            "see that each cup holds the dye it was told to hold, and the same bath; rinse the cups, fill them anew and retake"
        }
        Notice::PanelEmpty => "see what is said of each cup",
        Notice::CameraCodingAssumed => "take another format or camera, or compare once with a photo of the same cup from another camera",
        Notice::CameraUnsettled { .. } => "light card and cup evenly, keep hands out of the picture, and take it again",
        Notice::ProfileIgnored { .. } | Notice::ColourSpaceAssumed => "set the camera to sRGB, or save the photo as sRGB with its profile",
    })
}

/// The notices about a photo in the order in which they help: first what spoils the whole picture, then what was not found
/// in it (often for that reason), then the rest.
#[must_use]
pub fn by_gravity(notices: &[Notice]) -> Vec<&Notice> {
    let rank = |notice: &Notice| match notice {
        Notice::Safelight | Notice::TooDark { .. } | Notice::Blurred { .. } => 0,
        Notice::CardMissing | Notice::CupMissing => 1,
        Notice::CardClipped { .. } | Notice::CardShaded { .. } | Notice::MixedLight { .. } => 2,
        _ => 3,
    };
    let mut all: Vec<&Notice> = notices.iter().collect();
    all.sort_by_key(|notice| rank(notice));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::placement::Corner;

    fn every_notice() -> Vec<Notice> {
        vec![
            Notice::Safelight,
            Notice::CardMissing,
            Notice::CardClipped { channel: "blue", share: 0.97 },
            Notice::CardShaded { ratio: 1.84 },
            Notice::MixedLight { difference: 0.2 },
            Notice::TooDark { white: 0.03 },
            Notice::Blurred { width: 0.025 },
            Notice::CupMissing,
            Notice::SheetMarkMissing { missing: vec![Corner::UpperLeft], is_used: true },
            Notice::SheetMarkMissing { missing: vec![Corner::UpperLeft, Corner::LowerLeft], is_used: false },
            Notice::TooPale { dose: 0.04 },
            Notice::TooDeep { dose: 9.0 },
            Notice::Stained { density: 0.6 },
            Notice::Stained { density: 0.2 },
            Notice::OtherDye { misfit: 4.2 },
            Notice::CupUnusable,
            Notice::Undecided { fresh: 0.3, spent: 0.25 },
            Notice::ReserveUnseen,
            Notice::BoundOnly,
            Notice::CupCount { named: 3, found: 2 },
            Notice::LabelCount { named: 3, found: 2 },
            Notice::Blank,
            Notice::BlankColoured { density: 0.4 },
            Notice::PanelContradicts { cup: Some(2), distance: 30.0 },
            Notice::PanelContradicts { cup: None, distance: 30.0 },
            Notice::PanelEmpty,
            Notice::Calibrated { name: "odd\u{1b}[31m".to_owned(), salt: None, salt_unsure: 0.0 },
            Notice::Calibrated { name: "odd\u{1b}[31m".to_owned(), salt: Some(-0.1), salt_unsure: 0.05 },
            Notice::ProfileChosen { name: "odd\u{1b}[31m".to_owned(), matches: 1 },
            Notice::ProfileChosen { name: "odd\u{1b}[31m".to_owned(), matches: 3 },
            Notice::OtherProfile { name: "odd\u{1b}[31m".to_owned(), indicator: "bromocresol green" },
            Notice::CheckHolds { cup: 2, off: Some(0.1) },
            Notice::CheckHolds { cup: 2, off: None },
            Notice::CheckSilent { cup: 2 },
            Notice::CheckFailed { cup: 2, off: Some(-0.8) },
            Notice::CheckFailed { cup: 2, off: None },
            Notice::ColourSpaceAssumed,
            Notice::CameraCodingAssumed,
            Notice::CameraUnsettled { change: 0.04 },
            Notice::ProfileIgnored { name: "odd\u{1b}[31m".to_owned() },
        ]
    }

    #[test]
    fn sentences_keep_the_house_form() {
        for notice in every_notice() {
            for text in [Some(message(&notice)), remedy(&notice).map(str::to_owned)].into_iter().flatten() {
                assert!(text.chars().next().is_some_and(char::is_lowercase), "{text}");
                assert!(!text.ends_with('.') && !text.contains("  ") && !text.chars().any(char::is_control), "{text}");
            }
        }
    }

    #[test]
    fn every_notice_has_its_own_words() {
        let mut all: Vec<String> = every_notice().iter().map(message).collect();
        all.sort();
        all.dedup();
        assert_eq!(all.len(), every_notice().len());
    }

    #[test]
    fn the_cause_comes_before_what_was_not_found() {
        let notices = [Notice::ColourSpaceAssumed, Notice::CardMissing, Notice::Safelight];
        assert_eq!(by_gravity(&notices), [&Notice::Safelight, &Notice::CardMissing, &Notice::ColourSpaceAssumed]);
    }

    #[test]
    fn manual_lists_every_code() {
        let readme = include_str!("../../../README.md");
        for notice in every_notice() {
            assert!(readme.contains(&format!("`{}`", notice.code())), "README does not list `{}`", notice.code());
        }
    }

    #[test]
    fn figures_reach_the_message() {
        assert_eq!(message(&Notice::CardClipped { channel: "blue", share: 0.97 }), "the grey card is clipped in blue (97 % of its pixels)");
        // 10^0.2 = 1.585: a difference of log10 ratios told as a factor.
        assert!(message(&Notice::MixedLight { difference: -0.2 }).ends_with("factor of 1.6"));
    }

    #[test]
    fn remedies_use_the_words_of_the_trade() {
        assert_eq!(remedy(&Notice::Safelight), Some("retake under white light, paper covered, safelight off"));
        assert!(remedy(&Notice::TooDeep { dose: 9.0 }).is_some_and(|r| r.contains("pour it shallower")));
        assert!(remedy(&Notice::CardMissing).is_some_and(|r| r.contains("--card X,Y,W,H")));
    }
}
