//! One self-contained HTML page: no script, nothing fetched, readable on a phone and right in print.

use crate::draw::Picture;
use crate::draw::svg::to_svg;
use crate::table::Table;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// A page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// What it is about.
    pub title: String,
    /// A sentence below the title; may be empty.
    pub lead: String,
    /// In order; numbered from 1.
    pub sections: Vec<Section>,
    /// Lines below the title: version of the tool, date, settings. At the foot they could stand on a sheet of their own.
    pub edition: Vec<String>,
    /// To be printed on one sheet: set closely and without a table of contents.
    pub one_sheet: bool,
}

/// A numbered section, listed in the table of contents.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// Its heading, without the number.
    pub heading: String,
    /// In order.
    pub blocks: Vec<Block>,
}

/// A piece of a section. All text is escaped.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A smaller heading.
    Subheading(String),
    /// Running text.
    Paragraph(String),
    /// What can hurt; framed.
    Caution(String),
    /// Items without order.
    List(Vec<String>),
    /// Names and what belongs to them, side by side.
    Terms(Vec<(String, String)>),
    /// Text as typed, spaces and line ends kept.
    Listing(String),
    /// A table; on a phone, where it is too wide, every row becomes a block with the headings beside its cells.
    Table(Table),
    /// A narrow table, its rows in columns side by side as far as there is room.
    TableInColumns(Table),
    /// Pictures.
    Figure(Figure),
}

/// Pictures with a caption. Pictures scale to the page; a second, narrower layout keeps their text readable on a phone.
/// Figures of one small picture that follow one another stand side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Below the pictures, and their title.
    pub caption: String,
    /// What they show, for those who cannot see them.
    pub description: String,
    /// For page and print, at most [`PRINT_WIDTH`] wide; several stand below one another.
    pub wide: Vec<Picture>,
    /// For screens narrower than 120 mm, at most [`PHONE_WIDTH`] wide; empty: the wide ones serve there too, and where all of
    /// them are no wider than [`PHONE_AS_IT_IS`] they stand side by side as far as there is room.
    pub narrow: Vec<Picture>,
}

/// Widest picture that keeps its size in print: A4 less the margins, millimetres.
pub const PRINT_WIDTH: f64 = 170.0;

/// Two pictures of this width and their gap stand side by side in print, millimetres.
pub const HALF_WIDTH: f64 = 83.0;

/// Widest picture of a layout for a phone, millimetres: one of 390 points across shows 93 mm between the page's margins, and
/// stretched to them type of 2 mm stands there as if it were 2.4 mm, 9 points of the screen.
pub const PHONE_WIDTH: f64 = 78.0;

/// Widest picture that a phone shows in the layout of the page, millimetres.
pub const PHONE_AS_IT_IS: f64 = 90.0;

/// How much a phone may stretch a picture that is narrower than its screen.
const PHONE_STRETCH: f64 = 1.2;

impl Page {
    /// Writes the page.
    #[must_use]
    pub fn to_html(&self) -> String {
        html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="color-scheme" content="light";
                    meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'";
                    title { (self.title) }
                    style { (PreEscaped(STYLE)) }
                }
                body class=[self.one_sheet.then_some("sheet")] {
                    header {
                        h1 { (self.title) }
                        @if !self.lead.is_empty() { p { (self.lead) } }
                        @for line in &self.edition { p class="edition" { (line) } }
                    }
                    @if self.sections.len() > 1 && !self.one_sheet { (self.contents()) }
                    main {
                        @for (idx, section) in self.sections.iter().enumerate() {
                            (section_markup(idx + 1, section))
                        }
                    }
                }
            }
        }
        .into_string()
    }

    fn contents(&self) -> Markup {
        html! {
            nav aria-label="Contents" {
                ol {
                    @for (idx, section) in self.sections.iter().enumerate() {
                        li { a href=(format!("#section-{}", idx + 1)) { (section.heading) } }
                    }
                }
            }
        }
    }
}

fn section_markup(number: usize, section: &Section) -> Markup {
    let id = format!("section-{number}");
    let blocks: Vec<(usize, &Block)> = section.blocks.iter().enumerate().collect();
    html! {
        section aria-labelledby=(id) {
            h2 id=(id) { span class="number" { (number) } " " (section.heading) }
            @for group in blocks.chunk_by(|left, right| left.1.is_small() && right.1.is_small()) {
                @let markup = html! {
                    @for (idx, block) in group { (block_markup(block, &format!("figure-{number}-{}", idx + 1))) }
                };
                @if group.len() == 1 { (markup) } @else { div class="row" { (markup) } }
            }
        }
    }
}

impl Block {
    /// Whether it is a figure of one picture of at most half the page's width.
    fn is_small(&self) -> bool {
        match self {
            Block::Figure(figure) => match &figure.wide[..] {
                [only] => figure.narrow.is_empty() && only.width <= HALF_WIDTH,
                _ => false,
            },
            _ => false,
        }
    }
}

