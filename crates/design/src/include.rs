//! The files of a design: included ones opened, all statements in one row.

use crate::problems::Problems;
use crate::words::Words;
use std::collections::BTreeSet;
use text::diagnostic::{Diagnostic, Severity};
use text::source::{FileId, SourceMap, Sources, Span};
use text::tree::{self, Statement};

/// The version of the language that this program reads.
const VERSION: &str = "1";
/// Most files of a design; chosen, because the chain of includes must be bounded.
const MOST_FILES: usize = 500;

/// All files of a design.
#[derive(Debug, Default)]
pub(crate) struct Files {
    /// Their texts.
    pub(crate) sources: SourceMap,
    /// Their statements in order, includes opened where they stand.
    pub(crate) statements: Vec<Statement>,
}

/// Opens the first file and every file it includes, each once.
pub(crate) fn open(start: &str, files: &dyn Sources, problems: &mut Problems) -> Files {
    let mut opener = Opener {
        start,
        files,
        problems,
        opened: Files::default(),
        seen: BTreeSet::new(),
        chain: Vec::new(),
    };
    opener.file(&tidy_path(start), None);
    opener.opened
}

/// A path as named in the text, seen from where the start file is named from.
pub(crate) fn resolve(start: &str, name: &str) -> String {
    if name.starts_with('/') {
        tidy_path(name)
    } else {
        tidy_path(&format!("{}{name}", folder(start)))
    }
}

/// The folder of a file, with its final slash; empty when there is none.
fn folder(file: &str) -> &str {
    file.rfind('/').map_or("", |slash| &file[..=slash])
}

/// The path without `.` and, as far as possible, without `..`, so that a file has one name only.
fn tidy_path(path: &str) -> String {
    let mut parts: Vec<&str> = Vec::new();
    for part in path
        .split('/')
        .filter(|part| !part.is_empty() && *part != ".")
    {
        match (part, parts.last()) {
            ("..", Some(&last)) if last != ".." => drop(parts.pop()),
            _ => parts.push(part),
        }
    }
    let root = if path.starts_with('/') { "/" } else { "" };
    format!("{root}{}", parts.join("/"))
}

struct Opener<'a> {
    start: &'a str,
    files: &'a dyn Sources,
    problems: &'a mut Problems,
    opened: Files,
    seen: BTreeSet<String>,
    /// The files being read now, each included by the one before.
    chain: Vec<String>,
}

