//! What the tool has to say about a machine: findings, each with the two numbers that clash, its cause, and what to try.

use text::diagnostic::{Entry, Severity};
use text::quantity::{Unit, show};
use text::source::Span;

/// A number that a finding turns on.
#[derive(Debug, Clone, PartialEq)]
pub struct Amount {
    /// What it is: "plate of V3", "largest plate volts (design-centre)".
    pub what: String,
    /// Its value in the SI unit.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
}

impl Amount {
    /// An amount.
    #[must_use]
    pub fn new(what: impl Into<String>, value: f64, unit: Unit) -> Self {
        Self {
            what: what.into(),
            value,
            unit,
        }
    }

    /// The value with three figures and its unit.
    #[must_use]
    pub fn shown(&self) -> String {
        show(self.value, self.unit, 3)
    }
}

/// With its first letter large.
pub(crate) fn capitalised(text: &str) -> String {
    let mut characters = text.chars();
    characters
        .next()
        .map(|first| first.to_uppercase().chain(characters).collect())
        .unwrap_or_default()
}

/// A name at the beginning of a sentence. One from the text, which has no space in it, stays as it is typed; what the tool
/// itself calls something ("driver of a") gets a capital.
pub(crate) fn opening(name: &str) -> String {
    if name.contains(' ') {
        capitalised(name)
    } else {
        name.to_owned()
    }
}

/// Something the tool has to say.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Stable kebab-case name; see [`CATALOGUE`].
    pub name: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// The place in the text that causes it.
    pub span: Span,
    /// Unit, circuit, string or net: `G14`, `circuit nor3`.
    pub subject: String,
    /// What is.
    pub has: Option<Amount>,
    /// What should be.
    pub needs: Option<Amount>,
    /// Why, one sentence.
    pub cause: String,
    /// What to try, one sentence each.
    pub tries: Vec<String>,
    /// What follows from it.
    pub consequences: Vec<Finding>,
}

impl Finding {
    /// A fault.
    #[must_use]
    pub fn fault(
        name: &'static str,
        span: Span,
        subject: impl Into<String>,
        cause: impl Into<String>,
    ) -> Self {
        Self::new(name, Severity::Fault, span, subject, cause)
    }

    /// A caution.
    #[must_use]
    pub fn caution(
        name: &'static str,
        span: Span,
        subject: impl Into<String>,
        cause: impl Into<String>,
    ) -> Self {
        Self::new(name, Severity::Caution, span, subject, cause)
    }

    /// A finding whose numbers decide how severe it is.
    pub fn new(
        name: &'static str,
        severity: Severity,
        span: Span,
        subject: impl Into<String>,
        cause: impl Into<String>,
    ) -> Self {
        debug_assert!(entry(name).is_some(), "{name} is not in the catalogue");
        Self {
            name,
            severity,
            span,
            subject: subject.into(),
            has: None,
            needs: None,
            cause: cause.into(),
            tries: Vec::new(),
            consequences: Vec::new(),
        }
    }

    /// With the two numbers that clash.
    #[must_use]
    pub fn numbers(mut self, has: Amount, needs: Amount) -> Self {
        self.has = Some(has);
        self.needs = Some(needs);
        self
    }

    /// With something to try.
    #[must_use]
    pub fn attempt(mut self, text: impl Into<String>) -> Self {
        self.tries.push(text.into());
        self
    }
}

/// The entry of a finding.
#[must_use]
pub fn entry(name: &str) -> Option<&'static Entry> {
    CATALOGUE.iter().find(|entry| entry.name == name)
}

