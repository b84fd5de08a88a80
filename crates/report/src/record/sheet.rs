//! The record of a tube type.

use super::record;
use crate::sheet;
use crate::tables::electrode;
use devices::library::source_title;
use devices::types::{Mark, RatingSystem, Sourced, TubeKind, TubeType};
use serde_json::{Map, Value, json};

/// Data with sources, pins, what the type does at low plate volts, and its points against its law.
#[must_use]
pub fn type_sheet(tube: &TubeType) -> Value {
    let low = sheet::low_volts(tube).into_iter().map(|one| {
        json!({
            "plate_volts": one.plate_volts,
            "amps_at_zero_grid": one.amps,
            "screen_amps_at_zero_grid": one.screen_amps,
            "amps_at_half_volt_grid": one.amps_positive,
            "grid_amps_at_zero_grid": one.grid_amps,
            "grid_amps_at_half_volt_grid": one.grid_amps_positive,
            "cut_off_grid_volts": one.cut_off.map(|cut_off| cut_off.0),
            "cut_off_amps": one.cut_off.map(|cut_off| cut_off.1),
            "plate_ohms_at_zero_grid": one.plate_ohms,
            "mu_at_zero_grid": one.mu,
            "extrapolated": one.extrapolated,
            "beyond_limits": one.beyond_limits,
        })
    });
    let fit = sheet::fit_rows(tube).into_iter().map(|row| {
        json!({
            "plate_volts": row.plate_volts,
            "grid_volts": row.grid_volts,
            "quantity": row.quantity,
            "given": row.given,
            "law": row.law,
            "relative": row.relative(),
            "sample": row.sample,
        })
    });
    let priors: Map<String, Value> = tube
        .from_prior
        .iter()
        .map(|(name, prior)| (name.clone(), json!(prior)))
        .collect();
    let fields = json!({
        "type": tube.name,
        "also": tube.also,
        "kind": kind(tube.kind),
        "sections": tube.sections,
        "common_cathode": tube.common_cathode,
        "base": base(tube),
        "heater": heater(tube),
        "spread": spread(tube),
        "ratings": ratings(tube),
        "capacitances": capacitances(tube),
        "points": points(tube),
        "law": tube.law.map(|_| sheet::parameters(tube)),
        "from_prior": priors,
        "points_plate_volts": tube.validity.map(|validity| [validity.plate_volts.0, validity.plate_volts.1]),
        "points_grid_volts": tube.validity.map(|validity| [validity.grid_volts.0, validity.grid_volts.1]),
        "low_volts": low.collect::<Vec<_>>(),
        "extrapolated_share": tube.law.map(|_| sheet::extrapolated_share(tube)),
        "to_measure": sheet::to_measure(tube),
        "fit": fit.collect::<Vec<_>>(),
        "remarks": tube.remarks,
        "documents": sheet::sources(tube),
        "caution": sheet::CAUTION,
    });
    record("type_sheet", fields)
}

fn kind(kind: TubeKind) -> &'static str {
    match kind {
        TubeKind::Triode => "triode",
        TubeKind::IndicatorTriode => "indicator triode",
        TubeKind::Tetrode => "tetrode",
        TubeKind::Pentode => "pentode",
        TubeKind::Diode => "diode",
    }
}

fn mark(mark: Mark) -> &'static str {
    Mark::WRITTEN
        .iter()
        .find(|(_, known)| *known == mark)
        .map_or("none", |(word, _)| word)
}

/// A value in a field named after its unit, with its mark and document.
fn sourced(value: Option<&Sourced<f64>>, field: &str) -> Value {
    value.map_or(Value::Null, |one| {
        json!({ field: one.value, "mark": mark(one.mark), "source": one.source, "title": source_title(&one.source) })
    })
}

fn base(tube: &TubeType) -> Value {
    let Some(base) = &tube.base else {
        return Value::Null;
    };
    let pins = base
        .pins
        .iter()
        .map(|pin| json!({ "pin": pin.number, "electrode": electrode(pin) }));
    json!({
        "name": base.name,
        "pins": pins.collect::<Vec<_>>(),
        "mark": mark(base.mark),
        "source": base.source,
        "title": source_title(&base.source),
    })
}

