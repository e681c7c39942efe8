//! The referee: the same balance by a dense Newton's method with LU, written from the formulas.
//!
//! Unknowns are the flows of the open hoods alone. What is left of the pressure of the fan at each
//! open hood must be nothing: an open path loses, from the room to the open air, what the fan
//! gives. Nothing here is taken from the crate but the data of the model and the fan's curve
//! (`FanCurve::pressure`, which has its own tests against SciPy).
//!
//! | law | source |
//! |---|---|
//! | friction | Colebrook's equation as it is written, by plain iteration; 64/Re to Re 2000; between 2000 and 4000 the cubic in Re that continues value and slope of both |
//! | momentum junction | dP_i = rho/2 [w_c^2 + w_i^2 - (2/A_c) sum Q_j w_j cos a_j] (after Idelchik, ch. 7) |
//! | fixed K | on the inlet's own velocity pressure |
//! | sharp change of size | Borda-Carnot widening; Rennels & Hudson 2012 narrowing; none out of a vessel, nor narrowing into one |
//! | wire hose | roughness 0.9 mm, times 1 + 0.58 Kc exp(-0.00496 D/mm) (2021 ASHRAE Handbook - Fundamentals, ch. 21, eq. 22 and 23) |
//!
//! The path equations are combined into loop equations: of two inlets of a node the ways from the
//! room lose the same, and one path closes on the fan. Summed path by path, the rounding error of a
//! main would drown a hood that loses a ten-thousandth of what the main does.

use airsplit::{
    Air, Basis, Bore, Elbow, Entry, Filter, HoseKind, Junction, Name, Part, Separator, Start,
    System, VolumeFlow, Wall,
};
use nalgebra::{DMatrix, DVector, Dyn, LU};

/// Share of the total flow below which a hood's flow is judged against the total: deep trees with
/// lossy mains have hoods whose flow is 1e-100 of it.
pub(crate) const TRICKLE: f64 = 1e-9;

/// How the referee answered.
#[derive(Debug, Clone)]
pub(crate) struct Solution {
    /// Flow of every hood in the order of the sections \[m3/s\]; 0 where it is shut.
    pub(crate) hoods: Vec<f64>,
    /// Total flow \[m3/s\].
    pub(crate) total: f64,
    /// Pressure of the fan's curve at the density of the air in the ducts \[Pa\].
    pub(crate) curve_pa: f64,
    /// The same at rest \[Pa\].
    pub(crate) at_rest_pa: f64,
    /// Newton steps.
    pub(crate) steps: usize,
    /// The last step, relative to the flow of its hood ([`TRICKLE`]): what rounding leaves.
    pub(crate) noise: f64,
}

/// A run: dp = (quadratic + sum of friction) q|q| + linear q.
#[derive(Debug, Clone, Default)]
struct Run {
    area_m2: f64,
    head: f64,
    quadratic: f64,
    linear: f64,
    frictions: Vec<Friction>,
}

/// Friction of one wall: dp = f(Re) `per_f` q|q|.
#[derive(Debug, Clone, Copy)]
struct Friction {
    per_f: f64,
    re_per_q: f64,
    relative_roughness: f64,
}

/// Where the air is: density and viscosity.
#[derive(Debug, Clone, Copy)]
struct Gas {
    rho: f64,
    mu: f64,
}

struct Branch {
    run: Run,
    /// Section downstream; `None`: the collector.
    into: Option<usize>,
    cos_angle: f64,
    k: f64,
    extra_k: f64,
    /// Unknowns upstream of its downstream end.
    above: Vec<usize>,
}

/// Meeting point at the upstream end of a section or of the collector.
struct Node {
    inlets: Vec<usize>,
    outlet_m2: f64,
    junction: Junction,
}

struct Network<'s> {
    system: &'s System,
    gas: Gas,
    branches: Vec<Branch>,
    /// Downstream first.
    order: Vec<usize>,
    /// One for each section and the collector's last.
    nodes: Vec<Node>,
    /// Section of each unknown.
    open: Vec<usize>,
    collector: Run,
    /// Fan total pressure minus the curve's, and the exit velocity pressure, per squared flow.
    total_over_curve: f64,
    exit: f64,
}

