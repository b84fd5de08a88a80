//! Values that spare the most, and which types serve, as records.

use super::record;
use crate::choosing::{Choice, Serving, Spare};
use crate::sentence;
use crate::tables::up_or_down;
use network::margins::choosing::{Serves, Takes, WorstCase};
use serde_json::{Value, json};

/// Values now and at best.
#[must_use]
pub fn chosen(choice: &Choice) -> Value {
    let (wanted, chosen) = (choice.wanted, choice.chosen);
    let values = choice
        .values()
        .map(|(mark, now, best)| json!({ "part": mark, "now_ohms": now, "best_ohms": best }));
    let volts = |spare: Option<Spare>| spare.map(|spare| spare.volts);
    let tubes = choice.margins().map(|(tube, now, best)| {
        json!({
            "tube": tube,
            "now_spare_volts": volts(now),
            "now_thin_below_volts": thin_below(now),
            "best_spare_volts": volts(best),
            "best_thin_below_volts": thin_below(best),
        })
    });
    let rails = wanted.most_amps.iter();
    let most_amps: Vec<Value> = rails
        .map(|(rail, amps)| json!({ "rail": choice.design.rails[rail.0].name, "amps": amps }))
        .collect();
    let takes = |takes: &Takes| {
        let amps = takes.amps.iter();
        let amps: Vec<Value> = amps
            .map(|(rail, amps)| json!({ "rail": choice.design.rails[rail.0].name, "amps": amps }))
            .collect();
        json!({ "amps": amps, "watts": takes.watts, "delay_seconds": takes.delay })
    };
    let case = |case: &WorstCase| {
        json!({
            "tube": choice.tube(case.tube),
            "when": up_or_down(case.up),
            "spare_volts": case.volts,
            "level_volts": case.level,
            "threshold_volts": case.threshold,
            "in_words": case.in_words,
        })
    };
    let fields = json!({
        "circuit": choice.circuit(),
        "loads": wanted.loads,
        "values": values.collect::<Vec<_>>(),
        "tubes": tubes.collect::<Vec<_>>(),
        "now_takes": takes(&chosen.now_takes),
        "best_takes": chosen.best_takes.as_ref().map(takes),
        "best_case": chosen.best_case.as_ref().map(case),
        "now_within_limits": chosen.now.within,
        "found": chosen.best.is_some(),
        "now_is_as_good": chosen.now_is_as_good(),
        "tried": chosen.tried,
        "combinations": wanted.combinations(),
        "every_combination": chosen.every,
        "stopped": choice.stopped,
        "limits": { "most_amps": most_amps, "most_watts": wanted.most_watts, "longest_delay_seconds": wanted.longest_delay },
        "to_type": choice.lines_to_type(),
        "said": sentence::about_choice(choice),
    });
    record("choose", fields)
}

fn thin_below(spare: Option<Spare>) -> Option<f64> {
    spare.map(|spare| spare.thin_below)
}

/// Which types serve in a circuit.
#[must_use]
pub fn serves(serving: &Serving) -> Value {
    let one = |serves: &Serves| {
        let why = serving.why_short(serves);
        json!({
            "type": serves.tube.name,
            "in_stock": serving.in_stock(serves),
            "spare_volts": serves.margin,
            "thin_below_volts": thin_below(serving.spare(serves)),
            "when": serves.margin.map(|_| up_or_down(serves.up)),
            "most_loads": serves.most_loads,
            "heater_watts_for_each_half": serves.heater_watts,
            "down_volts": serves.levels.map(|level| level.down),
            "up_volts": serves.levels.map(|level| level.up),
            "amplifies_by_the_book": serves.amplifies,
            "short": Some(why).filter(|why| !why.is_empty()),
        })
    };
    let fields = json!({
        "circuit": serving.design.circuits[serving.circuit.0].name,
        "loads": serving.loads,
        "stopped": serving.all.len() < serving.types,
        "types": serving.in_order().map(one).collect::<Vec<_>>(),
        "said": sentence::about_serving(serving),
    });
    record("serves", fields)
}
