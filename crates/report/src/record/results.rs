//! Records of the verdict, of what drives what, heaters, readings, wiring, loads and changes.

use super::planned::feeder_list;
use super::{place, record};
use crate::sentence;
use crate::tables::{self, CircuitLoads, point};
use design::model::{Design, SocketId, UnitId};
use design::wiring::Wire;
use network::bench::{OnPin, PinReading};
use network::change::Change;
use network::connections::Connection;
use network::fan::Fan;
use network::feeders::feeders;
use network::finding::{Amount, Finding};
use network::heaters::cathode;
use network::loops::Ring;
use network::parts::{Further, Kind, PartsList, Spares};
use network::plan::{MemberIndex, NetIndex, Plan};
use network::power::{AIR_RISE_KELVIN, power};
use network::rail_states::RailState;
use network::rows::Values;
use network::safety::Store;
use network::stability::Stability;
use network::verdict::Verdict;
use serde_json::{Map, Value, json};
use text::quantity::Unit;
use text::source::SourceMap;

/// The whole verdict; the rows of single units are in [`super::levels`].
#[must_use]
pub fn verdict(verdict: &Verdict, sources: &SourceMap) -> Value {
    let design = verdict.plan.design;
    let rails = design.rails.iter().zip(&verdict.rail_amps).map(|(rail, amps)| {
        json!({ "name": rail.name, "volts": rail.volts, "tolerance": rail.tolerance, "amps": amps.largest(), "limit_amps": rail.limit_amps })
    });
    let extrapolations = verdict.extrapolations.iter().map(|one| {
        json!({ "type": one.device, "place": one.place, "plate_volts": one.plate_volts, "points_from_volts": one.fitted_from })
    });
    let fields = json!({
        "machine": design.name,
        "passes": verdict.passes(),
        "levels_settled": verdict.place.settled && verdict.alone.settled,
        "outcome": sentence::outcome(verdict),
        "findings": finding_list(&verdict.findings, sources),
        "rails": rails.collect::<Vec<_>>(),
        "nets": nets(verdict),
        "connections": connection_list(verdict, None),
        "rings": verdict.rings.iter().map(|ring| ring_record(&verdict.plan, ring)).collect::<Vec<_>>(),
        "rings_not_opened": verdict.large_rings,
        "blocks_proven": proofs(verdict),
        "heaters": heater_list(verdict),
        "extrapolations": extrapolations.collect::<Vec<_>>(),
        "checked": verdict.checked,
        "not_checked": verdict.not_checked,
        "caution": sentence::caution(verdict),
        "limits": {
            "residual_share": verdict.limits.residual_share,
            "thin_share": verdict.limits.thin_share,
            "touch_volts": verdict.limits.touch_volts,
        },
    });
    record("verdict", fields)
}

/// What stores.
#[must_use]
pub fn states(verdict: &Verdict) -> Value {
    let rings = verdict
        .rings
        .iter()
        .map(|ring| ring_record(&verdict.plan, ring));
    record(
        "states",
        json!({ "rings": rings.collect::<Vec<_>>(), "rings_not_opened": verdict.large_rings }),
    )
}

/// Findings only.
#[must_use]
pub fn findings(findings: &[Finding], sources: &SourceMap) -> Value {
    record(
        "findings",
        json!({ "findings": finding_list(findings, sources) }),
    )
}

pub(super) fn finding_list(findings: &[Finding], sources: &SourceMap) -> Vec<Value> {
    let one = |finding: &Finding| {
        json!({
            "name": finding.name,
            "severity": sentence::severity(finding.severity),
            "subject": finding.subject,
            "place": place(sources, finding.span),
            "has": finding.has.as_ref().map(amount),
            "needs": finding.needs.as_ref().map(amount),
            "cause": finding.cause,
            "tries": finding.tries,
            "consequences": finding_list(&finding.consequences, sources),
        })
    };
    findings.iter().map(one).collect()
}

/// What it is and its value, in a field named after its unit.
pub(super) fn amount(amount: &Amount) -> Value {
    let field = match amount.unit {
        Unit::Volt => "volts",
        Unit::Ampere => "amps",
        Unit::Ohm => "ohms",
        Unit::Farad => "farads",
        Unit::Henry => "henries",
        Unit::Watt => "watts",
        Unit::Second => "seconds",
        Unit::Hertz => "hertz",
        Unit::Metre => "metres",
        Unit::AmperePerVolt => "siemens",
        Unit::Joule => "joules",
        Unit::Celsius => "celsius",
        Unit::Percent | Unit::None => "number",
    };
    json!({ "what": amount.what, field: amount.value })
}

