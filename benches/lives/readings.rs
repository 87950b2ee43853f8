//! What the program said of cups whose truth is known, darkroom by darkroom.

use tintpoint::scene::random::Random;

/// Printed by `cargo bench --bench accuracy -- --darkrooms 100`, seed 1.
const TABLE: &str = include_str!("readings.csv");

type Failure = Box<dyn std::error::Error + Send + Sync>;

/// What was said of one cup, pH counted from the dye's pKa'.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Said {
    /// What is true.
    pub(crate) turned: f64,
    pub(crate) ph: Option<f64>,
    pub(crate) low: Option<f64>,
    pub(crate) high: Option<f64>,
}

/// The readings of each darkroom, `turned` rising.
pub(crate) struct Readings(Vec<Vec<Said>>);

impl Readings {
    pub(crate) fn load() -> Result<Self, Failure> {
        let mut darkrooms: Vec<Vec<Said>> = Vec::new();
        for line in TABLE.lines().skip(1) {
            let cells: Vec<&str> = line.split(',').collect();
            let [darkroom, turned, _, ph, low, high] = cells[..] else { return Err(format!("`{line}` has not six cells").into()) };
            let open = |cell: &str| if cell.is_empty() { Ok(None) } else { cell.parse().map(Some) };
            let said = Said { turned: turned.parse()?, ph: open(ph)?, low: open(low)?, high: open(high)? };
            darkrooms.resize(darkrooms.len().max(1 + darkroom.parse::<usize>()?), Vec::new());
            darkrooms.last_mut().ok_or("no darkroom")?.push(said);
        }
        if darkrooms.is_empty() || darkrooms.iter().any(|room| room.is_empty() || !room.is_sorted_by_key(|said| said.turned)) {
            return Err("a darkroom has no readings, or not in order".into());
        }
        Ok(Readings(darkrooms))
    }

    pub(crate) fn darkrooms(&self) -> usize {
        self.0.len()
    }

    /// One of the two readings around this place, the nearer the likelier, moved there; at the ends the last one as it is.
    pub(crate) fn near(&self, darkroom: usize, turned: f64, random: &mut Random) -> Said {
        let room = &self.0[darkroom];
        let after = room.partition_point(|said| said.turned < turned);
        let is_later = random.between(0.0, 1.0);
        if after == 0 || after == room.len() {
            return room[after.min(room.len() - 1)];
        }
        let (below, above) = (room[after - 1], room[after]);
        let said = if is_later * (above.turned - below.turned) < turned - below.turned { above } else { below };
        let moved = |ph: Option<f64>| ph.map(|ph| ph + turned - said.turned);
        Said { turned, ph: moved(said.ph), low: moved(said.low), high: moved(said.high) }
    }
}
