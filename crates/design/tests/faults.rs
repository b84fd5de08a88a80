//! Every mistake is named where it stands, and nothing else is said.

use crate::machine::{check, read_files, read_text, said};

#[test]
fn a_design_on_the_shared_circuits_is_sound() {
    check("unit G1 nor2 in V1A: a x, b x, y open\nbench\n    switches: x upper or ground");
    check("");
}

#[test]
fn statements() {
    check("ral upper 36V 5%  #! statement-unknown: ral");
    check("resistors 5%: R1 680k a to b  #! misplaced-statement: resistors");
    check("circit c  #! statement-unknown: circit\n    inputs a\n    rail x");
    check(
        "circuit c\n    input a\n    unit G1 inv  #! misplaced-statement: unit\n    resistr R1 5k a to b  #! statement-unknown: resistr",
    );
    check("block b\n    tube V1 6C4: plate a  #! misplaced-statement: tube");
    check("board b\n    carry G1  #! statement-unknown: carry");
    check(
        "bench\n    switch x upper or ground  #! statement-unknown: switch\n    switches  #! statement-incomplete: switches",
    );
    check("bench\n    meter: 10M  #! statement-incomplete: meter");
    check("jig inv\n    meter 10M  #! statement-unknown: meter");
    check("rail x 5V 5%\n    y  #! misplaced-statement: y");
    check("rail x 5V 5%: y  #! words-left-over: y");
    check("machine One\nmachine Two  #! said-twice: Two");
    check("bench\n    meter 10M\n    meter 1M  #! said-twice: meter 1M");
    check(
        "circuit  #! word-missing: circuit\nblock  #! word-missing: block\nunit  #! word-missing: unit\nboard  #! word-missing: board\nstring  #! word-missing: string\nrail  #! word-missing: rail\nmachine  #! word-missing: machine\njig  #! word-missing: jig",
    );
}

#[test]
fn parts_of_heater_strings_and_windings() {
    let tubes = "unit H1 nor2 in V1A: a x, b x, y open\nbench\n    switches: x upper or ground\n";
    let string = |part: &str| {
        let (part, said) = part.split_once("  #!").expect("what is said follows");
        check(&format!(
            "{tubes}string S: from upper, V1, {part}, back to ground  #!{said}"
        ));
    };
    string("RT1 thermistor 8 to 220 at 300mA 20%  #! string-part-odd: RT1");
    string("RT1 thermistor 220 to 8 at -300mA 20%  #! value-not-positive: -300mA");
    string("RT1 thermistor -220 to 8 at 300mA 20%  #! value-not-positive: -220");
    string("RT1 thermistor 220 to 8 at 300mA  #! tolerance-missing: RT1");
    string("RT2 ballast 300mA from 15V to 5V 4%  #! string-part-odd: RT2");
    string("RT2 ballast 300mA from 5V 4%  #! word-expected: 4%");
    string("wire 1200mm  #! word-missing: 1200mm");
    string("wire -12mm by 1mm  #! value-not-positive: -12mm");
    string("copper 100mm by 2V  #! wrong-unit: 2V");
    string("wire 1200mm by 1mm beside R1 10 5%  #! string-part-odd: beside");
    check("rail winding 12.6V 5% ac, on lift  #! unknown-rail: lift");
    check("rail winding 12.6V 5%, on upper  #! rail-alternates: on upper");
    check("rail one 6.3V 5% ac\nrail two 6.3V 5% ac, on one  #! rail-alternates: on one");
    check(&format!(
        "{tubes}rail winding 12.6V 5% ac, on lower\nstring S: from winding, V1, back to ground  #! rail-alternates: ground"
    ));
    check("rail weak 6.3V 5%, limit -100mA  #! value-not-positive: -100mA");
    string("R1 10 5% 2W 3W  #! said-twice: 3W");
    string("R1 10 5%, R1 10 5%  #! name-taken: R1");
    check(&format!(
        "{tubes}unit H2 nor2 in V2A: a x, b x, y open\nstring S: from upper, V1, R1 10 5%, back to ground\nstring T: from upper, V2, R1 10 5%, back to ground  #! name-taken: R1"
    ));
}

