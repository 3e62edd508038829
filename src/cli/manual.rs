//! Manual pages and shell completions, made from the command line as it is declared.

use std::fs;
use std::path::Path;

use clap::{Command, CommandFactory};
use clap_complete::Shell;
use clap_mangen::Man;
use pondweigh::diagnostic::{counted, nearest};

use crate::cli::{Arguments, DONE, say};

/// Prints the completions of a shell.
pub(crate) fn completions(shell: Shell) -> Result<u8, String> {
    let mut out = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "pondweigh", &mut out);
    say(String::from_utf8_lossy(&out).trim_end());
    Ok(DONE)
}

/// Prints a page of the manual, or writes all of them into a folder.
pub(crate) fn manual(command: Option<&str>, out: Option<&Path>) -> Result<u8, String> {
    let pages = pages()?;
    let Some(out) = out else {
        let wanted = command.map_or_else(
            || "pondweigh".to_owned(),
            |command| format!("pondweigh-{}", command.replace(' ', "-")),
        );
        let Some((_, page)) = pages.iter().find(|(name, _)| *name == wanted) else {
            let command = command.unwrap_or_default();
            let all = pages
                .iter()
                .filter_map(|(name, _)| name.strip_prefix("pondweigh-"));
            return Err(match nearest(command, all) {
                Some(near) => format!("there is no command `{command}`; did you mean `{near}`?"),
                None => format!("there is no command `{command}`"),
            });
        };
        say(page.trim_end());
        return Ok(DONE);
    };
    let cannot = |error: std::io::Error| format!("cannot write to {}: {error}", out.display());
    fs::create_dir_all(out).map_err(cannot)?;
    for (name, page) in &pages {
        fs::write(out.join(format!("{name}.1")), page).map_err(cannot)?;
    }
    say(&format!(
        "Wrote {} into {}.",
        counted(pages.len(), "page", "pages"),
        out.display()
    ));
    Ok(DONE)
}

/// Every page: its name, and its text in roff.
fn pages() -> Result<Vec<(String, String)>, String> {
    // `help` has no page of its own.
    let plain = |command: Command| command.disable_help_subcommand(true);
    let mut program = plain(Arguments::command()).mut_subcommands(plain);
    program.build();
    let mut out = vec![page(&program, "pondweigh")?];
    for command in program
        .get_subcommands()
        .filter(|command| command.get_name() != "help")
    {
        let name = format!("pondweigh-{}", command.get_name());
        out.push(page(command, &name)?);
        for below in command
            .get_subcommands()
            .filter(|below| below.get_name() != "help")
        {
            out.push(page(below, &format!("{name}-{}", below.get_name()))?);
        }
    }
    Ok(out)
}

fn page(command: &Command, name: &str) -> Result<(String, String), String> {
    let mut text = Vec::new();
    // The name of a page is one word; the usage in it keeps the blank.
    let titled = command.clone().display_name(name.to_owned());
    let rendered = Man::new(titled)
        .title(name.to_uppercase())
        .section("1")
        .source(format!("pondweigh {}", env!("CARGO_PKG_VERSION")))
        .manual("Pondweigh")
        .render(&mut text);
    rendered.map_err(|error| format!("cannot write the page {name}: {error}"))?;
    let text = String::from_utf8_lossy(&text);
    // A blank line is no paragraph in roff.
    let lines = text.lines().map(|line| {
        if line.is_empty() {
            ".sp"
        } else {
            line.trim_end()
        }
    });
    let text = lines.collect::<Vec<&str>>().join("\n");
    // The page bears no date, so that the same program gives the same page.
    let text = text.replacen(" 1  \"pondweigh ", " 1 \"\" \"pondweigh ", 1);
    Ok((name.to_owned(), format!("{text}\n{EXIT_STATUS}")))
}

/// What the program's exit code means, at the end of each page.
const EXIT_STATUS: &str = r#".SH "EXIT STATUS"
.TP
.B 0
Done.
.TP
.B 1
The content of the guide has errors; with
.BR "proof \-\-strict" ,
warnings. Something that was handed in is unclear, or nothing was there to do: nobody of a name, no
edition needed. With
.BR "enter \-\-partly" ,
the rest is written.
.TP
.B 2
The command could not run: its arguments are wrong, or the disk refused.
"#;
