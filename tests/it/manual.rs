//! Manual pages, completions, and the script that reports on a change.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpListener;
use std::path::Path;
use std::process::{Command, Output};

use pondweigh::schema::editor_comment;
use serde_json::Value as Json;

use crate::support::{folder, project, text};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("UTF-8")
}

/// The commands that the help lists.
fn commands() -> Vec<String> {
    let help = stdout(&run(&["--help"]));
    let (_, list) = help.split_once("Commands:\n").expect("commands");
    let lines = list.lines().take_while(|line| !line.is_empty());
    lines
        .filter_map(|line| line.split_whitespace().next())
        .filter(|command| *command != "help")
        .map(str::to_owned)
        .collect()
}

#[test]
fn every_command_has_its_page_of_the_manual() {
    let dir = folder("manual");
    let all = run(&["manual", "--out", dir.to_str().expect("a path")]);
    assert_eq!(all.status.code(), Some(0));
    let commands = commands();
    assert!(commands.len() >= 7, "{commands:?}");
    for command in &commands {
        let page =
            std::fs::read_to_string(dir.join(format!("pondweigh-{command}.1"))).expect(command);
        assert_eq!(page, stdout(&run(&["manual", command])), "{command}");
        assert!(page.contains(".SH \"EXIT STATUS\""), "{command}");
        assert!(
            page.contains(&format!("\\fBpondweigh {command}\\fR")),
            "{command}: {page}"
        );
        assert!(!page.contains("\n\n"), "{command}: a blank line");
        // Every option that the help knows is in the page.
        let help = stdout(&run(&[command, "--help"]));
        for option in help
            .split_whitespace()
            .filter(|word| word.starts_with("--"))
        {
            let name = option
                .trim_start_matches('-')
                .trim_end_matches(|c: char| !c.is_alphanumeric());
            let written = format!("\\-\\-{}", name.replace('-', "\\-"));
            assert!(page.contains(&written), "{command}: --{name}");
        }
    }
    let page = std::fs::read_to_string(dir.join("pondweigh.1")).expect("the page of the program");
    for command in &commands {
        assert!(
            page.contains(&format!("pondweigh\\-{command}")),
            "{command}"
        );
    }
    assert_eq!(run(&["manual", "prof"]).status.code(), Some(2));
    // Every page that a page refers to is there.
    let named = |page: &str| -> Vec<String> {
        let lines = page.lines().filter_map(|line| line.strip_suffix("(1)"));
        lines.map(|name| name.replace('\\', "")).collect()
    };
    let mut count = 0;
    for entry in std::fs::read_dir(&dir).expect("pages") {
        let page = std::fs::read_to_string(entry.expect("a page").path()).expect("text");
        for name in named(&page) {
            assert!(dir.join(format!("{name}.1")).is_file(), "{name}");
            count += 1;
        }
    }
    assert!(count > commands.len(), "{count}");
    let below = stdout(&run(&["manual", "person rename"]));
    assert!(below.contains("\\-\\-to"), "{below}");
}

#[test]
fn completions_know_every_command_and_option() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let text = stdout(&run(&["completions", shell]));
        for word in commands()
            .iter()
            .map(String::as_str)
            .chain(["strict", "without", "out"])
        {
            assert!(text.contains(word), "{shell}: {word}");
        }
    }
    assert_eq!(run(&["completions", "abacus"]).status.code(), Some(2));
}

/// Runs git in a repository, as an invented member.
fn git(repository: &Path, arguments: &[&str]) {
    let output = Command::new("git")
        .args([
            "-c",
            "user.name=A member",
            "-c",
            "user.email=member@example.org",
        ])
        .args([
            "-c",
            "init.defaultBranch=main",
            "-c",
            "commit.gpgsign=false",
        ])
        .args(arguments)
        .current_dir(repository)
        .output()
        .expect("git runs");
    assert!(output.status.success(), "git {arguments:?}: {output:?}");
}

/// One request as it came in: its head in lines, and its body.
type Request = (Vec<String>, String);

