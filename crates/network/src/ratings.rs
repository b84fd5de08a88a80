//! Every rating of every part of a unit: in all its rows, with cold tubes, and with its inputs unplugged.

use crate::equations::Network;
use crate::finding::{Amount, Finding, capitalised};
use crate::judge::{Context, Levels, MemberResult, PartReading, RowResult, set_feeds};
use crate::plan::{MemberIndex, Plan};
use crate::scene::{Scene, build};
use crate::solve::{OperatingPoint, Solver};
use crate::surroundings::{Copies, Surroundings};
use crate::wiring::ElementKind;
use design::model::{Circuit, NodeKind, Part, PartKind, TubePart, UnitId};
use stated::{Rating, capacitor_volts, negative_grid, plain, plate_volts};
use text::quantity::Unit;

pub(crate) mod stated;

/// The member with every tube of its scene cold, and with its inputs unplugged, rails at the top of their tolerance.
struct Extremes {
    cold: Option<(Scene, OperatingPoint)>,
    unplugged: Option<(Scene, OperatingPoint)>,
}

/// Findings on the ratings of one member's parts.
#[must_use]
pub fn check(
    plan: &Plan,
    result: &MemberResult,
    levels: &Levels,
    context: &Context,
) -> Vec<Finding> {
    let member = result.around.subject;
    let circuit = plan.circuit(member);
    let extremes = Extremes {
        cold: extreme(plan, &result.around.copies(), levels, context, true),
        unplugged: extreme(plan, &[Copies::one(member)], levels, context, false),
    };
    let rows: Vec<&RowResult> = result.rows.iter().filter(|row| row.counts()).collect();
    let mut findings = Vec::new();
    for (index, part) in circuit.parts.iter().enumerate() {
        let readings: Vec<PartReading> = rows.iter().map(|row| row.parts[index]).collect();
        let mut place = Place {
            plan,
            member,
            circuit,
            part,
            findings: &mut findings,
        };
        match &part.kind {
            PartKind::Tube(tube) => {
                place.tube(tube, &readings, &extremes);
                place.grid_resistance(tube, result, &rows, levels, context);
            }
            PartKind::Capacitor { ends, .. } => place.capacitor(*ends, &rows, &extremes),
            _ => place.plain(&readings),
        }
    }
    findings
}

/// Findings on the plates of both halves of a bottle together, each half in its worst row.
#[must_use]
pub fn both_plates(plan: &Plan, results: &[MemberResult]) -> Vec<Finding> {
    let design = plan.design;
    let worst_watts = |half: &Option<(UnitId, usize)>| -> f64 {
        let Some((unit, tube)) = half else { return 0.0 };
        let Some((part, _)) = design.circuit_of(*unit).tubes().nth(*tube) else {
            return 0.0;
        };
        let rows = results[unit.0].rows.iter().filter(|row| row.counts());
        rows.map(|row| row.parts[part].watts).fold(0.0, f64::max)
    };
    design
        .sockets
        .iter()
        .filter_map(|socket| {
            let limit = socket.device.ratings.both_plates_watts.as_ref()?.value;
            let watts: f64 = socket.halves.iter().map(worst_watts).sum();
            let cause = format!(
                "The plates of {} dissipate {} together, more than the {} that the bottle may.",
                socket.mark,
                text::quantity::show(watts, Unit::Watt, 3),
                text::quantity::show(limit, Unit::Watt, 3)
            );
            (limit < watts).then(|| {
                Finding::fault("plate-watts", socket.span, socket.mark.clone(), cause)
                    .numbers(
                        Amount::new("dissipation of both plates", watts, Unit::Watt),
                        Amount::new("rating of both plates together", limit, Unit::Watt),
                    )
                    .attempt(advice("plate-watts"))
            })
        })
        .collect()
}

fn largest(readings: &[PartReading], value: impl Fn(&PartReading) -> f64) -> f64 {
    readings.iter().map(value).fold(0.0, f64::max)
}

/// Solves the members with every rail at the top of its tolerance: all tubes cold, or (not cold) no input fed.
fn extreme(
    plan: &Plan,
    members: &[Copies],
    levels: &Levels,
    context: &Context,
    cold: bool,
) -> Option<(Scene, OperatingPoint)> {
    let mut scene = build(plan, members, &[], &context.assumptions);
    if cold {
        scene.chill();
    }
    scene.set_rails(plan, |rail| {
        let rail = &plan.design.rails[rail.0];
        rail.volts * (1.0 + rail.tolerance)
    });
    if !cold {
        for feed in scene.feeds.values() {
            // An unplugged input: the tie becomes a leak that draws nothing.
            let ElementKind::Tie { plus, minus, .. } = scene.wiring.elements[feed.tie].kind else {
                continue;
            };
            scene.wiring.elements[feed.tie].kind = ElementKind::Resistor {
                ends: [plus, minus],
                siemens: 0.0,
            };
        }
    }
    let mut network = Network::new(scene.wiring.clone(), context.assumptions.leak_siemens).ok()?;
    if cold {
        let values = scene.feeds.keys().map(|&net| (net, true)).collect();
        set_feeds(&mut network, &scene, &values, levels);
    }
    let point = Solver::new(&network).operating_point(&network, None, None, &context.settings);
    point.outcome.settled().then_some((scene, point))
}