#[test]
fn tolerances_on_the_bench() {
    let bench = |line: &str| {
        check(&format!(
            "unit G1 nor2 in V1A: a x, b x, y open\nbench\n    switches: x upper or ground{line}"
        ));
    };
    bench(" through 10k 5%");
    bench("\n    loads: x 150k 1% to ground");
    bench(" through 10k 100%  #! tolerance-odd: 100%");
    bench(" through 10k -5%  #! tolerance-odd: -5%");
    bench(" through 10k 5% 5%  #! words-left-over: 5%");
    bench(" 5%  #! words-left-over: 5%");
    bench("\n    loads: x 150k 60% to ground  #! tolerance-odd: 60%");
    bench("\n    loads: x 5% 150k to ground  #! wrong-unit: 5%");
    bench(" through 10k 5% hollow 2%");
    bench("\n    loads: x 150k 5% hollow 0% to ground");
    bench(" through 10k 5% hollow 5%  #! hollow-odd: 5%");
    bench(" through 10k hollow 2%  #! hollow-odd: 2%");
    bench(" through 10k 5% hollow  #! word-missing: hollow");
    bench(" through 10k hollow 2% 5%  #! hollow-odd: 2%; words-left-over: 5%");
}

#[test]
fn the_temperature_of_the_diodes() {
    check("temperature 15C to 45C");
    check("temperature -40°C to 150°C");
    check("temperature 25C to 25C");
    check("temperature  #! word-missing: temperature");
    check("temperature 15C  #! word-missing: 15C");
    check("temperature 15C 45C  #! word-expected: 45C");
    check("temperature 15 to 45C  #! wrong-unit: 15");
    check("temperature warm to 45C  #! not-a-value: warm");
    check("temperature 15C to 45C 5%  #! words-left-over: 5%");
    check("temperature 45C to 15C  #! temperature-odd: 45C to 15C");
    check("temperature -41C to 45C  #! temperature-odd: -41C");
    check("temperature 15C to 151C  #! temperature-odd: 151C");
    check("temperature 15C to 45C: 5%  #! words-left-over: 5%");
    check("temperature 15C to 45C\ntemperature 20C to 40C  #! said-twice: temperature 20C to 40C");
}

#[test]
fn lots_of_tubes() {
    let lot = |line: &str| {
        check(&format!(
            "unit G1 nor2 in V1A: a x, b x, y open\nbench\n    switches: x upper or ground\n{line}"
        ));
    };
    lot(
        "lot 6922: current 85% to 112%, mu 95% to 104%, halves 10%, alike 20%, cut-off 0.1V, aged to 60%",
    );
    lot("lot E88CC [my tester]: current 85% to 112%");
    lot("lot 6922: reverse 0A");
    lot("lot 6292: current 85% to 112%  #! unknown-type: 6292");
    lot("lot  #! word-missing: lot");
    lot("lot 6922  #! lot-empty: 6922");
    lot("lot 6922:  #! lot-empty: 6922");
    lot("lot 6922 current 85% to 112%  #! colon-missing: current");
    lot("lot 6922 6C4: current 85% to 112%  #! words-left-over: 6C4");
    lot("lot 6922: halves 10%\nlot E88CC: aged to 60%  #! said-twice: E88CC");
    lot("lot 6922: halves 10%\n    aged to 60%  #! misplaced-statement: aged to 60%");
    lot("lot 6DJ8: halves 10%  #! lot-unused: 6DJ8");
    lot("lot 6922: current 112% to 85%  #! spread-odd: 112% to 85%");
    lot("lot 6922: current 0% to 112%  #! spread-odd: 0%");
    // All of a lot may lie to one side of the book.
    lot("lot 6922: current 60% to 85%, mu 101% to 112%");
    lot("lot 6922: mu 110% to 101%  #! spread-odd: 110% to 101%");
    lot("lot 6922: cut-off 50V  #! spread-odd: 50V");
    lot("lot 6922: cut-off 3V");
    lot("lot 6922: current 90% to 110%, aged to 95%  #! spread-odd: 95%");
    lot("lot 6922: current 90% to 110%, aged to 90%");
    lot("lot 1N4148: saturation 2 times, leakage 25nA at 20V");
    lot("lot 1N4148: current 90% to 110%  #! unknown-value: current");
    lot("lot 1N4148: saturation 0.5 times  #! spread-odd: 0.5");
    lot("lot 1N4148: leakage 25nA  #! word-expected: leakage 25nA");
    lot("lot 1N4148  #! lot-empty: 1N4148");
    lot("lot 1N4148: saturation 2 times\nlot 1N4148: leakage 25nA at 20V  #! said-twice: 1N4148");
    lot("lot 1N34A: saturation 2 times  #! lot-unused: 1N34A");
    // All of a lot of lamps may lie beside the volts of their law.
    lot("lot NE-2: strike 64V to 68V  #! lot-unused: NE-2");
    lot("lot NE-2: strike 68V to 64V  #! spread-odd: strike 68V to 64V; lot-unused: NE-2");
    lot(
        "lot NE-2: strike 50V to 68V  #! strike-too-low: lot NE-2: strike 50V to 68V; lot-unused: NE-2",
    );
    lot("lot NE-2: current 90% to 110%  #! unknown-value: current; lot-unused: NE-2");
    lot("lot 6922: halves 110%  #! spread-odd: 110%");
    lot("lot 6922: alike 0%  #! spread-odd: 0%");
    lot("lot 6922: halves 30%, alike 20%  #! spread-odd: halves 30%");
    lot("lot 6922: current 85% to 112%, aged to 80%, alike 40%  #! spread-odd: alike 40%");
    lot("lot 6922: aged to 0%  #! spread-odd: 0%");
    lot("lot 6922: cut-off -0.1V  #! spread-odd: -0.1V");
    lot("lot 6922: halves 10%, halves 20%  #! said-twice: halves");
    lot("lot 6922: curent 85% to 112%  #! unknown-value: curent");
    lot("lot 6C4: halves 10%  #! half-odd: halves 10%");
    let near = crate::machine::read_text("valvewright format 1\nlot 6292: halves 10%");
    assert_eq!(
        near.diagnostics[0].remedies,
        ["The nearest name is `6922`."]
    );
}

