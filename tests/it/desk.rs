//! The desk as a program: what it answers, what it refuses, what a save does, what the form writes.
//!
//! Requests are written by hand over a socket: a library would not send most of the hostile ones.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use crate::support::{folder, project};

/// Longest wait for anything; nothing is measured by it.
const PATIENCE: Duration = Duration::from_secs(60);

/// A desk on a copy of the guide of corner cases.
struct Running {
    child: Child,
    guide: PathBuf,
    port: u16,
    told: Arc<Mutex<String>>,
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("a folder");
    for entry in std::fs::read_dir(from).expect("a folder") {
        let path = entry.expect("an entry").path();
        let target = to.join(path.file_name().expect("a name"));
        if path.is_dir() {
            copy(&path, &target);
        } else {
            std::fs::copy(&path, &target).expect("a copy");
        }
    }
}

fn desk(name: &str) -> Running {
    let guide = folder(&format!("desk-{name}"));
    copy(
        &project("tests/guides/corner/content"),
        &guide.join("content"),
    );
    let mut child = Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .arg("desk")
        .arg(&guide)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let told: Arc<Mutex<String>> = Arc::default();
    let into = Arc::clone(&told);
    let stderr = child.stderr.take().expect("stderr");
    std::thread::spawn(move || {
        for line in BufReader::new(stderr).lines().map_while(Result::ok) {
            let mut told = into.lock().expect("the lock");
            told.push_str(&line);
            told.push('\n');
        }
    });
    let mut first = String::new();
    let mut stdout = BufReader::new(child.stdout.take().expect("stdout"));
    stdout.read_line(&mut first).expect("an address");
    let port = first
        .trim()
        .strip_prefix("http://127.0.0.1:")
        .and_then(|rest| rest.strip_suffix('/')?.parse().ok())
        .unwrap_or_else(|| panic!("no address: {first}"));
    Running {
        child,
        guide,
        port,
        told,
    }
}

/// An answer: status, head, body.
struct Answer {
    status: u16,
    head: String,
    body: String,
}

fn answer_of(bytes: &[u8]) -> Answer {
    let text = String::from_utf8_lossy(bytes).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    let status = head
        .split(' ')
        .nth(1)
        .and_then(|status| status.parse().ok())
        .unwrap_or(0);
    Answer {
        status,
        head: head.to_owned(),
        body: body.to_owned(),
    }
}

impl Running {
    fn connect(&self) -> TcpStream {
        let address = SocketAddr::from((Ipv4Addr::LOCALHOST, self.port));
        let stream = TcpStream::connect_timeout(&address, PATIENCE).expect("the desk answers");
        stream.set_read_timeout(Some(PATIENCE)).expect("a limit");
        stream.set_write_timeout(Some(PATIENCE)).expect("a limit");
        stream
    }

    /// Sends bytes as they are; gives what comes back until the other side ends.
    fn raw(&self, request: &str) -> Answer {
        let mut stream = self.connect();
        let _ = stream.write_all(request.as_bytes());
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        answer_of(&bytes)
    }

    fn ask(&self, method: &str, path: &str, headers: &[&str], body: &str) -> Answer {
        let mut request = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\n");
        for header in headers {
            request.push_str(header);
            request.push_str("\r\n");
        }
        if !body.is_empty() {
            request.push_str(&format!("Content-Length: {}\r\n", body.len()));
        }
        self.raw(&format!("{request}\r\n{body}"))
    }

    fn host(&self) -> String {
        format!("Host: 127.0.0.1:{}", self.port)
    }

    fn get(&self, path: &str) -> Answer {
        self.ask("GET", path, &[&self.host()], "")
    }

    fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let origin = format!("Origin: http://127.0.0.1:{}", self.port);
        let kind = "Content-Type: application/x-www-form-urlencoded";
        let body: Vec<String> = fields
            .iter()
            .map(|(name, text)| format!("{name}={}", encoded(text)))
            .collect();
        let answer = self.ask(
            "POST",
            path,
            &[&self.host(), &origin, kind],
            &body.join("&"),
        );
        if answer.status != 303 {
            return answer;
        }
        // As a browser follows it.
        let to = answer.head.lines().find_map(|line| {
            let to = line.to_lowercase();
            to.strip_prefix("location: ").map(str::to_owned)
        });
        let to = to.expect("where it leads");
        self.get(to.split('#').next().expect("an address"))
    }

    fn token(&self) -> String {
        let page = self.get("/desk/").body;
        let (_, after) = page.split_once("desk-token\" content=\"").expect("a token");
        after.split('"').next().expect("its end").to_owned()
    }

    /// Waits until the log has a text.
    fn hears(&self, text: &str) {
        let ends = std::time::Instant::now() + PATIENCE;
        while !self.told.lock().expect("the lock").contains(text) {
            let told = self.told.lock().expect("the lock").clone();
            assert!(
                std::time::Instant::now() < ends,
                "`{text}` is not in {told}"
            );
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    fn lives(&self) {
        let home = self.get("/");
        assert_eq!(home.status, 200, "{}", home.head);
        assert!(home.body.contains("<main"));
    }

    fn file(&self, path: &str) -> PathBuf {
        self.guide.join(path)
    }

    fn text(&self, path: &str) -> String {
        std::fs::read_to_string(self.file(path)).expect(path)
    }

    /// Opens the stream of news and reads what is there already.
    fn news(&self) -> News {
        let mut news = self.news_of("/", 0, "");
        news.next();
        news
    }

    /// News for a page that shows a turn and has a mark.
    fn news_of(&self, path: &str, turn: u64, mark: &str) -> News {
        let mut stream = self.connect();
        write!(
            stream,
            "GET /desk/events?of={}&turn={turn}&mark={mark} HTTP/1.1\r\n{}\r\n\r\n",
            encoded(path),
            self.host()
        )
        .expect("a request");
        News(BufReader::new(stream))
    }
}

struct News(BufReader<TcpStream>);

impl News {
    /// Waits for the next turn.
    fn next(&mut self) -> u64 {
        self.next_with_word().0
    }

    /// Waits for the next turn, and for whether the page need not be loaded again.
    fn next_with_word(&mut self) -> (u64, bool) {
        loop {
            let mut line = String::new();
            let read = self.0.read_line(&mut line).expect("news in time");
            assert!(read > 0, "the stream of news ends");
            if let Some(turn) = line.trim().strip_prefix("data: ") {
                let (turn, is_same) = match turn.split_once(' ') {
                    Some((turn, word)) => (turn, word == "same"),
                    None => (turn, false),
                };
                return (turn.parse().expect("a number"), is_same);
            }
        }
    }
}

fn encoded(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' => char::from(byte).to_string(),
            byte => format!("%{byte:02X}"),
        })
        .collect()
}

/// Every file below a folder with its bytes.
fn snapshot(folder: &Path, out: &mut Vec<(PathBuf, Vec<u8>)>) {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    paths.sort();
    for path in paths {
        if path.is_dir() {
            snapshot(&path, out);
        } else {
            let bytes = std::fs::read(&path).expect("a file");
            out.push((path, bytes));
        }
    }
}

const VERBA: &str = "content/plants/verba/prima.yaml";

fn with_claim(text: &str, claim: &str) -> String {
    text.replacen("claims:", &format!("claims:\n  - {claim}\n #"), 1)
        .replace("\n #", "")
}

#[test]
fn pages_are_served_with_a_strict_head_and_listen_for_news() {
    let desk = desk("pages");
    let home = desk.get("/");
    assert_eq!(home.status, 200);
    let head = home.head.to_lowercase();
    for line in [
        "content-security-policy: default-src 'none';",
        "frame-ancestors 'none'",
        "x-content-type-options: nosniff",
        "x-frame-options: deny",
        "cache-control: no-store",
        "cross-origin-resource-policy: same-origin",
    ] {
        assert!(head.contains(line), "{line}: {head}");
    }
    assert!(home.body.contains("src=\"/desk/refresh.js?turn="));
    assert_eq!(desk.get("/plants/verba-prima/").status, 200);
    let moved = desk.get("/plants/verba-prima");
    assert_eq!(moved.status, 308);
    assert!(moved.head.contains("location: /plants/verba-prima/"));
    let json = desk.get("/plants/verba-prima/plant.json");
    assert!(json.head.contains("application/json") && json.body.starts_with('{'));
    assert!(!json.body.contains("desk"), "only pages listen");
    let lost = desk.get("/plants/no-such-plant/");
    assert_eq!(lost.status, 404);
    assert!(lost.body.contains("/plants/no-such-plant/"));
    let head = desk.ask("HEAD", "/", &[&desk.host()], "");
    assert_eq!((head.status, head.body.as_str()), (200, ""));
    for asset in ["/desk/desk.css", "/desk/refresh.js", "/desk/form.js"] {
        assert_eq!(desk.get(asset).status, 200, "{asset}");
    }
}

