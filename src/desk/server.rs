//! Answers requests on the loopback address, and on no other.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};
use std::task::{Context, Poll};

use axum::body::Body;
use axum::extract::Request;
use axum::http::header::{
    ALLOW, CACHE_CONTROL, CONNECTION, CONTENT_LENGTH, CONTENT_SECURITY_POLICY, CONTENT_TYPE,
    LOCATION, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use axum::http::{HeaderName, HeaderValue, Method, StatusCode};
use axum::response::sse::{Event, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream::unfold;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use jiff::civil::Date;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, watch};
use tokio::time::{Duration, timeout};

use crate::content::Input;
use crate::desk::entering::{Fields, Tried, field};
use crate::desk::form;
use crate::desk::forme::{Forme, Found};
use crate::desk::guard::{self, MOST_BODY, Refusal, shown};
use crate::desk::log::{Log, Tell};
use crate::desk::sheets;
use crate::diagnostic::Diagnostic;
use crate::intake::Move;

/// Connections at one time. Our choice: a browser opens six to a host, and a person few windows.
const MOST_CONNECTIONS: usize = 64;

/// How long a request's head may take to arrive.
const HEAD: Duration = Duration::from_secs(5);

/// How long a request's body may take to arrive.
const BODY: Duration = Duration::from_secs(5);

/// How long a connection lives that waits for no news.
const CONNECTION_LIFE: Duration = Duration::from_secs(60);

/// How long one lives that does; the page then asks anew.
const NEWS_LIFE: Duration = Duration::from_secs(1800);

/// How often a waiting page hears that the desk is there.
const HEARTBEAT: Duration = Duration::from_secs(15);

/// A fault as text, as `pondweigh proof` shows it.
pub type Shown = fn(&Diagnostic, &Input) -> String;

/// An observation that was written from the form.
pub(crate) struct Written {
    number: u64,
    pub(crate) tried: Tried,
    /// What the next slip most often says again.
    pub(crate) next: Fields,
}

/// A page with its address and the number of its state.
struct Made {
    turn: u64,
    address: String,
    bytes: Vec<u8>,
}

/// One guide on the desk.
pub(crate) struct Desk {
    guide: PathBuf,
    forme: RwLock<Forme>,
    port: u16,
    /// Guards writes; made anew for each run.
    token: String,
    /// The number of the state that pages show.
    turn: watch::Sender<u64>,
    /// The number of the dress of pages: their theme and pictures. It starts anywhere, so that no
    /// page of an earlier run passes for one of this.
    dress: AtomicU64,
    /// A page that was made to be held against the one that is open, until it is asked for.
    made: Mutex<Option<Made>>,
    /// What was written last from the form, so that its page can be loaded again.
    written: Mutex<Option<Arc<Written>>>,
    /// What the last save moved.
    moved: RwLock<Vec<Move>>,
    log: Log,
    shown: Shown,
    latest: fn() -> Date,
    is_over: AtomicBool,
}

impl Desk {
    pub(crate) fn read(&self) -> RwLockReadGuard<'_, Forme> {
        self.forme.read().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn write(&self) -> RwLockWriteGuard<'_, Forme> {
        self.forme.write().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn guide(&self) -> &Path {
        &self.guide
    }

    pub(crate) fn log(&self) -> &Log {
        &self.log
    }

    pub(crate) fn token(&self) -> &str {
        &self.token
    }

    pub(crate) fn shown(&self, fault: &Diagnostic, input: &Input) -> String {
        (self.shown)(fault, input)
    }

    /// The day after which nothing can have been seen yet.
    pub(crate) fn latest(&self) -> Date {
        (self.latest)()
    }

    /// Tells the open pages that there is something new.
    pub(crate) fn turn(&self) {
        self.turn.send_modify(|turn| *turn += 1);
    }

    pub(crate) fn turn_number(&self) -> u64 {
        *self.turn.borrow()
    }

    /// Says that theme or pictures are others.
    pub(crate) fn dress_anew(&self) {
        self.dress.fetch_add(1, Ordering::Relaxed);
    }

    /// What a page is known by while its bytes and its dress are the same.
    fn mark(&self, bytes: &[u8]) -> u64 {
        let mut hasher = DefaultHasher::new();
        self.dress.load(Ordering::Relaxed).hash(&mut hasher);
        bytes.hash(&mut hasher);
        hasher.finish()
    }

    fn made(&self) -> MutexGuard<'_, Option<Made>> {
        self.made.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whether the page at a path is still what has this mark.
    fn is_same(&self, path: &str, mark: &str) -> bool {
        let turn = self.turn_number();
        let address = address_of(path);
        let Found::File(bytes) = self.read().find(&address) else {
            return false;
        };
        let is_same = format!("{:016x}", self.mark(&bytes)) == mark;
        // It will be asked for in a moment.
        *self.made() = (!is_same).then_some(Made {
            turn,
            address,
            bytes,
        });
        is_same
    }

    /// Keeps what was written from the form; gives its number.
    pub(crate) fn set_written(&self, tried: Tried, next: Fields) -> u64 {
        let number = self.turn_number();
        let written = Written {
            number,
            tried,
            next,
        };
        *self.last_written() = Some(Arc::new(written));
        number
    }

    /// What was written last, where that is its number.
    pub(crate) fn written(&self, number: &str) -> Option<Arc<Written>> {
        let last = self.last_written().clone()?;
        (last.number.to_string() == number).then_some(last)
    }

    fn last_written(&self) -> MutexGuard<'_, Option<Arc<Written>>> {
        self.written.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Keeps what a save moved, for the pages that are shown anew.
    pub(crate) fn set_moved(&self, moves: Vec<Move>) {
        *self.moved.write().unwrap_or_else(PoisonError::into_inner) = moves;
    }

    pub(crate) fn moved(&self) -> Vec<Move> {
        let moved = self.moved.read();
        moved.unwrap_or_else(PoisonError::into_inner).clone()
    }

    pub(crate) fn is_over(&self) -> bool {
        self.is_over.load(Ordering::Relaxed)
    }

    /// Lets the watcher end.
    pub(crate) fn end(&self) {
        self.is_over.store(true, Ordering::Relaxed);
    }
}

/// The loopback address at this port; 0: a free one.
pub(crate) async fn bind(port: u16) -> io::Result<TcpListener> {
    TcpListener::bind(SocketAddr::from((Ipv4Addr::LOCALHOST, port))).await
}

/// Puts a desk together.
pub(crate) fn desk(
    guide: PathBuf,
    forme: Forme,
    port: u16,
    (token, dress): (String, u64),
    tell: Box<Tell>,
    shown: Shown,
    latest: fn() -> Date,
) -> Desk {
    Desk {
        guide,
        forme: RwLock::new(forme),
        port,
        token,
        turn: watch::Sender::new(1),
        dress: AtomicU64::new(dress),
        made: Mutex::default(),
        written: Mutex::default(),
        moved: RwLock::default(),
        log: Log::new(tell),
        shown,
        latest,
        is_over: AtomicBool::new(false),
    }
}

/// Answers until the task is dropped.
pub(crate) async fn serve(desk: Arc<Desk>, listener: TcpListener) {
    let places = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    loop {
        let Ok((stream, _)) = listener.accept().await else {
            // Out of file handles, or the other side has gone: try again in a moment.
            tokio::time::sleep(Duration::from_millis(50)).await;
            continue;
        };
        match Arc::clone(&places).try_acquire_owned() {
            Ok(place) => {
                let desk = Arc::clone(&desk);
                tokio::spawn(async move {
                    connection(desk, stream).await;
                    drop(place);
                });
            }
            Err(_) => desk.log.refused("a connection", "too many at one time"),
        }
    }
}

/// A connection that remembers whether something came in since the last whole head.
struct Heard {
    stream: TcpStream,
    is_speaking: Arc<AtomicBool>,
}

impl AsyncRead for Heard {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let before = into.filled().len();
        let polled = Pin::new(&mut self.stream).poll_read(context, into);
        if into.filled().len() > before {
            self.is_speaking.store(true, Ordering::Relaxed);
        }
        polled
    }
}

