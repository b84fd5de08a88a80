//! What can hurt: volts from rail to rail, what capacitors keep, heaters that do not stand on ground, coils.
//!
//! Standards for products are used as a measure here, never as a promise; local codes and licensed practice come first.

use crate::preferred;
use design::model::{Design, NetKind, PartKind, Rail, RailId, Terminal};

/// Peak volts of alternating current that are taken as the limit for touching in dry places: IEC 61010-1 (from memory) and
/// IEC 60335-1 (as quoted).
pub const TOUCH_PEAK_VOLTS: f64 = 42.4;

/// What a store may hold and still be called harmless, J: IEC 60335-1 allows 350 mJ above 15 kV (as quoted); the same
/// measure is used here for all volts (chosen).
pub const HARMLESS_JOULES: f64 = 0.35;

/// In how many seconds a bleeder should bring a rail down: IEC 61010-1 gives plug pins 5 s (as quoted by a trade article).
pub const BLEED_SECONDS: f64 = 5.0;

/// The largest bleeder that is proposed, ohm (chosen: beyond it dirt and the capacitor's own leakage say as much).
pub const LARGEST_BLEEDER_OHMS: f64 = 1e6;

/// Between two of the rails and ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Span {
    /// Names, the higher first.
    pub between: [String; 2],
    /// The most that can stand between them, each at the end of its tolerance; peaks where one alternates.
    pub volts: f64,
    /// One of them alternates.
    pub alternates: bool,
    /// What is taken as the limit for touching, V.
    pub limit_volts: f64,
    /// Seconds after switching off until they are below the limit for direct volts and stay there; `None` where one of the
    /// two has no capacitor or no bleeder typed.
    pub seconds: Option<f64>,
}

impl Span {
    /// Above the limit for touching.
    #[must_use]
    pub fn is_above(&self) -> bool {
        self.limit_volts < self.volts
    }
}

/// A capacitor between a rail and ground, charged to `volts`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Store {
    /// F.
    pub farads: f64,
    /// V.
    pub volts: f64,
}

impl Store {
    /// E = C V^2 / 2, J.
    #[must_use]
    pub fn joules(self) -> f64 {
        0.5 * self.farads * self.volts * self.volts
    }

    /// Q = C V, C.
    #[must_use]
    pub fn coulombs(self) -> f64 {
        self.farads * self.volts
    }

    /// Seconds until it is down at `volts` through a resistor: R C ln(V0 / V); 0 when it is there already.
    #[must_use]
    pub fn seconds_to(self, volts: f64, ohms: f64) -> f64 {
        ohms * self.farads * (self.volts / volts).ln().max(0.0)
    }

    /// The resistor that brings it down to `volts` in so many seconds, ohm; infinite when it is there already.
    #[must_use]
    pub fn ohms_for(self, volts: f64, seconds: f64) -> f64 {
        let fall = (self.volts / volts).ln();
        if 0.0 < fall {
            seconds / (self.farads * fall)
        } else {
            f64::INFINITY
        }
    }

    /// Where it may be called dead, V: below `touch_volts` and below [`HARMLESS_JOULES`].
    #[must_use]
    pub fn dead_volts(self, touch_volts: f64) -> f64 {
        touch_volts.min((2.0 * HARMLESS_JOULES / self.farads).sqrt())
    }

    /// What a resistor across it takes while the rail stands, W.
    #[must_use]
    pub fn watts_in(self, ohms: f64) -> f64 {
        self.volts * self.volts / ohms
    }
}

/// What a rail stores.
#[derive(Debug, Clone, PartialEq)]
pub struct RailStore {
    /// Index into [`Design::rails`].
    pub rail: usize,
    /// At the top of its tolerance; `None` when no capacitor is typed.
    pub store: Option<Store>,
    /// The bleeder typed, ohm.
    pub bleeder_ohms: Option<f64>,
    /// Seconds until it may be called dead; `None` without capacitor or bleeder.
    pub seconds: Option<f64>,
    /// The bleeder proposed, ohm: the E24 value with which it, and every rail of the other sign with one alike, is dead in
    /// [`BLEED_SECONDS`]; `None` where that is so already.
    pub wanted_ohms: Option<f64>,
}

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Safety {
    /// Every pair of rails, and every rail to ground, the highest first.
    pub spans: Vec<Span>,
    /// Every rail that does not alternate.
    pub stores: Vec<RailStore>,
    /// Strings between two rails, neither end on ground.
    pub raised: Vec<String>,
    /// Units and coils in them whose current, interrupted, drives their volts up.
    pub coils: Vec<String>,
}

