//! Tube marks (`V7`, `V7A`) and runs of numbered names (`G1 to G16`).

use devices::types::Section;

/// Largest tube number; chosen far above any machine.
const LARGEST_NUMBER: u32 = 99_999;

/// A tube mark, with or without the letter of its half.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct TubeMark {
    /// Number of the tube, from 1.
    pub(crate) number: u32,
    /// The half, where a letter says so.
    pub(crate) section: Option<Section>,
}

/// Reads `V7`, `V7A`, `V7B`.
pub(crate) fn tube_mark(text: &str) -> Option<TubeMark> {
    let rest = text.strip_prefix('V')?;
    let (digits, section) = match rest.strip_suffix('A') {
        Some(digits) => (digits, Some(Section::A)),
        None => match rest.strip_suffix('B') {
            Some(digits) => (digits, Some(Section::B)),
            None => (rest, None),
        },
    };
    let number = whole_number(digits)?;
    (1..=LARGEST_NUMBER)
        .contains(&number)
        .then_some(TubeMark { number, section })
}

/// A whole number in plain digits.
pub(crate) fn whole_number(digits: &str) -> Option<u32> {
    let plain = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
    plain.then(|| digits.parse().ok()).flatten()
}

/// A name and the number at its end: `G16` is `G` and 16.
pub(crate) fn split_number(name: &str) -> Option<(&str, u32)> {
    let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
    Some((stem, whole_number(&name[stem.len()..])?))
}

/// The names from `first` to `last`, which differ in their final number only. `None` when they do not, run backward,
/// or are more than `most`.
pub(crate) fn numbered_names<'n>(
    first: &'n str,
    last: &str,
    most: u32,
) -> Option<impl Iterator<Item = String> + use<'n>> {
    let ((stem, from), (other, to)) = (split_number(first)?, split_number(last)?);
    let run = stem == other && to >= from && to - from < most;
    run.then(|| (from..=to).map(move |number| format!("{stem}{number}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_a_letter_a_number_and_perhaps_a_half() {
        let mark = |text| tube_mark(text).map(|mark| (mark.number, mark.section));
        assert_eq!(mark("V7"), Some((7, None)));
        assert_eq!(mark("V12A"), Some((12, Some(Section::A))));
        assert_eq!(mark("V12B"), Some((12, Some(Section::B))));
        for wrong in [
            "V",
            "VA",
            "V0",
            "v7",
            "V7C",
            "V+7",
            "V99999999999",
            "W7",
            "V7AB",
        ] {
            assert_eq!(mark(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn runs_count_the_final_number_up() {
        let names = |first, last| numbered_names(first, last, 10).map(Vec::from_iter);
        assert_eq!(
            names("G9", "G11"),
            Some(["G9", "G10", "G11"].map(String::from).to_vec())
        );
        assert_eq!(names("last.1", "last.1"), Some(vec!["last.1".to_owned()]));
        for (first, last) in [
            ("G3", "G1"),
            ("G1", "F3"),
            ("G", "G3"),
            ("G1", "G11"),
            ("G1", "G99999999999"),
        ] {
            assert_eq!(names(first, last), None, "{first} to {last}");
        }
    }
}
