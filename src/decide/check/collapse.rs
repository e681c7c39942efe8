//! When a duct caves in under suction.

use super::{
    Context,
    finding::{Check, Comparing, Finding, Measure, Side, Sureness, Verdict},
};
use crate::{
    bore::Bore,
    decide::source::{Source, Transcription},
    loss::{LossError, Part},
    place::Place,
    quantity::{Length, Pressure},
    system::Run,
};

/// The wall of a round duct.
///
/// ```
/// use airsplit::{Length, Material, Shell};
/// let shell = Shell::new(Length::from_mm(0.6), Material::Steel);
/// let plain = shell.collapse_suction(Length::from_mm(305.0))?;
/// let ringed = shell.ringed(Length::from_m(3.0)).collapse_suction(Length::from_mm(305.0))?;
/// assert!((plain.as_kpa() - 3.35).abs() < 0.01 && (ringed.as_kpa() - 9.1).abs() < 0.05);
/// # Ok::<(), airsplit::LossError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct Shell {
    /// Thickness of the wall: 0.05 mm to a tenth of the diameter.
    pub thickness: Length,
    /// What it is made of.
    pub material: Material,
    /// Distance of stiffening rings: 1 mm to 1 km. `None`: none.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub rings: Option<Length>,
}

/// What a duct wall is made of, by its elasticity.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Material {
    /// Steel, galvanised or not: 200 GPa, Poisson's ratio 0.3 (from memory).
    Steel,
    /// Aluminium: 69 GPa, 0.33 (from memory).
    Aluminium,
    /// Hard PVC at room temperature: 2.8 GPa, 0.38 (from memory). It creeps and softens with
    /// warmth, and then holds less.
    Pvc,
    /// Another elastic one.
    Elastic {
        /// Modulus of elasticity: 1 MPa to 1000 GPa.
        modulus: Pressure,
        /// Poisson's ratio: 0 to 0.5.
        poisson: f64,
    },
}

impl Material {
    fn elasticity(self) -> Result<(f64, f64), LossError> {
        match self {
            Self::Steel => Ok((200e9, 0.3)),
            Self::Aluminium => Ok((69e9, 0.33)),
            Self::Pvc => Ok((2.8e9, 0.38)),
            Self::Elastic { modulus, poisson } => {
                let what = "modulus of elasticity";
                LossError::within("Poisson's ratio", poisson, "", 0.0, 0.5)?;
                let pa = LossError::within(what, modulus.as_pa(), " Pa", 1e6, 1e12)?;
                Ok((pa, poisson))
            }
        }
    }
}

impl Shell {
    /// A wall without rings.
    #[must_use]
    pub fn new(thickness: Length, material: Material) -> Self {
        Self {
            thickness,
            material,
            rings: None,
        }
    }

    /// With stiffening rings this far apart.
    #[must_use]
    pub fn ringed(mut self, distance: Length) -> Self {
        self.rings = Some(distance);
        self
    }

    /// Suction at which a perfectly round duct of this diameter would cave in: bare theory, without
    /// any safety.
    ///
    /// The larger of the long tube (Bresse, von Mises) and, with rings L apart, the short one (D. F.
    /// Windenburg and C. Trilling, US Experimental Model Basin):
    ///
    /// ```text
    /// p = 2 E / (1 - nu^2) (t/D)^3
    /// p = 2.42 E (t/D)^2.5 / {(1 - nu^2)^0.75 [L/D - 0.45 (t/D)^0.5]}
    /// ```
    ///
    /// Both as quoted in the headers of two engineering codes; the papers were not read. D is taken
    /// as the inner diameter. A real duct is not round, and its seams and dents count: common
    /// knock-downs are 0.5, or a safety factor of 3 to 4 (from memory, not re-read). The bracket of
    /// the second formula is kept at 0.1 or more: closer rings than that are another matter.
    ///
    /// # Errors
    ///
    /// A diameter (1 mm to 20 m), thickness, ring distance or elasticity out of range.
    pub fn collapse_suction(&self, diameter: Length) -> Result<Pressure, LossError> {
        let d = LossError::within("diameter", diameter.as_mm(), " mm", 1.0, 20_000.0)? / 1e3;
        let t_mm = self.thickness.as_mm();
        let t = LossError::within("wall thickness", t_mm, " mm", 0.05, 100.0 * d)? / 1e3;
        let (e, nu) = self.material.elasticity()?;
        let slim = t / d;
        let stiff = 1.0 - nu * nu;
        let long = 2.0 * e / stiff * slim.powi(3);
        let Some(rings) = self.rings else {
            return Ok(Pressure::from_pa(long));
        };
        let rings = LossError::within("distance of rings", rings.as_m(), " m", 1e-3, 1e3)?;
        let free = (rings / d - 0.45 * slim.sqrt()).max(0.1);
        let short = 2.42 * e * slim.powf(2.5) / (stiff.powf(0.75) * free);
        Ok(Pressure::from_pa(long.max(short)))
    }
}

const FORMULAS: Source = Source::new(
    "collapse of a thin round tube: long (Bresse, von Mises), ring-stiffened (Windenburg and \
     Trilling); gauges and rings are for ANSI/SMACNA 005, Round Industrial Duct Construction \
     Standards, of which no table was read",
    Transcription::ReadElsewhere,
);

/// Safety factor of [`CheckOptions`](super::CheckOptions) where none is given.
pub(super) const SAFETY: f64 = 4.0;

/// What holds a piece of duct under suction.
struct Piece<'a> {
    place: Place,
    bore: Bore,
    shell: Option<Shell>,
    suction: Pressure,
    parts: &'a [Part],
}

