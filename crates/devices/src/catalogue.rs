//! What can be wrong with a `type` statement or a file of points; also the words, values and names that are read alike
//! in every statement of the language.

use text::diagnostic::Entry;

/// Every diagnostic on types. The `design` crate gives some of these names too, with the same meaning.
pub const CATALOGUE: &[Entry] = &[
    Entry {
        name: "colon-missing",
        summary: "A line needs a colon before its values.",
        text: "Lines with many values, such as `base` or `law`, say what they are about before the colon and \
               the values after it. Without it the two cannot be told apart. The message shows the form.",
    },
    Entry {
        name: "curve-file-line",
        summary: "A line of a curve file cannot be read.",
        text: "The file of measured points is read line by line; the message gives the line and what is wrong \
               with it. A point that is silently left out would bend the curve, so nothing is computed until \
               the line is mended or taken out. Usual reasons are a decimal comma, a unit after the number, or \
               a column too few.",
    },
    Entry {
        name: "curve-file-missing",
        summary: "A curve file cannot be read.",
        text: "A `points from` line names a file that is not there or that is no text. Without its points the \
               type is fitted to what else is known of it, or to nothing. Look at the name; it is sought from \
               the folder of the design.",
    },
    Entry {
        name: "fit-not-settled",
        summary: "The curve came no closer to the points.",
        text: "The fit stopped before it stood still; the curve is the best one found. The points usually \
               contradict one another: one has the wrong sign at the grid, milliamperes for microamperes, or \
               was measured on a cold tube. Look at the list of points against the fit, and take out or repeat \
               the one that lies far off.",
    },
    Entry {
        name: "half-missing",
        summary: "A pin of a twin tube does not say which half.",
        text: "In a tube with two sections every plate, grid and cathode belongs to one of them. Without the \
               letter the wiring list would send a wire to the wrong half. Write A or B after the electrode.",
    },
    Entry {
        name: "half-odd",
        summary: "A half is named where there is none.",
        text: "A letter A or B stands at a pin that both halves share, or at a tube with a single section, or the \
               spread of such a tube says how far its halves differ. Leave it out, or, if the tube is a twin, say \
               `2 sections` in the first line of the type.",
    },
    Entry {
        name: "heater-mismatch",
        summary: "Heater figures in series and in parallel disagree.",
        text: "A heater with a tap takes the same power whether its halves are in series or in parallel; the \
               two figures given differ. A string worked out from a wrong current heats every tube in it \
               wrongly. Look at the sheet again.",
    },
    Entry {
        name: "kind-clash",
        summary: "A type is to be like one of another kind.",
        text: "`like` takes over everything known of another type, which makes sense only between a triode and \
               a triode, a diode and a diode, and so on. Leave the kind out, or name another type.",
    },
    Entry {
        name: "kind-missing",
        summary: "A type does not say what kind of tube or part it is.",
        text: "The kind (triode, pentode, diode, silicon diode, neon and so on) decides which electrodes and \
               which law the type has. Write it after the name, or say which known type it is `like`.",
    },
    Entry {
        name: "mu-mismatch",
        summary: "Amplification, slope and plate resistance disagree.",
        text: "At one point of a triode mu is slope times plate resistance; the three figures given differ by \
               more than 3 %. One of them is misread, or comes from another line of the sheet. The fit would be \
               pulled both ways, so look again before trusting the curve.",
    },
    Entry {
        name: "not-a-name",
        summary: "A type's name cannot be used as one.",
        text: "A name begins with a letter or digit and stands alone, without a unit or a note. Type the \
               designation as it is printed on the tube, without spaces.",
    },
    Entry {
        name: "not-a-pin",
        summary: "A pin number is no number.",
        text: "The base line lists pins by number, each with what it leads to, as the base drawing has them \
               from below. A letter or a missing number would shift every pin after it. Write the number first, \
               then the electrode.",
    },
    Entry {
        name: "not-a-value",
        summary: "A word stands where a value belongs.",
        text: "Values begin with a digit, a point or a minus sign and carry their unit without a space: `33k`, \
               `4k7`, `-24V`, `5%`. Usually the value was left out and the next word taken for it.",
    },
    Entry {
        name: "nothing-to-fit",
        summary: "The points give nothing to fit a curve to.",
        text: "A curve needs at least one current, slope or mu at stated volts, and these points have none. The \
               type stays without a curve and nothing is computed with it. Add a point, best at the volts you \
               use.",
    },
    Entry {
        name: "parameter-missing",
        summary: "A law or junction is not complete.",
        text: "A law is a formula with named parameters, and one that it cannot do without is not given. Add \
               it; the message shows the form. If you do not know it, leave the law out and give points, so \
               that it is fitted.",
    },
    Entry {
        name: "pin-missing",
        summary: "An electrode has no pin.",
        text: "The base names no pin for an electrode that this kind of tube must have. A wiring list made from \
               it would leave the electrode unconnected. Write every pin of the base, unused ones as `free`.",
    },
    Entry {
        name: "pin-order",
        summary: "Pins are not in the order of their numbers.",
        text: "Pins are listed in rising order so that a slip stands out at once: a pin left out or written \
               twice shows as a step in the wrong direction. Put them in order, and check against the base \
               drawing while you do.",
    },
    Entry {
        name: "said-twice",
        summary: "The same thing is said twice.",
        text: "Two lines or phrases give the same value or name, and only the first counts. If they differ, one \
               of them is not what you think the machine has. Keep one.",
    },
    Entry {
        name: "spread-odd",
        summary: "A spread that no part can have.",
        text: "The lowest and the highest current or amplification factor are shares of the book value, of a type \
               the one at most 100 %, the other at least that; a lot may lie to one side of the book. Halves of a tube \
               and tubes of a lot differ by 0.1 to 100 % of the book current, halves by no more than any two tubes, \
               these by no more than the whole band; an aged tube keeps more than nothing and no more than all, and no \
               more than the worst new one; cut-off is off by 3 V at most, and what is counted either way has no sign. \
               With anything else the worst case would not be the worst. The message says what belongs there.",
    },
    Entry {
        name: "strike-too-low",
        summary: "A neon lamp strikes below the volts it keeps.",
        text: "A gas lamp needs more volts to light than to stay lit; given the other way round it could not go \
               out again as real ones do. The two figures are probably exchanged. Measure a few lamps in the \
               dark and in the light: striking volts scatter widely.",
    },
    Entry {
        name: "unfit-law",
        summary: "A law belongs to another kind of tube.",
        text: "Each kind of tube has its own formulas: a triode's cannot describe a screen, a pentode's needs \
               one. The message names the laws that fit. Use one of them, or correct the kind in the first line \
               of the type.",
    },
    Entry {
        name: "unknown-electrode",
        summary: "An electrode that this tube does not have.",
        text: "Electrodes are called plate (or anode), grid, screen, suppressor, cathode and heater, and only \
               those of the kind of tube can be given. Usually a word is misspelt, or a pentode is declared as \
               a triode.",
    },
    Entry {
        name: "unknown-kind",
        summary: "A kind of tube or part that is not known.",
        text: "The kinds are those that the program has a law for; they are listed in the message. A tube with \
               more grids than a pentode, or a gas-filled one other than a neon lamp, cannot be computed.",
    },
    Entry {
        name: "unknown-law",
        summary: "A law that is not known.",
        text: "The message lists the laws that belong to this kind of type. To describe a tube of your own, \
               give points and let the law be fitted.",
    },
    Entry {
        name: "unknown-limit",
        summary: "A limit that is not known.",
        text: "Limits are checked by name against what the circuit does, so a misspelt one would pass \
               unchecked. The message gives the nearest name. What fits nowhere can stand in a remark.",
    },
    Entry {
        name: "unknown-line",
        summary: "A line that does not belong in a type.",
        text: "Below a type stand its base, heater, limits, spread, capacitances, points, law and remarks. A line that \
               begins otherwise is not read, so what it says has no effect. The message gives the nearest word.",
    },
    Entry {
        name: "unknown-parameter",
        summary: "A parameter that the law does not have.",
        text: "Each law has parameters of its own, listed in the message. A misspelt one would silently leave \
               its value at the usual one, so it is a fault. Correct the word, or use the law that has it.",
    },
    Entry {
        name: "unknown-phrase",
        summary: "A phrase that does not belong in a type's first line.",
        text: "The first line gives name, kind, number of sections, other names and what the type is like. \
               Everything else stands in lines of its own below.",
    },
    Entry {
        name: "unknown-system",
        summary: "A rating system that is not known.",
        text: "Design-centre, design-maximum and absolute-maximum limits leave different room for supply and \
               spread, so the word matters when a tube runs near one. Use the word of the sheet, or leave it \
               out when the sheet has none.",
    },
    Entry {
        name: "unknown-type",
        summary: "A type of tube, diode or lamp that is not known.",
        text: "No shipped type and no `type` statement of yours has this name, so neither its pins nor its \
               currents are known. Correct the spelling, or write a `type` statement: a few points from the \
               sheet or the bench are enough.",
    },
    Entry {
        name: "unknown-unit",
        summary: "A value in a unit that is not known.",
        text: "The value ends in letters that are no unit and no prefix of one. Values are written as the trade does: \
               `33k`, `4k7`, `4.7u`, `110V`, `5%`.",
    },
    Entry {
        name: "unknown-value",
        summary: "A value that a point, capacitance or spread does not have.",
        text: "The words for what was measured or printed (current, slope, mu and so on) differ with the kind \
               of tube, and this is none of them. A misspelt one would be lost. The message gives the nearest.",
    },
    Entry {
        name: "value-not-positive",
        summary: "A value is zero or negative where that makes no sense.",
        text: "Resistances, capacitances, ratings and limits are above zero; a limit on a negative grid or on \
               reverse volts is written without its sign. Look for a minus sign or a zero too many.",
    },
    Entry {
        name: "value-odd",
        summary: "A value lies far outside what is usual.",
        text: "Nearly always the prefix is wrong: `m` is a thousandth and `M` a million, and a bare number \
               means ohm, farad or volt as it stands. What is computed from such a value looks sound and is \
               not. Mend it if it is a slip; a caution can be left if you mean it.",
    },
    Entry {
        name: "word-expected",
        summary: "A word stands where another belongs.",
        text: "The sentence has a fixed form, shown in the message, and at this place one of a few words must \
               stand. Usually one word before it is left out or added.",
    },
    Entry {
        name: "word-missing",
        summary: "A sentence ends too soon.",
        text: "Something that the sentence needs is not there; the message says what and shows the form. \
               Nothing is assumed in its place, because what is assumed is what surprises on the bench.",
    },
    Entry {
        name: "words-left-over",
        summary: "A sentence goes on after its end.",
        text: "The form shown in the message is complete before these words, so they would have no effect. \
               Usually a comma is missing between two things, or a word belongs in a line of its own.",
    },
    Entry {
        name: "wrong-unit",
        summary: "A value has the unit of something else.",
        text: "Volts stand where ohms belong, or the like. Either the value or its place is wrong: two values \
               exchanged in one line is the usual reason. The message says what belongs there.",
    },
];
