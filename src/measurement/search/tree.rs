//! Which hypotheses are neighbours.

use crate::colour::space::apply;
use crate::measurement::model::Wave;
use crate::measurement::model::hypothesis::Hypothesis;
use crate::measurement::model::parameters as prior;

/// Base fraction and optical dose of the liquids by whose colours hypotheses are compared.
const COMPARED: [(f64, f64); 6] = [(0.0, 0.3), (0.0, 1.0), (0.3, 0.3), (0.3, 1.0), (1.0, 0.3), (1.0, 1.0)];
/// Their linear colours.
pub(super) type Colours = [[f64; 3]; COMPARED.len()];

/// The colours that each hypothesis gives to a dye with these acid and base forms.
pub(super) fn colours(hypotheses: &[&Hypothesis], (acid, base): &(Wave, Wave)) -> Vec<Colours> {
    let liquids = COMPARED
        .map(|(fraction, dose)| -> Wave { std::array::from_fn(|i| 10f64.powf(-dose * ((1.0 - fraction) * acid[i] + fraction * base[i]))) });
    let seen = |hypothesis: &Hypothesis, liquid: &Wave| {
        let raw = hypothesis.weights.each_ref().map(|weights| weights.iter().zip(liquid).map(|(w, t)| w * t).sum::<f64>());
        let (own, more) = (apply(&hypothesis.matrix, raw), apply(&hypothesis.towards_daylight, raw));
        [0, 1, 2].map(|c| own[c] + prior::MATRIX.mean * more[c])
    };
    hypotheses.iter().map(|hypothesis| liquids.each_ref().map(|liquid| seen(hypothesis, liquid))).collect()
}

/// How far colours are from each other, squared.
fn way(a: &Colours, b: &Colours) -> f64 {
    a.as_flattened().iter().zip(b.as_flattened()).map(|(a, b)| (a - b) * (a - b)).sum()
}

/// The shortest tree that joins all, as those that hang right below each, from `root` on (Prim's algorithm).
pub(super) fn neighbours(colours: &[Colours], root: usize) -> Vec<Vec<usize>> {
    let mut below = vec![Vec::new(); colours.len()];
    // Those that are not in the tree yet: the shortest way there, and where it starts.
    let others = (0..colours.len()).filter(|h| *h != root);
    let mut outside: Vec<(usize, f64, usize)> = others.map(|h| (h, way(&colours[root], &colours[h]), root)).collect();
    while let Some(nearest) = (0..outside.len()).min_by(|a, b| outside[*a].1.total_cmp(&outside[*b].1)) {
        let (h, _, above) = outside.swap_remove(nearest);
        below[above].push(h);
        for (other, shortest, from) in &mut outside {
            let this = way(&colours[h], &colours[*other]);
            if this < *shortest {
                (*shortest, *from) = (this, h);
            }
        }
    }
    below
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::space::PhotoSpace;
    use crate::indicator::catalogue;
    use crate::measurement::model::dye::DyeBasis;
    use crate::measurement::model::hypothesis;
    use crate::measurement::model::parameters::SharedVector;

    // The same length by Kruskal's algorithm, which takes the shortest way that joins two parts until there is one part only.
    #[test]
    fn neighbours_are_joined_by_the_shortest_ways() {
        let hypotheses = hypothesis::all(&PhotoSpace::srgb(), None);
        let forms = DyeBasis::new(catalogue::usual()).forms(&SharedVector::zeros());
        let colours = colours(&hypotheses.iter().collect::<Vec<_>>(), &forms);
        let count = colours.len();
        let mut ways: Vec<(f64, usize, usize)> =
            (0..count).flat_map(|a| (0..a).map(move |b| (a, b))).map(|(a, b)| (way(&colours[a], &colours[b]), a, b)).collect();
        ways.sort_by(|one, other| one.0.total_cmp(&other.0));
        let (mut parts, mut length): (Vec<usize>, f64) = ((0..count).collect(), 0.0);
        for (way, a, b) in ways {
            let (one, other) = (parts[a], parts[b]);
            if one != other {
                length += way;
                parts.iter_mut().filter(|part| **part == other).for_each(|part| *part = one);
            }
        }
        for root in [0, 40, count - 1] {
            let below = neighbours(&colours, root);
            let mut hung: Vec<usize> = below.iter().flatten().copied().chain([root]).collect();
            hung.sort_unstable();
            assert!(hung.into_iter().eq(0..count), "each once");
            let hanging = below.iter().enumerate().flat_map(|(a, below)| below.iter().map(move |b| (a, *b)));
            let ours: f64 = hanging.map(|(a, b)| way(&colours[a], &colours[b])).sum();
            assert!((ours - length).abs() < 1e-9 * length, "{ours} instead of {length}");
        }
    }
}