/// Volts of a member's nodes with every tube cold and every rail at the top of its tolerance; `None` when that has no rest.
#[must_use]
pub fn cold_volts(
    plan: &Plan,
    result: &MemberResult,
    levels: &Levels,
    context: &Context,
) -> Option<Vec<f64>> {
    let member = result.around.subject;
    let (scene, point) = extreme(plan, &result.around.copies(), levels, context, true)?;
    let nodes = scene.member(member)?.nodes.iter();
    Some(nodes.map(|&node| point.volts[node]).collect())
}

impl Extremes {
    /// Volts between two nodes of the member with cold tubes.
    fn cold_volts(&self, member: MemberIndex, from: usize, to: usize) -> Option<f64> {
        Self::volts(&self.cold, member, from, to)
    }

    /// Volts between two nodes of the member with its inputs unplugged.
    fn unplugged_volts(&self, member: MemberIndex, from: usize, to: usize) -> Option<f64> {
        Self::volts(&self.unplugged, member, from, to)
    }

    fn volts(
        solved: &Option<(Scene, OperatingPoint)>,
        member: MemberIndex,
        from: usize,
        to: usize,
    ) -> Option<f64> {
        let (scene, point) = solved.as_ref()?;
        let nodes = &scene.member(member)?.nodes;
        Some(point.volts[nodes[from]] - point.volts[nodes[to]])
    }
}

/// One part of a member, with somewhere to put findings.
struct Place<'a> {
    plan: &'a Plan<'a>,
    member: MemberIndex,
    circuit: &'a Circuit,
    part: &'a Part,
    findings: &'a mut Vec<Finding>,
}

impl Place<'_> {
    fn subject(&self) -> String {
        format!("{}.{}", self.plan.members[self.member].name, self.part.mark)
    }

    /// A finding when `has` exceeds `limit`; true when it does.
    fn over(
        &mut self,
        name: &'static str,
        what: &str,
        has: f64,
        limit: f64,
        limit_name: &str,
        unit: Unit,
    ) -> bool {
        if has <= limit {
            return false;
        }
        let subject = self.subject();
        let cause = format!(
            "{} of {subject} is {}, more than its {limit_name} of {}.",
            capitalised(what),
            text::quantity::show(has, unit, 3),
            text::quantity::show(limit, unit, 3)
        );
        self.findings.push(
            Finding::fault(name, self.part.span, subject, cause)
                .numbers(
                    Amount::new(what, has, unit),
                    Amount::new(limit_name, limit, unit),
                )
                .attempt(advice(name)),
        );
        true
    }

    /// The same for a rating of the part.
    fn over_rating(&mut self, rating: &Rating, what: &str, has: f64) -> bool {
        self.over(
            rating.name,
            what,
            has,
            rating.limit,
            &rating.limit_name,
            rating.unit,
        )
    }

    /// Ratings that hold for every row, each against the worst of them.
    fn plain(&mut self, readings: &[PartReading]) {
        for rating in plain(self.part) {
            self.over_rating(&rating, rating.what, largest(readings, rating.reading));
        }
    }

    fn tube(&mut self, tube: &TubePart, readings: &[PartReading], extremes: &Extremes) {
        self.plate_volts(tube, readings, extremes);
        self.plain(readings);
        self.negative_grid(tube, readings, extremes);
    }

    /// Plate volts in every row; where those pass, with cold tubes against the rating for cold plates.
    fn plate_volts(&mut self, tube: &TubePart, readings: &[PartReading], extremes: &Extremes) {
        let running = largest(readings, |reading| reading.volts);
        let cold = extremes
            .cold_volts(self.member, tube.plate, tube.cathode)
            .unwrap_or(running)
            .max(running);
        if plate_volts(tube, false)
            .is_some_and(|rating| self.over_rating(&rating, rating.what, running))
        {
            return;
        }
        if let Some(rating) = plate_volts(tube, true) {
            let what = "plate volts with cold tubes and rails at their highest";
            self.over_rating(&rating, what, cold);
        }
    }

    /// The most negative grid over all rows, with the inputs unplugged, and with cold tubes.
    fn negative_grid(&mut self, tube: &TubePart, readings: &[PartReading], extremes: &Extremes) {
        let Some(grid) = tube.grid else { return };
        let running = largest(readings, |reading| -reading.grid_volts);
        let unplugged = extremes
            .unplugged_volts(self.member, tube.cathode, grid)
            .unwrap_or(running);
        let cold = extremes
            .cold_volts(self.member, tube.cathode, grid)
            .unwrap_or(running);
        let (what, volts) = [
            ("negative grid volts", running),
            ("negative grid volts with the inputs unplugged", unplugged),
            ("negative grid volts with cold tubes", cold),
        ]
        .into_iter()
        .fold(("", f64::NEG_INFINITY), |worst, next| {
            if worst.1 < next.1 { next } else { worst }
        });
        if let Some(rating) = negative_grid(tube) {
            self.over_rating(&rating, what, volts);
        }
    }

    fn capacitor(&mut self, ends: [usize; 2], rows: &[&RowResult], extremes: &Extremes) {
        let Some(rating) = capacitor_volts(self.part) else {
            return;
        };
        let running = rows
            .iter()
            .map(|row| (row.volts[ends[0]] - row.volts[ends[1]]).abs())
            .fold(0.0, f64::max);
        let cold = extremes
            .cold_volts(self.member, ends[0], ends[1])
            .map_or(0.0, f64::abs);
        let (what, volts) = if running < cold {
            ("volts with cold tubes and rails at their highest", cold)
        } else {
            (rating.what, running)
        };
        self.over_rating(&rating, what, volts);
    }

    /// The resistance that the grid sees, with the tube's own grid current left out, in the worst row.
    fn grid_resistance(
        &mut self,
        tube: &TubePart,
        result: &MemberResult,
        rows: &[&RowResult],
        levels: &Levels,
        context: &Context,
    ) {
        let self_biased = matches!(
            self.circuit.nodes[tube.cathode].kind,
            NodeKind::Inner | NodeKind::Signal(_)
        );
        let ratings = &tube.device.ratings;
        let (limit, kind) = if self_biased {
            (&ratings.grid_ohms_self, "cathode bias")
        } else {
            (&ratings.grid_ohms_fixed, "fixed bias")
        };
        let (Some(limit), Some(grid)) = (limit.clone(), tube.grid) else {
            return;
        };
        let ohms = grid_ohms(
            self.plan,
            &result.around,
            self.member,
            grid,
            rows,
            levels,
            context,
        )
        .unwrap_or(0.0);
        let limit_name = format!(
            "largest grid-circuit resistance with {kind} ({})",
            tube.device.name
        );
        self.over(
            "grid-resistance",
            "resistance in the grid circuit",
            ohms,
            limit.value,
            &limit_name,
            Unit::Ohm,
        );
    }
}

