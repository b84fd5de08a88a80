//! A network as a list of nodes and elements, before any equation is written.
//!
//! Every node and element carries a name that leads back to the user's text; nothing here is numeric but the values
//! of the parts. Ground is node 0.

use devices::diode::DiodeParameters;
use devices::neon::NeonParameters;
use devices::pentode::PentodeParameters;
use devices::triode::TriodeLaw;
use devices::vacuum_diode::VacuumDiodeParameters;

/// Index of a node of a [`Wiring`].
pub type NodeIndex = usize;

/// Index of an element of a [`Wiring`].
pub type ElementIndex = usize;

/// Ground.
pub const GROUND: NodeIndex = 0;

/// A node.
#[derive(Debug, Clone, PartialEq)]
pub struct WiringNode {
    /// Name for messages: `G14.y`, `upper`.
    pub name: String,
    /// Stray capacitance to ground, F.
    pub stray_farads: f64,
}

/// What an element is, its terminals as node indices.
#[derive(Debug, Clone, PartialEq)]
pub enum ElementKind {
    /// Resistor.
    Resistor {
        /// Ends; current counts from the first to the second.
        ends: [NodeIndex; 2],
        /// Conductance, S.
        siemens: f64,
    },
    /// Capacitor: no current at rest.
    Capacitor {
        /// Ends.
        ends: [NodeIndex; 2],
        /// F.
        farads: f64,
    },
    /// Ideal source, closed switch (0 V), or winding without resistance (0 V): eliminated.
    Tie {
        /// Plus.
        plus: NodeIndex,
        /// Minus.
        minus: NodeIndex,
        /// Volts of plus over minus.
        volts: f64,
    },
    /// Semiconductor diode.
    Diode {
        /// Anode.
        anode: NodeIndex,
        /// Cathode.
        cathode: NodeIndex,
        /// Law.
        law: DiodeParameters,
    },
    /// Neon lamp.
    Neon {
        /// Ends.
        ends: [NodeIndex; 2],
        /// Law.
        law: NeonParameters,
    },
    /// Vacuum diode.
    VacuumDiode {
        /// Plate.
        plate: NodeIndex,
        /// Cathode.
        cathode: NodeIndex,
        /// As of a triode.
        cathode_shift: f64,
        /// Law.
        law: VacuumDiodeParameters,
        /// A cold tube carries nothing.
        cold: bool,
    },
    /// Triode.
    Triode {
        /// Plate.
        plate: NodeIndex,
        /// Grid.
        grid: NodeIndex,
        /// Cathode.
        cathode: NodeIndex,
        /// Volts of the cathode over its pin as the law counts it: 0 but for some filaments, see [`crate::scene`].
        cathode_shift: f64,
        /// Law.
        law: TriodeLaw,
        /// A cold tube carries nothing.
        cold: bool,
    },
    /// Tetrode or pentode.
    Pentode {
        /// Plate.
        plate: NodeIndex,
        /// Control grid.
        grid: NodeIndex,
        /// Screen.
        screen: NodeIndex,
        /// Suppressor.
        suppressor: NodeIndex,
        /// Cathode.
        cathode: NodeIndex,
        /// As of a triode.
        cathode_shift: f64,
        /// Law.
        law: PentodeParameters,
        /// A cold tube carries nothing.
        cold: bool,
    },
}

/// An element with its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Element {
    /// Name for messages: `G14.R3`.
    pub name: String,
    /// What it is.
    pub kind: ElementKind,
}

/// A network before its equations.
#[derive(Debug, Clone, PartialEq)]
pub struct Wiring {
    /// Nodes; the first is ground.
    pub nodes: Vec<WiringNode>,
    /// Elements.
    pub elements: Vec<Element>,
}

impl Default for Wiring {
    fn default() -> Self {
        Self {
            nodes: vec![WiringNode {
                name: "ground".to_owned(),
                stray_farads: 0.0,
            }],
            elements: Vec::new(),
        }
    }
}

