//! Which requests are answered: only this machine's own, for addresses that are plain.
//!
//! Nothing here, and nothing behind it, makes a path of the disk from a request: an address is
//! looked up among the pages of the site.

use axum::http::header::{HOST, ORIGIN};
use axum::http::request::Parts;
use axum::http::{Method, StatusCode};

/// Most bytes of a request's body.
///
/// Our choice: a form with every text as long as it may be, encoded, is less.
pub(crate) const MOST_BODY: usize = 1 << 20;

/// Most bytes of an address with its query. Our choice: a name of a plant is a twentieth.
const MOST_ADDRESS: usize = 2048;

/// Why a request is refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Refusal {
    pub(crate) status: StatusCode,
    /// In a few words, for the log and for the reader.
    pub(crate) why: String,
}

impl Refusal {
    pub(crate) fn new(status: StatusCode, why: impl Into<String>) -> Refusal {
        Refusal {
            status,
            why: why.into(),
        }
    }
}

/// The path that a request asks for, decoded, with the `/` at its front.
///
/// Checked are the method, Host, Origin and where the browser says that the request comes from;
/// for a POST one of the last two must say that it comes from a page of the desk.
pub(crate) fn path_of(parts: &Parts, port: u16) -> Result<String, Refusal> {
    let bad = |why: &str| Err(Refusal::new(StatusCode::BAD_REQUEST, why));
    if ![Method::GET, Method::HEAD, Method::POST].contains(&parts.method) {
        return Err(Refusal::new(
            StatusCode::METHOD_NOT_ALLOWED,
            format!("method {}", shown(parts.method.as_str())),
        ));
    }
    if parts.uri.authority().is_some() {
        return bad("an address with a host in it");
    }
    let host = one(parts, HOST.as_str());
    let own = own_hosts(port);
    let Some(host) = host.filter(|host| own.iter().any(|own| own == host)) else {
        return Err(Refusal::new(
            StatusCode::MISDIRECTED_REQUEST,
            format!("host {}", header_shown(parts, HOST.as_str())),
        ));
    };
    let has_origin = parts.headers.contains_key(ORIGIN);
    let is_own_origin =
        one(parts, ORIGIN.as_str()).is_some_and(|origin| origin == format!("http://{host}"));
    if has_origin && !is_own_origin {
        return Err(Refusal::new(
            StatusCode::FORBIDDEN,
            format!("origin {}", header_shown(parts, ORIGIN.as_str())),
        ));
    }
    // What browsers say of where a request comes from; typed addresses say `none`.
    let has_site = parts.headers.contains_key("sec-fetch-site");
    let site = one(parts, "sec-fetch-site").unwrap_or_default();
    if has_site && !matches!(site.as_str(), "same-origin" | "none") {
        return Err(Refusal::new(
            StatusCode::FORBIDDEN,
            format!("from another site ({})", shown(&site)),
        ));
    }
    if parts.method == Method::POST && !is_own_origin && site != "same-origin" {
        return Err(Refusal::new(
            StatusCode::FORBIDDEN,
            "no origin with a write",
        ));
    }
    let address = parts
        .uri
        .path_and_query()
        .map_or("/", |whole| whole.as_str());
    if address.len() > MOST_ADDRESS {
        return Err(Refusal::new(StatusCode::URI_TOO_LONG, "a long address"));
    }
    match decoded(parts.uri.path()) {
        Some(path) if is_plain(&path) => Ok(path),
        _ => bad(&format!("path {}", shown(parts.uri.path()))),
    }
}

fn own_hosts(port: u16) -> [String; 3] {
    ["127.0.0.1", "localhost", "[::1]"].map(|host| format!("{host}:{port}"))
}

/// The one value of a header; `None` where it stands twice or is no text.
fn one(parts: &Parts, name: &str) -> Option<String> {
    let mut all = parts.headers.get_all(name).iter();
    let (first, second) = (all.next()?, all.next());
    if second.is_some() {
        return None;
    }
    first.to_str().ok().map(str::to_lowercase)
}

fn header_shown(parts: &Parts, name: &str) -> String {
    let value = parts.headers.get(name);
    value.map_or_else(
        || "not given".to_owned(),
        |value| shown(&String::from_utf8_lossy(value.as_bytes())),
    )
}

/// A text of a request as it may stand in the log: short, on one line, in quotes.
pub(crate) fn shown(text: &str) -> String {
    let short: String = text.chars().take(80).collect();
    let dots = if short.len() < text.len() { "…" } else { "" };
    format!("`{}{dots}`", short.escape_default())
}

/// A path with its `%` signs read once; `None` where they are wrong or it is not UTF-8.
fn decoded(path: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(path.len());
    let mut rest = path.as_bytes().iter();
    while let Some(byte) = rest.next() {
        if *byte != b'%' {
            bytes.push(*byte);
            continue;
        }
        let mut digit = || char::from(*rest.next()?).to_digit(16);
        let (high, low) = (digit()?, digit()?);
        bytes.push((high * 16 + low) as u8);
    }
    String::from_utf8(bytes).ok()
}

