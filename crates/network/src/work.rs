//! Bounds on the work of one check. What lies beyond them is not judged, and said so by name.
//!
//! Work is counted in evaluated elements (an element evaluated once, in one round of one solution), so that the same
//! machine meets the same bound on every computer and with any number of threads.

use rayon::prelude::*;

/// Evaluated elements of one check: chosen, a thousand times what a machine of a hundred tubes needs, and some minutes on
/// one core.
pub const MOST_EVALUATED: u64 = 1_000_000_000;
/// Elements times rows of one unit with its neighbours: chosen, fifty times what a gate of six inputs needs with 32 loads.
pub const MOST_ELEMENT_ROWS: usize = 500_000;
/// Rows, points or states that may fail to settle before the rest of their kind is left alone: each costs what a thousand
/// do that settle, and the finding is the same.
pub const MOST_UNSETTLED: usize = 4;

/// Items solved before the work is added up: chosen, enough for all cores, and fixed, so that the end of the budget does
/// not depend on their number.
pub const TOGETHER: usize = 64;

/// What a check may still do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget {
    left: u64,
}

impl Budget {
    /// A budget of evaluated elements.
    #[must_use]
    pub fn new(evaluated: u64) -> Self {
        Self { left: evaluated }
    }

    /// Solves items on all cores until the budget is used up; `solve` returns its result and the elements it evaluated.
    /// Items that are not reached give `None`.
    pub fn over<Item: Sync, Result: Send>(
        &mut self,
        items: &[Item],
        solve: impl Fn(&Item) -> (Result, u64) + Sync,
    ) -> Vec<Option<Result>> {
        let mut results = Vec::with_capacity(items.len());
        for together in items.chunks(TOGETHER) {
            if self.left == 0 {
                break;
            }
            let solved: Vec<(Result, u64)> = together.par_iter().map(&solve).collect();
            for (result, evaluated) in solved {
                self.left = self.left.saturating_sub(evaluated);
                results.push(Some(result));
            }
        }
        results.resize_with(items.len(), || None);
        results
    }
}
