//! A machine of any length in which one net drives half of the gates.

/// A shift register of this many tube halves, four gates a stage; every second stage holds while the others follow.
#[must_use]
pub fn register(tubes: usize) -> String {
    let stages = tubes / 4;
    let mut text = format!("{NOR2}{LATCH}");
    for stage in 1..=stages {
        let hold = if stage % 2 == 0 { "even" } else { "odd" };
        let before = stage - 1;
        text +=
            &format!("unit S{stage} latch: d d{before}, hold {hold}, q d{stage}, qn n{stage}\n");
    }
    text += &format!(
        "bench\n    switches: d0 upper or ground through 10k, odd upper or ground through 10k, \
         even upper or ground through 10k\n    loads: d{stages} 1M to ground\n"
    );
    text
}

/// Rails, and a diode gate as on the program's shelf.
pub const NOR2: &str = "valvewright format 1
rail upper 36V 5%
rail lower -24V 5%
circuit nor2
    inputs a b, output y
    y = not (a or b)
    diodes 1N4148: CR1 a to join, CR2 b to join
    resistors 5%: R1 680k join to g1, R2 1M2 g1 to lower, R3 82k upper to y
    tube V1 half 6922: plate y, grid g1, cathode ground
";

/// A gated latch of four of them.
const LATCH: &str = "block latch
    inputs d hold, outputs q qn
    q = (d and not hold) or (q and hold)
    qn = not q
    unit D1 nor2: a d, b hold, y reset
    unit D2 nor2: a reset, b hold, y set
    unit Q1 nor2: a reset, b qn, y q
    unit Q2 nor2: a set, b q, y qn
";
