//! Connections of each device: one that opens many must not keep the others out.

use super::app::locked;
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex};

/// How many connections each device has.
#[derive(Debug, Clone, Default)]
pub(super) struct Crowd(Arc<Mutex<HashMap<IpAddr, usize>>>);

/// A connection of a device, counted until it is dropped.
#[derive(Debug)]
pub(super) struct Counted {
    crowd: Crowd,
    /// None for this machine itself, which is not counted.
    device: Option<IpAddr>,
}

impl Crowd {
    /// Counts one more connection of a device; none when it has `most` already. This machine itself may have any number: all devices come
    /// from here when a proxy stands in front.
    pub(super) fn let_in(&self, device: IpAddr, most: usize) -> Option<Counted> {
        if device.is_loopback() {
            return Some(Counted { crowd: self.clone(), device: None });
        }
        let mut counts = locked(&self.0);
        let count = counts.entry(device).or_default();
        if *count >= most.max(1) {
            return None;
        }
        *count += 1;
        Some(Counted { crowd: self.clone(), device: Some(device) })
    }
}

impl Drop for Counted {
    fn drop(&mut self) {
        let Some(device) = self.device else { return };
        let mut counts = locked(&self.crowd.0);
        if let Some(count) = counts.get_mut(&device) {
            *count -= 1;
            if *count == 0 {
                counts.remove(&device);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::net::Ipv4Addr;

    #[test]
    fn a_device_has_its_share_and_no_more() {
        let crowd = Crowd::default();
        // Addresses for documentation (RFC 5737).
        let [one, other] = [1, 2].map(|last| IpAddr::V4(Ipv4Addr::new(192, 0, 2, last)));
        let mut held: Vec<Counted> = (0..3).map(|_| crowd.let_in(one, 3).unwrap()).collect();
        assert!(crowd.let_in(one, 3).is_none());
        assert!(crowd.let_in(other, 3).is_some(), "others are not kept out");
        held.pop();
        held.push(crowd.let_in(one, 3).unwrap());
        assert!(crowd.let_in(one, 3).is_none());
        drop(held);
        assert!(locked(&crowd.0).is_empty(), "what has gone is forgotten");
    }

    #[test]
    fn this_machine_is_not_counted() {
        let crowd = Crowd::default();
        let held: Vec<_> = (0..100).map(|_| crowd.let_in(Ipv4Addr::LOCALHOST.into(), 3)).collect();
        assert!(held.iter().all(Option::is_some) && locked(&crowd.0).is_empty());
    }
}
