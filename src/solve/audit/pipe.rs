//! The loss of a run of duct, part by part.

use crate::{
    air::AirProperties,
    bore::Bore,
    loss::{Entry, Gate, LossError, Part, Wall, part::Conduit},
    system::joint,
};

/// A run of one size, of a section or of the collector.
#[derive(Clone, Copy)]
pub(super) struct Pipe<'a> {
    pub(super) bore: Bore,
    pub(super) wall: &'a Wall,
    pub(super) parts: &'a [Part],
    /// The run upstream, where it is inline: its bore and its parts.
    pub(super) upstream: Option<(Bore, &'a [Part])>,
    pub(super) air: &'a AirProperties,
}

impl Pipe<'_> {
    fn conduit(&self) -> Result<Conduit, LossError> {
        Ok(Conduit {
            bore: self.bore,
            roughness: self.wall.roughness()?,
            upstream: self.upstream.map(|(bore, _)| bore),
        })
    }

    /// Loss of total pressure at flow `q >= 0` \[Pa\], of those parts that are charged; with its
    /// gates shut or as they stand.
    pub(super) fn loss(
        &self,
        q: f64,
        shut: bool,
        charged: impl Fn(&Part) -> bool,
    ) -> Result<f64, LossError> {
        // Still air loses nothing, not even in a gate that is shut.
        if q == 0.0 {
            return Ok(0.0);
        }
        let conduit = self.conduit()?;
        let of = |part: &Part| Ok(part.law(&conduit, self.air)?.coefficients.loss(q));
        let mut sum = match joint(self.bore, self.parts, self.upstream) {
            Some(step) => of(&step)?,
            None => 0.0,
        };
        for part in self.parts.iter().filter(|part| charged(part)) {
            sum += match part {
                Part::Gate(gate) if shut => of(&Part::Gate(Gate {
                    opening: 0.0,
                    ..*gate
                }))?,
                part => of(part)?,
            };
        }
        Ok(sum)
    }

    /// Loss of a hood's entry at flow `q >= 0` \[Pa\].
    pub(super) fn entry_loss(&self, entry: &Entry, q: f64) -> Result<f64, LossError> {
        let heads = entry.heads(self.bore)?.heads;
        Ok(self.conduit()?.heads(heads, self.air).loss(q))
    }
}
