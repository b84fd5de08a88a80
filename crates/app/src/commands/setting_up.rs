//! The welcome, and what a shell and the manual need to know of the program; all made from the command line as data.

use super::tell;
use crate::Ending;
use crate::cli::{Arguments, FIRST_MINUTES, Speech, Whom, examples};
use clap::{Command, CommandFactory as _, ValueEnum as _};
use clap_complete::Shell;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};
use serde_json::json;
use std::io::{self, Write};

/// Says what the program is for and what to type first.
pub fn welcome() -> Ending {
    let about = Arguments::command().get_about().map(ToString::to_string);
    tell(&format!(
        "Welcome to Valvewright.\n{}.\n\n{FIRST_MINUTES}\n\n\
         Then open myrig/nor2.valve in an editor: it is a gate as you would type your own.\n\
         `valvewright demo` writes a whole machine, and `valvewright --help` lists all commands.\n",
        about.unwrap_or_default()
    ));
    Ending::Well
}

/// Prints completions for a shell, or the manual page.
pub fn setup(whom: Whom, speech: &Speech) -> Result<Ending, String> {
    let text = match whom.shell() {
        Some(shell) => completions(shell),
        None => manual().map_err(|error| format!("the manual page cannot be made: {error}"))?,
    };
    if speech.json {
        let word = whom.to_possible_value();
        let record = json!({
            "format": report::record::FORMAT, "record": "setup",
            "for": word.as_ref().map(|word| word.get_name()), "text": text,
        });
        tell(&format!("{record:#}\n"));
    } else {
        tell(&text);
    }
    Ok(Ending::Well)
}

fn completions(shell: Shell) -> String {
    let mut program = Arguments::command();
    let name = program.get_name().to_owned();
    let mut bytes = Vec::new();
    clap_complete::generate(shell, &mut program, name, &mut bytes);
    String::from_utf8_lossy(&bytes).into_owned()
}

impl Whom {
    /// The shell, unless it is the manual.
    fn shell(self) -> Option<Shell> {
        match self {
            Whom::Bash => Some(Shell::Bash),
            Whom::Elvish => Some(Shell::Elvish),
            Whom::Fish => Some(Shell::Fish),
            Whom::Powershell => Some(Shell::PowerShell),
            Whom::Zsh => Some(Shell::Zsh),
            Whom::Manual => None,
        }
    }
}

/// One page: the program as a whole, then every command with its options and examples.
fn manual() -> io::Result<String> {
    let program = Arguments::command();
    let page = Man::new(program.clone());
    let mut title = Vec::new();
    page.render_title(&mut title)?;
    let mut text = String::from_utf8_lossy(&title).into_owned();
    text += &section(|out| page.render_name_section(out))?;
    text += &section(|out| page.render_synopsis_section(out))?;
    text += &section(|out| page.render_description_section(out))?;
    text += &heading("SH", "EXAMPLES");
    text += &shown_examples(&program);
    text += &section(|out| page.render_options_section(out))?;
    text += &heading("SH", "COMMANDS");
    for command in program.get_subcommands() {
        text += &described(command)?;
    }
    Ok(text)
}

/// One command under a heading of its own. What all commands have in common stands above once.
fn described(command: &Command) -> io::Result<String> {
    let name = command.get_name();
    let whole_name = format!("valvewright {name}");
    let own = command.clone().bin_name(whole_name).disable_help_flag(true);
    let page = Man::new(own);
    let mut text = heading("SS", name);
    for section in [
        section(|out| page.render_synopsis_section(out))?,
        section(|out| page.render_description_section(out))?,
        section(|out| page.render_options_section(out))?,
    ] {
        // A section of a page becomes a paragraph of a command.
        if let Some((_, lines)) = section.split_once('\n') {
            text += &format!(".PP\n{lines}");
        }
    }
    Ok(text + &shown_examples(command))
}

/// A section, without what the library writes in front of each for a page that has no other.
fn section(render: impl Fn(&mut dyn Write) -> io::Result<()>) -> io::Result<String> {
    let mut bytes = Vec::new();
    render(&mut bytes)?;
    let text = String::from_utf8_lossy(&bytes);
    Ok(text
        .find(".SH ")
        .map_or("", |start| &text[start..])
        .to_owned())
}

fn heading(kind: &str, text: &str) -> String {
    Roff::new().control(kind, [text]).to_roff()
}

/// The examples of a command, as they are typed, below the line that says when they work.
fn shown_examples(command: &Command) -> String {
    let help = command.get_after_help().map(ToString::to_string);
    let title = help.as_deref().and_then(|help| help.lines().next());
    let mut roff = Roff::new();
    roff.control("PP", []);
    roff.text([roman(title.unwrap_or_default())]);
    roff.control("EX", []);
    for example in examples(command) {
        roff.text([roman(example)]);
    }
    roff.control("EE", []).to_roff()
}
