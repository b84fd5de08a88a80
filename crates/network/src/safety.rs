//! What can hurt: volts from rail to rail, what capacitors keep, heaters that do not stand on ground, coils.
//!
//! Standards for products are used as a measure here, never as a promise; local codes and licensed practice come first.

use design::model::{Design, NetKind, PartKind, RailId, Terminal};

/// Peak volts of alternating current that are taken as the limit for touching in dry places: IEC 61010-1 (from memory) and
/// IEC 60335-1 (as quoted).
pub const TOUCH_PEAK_VOLTS: f64 = 42.4;

/// What a store may hold and still be called harmless, J: IEC 60335-1 allows 350 mJ above 15 kV (as quoted); the same
/// measure is used here for all volts (chosen).
pub const HARMLESS_JOULES: f64 = 0.35;

/// In how many seconds a bleeder should bring a rail down: IEC 61010-1 gives plug pins 5 s (as quoted by a trade article).
pub const BLEED_SECONDS: f64 = 5.0;

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

    /// The bleeder that brings it to where it may be called dead in [`BLEED_SECONDS`], ohm; `None` when it is there already.
    #[must_use]
    pub fn wanted_ohms(self, touch_volts: f64) -> Option<f64> {
        let ohms = self.ohms_for(self.dead_volts(touch_volts), BLEED_SECONDS);
        ohms.is_finite().then_some(ohms)
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
    Safety {
        spans: spans(design, touch_volts),
        stores: stores(design),
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

/// Every pair of rails, and every rail to ground, the highest first.
#[must_use]
pub fn spans(design: &Design, touch_volts: f64) -> Vec<Span> {
    struct Side {
        name: String,
        low: f64,
        high: f64,
        alternates: bool,
    }
    let mut sides = vec![Side {
        name: "ground".to_owned(),
        low: 0.0,
        high: 0.0,
        alternates: false,
    }];
    sides.extend(design.rails.iter().map(|rail| {
        let top = rail.volts.abs() * (1.0 + rail.tolerance);
        let bottom = rail.volts.abs() * (1.0 - rail.tolerance);
        let (low, high) = if rail.alternates {
            let peak = std::f64::consts::SQRT_2 * top;
            let foot = rail.stands_on.map(|RailId(foot)| &design.rails[foot]);
            let (foot, loose) = foot.map_or((0.0, 0.0), |foot| {
                (foot.volts, foot.volts.abs() * foot.tolerance)
            });
            (foot - loose - peak, foot + loose + peak)
        } else if rail.volts < 0.0 {
            (-top, -bottom)
        } else {
            (bottom, top)
        };
        Side {
            name: rail.name.clone(),
            low,
            high,
            alternates: rail.alternates,
        }
    }));
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
                between: [higher.name.clone(), lower.name.clone()],
                volts: down.max(up),
                alternates,
                limit_volts: if alternates {
                    TOUCH_PEAK_VOLTS
                } else {
                    touch_volts
                },
            });
        }
    }
    spans.sort_by(|left, right| right.volts.total_cmp(&left.volts));
    spans
}

fn stores(design: &Design) -> Vec<RailStore> {
    let rails = design.rails.iter().enumerate();
    rails
        .filter(|(_, rail)| !rail.alternates)
        .map(|(index, rail)| RailStore {
            rail: index,
            store: rail.capacitor_farads.map(|farads| Store {
                farads,
                volts: rail.volts.abs() * (1.0 + rail.tolerance),
            }),
            bleeder_ohms: rail.bleeder_ohms,
        })
        .collect()
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