fn heater(tube: &TubeType) -> Value {
    let Some(heater) = &tube.heater else {
        return Value::Null;
    };
    json!({
        "volts": sourced(Some(&heater.volts), "volts"),
        "amps": sourced(Some(&heater.amps), "amps"),
        "tapped_volts": heater.tapped.map(|tapped| tapped.0),
        "tapped_amps": heater.tapped.map(|tapped| tapped.1),
        "direct": heater.direct,
        "spread": sourced(heater.spread.as_ref(), "share"),
        "warm_up": sourced(heater.warm_up.as_ref(), "seconds"),
    })
}

fn spread(tube: &TubeType) -> Value {
    let spread = &tube.spread;
    let range = |range: &Option<Sourced<(f64, f64)>>| {
        range.as_ref().map(|one| {
            json!({
                "lowest_share": one.value.0,
                "highest_share": one.value.1,
                "mark": mark(one.mark),
                "source": one.source,
                "title": source_title(&one.source),
            })
        })
    };
    json!({
        "current": range(&spread.current),
        "mu": range(&spread.mu),
        "cut_off": sourced(spread.cut_off.as_ref(), "volts"),
        "halves": sourced(spread.halves.as_ref(), "share"),
        "alike": sourced(spread.alike.as_ref(), "share"),
        "aged": sourced(spread.aged.as_ref(), "share"),
        "reverse_grid_current": sourced(spread.reverse.as_ref(), "amps"),
    })
}

fn ratings(tube: &TubeType) -> Value {
    let ratings = &tube.ratings;
    let system = ratings.system.map(|system| match system {
        RatingSystem::DesignCentre => "design-centre",
        RatingSystem::DesignMaximum => "design-maximum",
        RatingSystem::AbsoluteMaximum => "absolute-maximum",
        RatingSystem::NotStated => "not stated",
    });
    json!({
        "system": system,
        "plate": sourced(ratings.plate_volts.as_ref(), "volts"),
        "cold_plate": sourced(ratings.cold_plate_volts.as_ref(), "volts"),
        "plate_power": sourced(ratings.plate_watts.as_ref(), "watts"),
        "both_plates_power": sourced(ratings.both_plates_watts.as_ref(), "watts"),
        "screen": sourced(ratings.screen_volts.as_ref(), "volts"),
        "screen_power": sourced(ratings.screen_watts.as_ref(), "watts"),
        "cathode_current": sourced(ratings.cathode_amps.as_ref(), "amps"),
        "negative_grid": sourced(ratings.negative_grid_volts.as_ref(), "volts"),
        "grid_resistance_fixed_bias": sourced(ratings.grid_ohms_fixed.as_ref(), "ohms"),
        "grid_resistance_cathode_bias": sourced(ratings.grid_ohms_self.as_ref(), "ohms"),
        "heater_positive_of_cathode": sourced(ratings.heater_positive_volts.as_ref(), "volts"),
        "heater_negative_of_cathode": sourced(ratings.heater_negative_volts.as_ref(), "volts"),
        "reverse": sourced(ratings.reverse_volts.as_ref(), "volts"),
        "peak_current": sourced(ratings.peak_amps.as_ref(), "amps"),
    })
}

fn capacitances(tube: &TubeType) -> Vec<Value> {
    let one = |one: &devices::types::Capacitances| {
        json!({
            "grid_plate": sourced(one.grid_plate.as_ref(), "farads"),
            "grid_cathode": sourced(one.grid_cathode.as_ref(), "farads"),
            "plate_cathode": sourced(one.plate_cathode.as_ref(), "farads"),
        })
    };
    tube.capacitances.iter().map(one).collect()
}

fn points(tube: &TubeType) -> Vec<Value> {
    let one = |point: &devices::types::Point| {
        json!({
            "plate_volts": point.plate_volts,
            "grid_volts": point.grid_volts,
            "screen_volts": point.screen_volts,
            "suppressor_volts": point.suppressor_volts,
            "plate_current": sourced(point.plate_amps.as_ref(), "amps"),
            "grid_current": sourced(point.grid_amps.as_ref(), "amps"),
            "screen_current": sourced(point.screen_amps.as_ref(), "amps"),
            "slope": sourced(point.slope.as_ref(), "siemens"),
            "mu": sourced(point.mu.as_ref(), "number"),
            "plate_resistance": sourced(point.plate_ohms.as_ref(), "ohms"),
            "sample": point.sample,
        })
    };
    tube.points.iter().map(one).collect()
}
