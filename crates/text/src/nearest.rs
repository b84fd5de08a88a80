//! "Did you mean": the nearest of the names that exist.

/// Longest name compared; chosen, because longer ones are no slips of the hand and the work grows with the square.
const LONGEST: usize = 64;

/// Cost of inserting, deleting or replacing a character or swapping two neighbours; even, so that it has a half.
const SLIP: usize = 2;

/// Cost of a wrong letter case.
const WRONG_CASE: usize = 1;

/// The candidate with the smallest edit distance (insert, delete, replace, swap of neighbours; letter case counts half
/// and is ignored when nothing else differs), if it is near enough to be a slip of the hand: at most a third of the
/// letters of the longer of the two. Words in another order (`neon-lamp` for `lamp-neon`) count as one slip. Of equally
/// near ones the first.
#[must_use]
pub fn nearest<'a>(wanted: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let wanted: Vec<char> = wanted.chars().take(LONGEST + 1).collect();
    let wanted_in_order = words_in_order(&wanted);
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let letters: Vec<char> = candidate.chars().take(LONGEST + 1).collect();
        let longer = wanted.len().max(letters.len());
        if longer > LONGEST || letters.len().abs_diff(wanted.len()) * 3 > longer {
            continue;
        }
        let mut distance = cost(&wanted, &letters);
        if let (Some(wanted), Some(letters)) = (&wanted_in_order, words_in_order(&letters)) {
            distance = distance.min(cost(wanted, &letters) + SLIP);
        }
        if distance * 3 <= longer * SLIP && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// The words of a name in the order of the alphabet, in lower case since that order must not hang on it; `None` for a
/// single word.
fn words_in_order(letters: &[char]) -> Option<Vec<char>> {
    let name: String = letters.iter().collect();
    let name = name.to_lowercase();
    let mut words: Vec<&str> = name.split(['-', '_', '.', ' ']).collect();
    words.sort_unstable();
    (1 < words.len()).then(|| words.join("-").chars().collect())
}

/// Optimal string alignment distance (Damerau 1964, each place touched once) with the costs above:
/// `rows[i][j]` is the cost of making the first `j` letters of `b` of the first `i` of `a`; three rows are kept.
fn cost(a: &[char], b: &[char]) -> usize {
    if a.len() == b.len() && a.iter().zip(b).all(|(&x, &y)| same_but_case(x, y)) {
        return 0;
    }
    let mut before_last = vec![0; b.len() + 1];
    let mut last: Vec<usize> = (0..=b.len()).map(|j| j * SLIP).collect();
    for i in 1..=a.len() {
        let mut row = vec![i * SLIP; b.len() + 1];
        for j in 1..=b.len() {
            let (x, y) = (a[i - 1], b[j - 1]);
            let replaced = last[j - 1] + replacement(x, y);
            row[j] = replaced.min(last[j] + SLIP).min(row[j - 1] + SLIP);
            let swapped =
                i > 1 && j > 1 && same_but_case(x, b[j - 2]) && same_but_case(a[i - 2], y);
            if swapped {
                row[j] = row[j].min(before_last[j - 2] + SLIP);
            }
        }
        before_last = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

fn replacement(x: char, y: char) -> usize {
    match (x == y, same_but_case(x, y)) {
        (true, _) => 0,
        (false, true) => WRONG_CASE,
        (false, false) => SLIP,
    }
}

fn same_but_case(x: char, y: char) -> bool {
    x == y || x.to_lowercase().eq(y.to_lowercase())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_find_their_name_and_other_words_find_none() {
        let names = [
            "plate", "grid", "cathode", "upper", "lower", "G14", "join", "Join2",
        ];
        for (wanted, expected) in [
            ("plat", Some("plate")),
            ("palte", Some("plate")),
            ("gird", Some("grid")),
            ("catode", Some("cathode")),
            ("CATHODE", Some("cathode")),
            ("Gridd", Some("grid")),
            ("g14", Some("G14")),
            ("G15", Some("G14")),
            ("joim", Some("join")),
            ("x", None),
            ("heater", None),
            ("", None),
            ("plate", Some("plate")),
        ] {
            assert_eq!(nearest(wanted, names), expected, "{wanted}");
        }
    }

    #[test]
    fn words_in_another_order_find_their_name() {
        let names = ["lamp-indicator", "lamp-neon", "bit.Q", "to-5v", "not-to"];
        for (wanted, expected) in [
            ("neon-lamp", Some("lamp-neon")),
            ("Neon Lamp", Some("lamp-neon")),
            ("noen-lamp", Some("lamp-neon")),
            ("Q.bit", Some("bit.Q")),
            ("to-not", Some("not-to")),
            ("neonlamp", None),
            ("neon-tube", None),
        ] {
            assert_eq!(nearest(wanted, names), expected, "{wanted}");
        }
        // A slip of the hand is nearer than another order with a slip besides.
        assert_eq!(nearest("a-bc", ["bd-a", "a-bd"]), Some("a-bd"));
    }

    #[test]
    fn letter_case_weighs_less_than_another_letter() {
        assert_eq!(nearest("Fol", ["fot", "foL"]), Some("foL"));
        assert_eq!(nearest("aBcx", ["abcde", "abcy", "aBcy"]), Some("aBcy"));
    }

    #[test]
    fn endless_words_are_not_compared() {
        let long = "a".repeat(1_000_000);
        assert_eq!(nearest(&long, [long.as_str()]), None);
    }
}