#[test]
fn drift_of_resistors() {
    let resistors = |line: &str| check(&format!("circuit c\n    input a\n    {line}"));
    resistors("resistors 10% drift 20%: R1 680k a to upper, R2 680k drift 60% a to ground");
    resistors("resistor R1 680k drift 20% 10% a to upper");
    resistors("resistors 10% drift: R1 680k a to upper  #! word-missing: drift");
    resistors("resistors 10%: R1 680k drift a to upper  #! word-missing: drift");
    resistors("resistors 10%: R1 680k drift 1M a to upper  #! word-missing: drift; said-twice: 1M");
    resistors("resistors 10% drift -20%: R1 680k a to upper  #! drift-odd: -20%");
    resistors("resistors 10% drift 120%: R1 680k a to upper  #! drift-odd: 120%");
    resistors("capacitors drift 20%: C1 1n a to upper  #! not-a-value: drift");
    check(
        "unit H1 nor2 in V1A: a x, b x, y open\nbench\n    switches: x upper or ground\nstring S: from upper, V1, R9 56 10% drift 20% 5W, back to ground  #! string-part-odd: R9",
    );
}

#[test]
fn hollow_bands_of_resistors() {
    let resistors = |line: &str| check(&format!("circuit c\n    input a\n    {line}"));
    resistors("resistors 5% hollow 2%: R1 680k a to upper, R2 680k hollow 0% a to ground");
    resistors("resistor R1 680k hollow 2% 5% drift 20% a to upper");
    resistors("resistors hollow 2%: R1 680k 5% a to upper, R2 680k 10% a to ground");
    resistors("resistors 5% hollow: R1 680k a to upper  #! word-missing: hollow");
    resistors("resistors 5% hollow 5%: R1 680k a to upper  #! hollow-odd: 5%");
    resistors("resistors 5%: R1 680k hollow 7% a to upper  #! hollow-odd: 7%");
    resistors("resistors 5% hollow 2%: R1 680k 1% a to upper  #! hollow-odd: 2%");
    resistors("resistors 5% hollow -2%: R1 680k a to upper  #! hollow-odd: -2%");
    resistors("capacitors hollow 2%: C1 1n a to upper  #! not-a-value: hollow");
    check(
        "unit H1 nor2 in V1A: a x, b x, y open\nbench\n    switches: x upper or ground\nstring S: from upper, V1, R9 56 10% hollow 2% 5W, back to ground  #! string-part-odd: R9",
    );
}

