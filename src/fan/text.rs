//! The fan curve as text.

use super::{
    Basis, FanCurve, FanError, Fitted,
    curve::overflow,
    estimate::{Estimate, Shape},
};
use crate::{
    bore::Bore,
    curve1d::{Curve1d, Knot},
    quantity::{Density, Pressure, RotationalSpeed, VolumeFlow},
};
use serde::de::Error as _;

/// Both forms of a fan, as they are written. Which keys belong together is told here and not by
/// an untagged enum, whose only message is that nothing fits.
#[derive(serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FanText {
    #[serde(skip_serializing_if = "Option::is_none")]
    basis: Option<Basis>,
    #[serde(skip_serializing_if = "Option::is_none")]
    largest_flow: Option<VolumeFlow>,
    #[serde(skip_serializing_if = "Option::is_none")]
    largest_pressure: Option<Pressure>,
    #[serde(skip_serializing_if = "Option::is_none")]
    shape: Option<Shape>,
    #[serde(skip_serializing_if = "Option::is_none")]
    density: Option<Density>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fitted: Option<Fitted>,
    #[serde(skip_serializing_if = "Option::is_none")]
    outlet: Option<Bore>,
    #[serde(skip_serializing_if = "Option::is_none")]
    speed: Option<RotationalSpeed>,
    #[serde(skip_serializing_if = "Option::is_none")]
    points: Option<Vec<(VolumeFlow, Pressure)>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    slopes: Option<Vec<Slope>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    smoothing_weight: Option<f64>,
    /// Of a curve with points that rests on an estimate.
    #[serde(skip_serializing_if = "Option::is_none")]
    estimate: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    low_case: Option<KnotText>,
}

/// A derived curve; as a low case, all else is that of the curve it stands in.
#[derive(serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct KnotText {
    points: Vec<(VolumeFlow, Pressure)>,
    slopes: Vec<Slope>,
}

/// dp/dQ \[Pa s/m3\]: there is no quantity for it, but text has its unit.
struct Slope(f64);

const SLOPE_UNIT: &str = "Pa s/m3";

impl serde::Serialize for Slope {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&format_args!("{:?} {SLOPE_UNIT}", self.0))
    }
}

impl<'de> serde::Deserialize<'de> for Slope {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = <std::borrow::Cow<'_, str>>::deserialize(deserializer)?;
        let number = text.trim().strip_suffix(SLOPE_UNIT);
        match number.and_then(|number| number.trim().parse().ok()) {
            Some(slope) => Ok(Self(slope)),
            None => Err(D::Error::custom(format_args!(
                "{text:?} is no slope of a fan curve; write a number and its unit, e.g. \
                 \"-1500 {SLOPE_UNIT}\""
            ))),
        }
    }
}

/// A derived curve: unlike a published table it may go below zero.
fn with_slopes(points: &[(VolumeFlow, Pressure)], slopes: &[Slope]) -> Result<Curve1d, TextError> {
    if points.len() != slopes.len() {
        let (points, slopes) = (points.len(), slopes.len());
        return Err(TextError::Slopes { points, slopes });
    }
    match points.first() {
        Some((flow, _)) if flow.as_m3_s() < 0.0 => {
            let (point, flow) = (1, *flow);
            return Err(FanError::NegativeFlow { point, flow }.into());
        }
        Some(_) if points.len() > 1 => {}
        _ => return Err(FanError::TooFewPoints { got: points.len() }.into()),
    }
    let q_m3s: Vec<f64> = points.iter().map(|point| point.0.as_m3_s()).collect();
    let p_pa: Vec<f64> = points.iter().map(|point| point.1.as_pa()).collect();
    let slopes: Vec<f64> = slopes.iter().map(|slope| slope.0).collect();
    Ok(Curve1d::hermite(&q_m3s, &p_pa, &slopes).map_err(overflow)?)
}

fn written(curve: &Curve1d) -> KnotText {
    let point = |knot: Knot| (VolumeFlow::from_m3_s(knot.x), Pressure::from_pa(knot.y));
    KnotText {
        points: curve.knots().map(point).collect(),
        slopes: curve.knots().map(|knot| Slope(knot.slope)).collect(),
    }
}

#[derive(Debug, PartialEq, thiserror::Error)]
pub(super) enum TextError {
    #[error(transparent)]
    Fan(#[from] FanError),
    #[error("a fan curve needs {key}: {why}")]
    Missing {
        key: &'static str,
        why: &'static str,
    },
    #[error(
        "a fan is told either by `basis` and `points`, or by `largest_flow` and \
         `largest_pressure`; with `{kept}`, leave out `{extra}`"
    )]
    Mixed {
        kept: &'static str,
        extra: &'static str,
    },
    #[error("{points} points and {slopes} slopes; `slopes` has one for each point")]
    Slopes { points: usize, slopes: usize },
}

