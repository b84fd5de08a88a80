//! In which order the rails may come up: every state on the way must keep every rating.

use design::model::RailId;

/// States tried at most: chosen, enough for every order of five rails and a fraction of a second each.
const MOST_STATES: usize = 24;

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
pub(super) fn find(rails: &[RailId], forced: bool, fine: impl FnMut(&[RailId]) -> bool) -> Order {
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

#[cfg(test)]
mod tests {
    use super::*;

    fn rails(numbers: &[usize]) -> Vec<RailId> {
        numbers.iter().copied().map(RailId).collect()
    }

    /// Rail 0 must stand whenever 1 does, and 1 whenever 2 does: of six orders one is left, and it is found from any
    /// preference.
    #[test]
    fn the_only_order_is_found() {
        let fine = |missing: &[RailId]| {
            let gone = |rail: usize| missing.contains(&RailId(rail));
            (!gone(0) || gone(1)) && (!gone(1) || gone(2))
        };
        for preferred in [[0, 1, 2], [2, 1, 0], [1, 2, 0]] {
            let found = find(&rails(&preferred), true, fine);
            let expected = Order::Found {
                rails: rails(&[0, 1, 2]),
                forced: true,
            };
            assert_eq!(found, expected);
        }
    }

    /// Each of two must stand before the other: a third makes no order of them.
    #[test]
    fn a_circle_has_no_order() {
        let fine =
            |missing: &[RailId]| missing.contains(&RailId(0)) == missing.contains(&RailId(1));
        assert_eq!(find(&rails(&[0, 1]), true, fine), Order::Nowhere);
        // With both held back at once there would be one, but rails come one after the other.
        assert_eq!(find(&rails(&[0, 1, 2]), true, fine), Order::Nowhere);
    }

    #[test]
    fn the_search_is_bounded_and_says_so() {
        let many: Vec<RailId> = (0..40).map(RailId).collect();
        let mut asked = 0;
        let found = find(&many, true, |missing| {
            asked += 1;
            missing.len() < 3
        });
        assert_eq!((found, asked), (Order::NotTried, MOST_STATES));
    }
}
