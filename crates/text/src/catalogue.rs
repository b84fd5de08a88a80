//! What can be wrong with a text before its words mean anything: layout, commas, notes.

use crate::diagnostic::Entry;

/// Every diagnostic that the reader of the language gives.
pub const CATALOGUE: &[Entry] = &[
    Entry {
        name: "dangling-comma",
        summary: "The last line of a file ends in a comma.",
        text: "A comma at the end of a line says that the next line goes on with it, and here no line follows. \
               A connection or a part that was meant to stand there would be missing on the board. Delete the \
               comma, or write what should follow.",
    },
    Entry {
        name: "empty-place",
        summary: "Nothing stands beside a comma or colon.",
        text: "Commas part the things of a list, and between two of them, or between one and a colon, a thing \
               is missing. Usually a name was deleted and its comma left behind. Delete the comma, or write \
               what was meant.",
    },
    Entry {
        name: "no-heading",
        summary: "A line begins with a comma or colon.",
        text: "A line says first what kind of thing it is about, such as `resistors` or `unit`; this one begins \
               with the mark that should follow. Nothing of it can be used until the word stands there. It is \
               often the end of the line above that slipped: end that line in a comma.",
    },
    Entry {
        name: "second-colon",
        summary: "A line has two colons.",
        text: "The first colon parts what kind of thing it is from the things themselves; the second means \
               nothing and is passed over, so what stands round it is read as one thing. Put what follows it on \
               a line of its own, or separate it by a comma.",
    },
    Entry {
        name: "stray-character",
        summary: "An invisible character stands in the text.",
        text: "Copying from a page or a letter can bring characters along that no editor shows. A name with one \
               in it looks like another name and is not, so that two nets which look joined are apart. Delete \
               it and type what was meant.",
    },
    Entry {
        name: "too-deep",
        summary: "Lines are nested deeper than any design needs.",
        text: "Each further indentation puts a line below the one above it, and here the number of levels \
               passes the limit. Everything deeper is read as if it stood at the last level. It is nearly \
               always indentation that went wrong in an editor: indent it less, or lay the file out with the \
               formatter.",
    },
    Entry {
        name: "unclosed-note",
        summary: "A note in brackets has only one bracket.",
        text: "A note, such as the source of a value, stands in brackets on one line. With one bracket missing \
               the rest of the line may be taken for the note, or the note for values. Close it on the same \
               line; a long note goes on in a second pair.",
    },
    Entry {
        name: "uneven-indent",
        summary: "A line is indented like none of its neighbours.",
        text: "Indentation says what belongs to which heading, and this line stands between two levels. It is \
               read as part of the nearest line above that is indented less, which need not be the one you \
               mean: a part may land in the wrong circuit. Indent it exactly like its neighbours; the formatter \
               does it for a whole file.",
    },
];