#[test]
fn the_version_is_stated_and_known() {
    assert_eq!(
        said(&read_text("rail upper 36V 5%")),
        [("format-missing", "rail upper 36V 5%".to_owned())]
    );
    assert_eq!(
        said(&read_text("machine M\nvalvewright format 1")),
        [("format-missing", "valvewright format 1".to_owned())]
    );
    assert_eq!(
        said(&read_text("valvewright format 2")),
        [("format-unknown", "2".to_owned())]
    );
    assert_eq!(
        said(&read_text("valvewright version 1")),
        [("word-expected", "version".to_owned())]
    );
    // An empty file lacks its first line too.
    assert_eq!(said(&read_text("")), [("format-missing", String::new())]);
    let reading = read_text("valvewright format 2");
    assert!(
        reading.diagnostics[0].message.contains("version 2")
            && reading.diagnostics[0].message.contains("version 1")
    );
}

#[test]
fn includes() {
    let start = "valvewright format 1\ninclude a.valve";
    let circle = read_files(&[
        ("machine.valve", start),
        ("a.valve", "include ./b.valve"),
        ("b.valve", "include x/../a.valve"),
    ]);
    assert_eq!(
        said(&circle),
        [("include-circle", "x/../a.valve".to_owned())]
    );
    assert!(
        circle.diagnostics[0]
            .message
            .ends_with("a.valve includes b.valve includes a.valve")
    );
    let itself = read_files(&[(
        "machine.valve",
        "valvewright format 1\ninclude machine.valve",
    )]);
    assert_eq!(
        said(&itself),
        [("include-circle", "machine.valve".to_owned())]
    );
    let twice = read_files(&[
        (
            "machine.valve",
            "valvewright format 1\ninclude a.valve\ninclude b.valve",
        ),
        ("a.valve", "include b.valve"),
        ("b.valve", "rail upper 36V 5%"),
    ]);
    assert_eq!(
        said(&twice),
        [],
        "a file included by two files is read once"
    );
    check("include  #! word-missing: include");
    check("include a b  #! words-left-over: b; file-unreadable: a");
}

#[test]
fn a_missing_file_hides_no_more_than_the_names_it_may_define() {
    check(
        "include gates.valve  #! file-unreadable: gates.valve\nunit G1 nor4: a x, y z\nunit G2 inv: a z, y w\nrail r 5  #! wrong-unit: 5; tolerance-missing: r",
    );
}

#[test]
fn rails() {
    check("rail r  #! word-missing: r");
    check("rail r 5%  #! wrong-unit: 5%; tolerance-missing: r");
    check("rail r 36V  #! tolerance-missing: r");
    check("rail r 36V 70%  #! tolerance-odd: 70%");
    check("rail r 36V -1%  #! tolerance-odd: -1%");
    check("rail r 36V 100%  #! tolerance-odd: 100%");
    check("rail r 0V 5%  #! value-odd: 0V");
    check("rail r 36kV 5%  #! value-odd: 36kV");
    check("rail r 36X 5%  #! unknown-unit: 36X");
    check("rail r 1e300V 5%  #! value-odd: 1e300V");
    check("rail r 36V 5%, limit 0A  #! value-not-positive: 0A");
    check("rail r 36V 5%, limit 600  #! wrong-unit: 600");
    check("rail r 36V 5%, limt 600mA  #! words-left-over: limt 600mA");
    check("rail upper 36V 5%  #! name-taken: upper");
    check("rail r 36V 5%, limit 2A, limit 3A  #! said-twice: limit");
    check("rail r 36V 5%, capacitor 10u, capacitor 10u  #! said-twice: capacitor");
    check("rail r 36V 5%, bleeder 10k, bleeder 10k  #! said-twice: bleeder");
    check("rail r 36V 5% 6%  #! words-left-over: 6%");
    check("rail w 12.6V 5% ac, on upper, on upper  #! said-twice: on");
    check(
        "rail plate 36V 5%  #! reserved-word: plate\nrail 5r 36V 5%  #! bad-name: 5r\nrail a.b 36V 5%  #! bad-name: a.b\nrail ( 5V 5%  #! bad-name: (",
    );
}

