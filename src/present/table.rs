//! The report as comma-separated values: one row per cup.

use super::number::rounded;
use super::{Entry, words};
use crate::measurement::reading::{CupReading, PanelReading, Reading};
use crate::measurement::warning::Notice;

/// The stable header.
pub const HEADER: [&str; 29] = [
    "photo",
    "taken",
    "width",
    "height",
    "light",
    "cup",
    "label",
    "x",
    "y",
    "radius",
    "indicator",
    "state",
    "ph",
    "ph_low",
    "ph_high",
    "chance_fresh",
    "chance_nearing",
    "chance_spent",
    "base_fraction",
    "dose",
    "dye_hue",
    "lab_l",
    "lab_a",
    "lab_b",
    "reasons",
    "warnings",
    "error",
    "message",
    "profile",
];

/// The header line.
///
/// # Errors
/// When the writer underneath fails, which memory does not.
pub fn header() -> Result<String, csv::Error> {
    lines(&[HEADER.map(str::to_owned).to_vec()])
}

/// The rows of one photo: one per cup; a photo without a cup or a failed one gives a single row.
///
/// # Errors
/// When the writer underneath fails, which memory does not.
pub fn rows(entry: &Entry) -> Result<String, csv::Error> {
    let rows = match &entry.outcome {
        Ok(reading) if reading.cups.is_empty() => vec![row(entry, reading, None)],
        Ok(reading) => {
            let cups = reading.cups.iter().map(|cup| row(entry, reading, Some(cup_fields(cup))));
            cups.chain(reading.panel.iter().map(|panel| row(entry, reading, Some(panel_fields(panel))))).collect()
        }
        Err(failure) => {
            let mut row = vec![String::new(); HEADER.len()];
            row[0].clone_from(&entry.photo);
            row[26].clone_from(&failure.code);
            row[27].clone_from(&failure.message);
            vec![row]
        }
    };
    lines(&rows)
}

fn lines(rows: &[Vec<String>]) -> Result<String, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.write_record(row)?;
    }
    let bytes = writer.into_inner().map_err(|e| e.into_error())?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn row(entry: &Entry, reading: &Reading, fields: Option<Vec<String>>) -> Vec<String> {
    let mut row = vec![
        entry.photo.clone(),
        entry.taken.clone().unwrap_or_default(),
        reading.width.to_string(),
        reading.height.to_string(),
        words::likely_light(&reading.light).unwrap_or_default().to_owned(),
    ];
    row.extend(fields.unwrap_or_else(|| vec![String::new(); CUP_FIELDS]));
    let profile = words::profile(reading).unwrap_or_default().to_owned();
    row.extend([codes(&reading.warnings), String::new(), String::new(), profile]);
    row
}

/// Columns that belong to one cup.
const CUP_FIELDS: usize = 20;

fn number(value: Option<f64>) -> String {
    value.and_then(|v| rounded(v, 4)).map(|v| v.to_string()).unwrap_or_default()
}

/// A panel stands in a row of its own, its number being the word.
fn panel_fields(panel: &PanelReading) -> Vec<String> {
    let mut fields = vec![String::new(); CUP_FIELDS];
    fields[0] = "panel".to_owned();
    fields[6] = words::state(panel.state).to_owned();
    let figures = [panel.ph, panel.ph_low, panel.ph_high];
    let chances = [panel.chance.map(|c| c.fresh), panel.chance.map(|c| c.nearing), panel.chance.map(|c| c.spent)];
    for (field, figure) in fields[7..].iter_mut().zip(figures.into_iter().chain(chances)) {
        *field = number(figure);
    }
    fields[CUP_FIELDS - 1] = codes(&panel.reasons);
    fields
}

fn cup_fields(cup: &CupReading) -> Vec<String> {
    let liquid = cup.region.liquid;
    vec![
        cup.number.to_string(),
        cup.label.clone().unwrap_or_default(),
        number(Some(liquid.x)),
        number(Some(liquid.y)),
        number(Some(liquid.radius)),
        cup.indicator.to_owned(),
        words::state(cup.state).to_owned(),
        number(cup.ph),
        number(cup.ph_low),
        number(cup.ph_high),
        number(cup.chance.map(|c| c.fresh)),
        number(cup.chance.map(|c| c.nearing)),
        number(cup.chance.map(|c| c.spent)),
        number(cup.base_fraction),
        number(cup.dose),
        number(cup.dye_hue),
        number(cup.lab.map(|lab| lab[0])),
        number(cup.lab.map(|lab| lab[1])),
        number(cup.lab.map(|lab| lab[2])),
        codes(&cup.reasons),
    ]
}

fn codes(notices: &[Notice]) -> String {
    notices.iter().map(Notice::code).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::examples;

    fn read(text: &str) -> Vec<Vec<String>> {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
        reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect()
    }

    #[test]
    fn each_row_fills_the_header() {
        let entries =
            [examples::entry("a, b.jpg", examples::three_cups()), examples::entry("c.jpg", examples::no_cup()), examples::failed("d.jpg")];
        let text: String = entries.iter().map(|e| rows(e).unwrap()).collect();
        let table = read(&(header().unwrap() + &text));
        assert_eq!(table.len(), 1 + 3 + 1 + 1);
        assert!(table.iter().all(|row| row.len() == HEADER.len()));
        assert_eq!(table[1][0], "a, b.jpg");
        let column = |name: &str| HEADER.iter().position(|h| *h == name).unwrap();
        assert_eq!(table[2][column("state")], "nearing");
        assert_eq!(table[4][column("warnings")], "cup-missing");
        assert_eq!(table[5][column("error")], "damaged");
        let table = read(&rows(&examples::entry("p.jpg", examples::panel())).unwrap());
        let last = table.last().unwrap();
        assert!(table.len() == 4 && last.len() == HEADER.len());
        assert_eq!(["cup", "state", "ph", "chance_spent"].map(|name| last[column(name)].as_str()), ["panel", "nearing", "5.4", "0.149"]);
    }
}