/// Balances the system with these hoods open.
pub(crate) fn solve(system: &System, open: &[Name]) -> Result<Solution, String> {
    let network = Network::new(system, open);
    // A start that is far too fast may run against zero flow.
    let starts = [0.3, 0.03, 0.003, 0.0003].iter();
    let mut answers = starts.map(|&share| network.balance(share));
    let (x, steps, noise) = answers
        .find(Result::is_ok)
        .unwrap_or_else(|| network.balance(0.3))?;
    let total: f64 = x.iter().sum();
    let mut flows = vec![0.0; system.sections.len()];
    for (&section, &q) in network.open.iter().zip(x.iter()) {
        flows[section] = q;
    }
    let hoods = system.sections.iter().zip(&flows);
    Ok(Solution {
        hoods: hoods
            .filter(|(section, _)| matches!(section.start, Start::Hood(_)))
            .map(|(_, &q)| q)
            .collect(),
        total,
        curve_pa: network.fan(total).0,
        at_rest_pa: network.fan(0.0).0,
        steps,
        noise,
    })
}

impl<'s> Network<'s> {
    fn new(system: &'s System, open: &[Name]) -> Self {
        let Air::Given { density, viscosity } = system.air else {
            panic!("the referee knows only air given by its properties");
        };
        let gas = Gas {
            rho: density.as_kg_m3(),
            mu: viscosity.as_pa_s(),
        };
        let sections = &system.sections;
        let find = |name: &Name| sections.iter().position(|s| s.id == *name).unwrap();
        let into: Vec<Option<usize>> = sections
            .iter()
            .map(|section| section.into.as_ref().map(find))
            .collect();
        let nodes = Self::nodes(system, &into);
        let branches = sections.iter().zip(&nodes).zip(&into);
        let mut branches: Vec<Branch> = branches
            .map(|((section, node), &into)| {
                let upstream = match node.inlets[..] {
                    [only] => Some((sections[only].size, &sections[only].parts[..])),
                    _ => None,
                };
                let mut run = Run::new(gas, section.size);
                run.sharp(gas, upstream, section.size, &section.parts);
                for part in &section.parts {
                    run.part(gas, section.size, section.wall, part);
                }
                if let Start::Hood(hood) = &section.start {
                    let Entry::K(k) = hood.entry else {
                        panic!("the referee knows only entries by K");
                    };
                    run.quadratic += k * run.head;
                }
                Branch {
                    run,
                    into,
                    cos_angle: section.join.angle.map_or(1.0, |a| cosine(a.as_deg())),
                    k: section.join.k.unwrap_or(f64::NAN),
                    extra_k: section.join.extra_k,
                    above: Vec::new(),
                }
            })
            .collect();
        let open: Vec<usize> = (0..sections.len())
            .filter(|&i| matches!(&sections[i].start, Start::Hood(hood) if open.contains(&hood.id)))
            .collect();
        for (unknown, &section) in open.iter().enumerate() {
            let mut at = Some(section);
            while let Some(i) = at {
                branches[i].above.push(unknown);
                at = branches[i].into;
            }
        }
        let mut order: Vec<usize> = (0..sections.len()).filter(|&i| into[i].is_none()).collect();
        let mut next = 0;
        while next < order.len() {
            order.extend(&nodes[order[next]].inlets);
            next += 1;
        }
        let head = |bore: Bore| gas.rho / 2.0 / area_m2(bore).powi(2);
        let fan = system.collector.fan.as_ref().unwrap();
        let outlet = fan.outlet().map(head);
        let last = system.collector.after.last().map(|run| head(run.size));
        Self {
            gas,
            branches,
            order,
            nodes,
            open,
            collector: collector(system, gas),
            // With the size of the outlet unknown the path ends there and its velocity pressure
            // stands on both sides.
            total_over_curve: match fan.basis() {
                Basis::Total => 0.0,
                Basis::Static => outlet.unwrap_or(0.0),
                Basis::TestPipe { bore } => outlet.unwrap_or(0.0) - head(bore),
                other => panic!("no basis {other}"),
            },
            exit: last.or(outlet).unwrap_or(0.0),
            system,
        }
    }

    /// Where sections meet: at the head of each section, and last at the collector.
    fn nodes(system: &System, into: &[Option<usize>]) -> Vec<Node> {
        let inlets = |of: Option<usize>| (0..into.len()).filter(|&i| into[i] == of).collect();
        let mut nodes: Vec<Node> = system
            .sections
            .iter()
            .enumerate()
            .map(|(i, section)| Node {
                inlets: inlets(Some(i)),
                outlet_m2: area_m2(section.size),
                junction: section.junction.unwrap_or(system.junction),
            })
            .collect();
        let before = &system.collector.before;
        nodes.push(Node {
            inlets: inlets(None),
            outlet_m2: before.first().map_or(f64::NAN, |run| area_m2(run.size)),
            junction: system.collector.junction.unwrap_or(system.junction),
        });
        nodes
    }