fn block_markup(block: &Block, figure_id: &str) -> Markup {
    match block {
        Block::Subheading(text) => html! { h3 { (text) } },
        Block::Paragraph(text) => html! { p { (coded(text)) } },
        Block::Caution(text) => {
            html! { p class="caution" { strong { "Caution." } " " (coded(text)) } }
        }
        Block::List(items) => html! { ul { @for item in items { li { (coded(item)) } } } },
        Block::Terms(terms) => html! {
            dl { @for (term, meaning) in terms { div { dt { (term) } dd { (meaning) } } } }
        },
        // A line end right after <pre> would be swallowed by the reader's browser; this one is.
        Block::Listing(text) => html! { pre tabindex="0" { "\n" (text) } },
        Block::Table(table) => html! {
            div class="scroll" tabindex="0" role="region" aria-label=(table.caption) { (table.to_markup()) }
        },
        Block::TableInColumns(table) => html! { div class="columns" { (table.to_markup()) } },
        Block::Figure(figure) => figure_markup(figure, figure_id),
    }
}

/// Text in which what stands between grave accents is typed as it is, as on a terminal.
fn coded(text: &str) -> Markup {
    html! {
        @for (place, piece) in text.split('`').enumerate() {
            @if place % 2 == 1 { code { (piece) } } @else { (piece) }
        }
    }
}

fn figure_markup(figure: &Figure, id: &str) -> Markup {
    let drawn = |pictures: &[Picture], layout: &str| {
        html! {
            @for (idx, picture) in pictures.iter().enumerate() {
                @let prefix = format!("{id}-{layout}-{}", idx + 1);
                div class="picture" style=(widths(picture)) {
                    (PreEscaped(to_svg(picture, &prefix, &figure.caption, &figure.description)))
                }
            }
        }
    };
    // A caption is no wider than its picture where figures stand side by side.
    let width = figure.wide.iter().map(|one| one.width).fold(0.0, f64::max);
    html! {
        figure style=(format!("--width:{width:.1}mm")) {
            @if figure.narrow.is_empty() && width <= PHONE_AS_IT_IS {
                div class="beside" { (drawn(&figure.wide, "wide")) }
            } @else if figure.narrow.is_empty() {
                (drawn(&figure.wide, "wide"))
            } @else {
                div class="wide" { (drawn(&figure.wide, "wide")) }
                div class="narrow" { (drawn(&figure.narrow, "narrow")) }
            }
            figcaption { (figure.caption) }
        }
    }
}

/// A picture's width on the page and on a phone.
fn widths(picture: &Picture) -> String {
    format!(
        "--width:{:.1}mm;--phone:{:.1}mm",
        picture.width,
        picture.width * PHONE_STRETCH
    )
}

/// Black on white, one column, rules instead of boxes. The width of the column is that of the printed page.
const STYLE: &str = "
@page { size: A4; margin: 16mm 20mm 18mm; @bottom-right { content: counter(page) ' / ' counter(pages); font: 9pt Helvetica, Arial, 'Liberation Sans', sans-serif; } }
@page sheet { margin: 10mm 20mm 13mm; }
* { box-sizing: border-box; }
html { color-scheme: light; -webkit-text-size-adjust: 100%; text-size-adjust: 100%; }
body { margin: 0 auto; padding: 6mm 5mm; max-width: 180mm; background: #fff; color: #000;
  font: 11pt/1.45 Helvetica, Arial, 'Liberation Sans', sans-serif; overflow-wrap: break-word; }