#[test]
fn hostile_requests_are_refused_and_logged_and_the_desk_lives_on() {
    let desk = desk("hostile");
    let mut before = Vec::new();
    snapshot(&desk.guide, &mut before);
    let host = desk.host();
    let origin = format!("Origin: http://127.0.0.1:{}", desk.port);
    let form = "Content-Type: application/x-www-form-urlencoded";
    let heads: [(&str, &str, &[&str], u16, &str); 22] = [
        ("GET", "/", &[], 421, "host not given"),
        (
            "GET",
            "/",
            &["Host: guide.example"],
            421,
            "host `guide.example`",
        ),
        ("GET", "/", &["Host: 127.0.0.1"], 421, "host `127.0.0.1`"),
        ("GET", "/", &["Host: guide.example:80"], 421, "host"),
        ("GET", "/", &[&host, &host], 421, "host"),
        (
            "GET",
            "/",
            &[&host, "Origin: http://evil.example"],
            403,
            "origin `http://evil.example`",
        ),
        ("GET", "/", &[&host, "Origin: null"], 403, "origin `null`"),
        (
            "GET",
            "/",
            &[&host, "Sec-Fetch-Site: cross-site"],
            403,
            "from another site",
        ),
        (
            "GET",
            "/../../etc/passwd",
            &[&host],
            400,
            "path `/../../etc/passwd`",
        ),
        (
            "GET",
            "/plants/../../content/guide.yaml",
            &[&host],
            400,
            "path",
        ),
        (
            "GET",
            "/%2e%2e/%2e%2e/etc/passwd",
            &[&host],
            400,
            "path `/%2e%2e/%2e%2e/etc/passwd`",
        ),
        ("GET", "/%2E%2e%2fetc", &[&host], 400, "path"),
        ("GET", "/..%5c..%5cwindows", &[&host], 400, "path"),
        ("GET", "/%00", &[&host], 400, "path"),
        ("GET", "/%252e%252e/", &[&host], 400, "path"),
        (
            "GET",
            "http://evil.example/",
            &[&host],
            400,
            "an address with a host in it",
        ),
        ("DELETE", "/", &[&host, &origin], 405, "method `DELETE`"),
        ("TRACE", "/", &[&host], 405, "method `TRACE`"),
        (
            "POST",
            "/desk/write",
            &[&host, form],
            403,
            "no origin with a write",
        ),
        (
            "POST",
            "/desk/write",
            &[&host, "Origin: http://evil.example", form],
            403,
            "origin",
        ),
        (
            "POST",
            "/desk/write",
            &[&host, &origin, form],
            403,
            "no token with a write",
        ),
        ("POST", "/desk/write", &[&host, &origin], 415, "no form"),
    ];
    for (method, path, headers, status, why) in heads {
        let answer = desk.ask(method, path, headers, "plant=Verba+prima");
        assert_eq!(
            answer.status, status,
            "{method} {path} {headers:?}: {}",
            answer.head
        );
        assert!(!answer.body.contains("root:") && !answer.body.contains("title:"));
        desk.hears(why);
        // The log says no more than so many in a second.
        std::thread::sleep(Duration::from_millis(60));
    }
    for noise in [
        "\r\n\r\n",
        "hello\r\n\r\n",
        "GET / HTTP/9.9\r\n\r\n",
        "\u{0}\u{1}\u{2}\r\n\r\n",
    ] {
        assert!(matches!(desk.raw(noise).status, 0 | 400 | 505), "{noise:?}");
    }
    let wrong = desk.post(
        "/desk/write",
        &[("token", &"0".repeat(48)), ("plant", "Verba prima")],
    );
    assert_eq!(wrong.status, 403);
    let long = desk.get(&format!("/{}", "a".repeat(5000)));
    assert_eq!(long.status, 414);
    let headers = format!("X-Much: {}", "a".repeat(200_000));
    assert!(matches!(
        desk.ask("GET", "/", &[&host, &headers], "").status,
        0 | 431
    ));
    desk.lives();
    let mut after = Vec::new();
    snapshot(&desk.guide, &mut after);
    assert!(before == after, "nothing on the disk is another");
}