/// Largest resistance (ohm) seen from a grid over the member's rows.
fn grid_ohms(
    plan: &Plan,
    around: &Surroundings,
    member: MemberIndex,
    grid: usize,
    rows: &[&RowResult],
    levels: &Levels,
    context: &Context,
) -> Option<f64> {
    let mut scene = build(plan, &around.copies(), &[], &context.assumptions);
    // A microampere drawn from the grid moves it by a volt per megohm; the tubes on the node stay out of it (cold).
    let node = scene.member(member)?.nodes[grid];
    for element in &mut scene.wiring.elements {
        if let ElementKind::Triode { grid, cold, .. } | ElementKind::Pentode { grid, cold, .. } =
            &mut element.kind
            && *grid == node
        {
            *cold = true;
        }
    }
    let mut network = Network::new(scene.wiring.clone(), context.assumptions.leak_siemens).ok()?;
    let unknown = network.unknown_of(node)?;
    let mut solver = Solver::new(&network);
    let mut largest: Option<f64> = None;
    for row in rows {
        set_feeds(&mut network, &scene, &row.row.values, levels);
        let point = solver.operating_point(&network, None, None, &context.settings);
        if point.outcome.settled() {
            let ohms = solver.resistance_at(&network, &point, unknown)?;
            largest = Some(largest.map_or(ohms, |known| known.max(ohms)));
        }
    }
    largest
}

/// What usually mends a rating.
pub(crate) fn advice(name: &str) -> &'static str {
    match name {
        "plate-volts" => {
            "Use a lower rail, or a type that is rated for it; a cold tube stands at the full rail."
        }
        "plate-watts" | "cathode-amps" => {
            "Use a larger plate or cathode resistor, a lower rail, or a larger type."
        }
        "screen-rating" => "Feed the screen through a larger resistor or from a lower rail.",
        "negative-grid" => {
            "Use a less negative rail, a larger resistor to it, or a diode that holds the grid."
        }
        "grid-resistance" => {
            "Use smaller divider resistors in proportion, or a type with a higher limit."
        }
        "diode-reverse-volts" => "Use a type with a higher reverse rating.",
        "diode-current" => "Put more resistance in the way, or use a larger type.",
        "capacitor-volts" => {
            "Use a capacitor with a higher voltage rating; leave headroom for mains that run high."
        }
        _ => "Use a part with a higher rating, or a larger value.",
    }
}
