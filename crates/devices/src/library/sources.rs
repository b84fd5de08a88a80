//! Titles of the documents behind the shipped values.

/// Key, title and how it was read.
const SOURCES: [(&str, &str); 24] = [
    (
        "S1",
        "Brimar (Standard Telephones and Cables), Application Report VAD/513.4 on the 12AU7, August 1950, reprinted January 1952",
    ),
    (
        "S2",
        "page of measured data on the 5965 quoting the maker's sheet",
    ),
    (
        "S3",
        "Philips ECC83 sheets of 1953-06-06 to 1955-02-02, second-hand copy",
    ),
    (
        "S4",
        "RCA, Brimar, Tesla and JJ sheets of the ECC83, capacitances, second-hand copy",
    ),
    (
        "S5",
        "sheets of a present-day maker for 6SN7 and 6CG7 with columns of limits, no date",
    ),
    ("S6", "data-base page on the 12BH7 quoting Tung-Sol 1950"),
    (
        "S7",
        "page of measured data on the 5687 and 5687WA quoting the makers' sheets",
    ),
    (
        "S8",
        "page on 6DJ8, 6922 and 7308 quoting the makers' sheets",
    ),
    (
        "S10",
        "table of published operating points (RCA 12AX7A, 12AU7A, 12AT7, 6SN7GTB, 6SL7GT, 12AY7, 6N7; Philips ECC88), second-hand copy",
    ),
    (
        "S11",
        "comparison of 12AX7 sheets, July 2026, quoting RCA 12AX7-A (10-60), GE ET-T509B (6-53), Sylvania (September 1955) and Philips ECC83 (1960-05-05), second-hand",
    ),
    (
        "S13",
        "page measuring a 12BH7A, 22 September 2010, quoting the tube handbook of National",
    ),
    ("S14", "Telefunken EF804S, sheet 331-332, second-hand copy"),
    (
        "S15",
        "article on tubes as switches, March 2018, reading the makers' charts of 12AU7 and 12AX7",
    ),
    (
        "S16",
        "on-line textbook, chapter 4A, describing makers' charts",
    ),
    (
        "S17",
        "IBM, Customer Engineering Manual of Instruction, Electronic Multiplier Type 603, form 22-3838-0, 1948",
    ),
    (
        "S18",
        "Institute for Advanced Study, Final Progress Report on the Physical Realization of an Electronic Computing Instrument, January 1954",
    ),
    ("S19", "page introducing the 12AX7 (Toshiba)"),
    ("S20", "page on the spread of seven makers' 12AX7"),
    (
        "S21",
        "Dempwolf and Zoelzer, A physically-motivated triode model for circuit simulations, DAFx-11, Paris, September 2011, Table 1, second-hand copies",
    ),
    ("S29", "page of ECC81 curves, read off Mullard's"),
    (
        "S33",
        "technical notes quoting the listings of Koren, Glass Audio vol. 8 no. 5, 1996, and diode parameter sets, second-hand copy",
    ),
    (
        "S35",
        "tables of parameters attributed to Koren 1996, second-hand copy",
    ),
    ("S49", "PanJit 1N4148, rev. 0.2, April 2010"),
    ("S50", "Diotec 1N4148 and 1N4448"),
];

/// Title of the document behind a source key of the shipped library.
#[must_use]
pub fn source_title(key: &str) -> Option<&'static str> {
    SOURCES
        .iter()
        .find(|(known, _)| *known == key)
        .map(|&(_, title)| title)
}