/// Looks at a design; `touch_volts` is the limit for direct volts.
#[must_use]
pub fn safety(design: &Design, touch_volts: f64) -> Safety {
    let spans = spans(design, touch_volts);
    Safety {
        stores: stores(design, &spans, touch_volts),
        spans,
        raised: design
            .strings
            .iter()
            .filter(|string| {
                [string.from, string.to].iter().all(|end| match end {
                    Terminal::Net(net) => matches!(design.nets[net.0].kind, NetKind::Rail(_)),
                    Terminal::Inner(..) => false,
                })
            })
            .map(|string| string.name.clone())
            .collect(),
        coils: coils(design),
    }
}

/// A rail or ground, as one side of a span.
struct Side<'a> {
    name: &'a str,
    low: f64,
    high: f64,
    alternates: bool,
    /// What keeps its volts when the supply is off; of a winding, what it stands on. `None` is ground.
    keeps: Option<&'a Rail>,
}

impl<'a> Side<'a> {
    const GROUND: Side<'static> = Side {
        name: "ground",
        low: 0.0,
        high: 0.0,
        alternates: false,
        keeps: None,
    };

    fn of(design: &'a Design, rail: &'a Rail) -> Side<'a> {
        let foot = rail.stands_on.map(|RailId(foot)| &design.rails[foot]);
        let (low, high) = if rail.alternates {
            let peak = std::f64::consts::SQRT_2 * rail.volts.abs() * (1.0 + rail.tolerance);
            let (low, high) = foot.map_or((0.0, 0.0), ends);
            (low - peak, high + peak)
        } else {
            ends(rail)
        };
        Side {
            name: &rail.name,
            low,
            high,
            alternates: rail.alternates,
            keeps: if rail.alternates { foot } else { Some(rail) },
        }
    }

    /// Its volts at switching off, from end to end, and the share of them lost in a second; `None` where that is not known.
    fn fall(&self) -> Option<([f64; 2], f64)> {
        let Some(rail) = self.keeps else {
            return Some(([0.0; 2], 0.0));
        };
        let (low, high) = ends(rail);
        let seconds = rail.capacitor_farads? * rail.bleeder_ohms?;
        Some(([low, high], seconds.recip()))
    }
}

/// The lowest and the highest volts of a rail that does not alternate.
fn ends(rail: &Rail) -> (f64, f64) {
    let loose = rail.volts.abs() * rail.tolerance;
    (rail.volts - loose, rail.volts + loose)
}

/// Every pair of rails, and every rail to ground, the highest first.
#[must_use]
pub fn spans(design: &Design, touch_volts: f64) -> Vec<Span> {
    let mut sides = vec![Side::GROUND];
    sides.extend(design.rails.iter().map(|rail| Side::of(design, rail)));
    let mut spans = Vec::new();
    for (place, left) in sides.iter().enumerate() {
        for right in &sides[place + 1..] {
            let alternates = left.alternates || right.alternates;
            let (down, up) = (left.high - right.low, right.high - left.low);
            let (higher, lower) = if down < up {
                (right, left)
            } else {
                (left, right)
            };
            spans.push(Span {
                between: [higher.name.to_owned(), lower.name.to_owned()],
                volts: down.max(up),
                alternates,
                limit_volts: if alternates {
                    TOUCH_PEAK_VOLTS
                } else {
                    touch_volts
                },
                seconds: seconds_between(left, right, touch_volts),
            });
        }
    }
    spans.sort_by(|left, right| right.volts.total_cmp(&left.volts));
    spans
}

/// Seconds until two sides that lose their volts are nearer than `volts` and stay so, whichever ends of their tolerances
/// they start from.
fn seconds_between(left: &Side, right: &Side, volts: f64) -> Option<f64> {
    let ((from, lost), (other, other_lost)) = (left.fall()?, right.fall()?);
    let starts = from
        .iter()
        .flat_map(|&from| other.map(|other| (from, other)));
    Some(
        starts
            .map(|(from, other)| last_beyond((from, lost), (other, other_lost), volts))
            .fold(0.0, f64::max),
    )
}