#[test]
fn signals_of_a_circuit() {
    check("circuit c\n    inputs a a, output y  #! name-taken: a\n    resistors 5%: R1 1M a to y");
    check("circuit c\n    inputs a, output a  #! name-taken: a\n    resistors 5%: R1 1M a to b");
    check("circuit c\n    inputs upper  #! name-taken: upper");
    check("circuit c\n    inputs a open  #! reserved-word: open");
    check("circuit c\n    inputs a, y  #! word-expected: y");
    check("circuit c\n    inputs  #! word-missing: inputs");
    check(
        "circuit c\n    inputs a b, output y  #! loose-end: b; loose-end: y\n    resistors 5%: R1 1M a to ground",
    );
    check("circuit inv  #! name-taken: inv\nblock inv  #! name-taken: inv");
    check("circuit a.b  #! bad-name: a.b\ncircuit c d  #! words-left-over: d");
}

#[test]
fn sentences() {
    let sentence = |line: &str| {
        check(&format!(
            "circuit c\n    inputs a b, output y\n    {line}\n    resistors 5%: R1 1M a to y, R2 1M b to y"
        ))
    };
    for sound in [
        "y = a",
        "y = not a and b or a xor b",
        "y = (a or (b and not not y))",
        "y = up or down",
        "y = a when b rises",
    ] {
        sentence(sound);
    }
    sentence("y = a or  #! word-missing: or");
    sentence("y =  #! word-missing: =");
    sentence("y = a b  #! words-left-over: b");
    sentence("y = (a or b  #! word-missing: b");
    sentence("y = a)  #! words-left-over: )");
    sentence("y = a or c  #! unknown-signal: c");
    sentence("x = a  #! unknown-signal: x");
    sentence("a = b  #! sentence-of-input: a");
    sentence("y = a when b drops  #! word-expected: drops");
    sentence("y = a when  #! word-missing: when");
    sentence("y = a\n    y = b  #! said-twice: y = b");
    sentence(&format!(
        "y = a {}  #! sentence-too-long: y = a {}",
        "or a ".repeat(400),
        "or a ".repeat(400)
    ));
    check(
        "circuit c\n    inputs a, outputs x y  #! output-says-nothing: y\n    x = a\n    resistors 5%: R1 1M a to x, R2 1M a to y",
    );
}

#[test]
fn sentences_about_parts() {
    let lamps = |line: &str| {
        check(&format!(
            "circuit c\n    inputs a\n    {line}\n    neons NE-2: DS1 a to n, DS2 a to n\n    resistors 5%: R1 1M n to ground"
        ))
    };
    for sound in [
        "lit DS1 = a",
        "lit DS1 = not a\n    lit DS2 = a",
        "current R1 18mA to 22mA = a",
        "current DS1 1mA to 1mA = not a",
    ] {
        lamps(sound);
    }
    check(
        "circuit c\n    inputs a\n    lit = a\n    neons NE-2: DS1 a to n\n    resistors 5%: R1 1M n to ground",
    );
    check(
        "circuit c\n    inputs a, output current\n    current = a\n    resistors 5%: R1 1M a to current",
    );
    lamps("lit = a  #! which-lamp: lit");
    lamps("lit R1 = a  #! not-a-lamp: R1");
    lamps("lit DS3 = a  #! unknown-part: DS3");
    lamps("lit DS1 = b  #! unknown-signal: b");
    lamps("lit DS1 = a b  #! words-left-over: b");
    lamps("lit DS1  #! word-missing: DS1");
    lamps("lit  #! which-lamp: lit; word-missing: lit");
    lamps("lit DS1 = a\n    lit DS1 = not a  #! said-twice: lit DS1 = not a");
    lamps("current R9 1mA to 2mA = a  #! unknown-part: R9");
    lamps("current R1 18V to 22mA = a  #! wrong-unit: 18V");
    lamps("current R1 22mA to 18mA = a  #! range-backward: 22mA to 18mA");
    lamps("current R1 0mA to 18mA = a  #! value-not-positive: 0mA to 18mA");
    lamps("current R1 18mA = a  #! word-expected: =");
    lamps("current  #! word-missing: current");
    check(
        "circuit c\n    inputs a, output y\n    lit = a  #! not-a-lamp: lit\n    resistors 5%: R1 1M a to y",
    );
}

