//! Random text for the property tests.

use proptest::prelude::*;

/// Mostly lines that look like a design, with every kind of mark, space and accident; sometimes any characters at all.
pub(crate) fn text() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        8 => "[a-zA-Z0-9.µΩ]{1,4}",
        4 => "[ \t]{1,5}",
        4 => Just("\n".to_owned()),
        1 => Just("\r\n".to_owned()),
        2 => Just(", ".to_owned()),
        1 => Just(",\n".to_owned()),
        2 => Just(": ".to_owned()),
        2 => "[(),:=#\\[\\]]",
        1 => "\\[[a-z #,:]{0,5}\\]",
        2 => "# ?[a-z ]{0,6}",
        1 => "[\r\u{0}\u{7}\u{b}\u{c}\u{85}\u{a0}\u{200b}\u{2028}\u{feff}\u{fffd}]{1,3}",
    ];
    let pieces = prop::collection::vec(piece, 0..60).prop_map(|pieces| pieces.concat());
    let deep = prop::collection::vec((0usize..30, "[a-z,:]{1,3}"), 0..60).prop_map(|lines| {
        lines
            .iter()
            .map(|(indent, word)| format!("{}{word}\n", " ".repeat(*indent)))
            .collect()
    });
    prop_oneof![6 => pieces, 2 => deep, 1 => any::<String>()]
}