fn nets(verdict: &Verdict) -> Vec<Value> {
    let nets = verdict.place.levels.iter();
    nets.map(|(&net, level)| json!({ "net": verdict.plan.nets[net].name, "down_volts": level.down, "up_volts": level.up })).collect()
}

fn proofs(verdict: &Verdict) -> Vec<Value> {
    let design = verdict.plan.design;
    let one = |proof: &network::proof::Proof| {
        let placed = &design.placed_blocks[proof.placed];
        json!({
            "block": design.blocks[placed.block.0].name,
            "placed": placed.name,
            "cases": proof.cases,
            "failures": proof.failures.len(),
        })
    };
    verdict.proofs.iter().map(one).collect()
}

fn ring_record(plan: &Plan, ring: &Ring) -> Value {
    let names = |members: &[MemberIndex]| {
        members
            .iter()
            .map(|&member| plan.members[member].name.clone())
            .collect::<Vec<_>>()
    };
    let rows = ring.rows.iter().map(|row| {
        let states = row.states.iter().map(|state| {
            let volts: Map<String, Value> = state
                .volts
                .iter()
                .map(|(&net, volts)| (plan.nets[net].name.clone(), json!(volts)))
                .collect();
            json!({
                "values": values(plan, &state.values),
                "volts": volts,
                "settled": state.outcome.settled(),
                "kept": state.kept,
                "rests": stability(state.stability),
                "lasts": state.lasts(),
            })
        });
        json!({ "fed_with": values(plan, &row.inputs), "states": states.collect::<Vec<_>>() })
    });
    let scans = ring.scans.iter().map(|scan| {
        json!({
            "net": scan.net,
            "from_volts": scan.range.0,
            "to_volts": scan.range.1,
            "tried": scan.tried,
            "not_settled": scan.not_settled,
            "solutions": scan.solutions.len(),
        })
    });
    json!({
        "units": names(&ring.members),
        "alike": ring.alike.iter().map(|members| names(members)).collect::<Vec<_>>(),
        "rows": rows.collect::<Vec<_>>(),
        "scans": scans.collect::<Vec<_>>(),
        "points_of_rest_outside_the_sentences": ring.extra.len(),
    })
}

/// True or false where the stability is known.
pub(super) fn stability(stability: Stability) -> Option<bool> {
    match stability {
        Stability::Stable(_) => Some(true),
        Stability::Unstable(_) => Some(false),
        Stability::NotKnown => None,
    }
}

/// Nets with `true` for up.
pub(super) fn values(plan: &Plan, values: &Values) -> Map<String, Value> {
    values
        .iter()
        .map(|(&net, &up)| (plan.nets[net].name.clone(), json!(up)))
        .collect()
}

/// Who drives whom; only what a unit drives or is driven by when one is named.
#[must_use]
pub fn connections(verdict: &Verdict, unit: Option<UnitId>) -> Value {
    record(
        "connections",
        json!({ "connections": connection_list(verdict, unit.map(|unit| unit.0)) }),
    )
}

pub(super) fn connection_list(verdict: &Verdict, member: Option<MemberIndex>) -> Vec<Value> {
    let plan = &verdict.plan;
    let touches = |connection: &&Connection| {
        member.is_none_or(|member| {
            connection.load.0 == member
                || connection.driver.is_some_and(|driver| driver.0 == member)
        })
    };
    let pin = |(member, signal): (MemberIndex, usize)| json!({ "unit": plan.members[member].name, "signal": plan.circuit(member).interface.signals[signal] });
    let one = |connection: &Connection| {
        json!({
            "net": plan.nets[connection.net].name,
            "driver": connection.driver.map(pin),
            "load": pin(connection.load),
            "down_volts": connection.level.down,
            "needs_below_volts": connection.thresholds.map(|thresholds| thresholds.low),
            "spare_down_volts": connection.spare_down(),
            "up_volts": connection.level.up,
            "needs_above_volts": connection.thresholds.map(|thresholds| thresholds.high),
            "spare_up_volts": connection.spare_up(),
            "thresholds_passed_on": connection.thresholds.map(|thresholds| thresholds.passed_on),
            "thin_below_volts": tables::thin_below(verdict, connection),
        })
    };
    verdict
        .connections
        .iter()
        .filter(touches)
        .map(one)
        .collect()
}