#[test]
fn a_body_of_100_mb_is_refused_unread() {
    let desk = desk("body");
    let token = desk.token();
    let line = "x".repeat(1 << 20);
    for chunked in [false, true] {
        let mut stream = desk.connect();
        let length = if chunked {
            "Transfer-Encoding: chunked".to_owned()
        } else {
            format!("Content-Length: {}", 100 << 20)
        };
        write!(
            stream,
            "POST /desk/write HTTP/1.1\r\n{}\r\nOrigin: http://127.0.0.1:{}\r\nContent-Type: application/x-www-form-urlencoded\r\n{length}\r\n\r\n",
            desk.host(),
            desk.port
        )
        .expect("a head");
        let mut sent = 0;
        for _ in 0..100 {
            let part = if chunked {
                format!("{:x}\r\n{line}\r\n", line.len())
            } else {
                line.clone()
            };
            if stream.write_all(part.as_bytes()).is_err() {
                break;
            }
            sent += 1;
        }
        assert!(sent < 100, "the other side hangs up before it has read all");
        // The answer may be lost with the connection, as the other side does not read on.
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        assert!(matches!(answer_of(&bytes).status, 0 | 413));
        desk.hears("a body above 1 MB");
        desk.lives();
    }
    // Sent with no more than its head, the answer arrives.
    let head = format!("Content-Length: {}", 100 << 20);
    let answer = desk.ask("POST", "/desk/write", &[&desk.host(), &head], "");
    assert!(matches!(answer.status, 403 | 413), "{}", answer.head);
    let answer = desk.ask("GET", "/", &[&desk.host(), &head], "");
    assert_eq!(answer.status, 413);
    let large = "y".repeat(1_100_000);
    let answer = desk.post("/desk/write", &[("token", &token), ("remark", &large)]);
    assert_eq!(answer.status, 413);
    desk.lives();
}

#[test]
fn slow_heads_and_too_many_connections_are_cut_off() {
    let desk = desk("slow");
    let mut slow = desk.connect();
    slow.write_all(b"GET / HTTP/1.1\r\nHost: 127")
        .expect("a start");
    let mut waiting: Vec<TcpStream> = (0..80).map(|_| desk.connect()).collect();
    desk.hears("too many at one time");
    let mut bytes = Vec::new();
    let _ = slow.read_to_end(&mut bytes);
    assert!(matches!(answer_of(&bytes).status, 0 | 408));
    desk.hears("its head was too slow");
    waiting.clear();
    // Closed ones give their places back in a moment.
    let ends = std::time::Instant::now() + PATIENCE;
    while desk
        .raw(&format!(
            "GET / HTTP/1.1\r\nConnection: close\r\n{}\r\n\r\n",
            desk.host()
        ))
        .status
        != 200
    {
        assert!(std::time::Instant::now() < ends, "no place comes free");
        std::thread::sleep(Duration::from_millis(50));
    }
    desk.lives();
}

#[test]
fn a_save_sends_news_and_changes_the_page() {
    let desk = desk("save");
    let mut news = desk.news();
    let page = || desk.get("/plants/verba-prima/").body;
    let before = page();
    let text = desk.text(VERBA);
    let claim = "{trait: growth, source: log-a, says: very-fast, remark: Seen in the first jar.}";
    std::fs::write(desk.file(VERBA), with_claim(&text, claim)).expect("a save");
    news.next();
    assert!(!before.contains("Seen in the first jar"));
    assert!(page().contains("Seen in the first jar"));
    desk.hears("took up 1 file: 1 plant weighed");
    // By rename, as many editors save.
    let beside = desk.file("content/plants/verba/.prima.yaml.tmp");
    std::fs::write(
        &beside,
        with_claim(&text, &claim.replace("first", "second")),
    )
    .expect("a file");
    std::fs::rename(&beside, desk.file(VERBA)).expect("a rename");
    news.next();
    assert!(page().contains("Seen in the second jar"));
    // In two steps: emptied, then written. What it says at last is what counts.
    let mut file = std::fs::File::create(desk.file(VERBA)).expect("an empty file");
    std::thread::sleep(Duration::from_millis(40));
    file.write_all(with_claim(&text, &claim.replace("first", "third")).as_bytes())
        .expect("a save");
    drop(file);
    while !page().contains("Seen in the third jar") {
        news.next();
    }
    // A file that is the same is no news; the next save is.
    std::fs::write(desk.file(VERBA), desk.text(VERBA)).expect("a save");
    std::fs::write(desk.file(VERBA), &text).expect("a save");
    while page().contains("Seen in the third jar") {
        news.next();
    }
    assert_eq!(turnless(&page()), turnless(&before));
}

/// A page without the number of its state and its mark.
fn turnless(page: &str) -> String {
    let (before, after) = page.split_once("refresh.js?turn=").expect("it listens");
    let (_, rest) = after.split_once('"').expect("the end of an address");
    format!("{before}{rest}")
}

