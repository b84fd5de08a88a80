//! In which order the rails may come up: every state on the way must keep every rating.

use design::model::RailId;

/// States tried at most: chosen, enough for every order of five rails and a fraction of a second each.
pub const MOST_STATES: usize = 24;

/// What is proposed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Order {
    /// First to last; `forced` when some other order breaks a rating.
    Found {
        /// The rails.
        rails: Vec<RailId>,
        /// With some rail missing a rating is exceeded.
        forced: bool,
    },
    /// Whichever comes last, or whichever before it, a rating is exceeded on the way.
    Nowhere,
    /// More states than are tried.
    NotTried,
}

/// Looks for an order of `rails`, which stand in the order that is preferred; `fine` says whether all ratings are kept while
/// these are missing. The last is chosen first: with it missing, everything else stands.
#[must_use]
pub fn find(rails: &[RailId], forced: bool, fine: impl FnMut(&[RailId]) -> bool) -> Order {
    let mut search = Search {
        fine,
        tried: Vec::new(),
    };
    match search.before(rails, &mut Vec::new()) {
        Some(rails) => Order::Found { rails, forced },
        None if search.tried.len() < MOST_STATES => Order::Nowhere,
        None => Order::NotTried,
    }
}

struct Search<Fine> {
    fine: Fine,
    tried: Vec<(Vec<RailId>, bool)>,
}

impl<Fine: FnMut(&[RailId]) -> bool> Search<Fine> {
    /// An order of the rails that are present, while `missing` are not up yet.
    fn before(&mut self, present: &[RailId], missing: &mut Vec<RailId>) -> Option<Vec<RailId>> {
        if present.len() <= 1 {
            return Some(present.to_vec());
        }
        for place in (0..present.len()).rev() {
            let last = present[place];
            missing.push(last);
            let order = if self.keeps(missing) {
                let left: Vec<RailId> = present
                    .iter()
                    .copied()
                    .filter(|rail| *rail != last)
                    .collect();
                self.before(&left, missing)
            } else {
                None
            };
            missing.pop();
            if let Some(mut order) = order {
                order.push(last);
                return Some(order);
            }
        }
        None
    }

    fn keeps(&mut self, missing: &[RailId]) -> bool {
        let mut missing = missing.to_vec();
        missing.sort_by_key(|rail| rail.0);
        if let Some((_, keeps)) = self.tried.iter().find(|(tried, _)| *tried == missing) {
            return *keeps;
        }
        if self.tried.len() == MOST_STATES {
            return false;
        }
        let keeps = (self.fine)(&missing);
        self.tried.push((missing, keeps));
        keeps
    }
}
