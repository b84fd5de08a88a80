//! Rails by state, fuses, and the air that carries the heat off.

use super::shown;
use crate::decimal;
use design::model::Rail;
use network::power::{AIR_RISE_KELVIN, FUSE_BLOWS, Power, RailPower};
use network::rail_states::RailState;
use network::verdict::Verdict;
use text::quantity::{Unit, counted};

/// How the sums on rails and heat are to be read, and the states that the currents belong to.
#[must_use]
pub fn about_power(verdict: &Verdict, power: &Power) -> Vec<String> {
    let design = verdict.plan.design;
    let mut all = Vec::new();
    for (rail, power_of) in design.rails.iter().zip(&power.rails) {
        all.extend(rail_in_its_worst_state(verdict, power, rail, power_of));
    }
    if let Some(count) = power.states.every_state {
        all.push(format!(
            "Worst found: every one of {} that the logic permits was tried.",
            counted(count, "state")
        ));
    } else if power.rails.iter().any(|rail| rail.worst.is_some()) {
        all.push("Worst found: the logic permits too many states to try every one; of those that were tried none takes more. The truth lies between it and all on.".to_owned());
    }
    all.push("All off and all on are sums over all units, each in its own row; the logic may never take them there together, so they bound what the supply sees. What the bench's switches and loads take is not in them.".to_owned());
    let cold: Vec<&str> = design
        .rails
        .iter()
        .zip(&power.rails)
        .filter(|(rail, power)| rail.limit_amps.is_some_and(|limit| limit < power.cold_amps))
        .map(|(rail, _)| rail.name.as_str())
        .collect();
    if !cold.is_empty() {
        all.push(format!(
            "Cold strings ask {} for more than its limit: a supply that holds its current there warms them slowly, and one that folds back may never get them warm.",
            cold.join(" and ")
        ));
    }
    let whole: Vec<&str> = design
        .rails
        .iter()
        .zip(&power.rails)
        .filter(|(rail, power)| power.may_not_blow(rail.limit_amps))
        .map(|(rail, _)| rail.name.as_str())
        .collect();
    if !whole.is_empty() {
        all.push(format!(
            "The supply of {} may not blow its fuse: a fuse blows for certain at {} times its rating (IEC 60127-2, from memory), and that is above the limit. There the limit protects the wiring, or nothing does.",
            whole.join(" and "),
            decimal::fixed(FUSE_BLOWS, 1)
        ));
    }
    all.push("A fuse is proposed for one and a half times all on, the next of IEC 60127 (values from memory). It protects the wiring, not people; on a direct rail it must be one rated for direct current and the rail's volts, and of the time-lag kind where cold heaters take more than it carries. Where it would be rated above the rail's limit the supply cannot blow it: no fuse of the series protects within that limit.".to_owned());
    if 0 < power.missing {
        all.push(format!(
            "The heat of {} among the units and heaters is not known and not in the sums.",
            power.missing
        ));
    }
    all.push(format!(
        "All of it, {}, ends as heat in the room. Air that may leave {} K warmer (a rule for the cabinets of a production machine: Computer Structures, p. 181, as summarised) must flow at {} m³ an hour to carry it off (1.2 kJ for each cubic metre and kelvin, from memory). The losses of the supplies come on top and are not known here; bulbs and resistors want air around them.",
        shown(power.watts(), Unit::Watt),
        decimal::fixed(AIR_RISE_KELVIN, 0),
        decimal::significant(3600.0 * power.air_flow(), 2),
    ));
    all
}

/// Names that help and still fit on a line or two.
const LISTED_NETS: usize = 12;

/// How to set the machine up for the worst of one rail; empty where the state makes no difference.
fn rail_in_its_worst_state(
    verdict: &Verdict,
    power: &Power,
    rail: &Rail,
    of_rail: &RailPower,
) -> Vec<String> {
    let name = &rail.name;
    let set_up = |state: &RailState| {
        let names = state
            .up
            .iter()
            .map(|&net| verdict.plan.nets[net].name.as_str());
        let listed: Vec<&str> = names.take(LISTED_NETS).collect();
        let more = state.up.len() - listed.len();
        let up = match (listed.is_empty(), more) {
            (true, _) => "nothing".to_owned(),
            (false, 0) => listed.join(", "),
            (false, more) => format!("{} and {more} more", listed.join(", ")),
        };
        let near = match state.nearby + state.without_row {
            0 => String::new(),
            near => format!(
                " ({} solved with a neighbour in another value)",
                counted(near, "unit")
            ),
        };
        format!(
            "with {up} up and the rest of {} down{near}",
            counted(power.states.settable.len(), "net")
        )
    };
    let mut all = Vec::new();
    if let Some(state) = &of_rail.worst
        && of_rail.least_amps != Some(of_rail.most_amps)
    {
        let [least, most] = [state.amps, of_rail.most_amps].map(|amps| shown(amps, Unit::Ampere));
        let set_up = set_up(state);
        all.push(if least == most {
            format!("{name} must give {most} {set_up}, and never more.")
        } else {
            format!("{name} must give at least {least} {set_up}, and at most {most}.")
        });
    }
    if let Some(state) = &of_rail.backwards {
        all.push(format!(
            "{name} is fed backwards with {} {}: its supply must be able to take that.",
            shown(-state.amps, Unit::Ampere),
            set_up(state)
        ));
    } else if of_rail.least_amps.is_some_and(|least| least < 0.0) {
        all.push(format!(
            "{name} might be fed backwards, but no such state was found."
        ));
    }
    if 0 < of_rail.missing {
        all.push(format!(
            "{name}: the current of {} of its units and strings is not known and not in the sums.",
            of_rail.missing
        ));
    }
    all
}