/// Heater strings, every heater, and the findings on them.
#[must_use]
pub fn heaters(verdict: &Verdict, sources: &SourceMap) -> Value {
    let strings = verdict
        .plan
        .design
        .strings
        .iter()
        .zip(&verdict.heaters.strings);
    let strings: Vec<Value> = strings
        .map(|(string, reading)| {
            json!({
                "name": string.name,
                "amps": reading.amps.map(f64::abs),
                "cold_amps": reading.cold_amps.map(Vec::from),
            })
        })
        .collect();
    let fields = json!({
        "strings": strings,
        "heaters": heater_list(verdict),
        "feeders": feeder_list(verdict.plan.design, &feeders(verdict)),
        "findings": finding_list(&verdict.heaters.findings, sources),
    });
    record("heaters", fields)
}

fn heater_list(verdict: &Verdict) -> Vec<Value> {
    let design = verdict.plan.design;
    let one = |reading: &network::heaters::HeaterReading| {
        let socket = &design.sockets[reading.socket.0];
        let apart = cathode::apart(&verdict.plan, reading, &verdict.place.results);
        json!({
            "string": design.strings[reading.string].name,
            "tube": socket.mark,
            "type": socket.device.name,
            "first_volts": reading.first_volts,
            "second_volts": reading.second_volts,
            "amps": reading.amps,
            "rated_volts": reading.rated_volts,
            "rated_amps": reading.rated_amps,
            "share_of_rated_volts": reading.share(),
            "above_cathode_volts": apart.map(|pair| pair.0),
            "below_cathode_volts": apart.map(|pair| pair.1),
            "alternates": reading.alternates,
            "stands_on_volts": reading.stands_on_volts,
            "may_meet": reading.reach.map(|reach| json!({
                "supply_volts": [reach.supply.0, reach.supply.1],
                "spread_volts": [reach.spread.0, reach.spread.1],
                "warming_up_volts": reach.passing.map(|passing| passing.0),
                "warming_up_seconds": reach.passing.map(|passing| passing.1),
                "warming_up_quick_volts": reach.passing_at_worst,
            })),
        })
    };
    verdict.heaters.readings.iter().map(one).collect()
}

/// What every rail must give, and where the heat goes.
#[must_use]
pub fn rail_power(verdict: &Verdict) -> Value {
    let design = verdict.plan.design;
    let power = power(verdict);
    let nets = |nets: &[NetIndex]| -> Vec<&str> {
        nets.iter()
            .map(|&net| verdict.plan.nets[net].name.as_str())
            .collect()
    };
    let state = |state: &RailState| {
        json!({
            "amps": state.amps,
            "up": nets(&state.up),
            "nearby_units": state.nearby,
            "units_without_row": state.without_row,
        })
    };
    let tubes = power.tubes.iter().map(|tube| {
        let socket = &design.sockets[tube.socket.0];
        json!({
            "tube": socket.mark,
            "type": socket.device.name,
            "plate_watts": tube.plate_watts,
            "grid_watts": tube.grid_watts,
            "heater_watts": tube.heater_watts,
            "share_of_plate_rating": tube.plate_share,
        })
    });
    let rails: Vec<Value> = design
        .rails
        .iter()
        .zip(&power.rails)
        .map(|(rail, power)| {
            json!({
                "rail": rail.name,
                "volts": rail.volts,
                "least_amps": power.least_amps,
                "most_amps": power.most_amps,
                "worst_amps": power.worst_amps(),
                "worst": power.worst.as_ref().map(state),
                "backwards": power.backwards.as_ref().map(state),
                "strings_cold_amps": power.cold_amps,
                "limit_amps": rail.limit_amps,
                "most_watts": power.watts,
                "fuse_amps": power.fuse.amps(),
                "fuse_above_limit_amps": power.fuse.above_limit_amps(),
                "fuse_time_lag": power.wants_time_lag(),
                "fuse_may_not_blow": power.may_not_blow(rail.limit_amps),
                "not_known": power.missing,
            })
        })
        .collect();
    let heat: Vec<Value> = power
        .heat
        .iter()
        .map(|heat| {
            json!({
                "board": heat.board.map(|board| &design.boards[board].name),
                "tubes": heat.tubes,
                "heater_watts": heat.heater_watts,
                "circuit_watts": heat.circuit_watts,
            })
        })
        .collect();
    let fields = json!({
        "rails": rails,
        "settable": nets(&power.states.settable),
        "settable_inputs": power.states.inputs,
        "every_state": power.states.every_state,
        "tubes": tubes.collect::<Vec<_>>(),
        "heat": heat,
        "string_resistor_watts": power.string_resistor_watts,
        "bleeder_watts": power.bleeder_watts,
        "watts": power.watts(),
        "heat_not_known": power.missing,
        "air_rise_kelvin": AIR_RISE_KELVIN,
        "air_flow_cubic_metres_per_second": power.air_flow(),
    });
    record("power", fields)
}

