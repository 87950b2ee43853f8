//! Every warning and refusal, with the figures its message needs.

use crate::placement::Corner;

/// Something to tell about a photo or a cup. Its words live in `present::words`.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
// The fields are explained by the line above their variant.
#[allow(missing_docs)]
pub enum Notice {
    /// No white light: one or two channels carry no signal.
    Safelight,
    /// No grey card was found.
    CardMissing,
    /// The card is clipped in the named channel; share of its pixels 0 to 1.
    CardClipped {
        /// red, green or blue.
        channel: &'static str,
        /// Share of the card's pixels, 0 to 1.
        share: f64,
    },
    /// Parts of the card differ in brightness by this ratio.
    CardShaded {
        /// Brighter over darker, linear, above 1.
        ratio: f64,
    },
    /// White areas differ in colour; difference of log10 channel ratios.
    MixedLight {
        /// Difference of log10 channel ratios.
        difference: f64,
    },
    /// The brightest white reaches no more than this share of full scale.
    TooDark {
        /// Linear, 0 to 1 of full scale.
        white: f64,
    },
    /// Even the sharpest edges are this wide.
    Blurred {
        /// Width of an edge, share of the picture's longer side.
        width: f64,
    },
    /// No cup was found.
    CupMissing,
    /// Marks of a placement sheet that were not read; with three read the sheet is used all the same.
    SheetMarkMissing {
        /// Those not read.
        missing: Vec<Corner>,
        /// True when the others were enough.
        is_used: bool,
    },
    /// No dye to speak of; fitted dose.
    TooPale {
        /// Fitted optical dose.
        dose: f64,
    },
    /// Too deep to see through; fitted dose.
    TooDeep {
        /// Fitted optical dose.
        dose: f64,
    },
    /// Brown stain dominates; its density at 420 nm.
    Stained {
        /// Density at 420 nm.
        density: f64,
    },
    /// A colour this indicator cannot have; misfit in multiples of what is expected.
    OtherDye {
        /// Multiples of the expected misfit.
        misfit: f64,
    },
    /// The cup reaches outside the picture or is too small to measure.
    CupUnusable,
    /// Fresh and spent are both still possible.
    Undecided {
        /// Chance of fresh, 0 to 1.
        fresh: f64,
        /// Chance of spent, 0 to 1.
        spent: f64,
    },
    /// Plain yellow cannot show how much reserve is left.
    ReserveUnseen,
    /// The pH lies beyond what the indicator can show; only a bound is given.
    BoundOnly,
    /// What was said of the cups does not fit their number.
    CupCount {
        /// Cups that were named.
        named: usize,
        /// Cups in the photo.
        found: usize,
    },
    /// Names were given to another number of cups.
    LabelCount {
        /// Names given.
        named: usize,
        /// Cups in the photo.
        found: usize,
    },
    /// The cup is plain water, as was told.
    Blank,
    /// The cup that was told to be plain water is coloured; its greatest density.
    BlankColoured {
        /// Greatest density of a channel.
        density: f64,
    },
    /// The cups of a panel cannot hold the same bath.
    PanelContradicts {
        /// The cup that fits least, when there are three or more.
        cup: Option<usize>,
        /// Squared distance from agreement, in standard deviations.
        distance: f64,
    },
    /// No cup of the panel could be judged.
    PanelEmpty,
    /// The photo was read with a calibration.
    Calibrated {
        /// Name of the profile.
        name: String,
        /// Change of pKa' from the salt of the buffers to that of the bath, pH; `None` when they have the same.
        salt: Option<f64>,
        /// What stays uncertain of it, pH.
        salt_unsure: f64,
    },
    /// A profile was taken that nobody named, because camera, dye and light are its own.
    ProfileChosen {
        /// Name of the profile.
        name: String,
        /// How many fit; this one is the newest.
        matches: usize,
    },
    /// A calibration that was given does not hold for the dyes of the photo; it was not used.
    OtherProfile {
        /// Name of the profile.
        name: String,
        /// Its dye.
        indicator: &'static str,
    },
    /// A cup of known pH bears the profile out; what little it was off is corrected.
    CheckHolds {
        /// Number of the cup.
        cup: usize,
        /// The pH it read less the pH that was told; `None` for a cup beyond the turn, whose bound holds.
        off: Option<f64>,
    },
    /// A cup of known pH is so far beyond the turn that it says nothing of the profile.
    CheckSilent {
        /// Number of the cup.
        cup: usize,
    },
    /// A cup of known pH belies the profile: no cup may be judged by it.
    CheckFailed {
        /// Number of the cup.
        cup: usize,
        /// The pH it read, or the end of its bound, less the pH that was told; `None` when it did not read at all.
        off: Option<f64>,
    },
    /// A colour profile that could not be used; its name.
    ProfileIgnored {
        /// Its own name, or what is wrong with it.
        name: String,
    },
    /// The camera says that the colours are not sRGB, but not what they are; sRGB is assumed.
    ColourSpaceAssumed,
    /// The driver of a camera does not tell clearly how luma and colour differences are coded; the usual way is assumed.
    /// It has no effect on the figures: a wrong guess moves the colour of card and cup alike, and nothing tells by how much.
    CameraCodingAssumed,
    /// Exposure or white balance of a camera still moved when the frames were taken; share of the light.
    /// It has no effect on the figures: averaged in linear light it scales each channel, which card and white take out.
    CameraUnsettled {
        /// Change of the light, share, 0.01 or more.
        change: f64,
    },
}

