//! Results as one self-contained page each: pictures, tables and the text they come from.

mod boards;
mod circuit;
mod drives;
mod ladder;
mod load_line;
mod marginal;
mod margins;
mod safety;
mod sheet;
mod supplies;
mod switch_on;
mod verdict;
mod yields;

pub use marginal::marginal_page;
pub use safety::safety_page;
pub use sheet::type_sheet_page;

use crate::draw::Picture;
use crate::margins::WorstCases;
use crate::page::{Block, Figure, HALF_WIDTH, PHONE_WIDTH, PRINT_WIDTH, Page, Section};
use crate::table::Table;
use crate::tables::{self, CircuitLoads, worded};
use crate::words::Wording;
use crate::yields::Drawn;
use network::margins::marginal::MarginalCheck;
use network::parts::PartsList;
use network::verdict::Verdict;
use text::source::SourceMap;

/// Which program wrote a page, and when.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Edition {
    /// Version of the program.
    pub version: String,
    /// Date, as it is to stand at the foot.
    pub date: String,
}

impl Edition {
    fn line(&self) -> String {
        format!("valvewright {}, {}", self.version, self.date)
    }
}

/// What the report shows besides the verdict.
#[derive(Debug, Clone, Copy, Default)]
pub struct Besides<'a> {
    /// What every circuit can carry; left out where empty.
    pub loads: &'a [CircuitLoads],
    /// What is left to spare in the worst case.
    pub worst: Option<WorstCases<'a>>,
    /// How many of a hundred units work.
    pub drawn: Option<&'a Drawn<'a>>,
    /// How far each rail can be moved.
    pub marginal: Option<&'a MarginalCheck>,
    /// What to buy.
    pub parts: Option<&'a PartsList>,
}

/// The report on a design: verdict and findings, the chain's levels, who drives whom, what is left in the worst case, how
/// many units work, how far each rail can be moved, what every circuit can carry, every circuit, stored states, heaters and
/// rails, what to buy.
#[must_use]
pub fn design_page(
    verdict: &Verdict,
    besides: Besides,
    sources: &SourceMap,
    edition: &Edition,
    wording: Wording,
) -> String {
    let design = verdict.plan.design;
    let mut sections = vec![verdict::section(
        verdict,
        besides.worst.as_ref(),
        sources,
        wording,
    )];
    if !verdict.connections.is_empty() {
        sections.push(drives::section(verdict, wording));
        sections.push(ladder::section(verdict, wording));
    }
    if let Some(worst) = &besides.worst
        && !(verdict.connections.is_empty() && worst.alone.is_empty())
    {
        sections.push(margins::section(verdict, worst, sources, wording));
    }
    if let Some(drawn) = besides.drawn {
        sections.push(yields::section(verdict, drawn, wording));
    }
    if let Some(check) = besides
        .marginal
        .filter(|check| !check.stands || !check.moved.is_empty())
    {
        sections.push(marginal::section(verdict, check, wording));
    }
    if !besides.loads.is_empty() {
        sections.push(Section {
            heading: "Loads, inputs and rough delays".to_owned(),
            blocks: vec![block_table(tables::loads(design, besides.loads), wording)],
        });
    }
    for circuit in 0..design.circuits.len() {
        sections.push(circuit::section(verdict, circuit, sources, wording));
    }
    if !verdict.rings.is_empty() {
        sections.push(stored(verdict, wording));
    }
    if !design.strings.is_empty() || !design.rails.is_empty() {
        sections.push(supplies::section(verdict, wording));
        sections.push(switch_on::section(verdict, wording));
    }
    if let Some(list) = besides.parts.filter(|list| !list.lines.is_empty()) {
        sections.push(to_buy(list, wording));
    }
    if !design.boards.is_empty() {
        sections.push(boards::section(verdict, wording));
    }
    let title = if design.name.is_empty() {
        "Levels and verdict".to_owned()
    } else {
        format!("{}: levels and verdict", design.name)
    };
    let page = Page {
        one_sheet: false,
        title,
        lead: wording.apply(&crate::sentence::machine(verdict)),
        sections,
        edition: vec![
            edition.line(),
            "Book values and nominal rails unless stated otherwise; what was not checked stands in section 1.".to_owned(),
        ],
    };
    page.to_html()
}

fn stored(verdict: &Verdict, wording: Wording) -> Section {
    let mut blocks = vec![block_table(
        tables::states(&verdict.plan, &verdict.rings),
        wording,
    )];
    for scan in verdict.rings.iter().flat_map(|ring| &ring.scans) {
        let text = crate::sentence::scanned(scan);
        blocks.push(Block::Paragraph(text));
    }
    Section {
        heading: "What stores".to_owned(),
        blocks,
    }
}

fn to_buy(list: &PartsList, wording: Wording) -> Section {
    let said = crate::sentence::about_parts(list).into_iter();
    let said = said.map(|said| Block::Paragraph(wording.apply(&said)));
    Section {
        heading: "Parts".to_owned(),
        blocks: std::iter::once(block_table(tables::parts(list), wording))
            .chain(said)
            .collect(),
    }
}

/// A table in the reader's words.
fn block_table(table: Table, wording: Wording) -> Block {
    Block::Table(worded(table, wording))
}

/// A picture drawn once for print and once for a phone.
fn figure(caption: String, description: String, draw: impl Fn(f64) -> Vec<Picture>) -> Block {
    Block::Figure(Figure {
        caption,
        description,
        wide: draw(PRINT_WIDTH),
        narrow: draw(PHONE_WIDTH),
    })
}

/// A chart of half the page's width: two stand side by side in print, and a phone shows it as it is.
fn half_figure(caption: String, description: String, draw: impl Fn(f64) -> Picture) -> Block {
    Block::Figure(Figure {
        caption,
        description,
        wide: vec![draw(HALF_WIDTH)],
        narrow: Vec::new(),
    })
}
