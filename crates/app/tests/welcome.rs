//! A newcomer's way in: the welcome, the examples of the help texts, completions and the manual page.

use crate::program::run;
use std::fs;
use std::path::Path;

/// What the program says of itself, or of one command.
fn help(of: &[&str]) -> String {
    let words = [of, &["--help"]].concat();
    let answer = run(Path::new("."), &words);
    assert_eq!(answer.code, 0, "{words:?}: {}", answer.talk);
    answer.out
}

/// Every command with the line that says what it does, in the order of the list.
fn commands() -> Vec<(String, String)> {
    let all = help(&[]);
    let list = all.split("\nCommands:\n").nth(1).unwrap();
    let list = list.split("\n\n").next().unwrap();
    let commands: Vec<(String, String)> = list
        .lines()
        .filter_map(|line| line.strip_prefix("  ")?.split_once("  "))
        .filter(|(name, _)| !name.is_empty() && *name != "help")
        .map(|(name, about)| (name.to_owned(), about.trim().to_owned()))
        .collect();
    assert!(15 < commands.len(), "{commands:?}");
    commands
}

/// The examples at the end of a help text: what stands behind two blanks says what each does.
fn examples(help: &str) -> Vec<String> {
    help.lines()
        .filter_map(|line| line.strip_prefix("  "))
        .filter(|line| line.starts_with("valvewright "))
        .filter_map(|line| line.split("  ").next())
        .map(str::to_owned)
        .collect()
}

/// The long options that a help text lists.
fn options(help: &str) -> Vec<String> {
    help.lines()
        .map(str::trim_start)
        .filter(|line| line.starts_with('-'))
        .flat_map(|line| line.split([' ', ',']))
        .filter(|word| word.starts_with("--"))
        .map(str::to_owned)
        .collect()
}

/// The words of a line as a shell takes them apart: by blanks, but not between double quotes.
fn words(line: &str) -> Vec<&str> {
    let mut words = Vec::new();
    for (index, part) in line.split('"').enumerate() {
        if index % 2 == 1 {
            words.push(part);
        } else {
            words.extend(part.split_whitespace());
        }
    }
    words
}

/// Types one line in a folder; it must work.
fn type_in(folder: &Path, line: &str) {
    let words = words(line);
    assert_eq!(words[0], "valvewright", "{line}");
    let answer = run(folder, &words[1..]);
    assert_eq!(answer.code, 0, "`{line}`: {}{}", answer.out, answer.talk);
}

/// All in one folder, as a newcomer who goes through the list from top to bottom: first the minutes, then each command.
#[test]
fn every_help_text_ends_with_an_example_that_works() {
    let folder = tempfile::tempdir().unwrap();
    let first = examples(&help(&[]));
    assert_eq!(first.len(), 3, "{first:?}");
    for line in &first {
        type_in(folder.path(), line);
    }
    for (name, _) in commands() {
        let lines = examples(&help(&[&name]));
        assert!(!lines.is_empty(), "`{name} --help` ends with no example");
        for line in &lines {
            assert_eq!(words(line)[1], name, "an example of another command");
            type_in(folder.path(), line);
        }
    }
}

#[test]
fn the_program_alone_welcomes_and_says_what_to_type() {
    let folder = tempfile::tempdir().unwrap();
    let welcome = run(folder.path(), &[]);
    assert_eq!((welcome.code, welcome.talk.as_str()), (0, ""));
    for line in examples(&help(&[])) {
        assert!(welcome.out.contains(&line), "{line}");
    }
    assert!(welcome.out.contains("`valvewright --help`"));
}

/// Runs a line of bash in a folder; nothing where there is no bash.
fn bash(folder: &Path, line: &str) -> Option<std::process::Output> {
    let mut bash = std::process::Command::new("bash");
    bash.args(["--norc", "-c", line]).current_dir(folder);
    bash.output().ok()
}

#[test]
fn bash_completes_every_command_and_is_valid() {
    let folder = tempfile::tempdir().unwrap();
    let script = run(folder.path(), &["setup", "bash"]);
    assert_eq!(script.code, 0, "{}", script.talk);
    fs::write(folder.path().join("script"), &script.out).unwrap();
    if let Some(checked) = bash(folder.path(), "bash -n script") {
        assert!(checked.status.success(), "{checked:?}");
    }
    // What bash does when the tabulator key is struck behind `valvewright `.
    let strike = "source ./script; COMP_WORDS=(valvewright ''); COMP_CWORD=1; \
        _valvewright valvewright '' valvewright; printf '%s\\n' \"${COMPREPLY[@]}\"";
    let offered =
        bash(folder.path(), strike).map(|output| String::from_utf8(output.stdout).unwrap());
    for (name, _) in commands() {
        assert!(script.out.contains(&name), "{name}");
        if let Some(offered) = &offered {
            assert!(
                offered.lines().any(|word| word == name),
                "{name}: {offered}"
            );
        }
    }
}

#[test]
fn every_shell_gets_its_completions() {
    let folder = tempfile::tempdir().unwrap();
    for shell in ["elvish", "fish", "powershell", "zsh"] {
        let script = run(folder.path(), &["setup", shell]);
        assert_eq!(script.code, 0, "{shell}: {}", script.talk);
        for (name, _) in commands() {
            assert!(script.out.contains(&name), "{shell}: {name}");
        }
    }
}

#[test]
fn the_manual_page_has_every_command_option_and_example() {
    let folder = tempfile::tempdir().unwrap();
    let page = run(folder.path(), &["setup", "manual"]);
    assert_eq!(page.code, 0, "{}", page.talk);
    // Roff writes a hyphen of the keyboard as `\-`.
    let text = page.out.replace("\\-", "-");
    let line_is = |wanted: &str| text.lines().any(|line| line == wanted);
    for line in examples(&help(&[])) {
        assert!(line_is(&line), "{line}");
    }
    for (name, about) in commands() {
        let start = text.find(&format!("\n.SS {name}\n"));
        let section = &text[start.unwrap_or_else(|| panic!("no {name}")) + 1..];
        let section = section.split("\n.SS ").next().unwrap();
        assert!(section.contains(&about), "{name}: {section}");
        let help = help(&[&name]);
        for line in examples(&help) {
            assert!(section.lines().any(|own| own == line), "{name}: {line}");
        }
        for option in options(&help) {
            assert!(text.contains(&option), "{name}: {option}");
        }
    }
    assert_eq!(text.matches("\n.SH COMMANDS\n").count(), 1);
}
