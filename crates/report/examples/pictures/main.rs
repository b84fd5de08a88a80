//! Writes sample pictures and a sample page into a directory, to look at:
//! `cargo run -p report --example pictures -- /tmp/pictures`.

mod samples;

use report::draw::pdf::to_pdf;
use report::draw::svg::to_svg;
use std::path::Path;

fn main() -> std::io::Result<()> {
    let directory = std::env::args()
        .nth(1)
        .unwrap_or_else(|| "pictures".to_owned());
    let directory = Path::new(&directory);
    std::fs::create_dir_all(directory)?;
    for (name, draw) in samples::PICTURES {
        let picture = draw(120.0);
        let svg = to_svg(&picture, name, name, "A sample picture.");
        std::fs::write(directory.join(format!("{name}.svg")), svg)?;
        let pdf = to_pdf(&[picture], name);
        std::fs::write(directory.join(format!("{name}.pdf")), pdf)?;
    }
    std::fs::write(directory.join("page.html"), samples::page().to_html())?;
    let table = samples::levels_table();
    let tables = [(100, false), (60, false), (60, true), (28, true)];
    let tables = tables.map(|(width, plain)| table.to_text(width, plain));
    std::fs::write(directory.join("table.txt"), tables.join("\n"))
}
