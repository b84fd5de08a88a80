//! What the rails must give.

use crate::finding::{Amount, Finding};
use crate::heaters::HeaterResult;
use crate::judge::MemberResult;
use crate::plan::Plan;
use crate::verdict::Verdict;
use design::model::Terminal;
use text::quantity::{Unit, show};

/// Largest magnitude of each rail's current, A, in the order of the design: every unit in its worst row together, with
/// its bleeder and the heater strings that begin or end on it.
#[must_use]
pub fn amps(plan: &Plan, results: &[MemberResult], heaters: &HeaterResult) -> Vec<f64> {
    let design = plan.design;
    let mut amps: Vec<f64> = design
        .rails
        .iter()
        .map(|rail| {
            let worst = |result: &MemberResult| {
                let rows = result.rows.iter().filter(|row| row.counts());
                rows.map(|row| row.rail_amps.get(&rail.net.0).copied().unwrap_or(0.0).abs())
                    .fold(0.0, f64::max)
            };
            let bleeder = rail
                .bleeder_ohms
                .map_or(0.0, |ohms| rail.volts.abs() / ohms);
            results.iter().map(worst).sum::<f64>() + bleeder
        })
        .collect();
    for (string, reading) in design.strings.iter().zip(&heaters.strings) {
        for terminal in [string.from, string.to] {
            if let Terminal::Net(net) = terminal
                && let Some(rail) = design.rails.iter().position(|rail| rail.net == net)
            {
                amps[rail] += reading.amps.abs();
            }
        }
    }
    amps
}

/// Rails whose limit is exceeded.
#[must_use]
pub fn findings(verdict: &Verdict) -> Vec<Finding> {
    let rails = verdict.plan.design.rails.iter().zip(&verdict.rail_amps);
    rails
        .filter_map(|(rail, &amps)| {
            let limit = rail.limit_amps.filter(|&limit| limit < amps)?;
            let cause = format!(
                "With every unit at its worst together the rail {} must carry {}, and its limit is {}.",
                rail.name,
                show(amps, Unit::Ampere, 3),
                show(limit, Unit::Ampere, 3)
            );
            Some(
                Finding::fault("rail-overloaded", rail.span, format!("rail {}", rail.name), cause)
                    .numbers(Amount::new("current of the rail", amps, Unit::Ampere), Amount::new("its limit", limit, Unit::Ampere))
                    .attempt("Use a larger supply, or share the units and strings out over two."),
            )
        })
        .collect()
}