/// Takes one request on an address of this machine; gives the address, and the request later.
fn receiver() -> (String, std::thread::JoinHandle<Request>) {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = format!(
        "http://{}/comments",
        listener.local_addr().expect("an address")
    );
    let handle = std::thread::spawn(move || {
        let (stream, _) = listener.accept().expect("a request");
        let mut reader = BufReader::new(stream);
        let mut head = Vec::new();
        loop {
            let mut line = String::new();
            reader.read_line(&mut line).expect("a line");
            if line.trim().is_empty() {
                break;
            }
            head.push(line.trim().to_owned());
        }
        let length = head
            .iter()
            .find_map(|line| {
                line.to_lowercase()
                    .strip_prefix("content-length: ")?
                    .parse()
                    .ok()
            })
            .expect("a length");
        let mut body = vec![0; length];
        reader.read_exact(&mut body).expect("a body");
        let mut stream = reader.into_inner();
        stream
            .write_all(b"HTTP/1.1 201 Created\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
            .expect("answered");
        (head, String::from_utf8(body).expect("UTF-8"))
    });
    (address, handle)
}

/// Runs the script on the change of a repository's last commit.
fn change(repository: &Path, more: &[(&str, &str)]) -> Output {
    let mut command = Command::new("sh");
    command
        .arg(".ci/change")
        .current_dir(repository)
        .env("PONDWEIGH", env!("CARGO_BIN_EXE_pondweigh"))
        .env("BASE", "HEAD~1");
    for name in [
        "GUIDE",
        "STRICT",
        "SUMMARY_FILE",
        "COMMENT_URL",
        "COMMENT_TOKEN",
        "http_proxy",
    ] {
        command.env_remove(name);
    }
    command
        .envs(more.iter().copied())
        .output()
        .expect("the script runs")
}

/// A sown guide under git, with one change on top.
fn repository(name: &str, file: &str, text: &str) -> std::path::PathBuf {
    let dir = folder(name);
    assert_eq!(
        run(&["sow", dir.to_str().expect("a path")]).status.code(),
        Some(0)
    );
    git(&dir, &["init", "--quiet"]);
    git(&dir, &["add", "."]);
    git(&dir, &["commit", "--quiet", "-m", "the guide"]);
    let path = dir.join(file);
    let old = std::fs::read_to_string(&path).unwrap_or_default();
    std::fs::write(&path, format!("{old}{text}")).expect("written");
    git(&dir, &["add", "."]);
    git(&dir, &["commit", "--quiet", "-m", "a change"]);
    dir
}

const SPIRALIS: &str = "content/plants/vallisneria/spiralis.yaml";

#[test]
fn a_change_is_proofed_reported_and_commented() {
    let claims = "  - {trait: growth, source: my-log, seen: 2025-06, where: {light: low}, says: very-fast}\n\
                  \x20 - {trait: growth, source: a-label, as: Vallis of the \"old\" \\ jar, says: easy}\n";
    let dir = repository("a-change", SPIRALIS, claims);
    let (address, request) = receiver();
    let summary = dir.join("summary.md");
    std::fs::write(&summary, "before\n").expect("written");
    let output = change(
        &dir,
        &[
            ("COMMENT_URL", &address),
            ("COMMENT_TOKEN", "a-secret"),
            ("SUMMARY_FILE", summary.to_str().expect("a path")),
        ],
    );
    let errors = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{errors}");
    let report = std::fs::read_to_string(dir.join("change.md")).expect("the report");
    assert_eq!(stdout(&output), report);
    assert_eq!(
        std::fs::read_to_string(&summary).expect("the summary"),
        format!("before\n{report}")
    );
    assert!(
        report.starts_with("## What this change does to the guide\n\n1 warning: "),
        "{report}"
    );
    assert!(
        report.contains("    warning: content/plants/vallisneria/spiralis.yaml:"),
        "{report}"
    );
    assert!(report.contains("### What it moves\n\n"), "{report}");
    // What moves is told where the program can tell it.
    if commands().iter().any(|command| command == "shifts") {
        assert!(report.contains("Vallisneria spiralis"), "{report}");
    }
    let (head, body) = request.join().expect("a comment");
    assert_eq!(head[0], "POST /comments HTTP/1.1");
    assert!(
        head.contains(&"Authorization: Bearer a-secret".to_owned()),
        "{head:?}"
    );
    let body: Json = serde_json::from_str(&body).unwrap_or_else(|why| panic!("{why}: {body}"));
    assert_eq!(body["body"].as_str(), Some(report.as_str()));
    let sarif: Json =
        serde_json::from_slice(&std::fs::read(dir.join("proof.sarif")).expect("SARIF"))
            .expect("JSON");
    assert_eq!(sarif["runs"][0]["results"][0]["ruleId"], "unknown-as");
    // The guide itself is as it was.
    let status = Command::new("git")
        .args(["status", "--porcelain", "content"])
        .current_dir(&dir)
        .output()
        .expect("git runs");
    assert!(status.stdout.is_empty(), "{status:?}");
    // Warnings fail on request alone.
    assert_eq!(change(&dir, &[("STRICT", "1")]).status.code(), Some(1));
}

#[test]
fn a_change_is_compared_with_what_it_started_from_or_says_why_not() {
    let remark = "# A remark of the club.\n";
    let dir = repository("a-remark", SPIRALIS, remark);
    let report = |base: &str| stdout(&change(&dir, &[("BASE", base)]));
    let none = report("no-such-branch");
    assert!(
        none.contains("There is no commit `no-such-branch` here"),
        "{none}"
    );
    // The branch that it goes into has moved on: that is none of this change.
    git(&dir, &["branch", "mine"]);
    git(&dir, &["checkout", "--quiet", "-b", "theirs", "HEAD~1"]);
    let path = dir.join(SPIRALIS);
    let old = std::fs::read_to_string(&path).expect("an entry");
    let moved = "  - {trait: growth, source: my-log, seen: 2025-06, where: {light: low}, says: very-fast}\n";
    std::fs::write(&path, format!("{old}{moved}")).expect("written");
    git(&dir, &["commit", "--quiet", "-am", "their change"]);
    git(&dir, &["checkout", "--quiet", "mine"]);
    let apart = report("theirs");
    assert!(apart.contains("Nothing moved of any plant."), "{apart}");
    // What was broken before cannot be weighed.
    git(&dir, &["checkout", "--quiet", "theirs"]);
    std::fs::write(&path, format!("{old}  - {{trait: growht}}\n")).expect("written");
    git(&dir, &["commit", "--quiet", "-am", "a fault"]);
    std::fs::write(&path, format!("{old}{moved}")).expect("written");
    git(&dir, &["commit", "--quiet", "-am", "mended"]);
    let mended = report("HEAD~1");
    assert!(
        mended.contains("The guide had errors before this change"),
        "{mended}"
    );
    let whole = report("HEAD~2");
    assert!(whole.contains("Nothing moved of any plant."), "{whole}");
}

#[test]
fn a_change_with_an_error_fails_and_says_where() {
    let claim = "  - {trait: growth, source: my-lag, says: fast}\n";
    let dir = repository("a-broken-change", SPIRALIS, claim);
    let output = change(&dir, &[]);
    assert_eq!(output.status.code(), Some(1));
    let report = stdout(&output);
    assert!(report.contains("unknown source `my-lag`"), "{report}");
    assert!(
        report.contains("Nothing can be weighed until the errors are mended."),
        "{report}"
    );
    // A comment that cannot be posted loses nothing.
    let nowhere = [
        ("COMMENT_URL", "http://127.0.0.1:9/"),
        ("COMMENT_TOKEN", "x"),
    ];
    let output = change(&dir, &nowhere);
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains("it is in change.md"));
}