impl AsyncWrite for Heard {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(context, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}

async fn connection(desk: Arc<Desk>, stream: TcpStream) {
    let waits_for_news = Arc::new(AtomicBool::new(false));
    let is_speaking = Arc::new(AtomicBool::new(false));
    let service = {
        let (desk, waits_for_news) = (Arc::clone(&desk), Arc::clone(&waits_for_news));
        let is_speaking = Arc::clone(&is_speaking);
        axum::Router::new().fallback(move |request: Request| {
            is_speaking.store(false, Ordering::Relaxed);
            let (desk, waits_for_news) = (Arc::clone(&desk), Arc::clone(&waits_for_news));
            async move { answer(desk, request, &waits_for_news).await }
        })
    };
    let _ = stream.set_nodelay(true);
    let stream = Heard {
        stream,
        is_speaking: Arc::clone(&is_speaking),
    };
    let served = hyper::server::conn::http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD)
        .max_buf_size(64 << 10)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(service));
    tokio::pin!(served);
    let mut life = CONNECTION_LIFE;
    loop {
        match timeout(life, served.as_mut()).await {
            Ok(Err(error)) if error.is_timeout() => {
                // Browsers keep connections that they may need, and say nothing on them.
                if is_speaking.load(Ordering::Relaxed) {
                    desk.log.refused("a connection", "its head was too slow");
                }
            }
            Ok(Err(error)) if error.is_parse() || error.is_parse_too_large() => {
                desk.log.refused("a connection", "it spoke no HTTP");
            }
            Ok(_) => {}
            Err(_) if waits_for_news.load(Ordering::Relaxed) && life == CONNECTION_LIFE => {
                life = NEWS_LIFE;
                continue;
            }
            Err(_) => {}
        }
        return;
    }
}

