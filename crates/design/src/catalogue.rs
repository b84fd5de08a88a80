//! What can be wrong with a design's text once its types are known.
//!
//! Together with the catalogues of `devices` and `text`, which explain the names that they share with this crate, it covers
//! everything that reading a design can say; no name stands in two of them.

use text::diagnostic::Entry;

/// Every diagnostic of this crate that `devices` does not name already.
pub const CATALOGUE: &[Entry] = &[
    Entry {
        name: "bad-name",
        summary: "A name that cannot be used as one.",
        text: "Names begin with a letter and have no dot, because a dot joins the name of a thing and of what \
               is inside it, as in `G3.k`. Choose a name that reads well on a label, since the same name stands \
               in every table and on the wiring list.",
    },
    Entry {
        name: "block-contains-itself",
        summary: "A block stands inside itself.",
        text: "Opened, it would never end; the message shows the way round. Take one of these units out, or \
               give the inner block another name if another was meant.",
    },
    Entry {
        name: "blocks-too-deep",
        summary: "Blocks stand in blocks too many levels deep.",
        text: "Blocks are opened down to single gates, and the depth is bounded. No machine built by hand needs \
               so many levels. Make the nesting flatter.",
    },
    Entry {
        name: "drift-odd",
        summary: "The drift of a resistor makes no sense.",
        text: "Old carbon composition rises with age, by tens of per cent in sixty years; a drift is that share of \
               the marked value, upward and without a sign. One that has doubled is worn out and is replaced. \
               Measure a few, or leave the drift out for film and wire.",
    },
    Entry {
        name: "drives-nothing",
        summary: "An output goes to a net that nothing listens to.",
        text: "The unit is powered and works for nothing, or the net that should carry its output is called \
               otherwise elsewhere. Look for a misspelt name first. If the output is meant to be free, write \
               `open` in place of the net.",
    },
    Entry {
        name: "electrode-absent",
        summary: "A tube type has no such electrode on a pin.",
        text: "The type brings its suppressor, screen or shield out on no pin of its own, so nothing can be \
               wired to it. Leave the electrode out, connect the one that the message names, or choose another \
               type.",
    },
    Entry {
        name: "electrode-missing",
        summary: "An electrode of a tube has no net.",
        text: "Every plate, grid, screen and cathode of a tube must go somewhere; one that floats picks up \
               whatever is near and makes a stage that works by luck. Add the electrode and its net after the \
               colon.",
    },
    Entry {
        name: "electrode-twice",
        summary: "An electrode is given two nets.",
        text: "One pin cannot be two nets unless they are one. Keep one of them; if both are meant, give them \
               the same name.",
    },
    Entry {
        name: "ends-missing",
        summary: "A part does not say which nets it goes to.",
        text: "A part with two ends is written with `to` between its nets, such as `R1 680k join to g1`. \
               Without them it is on no net and would be left out of every computation and of the wiring list.",
    },
    Entry {
        name: "ends-together",
        summary: "Both ends of a part go to the same net.",
        text: "Such a part does nothing, and on the board it is a wire bridge with a part over it. One of the \
               two names is probably a slip for a similar one.",
    },
    Entry {
        name: "file-unreadable",
        summary: "A file of the design cannot be read.",
        text: "A file that is named is missing, is no text, or is too large. While it is missing, names that \
               are not known are not listed, because they may be defined there. Correct the name, which counts \
               from the folder of the first file.",
    },
    Entry {
        name: "format-missing",
        summary: "The first line does not state the version of the language.",
        text: "The text is read as the present version. In ten years the line tells which program can read it. \
               Begin the first file with `valvewright format 1`.",
    },
    Entry {
        name: "format-unknown",
        summary: "The text is written in another version of the language.",
        text: "This program reads the version named in the message and no other, and it would rather stop than \
               guess what a newer sentence means. Use a newer program, or write the text in this version.",
    },
    Entry {
        name: "half-of-single",
        summary: "Half of a single tube is asked for.",
        text: "The type has one section, so there is no half to take. Leave `half` out, or choose the twin of \
               the type.",
    },
    Entry {
        name: "half-used-twice",
        summary: "Two units use the same half of a tube.",
        text: "Two gates cannot share one plate, grid and cathode; on the board their nets would be joined \
               there. Give one of them another tube or the other half.",
    },
    Entry {
        name: "heater-twice",
        summary: "A tube's heater stands in two places.",
        text: "A heater has one pair of pins and belongs in one string, once. In two, it would join the strings \
               and change the current of both. Take it out of one of them.",
    },
    Entry {
        name: "string-part-odd",
        summary: "A part of a heater string cannot be as written.",
        text: "A thermistor has less resistance hot than cold, a ballast tube holds its current from lower volts to \
               higher ones, and both, like a length of wire or copper, stand alone in their place of the string: \
               only heaters and resistors stand beside one another. Dropping resistors are wire-wound: no drift, and no hollow band. \
               Look at the order of the values, or put a comma before what comes next.",
    },
    Entry {
        name: "heater-unknown",
        summary: "The heater of a type is not known.",
        text: "Its volts and current are needed to work out the string that it stands in, and the type gives \
               neither. The string is left unchecked. Add a `heater` line to the type from its sheet, or \
               measure it hot.",
    },
    Entry {
        name: "hollow-odd",
        summary: "The hollow part of a resistor's band leaves nothing of it.",
        text: "`5% hollow 2%` says that those within 2 % were picked out of a lot of 5 %, so that the rest stands \
               between 2 and 5 % off on either side. A hollow part as wide as the tolerance would leave no resistor. \
               Write the tolerance at which the lot was sorted, less than the one that is printed, or `hollow 0%` \
               where nothing was picked out.",
    },
    Entry {
        name: "include-circle",
        summary: "Files include one another in a circle.",
        text: "Each file is read once, and here the way leads back to a file that is still open. Take one of \
               the includes out; what both need belongs in a third file.",
    },
    Entry {
        name: "input-undriven",
        summary: "Nothing drives an input.",
        text: "The net at this input has no output, no switch and no rail on it, so its level is left to \
               leakage and stray charge. On the bench such an input follows your hand. Let an output drive it, \
               correct the net's name, or put a switch under `bench` for what comes from outside the machine.",
    },
    Entry {
        name: "loose-end",
        summary: "A net has only one end.",
        text: "A point inside a circuit touches one part only, or a signal of a block goes to no unit. It is \
               nearly always a misspelt name, and the part on it does nothing. The message gives the nearest \
               name; connect it or leave it out.",
    },
    Entry {
        name: "lot-empty",
        summary: "A lot says nothing of its parts.",
        text: "A lot says after a colon how far your own parts of a type are from the book: of tubes current, \
               amplification factor, halves, cut-off, age; of diodes saturation and leakage; of neon lamps the volts. What it does not say stays as the type has it. Add \
               what you measured, or take the line out.",
    },
    Entry {
        name: "lot-unused",
        summary: "A lot is of a type that nothing in the design is of.",
        text: "What a lot says counts for the parts of just its type, and the design has none. Usually another \
               of several like types is meant, such as 6DJ8 for 6922. Correct the name; leave it if you only try \
               such tubes in a socket.",
    },
    Entry {
        name: "mark-letter",
        summary: "A part's mark does not begin with its usual letter.",
        text: "Marks follow IEEE 315: R resistor, C capacitor, L inductor, CR diode, V tube, DS lamp, S switch. \
               Another letter works, but whoever reads the board will look for the wrong part. Rename it as the \
               message suggests.",
    },
    Entry {
        name: "mark-missing",
        summary: "A part has no mark.",
        text: "Each part begins with its mark, such as R1, by which tables, findings and the wiring list call \
               it. Usually a comma is missing before it, or the value came first.",
    },
    Entry {
        name: "misplaced-statement",
        summary: "A line stands where it does not belong.",
        text: "Each kind of line belongs at the margin or below certain headings, and its indentation has put \
               it elsewhere. What it says is not read. Indent it as the heading that it belongs to needs, or \
               end the line above in a comma if it should go on.",
    },
    Entry {
        name: "misplaced-step",
        summary: "`before` or `after` stands outside an array.",
        text: "Only the units of an array stand in a row, so only they have a neighbour before and after them. \
               Write it on the `each` line of the array, or name the other unit.",
    },
    Entry {
        name: "more-problems",
        summary: "There are more problems than are listed.",
        text: "The list is bounded, because one missing line can bring hundreds of others. Mend the first ones \
               and read again; most of the rest usually goes with them.",
    },
    Entry {
        name: "name-taken",
        summary: "A name is given twice.",
        text: "Names of circuits, blocks, units, rails, parts and boards are what everything else points to, so \
               each must mean one thing. Give one of them another name. The message shows where the first \
               stands.",
    },
    Entry {
        name: "net-leaves-board",
        summary: "A net leaves a board without a connector pin.",
        text: "Something on this board and something elsewhere are on the same net, and no connector of the \
               board has a pin for it. Cut as it stands, the board could not be wired up. Add the net to a \
               connector, or move the unit.",
    },
    Entry {
        name: "no-number-before",
        summary: "The first unit of an array has none before it.",
        text: "`before` of unit 0 would be unit number -1. Let the array begin with 1 and have a unit 0 placed \
               apart, or connect the first one by a line of its own.",
    },
    Entry {
        name: "no-output",
        summary: "A circuit without outputs is to drive something.",
        text: "A jig or bench names a circuit as a driver, and that circuit has no output to drive with. Name \
               one that has, or correct its `outputs` line.",
    },
    Entry {
        name: "no-tap",
        summary: "The heater of a type has no tap.",
        text: "`tapped` runs the two halves of a heater in parallel from its middle pin, and this type has no \
               such pin. Leave the word out; in a string it then counts with its full volts.",
    },
    Entry {
        name: "not-a-lamp",
        summary: "A part that cannot light is to be lit.",
        text: "A sentence with `lit` speaks of a neon lamp or an indicator triode, the parts that the program knows \
               to light. Name one of these, or leave the sentence out.",
    },
    Entry {
        name: "not-a-number",
        summary: "A word stands where a whole number belongs.",
        text: "Numbers of pins, loads and places in an array are whole and written in digits. The message shows \
               the form of the line.",
    },
    Entry {
        name: "not-a-tube",
        summary: "A word is no mark of a tube.",
        text: "A tube is written V and a number, a half of it with A or B after that: `V7`, `V7A`. The mark is \
               what stands beside the socket on the board.",
    },
    Entry {
        name: "nothing-to-place",
        summary: "A block is placed, but its units name no tubes.",
        text: "`from V11` hands out sockets in the order that the units inside the block ask for them, and none \
               asks. Nothing is placed. Write `in V1A` and so on at the units inside the block, counted from \
               the block's own first tube.",
    },
    Entry {
        name: "output-says-nothing",
        summary: "An output has no sentence.",
        text: "Other outputs of this circuit or block say what they do, and this one does not, so its level is \
               computed and never judged. Add a sentence such as `q = not a`.",
    },
    Entry {
        name: "pin-twice",
        summary: "A connector pin is given two nets.",
        text: "Both nets would be joined at the pin. Give one of them another pin; the message shows where the \
               first stands.",
    },
    Entry {
        name: "place-of-half",
        summary: "A place and a tube section do not match.",
        text: "A section of a twin goes into a half, such as `V7A`; a single tube and the first tube of a block \
               take a whole socket, such as `V7`. Add or leave out the letter.",
    },
    Entry {
        name: "places-of-block",
        summary: "A block is given single places.",
        text: "The tubes of a block follow one another, so a block is placed by its first tube: `from V11`. \
               Single places belong at the units inside the block.",
    },
    Entry {
        name: "rail-alternates",
        summary: "Something else than a heater hangs on a rail of alternating volts.",
        text: "A rail typed with `ac` is the winding that feeds heaters; its volts are rms and change their sign \
               a hundred times a second or more. A plate, a divider or a switch on it would follow. Take the \
               part to a rail of direct volts, or leave `ac` out if the supply is rectified.",
    },
    Entry {
        name: "range-backward",
        summary: "Two numbers run backward.",
        text: "An array counts upward, because `before` and `after` depend on it, and of two currents the smaller \
               stands first. Write the smaller number first.",
    },
    Entry {
        name: "range-odd",
        summary: "Two marks do not span a run.",
        text: "A run has the same letters at both ends and rising numbers, as in `G1 to G16` or `V1 to V4`. \
               Write it so, or name the units one by one.",
    },
    Entry {
        name: "reserved-word",
        summary: "A word with a meaning of its own is used as a name.",
        text: "Words such as plate, grid, cathode, ground, up and down mean the same everywhere, so that a \
               sentence can be read only one way. Choose another name.",
    },
    Entry {
        name: "sentence-of-input",
        summary: "A sentence begins with an input.",
        text: "Sentences say what outputs do; an input is whatever its driver makes it. Begin with an output, \
               or move the signal to the `outputs` line.",
    },
    Entry {
        name: "sentence-too-long",
        summary: "A sentence is too long.",
        text: "What one sentence says is proven row by row, which is bounded. A gate of tubes never says so \
               much. Make several circuits of it, or a block of them with a sentence of its own.",
    },
    Entry {
        name: "setting-odd",
        summary: "A trimmer's slider is set beyond its track.",
        text: "The setting is a percentage of the track, from `0%` at the first end to `100%` at the second. \
               Write one in between; the middle is what a new trimmer is usually set to.",
    },
    Entry {
        name: "shared-cathode",
        summary: "Two halves share a cathode but not a net.",
        text: "In this type both sections have one cathode on one pin, and the two units want it on different \
               nets. On the board the nets would be joined. Use halves whose cathodes go to the same net, \
               usually ground, or a type with two cathodes.",
    },
    Entry {
        name: "signal-twice",
        summary: "A signal of a unit is joined to two nets.",
        text: "One input or output goes to one net. Keep one of them; two nets that should be one take one \
               name.",
    },
    Entry {
        name: "signal-unconnected",
        summary: "A signal of a unit is not connected.",
        text: "Every input and output of the circuit must be given a net when a unit of it is placed, because a \
               forgotten input floats and a forgotten output is usually a forgotten wire. Add it; an output \
               that is meant to be free is written `open`.",
    },
    Entry {
        name: "statement-incomplete",
        summary: "A statement has nothing after its colon.",
        text: "The word begins a known kind of line that goes on with a colon and the things themselves, and \
               those are missing. Write them, or take the line out.",
    },
    Entry {
        name: "statement-unknown",
        summary: "A line begins with an unknown word.",
        text: "No kind of statement that belongs here begins with this word. It is not read, and neither are \
               the lines below it. The message gives the nearest word or lists what belongs here.",
    },
    Entry {
        name: "string-incomplete",
        summary: "A heater string does not say both its ends.",
        text: "A string is typed from the supply, through its heaters in their order, back to the supply or \
               ground. Without both ends its current has no way and no heater can be worked out. Write `from` \
               and `back to`.",
    },
    Entry {
        name: "temperature-odd",
        summary: "A temperature of the diodes that cannot be.",
        text: "`temperature 15C to 45C` says between which ends the semiconductor diodes of the machine stand, the \
               lowest first: the coldest and the hottest room, and what the cabinet is warmer. It is from -40C to \
               150C. For a temperature that does not move write it twice.",
    },
    Entry {
        name: "temperature-unused",
        summary: "A temperature is given, and there is no diode that follows it.",
        text: "Only semiconductor diodes follow a temperature here: their drop, saturation current and leakage. \
               Resistors drift with age where that is typed, and heaters warm cathodes whatever the room. Leave it \
               out until a circuit has such a diode.",
    },
    Entry {
        name: "tolerance-missing",
        summary: "A value states no tolerance.",
        text: "It is taken as exact, which makes the worst case too kind where spread counts: a rail without \
               one is not tried at its top with cold tubes. Add it after the value, such as `5%`, or in the \
               heading for all parts of the line.",
    },
    Entry {
        name: "tolerance-odd",
        summary: "A tolerance is no usual one.",
        text: "A tolerance of 100 % or more makes no sense; above 50 % no part is sold, and no supply is of use. \
               Usually a digit is doubled or a point is missing.",
    },
    Entry {
        name: "too-many-files",
        summary: "The design has too many files.",
        text: "The number is bounded so that no text can keep the program busy for ever. A machine needs one \
               file per kind of thing. Join some of them.",
    },
    Entry {
        name: "too-many-loads",
        summary: "The bench has too many resistors.",
        text: "The number of loads on the bench is bounded. They stand in for what the machine drives outside \
               itself, one or a few for each output. Write fewer.",
    },
    Entry {
        name: "too-many-signals",
        summary: "A circuit or block has too many signals.",
        text: "Rows of inputs double with each, so their number is bounded. Make several circuits or blocks of \
               it.",
    },
    Entry {
        name: "too-many-units",
        summary: "The machine has too many units.",
        text: "With blocks and arrays opened the number passes what is computed, so the units are not looked \
               at. A slipped digit in the size of an array is the usual reason.",
    },
    Entry {
        name: "tube-on-two-boards",
        summary: "The halves of one tube stand on two boards.",
        text: "A tube plugs into one socket on one board, and the units that use its halves are carried by \
               different ones. Move one of the units, or give it another tube.",
    },
    Entry {
        name: "two-drivers",
        summary: "Two outputs, or an output and a switch, drive one net.",
        text: "One pulls up while the other pulls down: the level lies in between and both carry more current \
               than they should. Tube outputs are joined through a gate's inputs, never directly. Give one of \
               them another net, or take one out.",
    },
    Entry {
        name: "two-types-in-one-socket",
        summary: "A socket is to hold two types of tube.",
        text: "The two halves of a socket are asked for by units whose circuits name different types. One tube \
               can be plugged in. Choose another socket for one of them, or the same type for both.",
    },
    Entry {
        name: "type-does-not-fit",
        summary: "A tube type cannot take another's place.",
        text: "Its electrodes or its number of sections differ from those of the circuit's tube, so the \
               circuit's nets do not fit its pins. Choose a type with the same electrodes, or write a circuit \
               for it. For a block, write `with` at the units inside it.",
    },
    Entry {
        name: "unit-carried-twice",
        summary: "A unit stands on two boards.",
        text: "A unit is built once. Name it after `carries` of one board only; the message shows the other \
               place.",
    },
    Entry {
        name: "unit-not-in-machine",
        summary: "A board carries a unit that does not stand in the machine.",
        text: "A board carries units, blocks and arrays by the names that their `unit` or `units` lines give \
               them, and there is none of this name. Correct the spelling, or write the unit.",
    },
    Entry {
        name: "unit-on-no-board",
        summary: "A unit stands on no board.",
        text: "Some boards are described, and this unit is on none of them, so it is missing from every wiring \
               list. Name it after `carries`, or leave it if its board is still to come.",
    },
    Entry {
        name: "unknown-circuit",
        summary: "A circuit or block that is not known.",
        text: "A unit or jig names a circuit that no file defines, so nothing can stand there. Correct the \
               spelling, write the circuit, or include the file that holds it.",
    },
    Entry {
        name: "unknown-net",
        summary: "A net that is not known.",
        text: "A string or connector names a net that no unit is on, so the wire would end nowhere. Name a \
               rail, a net of the machine, or a point inside a unit such as `G3.k`.",
    },
    Entry {
        name: "unknown-part",
        summary: "A part that the circuit does not have.",
        text: "A sentence about a part names it by its mark, as in `lit DS1 = a`, and no part of the circuit has \
               that mark. Correct the mark.",
    },
    Entry {
        name: "unknown-rail",
        summary: "A rail that is not known.",
        text: "Supplies are named by `rail` lines and by `ground`, which is always there. A misspelt one would \
               leave a part without its supply. Correct the name or add the rail.",
    },
    Entry {
        name: "unknown-signal",
        summary: "A signal that the circuit does not have.",
        text: "Inputs and outputs are those that the circuit or block lists in its first lines, shown in the \
               message. A wire to any other would go nowhere. Correct the name, or add it to the list.",
    },
    Entry {
        name: "unknown-tube",
        summary: "A string names a tube that no unit stands in.",
        text: "A string heats tubes that are in a socket of the machine, and dropping resistors written with \
               their value. The mark is misspelt, or the unit that should use the tube is not placed yet.",
    },
    Entry {
        name: "value-missing",
        summary: "A part has no value or type.",
        text: "A resistor without ohms or a diode without a type cannot be computed or bought. Write it after \
               the mark, or once in the heading when all parts of the line have the same.",
    },
    Entry {
        name: "which-lamp",
        summary: "A sentence does not say which of several lamps is lit.",
        text: "With one lamp in the circuit `lit = a` is enough. With several each has a sentence of its own that \
               names it, as in `lit DS1 = a`.",
    },
    Entry {
        name: "whole-of-twin",
        summary: "A whole twin tube is used as one part.",
        text: "A part is one section, with one plate and one grid, and this type has two. Write `half` before \
               the type, and a second part for the other half if the circuit uses it.",
    },
    Entry {
        name: "wrong-number-of-places",
        summary: "A unit is given too few or too many tube places.",
        text: "A circuit needs a place for every section in it, in the order in which its tubes are written. \
               Give as many as the message says, or place the unit in none and let the rest wait.",
    },
];
