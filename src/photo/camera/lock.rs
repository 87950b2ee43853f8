//! Keeps a camera from changing exposure and white balance while its frames are taken, where it can be told to.

/// The controls of a camera by the numbers of Video for Linux.
pub trait Controls {
    /// Present level; `None` for a control that the camera does not have.
    fn level(&self, control: u32) -> Option<i32>;
    /// Sets a level; false when the driver refuses.
    fn set(&mut self, control: u32, level: i32) -> bool;
}

/// A control that works by itself until it is told not to.
struct Automatic {
    /// Switches it.
    switch: u32,
    /// Level of the switch at which the camera leaves the value alone.
    manual: i32,
    /// What it works on.
    value: u32,
}

/// Numbers from `include/uapi/linux/v4l2-controls.h`: V4L2_CID_EXPOSURE_AUTO with V4L2_EXPOSURE_MANUAL and V4L2_CID_EXPOSURE_ABSOLUTE.
const EXPOSURE: Automatic = Automatic { switch: 0x009a_0901, manual: 1, value: 0x009a_0902 };
/// V4L2_CID_AUTO_WHITE_BALANCE and V4L2_CID_WHITE_BALANCE_TEMPERATURE of the same file.
const WHITE_BALANCE: Automatic = Automatic { switch: 0x0098_090c, manual: 0, value: 0x0098_091a };
/// V4L2_CID_AUTOGAIN and V4L2_CID_GAIN of the same file.
const GAIN: Automatic = Automatic { switch: 0x0098_0912, manual: 0, value: 0x0098_0913 };

/// What was locked, and how it was before.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Lock {
    /// The exposure keeps still.
    pub exposure: bool,
    /// The white balance keeps still.
    pub white_balance: bool,
    /// Switches to put back and their levels, in the order in which they were changed.
    changed: Vec<(u32, i32)>,
}

impl Lock {
    /// Locks what can be locked, at the values that the camera has chosen. A driver that refuses is left as it was.
    pub fn close(camera: &mut impl Controls) -> Self {
        let mut lock = Lock::default();
        lock.exposure = lock.hold(camera, &EXPOSURE);
        // Where the gain follows the light too, a locked shutter alone locks no exposure.
        let gain = camera.level(GAIN.switch).is_none() || lock.hold(camera, &GAIN);
        lock.exposure &= gain;
        lock.white_balance = lock.hold(camera, &WHITE_BALANCE);
        lock
    }

    /// True when any switch was changed, so that the picture may have changed too.
    #[must_use]
    pub fn has_changed(&self) -> bool {
        !self.changed.is_empty()
    }

    /// Puts every switch back.
    pub fn open(&self, camera: &mut impl Controls) {
        for &(switch, level) in self.changed.iter().rev() {
            camera.set(switch, level);
        }
    }

    fn hold(&mut self, camera: &mut impl Controls, automatic: &Automatic) -> bool {
        let Some(before) = camera.level(automatic.switch) else { return false };
        if before == automatic.manual {
            return true;
        }
        // Some cameras go back to the last value set by hand when they are switched over.
        let value = camera.level(automatic.value);
        let is_taken = camera.set(automatic.switch, automatic.manual);
        let now = camera.level(automatic.switch);
        // A driver may refuse and yet have moved the switch to the nearest level it knows, so it is looked at again.
        if now != Some(before) {
            self.changed.push((automatic.switch, before));
        }
        if let (true, Some(value)) = (is_taken, value) {
            camera.set(automatic.value, value);
        }
        is_taken && now == Some(automatic.manual)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    /// A webcam that falls back to a value of its own when switched to manual, as some do.
    #[derive(Clone, PartialEq, Debug)]
    struct Webcam {
        levels: BTreeMap<u32, i32>,
        refused: Vec<u32>,
        own: i32,
    }

    fn webcam() -> Webcam {
        let levels = BTreeMap::from([(EXPOSURE.switch, 3), (EXPOSURE.value, 166), (WHITE_BALANCE.switch, 1), (WHITE_BALANCE.value, 4100)]);
        Webcam { levels, refused: Vec::new(), own: 20 }
    }

    impl Controls for Webcam {
        fn level(&self, control: u32) -> Option<i32> {
            self.levels.get(&control).copied()
        }

        fn set(&mut self, control: u32, level: i32) -> bool {
            if self.refused.contains(&control) || !self.levels.contains_key(&control) {
                return false;
            }
            if control == EXPOSURE.switch && level == 1 {
                self.levels.insert(EXPOSURE.value, self.own);
            }
            self.levels.insert(control, level);
            true
        }
    }

    #[test]
    fn locks_at_the_values_the_camera_has_chosen_and_puts_back() {
        let mut camera = webcam();
        let lock = Lock::close(&mut camera);
        assert!(lock.exposure && lock.white_balance && lock.has_changed());
        assert_eq!((camera.level(EXPOSURE.switch), camera.level(EXPOSURE.value)), (Some(1), Some(166)));
        assert_eq!((camera.level(WHITE_BALANCE.switch), camera.level(WHITE_BALANCE.value)), (Some(0), Some(4100)));
        lock.open(&mut camera);
        assert_eq!((camera.level(EXPOSURE.switch), camera.level(WHITE_BALANCE.switch)), (Some(3), Some(1)));
    }

    #[test]
    fn what_is_already_manual_is_left_alone() {
        let mut camera = webcam();
        camera.levels.insert(EXPOSURE.switch, 1);
        camera.levels.insert(WHITE_BALANCE.switch, 0);
        let before = camera.clone();
        let lock = Lock::close(&mut camera);
        assert!(lock.exposure && lock.white_balance && !lock.has_changed());
        assert_eq!(camera, before);
    }

    #[test]
    fn a_camera_without_controls_is_not_locked() {
        let mut camera = Webcam { levels: BTreeMap::new(), refused: vec![], own: 0 };
        assert_eq!(Lock::close(&mut camera), Lock::default());
    }

    #[test]
    fn a_refusal_leaves_the_camera_as_it_was() {
        let mut camera = Webcam { refused: vec![EXPOSURE.switch], ..webcam() };
        let lock = Lock::close(&mut camera);
        assert!(!lock.exposure && lock.white_balance);
        lock.open(&mut camera);
        assert_eq!(camera.levels, webcam().levels);
    }

    #[test]
    fn an_automatic_gain_that_stays_leaves_exposure_unlocked() {
        let mut camera = webcam();
        camera.levels.extend([(GAIN.switch, 1), (GAIN.value, 10)]);
        assert!(Lock::close(&mut camera.clone()).exposure);
        camera.refused.push(GAIN.switch);
        assert!(!Lock::close(&mut camera).exposure);
    }
}