/// A method as it may stand in the log.
fn short(method: &Method) -> String {
    method.as_str().chars().take(20).collect()
}

/// Answers one request, whatever it is.
async fn answer(desk: Arc<Desk>, request: Request, waits_for_news: &AtomicBool) -> Response {
    let what = format!(
        "{} {}",
        short(request.method()),
        shown(request.uri().path())
    );
    let is_head = request.method() == Method::HEAD;
    let answered = answered(&desk, request, waits_for_news).await;
    let mut response = answered.unwrap_or_else(|refusal| {
        desk.log.refused(&what, &refusal.why);
        refused(&refusal)
    });
    finish(&mut response);
    if is_head {
        *response.body_mut() = Body::empty();
    }
    response
}

async fn answered(
    desk: &Arc<Desk>,
    request: Request,
    waits_for_news: &AtomicBool,
) -> Result<Response, Refusal> {
    let (parts, body) = request.into_parts();
    let told = parts.headers.get(CONTENT_LENGTH);
    let length = told.map_or(Some(0), |length| length.to_str().ok()?.parse::<u64>().ok());
    let is_too_large = length.is_none_or(|length| length > MOST_BODY as u64);
    let path = guard::path_of(&parts, desk.port)?;
    if is_too_large {
        return Err(too_large());
    }
    let query = parts.uri.query().unwrap_or_default().to_owned();
    if parts.method == Method::POST {
        let body = match timeout(BODY, axum::body::to_bytes(body, MOST_BODY)).await {
            Ok(Ok(body)) => body,
            Ok(Err(_)) => return Err(too_large()),
            Err(_) => {
                let late = StatusCode::REQUEST_TIMEOUT;
                return Err(Refusal::new(late, "its body was too slow"));
            }
        };
        let is_form = parts.headers.get(CONTENT_TYPE).is_some_and(|kind| {
            kind.as_bytes()
                .starts_with(b"application/x-www-form-urlencoded")
        });
        if !is_form {
            let kind = StatusCode::UNSUPPORTED_MEDIA_TYPE;
            return Err(Refusal::new(kind, "no form"));
        }
        let fields: Fields = form_urlencoded::parse(&body).into_owned().collect();
        let token = field(&fields, "token");
        if !guard::is_token(token, &desk.token) {
            let what = format!("POST {}", shown(&path));
            desk.log.refused(&what, "no token with a write");
            return Ok(sheets::expired());
        }
        let desk = Arc::clone(desk);
        return blocking(move || form::posted(&desk, &path, &fields)).await;
    }
    if path == "/desk/events" {
        waits_for_news.store(true, Ordering::Relaxed);
        return Ok(news(desk, &query));
    }
    let desk = Arc::clone(desk);
    blocking(move || got(&desk, &path, &query)).await
}

async fn blocking(
    work: impl FnOnce() -> Result<Response, Refusal> + Send + 'static,
) -> Result<Response, Refusal> {
    let lost = |_| Refusal::new(StatusCode::INTERNAL_SERVER_ERROR, "the page broke off");
    tokio::task::spawn_blocking(work).await.map_err(lost)?
}

fn too_large() -> Refusal {
    Refusal::new(StatusCode::PAYLOAD_TOO_LARGE, "a body above 1 MB")
}

/// Numbers of the state as they come, the present one first. For the page that asks, by its path,
/// its turn and its mark, `same` stands behind a number where it need not be loaded again.
fn news(desk: &Arc<Desk>, query: &str) -> Response {
    let asked: Fields = form_urlencoded::parse(query.as_bytes())
        .into_owned()
        .collect();
    let shown = field(&asked, "turn").to_owned();
    let page = Arc::new((
        field(&asked, "of").to_owned(),
        field(&asked, "mark").to_owned(),
    ));
    let mut turns = desk.turn.subscribe();
    turns.mark_changed();
    let desk = Arc::clone(desk);
    let stream = unfold(turns, move |mut turns| {
        let (desk, page, shown) = (Arc::clone(&desk), Arc::clone(&page), shown.clone());
        async move {
            turns.changed().await.ok()?;
            let turn = turns.borrow_and_update().to_string();
            let is_same = !page.1.is_empty() && turn != shown && {
                let compared = tokio::task::spawn_blocking(move || desk.is_same(&page.0, &page.1));
                compared.await.unwrap_or(false)
            };
            let data = if is_same {
                format!("{turn} same")
            } else {
                turn
            };
            let event = Event::default().event("turn").data(data);
            Some((Ok::<Event, std::convert::Infallible>(event), turns))
        }
    });
    let heartbeat = axum::response::sse::KeepAlive::new().interval(HEARTBEAT);
    Sse::new(stream).keep_alive(heartbeat).into_response()
}

