//! Where a search begins: what the shape of the curve suggests, and variations of it.

use super::sought;
use crate::flow::curve::Curve;
use crate::flow::model::FlowModel;
use levigate_measure::elementary::Elementary as _;

/// Starting values, in the parameters of the search: what the shape of the curve suggests, and variations of it.
pub(super) fn starts<const P: usize>(curve: &Curve, model: FlowModel) -> Vec<[f64; P]> {
    let last = curve.len() - 1;
    let (low, high) = (curve.rates[0], curve.rates[last]);
    let (stress_low, stress_high) = (curve.stresses[0], curve.stresses[last]);
    let (at_rest, at_high) = (stress_low / low, curve.lowest_viscosity());
    let index = ((stress_high / stress_low).log_e() / (high / low).log_e()).clamp(0.05, 1.0);
    let least = curve.stresses.iter().copied().fold(f64::INFINITY, f64::min);
    // Time constants from one over the highest to one over the lowest shear rate.
    let times: Vec<f64> = (0..6).map(|k| (high * (low / high).to_the(f64::from(k) / 5.0)).recip()).collect();
    let mut plain: Vec<Vec<f64>> = Vec::new();
    let consistency =
        |above: f64, index: f64| (stress_high - above).max(0.1 * stress_high) / high.to_the(index);
    match model {
        FlowModel::Newton => plain.push(vec![at_high]),
        FlowModel::PowerLaw => plain.push(vec![stress_high / high.to_the(index), index]),
        FlowModel::Bingham | FlowModel::Casson => {
            for share in [0.2, 0.9] {
                plain.push(vec![share * least, at_high]);
            }
        }
        FlowModel::HerschelBulkley => {
            for share in [1e-3, 0.3, 0.9] {
                for index in [0.3, 0.5, 0.8] {
                    plain.push(vec![share * least, consistency(share * least, index), index]);
                }
            }
        }
        FlowModel::ThreeComponent => {
            for share in [0.1, 0.9] {
                for time in &times {
                    plain.push(vec![share * least, time.recip(), 0.3 * at_high]);
                }
            }
        }
        FlowModel::Ellis => {
            for stress in [stress_low, (stress_low * stress_high).sqrt(), stress_high] {
                for alpha in [1.5, 2.5, 5.0] {
                    plain.push(vec![1.2 * at_rest, stress, alpha]);
                }
            }
        }
        FlowModel::Cross | FlowModel::Carreau | FlowModel::CrossThinning | FlowModel::CarreauThinning => {
            for time in &times {
                for exponent in [0.4, 0.8] {
                    let both = matches!(model, FlowModel::Cross | FlowModel::Carreau);
                    let mut one = vec![1.2 * at_rest];
                    if both {
                        one.push(0.3 * at_high);
                    }
                    one.push(*time);
                    one.push(exponent);
                    plain.push(one);
                }
            }
        }
        FlowModel::CarreauYasuda | FlowModel::CarreauYasudaThinning => {
            for time in &times {
                for width in [0.5, 1.0, 2.0] {
                    for index in [0.2, 0.6] {
                        let mut one = vec![1.2 * at_rest];
                        if model == FlowModel::CarreauYasuda {
                            one.push(0.3 * at_high);
                        }
                        one.extend([*time, width, index]);
                        plain.push(one);
                    }
                }
            }
        }
    }
    plain
        .iter()
        .filter_map(|one| <[f64; P]>::try_from(one.as_slice()).ok())
        .map(|one| sought(model, one))
        .collect()
}
