//! The verdict and its findings on a terminal.

use super::Terminal;
use super::paragraph::{hanging, paragraph};
use crate::sentence;
use network::finding::Finding;
use network::verdict::Verdict;
use text::diagnostic::Severity;
use text::source::SourceMap;

/// Consequences shown below a finding; the rest is counted.
pub(crate) const MOST_CONSEQUENCES: usize = 6;

/// The verdict: what came out, the findings, what can hurt, what was and was not checked, and notes on curves.
#[must_use]
pub fn verdict(verdict: &Verdict, sources: &SourceMap, terminal: &Terminal) -> String {
    let say = |text: &str| terminal.wording.apply(text);
    let name = &verdict.plan.design.name;
    let head = if name.is_empty() {
        String::new()
    } else {
        format!("{name}. ")
    };
    let head = terminal.painted(&head, "1");
    let outcome = sentence::outcome(verdict);
    let mut out = format!("{head}{outcome}\n");
    out.push_str(&paragraph(
        &say(&sentence::machine(verdict)),
        0,
        terminal.width,
    ));
    if !verdict.findings.is_empty() {
        out.push('\n');
        out.push_str(&findings(&verdict.findings, sources, terminal));
    }
    out.push('\n');
    if let Some(caution) = sentence::caution(verdict) {
        out.push_str(&hanging("Caution: ", &say(&caution), 0, terminal.width));
    }
    for checked in &verdict.checked {
        out.push_str(&hanging("Checked: ", &say(checked), 0, terminal.width));
    }
    let mut last = vec![outcome, say(&sentence::not_checked(verdict))];
    last.extend(verdict.extrapolations.iter().map(sentence::extrapolation));
    out.push_str(&paragraph(&last.join(" "), 0, terminal.width));
    out
}

/// Findings, each with the numbers that clash, its cause, what to try, and its consequences below it.
#[must_use]
pub fn findings(findings: &[Finding], sources: &SourceMap, terminal: &Terminal) -> String {
    if findings.is_empty() {
        return "No findings.\n".to_owned();
    }
    let blocks: Vec<String> = findings
        .iter()
        .map(|finding| block(finding, sources, terminal))
        .collect();
    blocks.join("\n")
}

fn block(finding: &Finding, sources: &SourceMap, terminal: &Terminal) -> String {
    let (width, wording) = (terminal.width, terminal.wording);
    let mut out = heading(finding, sources, terminal) + "\n";
    out.push_str(&paragraph(&wording.apply(&finding.cause), 4, width));
    if let Some(numbers) = sentence::numbers(finding, wording) {
        out.push_str(&paragraph(&numbers, 4, width));
    }
    for text in &finding.tries {
        out.push_str(&hanging("Try: ", &wording.apply(text), 4, width));
    }
    let shown = finding.consequences.iter().take(MOST_CONSEQUENCES);
    for consequence in shown {
        out.push_str(&hanging(
            "and so: ",
            &follows(consequence, terminal),
            8,
            width,
        ));
    }
    let unseen = finding.consequences.len().saturating_sub(MOST_CONSEQUENCES);
    if 0 < unseen {
        out.push_str(&paragraph(
            &format!("and {unseen} more that follow from it"),
            8,
            width,
        ));
    }
    out
}

/// `fault  G14  not-cut-off  machine.valve:12:5`
fn heading(finding: &Finding, sources: &SourceMap, terminal: &Terminal) -> String {
    let code = match finding.severity {
        Severity::Fault => "1;31",
        Severity::Caution => "1;33",
        Severity::Note => "1",
    };
    let word = terminal.painted(sentence::severity(finding.severity), code);
    let subject = terminal.painted(&finding.subject, "1");
    let place = sentence::place(sources, finding.span);
    format!("{word}  {subject}  {}  {place}", finding.name)
        .trim_end()
        .to_owned()
}

fn follows(consequence: &Finding, terminal: &Terminal) -> String {
    let mut text = format!(
        "{}, {}: {}",
        consequence.subject,
        consequence.name,
        terminal.wording.apply(&consequence.cause)
    );
    if let Some(numbers) = sentence::numbers(consequence, terminal.wording) {
        text.push(' ');
        text.push_str(&numbers);
    }
    text
}