/// What to buy.
#[must_use]
pub fn parts(list: &PartsList) -> Value {
    let buying = &list.buying;
    let spares = |spares: &Spares| json!({ "share": spares.share, "least": spares.least });
    let sizes = buying.resistors.sizes.iter();
    let sizes = sizes.map(|size| json!({ "watts": size.watts, "volts": size.volts }));
    let lines = list.lines.iter().map(|line| {
        let of = |kinds: &[Kind], value: Option<f64>| value.filter(|_| kinds.contains(&line.kind));
        let resistors = [Kind::Resistor, Kind::Trimmer];
        let hot = line.further.and_then(|further| match further {
            Further::Hot { ohms, amps } => Some((ohms, amps)),
            Further::Holds { .. } => None,
        });
        let holds = line.further.and_then(|further| match further {
            Further::Holds {
                from_volts,
                to_volts,
            } => Some((from_volts, to_volts)),
            Further::Hot { .. } => None,
        });
        let places = line.places.iter();
        let places = places.map(|(place, count)| json!({ "place": place, "count": count }));
        json!({
            "kind": sentence::part_kind(line.kind),
            "name": line.name,
            "ohms": of(&[Kind::Resistor, Kind::Trimmer, Kind::Thermistor], line.value),
            "amps": of(&[Kind::Ballast], line.value),
            "farads": of(&[Kind::Capacitor], line.value),
            "henries": of(&[Kind::Inductor], line.value),
            "tolerance": line.tolerance,
            "hot_ohms": hot.map(|hot| hot.0),
            "hot_amps": hot.map(|hot| hot.1),
            "from_volts": holds.map(|holds| holds.0),
            "to_volts": holds.map(|holds| holds.1),
            "worst_watts": of(&resistors, line.worst),
            "worst_volts": of(&resistors, line.worst_volts).or(of(&[Kind::Capacitor], line.worst)),
            "rated_watts": of(&resistors, line.rating),
            "rated_volts": of(&[Kind::Capacitor], line.rating),
            "stated": line.stated,
            "too_small": line.too_small,
            "headroom": line.headroom(),
            "little_headroom": line.little,
            "needed": line.needed,
            "spares": line.spares,
            "order": line.order(),
            "places": places.collect::<Vec<_>>(),
        })
    });
    let fields = json!({
        "parts": lines.collect::<Vec<_>>(),
        "resistor_factor": buying.resistors.factor,
        "capacitor_factor": buying.capacitor_factor,
        "resistor_sizes": sizes.collect::<Vec<_>>(),
        "capacitor_volts": buying.capacitor_volts,
        "spare_tubes": spares(&buying.tubes),
        "spare_others": spares(&buying.others),
    });
    record("parts", fields)
}

/// What can hurt.
#[must_use]
pub fn safety(design: &Design, touch_volts: f64) -> Value {
    let safety = network::safety::safety(design, touch_volts);
    let spans: Vec<Value> = safety
        .spans
        .iter()
        .map(|span| {
            json!({
                "between": span.between,
                "volts": span.volts,
                "alternates": span.alternates,
                "limit_volts": span.limit_volts,
                "seconds_to_limit": span.seconds,
            })
        })
        .collect();
    let stores: Vec<Value> = safety
        .stores
        .iter()
        .map(|rail| {
            let bleeder = rail.store.zip(rail.bleeder_ohms);
            json!({
                "rail": design.rails[rail.rail].name,
                "farads": rail.store.map(|store| store.farads),
                "volts": rail.store.map(|store| store.volts),
                "joules": rail.store.map(Store::joules),
                "coulombs": rail.store.map(Store::coulombs),
                "bleeder_ohms": rail.bleeder_ohms,
                "dead_below_volts": rail.store.map(|store| store.dead_volts(touch_volts)),
                "seconds_to_dead": rail.seconds,
                "bleeder_watts": bleeder.map(|(store, ohms)| store.watts_in(ohms)),
                "wanted_bleeder_ohms": rail.wanted_ohms,
            })
        })
        .collect();
    let fields = json!({
        "touch_volts": touch_volts,
        "spans": spans,
        "stores": stores,
        "raised_strings": safety.raised,
        "coils": safety.coils,
        "to_do": sentence::before_a_hand_goes_in(design, &safety, touch_volts),
        "measures": sentence::MEASURES,
    });
    record("safety", fields)
}