    /// Pressure of the curve in this air, and its slope.
    fn fan(&self, q: f64) -> (f64, f64) {
        let fan = self.system.collector.fan.as_ref().unwrap();
        let scale = self.gas.rho / fan.density().as_kg_m3();
        let q = VolumeFlow::from_m3_s(q);
        (scale * fan.pressure(q).as_pa(), scale * fan.slope(q))
    }

    /// The loop equations and their derivatives; at the balance every `value` is 0.
    ///
    /// Of the inlets of a node that carry air the first stands for all: each of the others must
    /// lose as much as it on the way from the room. The last row is the whole path of the hood
    /// that stands for all: what the fan gives less what it loses.
    fn equations(&self, x: &DVector<f64>) -> Equations {
        let n = x.len();
        let q: Vec<f64> = self
            .branches
            .iter()
            .map(|branch| branch.above.iter().map(|&k| x[k]).sum())
            .collect();
        let mut equations = Equations {
            value: DVector::zeros(n),
            scale: DVector::zeros(n),
            jacobian: DMatrix::zeros(n, n),
        };
        let mut row = 0;
        // From the room to the downstream end of each section, less what its node has in common.
        let mut reach: Vec<Lost> = vec![Lost::none(0); self.branches.len()];
        for &i in self.order.iter().rev() {
            let branch = &self.branches[i];
            if branch.above.is_empty() {
                continue;
            }
            let mut lost = self.meet(i, &q, &reach, &mut equations, &mut row);
            let (dp, slope) = branch.run.loss(q[i]);
            lost.add(dp, slope, &branch.above);
            let node = &self.nodes[branch.into.unwrap_or(self.branches.len())];
            if node.inlets.len() > 1 {
                let k = branch.extra_k
                    + match node.junction {
                        // rho/2 w_i^2: all of dP_i that the inlets have not in common.
                        Junction::Momentum => 1.0,
                        _ => branch.k,
                    };
                let k = k * branch.run.head;
                lost.add(k * q[i] * q[i], 2.0 * k * q[i], &branch.above);
            }
            reach[i] = lost;
        }
        let mut path = self.meet(self.branches.len(), &q, &reach, &mut equations, &mut row);
        let total = x.sum();
        let everyone: Vec<usize> = (0..n).collect();
        let (dp, slope) = self.collector.loss(total);
        path.add(dp, slope, &everyone);
        let heads = self.exit - self.total_over_curve;
        path.add(heads * total * total, 2.0 * heads * total, &everyone);
        let (pressure, slope) = self.fan(total);
        path.add(-pressure, -slope, &everyone);
        equations.set(row, &path);
        equations
    }

    /// What is lost on the way through the node to its outlet, the part that the inlets have in
    /// common: rho/2 [w_c^2 - (2/A_c) sum Q_j w_j cos a_j]; and the equations of its inlets.
    fn meet(
        &self,
        node: usize,
        q: &[f64],
        reach: &[Lost],
        equations: &mut Equations,
        row: &mut usize,
    ) -> Lost {
        let node = &self.nodes[node];
        let live = |j: &&usize| !self.branches[**j].above.is_empty();
        let mut inlets = node.inlets.iter().filter(live);
        let Some(&first) = inlets.next() else {
            return Lost::none(self.open.len());
        };
        for &other in inlets {
            equations.set(*row, &reach[first].less(&reach[other]));
            *row += 1;
        }
        let mut lost = reach[first].clone();
        if node.inlets.len() < 2 || node.junction != Junction::Momentum {
            return lost;
        }
        let half_rho = self.gas.rho / 2.0;
        let flow: f64 = node.inlets.iter().map(|&j| q[j]).sum();
        let w_c = flow / node.outlet_m2;
        for &j in &node.inlets {
            let branch = &self.branches[j];
            let slope = half_rho * 2.0 * w_c / node.outlet_m2;
            lost.add(half_rho * w_c * q[j] / node.outlet_m2, slope, &branch.above);
            let w_j = q[j] / branch.run.area_m2;
            let share = half_rho * 2.0 / node.outlet_m2 * w_j * branch.cos_angle;
            lost.add(-share * q[j], -2.0 * share, &branch.above);
        }
        lost
    }

