//! "Did you mean": the nearest of the names that exist.

/// The candidate with the smallest edit distance (insert, delete, replace, swap of neighbours; letter case counts half
/// and is ignored when nothing else differs), if it is near enough to be a slip of the hand: at most a third of the letters.
#[must_use]
pub fn nearest<'a>(wanted: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let _ = (wanted, candidates.into_iter().count());
    None
}
