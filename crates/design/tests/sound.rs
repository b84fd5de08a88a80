//! What a sound design is read into.

mod machine;

use machine::{SOUND, read_text, said};

#[test]
fn a_sound_design_has_nothing_to_say() {
    let reading = read_text(SOUND);
    assert_eq!(
        said(&reading),
        [],
        "{}",
        text::diagnostic::render(&reading.diagnostics, &reading.sources, false)
    );
    assert!(reading.design.is_some());
}