/// The mark in a page.
fn mark(page: &str) -> &str {
    let (_, after) = page.split_once("&amp;mark=").expect("a mark");
    after.split('"').next().expect("a mark")
}

#[test]
fn a_page_that_a_save_does_not_change_need_not_be_loaded_again() {
    let desk = desk("same");
    let (plant, other) = ("/plants/verba-prima/", "/words/");
    let marks = [plant, other].map(|path| mark(&desk.get(path).body).to_owned());
    // What a page is told that shows an earlier turn.
    let same = |path: &str, mark: &str| desk.news_of(path, 0, mark).next_with_word().1;
    assert!(same(plant, &marks[0]) && same(other, &marks[1]));
    assert!(!same(other, &marks[0]) && !same("/no/such/", &marks[0]) && !same(plant, ""));
    let mut of_plant = desk.news_of(plant, 1, &marks[0]);
    let mut of_other = desk.news_of(other, 1, &marks[1]);
    for news in [&mut of_plant, &mut of_other] {
        assert_eq!(news.next_with_word(), (1, false), "it shows that turn");
    }
    let before = desk.text(VERBA);
    let claim = "{trait: growth, source: log-a, seen: 2025-06, says: slow}";
    std::fs::write(desk.file(VERBA), with_claim(&before, claim)).expect("a save");
    assert!(!of_plant.next_with_word().1, "its claims are others");
    assert!(of_other.next_with_word().1);
    // The page that was compared is the one that is then served.
    let compared = desk.get(plant).body;
    assert_eq!(turnless(&compared), turnless(&desk.get(plant).body));
    assert!(compared.contains("2025-06"), "{compared}");
    // A theme may dress every page anew and leave its text as it is.
    std::fs::create_dir_all(desk.file("themes/stillwater/dress")).expect("a folder");
    let style = "themes/stillwater/dress/guide.css";
    std::fs::write(desk.file(style), "p { color: red }").expect("a style");
    assert!(!of_other.next_with_word().1);
    let fault = format!("{before}  - {{trait: growth}}\n");
    std::fs::write(desk.file(VERBA), fault).expect("a fault");
    let mut turns = 0;
    while desk.get(plant).status == 200 {
        of_other.next();
        turns += 1;
        assert!(turns < 50);
    }
    assert!(
        !same(plant, mark(&compared)),
        "a guide with errors has no pages"
    );
}

#[test]
fn many_files_at_one_time_are_taken_up() {
    let desk = desk("many");
    let mut news = desk.news();
    let folder = desk.file("content/plants/verba");
    let away = desk.guide.join("away");
    assert_eq!(desk.get("/plants/verba-secunda/").status, 200);
    // A folder that goes, and comes back, says nothing of its files.
    std::fs::rename(&folder, &away).expect("a rename");
    let mut turns = 0;
    while desk.get("/plants/verba-secunda/").status == 200 {
        news.next();
        turns += 1;
        assert!(turns < 50);
    }
    std::fs::rename(&away, &folder).expect("a rename");
    while desk.get("/plants/verba-secunda/").status != 200 {
        news.next();
        turns += 1;
        assert!(turns < 50);
    }
    // A new genus in a new folder, as a pull brings it.
    let new = desk.file("content/plants/novaria");
    std::fs::create_dir(&new).expect("a folder");
    for number in ["una", "duae", "tres"] {
        let text = format!(
            "name: Novaria {number}\nform: stem\nclaims:\n  - {{trait: growth, source: log-a, says: slow}}\n"
        );
        std::fs::write(new.join(format!("{number}.yaml")), text).expect("a file");
    }
    while desk.get("/plants/novaria-tres/").status != 200 {
        news.next();
        turns += 1;
        assert!(turns < 50);
    }
    assert_eq!(desk.get("/names/novaria/").status, 200);
    std::fs::remove_dir_all(&new).expect("a folder less");
    while desk.get("/plants/novaria-una/").status == 200 {
        news.next();
        turns += 1;
        assert!(turns < 50);
    }
    desk.lives();
}

