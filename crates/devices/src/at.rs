//! A law at given volts, as a task for one lane.

/// A law with the volts at its terminals; each law says in its own module what its task is.
pub(crate) struct At<'a, Law, Volts>(pub &'a Law, pub Volts);