pub(super) fn check(context: &Context<'_>, found: &mut Vec<Finding>) {
    let point = context.point;
    let sections = context.system.sections.iter().zip(&point.sections);
    let sections = sections
        .zip(&context.needs.shells)
        .map(|((section, state), shell)| Piece {
            place: Place::Section(section.id.clone()),
            bore: section.size,
            shell: *shell,
            suction: -state.static_pressure,
            parts: &section.parts,
        });
    let before = context.system.collector.before.iter().zip(&point.collector);
    let before = before.map(|(run, state): (&Run, _)| Piece {
        place: state.place.clone(),
        bore: run.size,
        shell: context.options.shell,
        suction: -state.static_pressure,
        parts: &run.parts,
    });
    let pieces: Vec<Piece<'_>> = sections.chain(before).collect();
    for piece in pieces.iter().filter(|piece| is_duct(piece)) {
        if let (Bore::Round(diameter), Some(shell)) = (piece.bore, piece.shell) {
            // Judged before any point was looked at.
            if let Ok(collapse) = shell.collapse_suction(diameter) {
                hold(context, piece, collapse, found);
            }
        }
    }
    let listed = |which: &dyn Fn(&Piece<'_>) -> bool| {
        let places: Vec<String> = pieces
            .iter()
            .filter(|piece| which(piece))
            .map(|piece| piece.place.to_string())
            .collect();
        (!places.is_empty()).then(|| places.join("; "))
    };
    let round = |piece: &Piece<'_>| matches!(piece.bore, Bore::Round(_));
    let hose = |piece: &Piece<'_>| piece.parts.iter().any(|part| matches!(part, Part::Hose(_)));
    let mut missing = |places: Option<String>, why: &str| {
        if let Some(places) = places {
            found.push(unknown(context, format!("{why}: {places}")));
        }
    };
    missing(
        listed(&|piece| is_duct(piece) && round(piece) && piece.shell.is_none()),
        "thickness and material of the wall are needed to tell whether the duct may cave in",
    );
    missing(
        listed(&|piece| is_duct(piece) && !round(piece)),
        "flat walls cave in by other laws, which the construction standards tell",
    );
    missing(
        listed(&hose),
        "how much suction a hose stands its maker must tell",
    );
}

fn is_duct(piece: &Piece<'_>) -> bool {
    piece.parts.iter().any(|part| matches!(part, Part::Duct(_)))
}

fn unknown(context: &Context<'_>, text: String) -> Finding {
    Finding {
        check: Check::Collapse,
        place: Place::System,
        verdict: Verdict::Unknown,
        sure: Sureness::NotStated,
        value: None,
        limit: None,
        margin: None,
        point: context.of_point(false),
        text,
        source: FORMULAS,
    }
}

fn hold(context: &Context<'_>, piece: &Piece<'_>, collapse: Pressure, found: &mut Vec<Finding>) {
    let safety = context.options.collapse_safety.unwrap_or(SAFETY);
    let limit = collapse / safety;
    let mut compare = |check, value: Pressure, point, place: &Place, what: &str| {
        let (value, limit) = (Measure::Pressure(value), Measure::Pressure(limit));
        let comparing = Comparing {
            check,
            place: piece.place.clone(),
            value,
            limit,
            side: Side::AtMost,
            broken: Verdict::Fails,
            relative: context.relative_pressure(place),
            point,
            text: format!(
                "{value} of suction {what}; the duct would cave in at {:.0} Pa by bare theory, \
                 {limit} with a safety factor of {safety}",
                collapse.as_pa()
            ),
            source: FORMULAS,
        };
        found.push(comparing.judge());
    };
    let as_it_runs = piece.suction;
    compare(
        Check::Collapse,
        as_it_runs,
        context.of_point(true),
        &piece.place,
        "as it runs",
    );
    if let Some(shut_off) = context.shut_off {
        compare(
            Check::CollapseShutOff,
            shut_off,
            context.of_point(false),
            &Place::Fan,
            "with every gate shut",
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::{
        Check, CheckOptions, Length, Material, Measure, Part, Place, Shell, check,
        decide::by_hand::{pa, shop, solved},
    };

    #[test]
    fn a_run_before_the_fan_is_held_by_its_suction() {
        let mut system = shop();
        let duct = Part::Duct(Length::from_m(1.0));
        system.collector.before[0].parts.push(duct);
        let mut point = solved(&system, &["saw"]);
        point.collector[0].static_pressure = pa(-700.0);
        let shell = Shell::new(Length::from_mm(0.6), Material::Steel);
        let options = CheckOptions::new().with_shell(shell);
        let findings = check(&system, [&point], &options).unwrap();
        let place = Place::Before { run: 0, part: None };
        let value = |check| {
            let mut of = findings.of(check);
            of.find(|finding| finding.place == place).unwrap().value
        };
        assert_eq!(value(Check::Collapse), Some(Measure::Pressure(pa(700.0))));
        // With every gate shut all that the fan has.
        let shut_off = value(Check::CollapseShutOff).unwrap().number();
        assert!((shut_off - 3000.0).abs() < 1e-9, "{shut_off}");
    }

    /// The shop is told by coefficients: there is no duct in it that could cave in.
    #[test]
    fn only_ducts_are_said_to_lack_a_wall() {
        let mut system = shop();
        let told = |system: &crate::System| {
            let point = solved(system, &["saw"]);
            let findings = check(system, [&point], &CheckOptions::new()).unwrap();
            let of = findings.of(Check::Collapse);
            of.map(|finding| finding.text.clone()).collect::<Vec<_>>()
        };
        assert_eq!(told(&system), [""; 0]);
        system.sections[0]
            .parts
            .push(Part::Duct(Length::from_m(1.0)));
        let [text] = &told(&system)[..] else {
            panic!("one finding")
        };
        assert!(text.ends_with("may cave in: section \"left\""), "{text}");
    }
}