/// The shell texts of the workflow's steps.
fn steps() -> Vec<String> {
    let workflow: Json = serde_yaml::from_str(&text(".ci/change.yml")).expect("YAML");
    let steps = workflow["jobs"]["change"]["steps"]
        .as_array()
        .expect("steps")
        .clone();
    let of = |step: &Json| step["run"].as_str().expect("a shell text").to_owned();
    steps.iter().map(of).collect()
}

#[test]
fn the_workflow_fetches_and_comments_with_the_words_of_any_host() {
    let claim = "  - {trait: growth, source: my-log, seen: 2025-06, says: fast}\n";
    let origin = repository("an-origin", SPIRALIS, claim);
    git(
        &origin,
        &["config", "uploadpack.allowAnySHA1InWant", "true"],
    );
    git(&origin, &["branch", "trunk", "HEAD~1"]);
    let head = Command::new("git")
        .args(["rev-parse", "HEAD"])
        .current_dir(&origin)
        .output()
        .expect("git runs");
    let dir = folder("a-runner");
    let bin = dir.join("home/pondweigh/bin");
    std::fs::create_dir_all(&bin).expect("a folder");
    std::fs::copy(env!("CARGO_BIN_EXE_pondweigh"), bin.join("pondweigh")).expect("a copy");
    let work = dir.join("work");
    std::fs::create_dir_all(&work).expect("a folder");
    let (address, request) = receiver();
    let server = origin
        .parent()
        .expect("a folder")
        .to_string_lossy()
        .into_owned();
    let steps = steps();
    assert_eq!(steps.len(), 3);
    // The second step builds the program; it stands in the runner's home here.
    for step in [&steps[0], &steps[2]] {
        let output = Command::new("sh")
            .args(["-e", "-c", step])
            .current_dir(&work)
            .env("HOME", dir.join("home"))
            .env("ANY_SHA", String::from_utf8_lossy(&head.stdout).trim())
            .env("ANY_SERVER_URL", format!("file://{server}"))
            .env("ANY_REPOSITORY", "an-origin")
            .env("ANY_BASE_REF", "trunk")
            .env("ANY_REF", "refs/pull/12/merge")
            .env("ANY_API_URL", address.trim_end_matches("/comments"))
            .env("ANY_STEP_SUMMARY", dir.join("summary.md"))
            .env("COMMENT_TOKEN", "a-secret")
            .output()
            .expect("the step runs");
        assert!(output.status.success(), "{step}\n{output:?}");
    }
    let (head, body) = request.join().expect("a comment");
    assert_eq!(head[0], "POST /repos/an-origin/issues/12/comments HTTP/1.1");
    let summary = std::fs::read_to_string(dir.join("summary.md")).expect("the summary");
    let body: Json = serde_json::from_str(&body).expect("JSON");
    assert_eq!(body["body"].as_str(), Some(summary.as_str()));
    assert!(summary.contains("The guide can be pressed."), "{summary}");
}