impl Notice {
    /// True when no cup of the photo may be judged.
    #[must_use]
    pub fn refuses(&self) -> bool {
        matches!(
            self,
            Notice::Safelight
                | Notice::CardMissing
                | Notice::CardClipped { .. }
                | Notice::CardShaded { .. }
                | Notice::MixedLight { .. }
                | Notice::TooDark { .. }
                | Notice::Blurred { .. }
                | Notice::CupMissing
                | Notice::CupCount { .. }
                | Notice::CheckFailed { .. }
        )
    }

    /// The stable code of the report.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Notice::Safelight => "safelight",
            Notice::CardMissing => "card-missing",
            Notice::CardClipped { .. } => "card-clipped",
            Notice::CardShaded { .. } => "card-shaded",
            Notice::MixedLight { .. } => "mixed-light",
            Notice::TooDark { .. } => "too-dark",
            Notice::Blurred { .. } => "blurred",
            Notice::CupMissing => "cup-missing",
            Notice::SheetMarkMissing { .. } => "sheet-mark-missing",
            Notice::TooPale { .. } => "too-pale",
            Notice::TooDeep { .. } => "too-deep",
            Notice::Stained { .. } => "stained",
            Notice::OtherDye { .. } => "other-dye",
            Notice::CupUnusable => "cup-unusable",
            Notice::Undecided { .. } => "undecided",
            Notice::ReserveUnseen => "reserve-unseen",
            Notice::BoundOnly => "bound-only",
            Notice::CupCount { .. } => "cup-count",
            Notice::LabelCount { .. } => "label-count",
            Notice::Blank => "blank",
            Notice::BlankColoured { .. } => "blank-coloured",
            Notice::PanelContradicts { .. } => "panel-contradicts",
            Notice::PanelEmpty => "panel-empty",
            Notice::Calibrated { .. } => "calibrated",
            Notice::ProfileChosen { .. } => "profile-chosen",
            Notice::OtherProfile { .. } => "other-profile",
            Notice::CheckHolds { .. } => "check-holds",
            Notice::CheckSilent { .. } => "check-silent",
            Notice::CheckFailed { .. } => "check-failed",
            Notice::ProfileIgnored { .. } => "profile-ignored",
            Notice::ColourSpaceAssumed => "colour-space-assumed",
            Notice::CameraCodingAssumed => "camera-coding-assumed",
            Notice::CameraUnsettled { .. } => "camera-unsettled",
        }
    }
}