    /// Newton's method with a line search, from this share of the largest flow of the fan's curve,
    /// until only rounding is left.
    fn balance(&self, start: f64) -> Result<(DVector<f64>, usize, f64), String> {
        const MOST: usize = 300;
        const SMALL: f64 = 1e-7;
        let fan = self.system.collector.fan.as_ref().unwrap();
        let areas = self.open.iter().map(|&i| self.branches[i].run.area_m2);
        let areas = DVector::from_iterator(self.open.len(), areas);
        let mut x = start * fan.largest_flow().as_m3_s() / areas.sum() * areas;
        let mut size = f64::INFINITY;
        for steps in 1..=MOST {
            let at = self.equations(&x);
            let newton = at.newton(&x);
            let step = newton.step(&at.value).ok_or("the Jacobian is singular")?;
            let trickle = TRICKLE * x.sum();
            let relative = |step: &DVector<f64>| step.zip_map(&x, |s, q| s / q.max(trickle));
            let before = size;
            size = relative(&step).amax();
            if !size.is_finite() {
                return Err(format!("no number after {steps} steps"));
            }
            if size <= SMALL && size >= 0.9 * before {
                // Only rounding is left.
                return if at.holds() {
                    Ok((x, steps, size))
                } else {
                    Err(format!("stuck after {steps} steps"))
                };
            }
            // The step that the old matrix would still take at the new place must be shorter (the
            // natural monotonicity test: P. Deuflhard, Newton Methods for Nonlinear Problems, 2004,
            // section 3.3, from memory): unlike a sum of squares it does not depend on how the
            // equations are scaled.
            let mut share = 1.0;
            x = loop {
                // No flow may shrink to less than a tenth at once, nor so far that it never comes
                // back, nor grow by more than all that flows.
                let (least, all) = (1e-3 * TRICKLE * trickle, x.sum());
                let next = x.zip_map(&step, |q, step| {
                    (q + share * step).max(0.1 * q).max(least).min(q + all)
                });
                let left = newton.step(&self.equations(&next).value);
                let left = left.map_or(f64::INFINITY, |left| relative(&left).norm());
                let shorter = left <= (1.0 - 0.25 * share) * relative(&step).norm();
                if shorter || size <= SMALL || share < 1e-3 {
                    break next;
                }
                share *= 0.5;
            };
        }
        Err(format!(
            "no balance after {MOST} steps, the last one {size:e}"
        ))
    }
}

/// Loss of total pressure on a way, its derivatives by the unknowns, and the sum of its sizes.
#[derive(Debug, Clone)]
struct Lost {
    dp: f64,
    scale: f64,
    gradient: DVector<f64>,
}

impl Lost {
    fn none(unknowns: usize) -> Self {
        Self {
            dp: 0.0,
            scale: 0.0,
            gradient: DVector::zeros(unknowns),
        }
    }

    /// Adds a loss that follows the flow of these unknowns together.
    fn add(&mut self, dp: f64, slope: f64, unknowns: &[usize]) {
        self.dp += dp;
        self.scale += dp.abs();
        for &k in unknowns {
            self.gradient[k] += slope;
        }
    }

    fn less(&self, other: &Self) -> Self {
        Self {
            dp: self.dp - other.dp,
            scale: self.scale + other.scale,
            gradient: &self.gradient - &other.gradient,
        }
    }
}

/// One equation a row.
struct Equations {
    value: DVector<f64>,
    /// Sum of the sizes of its terms.
    scale: DVector<f64>,
    jacobian: DMatrix<f64>,
}

impl Equations {
    fn set(&mut self, row: usize, lost: &Lost) {
        self.value[row] = lost.dp;
        self.scale[row] = lost.scale.max(f64::MIN_POSITIVE);
        self.jacobian.set_row(row, &lost.gradient.transpose());
    }

    /// Whether every equation holds, but those of pressures that tell flows below [`TRICKLE`].
    fn holds(&self) -> bool {
        let nothing = TRICKLE * TRICKLE * self.scale.max();
        let mut rows = self.value.iter().zip(self.scale.iter());
        rows.all(|(value, scale)| value.abs() <= 1e-6 * scale || *scale <= nothing)
    }

