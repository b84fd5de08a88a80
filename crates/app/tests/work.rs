//! How much work the solver has with sound designs, counted and not timed, so that a change which makes it work harder is
//! seen. The counts are the same on every machine; they are no promise, and `work.txt` is written anew when a change of
//! method is meant.

use crate::designs::{CONTEXT, Folder, LIMITS};
use crate::program::run;
use design::read::read;
use devices::library::Library;
use network::judge::MemberResult;
use network::verdict::check;
use std::fs;
use std::path::{Path, PathBuf};

/// Set to anything, the counts are written anew and not compared.
const REWRITE: &str = "VALVEWRIGHT_WRITE_COUNTS";

/// The first file of a design, and what to call it.
struct Sound {
    name: String,
    file: PathBuf,
}

/// Names of the `.valve` files of a folder beside this package's manifest that begin so, without the ending.
fn names(folder: &str, begins: &str) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(here(folder))
        .unwrap()
        .filter_map(|entry| {
            let name = entry.unwrap().file_name().into_string().unwrap();
            let stem = name.strip_suffix(".valve")?;
            stem.starts_with(begins).then(|| stem.to_owned())
        })
        .collect();
    names.sort();
    names
}

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// Sound designs of the gallery, every piece of the shelf in a folder begun with it in `scratch`, the demo.
fn sound_designs(scratch: &Path) -> Vec<Sound> {
    let gallery = names("gallery", "sound-").into_iter().map(|name| Sound {
        file: here("gallery").join(format!("{name}.valve")),
        name,
    });
    let shelf = names("shelf", "").into_iter().map(|name| {
        let begun = run(scratch, &["start", &name, &name]);
        assert_eq!(begun.code, 0, "{}{}", begun.out, begun.talk);
        Sound {
            file: scratch.join(&name).join("machine.valve"),
            name: format!("shelf {name}"),
        }
    });
    let demo = Sound {
        file: here("demo/tidewatch/machine.valve"),
        name: "demo".to_owned(),
    };
    gallery.chain(shelf).chain([demo]).collect()
}

/// Rows solved, evaluations and factorisations for them.
fn counts<'a>(results: impl Iterator<Item = &'a MemberResult>) -> [usize; 3] {
    let mut sum = [0; 3];
    for row in results.flat_map(|result| &result.rows) {
        sum[0] += 1;
        sum[1] += row.work.evaluations;
        sum[2] += row.work.factorisations;
    }
    sum
}

fn line(sound: &Sound) -> String {
    let folder = Folder(sound.file.parent().unwrap().to_owned());
    let first = sound.file.file_name().unwrap().to_str().unwrap();
    let reading = read(first, &folder, Library::shipped());
    let design = reading
        .design
        .unwrap_or_else(|| panic!("{}: {:?}", sound.name, reading.diagnostics));
    let verdict = check(&design, &LIMITS, &CONTEXT);
    let alone = counts(verdict.alone.results.iter());
    // A unit in like surroundings was not solved again.
    let solved = verdict.place.results.iter().zip(&verdict.alike).enumerate();
    let place =
        counts(solved.filter_map(|(member, (result, &first))| (first == member).then_some(result)));
    let shown = |[rows, evaluations, factorisations]: [usize; 3]| {
        format!("{rows:>6}{evaluations:>8}{factorisations:>8}")
    };
    format!("{:<30}{}{}\n", sound.name, shown(alone), shown(place))
}

/// The counts stand in `work.txt`: for circuits alone and for units in their place the rows, evaluations and
/// factorisations.
#[test]
fn sound_designs_take_the_work_that_they_took() {
    let kept = here("tests/work.txt");
    let scratch = tempfile::tempdir().unwrap();
    let designs = sound_designs(scratch.path());
    assert!(20 <= designs.len(), "{} designs", designs.len());
    let counted: String = designs.iter().map(line).collect();
    if std::env::var_os(REWRITE).is_some() {
        fs::write(&kept, &counted).unwrap();
    }
    assert_eq!(
        fs::read_to_string(kept).unwrap_or_default(),
        counted,
        "`{REWRITE}=1 cargo test --release -p valvewright --test main work::` writes the counts anew"
    );
}
