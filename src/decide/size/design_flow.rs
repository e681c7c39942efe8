//! Flows of a design on paper: two rules of hand calculation.

use crate::quantity::{Length, Pressure, VolumeFlow};

/// Flow of a branch that is pulled by the pressure of a stronger one at the wye where they meet.
///
/// Q sqrt(p governing / p own): a branch that needs only `own` at its design `flow` draws more where
/// `governing` stands. Exact only for a branch whose loss goes with the square of flow and does not
/// change with the split at the wye; the published example below lands 4 % high for that reason. The
/// solver needs no such rule: it is here to check hand calculations.
///
/// `None` unless the flow is zero or more and both pressures are of one sign (both may be suctions)
/// and none is zero.
///
/// Source: the balancing rule of 2021 ASHRAE Handbook - Fundamentals (SI), ch. 21, Example 9 (read
/// in a converted text), and of the equation sheet of the ABIH examination (read in a question
/// bank): Q sqrt(SP governing / SP lower).
///
/// ```
/// use airsplit::{Pressure, VolumeFlow, balanced_flow};
/// // That example: 850 L/s at 762 Pa beside 850 Pa are taken to 900 L/s.
/// let flow = balanced_flow(
///     VolumeFlow::from_l_s(850.0),
///     Pressure::from_pa(762.0),
///     Pressure::from_pa(850.0),
/// );
/// assert_eq!(flow.map(|flow| flow.as_l_s().round()), Some(898.0));
/// ```
#[must_use]
pub fn balanced_flow(flow: VolumeFlow, own: Pressure, governing: Pressure) -> Option<VolumeFlow> {
    let ratio = governing / own;
    let sound = flow.as_m3_s() >= 0.0 && ratio > 0.0;
    let balanced = flow * ratio.sqrt();
    (sound && balanced.as_m3_s().is_finite()).then_some(balanced)
}

/// Flow of a wheel or disc wider than the one that a table lists: in proportion to its width.
///
/// A narrower one keeps the listed flow. Not rounded: the rule's own example rounds 686 cfm up to
/// 690. `None` unless the flow is zero or more and the widths are above zero.
///
/// Source: 29 CFR 1910.94(b)(3)(ii), as reproduced elsewhere.
///
/// ```
/// use airsplit::{Length, VolumeFlow, flow_for_width};
/// let (listed, width) = (Length::from_in(4.0), Length::from_in(4.5));
/// let flow = flow_for_width(VolumeFlow::from_cfm(610.0), listed, width);
/// assert_eq!(flow.map(|flow| flow.as_cfm().round()), Some(686.0));
/// ```
#[must_use]
pub fn flow_for_width(flow: VolumeFlow, listed: Length, width: Length) -> Option<VolumeFlow> {
    let ratio = width / listed;
    let sound = flow.as_m3_s() >= 0.0 && listed.as_m() > 0.0 && width.as_m() > 0.0;
    let scaled = flow * ratio.max(1.0);
    (sound && scaled.as_m3_s().is_finite()).then_some(scaled)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_scale_the_flow_up_and_what_is_no_width_or_flow_has_none() {
        let cfm = |flow: f64, listed: f64, width: f64| {
            let (listed, width) = (Length::from_in(listed), Length::from_in(width));
            let flow = flow_for_width(VolumeFlow::from_cfm(flow), listed, width);
            flow.map(|flow| flow.as_cfm().round())
        };
        assert_eq!(cfm(600.0, 4.0, 6.0), Some(900.0));
        assert_eq!(cfm(600.0, 4.0, 2.0), Some(600.0));
        assert_eq!(cfm(0.0, 4.0, 6.0), Some(0.0));
        for (flow, listed, width) in [
            (-600.0, 4.0, 6.0),
            (600.0, -4.0, 6.0),
            (600.0, 0.0, 6.0),
            (600.0, 0.0, 0.0),
            (600.0, 4.0, 0.0),
            (600.0, 4.0, -6.0),
            (f64::INFINITY, 4.0, 6.0),
            (f64::NAN, 4.0, 6.0),
        ] {
            assert_eq!(cfm(flow, listed, width), None, "{flow} {listed} {width}");
        }
    }
}
