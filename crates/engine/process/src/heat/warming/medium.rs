//! What flows through a jacket: how much of what it could give it gives, and how warm it comes back.
//!
//! ```text
//! NTU = U A / W,   e = 1 - exp(-NTU),   T_out = T_in - e (T_in - T),   q = W (T_in - T_out)
//! ```
//!
//! Range: a batch of one temperature and a medium that does not change its state, moving through the jacket as through a pipe; a jacket that is
//! stirred by its inlet gives less, `e = NTU/(1 + NTU)`, which is the other end of the interval. Source: any textbook of heat transfer, from
//! memory. Case: `tests/cross/heat.toml`, `jacket-returns`.

use super::Asked;
use super::{JacketFlow, Warmer};
use crate::heat::film::Passage;
use levigate_measure::Outcome;
use levigate_measure::elementary::Elementary as _;
use serde::Serialize;

/// What flows through a jacket.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MediumReading {
    /// `heats` or `cools`.
    pub does: &'static str,
    /// Units of transfer.
    pub transfer_units: Outcome,
    /// Share of what it could give or take, %.
    pub effectiveness: Outcome,
    /// Temperature it comes back with at the start of the stage, C.
    pub returns_at_first: Outcome,
    /// The same at its end, C.
    pub returns_at_last: Outcome,
}

/// Of a stage from one temperature of the batch to another; nothing where the flow is not known.
pub(super) fn medium(
    asked: &Asked<'_>,
    does: &'static str,
    warmer: &Warmer<'_>,
    [first_c, last_c]: [f64; 2],
) -> Option<MediumReading> {
    let Warmer::Jacket(flow, passage, area_m2) = warmer else { return None };
    let flow_w_k = flow.flow_w_k?;
    let units = |batch_c: f64, lean: f64| area_m2 * passage.overall(batch_c, flow.in_c, lean) / flow_w_k;
    let leans = match passage {
        Passage::Overall(_) => [1.0, 1.0, 1.0],
        Passage::Films(..) => [1.0, 1.0 + asked.doubt, 1.0 - asked.doubt],
    };
    let middle_c = 0.5 * (first_c + last_c);
    let at = |batch_c: f64| leans.map(|lean| units(batch_c, lean));
    let given = |[middle, most, least]: [f64; 3]| [through(middle), through(most), stirred(least)];
    let returns = |batch_c: f64| {
        let back = given(at(batch_c)).map(|share| back_c(flow, share, batch_c));
        asked.spread(back, "C").by("T_out = T_in - e (T_in - T)").input("batch", batch_c, "C", None)
    };
    Some(MediumReading {
        does,
        transfer_units: asked.spread(at(middle_c), "").by("NTU = U A / W").input("W", flow_w_k, "W/K", None),
        effectiveness: asked
            .spread(given(at(middle_c)).map(|share| 100.0 * share), "%")
            .by("e = 1 - exp(-NTU); stirred by its inlet NTU / (1 + NTU)"),
        returns_at_first: returns(first_c),
        returns_at_last: returns(last_c),
    })
}

fn through(units: f64) -> f64 {
    1.0 - (-units).exp_e()
}

fn stirred(units: f64) -> f64 {
    units / (1.0 + units)
}

fn back_c(flow: &JacketFlow, share: f64, batch_c: f64) -> f64 {
    flow.in_c - share * (flow.in_c - batch_c)
}