/// What a meter reads on every pin of a socket.
#[must_use]
pub fn readings(design: &Design, socket: SocketId, pins: &[PinReading], meter_ohms: f64) -> Value {
    let tube = design.sockets.get(socket.0);
    let fields = json!({
        "tube": tube.map(|tube| &tube.mark),
        "type": tube.map(|tube| &tube.device.name),
        "meter_ohms": meter_ohms,
        "pins": pins.iter().map(|reading| pin_reading(design, reading)).collect::<Vec<_>>(),
    });
    record("readings", fields)
}

fn pin_reading(design: &Design, reading: &PinReading) -> Value {
    let on = match &reading.on {
        OnPin::Heater(end) => json!({
            "kind": "heater",
            "volts": end.map(|end| end.volts),
            "alternates": end.map(|end| end.alternates),
            "stands_on_volts": end.map(|end| end.stands_on_volts),
        }),
        OnPin::Spare => json!({ "kind": "unused half" }),
        OnPin::Free => json!({ "kind": "nothing" }),
        OnPin::Node { unit, node, rows } => {
            let circuit = design.circuit_of(*unit);
            let rows = rows.iter().map(|row| {
                json!({ "inputs": row.inputs, "outputs": row.outputs, "volts": row.volts, "meter_volts": row.meter_volts })
            });
            json!({
                "kind": "node",
                "unit": design.units[unit.0].name,
                "node": circuit.nodes[*node].name,
                "signals": circuit.interface.signals,
                "rows": rows.collect::<Vec<_>>(),
            })
        }
    };
    let pin = (reading.pin.number != network::bench::NO_NUMBER).then_some(reading.pin.number);
    json!({ "pin": pin, "electrode": tables::electrode(&reading.pin), "on": on })
}

/// The pin-to-pin wiring list.
#[must_use]
pub fn wiring(design: &Design, board: Option<usize>, wires: &[Wire]) -> Value {
    let wires = wires.iter().map(|wire| json!({ "net": wire.net, "points": wire.points.iter().map(point).collect::<Vec<_>>() }));
    let board = board
        .and_then(|board| design.boards.get(board))
        .map(|board| &board.name);
    record(
        "wiring",
        json!({ "board": board, "wires": wires.collect::<Vec<_>>() }),
    )
}

/// Fan-out, fan-in and rough delay of circuits.
#[must_use]
pub fn loads(design: &Design, circuits: &[CircuitLoads]) -> Value {
    let circuits = circuits.iter().map(|loads| {
        json!({
            "circuit": design.circuits.get(loads.circuit.0).map(|circuit| &circuit.name),
            "fan_out": fan(&loads.fan_out),
            "fan_in": fan(&loads.fan_in),
            "rough_delay": loads.delay.map(|delay| json!({
                "rising_seconds": delay.rising,
                "falling_seconds": delay.falling,
                "timed_at_volts": delay.timed_at,
            })),
        })
    });
    record("loads", json!({ "circuits": circuits.collect::<Vec<_>>() }))
}

fn fan(fan: &Fan) -> Value {
    let rows = fan.rows.iter().map(|row| {
        json!({
            "count": row.count,
            "down_volts": row.down,
            "up_volts": row.up,
            "spare_down_volts": row.spare_down,
            "spare_up_volts": row.spare_up,
            "works": row.works(),
        })
    });
    json!({ "last_that_works": fan.last_that_works(), "not_tried_further": fan.open_ended(), "rows": rows.collect::<Vec<_>>() })
}

/// What one change does; `what` names it.
#[must_use]
pub fn change(change: &Change, what: &str, sources: &SourceMap) -> Value {
    let mut fields = change_fields(change, sources);
    fields["change"] = json!(what);
    record("change", fields)
}

/// The nets and findings of a change.
pub(super) fn change_fields(change: &Change, sources: &SourceMap) -> Value {
    let nets = change.nets.iter().map(|net| {
        json!({
            "net": net.net,
            "before": { "down_volts": net.down.0, "up_volts": net.up.0, "spare_down_volts": net.spare_down.0, "spare_up_volts": net.spare_up.0 },
            "after": { "down_volts": net.down.1, "up_volts": net.up.1, "spare_down_volts": net.spare_down.1, "spare_up_volts": net.spare_up.1 },
        })
    });
    json!({
        "nets": nets.collect::<Vec<_>>(),
        "gone": finding_list(&change.gone, sources),
        "new": finding_list(&change.new, sources),
        "findings_before": change.counts.0,
        "findings_after": change.counts.1,
    })
}

/// What a finding's name means.
#[must_use]
pub fn explain(name: &str, summary: &str, text: &str) -> Value {
    record(
        "explain",
        json!({ "name": name, "summary": summary, "text": text }),
    )
}