/// Every finding the machine's check can make.
pub const CATALOGUE: &[Entry] = &[
    Entry {
        name: "no-curve",
        summary: "A tube type has no curve to compute with.",
        text: "The type is known by its ratings only, so no current can be computed for it and no unit with it is judged. \
               Give points from its data sheet or your own measurements (a type statement with points), or choose another type.",
    },
    Entry {
        name: "sources-clash",
        summary: "Sources or closed switches contradict one another.",
        text: "Two sources, or a source and a closed switch, lie across the same two points with different volts. On the bench \
               the current there is limited by nothing but the wire. Take one of them out, or put the resistor in that was meant.",
    },
    Entry {
        name: "floating-net",
        summary: "A point is held by nothing but leakage.",
        text: "No resistor, diode or tube leads from this point to a rail or to ground: only a grid or a capacitor hangs on it. Its \
               volts come from leakage and stray charge and settle over seconds, so nothing printed for it can be trusted. \
               Usually a resistor is missing or goes to a misspelt name.",
    },
    Entry {
        name: "does-not-settle",
        summary: "No steady volts were found in some row.",
        text: "The equations of the circuit found no point of rest: not from the start given, not with the rails brought up in \
               steps, not by letting it settle in time. The points named are those where the currents balance worst. Lamps that \
               light and go out again (a relaxation oscillator) and senseless part values are the usual reasons.",
    },
    Entry {
        name: "not-judged",
        summary: "Too much to go through: part of the machine was not judged.",
        text: "The work of one check is bounded: the parts of a unit with its neighbours times the rows of their inputs, and \
               everything solved together. What lies beyond is not judged, and nothing is said of its levels and ratings. No \
               machine wired by hand comes near; a circuit with hundreds of parts does, and so does a large machine in which \
               hardly anything comes to rest.",
    },
    Entry {
        name: "loads-left-out",
        summary: "A net has more loads than are solved together.",
        text: "Every gate on a net is solved together with the others on it, up to 32 of them. Further ones are left out, so that \
               the level of the net comes out better than it is. No single plate drives so many; where a switch of the bench \
               does, divide the net and give each part a follower or a gate of its own.",
    },
    Entry {
        name: "wrong-function",
        summary: "The circuit does something else than its sentence says.",
        text: "With clean levels at its inputs (ground for down, the highest rail of it and its drivers for up) the output goes the wrong way in at least \
               one row, or the rows that should be up and those that should be down cannot be told apart. When turning one \
               diode round, taking one resistor to another rail, or a value ten times larger or smaller makes it right, that is named.",
    },
    Entry {
        name: "not-cut-off",
        summary: "A tube that should be off still conducts.",
        text: "The down level before it, through the gate's own divider, must hold the grid so far negative that only a stated \
               residual current is left. Loads never help here; the divider to the negative rail, that rail itself, or a \
               lower down level of the gate before must.",
    },
    Entry {
        name: "down-level-too-high",
        summary: "A down level lies above the threshold of a gate that it drives.",
        text: "A gate takes its input for down only below the lower point where its transfer curve has slope one. The down level of \
               the driver, with its real loads and the weakest row of its own inputs, must lie below that.",
    },
    Entry {
        name: "up-level-too-low",
        summary: "An up level lies below the threshold of a gate that it drives.",
        text: "A gate takes its input for up only above the upper point where its transfer curve has slope one. The up level of the \
               driver, with all its loads drawing what they can, must lie above that.",
    },
    Entry {
        name: "overloaded",
        summary: "Too many loads pull an up level below a threshold.",
        text: "Without loads the level would do; each load draws current through the plate resistor and takes it down. Drive fewer \
               gates, put a follower in between, or use larger resistors in the loads' dividers.",
    },
    Entry {
        name: "thin-margin",
        summary: "A level clears its threshold, but by little.",
        text: "At book values and nominal rails the level is on the right side, with less to spare than one twentieth of the swing. \
               Spread of tubes and resistors will use that up.",
    },
    Entry {
        name: "worst-case-down",
        summary: "In the worst case a down level is too high for what it drives.",
        text: "At book values the level is low enough. With every part anywhere in its band and every rail at an end of its \
               tolerance it may not be: the finding names the parts that weigh most, and where the rails then stand. Closer \
               parts, another value of the bias divider, or a tube that is known to be strong mend it.",
    },
    Entry {
        name: "worst-case-up",
        summary: "In the worst case an up level is too low for what it drives.",
        text: "At book values the level is high enough. With every part anywhere in its band and every rail at an end of its \
               tolerance it may not be: the finding names the parts that weigh most, and where the rails then stand. Fewer \
               loads, closer parts, or a smaller plate resistor mend it.",
    },
    Entry {
        name: "worst-case-state-lost",
        summary: "Somewhere in the bands of its parts a circuit loses a stored state.",
        text: "At book values every state lasts. With some of its parts at the ends of their bands one does not: a tube that does \
               not match its partner, a resistor at its limit, a rail low. Closer parts or values with more to spare mend it.",
    },
    Entry {
        name: "worst-case-not-known",
        summary: "In the worst case an input has no threshold.",
        text: "At book values the gate amplifies and its input has thresholds. With the rails at a corner and the parts where they \
               do most harm it does not, or its equations came to no rest there, so nothing is said about what it has to spare.",
    },
    Entry {
        name: "worst-case-lamp-dark",
        summary: "In the worst case a lamp that should be lit is not.",
        text: "By the book it is lit. With every part anywhere in its band, the rails at an end of their tolerance and the lowest \
               up or highest down level before it, the plate of an indicator tube takes less than reads as lit, or a neon lamp \
               does not get the volts at which the latest of its type strikes, or not the current that it holds with. A higher \
               rail, a smaller resistor before it, or closer parts mend it.",
    },
    Entry {
        name: "worst-case-lamp-lit",
        summary: "In the worst case a lamp that should be out is lit.",
        text: "By the book it is out. With every part anywhere in its band, the rails at an end of their tolerance and the worst \
               level before it, the plate of an indicator tube takes more than where its light goes out, or a neon lamp keeps the \
               volts at which the lowest of its type still holds, or strikes. A grid taken further down, or less volts across the \
               lamp, mend it.",
    },
    Entry {
        name: "worst-case-current",
        summary: "In the worst case the current of a load is not what its sentence wants.",
        text: "By the book it is. With every part anywhere in its band, the rails at an end of their tolerance and the worst level \
               before it, it is too small to pull, too large, or does not fall far enough to let go. Another resistor in the loop, \
               closer parts, or a grid taken further down mend it.",
    },
    Entry {
        name: "worst-case-no-swing",
        summary: "In the worst case the two states of an output stand at the same volts.",
        text: "Nothing here asks a level of this output, so it is not judged by a threshold. But with every part anywhere in its \
               band its highest volts when down are no longer below its lowest when up, so no threshold outside tells them apart with \
               every part that may stand there. Closer parts, more to spare before it, or a gate that restores mend it.",
    },
    Entry {
        name: "no-restoring",
        summary: "Followers feed followers: nothing restores the level.",
        text: "None of the circuits in this chain amplifies, so an error of level grows from one to the next and no threshold is \
               defined. Put an amplifying gate into the chain.",
    },
    Entry {
        name: "state-lost",
        summary: "A stored state does not last.",
        text: "By the gates' sentences this state holds itself, but at volts the loop has no point of rest there, or one that no \
               circuit stays in: the levels around the loop are eaten by a load, or one half cannot hold the other.",
    },
    Entry {
        name: "extra-state",
        summary: "A loop rests in a state that its sentences do not have.",
        text: "Scanning the loop found more points of rest than the gates' sentences allow. The circuit can hang there after \
               switch-on.",
    },
    Entry {
        name: "stores-nothing",
        summary: "A block that should store has no two states.",
        text: "The block's sentence keeps a value, but its units, as they are wired, settle to the same state whatever was there \
               before. Usually a cross connection is missing or goes to the wrong net.",
    },
    Entry {
        name: "block-does-otherwise",
        summary: "A block's units do something else than its sentence says.",
        text: "With each gate doing what its own sentence says, the block's outputs differ from the block's sentence in the row named.",
    },
    Entry {
        name: "plate-volts",
        summary: "Plate volts beyond the rating.",
        text: "Checked in every row, and with all tubes cold and every rail at the top of its tolerance, when each plate stands at its \
               rail. A separate rating for cold or cut-off plates is used where the sheet has one.",
    },
    Entry {
        name: "plate-watts",
        summary: "Plate dissipation beyond the rating.",
        text: "Plate volts times plate current, at rest, in the worst row. Common practice (no source) stays below half the rating.",
    },
    Entry {
        name: "screen-rating",
        summary: "Screen volts or dissipation beyond the rating.",
        text: "Checked at rest in every row.",
    },
    Entry {
        name: "cathode-amps",
        summary: "Cathode current beyond the rating.",
        text: "Plate, screen and grid current together, in the worst row.",
    },
    Entry {
        name: "negative-grid",
        summary: "Grid more negative than the type allows.",
        text: "Checked in every row and with the inputs unplugged, when the divider leaves the grid near the negative rail at the \
               top of its tolerance.",
    },
    Entry {
        name: "grid-resistance",
        summary: "Resistance in the grid circuit above the limit.",
        text: "Reverse grid current through this resistance moves the bias. The resistance seen from the grid is computed at each \
               row's volts, with the tube's own grid current left out; fixed and cathode bias have limits of their own.",
    },
    Entry {
        name: "diode-reverse-volts",
        summary: "Reverse volts across a diode beyond the rating.",
        text: "Checked at rest in every row.",
    },
    Entry {
        name: "diode-current",
        summary: "Diode current or dissipation beyond the rating.",
        text: "Checked at rest in every row.",
    },
    Entry {
        name: "resistor-watts",
        summary: "A resistor takes more than its rated power.",
        text: "Checked where the text states a rating. Common practice (no source) stays below half.",
    },
    Entry {
        name: "capacitor-volts",
        summary: "Volts across a capacitor beyond its rating.",
        text: "Checked where the text states a rating, in every row and with all tubes cold and rails at the top of their tolerance.",
    },
    Entry {
        name: "lamp-stays-dark",
        summary: "A lamp that should be lit is not.",
        text: "A sentence such as `lit = a` says when the lamp is lit. A neon lamp strikes at or above its striking volts: it is \
               solved from dark, with the real drivers, and must end lit. An indicator triode counts as lit when its plate takes \
               at least half the power of the brightest point on its sheet (chosen): full current at a few volts does not glow.",
    },
    Entry {
        name: "lamp-stays-lit",
        summary: "A lamp that should be out is not.",
        text: "A neon lamp that was struck goes on as long as its holding current can flow, well below the volts at which it strikes: \
               it is solved from lit and must end dark. An indicator triode is out when it carries no more than at the point where \
               its sheet says the light goes out.",
    },
    Entry {
        name: "current-too-small",
        summary: "A load gets less current than it wants.",
        text: "A sentence such as `current L1 18mA to 22mA = a` says how much current a part wants and when. A tube drops tens of \
               volts at such currents even with its grid at zero, and what it drops is missing at the load.",
    },
    Entry {
        name: "current-too-large",
        summary: "A load gets more current than it wants.",
        text: "A sentence such as `current L1 18mA to 22mA = a` says how much current a part wants and when. A magnet with too much \
               of it gets warm and lets go late.",
    },
    Entry {
        name: "current-stays-on",
        summary: "A load's current should be off and still flows.",
        text: "Off is less than a tenth of the smallest current wanted (chosen, because relay sheets commonly promise release \
               at a tenth of the rated volts). Usually the tube that switches it is not cut off at the volts of the open loop.",
    },
    Entry {
        name: "rail-overloaded",
        summary: "A rail must give more than its limit.",
        text: "A fault where a state of the inputs and of what stores was found in which the units, the bleeder and the heater \
               strings together take more than the limit; `power` names it. A caution where only the sum of every unit's \
               worst exceeds it and not every state could be tried: the units need not stand at their worst together.",
    },
    Entry {
        name: "cold-tubes",
        summary: "With cold tubes a rating is exceeded at every switch-on.",
        text: "For some seconds the rails are up and no tube carries anything: plates stand at their rails, and a follower's \
               cathode is pulled to where its resistor leads. Every unit is solved so, with its drivers and loads and every rail \
               at the top of its tolerance, and held against all ratings. The worst stands first. Bring the rails up when \
               the tubes are warm, or use parts that stand it.",
    },
    Entry {
        name: "rail-missing",
        summary: "With one rail missing a rating is exceeded.",
        text: "Rails come up one after another and fail one at a time. Without a bias rail every grid stands high and plates \
               draw what they can; without a plate rail screens and grids take the whole current. Each rail is taken away in turn \
               (its terminal at 0 V), with warm and with cold tubes, and everything held against its ratings; what one \
               missing rail does stands below one finding, the worst first. It lasts as long as the rail is missing. From one and a \
               half times the rating on it is a fault, below that a caution. An order of the rails, and a relay that holds one \
               rail off until the other stands, mend it; a fuse in the plate rail limits what is left.",
    },
    Entry {
        name: "no-rail-order",
        summary: "No order of the rails keeps every rating.",
        text: "An order is good when every state on the way, some rails up and the others at 0 V, keeps all ratings with warm \
               and with cold tubes. Here there is none: each of the rails named must be up before another of them. Bring them up \
               together through one relay with a contact in each, or use parts that stand a missing rail.",
    },
    Entry {
        name: "heater-unfed",
        summary: "A tube's heater is in no string.",
        text: "Every socketed tube with a heater must appear in a string; otherwise it stays cold.",
    },
    Entry {
        name: "heater-way-missing",
        summary: "A heater string has no way from a supply back to it.",
        text: "Both ends stand at the same volts, or one end leads nowhere, so no current flows.",
    },
    Entry {
        name: "heater-way-through-cathode",
        summary: "A heater's way home runs through a cathode.",
        text: "The string ends on a net that a cathode is on. What current flows must go through a cathode resistor or lift the \
               cathode: solved, the heaters get only the share named.",
    },
    Entry {
        name: "heater-way-through-resistor",
        summary: "A heater string goes home through a resistor meant for something else.",
        text: "The string ends on a net from which only a resistor of a circuit leads to a rail or to ground. That resistor is \
               chosen for milliamperes: the heaters stay cold, the net stands where it should not, and the resistor may burn. Take \
               the pin that is named to the heater supply's return.",
    },
    Entry {
        name: "heater-way-through-signal",
        summary: "A heater's way home runs through a signal net.",
        text: "The string ends on a net between circuits instead of a supply or ground. Solved, the heaters get only the share \
               named, and the signal is spoilt. Take the end that is named to the heater supply: its rail where the string begins, \
               its return where it ends.",
    },
    Entry {
        name: "heater-volts",
        summary: "A heater's volts are off its rating.",
        text: "Heaters in series share the supply in proportion to their resistance, which follows their own volts. Aim within 5 % (common practice, no source); \
               7 % is the British recommendation for fluctuation and 10 % the limit (Radio Constructor, April 1962).",
    },
    Entry {
        name: "heater-tap",
        summary: "A tapped heater is wired the wrong one of its two ways.",
        text: "A heater with a tap takes its full volts end to end, or half of them and twice the current with both ends \
               together against the tap. In a string the current decides which of the two fits, alone or beside others the \
               volts. Rewire its pins, or correct the word `tapped`.",
    },
    Entry {
        name: "heater-unlike",
        summary: "A heater of another current stands in a string.",
        text: "One current flows through all heaters in series. Near its rating a heater's volts go as the 1.67th power of that \
               current over its own: a 175 mA type in a 150 mA place gets 23 % too little, and the others share what it leaves. \
               Keep families of one current together, or pass the difference by in a shunt beside the smaller ones.",
    },
    Entry {
        name: "heater-wire",
        summary: "Wires and copper take the volts that the heaters lack.",
        text: "A heater string of some amperes loses volts on every thin wire and narrow track, and heaters 5 % low already read \
               weak. Without the conductors typed into the string its heaters would stand at their rating. Thicker, wider, \
               shorter: a millimetre of track for each ampere, and a tenth of a volt to the furthest tube (common practice, no \
               source).",
    },
    Entry {
        name: "ballast-current",
        summary: "A ballast tube holds another current than its string wants.",
        text: "One current flows through a string, and the ballast tube holds it at its own: heaters of another current stand off \
               their rating whatever the supply gives. Choose a ballast tube for the heaters' current.",
    },
    Entry {
        name: "ballast-range",
        summary: "A ballast tube gets volts at which it does not hold.",
        text: "A ballast tube takes up what the supply changes as long as its own volts stay in their range. Below it the wire is \
               too cold and above it too hot to follow, and the current goes with the supply as through any resistor. Heaters and \
               ballast together must make up the supply, with the ballast in the middle of its range.",
    },
    Entry {
        name: "thermistor-cold",
        summary: "A thermistor does not get hot, and the heaters behind it stay cold.",
        text: "A thermistor heats itself by the current that it lets through. When it has too much resistance cold for the volts of \
               its string, it takes too little to get hot, or minutes to do so, though with a hot one the string would stand at \
               its rating. A string is followed for 300 s from cold, and solved with the supply at both ends of its tolerance. \
               Choose one with less resistance cold, for the current of the string.",
    },
    Entry {
        name: "heater-supply",
        summary: "The tolerance of the supply takes heaters too far from their rating.",
        text: "With every part at its rating and the supply at the worse end of its tolerance a heater is more than 7 % off, the \
               British recommendation for fluctuation, or beyond the limit of 10 % (Radio Constructor, April 1962). Set the \
               supply nearer to the sum of the rated volts, or use one that holds closer.",
    },
    Entry {
        name: "heater-warm-up",
        summary: "A heater passes its rating while its string warms up.",
        text: "A quick heater is hot, and has its full resistance, while slow ones in the same string are still cold: for some \
               seconds it takes most of the supply. Up to 50 % over the rating in passing was accepted (Mullard Outlook, February \
               1963). Keep tubes that warm up alike together, or raise the supply slowly.",
    },
    Entry {
        name: "heater-positive",
        summary: "A heater stands positive of its cathode, close to the limit.",
        text: "The insulation between heater and cathode fails first with the heater positive. From four fifths of the limit on it \
               is named, before any tolerance. Move the tube towards ground in its string, or stand the heater supply lower.",
    },
    Entry {
        name: "heater-cathode-volts",
        summary: "Volts between heater and cathode beyond the rating.",
        text: "For every place in a string: the heater's ends against the lowest and highest cathode volts of each half in any row. \
               Limits differ by sign; a heater positive of its cathode is the worse way round.",
    },
];