/// Whether a path only goes down: no `..`, no empty part, nothing that another reader would take
/// for a separator or an encoded sign.
fn is_plain(path: &str) -> bool {
    let Some(rest) = path.strip_prefix('/') else {
        return false;
    };
    let has_odd = path.contains(['\\', '%', ':']) || path.chars().any(char::is_control);
    let rest = rest.strip_suffix('/').unwrap_or(rest);
    let parts_are_plain = rest.is_empty()
        || rest
            .split('/')
            .all(|part| !part.is_empty() && !part.starts_with('.'));
    !has_odd && !path.contains("//") && parts_are_plain
}

/// Whether two tokens are the same, in a time that does not tell where they differ.
pub(crate) fn is_token(given: &str, token: &str) -> bool {
    let (given, token) = (given.as_bytes(), token.as_bytes());
    let differ = given
        .iter()
        .zip(token)
        .fold(0, |differ, (a, b)| differ | (a ^ b));
    given.len() == token.len() && std::hint::black_box(differ) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(method: &str, path: &str, headers: &[(&str, &str)]) -> Result<String, u16> {
        let mut request = axum::http::Request::builder().method(method).uri(path);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let (parts, ()) = request.body(()).expect(path).into_parts();
        path_of(&parts, 4000).map_err(|refusal| refusal.status.as_u16())
    }

    const OWN: (&str, &str) = ("host", "127.0.0.1:4000");

    #[test]
    fn only_own_hosts_are_answered() {
        for host in [
            "127.0.0.1:4000",
            "localhost:4000",
            "LOCALHOST:4000",
            "[::1]:4000",
        ] {
            assert_eq!(
                asked("GET", "/", &[("host", host)]),
                Ok("/".to_owned()),
                "{host}"
            );
        }
        for host in [
            "127.0.0.1",
            "127.0.0.1:4001",
            "guide.example:4000",
            "0.0.0.0:4000",
            "",
        ] {
            assert_eq!(asked("GET", "/", &[("host", host)]), Err(421), "{host}");
        }
        assert_eq!(asked("GET", "/", &[]), Err(421));
        assert_eq!(
            asked("GET", "/", &[OWN, OWN]),
            Err(421),
            "twice is one too many"
        );
        assert_eq!(asked("GET", "http://evil.example/", &[OWN]), Err(400));
    }

    #[test]
    fn other_origins_and_sites_are_refused() {
        let with = |name, value| asked("GET", "/", &[OWN, (name, value)]);
        assert!(with("origin", "http://127.0.0.1:4000").is_ok());
        for origin in [
            "http://localhost:4000",
            "https://127.0.0.1:4000",
            "null",
            "http://evil.example",
        ] {
            assert_eq!(with("origin", origin), Err(403), "{origin}");
        }
        assert!(with("sec-fetch-site", "none").is_ok());
        assert_eq!(with("sec-fetch-site", "cross-site"), Err(403));
        assert_eq!(with("sec-fetch-site", "same-site"), Err(403));
    }

    #[test]
    fn a_write_must_say_that_it_comes_from_the_desk() {
        assert_eq!(asked("POST", "/desk/", &[OWN]), Err(403));
        assert_eq!(
            asked("POST", "/desk/", &[OWN, ("sec-fetch-site", "none")]),
            Err(403)
        );
        let origin = ("origin", "http://127.0.0.1:4000");
        assert!(asked("POST", "/desk/", &[OWN, origin]).is_ok());
        assert_eq!(asked("PUT", "/desk/", &[OWN, origin]), Err(405));
    }

    #[test]
    fn paths_only_go_down() {
        for path in [
            "/",
            "/plants/",
            "/plants/bolbitis-heudelotii/plant.json",
            "/names/caf%C3%A9/",
        ] {
            assert!(asked("GET", path, &[OWN]).is_ok(), "{path}");
        }
        for path in [
            "/../",
            "/..",
            "/plants/../../etc/passwd",
            "/%2e%2e/",
            "/%2E./",
            "/.%2e/x",
            "/a%2f..%2fb",
            "/..%5c",
            "/a%5cb",
            "/%00",
            "/a%0ab",
            "//",
            "/a//b",
            "/%",
            "/%2",
            "/%zz",
            "/%ff",
            "/%252e%252e/",
            "/.git/config",
            "/c:/x",
        ] {
            assert_eq!(asked("GET", path, &[OWN]), Err(400), "{path}");
        }
        assert_eq!(
            asked("GET", &format!("/{}", "a".repeat(3000)), &[OWN]),
            Err(414)
        );
    }

    #[test]
    fn a_token_is_itself_and_nothing_else() {
        assert!(is_token("abc", "abc"));
        for other in ["", "ab", "abd", "abcd"] {
            assert!(!is_token(other, "abc"), "{other}");
        }
    }
}