impl Wiring {
    /// Adds a node.
    pub fn node(&mut self, name: impl Into<String>, stray_farads: f64) -> NodeIndex {
        self.nodes.push(WiringNode {
            name: name.into(),
            stray_farads,
        });
        self.nodes.len() - 1
    }

    /// Adds an element.
    pub fn element(&mut self, name: impl Into<String>, kind: ElementKind) -> ElementIndex {
        self.elements.push(Element {
            name: name.into(),
            kind,
        });
        self.elements.len() - 1
    }

    /// Adds a resistor.
    pub fn resistor(
        &mut self,
        name: impl Into<String>,
        a: NodeIndex,
        b: NodeIndex,
        ohms: f64,
    ) -> ElementIndex {
        self.element(
            name,
            ElementKind::Resistor {
                ends: [a, b],
                siemens: 1.0 / ohms,
            },
        )
    }

    /// Adds a warm triode with an indirectly heated cathode, from plate, grid and cathode.
    pub fn triode(
        &mut self,
        name: impl Into<String>,
        [plate, grid, cathode]: [NodeIndex; 3],
        law: TriodeLaw,
    ) -> ElementIndex {
        self.element(
            name,
            ElementKind::Triode {
                plate,
                grid,
                cathode,
                cathode_shift: 0.0,
                law,
                cold: false,
            },
        )
    }

    /// Holds a node at a voltage against ground.
    pub fn hold(&mut self, name: impl Into<String>, node: NodeIndex, volts: f64) -> ElementIndex {
        self.element(
            name,
            ElementKind::Tie {
                plus: node,
                minus: GROUND,
                volts,
            },
        )
    }

    /// The node of a name.
    #[must_use]
    pub fn find_node(&self, name: &str) -> Option<NodeIndex> {
        self.nodes.iter().position(|node| node.name == name)
    }
}

impl ElementKind {
    /// So many of them side by side, between the same nodes.
    #[must_use]
    pub fn times(&self, count: f64) -> Self {
        let mut kind = self.clone();
        match &mut kind {
            ElementKind::Resistor { siemens, .. } => *siemens *= count,
            ElementKind::Capacitor { farads, .. } => *farads *= count,
            ElementKind::Tie { .. } => {}
            ElementKind::Diode { law, .. } => *law = law.times(count),
            ElementKind::Neon { law, .. } => *law = law.times(count),
            ElementKind::VacuumDiode { law, .. } => *law = law.times(count),
            ElementKind::Triode { law, .. } => *law = law.times(count),
            ElementKind::Pentode { law, .. } => *law = law.times(count),
        }
        kind
    }

    /// Its terminals.
    #[must_use]
    pub fn terminals(&self) -> Terminals {
        let mut list = Terminals {
            nodes: [GROUND; 5],
            count: 0,
        };
        match *self {
            ElementKind::Resistor { ends, .. }
            | ElementKind::Capacitor { ends, .. }
            | ElementKind::Neon { ends, .. } => {
                list.push(&ends);
            }
            ElementKind::Tie { plus, minus, .. } => list.push(&[plus, minus]),
            ElementKind::Diode { anode, cathode, .. } => list.push(&[anode, cathode]),
            ElementKind::VacuumDiode { plate, cathode, .. } => list.push(&[plate, cathode]),
            ElementKind::Triode {
                plate,
                grid,
                cathode,
                ..
            } => list.push(&[plate, grid, cathode]),
            ElementKind::Pentode {
                plate,
                grid,
                screen,
                suppressor,
                cathode,
                ..
            } => {
                list.push(&[plate, grid, screen, suppressor, cathode]);
            }
        }
        list
    }
}

/// Up to five terminals of an element.
#[derive(Debug, Clone, Copy)]
pub struct Terminals {
    nodes: [NodeIndex; 5],
    count: usize,
}

impl Terminals {
    fn push(&mut self, nodes: &[NodeIndex]) {
        self.nodes[..nodes.len()].copy_from_slice(nodes);
        self.count = nodes.len();
    }

    /// The nodes.
    #[must_use]
    pub fn as_slice(&self) -> &[NodeIndex] {
        &self.nodes[..self.count]
    }
}