impl Opener<'_> {
    fn file(&mut self, path: &str, from: Option<Span>) {
        if let Some(first) = self.chain.iter().position(|open| open == path) {
            self.circle(first, from);
            return;
        }
        if self.seen.contains(path) {
            return;
        }
        if self.seen.len() == MOST_FILES {
            let message = format!("the design has more than {MOST_FILES} files");
            self.unreadable("too-many-files", message, from);
            return;
        }
        self.seen.insert(path.to_owned());
        match self.files.read(path) {
            Ok(text) => self.statements(path, text),
            Err(why) => self.unreadable(
                "file-unreadable",
                format!("the file `{path}` cannot be read: {why}"),
                from,
            ),
        }
    }

    fn circle(&mut self, first: usize, from: Option<Span>) {
        let mut names = self.chain[first..].to_vec();
        names.push(self.chain[first].clone());
        let message = format!(
            "the files include one another in a circle: {}",
            names.join(" includes ")
        );
        self.problems.push(
            Diagnostic::new("include-circle", Severity::Fault, from, message)
                .remedy("Take one of these includes out."),
        );
    }

    fn unreadable(&mut self, name: &'static str, message: String, from: Option<Span>) {
        self.problems.file_missing = true;
        self.problems.push(
            Diagnostic::new(name, Severity::Fault, from, message)
                .remedy("Put it right first: names that are defined nowhere else may be defined in this file, so they are not listed as missing."),
        );
    }

    fn statements(&mut self, path: &str, text: String) {
        let id = self.opened.sources.add(path, text);
        let (tree, complaints) = tree::read(id, &self.opened.sources.file(id).text);
        for complaint in complaints {
            self.problems.push(complaint);
        }
        let is_start = self.chain.is_empty();
        if is_start {
            self.check_format(id, &tree.statements);
        }
        self.chain.push(path.to_owned());
        for statement in tree.statements {
            match keyword(&statement) {
                Some("include") => self.include(&statement),
                Some("valvewright") => version(&statement, self.problems),
                _ => self.opened.statements.push(statement),
            }
        }
        self.chain.pop();
    }

    fn check_format(&mut self, file: FileId, statements: &[Statement]) {
        let stands = statements
            .iter()
            .position(|statement| keyword(statement) == Some("valvewright"));
        if stands == Some(0) {
            return;
        }
        let beginning = Span {
            file,
            start: 0,
            end: 0,
        };
        let span = stands
            .map(|at| &statements[at])
            .or(statements.first())
            .map_or(beginning, |statement| statement.span);
        self.problems.caution(
            "format-missing",
            span,
            "the first line does not say which version of the language the text is written in",
            format!("Begin with `valvewright format {VERSION}`."),
        );
    }

    fn include(&mut self, statement: &Statement) {
        let mut words = Words::of(&statement.head, "include circuits/gates.valve");
        words.next();
        let Some(name) = words.want("the name of a file", self.problems) else {
            return;
        };
        words.finish(self.problems);
        no_lines_below(statement, self.problems);
        self.file(&resolve(self.start, &name.text), Some(name.span));
    }
}

/// The word that says what kind of statement it is.
pub(crate) fn keyword(statement: &Statement) -> Option<&str> {
    Some(&statement.head.first()?.words.first()?.text)
}

/// Faults when lines are indented below a statement that has none.
pub(crate) fn no_lines_below(statement: &Statement, problems: &mut Problems) {
    if let Some(first) = statement.children.first() {
        let message = format!(
            "no lines belong below `{}`",
            keyword(statement).unwrap_or_default()
        );
        problems.fault(
            "misplaced-statement",
            first.span,
            message,
            "Begin it at the margin, or let the line above end in a comma to go on.",
        );
    }
}

/// Faults when a statement has a colon and things after it that belong before.
pub(crate) fn no_colon(statement: &Statement, problems: &mut Problems) {
    if let Some(body) = &statement.body {
        let span = body.first().map_or(statement.span, |phrase| phrase.span);
        let message = format!(
            "nothing belongs after a colon in `{}`",
            keyword(statement).unwrap_or_default()
        );
        problems.fault(
            "words-left-over",
            span,
            message,
            "Write it without the colon.",
        );
    }
}

fn version(statement: &Statement, problems: &mut Problems) {
    let mut words = Words::of(&statement.head, "valvewright format 1");
    words.next();
    if words.want_text("format", problems).is_none() {
        return;
    }
    if let Some(number) = words.want("the number of the version", problems)
        && number.text != VERSION
    {
        problems.fault(
            "format-unknown",
            number.span,
            format!(
                "the text is written in version {}, and this program reads version {VERSION}",
                number.text
            ),
            "Read it with a newer program, or write it in the version named here.",
        );
    }
    words.finish(problems);
    no_lines_below(statement, problems);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_has_one_name_only() {
        for (path, tidy) in [
            ("gates.valve", "gates.valve"),
            ("./circuits//gates.valve", "circuits/gates.valve"),
            ("circuits/../gates.valve", "gates.valve"),
            ("../../x.valve", "../../x.valve"),
            ("/a/../b", "/b"),
        ] {
            assert_eq!(tidy_path(path), tidy);
        }
        assert_eq!(
            resolve("machines/tide/machine.valve", "../own.csv"),
            "machines/own.csv"
        );
        assert_eq!(resolve("machine.valve", "tubes/own.csv"), "tubes/own.csv");
    }
}