#[test]
fn faults_stand_in_place_of_the_site_until_they_are_mended() {
    let desk = desk("faults");
    let mut news = desk.news();
    let token = desk.token();
    let text = desk.text(VERBA);
    let broken = with_claim(&text, "{trait: growth, source: no-such-log, says: fast}");
    std::fs::write(desk.file(VERBA), &broken).expect("a save");
    news.next();
    let proof = Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .arg("proof")
        .arg(&desk.guide)
        .output()
        .expect("the program runs");
    let told = String::from_utf8(proof.stdout).expect("UTF-8");
    let excerpt = told
        .split("\n\n")
        .find(|part| part.contains("no-such-log"))
        .expect(&told);
    let escaped = excerpt
        .trim()
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
        .replace('\'', "&#39;");
    for path in [
        "/",
        "/plants/verba-prima/",
        "/plants/verba-secunda/",
        "/desk/",
    ] {
        let page = desk.get(path);
        assert_eq!(page.status, 503, "{path}");
        // Each line of it, but for the marks of a terminal.
        for line in escaped.lines() {
            let line = line.trim_end();
            let said = line
                .split_once("= help: use")
                .map_or(line, |(_, help)| help);
            if !matches!(said.trim(), "" | "|") {
                assert!(page.body.contains(said), "{path}: {}\n{said}", page.body);
            }
        }
        assert!(
            page.body.contains("/desk/refresh.js"),
            "it goes away by itself"
        );
    }
    // What was typed is not lost to a fault in another file.
    let page = desk.post(
        "/desk/try",
        &[
            ("token", &token),
            ("plant", "Verba prima"),
            ("remark", "a \"word\""),
        ],
    );
    assert_eq!(page.status, 503);
    assert!(page.body.contains("Nothing was written"), "{}", page.body);
    assert!(
        page.body
            .contains("name=\"remark\" value=\"a &quot;word&quot;\""),
        "{}",
        page.body
    );
    assert!(page.body.contains("no-such-log") && !page.body.contains("refresh.js"));
    let form = desk.post("/desk/write", &[("token", "x")]);
    assert_eq!(form.status, 403);
    // A file that is no YAML, or half of it.
    std::fs::write(desk.file(VERBA), "name: [Verba").expect("a save");
    news.next();
    assert_eq!(desk.get("/").status, 503);
    std::fs::write(desk.file(VERBA), &text).expect("a save");
    let mut turns = 0;
    while desk.get("/").status != 200 {
        news.next();
        turns += 1;
        assert!(turns < 50);
    }
    assert_eq!(desk.get("/plants/verba-prima/").status, 200);
    // A link to nowhere is found on its page, though nobody has opened it.
    std::fs::write(
        desk.file(VERBA),
        format!("summary: \"See [that](../no-such-page/).\"\n{text}"),
    )
    .expect("a save");
    news.next();
    let page = desk.get("/");
    assert_eq!(page.status, 503);
    assert!(page.body.contains("no-such-page"), "{}", page.body);
    std::fs::write(desk.file(VERBA), &text).expect("a save");
    news.next();
    desk.lives();
}

