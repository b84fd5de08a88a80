//! Margins in the worst case, and what takes from the smallest.

use super::verdict::finding_blocks;
use super::{block_table, figure};
use crate::chart::Axis;
use crate::chart::bars::{Amount, Remainder, amounts, remainders, written};
use crate::margins::{Standing, Taken, Whose, WorstCases, by_driver, taken};
use crate::page::{Block, Section};
use crate::words::Wording;
use crate::{sentence, tables};
use network::verdict::Verdict;
use text::source::SourceMap;

/// Drivers and parts drawn at most, those that matter most; all are in the tables.
const MOST_BARS: usize = 32;

pub(super) fn section(
    verdict: &Verdict,
    worst: &WorstCases,
    sources: &SourceMap,
    wording: Wording,
) -> Section {
    let margins = worst.margins;
    let standings = by_driver(verdict, margins, Whose::All);
    let paragraph = |text: &str| Block::Paragraph(wording.apply(text));
    let mut blocks: Vec<Block> = sentence::not_settled(&verdict.plan, margins)
        .iter()
        .map(|said| paragraph(said))
        .collect();
    for finding in worst.findings(verdict, Whose::All) {
        blocks.extend(finding_blocks(&finding, sources, wording));
    }
    let of_parts = tables::worst_duties(verdict, margins, Whose::All);
    let free = tables::free_outputs(verdict, margins, Whose::All);
    if let Some(smallest) = standings.first() {
        blocks.push(by_units(verdict, &standings, wording));
        let [all, cases] = tables::margins(verdict, margins, Whose::All);
        blocks.push(block_table(all, wording));
        blocks.push(Block::Subheading(format!(
            "The smallest: {}",
            sentence::side_name(&verdict.plan, smallest)
        )));
        blocks.push(paragraph(&sentence::what_mends(
            &verdict.plan,
            verdict.limits.thin_share,
            smallest,
            &sentence::side_name(&verdict.plan, smallest),
        )));
        let anew = sentence::solved_anew(&verdict.plan, worst.mended[0], smallest);
        blocks.extend(anew.iter().map(|said| paragraph(said)));
        let taken = taken(&verdict.plan, margins, smallest);
        if !taken.is_empty() {
            blocks.push(by_setting(&taken, wording));
        }
        let sensitivities = tables::sensitivities(&verdict.plan, margins, smallest);
        blocks.push(block_table(sensitivities, wording));
        blocks.push(block_table(cases, wording));
    } else if worst.alone.is_empty() && of_parts.is_none() && free.is_none() {
        blocks.push(paragraph(sentence::NO_MARGIN));
    }
    for table in of_parts.into_iter().chain(free).flatten() {
        blocks.push(block_table(table, wording));
    }
    if !worst.alone.is_empty() {
        blocks.push(Block::Subheading("Circuits alone".to_owned()));
        for case in worst.alone {
            let said = sentence::not_settled_alone(case);
            blocks.extend(said.iter().map(|said| paragraph(said)));
        }
        if let (_, Some(case)) = worst.smallest(verdict, Whose::All)
            && let Some(smallest) = case.margins.connections.first()
        {
            let standing = Standing::smallest(smallest);
            let subject = format!("{} alone", case.plan.members[0].name);
            let share = verdict.limits.thin_share;
            let mends = sentence::what_mends(&case.plan, share, &standing, &subject);
            let anew = sentence::solved_anew(&verdict.plan, worst.mended[1], &standing);
            blocks.extend([mends].iter().chain(&anew).map(|said| paragraph(said)));
            let taken = taken(&case.plan, &case.margins, &standing);
            if !taken.is_empty() {
                blocks.push(by_setting(&taken, wording));
            }
        }
        let driving = !worst.driving_alone().is_empty();
        let driving = driving.then(|| tables::alone(worst, standings.is_empty()));
        let tables = [
            driving,
            tables::duties_alone(worst),
            tables::free_alone(worst),
        ];
        let tables = tables.into_iter().flatten().flatten();
        blocks.extend(tables.map(|table| block_table(table, wording)));
    }
    blocks.push(block_table(tables::varied(verdict, worst, None), wording));
    let said = sentence::about_margins(verdict, worst);
    blocks.extend(said.iter().map(|said| paragraph(said)));
    Section {
        heading: "Margins".to_owned(),
        blocks,
    }
}

/// The smallest margin of every driver.
fn by_units(verdict: &Verdict, standings: &[Standing], wording: Wording) -> Block {
    let all: Vec<Remainder> = standings
        .iter()
        .take(MOST_BARS)
        .map(|standing| {
            let connection = standing.connection;
            let driver = match connection.driver {
                Some((member, _)) => verdict.plan.members[member].name.clone(),
                None => format!("switch of {}", verdict.plan.nets[connection.net].name),
            };
            let alike = match standing.alike {
                0 => String::new(),
                alike => format!(" and {alike} alike"),
            };
            let side = standing.side();
            Remainder {
                name: format!("{driver}{alike}, {}", tables::up_or_down(standing.up)),
                at_first: side.book_volts,
                left: side.volts,
                little: standing.connection.thin_below,
            }
        })
        .collect();
    let unseen = match standings.len().saturating_sub(MOST_BARS) {
        0 => String::new(),
        more => format!(" {more} more are in the table."),
    };
    let caption = format!(
        "Volts to spare, the smallest of every driver: the bar in the worst case (hatched: short), the ring and the figure in brackets by the book, the dotted stroke at {} of the swing.{unseen}",
        sentence::percent(verdict.limits.thin_share)
    );
    let description = "A bar for every driver from zero to what is left to spare in the worst case, and a ring at what there is to spare by the book.";
    figure(
        wording.apply(&caption),
        wording.apply(description),
        |width| vec![remainders(&Axis::linear("to spare", "V"), &all, width)],
    )
}

/// What every setting and every rail takes from the smallest margin: first for each per cent, then what has none.
fn by_setting(all: &[Taken], wording: Wording) -> Block {
    let shown = &all[..all.len().min(MOST_BARS)];
    let of = |shares: bool| -> Vec<Amount> {
        let shown = shown.iter().filter(|one| one.per_cent.is_some() == shares);
        shown
            .map(|one| {
                let in_all = written(one.volts, "V");
                Amount {
                    name: wording.apply(&format!("{} {}", one.part, one.stands)),
                    value: one.per_cent.unwrap_or(one.volts),
                    beside: match one.per_cent {
                        Some(volts) => format!("{} per %, {in_all} in all", written(volts, "V")),
                        None => format!("{in_all} in all"),
                    },
                }
            })
            .collect()
    };
    let (shares, others) = (of(true), of(false));
    let below = if shares.is_empty() || others.is_empty() {
        ""
    } else {
        " Below those of which no per cent can be said: what each takes in all."
    };
    let unseen = match all.len().saturating_sub(MOST_BARS) {
        0 => String::new(),
        more => format!(" {more} more are in the table."),
    };
    let caption = format!(
        "What takes from it, most for each per cent first: every setting of a part by the per cents of its book value, every rail by those of its volts; beside it what that takes in all where it stands.{below}{unseen}"
    );
    let description =
        "A bar for every setting of a part and for every rail, the one that takes most first.";
    figure(
        wording.apply(&caption),
        wording.apply(description),
        |width| {
            let drawn = [
                ("takes for each per cent", &shares),
                ("takes in all", &others),
            ];
            let drawn = drawn.into_iter().filter(|(_, all)| !all.is_empty());
            drawn
                .map(|(label, all)| amounts(&Axis::linear(label, "V"), all, width))
                .collect()
        },
    )
}