#[test]
fn a_sown_guide_has_its_schemas_and_its_script() {
    let dir = folder("sown-whole");
    assert_eq!(
        run(&["sow", dir.to_str().expect("a path")]).status.code(),
        Some(0)
    );
    assert_eq!(
        run(&["proof", dir.to_str().expect("a path"), "--strict"])
            .status
            .code(),
        Some(0)
    );
    let (input, _) = pondweigh::content::disk::read_guide(&dir).expect("a guide");
    let mut n_files = 0;
    for (path, bytes) in &input.files {
        let Some(comment) = editor_comment(path) else {
            continue;
        };
        let first = std::str::from_utf8(bytes).expect("UTF-8").lines().next();
        assert_eq!(first, Some(comment.as_str()), "{path}");
        let (_, schema) = comment.split_once("$schema=").expect("an address");
        let file = dir.join(path);
        let schema = file.parent().expect("a folder").join(schema);
        assert!(schema.is_file(), "{path}: {}", schema.display());
        n_files += 1;
    }
    assert_eq!(n_files, 12);
    for file in [".ci/change", ".ci/change.yml"] {
        let sown = std::fs::read_to_string(dir.join(file)).expect(file);
        assert_eq!(sown, text(file), "{file}");
    }
    assert!(project(".ci/change").is_file());
}
