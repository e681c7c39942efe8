//! What dust makes of a filter.

use super::{DustLoading, FilterGaugeError};
use crate::{
    loss::{Filter, FilterTerms, LossError, RatedDrop},
    quantity::{Pressure, VolumeFlow},
};

/// Flow at which a filter is told as rated drops: a power of two, so that nothing is rounded.
const TOLD_AT_M3S: f64 = 1.0 / 131_072.0;

/// What dust makes of a filter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Growth {
    pub(super) clean: FilterTerms,
    pub(super) now: FilterTerms,
    /// kg/m2 of dust for each Pa s/m3 that it adds: area over K2.
    pub(super) load_per_dust: Option<f64>,
    /// Hours for each kg/m2.
    pub(super) hours_per_load: Option<f64>,
}

impl Growth {
    pub(super) fn new(
        filter: &Filter,
        loading: Option<&DustLoading>,
    ) -> Result<Self, FilterGaugeError> {
        // However deep the states are nested: the cleanest of the cleanest.
        let mut clean = filter;
        while let Filter::Cycle { clean: cleaner, .. } = clean {
            clean = cleaner;
        }
        let cloth = filter.cloth().or(clean.cloth());
        let clean = match clean {
            Filter::Cloth(cloth) => {
                let mut bare = *cloth;
                bare.cake = None;
                Filter::Cloth(bare).terms()?
            }
            told => told.terms()?,
        };
        let area = loading.and_then(|loading| loading.area);
        let area = area.or(cloth.map(|cloth| cloth.area));
        let k2 = loading.and_then(|loading| loading.k2_per_s);
        let k2 = k2.or(cloth.and_then(|cloth| cloth.cake).map(|cake| cake.k2_per_s));
        if let Some(area) = area {
            LossError::within("filter area", area.as_m2(), " m2", 1e-3, 1e5)?;
        }
        if let (Some(_), Some(k2)) = (loading, k2) {
            LossError::within("K2 of the dust", k2, " 1/s", 1e-9, 1e9)?;
        }
        let mut hours_per_load = None;
        if let Some(loading) = loading {
            let what = "rate at which dust gathers";
            let rate = LossError::within(what, loading.kg_per_h, " kg/h", 1e-9, 1e6)?;
            let missing = |what| FilterGaugeError::LoadingUnknown { what };
            let area = area.ok_or_else(|| missing("the area of the cloth"))?;
            k2.ok_or_else(|| missing("K2 of the dust"))?;
            hours_per_load = Some(area.as_m2() / rate);
        }
        let known = area.zip(k2.filter(|k2| *k2 > 0.0));
        Ok(Self {
            clean,
            now: filter.terms()?,
            load_per_dust: known.map(|(area, k2)| area.as_m2() / k2),
            hours_per_load,
        })
    }

    /// The filter with dust that adds so many Pa s/m3.
    pub(super) fn with_dust(&self, dust_pa_s_m3: f64) -> Filter {
        let at = VolumeFlow::from_m3_s(TOLD_AT_M3S);
        let linear = (self.clean.linear_pa_s_m3 + dust_pa_s_m3) * TOLD_AT_M3S;
        let quadratic = self.clean.quadratic_pa_s2_m6 * TOLD_AT_M3S * TOLD_AT_M3S;
        let told = |drop| RatedDrop {
            drop: Pressure::from_pa(drop),
            at,
        };
        Filter::Terms {
            linear: told(linear),
            quadratic: told(quadratic),
        }
    }
}
