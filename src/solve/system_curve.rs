//! What a system asks of a fan at any flow, and the flow that any pressure draws.

use super::{Network, OpenSet, OperatingPoint, SolveError, Workspace};
use crate::quantity::{Pressure, VolumeFlow};

/// The system curve of an open set: pressure over flow, without any fan.
///
/// The pressure is what a fan's curve must show on its own basis, at the density of the air in the
/// ducts; without a fan in the collector it is fan total pressure where duct follows the fan, and
/// fan static pressure where nothing does. It rises strictly with flow.
///
/// Keeps its own scratch memory, so its questions take `&mut self` and allocate nothing after the
/// first, [`split`](Self::split) aside.
///
/// ```
/// # use airsplit::*;
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let network = Network::new(&study.system)?;
/// let mut curve = network.system_curve(&network.open(["planer"])?)?;
/// let flow = VolumeFlow::from_m3_h(1400.0);
/// let asked = curve.pressure(flow)?;
/// assert!((curve.flow(asked)?.as_m3_h() - 1400.0).abs() < 1e-6);
/// # }
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone)]
pub struct SystemCurve {
    network: Network,
    open: OpenSet,
    work: Workspace,
}

impl Network {
    /// The system curve of an open set.
    ///
    /// # Errors
    ///
    /// When nothing is open, or the set belongs to another network.
    pub fn system_curve(&self, open: &OpenSet) -> Result<SystemCurve, SolveError> {
        open.check(self.plan())?;
        Ok(SystemCurve {
            network: self.clone(),
            open: open.clone(),
            work: Workspace::default(),
        })
    }
}

impl SystemCurve {
    /// Pressure that a fan must give for this flow.
    ///
    /// # Errors
    ///
    /// When the flow is not above zero, or no balance was found.
    pub fn pressure(&mut self, flow: VolumeFlow) -> Result<Pressure, SolveError> {
        let balance = self
            .network
            .solve_at_flow(&self.open, flow, &mut self.work)?;
        Ok(balance.curve_pressure())
    }

    /// Slope of that pressure against flow \[Pa s/m3\]; above zero.
    ///
    /// # Errors
    ///
    /// As [`pressure`](Self::pressure).
    pub fn slope(&mut self, flow: VolumeFlow) -> Result<f64, SolveError> {
        let balance = self
            .network
            .solve_at_flow(&self.open, flow, &mut self.work)?;
        Ok(balance.curve_slope())
    }

    /// Flow that this pressure draws.
    ///
    /// # Errors
    ///
    /// When the pressure is not above zero, or no balance was found.
    pub fn flow(&mut self, pressure: Pressure) -> Result<VolumeFlow, SolveError> {
        let balance = self
            .network
            .solve_at_pressure(&self.open, pressure, &mut self.work)?;
        Ok(balance.flow())
    }

    /// How this flow splits, with every pressure.
    ///
    /// # Errors
    ///
    /// As [`pressure`](Self::pressure).
    pub fn split(&mut self, flow: VolumeFlow) -> Result<OperatingPoint, SolveError> {
        let balance = self
            .network
            .solve_at_flow(&self.open, flow, &mut self.work)?;
        Ok(balance.to_point())
    }
}