impl TryFrom<FanText> for FanCurve {
    type Error = TextError;

    fn try_from(text: FanText) -> Result<Self, TextError> {
        let missing = |key, why| TextError::Missing { key, why };
        let fitted = text.fitted.ok_or(missing(
            "`fitted`",
            "which of separator, filter and silencer were in place when it was measured, e.g. \
             fitted = { separator = false, filter = true, silencer = true }",
        ))?;
        let density = text.density.ok_or(missing(
            "`density`",
            "of the air in which it holds, e.g. density = \"1.2 kg/m3\"",
        ))?;
        let extremes = [
            ("largest_flow", text.largest_flow.is_some()),
            ("largest_pressure", text.largest_pressure.is_some()),
            ("shape", text.shape.is_some()),
        ];
        let published = [
            ("points", text.points.is_some()),
            ("basis", text.basis.is_some()),
            ("slopes", text.slopes.is_some()),
            ("estimate", text.estimate.is_some()),
            ("low_case", text.low_case.is_some()),
            ("smoothing_weight", text.smoothing_weight.is_some()),
        ];
        let given = |keys: &[(&'static str, bool)]| keys.iter().find(|key| key.1).map(|key| key.0);
        if let (Some(kept), Some(extra)) = (given(&published), given(&extremes)) {
            return Err(TextError::Mixed { kept, extra });
        }
        let curve = if given(&extremes).is_some() {
            let what = "it is the flow at no pressure, e.g. largest_flow = \"1200 cfm\"";
            let flow = text.largest_flow.ok_or(missing("`largest_flow`", what))?;
            let what = "it is the pressure at no flow, e.g. largest_pressure = \"10 in wg\"";
            let pressure = text
                .largest_pressure
                .ok_or(missing("`largest_pressure`", what))?;
            let shape = text.shape.unwrap_or_default();
            Self::estimate(flow, pressure, shape, fitted, density)?
        } else {
            let what = "three pairs or more, e.g. points = [[\"0 cfm\", \"12 in wg\"], ...], or \
                        `largest_flow` and `largest_pressure` in place of a curve";
            let points = text.points.ok_or(missing("`points`", what))?;
            let what = "\"total\", \"static\" or { test_pipe = { bore = { round = \"6 in\" } } }";
            let basis = text.basis.ok_or(missing("`basis`", what))?;
            let fan = match (text.slopes, text.smoothing_weight) {
                (Some(_), Some(_)) => {
                    return Err(TextError::Mixed {
                        kept: "slopes",
                        extra: "smoothing_weight",
                    });
                }
                (None, None) => Self::new(points, basis, fitted, density)?,
                (None, Some(weight)) => {
                    Self::smoothed_with_weight(points, weight, basis, fitted, density)?.curve
                }
                (Some(slopes), None) => {
                    let curve = with_slopes(&points, &slopes)?;
                    Self::derived(curve, basis, fitted, density)?
                }
            };
            let low = text
                .low_case
                .map(|low| with_slopes(&low.points, &low.slopes))
                .transpose()?;
            let estimate = text.estimate == Some(true) || low.is_some();
            Self {
                estimate: estimate.then_some(Estimate::Derived { low }),
                ..fan
            }
        };
        let curve = match text.outlet {
            Some(outlet) => curve.with_outlet(outlet)?,
            None => curve,
        };
        Ok(match text.speed {
            Some(speed) => curve.with_speed(speed)?,
            None => curve,
        })
    }
}

impl From<FanCurve> for FanText {
    fn from(fan: FanCurve) -> Self {
        let common = Self {
            basis: None,
            largest_flow: None,
            largest_pressure: None,
            shape: None,
            density: Some(fan.density),
            fitted: Some(fan.fitted),
            outlet: fan.outlet,
            speed: fan.speed,
            points: None,
            slopes: None,
            estimate: None,
            low_case: None,
            smoothing_weight: fan.smoothing_weight(),
        };
        if let Some(Estimate::Extremes(shape)) = fan.estimate {
            return Self {
                largest_flow: Some(fan.largest_flow()),
                largest_pressure: Some(fan.shut_off()),
                shape: (shape != Shape::default()).then_some(shape),
                ..common
            };
        }
        if fan.smoothing.is_some() {
            // The raw points and the weight make the curve again.
            return Self {
                basis: Some(fan.basis),
                points: Some(fan.points().map(Into::into).collect()),
                ..common
            };
        }
        let KnotText { points, slopes } = written(&fan.curve);
        // slopes only where the points alone would make another curve, or none
        let table = FanCurve::new(points.iter().copied(), fan.basis, fan.fitted, fan.density);
        let told = table.is_ok_and(|table| table.curve == fan.curve);
        let low = match &fan.estimate {
            Some(Estimate::Derived { low }) => low.as_ref().map(written),
            _ => None,
        };
        Self {
            basis: Some(fan.basis),
            points: Some(points),
            slopes: (!told).then_some(slopes),
            estimate: fan.is_estimate().then_some(true),
            low_case: low,
            ..common
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PUBLISHED: &str = r#"
        basis = "static"
        fitted = { separator = false, filter = true, silencer = true }
        density = "1.2 kg/m3"
        outlet = { round = "8 in" }
        speed = "3450 rpm"
        points = [["0 cfm", "12 in wg"], ["500 cfm", "11.4 in wg"], ["1200 cfm", "5 in wg"]]
    "#;
    const ESTIMATE: &str = r#"
        largest_flow = "1200 cfm"
        largest_pressure = "10 in wg"
        fitted = { separator = false, filter = false, silencer = false }
        density = "1.2 kg/m3"
    "#;

    #[test]
    fn prop_slopes_do_not_make_a_curve_of_one_point() {
        let point = (VolumeFlow::from_m3_s(0.1), Pressure::from_pa(900.0));
        let one = with_slopes(&[point], &[Slope(-1.0)]);
        assert!(matches!(
            one,
            Err(TextError::Fan(FanError::TooFewPoints { got: 1 }))
        ));
        let other = (VolumeFlow::from_m3_s(0.2), Pressure::from_pa(800.0));
        assert!(with_slopes(&[point, other], &[Slope(-1.0), Slope(-1.0)]).is_ok());
    }

    fn read(text: &str) -> Result<FanCurve, String> {
        toml::from_str(text).map_err(|error| error.message().to_owned())
    }

    #[test]
    fn prop_reading_writing_reading_gives_the_same_curve() {
        let in_a_pipe = PUBLISHED.replace(
            "\"static\"",
            "{ test_pipe = { bore = { rectangular = { width = \"6 in\", height = \"152 mm\" } } } }",
        );
        let low = read(ESTIMATE).unwrap().low_case().unwrap();
        let noisy = (0..24).map(|i| {
            let cfm = f64::from(i) * 50.0 + f64::from(i * 7 % 5);
            let in_wg = 12.0 - 8e-6 * cfm * cfm + 0.1 * f64::from(i * 11 % 7 - 3);
            (VolumeFlow::from_cfm(cfm), Pressure::from_in_wg(in_wg))
        });
        let density = Density::STANDARD_AIR;
        let smoothed = FanCurve::smoothed(noisy, Basis::Static, Fitted::ALL, density).unwrap();
        let fans = [PUBLISHED, &in_a_pipe, ESTIMATE].map(|text| read(text).unwrap());
        for fan in fans.into_iter().chain([low, smoothed.curve]) {
            let text = toml::to_string(&fan).unwrap();
            assert_eq!(read(&text).as_ref(), Ok(&fan), "{text}");
            let text = serde_json::to_string(&fan).unwrap();
            assert_eq!(
                serde_json::from_str::<FanCurve>(&text).unwrap(),
                fan,
                "{text}"
            );
        }
    }

    #[test]
    fn prop_derived_curves_come_back_as_they_are() {
        let fan = read(PUBLISHED).unwrap();
        let outlet = Bore::Round("8 in".parse().unwrap());
        let guess = read(ESTIMATE).unwrap().with_outlet(outlet).unwrap();
        let pair = |fan: &FanCurve| fan.in_parallel(&fan.at_speed_ratio(0.9).unwrap());
        let derived = [
            fan.at_speed_ratio(1.1).unwrap(),
            fan.on_basis(Basis::Total).unwrap(),
            fan.in_series(&fan).unwrap().curve,
            pair(&fan).unwrap().curve,
            guess.at_speed_ratio(1.1).unwrap(),
            guess.on_basis(Basis::Total).unwrap(),
            guess.low_case().unwrap().on_basis(Basis::Total).unwrap(),
            pair(&guess).unwrap().curve,
        ];
        for fan in derived {
            let text = toml::to_string(&fan).unwrap();
            assert_eq!(read(&text).as_ref(), Ok(&fan), "{text}");
            let text = serde_json::to_string(&fan).unwrap();
            assert_eq!(serde_json::from_str::<FanCurve>(&text).unwrap(), fan);
        }
        // the scaled table is still a table
        let text = toml::to_string(&fan.at_speed_ratio(1.1).unwrap()).unwrap();
        assert!(!text.contains("slopes"), "{text}");
    }

    #[test]
    fn prop_slopes_that_do_not_fit_are_said() {
        let slopes = |slopes: &str| read(&format!("{PUBLISHED}\nslopes = {slopes}")).unwrap_err();
        let fits = r#"["0 Pa s/m3", "-1.5e3 Pa s/m3", "-2000 Pa s/m3"]"#;
        assert!(read(&format!("{PUBLISHED}\nslopes = {fits}")).is_ok());
        assert_eq!(
            slopes(r#"["0 Pa s/m3"]"#),
            "3 points and 1 slopes; `slopes` has one for each point"
        );
        assert_eq!(
            slopes(r#"["steep", "0 Pa s/m3", "0 Pa s/m3"]"#),
            "\"steep\" is no slope of a fan curve; write a number and its unit, e.g. \
             \"-1500 Pa s/m3\""
        );
        let unlimited = fits.replace("-2000", "inf");
        assert!(slopes(&unlimited).starts_with("point 2: its numbers, or the slope"));
        let negative = PUBLISHED.replace("0 cfm\", \"12", "-1 cfm\", \"12");
        let said = read(&format!("{negative}\nslopes = {fits}")).unwrap_err();
        assert!(said.starts_with("point 1: the flow is -1 cfm"), "{said}");
        let mixed = read(&format!("{ESTIMATE}\nslopes = {fits}")).unwrap_err();
        assert!(
            mixed.contains("with `slopes`, leave out `largest_flow`"),
            "{mixed}"
        );
    }

    #[test]
    fn prop_text_means_what_the_constructors_mean() {
        let points = [(0.0, 12.0), (500.0, 11.4), (1200.0, 5.0)]
            .map(|(cfm, in_wg)| (VolumeFlow::from_cfm(cfm), Pressure::from_in_wg(in_wg)));
        let fitted = Fitted {
            separator: false,
            filter: true,
            silencer: true,
        };
        let density = Density::from_kg_m3(1.2);
        let outlet = Bore::Round("8 in".parse().unwrap());
        let built = FanCurve::new(points, Basis::Static, fitted, density).unwrap();
        let built = built.with_outlet(outlet).unwrap();
        let speed = RotationalSpeed::from_rpm(3450.0);
        assert_eq!(read(PUBLISHED), Ok(built.with_speed(speed).unwrap()));
        let (flow, pressure) = (VolumeFlow::from_cfm(1200.0), Pressure::from_in_wg(10.0));
        let built = FanCurve::from_extremes(flow, pressure, Fitted::NOTHING, density);
        assert_eq!(read(ESTIMATE), Ok(built.unwrap()));
    }

    #[test]
    fn prop_what_is_missing_mixed_or_unknown_is_said() {
        let without = |text: &str, key: &str| {
            let kept = text
                .lines()
                .filter(|line| !line.trim_start().starts_with(key));
            read(&kept.collect::<Vec<_>>().join("\n")).unwrap_err()
        };
        for key in ["density", "fitted", "basis", "points"] {
            let said = without(PUBLISHED, key);
            assert!(
                said.starts_with(&format!("a fan curve needs `{key}`: ")),
                "{said}"
            );
        }
        for key in ["density", "fitted", "largest_flow", "largest_pressure"] {
            let said = without(ESTIMATE, key);
            assert!(
                said.starts_with(&format!("a fan curve needs `{key}`: ")),
                "{said}"
            );
        }
        assert_eq!(
            read(&format!("{PUBLISHED}\n largest_flow = \"1200 cfm\"")).unwrap_err(),
            "a fan is told either by `basis` and `points`, or by `largest_flow` and \
             `largest_pressure`; with `points`, leave out `largest_flow`"
        );
        assert!(
            read(&format!("{ESTIMATE}\n basis = \"total\""))
                .unwrap_err()
                .contains("leave out")
        );
        assert!(
            read(&format!("{PUBLISHED}\n blades = 3"))
                .unwrap_err()
                .contains("unknown field `blades`")
        );
        assert!(
            read(&format!("{ESTIMATE}\n smoothing_weight = 2.0"))
                .unwrap_err()
                .contains("leave out")
        );
        assert!(
            read(&format!("{PUBLISHED}\n smoothing_weight = 2.0"))
                .unwrap_err()
                .starts_with("a smoothed fan curve needs 20 points or more, got 3")
        );
        let half = PUBLISHED.replace(", silencer = true", "");
        assert!(
            read(&half)
                .unwrap_err()
                .contains("missing field `silencer`")
        );
        let loud = PUBLISHED.replace("silencer =", "muffler =");
        assert!(read(&loud).unwrap_err().contains("unknown field `muffler`"));
        let repeated = PUBLISHED.replace("1200 cfm", "500 cfm");
        assert!(
            read(&repeated)
                .unwrap_err()
                .starts_with("point 3: the flow 500 cfm")
        );
        let bare = PUBLISHED.replace("8 in", "0 in");
        assert!(
            read(&bare)
                .unwrap_err()
                .starts_with("the size of the fan outlet is ")
        );
    }
}