/// The last second at which |A e^(-a t) - B e^(-b t)| reaches `volts`, for (A, a) and (B, b); 0 when it never does. The
/// difference turns round once at most, where A a e^(-a t) = B b e^(-b t), and falls to nothing after that (derived).
fn last_beyond(left: (f64, f64), right: (f64, f64), volts: f64) -> f64 {
    let apart = |at: f64| (left.0 * (-left.1 * at).exp() - right.0 * (-right.1 * at).exp()).abs();
    let turn = ((left.0 * left.1) / (right.0 * right.1)).ln() / (left.1 - right.1);
    let turn = if turn.is_finite() { turn.max(0.0) } else { 0.0 };
    let half = |side: (f64, f64)| {
        let seconds = (2.0 * side.0.abs() / volts).ln() / side.1;
        if seconds.is_finite() {
            seconds.max(0.0)
        } else {
            0.0
        }
    };
    let (mut beyond, mut below) = if volts <= apart(turn) {
        (turn, half(left).max(half(right)).max(turn))
    } else if volts <= apart(0.0) {
        (0.0, turn)
    } else {
        return 0.0;
    };
    // Sixty halvings are finer than a number holds.
    for _ in 0..60 {
        let middle = f64::midpoint(beyond, below);
        if apart(middle) < volts {
            below = middle;
        } else {
            beyond = middle;
        }
    }
    below
}

fn stores(design: &Design, spans: &[Span], touch_volts: f64) -> Vec<RailStore> {
    let rails = design.rails.iter().enumerate();
    rails
        .filter(|(_, rail)| !rail.alternates)
        .map(|(index, rail)| {
            let store = rail.capacitor_farads.map(|farads| Store {
                farads,
                volts: rail.volts.abs() * (1.0 + rail.tolerance),
            });
            let seconds = store.zip(rail.bleeder_ohms);
            RailStore {
                rail: index,
                store,
                bleeder_ohms: rail.bleeder_ohms,
                seconds: seconds
                    .map(|(store, ohms)| store.seconds_to(store.dead_volts(touch_volts), ohms)),
                wanted_ohms: store
                    .and_then(|store| wanted_ohms(design, rail, store, spans, touch_volts)),
            }
        })
        .collect()
}

/// The bleeder that a rail wants. Two rails of opposite signs stand together at the limit after the time in which each of
/// them falls by the ratio of the limit to their sum; of the same sign they are never further apart than the higher is from
/// ground.
fn wanted_ohms(
    design: &Design,
    rail: &Rail,
    store: Store,
    spans: &[Span],
    touch_volts: f64,
) -> Option<f64> {
    let slow = |seconds: Option<f64>| seconds.is_none_or(|seconds| BLEED_SECONDS < seconds);
    let dead = store.dead_volts(touch_volts);
    let alone = rail.bleeder_ohms.map(|ohms| store.seconds_to(dead, ohms));
    let alone = slow(alone).then(|| store.ohms_for(dead, BLEED_SECONDS));
    let together = design.rails.iter().filter(|other| {
        let between =
            |span: &&Span| span.between.contains(&rail.name) && span.between.contains(&other.name);
        let span = spans.iter().find(between);
        !other.alternates
            && other.volts * rail.volts < 0.0
            && span.is_some_and(|span| span.is_above() && slow(span.seconds))
    });
    let together = together.map(|other| {
        let sum = store.volts + other.volts.abs() * (1.0 + other.tolerance);
        Store {
            volts: sum,
            ..store
        }
        .ohms_for(touch_volts, BLEED_SECONDS)
    });
    let most = alone
        .into_iter()
        .chain(together)
        .fold(f64::INFINITY, f64::min);
    let wanted = preferred::neighbours(most.min(2.0 * LARGEST_BLEEDER_OHMS), false, 1);
    let wanted = wanted.first()?.min(LARGEST_BLEEDER_OHMS);
    let there = rail.bleeder_ohms.is_some_and(|ohms| ohms <= wanted);
    (most.is_finite() && !there).then_some(wanted)
}

fn coils(design: &Design) -> Vec<String> {
    let units = design.units.iter().enumerate();
    units
        .flat_map(|(index, unit)| {
            let parts = &design.circuit_of(design::model::UnitId(index)).parts;
            parts
                .iter()
                .filter(|part| matches!(part.kind, PartKind::Inductor { .. }))
                .map(|part| format!("{}.{}", unit.name, part.mark))
        })
        .collect()
}