#[test]
fn the_form_shows_what_would_move_and_writes_only_on_confirmation() {
    let desk = desk("form");
    let before = desk.text(VERBA);
    let token = desk.token();
    let fields = |extra: &[(&'static str, &'static str)]| -> Vec<(String, String)> {
        let mut out = vec![
            ("token".to_owned(), token.clone()),
            ("plant".to_owned(), "Verba prima".to_owned()),
            ("trait".to_owned(), "growth".to_owned()),
            ("value".to_owned(), "12 cm to 41 cm in 20 d".to_owned()),
            ("source".to_owned(), "log-a".to_owned()),
            ("where-light".to_owned(), "low".to_owned()),
            ("date".to_owned(), "2025-05-01".to_owned()),
            ("remark".to_owned(), "Two \"shoots\", <cut>.".to_owned()),
        ];
        for (name, text) in extra {
            out.retain(|(other, _)| other != name);
            out.push(((*name).to_owned(), (*text).to_owned()));
        }
        out
    };
    let send = |path: &str, fields: &[(String, String)]| {
        let fields: Vec<(&str, &str)> = fields
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        desk.post(path, &fields)
    };
    let names = desk.get("/desk/names?q=verba+pr").body;
    assert!(names.contains("Verba prima"), "{names}");
    let tried = send("/desk/try", &fields(&[]));
    assert_eq!(tried.status, 200, "{}", tried.body);
    assert!(tried.body.contains("What it would move"));
    assert!(
        tried
            .body
            .contains("grew: {from: 12 cm, to: 41 cm, over: 20 d}"),
        "{}",
        tried.body
    );
    assert!(tried.body.contains("&lt;cut&gt;") && !tried.body.contains("<cut>"));
    assert_eq!(desk.text(VERBA), before, "nothing is written yet");
    for (extra, field) in [
        (("plant", "Verba pirma"), "plant"),
        (("value", "swiftly"), "value"),
        (("source", ""), "source"),
        (("where-light", "gloomy"), "where"),
        (("date", "3/4/2025"), "date"),
        (("date", "9025-04-03"), "date"),
        (("where-light", "low; dim"), "where"),
        (("source-title", "Log of the back yard"), "source-title"),
        (("remark", "two \u{202e}evil"), "remark"),
        (("value", "12 cm to 410 cm in 2 d"), "value"),
        (("trait", "charm"), "trait"),
    ] {
        let answer = send("/desk/write", &fields(&[extra]));
        assert_eq!(answer.status, 422, "{extra:?}: {}", answer.body);
        assert!(answer.body.contains("To settle first"), "{extra:?}");
        if field != "where" {
            let tied = format!("id=\"{field}-wrong\"");
            assert!(answer.body.contains(&tied), "{extra:?}: {}", answer.body);
        }
        assert_eq!(desk.text(VERBA), before, "{extra:?}");
    }
    let mut without = fields(&[]);
    without.remove(0);
    assert_eq!(send("/desk/write", &without).status, 403);
    assert_eq!(desk.text(VERBA), before);
    let mut news = desk.news();
    let written = send("/desk/write", &fields(&[]));
    assert_eq!(written.status, 200, "{}", written.body);
    assert!(written.body.contains("Written") && written.body.contains("/plants/verba-prima/"));
    news.next();
    let after = desk.text(VERBA);
    assert_ne!(after, before);
    assert!(
        after.contains("grew: {from: 12 cm, to: 41 cm, over: 20 d}"),
        "{after}"
    );
    for line in before.lines() {
        assert!(after.contains(line), "{line} stays");
    }
    assert!(
        desk.get("/plants/verba-prima/")
            .body
            .contains("&lt;cut&gt;")
    );
    let twice = send("/desk/write", &fields(&[]));
    assert!(twice.body.contains("It is there already"), "{}", twice.body);
    assert_eq!(desk.text(VERBA), after);
    // A new source comes with the claim, and not before.
    let new = fields(&[
        ("source", "+new"),
        ("source-title", "Log of the back yard"),
        ("source-kind", "log"),
    ]);
    let path = "content/sources/log-of-the-back-yard.yaml";
    let tried = send("/desk/try", &new);
    assert!(tried.body.contains(path), "{}", tried.body);
    assert!(!desk.file(path).exists());
    assert_eq!(
        desk.get("/sources/log-of-the-back-yard/").status,
        404,
        "a try leaves nothing behind"
    );
    assert_eq!(send("/desk/write", &new).status, 200);
    assert!(desk.text(path).contains("kind: log"));
    assert!(desk.text(VERBA).contains("source: log-of-the-back-yard"));
    assert_eq!(desk.get("/sources/log-of-the-back-yard/").status, 200);
    // A title without a Latin letter has a file all the same.
    let other = fields(&[
        ("source", "+new"),
        ("source-title", "日本の水槽の記録"),
        ("source-kind", "log"),
        ("date", "2025-06-01"),
    ]);
    let written = send("/desk/write", &other);
    assert_eq!(written.status, 200, "{}", written.body);
    assert!(
        desk.text("content/sources/source-1.yaml")
            .contains("title: 日本の水槽の記録")
    );
    assert!(
        written.body.contains("value=\"source-1\" selected"),
        "the next slip is of the same source"
    );
    for bad in ["", "../../out", "Log of the back yard"] {
        let extra = [
            ("source", "+new"),
            ("source-title", bad),
            ("source-kind", "kindly"),
        ];
        assert_eq!(send("/desk/write", &fields(&extra)).status, 422, "{bad}");
    }
}

#[test]
fn what_was_shown_of_another_state_is_shown_again_and_not_written() {
    let desk = desk("two-windows");
    let token = desk.token();
    let slip = |says: &'static str, turn: &str| {
        let fields = [
            ("token", token.as_str()),
            ("plant", "Verba prima"),
            ("trait", "growth"),
            ("value", says),
            ("source", "log-a"),
            ("date", "2025-05-01"),
            ("turn", turn),
        ];
        desk.post(
            if turn.is_empty() {
                "/desk/try"
            } else {
                "/desk/write"
            },
            &fields,
        )
    };
    let turn = |page: &str| {
        let (_, rest) = page.split_once("name=\"turn\" value=\"").expect("a turn");
        rest.split('"').next().expect("a number").to_owned()
    };
    let (first, second) = (slip("slow", "").body, slip("fast", "").body);
    assert_eq!(slip("slow", &turn(&first)).status, 200);
    let between = desk.text(VERBA);
    let late = slip("fast", &turn(&second));
    assert_eq!(late.status, 409);
    assert!(late.body.contains("The guide has changed since you looked"));
    assert_eq!(desk.text(VERBA), between, "nothing is written");
    assert_eq!(slip("fast", &turn(&late.body)).status, 200);
    assert_ne!(desk.text(VERBA), between);
}

