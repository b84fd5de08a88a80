//! What a circuit is said to do: `y = not (a or b or c)`.

/// A logic expression over the signals of a circuit or block (inputs and, for what is stored, outputs).
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Expression {
    /// `up` (1) or `down` (0).
    Constant(bool),
    /// A signal, by its index in [`crate::model::Interface::signals`].
    Signal(usize),
    /// `not x`
    Not(Box<Expression>),
    /// `x and y`
    And(Box<Expression>, Box<Expression>),
    /// `x or y`
    Or(Box<Expression>, Box<Expression>),
    /// `x xor y`
    Xor(Box<Expression>, Box<Expression>),
}

impl Expression {
    /// Its value, given those of all signals.
    #[must_use]
    pub fn value(&self, signals: &[bool]) -> bool {
        match self {
            Expression::Constant(value) => *value,
            Expression::Signal(index) => signals[*index],
            Expression::Not(inner) => !inner.value(signals),
            Expression::And(left, right) => left.value(signals) && right.value(signals),
            Expression::Or(left, right) => left.value(signals) || right.value(signals),
            Expression::Xor(left, right) => left.value(signals) != right.value(signals),
        }
    }

    /// Its value where some signals are not known; `None` when it depends on those.
    #[must_use]
    pub fn value_if_known(&self, signals: &[Option<bool>]) -> Option<bool> {
        match self {
            Expression::Constant(value) => Some(*value),
            Expression::Signal(index) => signals[*index],
            Expression::Not(inner) => inner.value_if_known(signals).map(|value| !value),
            Expression::And(left, right) => {
                match (left.value_if_known(signals), right.value_if_known(signals)) {
                    (Some(false), _) | (_, Some(false)) => Some(false),
                    (Some(true), Some(true)) => Some(true),
                    _ => None,
                }
            }
            Expression::Or(left, right) => {
                match (left.value_if_known(signals), right.value_if_known(signals)) {
                    (Some(true), _) | (_, Some(true)) => Some(true),
                    (Some(false), Some(false)) => Some(false),
                    _ => None,
                }
            }
            Expression::Xor(left, right) => {
                Some(left.value_if_known(signals)? != right.value_if_known(signals)?)
            }
        }
    }
}