/// A GET. It changes nothing.
fn got(desk: &Desk, path: &str, query: &str) -> Result<Response, Refusal> {
    if let Some(rest) = path.strip_prefix("/desk/") {
        return Ok(form::got(desk, rest, query));
    }
    if path == "/desk" {
        return Ok(moved("/desk/"));
    }
    let address = address_of(path);
    let is_folder = path.ends_with('/');
    let turn = desk.turn_number();
    let made = desk.made().take();
    if let Some(made) = made.filter(|made| made.turn == turn && made.address == address) {
        return Ok(file(desk, &address, made.bytes, turn));
    }
    let forme = desk.read();
    let has_end = address
        .rsplit('/')
        .next()
        .is_some_and(|last| last.contains('.'));
    if !is_folder && !has_end {
        let page = format!("{address}/index.html");
        return Ok(match forme.find(&page) {
            Found::File(_) => moved(&format!("/{address}/")),
            Found::Faults(faults) => sheets::faults(desk, &forme, &faults, turn),
            Found::Lost(_) => sheets::lost(path, turn),
        });
    }
    Ok(match forme.find(&address) {
        Found::File(bytes) => file(desk, &address, bytes, turn),
        Found::Faults(faults) => sheets::faults(desk, &forme, &faults, turn),
        Found::Lost(_) => sheets::lost(path, turn),
    })
}

/// The file of the site that a path asks for.
fn address_of(path: &str) -> String {
    let address = path.trim_start_matches('/');
    if address.is_empty() || address.ends_with('/') {
        format!("{address}index.html")
    } else {
        address.to_owned()
    }
}

fn moved(to: &str) -> Response {
    let to = HeaderValue::from_str(to).unwrap_or(HeaderValue::from_static("/"));
    (StatusCode::PERMANENT_REDIRECT, [(LOCATION, to)]).into_response()
}

/// A file of the site; pages listen for news.
fn file(desk: &Desk, address: &str, bytes: Vec<u8>, turn: u64) -> Response {
    let kind = kind_of(address);
    let bytes = if kind.starts_with("text/html") {
        let mark = desk.mark(&bytes);
        sheets::listening(bytes, turn, mark)
    } else {
        bytes
    };
    // Type is large and hardly ever edited: a page that is shown anew need not load it anew.
    let keeping = if kind == "font/woff2" {
        "private, max-age=600"
    } else {
        "no-store"
    };
    let head = [
        (CONTENT_TYPE, HeaderValue::from_static(kind)),
        (CACHE_CONTROL, HeaderValue::from_static(keeping)),
    ];
    (head, bytes).into_response()
}

/// The media type of a file by the end of its name.
fn kind_of(address: &str) -> &'static str {
    match address.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "json" => "application/json",
        "csv" => "text/csv; charset=utf-8",
        "xml" => "application/xml",
        "svg" => "image/svg+xml",
        "txt" => "text/plain; charset=utf-8",
        "woff2" => "font/woff2",
        "png" => "image/png",
        "jpg" | "jpeg" => "image/jpeg",
        "webp" => "image/webp",
        "avif" => "image/avif",
        _ => "application/octet-stream",
    }
}

fn refused(refusal: &Refusal) -> Response {
    let text = format!("refused: {}\n", refusal.why);
    let mut response = (refusal.status, text).into_response();
    let headers = response.headers_mut();
    headers.insert(CONNECTION, HeaderValue::from_static("close"));
    if refusal.status == StatusCode::METHOD_NOT_ALLOWED {
        headers.insert(ALLOW, HeaderValue::from_static("GET, HEAD, POST"));
    }
    response
}

/// What every answer says: nothing is kept, framed, guessed at or loaded from elsewhere.
fn finish(response: &mut Response) {
    const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";
    let own: [(HeaderName, &'static str); 6] = [
        (CONTENT_SECURITY_POLICY, POLICY),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (X_FRAME_OPTIONS, "DENY"),
        (CACHE_CONTROL, "no-store"),
        (REFERRER_POLICY, "same-origin"),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
    ];
    for (name, value) in own {
        response
            .headers_mut()
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    }
}
