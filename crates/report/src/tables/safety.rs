//! What can hurt, as tables.

use super::{number, numbers, text, words};
use crate::table::Table;
use design::model::Design;
use network::safety::{BLEED_SECONDS, Safety};

/// Every pair of rails above the limit for touching; all of them when none is.
#[must_use]
pub fn spans(safety: &Safety) -> Table {
    let any = safety.spans.iter().any(network::safety::Span::is_above);
    let rows = safety
        .spans
        .iter()
        .filter(|span| span.is_above() || !any)
        .map(|span| {
            vec![
                text(format!("{} and {}", span.between[0], span.between[1])),
                number(span.volts, 1),
                number(span.limit_volts, 1),
                text(if span.alternates { "peak" } else { "direct" }),
                number(span.seconds, 1),
            ]
        });
    let verdict = if any {
        "Not for touching"
    } else {
        "Below the limit for touching"
    };
    Table {
        caption: format!("{verdict}: between the rails, each at the worse end of its tolerance"),
        columns: vec![
            words("between"),
            numbers("at most", "V"),
            numbers("limit", "V"),
            words("kind"),
            numbers("falls in", "s"),
        ],
        rows: rows.collect(),
    }
}

/// What every rail keeps after the supply is off.
#[must_use]
pub fn stores(design: &Design, safety: &Safety, touch_volts: f64) -> Table {
    let rows = safety.stores.iter().map(|rail| {
        let store = rail.store;
        let of = |value: fn(network::safety::Store) -> f64| store.map(value);
        let bleeder = store.zip(rail.bleeder_ohms);
        let dead = store.map(|store| store.dead_volts(touch_volts));
        vec![
            text(design.rails[rail.rail].name.clone()),
            number(store.map(|store| 1e6 * store.farads), 1),
            number(of(|store| store.volts), 1),
            number(of(network::safety::Store::joules), 2),
            number(store.map(|store| 1e3 * store.coulombs()), 2),
            number(dead, 1),
            number(rail.bleeder_ohms.map(|ohms| 1e-3 * ohms), 1),
            number(bleeder.map(|(store, ohms)| store.watts_in(ohms)), 2),
            number(rail.seconds, 1),
            number(rail.wanted_ohms.map(|ohms| 1e-3 * ohms), 1),
            number(
                rail.wanted_ohms
                    .zip(store)
                    .map(|(ohms, store)| store.watts_in(ohms)),
                2,
            ),
        ]
    });
    Table {
        caption: format!(
            "What the rails keep when the supply is off, and a bleeder that would empty each in {BLEED_SECONDS:.0} s"
        ),
        columns: vec![
            words("rail"),
            numbers("capacitor", "µF"),
            numbers("at most", "V"),
            numbers("energy", "J"),
            numbers("charge", "mC"),
            numbers("dead below", "V"),
            numbers("bleeder", "kΩ"),
            numbers("takes", "W"),
            numbers("after", "s"),
            numbers("proposed", "kΩ"),
            numbers("taking", "W"),
        ],
        rows: rows.collect(),
    }
}
