//! How long the desk takes from a save to the page, in a guide of 10,000 made-up plants.
//!
//! `cargo bench --bench desk` prints medians; times are those of the machine. `-- --make DIR` only
//! writes the guide, for `tests/bench/refresh.mjs`, which measures the same in a browser.
//! `PLANTS` and `EDITS` in the environment change the numbers.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

mod guide;

fn number(name: &str, usual: usize) -> usize {
    let set = std::env::var(name).ok();
    set.and_then(|n| n.parse().ok()).unwrap_or(usual)
}

/// Ends the program when the measuring breaks off.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn median(times: &mut [Duration]) -> Duration {
    times.sort();
    times[times.len() / 2]
}

/// The whole answer to a GET.
fn get(host: &str, path: &str) -> std::io::Result<Vec<u8>> {
    let mut stream = TcpStream::connect(host)?;
    write!(
        stream,
        "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
    )?;
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// News of the desk, one line at a time.
fn news(host: &str) -> std::io::Result<BufReader<TcpStream>> {
    let mut stream = TcpStream::connect(host)?;
    write!(stream, "GET /desk/events HTTP/1.1\r\nHost: {host}\r\n\r\n")?;
    Ok(BufReader::new(stream))
}

fn next_turn(news: &mut BufReader<TcpStream>) -> std::io::Result<()> {
    loop {
        let mut line = String::new();
        if news.read_line(&mut line)? == 0 {
            return Err(std::io::ErrorKind::UnexpectedEof.into());
        }
        if line.starts_with("data:") {
            return Ok(());
        }
    }
}

fn measure(root: &Path, plants: usize, edits: usize) -> std::io::Result<()> {
    let started = Instant::now();
    let mut desk = Running(
        Command::new(env!("CARGO_BIN_EXE_pondweigh"))
            .arg("desk")
            .arg(root)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()?,
    );
    let stdout = desk.0.stdout.take().ok_or(std::io::ErrorKind::BrokenPipe)?;
    let mut first = String::new();
    BufReader::new(stdout).read_line(&mut first)?;
    let host = first
        .trim()
        .trim_start_matches("http://")
        .trim_end_matches('/');
    println!(
        "{plants} plants on the desk after {:.1} s",
        started.elapsed().as_secs_f64()
    );
    let mut news = news(host)?;
    next_turn(&mut news)?;
    let mut draw = guide::Draw::new(7);
    let (mut heard, mut shown, mut home) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..edits {
        let (folder, file, _) = guide::plant_name(draw.below(plants));
        let path = root.join(format!("content/plants/{folder}/{file}.yaml"));
        let page = format!("/plants/{folder}-{file}/");
        let before = get(host, &page)?;
        let mut text = std::fs::read_to_string(&path)?;
        text.push_str(&guide::claim(&mut draw, 60));
        std::fs::write(&path, text)?;
        let saved = Instant::now();
        next_turn(&mut news)?;
        heard.push(saved.elapsed());
        let after = get(host, &page)?;
        shown.push(saved.elapsed());
        assert!(before != after, "{page} shows the claim");
        let asked = Instant::now();
        get(host, "/")?;
        home.push(asked.elapsed());
    }
    let ms = |times: &mut [Duration]| median(times).as_secs_f64() * 1e3;
    println!(
        "{edits} saves of one entry, medians: {:.0} ms to the news, {:.0} ms to the plant's page; the home page takes {:.0} ms",
        ms(&mut heard),
        ms(&mut shown),
        ms(&mut home),
    );
    println!(
        "slowest save to the page: {:.0} ms",
        shown.last().map_or(0.0, |t| t.as_secs_f64() * 1e3)
    );
    Ok(())
}

fn main() -> std::io::Result<()> {
    let plants = number("PLANTS", 10_000);
    let settings = Path::new(env!("CARGO_MANIFEST_DIR"));
    let words: Vec<String> = std::env::args().collect();
    if let Some(at) = words.iter().position(|word| word == "--make") {
        let root = words.get(at + 1).ok_or(std::io::ErrorKind::InvalidInput)?;
        return guide::write(Path::new(root), settings, plants, 60);
    }
    let root = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("desk-bench");
    let _ = std::fs::remove_dir_all(&root);
    guide::write(&root, settings, plants, 60)?;
    measure(&root, plants, number("EDITS", 21))?;
    std::fs::remove_dir_all(&root)
}