    /// Rows are told in their own sizes and unknowns in their own flows, so that the matrix holds
    /// numbers near 1.
    fn newton(&self, x: &DVector<f64>) -> Newton {
        let mut matrix = self.jacobian.clone();
        for (row, mut values) in matrix.row_iter_mut().enumerate() {
            values /= self.scale[row];
        }
        for (column, mut values) in matrix.column_iter_mut().enumerate() {
            values *= x[column];
        }
        Newton {
            lu: matrix.lu(),
            scale: self.scale.clone(),
            x: x.clone(),
        }
    }
}

/// The derivatives at one place, factored.
struct Newton {
    lu: LU<f64, Dyn, Dyn>,
    scale: DVector<f64>,
    x: DVector<f64>,
}

impl Newton {
    /// The step that takes these left-over values away.
    fn step(&self, value: &DVector<f64>) -> Option<DVector<f64>> {
        let relative = self.lu.solve(&-value.component_div(&self.scale))?;
        Some(relative.component_mul(&self.x))
    }
}

/// Every run of the collector in series.
fn collector(system: &System, gas: Gas) -> Run {
    let collector = &system.collector;
    let fan = collector.fan.as_ref().unwrap();
    let fitted = fan.fitted();
    let mut whole = Run::default();
    let mains: Vec<_> = system
        .sections
        .iter()
        .filter(|s| s.into.is_none())
        .collect();
    let main = match mains[..] {
        [only] => Some((only.size, &only.parts[..])),
        _ => None,
    };
    let starts = [main, fan.outlet().map(|bore| (bore, &[][..]))];
    for (runs, mut upstream) in [&collector.before, &collector.after]
        .into_iter()
        .zip(starts)
    {
        for run in runs {
            whole.head = gas.rho / 2.0 / area_m2(run.size).powi(2);
            whole.sharp(gas, upstream, run.size, &run.parts);
            for part in &run.parts {
                let in_curve = match part {
                    Part::Separator(_) => fitted.separator,
                    Part::Filter(_) => fitted.filter,
                    _ => false,
                };
                if !in_curve {
                    whole.part(gas, run.size, run.wall, part);
                }
            }
            upstream = Some((run.size, &run.parts));
        }
    }
    whole
}

impl Run {
    fn new(gas: Gas, bore: Bore) -> Self {
        let area_m2 = area_m2(bore);
        Self {
            area_m2,
            head: gas.rho / 2.0 / (area_m2 * area_m2),
            ..Self::default()
        }
    }

    /// A sharp change of size, on the velocity pressure of the smaller side.
    fn sharp(&mut self, gas: Gas, upstream: Option<(Bore, &[Part])>, to: Bore, parts: &[Part]) {
        let Some((from, before)) = upstream else {
            return;
        };
        let vessel = |part: &Part| matches!(part, Part::Filter(_) | Part::Separator(_));
        let narrows = area_m2(to) <= area_m2(from);
        if parts.first().is_some_and(vessel) && narrows || before.last().is_some_and(vessel) {
            return;
        }
        let [from_m2, to_m2] = [from, to].map(area_m2);
        let small = from_m2.min(to_m2);
        let k = if to_m2 > from_m2 {
            (1.0 - from_m2 / to_m2).powi(2)
        } else {
            let b2 = to_m2 / from_m2;
            let b5 = b2.powf(2.5);
            let l = 1.0 + 0.622 * (1.0 - 0.215 * b2 - 0.785 * b5);
            0.0696 * (1.0 - b5) * l * l + (l - 1.0).powi(2)
        };
        self.quadratic += k * gas.rho / 2.0 / (small * small);
    }

