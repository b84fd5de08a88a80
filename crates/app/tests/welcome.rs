//! A newcomer's way in: the welcome, the examples of the help texts, completions and the manual page.
#![allow(clippy::unwrap_used, reason = "a test fails where it unwraps")]

#[allow(
    dead_code,
    reason = "here only the help texts count, not what was typed"
)]
#[path = "../src/cli.rs"]
mod cli;
#[allow(dead_code, reason = "here only the name of the folder counts")]
#[path = "../src/demo.rs"]
mod demo;
mod program;

use clap::CommandFactory as _;
use cli::examples;
use program::run;
use std::fs;
use std::path::Path;

/// The whole command line as data.
fn command_line() -> clap::Command {
    cli::Arguments::command()
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
    let program = command_line();
    let first = examples(&program);
    assert_eq!(first.len(), 3, "{first:?}");
    for line in &first {
        type_in(folder.path(), line);
    }
    for command in program.get_subcommands() {
        let name = command.get_name();
        let lines = examples(command);
        assert!(!lines.is_empty(), "`{name} --help` ends with no example");
        let help = run(folder.path(), &[name, "--help"]).out;
        for line in &lines {
            assert_eq!(words(line)[1], name, "an example of another command");
            assert!(help.contains(line), "`{name} --help` lacks `{line}`");
            type_in(folder.path(), line);
        }
    }
}

#[test]
fn the_program_alone_welcomes_and_says_what_to_type() {
    let folder = tempfile::tempdir().unwrap();
    let welcome = run(folder.path(), &[]);
    assert_eq!((welcome.code, welcome.talk.as_str()), (0, ""));
    for line in examples(&command_line()) {
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
    for command in command_line().get_subcommands() {
        let name = command.get_name();
        assert!(script.out.contains(name), "{name}");
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
        for command in command_line().get_subcommands() {
            assert!(script.out.contains(command.get_name()), "{shell}");
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
    let program = command_line();
    for line in examples(&program) {
        assert!(line_is(&line), "{line}");
    }
    for command in program.get_subcommands() {
        let name = command.get_name();
        let start = text.find(&format!("\n.SS {name}\n"));
        let section = &text[start.unwrap_or_else(|| panic!("no {name}")) + 1..];
        let section = section.split("\n.SS ").next().unwrap();
        let about = command.get_about().unwrap().to_string();
        assert!(section.contains(&about), "{name}: {section}");
        for line in examples(command) {
            assert!(section.lines().any(|own| own == line), "{name}: {line}");
        }
        for option in command.get_arguments().filter_map(clap::Arg::get_long) {
            assert!(section.contains(&format!("--{option}")), "{name}: {option}");
        }
    }
    assert_eq!(text.matches("\n.SH COMMANDS\n").count(), 1);
}
