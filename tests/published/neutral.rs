//! Baths that take up alkali, developer and soda, against PHREEQC.

use super::rows;
use approx::assert_abs_diff_eq;
use tintpoint::chemistry::liquid::Liquid;
use tintpoint::chemistry::{bath, developer, neutral, powder};
use tintpoint::quantity::{Celsius, MeqPerLitre};

const T: Celsius = Celsius::STANDARD;

fn fresh(name: &str) -> Liquid {
    let (acid, grams) = name.split_once(' ').unwrap();
    let powder = if acid == "citric" { "citric-anhydrous" } else { powder::ACETIC_ACID };
    bath::powdered(powder::find(powder).unwrap(), grams.parse().unwrap())
}

// PHREEQC of the US Geological Survey, a general-purpose program (tests/published/neutral.py with package and version), given the same constants and the Davies equation:
// 0.003 is what its own slope of the limiting law leaves, and under an atmosphere of carbon dioxide the ionic strength of a closed bottle, which is taken there.
#[test]
fn baths_take_up_alkali_developer_and_soda_as_in_another_program() {
    let mut worst = [("alkali", 0.0f64), ("carbonate", 0.0), ("sulfite", 0.0), ("gas", 0.0)];
    let all: Vec<_> = rows(include_str!("neutral.csv")).collect();
    assert!(all.len() > 40, "{}", all.len());
    for row in all {
        let bath = fresh(row[0]);
        let [amount, wanted] = [3, 4].map(|i| row[i].parse::<f64>().unwrap());
        let ph = match row[1] {
            "alkali" => bath.with_alkali(MeqPerLitre::new(amount).unwrap()).equilibrium(T).unwrap().ph,
            "gas" => neutral::while_foaming(&bath, amount / 1000.0, amount / 1000.0, T).unwrap(),
            _ => {
                let developer = developer::find(row[2]).unwrap().liquid();
                bath.mixed(1000.0 - amount, &developer, amount).without_carbon_dioxide().equilibrium(T).unwrap().ph
            }
        };
        let off = ph.value() - wanted;
        let kind = worst.iter_mut().find(|(kind, _)| *kind == row[1]).unwrap();
        kind.1 = kind.1.max(off.abs());
        assert_abs_diff_eq!(ph.value(), wanted, epsilon = 0.003);
    }
    println!("worst difference in pH by kind: {worst:?}");
}