#[test]
fn a_form_of_an_earlier_run_is_told_so() {
    let desk = desk("expired");
    let answer = desk.post(
        "/desk/write",
        &[("token", "0123"), ("plant", "Verba prima")],
    );
    assert_eq!(answer.status, 403);
    assert!(answer.body.contains("Load the form again"));
}

#[test]
fn a_content_folder_that_goes_and_comes_back_is_watched_again() {
    let desk = desk("comes-back");
    let mut news = desk.news();
    let (content, away) = (desk.file("content"), desk.guide.join("away"));
    copy(&content, &away);
    std::fs::remove_dir_all(&content).expect("a folder less");
    let ends = std::time::Instant::now() + PATIENCE;
    while desk.get("/").status != 503 {
        assert!(std::time::Instant::now() < ends, "it has no guide any more");
        std::thread::sleep(Duration::from_millis(20));
    }
    copy(&away, &content);
    while desk.get("/").status != 200 {
        assert!(std::time::Instant::now() < ends, "the guide is there again");
        std::thread::sleep(Duration::from_millis(20));
    }
    news.next();
    let text = desk.text(VERBA);
    let claim = "{trait: growth, source: log-a, says: very-fast, remark: Seen afterwards.}";
    std::fs::write(desk.file(VERBA), with_claim(&text, claim)).expect("a save");
    while !desk
        .get("/plants/verba-prima/")
        .body
        .contains("Seen afterwards")
    {
        assert!(std::time::Instant::now() < ends, "a save is seen");
        std::thread::sleep(Duration::from_millis(20));
    }
    let moved = desk.get("/desk/moved.json").body;
    assert!(moved.starts_with("[[\"Verba prima\","), "{moved}");
}

#[test]
fn reading_writes_nothing() {
    let desk = desk("reading");
    let mut before = Vec::new();
    snapshot(&desk.guide, &mut before);
    let token = desk.token();
    for path in [
        "/",
        "/desk/",
        "/desk/write",
        "/desk/try",
        "/wanted/",
        "/data/",
        "/search/drawers.json",
    ] {
        desk.get(&format!(
            "{path}?token={token}&plant=Verba+prima&trait=growth&value=fast&source=log-a"
        ));
    }
    let mut after = Vec::new();
    snapshot(&desk.guide, &mut after);
    assert!(before == after);
}

#[cfg(unix)]
#[test]
fn an_interrupt_ends_it_with_nothing_to_report() {
    let mut desk = desk("ends");
    desk.lives();
    let _news = desk.news();
    let asked = Command::new("kill")
        .args(["-INT", &desk.child.id().to_string()])
        .status()
        .expect("kill runs");
    assert!(asked.success());
    let ends = std::time::Instant::now() + PATIENCE;
    let status = loop {
        if let Some(status) = desk.child.try_wait().expect("a state") {
            break status;
        }
        assert!(std::time::Instant::now() < ends, "it does not end");
        std::thread::sleep(Duration::from_millis(20));
    };
    assert_eq!(status.code(), Some(0));
}

#[test]
fn a_port_that_is_taken_is_told() {
    let desk = desk("taken");
    let second = Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .args(["desk", "--port", &desk.port.to_string()])
        .arg(&desk.guide)
        .output()
        .expect("the program runs");
    assert_eq!(second.status.code(), Some(2));
    let told = String::from_utf8_lossy(&second.stderr).into_owned();
    assert!(told.contains("is taken"), "{told}");
}

/// The desk has a style of its own, as a guide's theme may be another; its colors are the built-in
/// theme's.
#[test]
fn the_desk_has_the_colors_of_the_theme() {
    let colors = |path: &str| -> Vec<String> {
        let style = crate::support::text(path);
        let lines = style.lines().map(str::trim);
        let own = lines.filter(|line| line.starts_with("--") && line.contains('#'));
        own.map(str::to_owned).collect()
    };
    let desk = colors("src/desk/desk.css");
    assert_eq!(desk.len(), 12);
    assert_eq!(desk, colors("themes/stillwater/dress/guide.css"));
}