#[test]
fn parts() {
    let part = |line: &str| {
        check(&format!(
            "circuit c\n    inputs a, output y\n    {line}\n    resistors 5%: R88 1M a to y, R89 1M a to y"
        ))
    };
    for sound in [
        "resistors 5%: R1 680k a to y",
        "resistors: R1 680k 1% 2W a to y, R2 0.47 5% a to y",
        "resistors 10k 5%: R1 a to y, R2 a to y, R3 22k a to y",
        "resistor R1 680k 5% a to y",
        "resistors 5%: R1 680k [from the bin] a to y",
        "capacitor C1 15p 10% a to y",
        "inductors: L1 2H 100ohm a to y, L2 10m a to y",
        "diode CR1 1N4148 a to y",
        "neons NE-2: DS1 a to y",
        "switches: S1 a to y open, S2 a to y closed",
        "source BT1 5V a to y",
    ] {
        part(sound);
    }
    part("resistors 5%: R1 a to y  #! value-missing: R1");
    part("resistors: R1 680k a to y  #! tolerance-missing: R1");
    part("resistors 5%: 680k a to y  #! mark-missing: 680k");
    part("resistors 5%: R1 680k a y  #! ends-missing: R1 680k a y");
    part("resistors 5%: R1 680k a to  #! word-missing: to");
    part("resistors 5%: R1 680k a to y z  #! words-left-over: z");
    part("resistors 5%: R1 680k a to a  #! ends-together: a to a");
    part("resistors 5%: R1 680k plate to y  #! reserved-word: plate");
    part("resistors 5%: R1 680k 1a to y  #! bad-name: 1a");
    part("resistors 5%: R1 680k b.c to y  #! bad-name: b.c");
    part("resistors 5%: R1 68ok a to y  #! unknown-unit: 68ok");
    part("resistors 5%: R1 -5k a to y  #! value-not-positive: -5k");
    part("resistors 5%: R1 0 a to y  #! value-not-positive: 0");
    part("resistors 5%: R1 680p a to y  #! value-odd: 680p");
    part("resistors 5%: R1 680G a to y  #! value-odd: 680G");
    part("resistors 5% 0W: R1 680k a to y  #! value-not-positive: 0W");
    part("resistors 5%: R1 680k 10% 5% a to y  #! said-twice: 5%");
    part("resistors 5% 10%: R1 680k a to y  #! said-twice: 10%");
    part("resistors 5% 0.5W: R1 680k 1W 2W a to y  #! said-twice: 2W");
    part("resistors 5V: R1 680k 5% a to y  #! wrong-unit: 5V");
    part("resistors 60%: R1 680k a to y  #! tolerance-odd: 60%");
    part("resistors 5%: C1 680k a to y  #! mark-letter: C1");
    part("resistors 5%: R 680k a to y  #! mark-letter: R");
    part("resistors 5%: R1 680k a to y, R1 1M a to y  #! name-taken: R1");
    part("resistors 5%:  #! word-missing: resistors");
    part("capacitors 10%: C1 1 a to y  #! value-odd: 1");
    part("capacitors 10% 0V: C1 1n a to y  #! value-not-positive: 0V");
    part("inductors: L1 2H -1ohm a to y  #! value-not-positive: -1ohm");
    part("inductors: L1 2H 10% a to y  #! wrong-unit: 10%");
    part("diodes 1N4184: CR1 a to y  #! unknown-type: 1N4184");
    part("diodes: CR1 a to y  #! value-missing: CR1");
    part("neons NE-22: DS1 a to y  #! unknown-type: NE-22");
    part("switches: S1 a to y  #! word-missing: y");
    part("switches: S1 a to y shut  #! word-expected: shut");
    part("sources: BT1 a to y  #! value-missing: BT1");
    part("trimmers 20%: R1 100k a to y  #! word-missing: y");
    part("trimmers 20%: R1 100k a to y slider g at 120%  #! setting-odd: 120%");
    part("trimmers 20%: R1 100k a to y slider y at 40  #! wrong-unit: 40");
}
