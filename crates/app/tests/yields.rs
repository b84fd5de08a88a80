//! `yield`: runs that are kept, gone on with, split and joined count to the last sample what one run counts; what does not
//! belong together is refused by name.

use crate::program::{Run, run};
use std::fs;
use std::path::Path;

/// A gate whose plate resistor is small for a weak tube: some samples fail.
fn design() -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("gallery/corners");
    folder
        .join("plate-resistor-small.valve")
        .display()
        .to_string()
}

fn asked(folder: &Path, words: &[&str]) -> Run {
    run(folder, &[&["yield", "--in", &design()], words].concat())
}

/// 64 samples of each scramble in one run; then 16 and on to 64 in the same file; then four shares, joined. The files have
/// other blocks, so the counts of the records are compared.
#[test]
fn kept_split_and_joined_runs_count_what_one_run_counts() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let whole = asked(folder, &["--samples", "2048", "--json"]);
    assert_eq!(whole.code, 1, "some fail: {}", whole.out);
    let first = asked(folder, &["--samples", "256", "--keep", "one", "--json"]);
    assert_ne!(first.out, whole.out);
    let further = asked(folder, &["--samples", "2048", "--keep", "one", "--json"]);
    assert_eq!(further.out, whole.out);
    let shares = ["1/3", "2/3", "3/3"];
    for (share, file) in shares.iter().zip(["a", "b", "c"]) {
        let part = asked(
            folder,
            &["--samples", "2048", "--share", share, "--keep", file],
        );
        assert_eq!((part.code, part.out.as_str()), (0, ""), "{}", part.talk);
        assert!(part.talk.contains("--join"), "{}", part.talk);
    }
    let joined = asked(
        folder,
        &["--json", "--keep", "all", "--join", "c", "a", "b"],
    );
    assert_eq!(joined.out, whole.out, "{}", joined.talk);
    let kept = asked(folder, &["--samples", "2048", "--keep", "all", "--json"]);
    assert_eq!(kept.out, whole.out);
}

/// Each clash is named: the seed, hollow bands, the design, the units, samples counted twice, a line cut short.
#[test]
fn what_does_not_belong_together_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let base = ["--samples", "16", "--keep", "kept"];
    assert!(asked(folder, &base).code < 2);
    let refused = |words: &[&str], reason: &str| {
        let said = asked(folder, words);
        assert_eq!(said.code, 2, "{words:?}: {}", said.out);
        assert!(said.talk.contains(reason), "{words:?}: {}", said.talk);
    };
    refused(&[&base[..], &["--seed", "7"]].concat(), "seed 1, not 7");
    refused(
        &[&base[..], &["--hollow", "50%"]].concat(),
        "hollow by 0%, not 50%",
    );
    refused(&[&base[..], &["G1"]].concat(), "of other units");
    refused(&["--join", "kept", "kept"], "counted already");
    refused(&["--join", "nowhere"], "nowhere: no such file");
    let text = fs::read_to_string(folder.join("kept")).unwrap();
    fs::write(folder.join("short"), &text[..text.len() - 3]).unwrap();
    refused(&["--join", "short"], "short:22: it should read like");
    fs::write(folder.join("other"), text.replace("design ", "design 1")).unwrap();
    refused(&["--join", "other"], "other");
    let elsewhere = text.replacen("design ", "design 0", 1);
    let design_line = elsewhere.lines().nth(2).unwrap().to_owned();
    let changed = text.replace(text.lines().nth(2).unwrap(), &design_line[..23]);
    fs::write(folder.join("changed"), changed).unwrap();
    refused(&["--join", "changed"], "another design");
}

/// Numbers that make no sense are told so with what to type.
#[test]
fn numbers_that_make_no_sense_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    for (words, reason) in [
        (["--samples", "0"], "0 is no number of samples"),
        (["--samples", "99999999"], "from 1 to 1048576"),
        (["--seed", "-1"], "-1 is no seed"),
        (["--hollow", "100%"], "100% is no share"),
        (["--hollow", "-5%"], "-5% is no share"),
        (["--hollow", "0.5"], "type it like 50%"),
        (["--to", "G1.svg"], "name it"),
    ] {
        let said = asked(folder.path(), &words);
        assert_eq!(said.code, 2, "{words:?}: {}", said.out);
        assert!(said.talk.contains(reason), "{words:?}: {}", said.talk);
    }
    let share = asked(folder.path(), &["--keep", "x", "--share", "5/4"]);
    assert!(share.code == 2 && share.talk.contains("5/4 is no share"));
    let nobody = asked(folder.path(), &["G77"]);
    assert!(nobody.code == 2 && nobody.talk.contains("no circuit or unit G77"));
}

/// What is asked for is rounded up and said; a unit's levels are drawn.
#[test]
fn samples_are_rounded_up_and_levels_drawn() {
    let folder = tempfile::tempdir().unwrap();
    let said = asked(folder.path(), &["G2", "--samples", "100", "--to", "G2.svg"]);
    assert!(
        said.talk.contains("100 samples are rounded up to 128"),
        "{}",
        said.talk
    );
    let drawn = fs::read_to_string(folder.path().join("G2.svg")).unwrap();
    assert!(drawn.contains("threshold at worst"), "{drawn}");
}