header { border-top: 0.9mm solid; border-bottom: 0.25mm solid; padding: 2.5mm 0; }
header p { margin: 1mm 0 0; }
header p.edition { margin: 0.5mm 0 0; font-size: 9pt; }
h1 { font-size: 17pt; line-height: 1.2; margin: 0; }
h2 { font-size: 13pt; line-height: 1.25; margin: 9mm 0 3mm; padding-top: 1.5mm; border-top: 0.25mm solid; }
h2 .number { display: inline-block; min-width: 7mm; }
h3 { font-size: 11pt; margin: 5mm 0 1.5mm; }
p { margin: 0 0 2.5mm; }
a { color: inherit; }
nav ol { margin: 3mm 0 0; padding: 0; list-style: none; counter-reset: section; columns: 3 48mm; }
nav li { counter-increment: section; break-inside: avoid; padding: 0.7mm 0; display: flex; }
nav li::before { content: counter(section); flex: 0 0 7mm; }
ul { margin: 0 0 2.5mm; padding-left: 5mm; }
p.caution { border: 0.5mm solid; padding: 2mm 3mm; margin-right: 0.5mm; }
dl { margin: 0 0 3mm; }
dl div { display: flex; gap: 4mm; padding: 0.8mm 0; border-bottom: 0.13mm solid #999; }
dt { flex: 0 0 42mm; max-width: 40%; }
dd { flex: 1; margin: 0; }
pre { margin: 0 0 3mm; padding-left: 3mm; border-left: 0.5mm solid; overflow-x: auto;
  font: 9.5pt/1.4 'Liberation Mono', Menlo, Consolas, monospace; }
code { font: 0.9em 'Liberation Mono', Menlo, Consolas, monospace; }
.scroll { overflow-x: auto; margin: 3mm 0 5mm; }
table { border-collapse: collapse; font-size: 10pt; font-variant-numeric: tabular-nums; }
p.caption { font-weight: bold; margin: 0; padding-bottom: 1.2mm; }
.columns { columns: 2 70mm; column-gap: 8mm; margin: 3mm 0 5mm; }
.columns .caption { column-span: all; }
.columns table { width: 100%; }
.sheet { page: sheet; font-size: 8.5pt; line-height: 1.25; }
.sheet h1 { font-size: 14pt; }
.sheet h2 { margin: 3mm 0 1.5mm; font-size: 10.5pt; }
.sheet p.caution { font-size: 8pt; padding: 1mm 2mm; }
.sheet .scroll { margin-bottom: 2mm; }
.sheet table { font-size: 8pt; }
.sheet th, .sheet td { padding: 0.3mm 2mm 0.3mm 0; }
.sheet th:last-child, .sheet td:last-child { padding-right: 0; }
thead { border-top: 0.5mm solid; border-bottom: 0.25mm solid; }
tbody { border-bottom: 0.5mm solid; }
tbody tr + tr { border-top: 0.13mm solid #999; }
th, td { padding: 0.9mm 3mm 0.9mm 0; text-align: left; vertical-align: top; font-weight: normal; }
th:last-child, td:last-child { padding-right: 0; }
thead th { vertical-align: bottom; }
th.right, td.right { text-align: right; }
td.right, tbody th.right, .mark.pass, .mark.caution, .mark.fault { white-space: nowrap; }
.mark.fault { font-weight: bold; }
.sign { display: inline-block; min-width: 1.1em; }
.unseen { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); white-space: nowrap; }
figure { margin: 4mm 0 6mm; }
.picture { width: var(--width); max-width: 100%; margin-bottom: 2mm; break-inside: avoid; }
.picture svg { display: block; width: 100%; height: auto; }
figcaption { font-size: 10pt; }
.beside .picture, .row figure { display: inline-block; vertical-align: top; }
.row figure { width: var(--width); max-width: 100%; margin: 2mm 1.5mm 3mm 0; }
.row { orphans: 1; widows: 1; }
.row figcaption { font-size: 9pt; line-height: 1.3; }
.narrow { display: none; }
@media screen and (max-width: 120mm) {
  .wide { display: none; }
  .narrow { display: block; }
  .narrow .picture, .beside .picture { width: var(--phone); }
  .row figure { width: 100%; margin: 4mm 0 6mm; }
  .row figcaption { font-size: 10pt; line-height: inherit; }
  pre { white-space: pre-wrap; }
  dl div { display: block; }
  dt { max-width: none; }
  table.stacks, .stacks tbody { display: block; }
  .stacks thead { display: none; }
  .stacks tr { display: grid; grid-template-columns: 1fr 1fr; column-gap: 5mm; padding: 1.2mm 0; }
  .stacks th, .stacks td { display: flex; justify-content: space-between; gap: 2mm; padding: 0.3mm 0; }
  .stacks tbody th, .stacks td:not(.right) { grid-column: 1 / -1; white-space: normal; text-align: left; }
  .stacks tbody th { display: block; font-weight: bold; }
  .stacks tbody th::before { content: attr(data-label) ': '; font-weight: normal; color: #333; }
  .stacks td:empty { display: none; }
  .stacks td::before { content: attr(data-label); flex: 0 1 auto; white-space: normal; text-align: left; color: #333; }
  .stacks td:not(.right) { justify-content: flex-start; }
  .stacks td:not(.right)::before { flex: 0 0 auto; max-width: 45%; }
}
@media print {
  body { padding: 0; max-width: none; font-size: 10pt; }
  body.sheet { font-size: 8.5pt; }
  h1, h2, h3, p.caption { break-after: avoid; }
  .picture, tr, p.caution, dl div, pre { break-inside: avoid; }
  tbody tr:first-child { break-before: avoid; }
  figure:not(:has(.picture + .picture)) { break-inside: avoid; }
  figcaption { break-before: avoid; }
  thead { display: table-header-group; }
  .scroll, pre { overflow: visible; }
  pre { white-space: pre-wrap; }
  p, li { orphans: 3; widows: 3; }
  a { text-decoration: none; }
}
";