    fn part(&mut self, gas: Gas, bore: Bore, wall: Wall, part: &Part) {
        let d_m = hydraulic_diameter_m(bore);
        let area = area_m2(bore);
        let mut friction = |length_m: f64, times: f64, roughness_m: f64| {
            self.frictions.push(Friction {
                per_f: times * length_m / d_m * self.head,
                re_per_q: gas.rho * d_m / (area * gas.mu),
                relative_roughness: roughness_m / d_m,
            });
        };
        match part {
            Part::Duct(length) => {
                let roughness_m = match wall {
                    Wall::Roughness(own) => own.as_m(),
                    Wall::Galvanised => 0.09e-3,
                    other => panic!("no wall {other:?}"),
                };
                friction(length.as_m(), 1.0, roughness_m);
            }
            Part::Hose(hose) => {
                assert_eq!(hose.bend, None);
                let length_m = hose.length.as_m();
                match hose.kind {
                    HoseKind::Ribbed { times_smooth } => friction(length_m, times_smooth, 0.0),
                    HoseKind::Wire { compression } => {
                        let times = 1.0 + 0.58 * 100.0 * compression * (-4.96 * d_m).exp();
                        friction(length_m, times, 0.9e-3);
                    }
                    other => panic!("no hose {other:?}"),
                }
            }
            Part::K(k)
            | Part::Elbow(Elbow::K(k))
            | Part::Separator(Separator::VelocityHeads(k)) => self.quadratic += k * self.head,
            Part::Separator(Separator::Rated(rated)) => {
                self.quadratic += rated.drop.as_pa() / rated.at.as_m3_s().powi(2);
            }
            Part::Filter(Filter::Terms { linear, quadratic }) => {
                self.linear += linear.drop.as_pa() / linear.at.as_m3_s();
                self.quadratic += quadratic.drop.as_pa() / quadratic.at.as_m3_s().powi(2);
            }
            other => panic!("no part {other:?}"),
        }
    }

    /// Loss at a flow above zero \[Pa\] and its slope.
    fn loss(&self, q: f64) -> (f64, f64) {
        let mut dp = self.quadratic * q * q + self.linear * q;
        let mut slope = 2.0 * self.quadratic * q + self.linear;
        for friction in &self.frictions {
            let (f, df_dre) = friction_factor(friction.re_per_q * q, friction.relative_roughness);
            dp += f * friction.per_f * q * q;
            slope += friction.per_f * (2.0 * f * q + df_dre * friction.re_per_q * q * q);
        }
        (dp, slope)
    }
}

fn area_m2(bore: Bore) -> f64 {
    match bore {
        Bore::Round(d) => std::f64::consts::PI * d.as_m() * d.as_m() / 4.0,
        Bore::Rectangular { width, height } => width.as_m() * height.as_m(),
        other => panic!("no bore {other}"),
    }
}

/// Four times area over perimeter.
fn hydraulic_diameter_m(bore: Bore) -> f64 {
    match bore {
        Bore::Round(d) => d.as_m(),
        Bore::Rectangular { width, height } => {
            4.0 * area_m2(bore) / (2.0 * (width.as_m() + height.as_m()))
        }
        other => panic!("no bore {other}"),
    }
}

/// Darcy friction factor and its derivative by the Reynolds number.
pub(crate) fn friction_factor(re: f64, relative_roughness: f64) -> (f64, f64) {
    if re <= 2000.0 {
        (64.0 / re, -64.0 / (re * re))
    } else if re < 4000.0 {
        // Hermite's cubic by its four basis polynomials.
        let (f1, d1) = colebrook(4000.0, relative_roughness);
        let (f0, d0) = (64.0 / 2000.0, -64.0 / (2000.0 * 2000.0));
        let span = 2000.0;
        let t = (re - 2000.0) / span;
        let f = (1.0 + 2.0 * t) * (1.0 - t).powi(2) * f0
            + t * (1.0 - t).powi(2) * span * d0
            + t * t * (3.0 - 2.0 * t) * f1
            + t * t * (t - 1.0) * span * d1;
        let df_dt = 6.0 * t * (t - 1.0) * f0
            + (1.0 - t) * (1.0 - 3.0 * t) * span * d0
            + 6.0 * t * (1.0 - t) * f1
            + t * (3.0 * t - 2.0) * span * d1;
        (f, df_dt / span)
    } else {
        colebrook(re, relative_roughness)
    }
}

/// 1/sqrt f = -2 log10(e/3.7 + 2.51/(Re sqrt f)), iterated as it stands until it repeats itself.
fn colebrook(re: f64, relative_roughness: f64) -> (f64, f64) {
    // y = 1/sqrt f; each round shrinks the error by the factor `pull`, 0.15 or less.
    let mut y = 7.0;
    let argument = |y: f64| relative_roughness / 3.7 + 2.51 * y / re;
    for _ in 0..40 {
        let next = -2.0 * argument(y).log10();
        let done = next == y;
        y = next;
        if done {
            break;
        }
    }
    let pull = 2.0 / std::f64::consts::LN_10 / argument(y) * 2.51 / re;
    let dy_dre = pull * y / re / (1.0 + pull);
    (1.0 / (y * y), -2.0 * dy_dre / y.powi(3))
}

/// Cosine of an angle in degrees.
fn cosine(deg: f64) -> f64 {
    deg.to_radians().cos()
}
