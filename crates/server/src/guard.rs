//! Who is let in: a page of this server, in a browser on this machine. Any page of the web can make a
//! browser send requests to a loopback port, by its own name (cross-site) or by a name that it
//! makes point here (DNS rebinding); both are told by Host, Origin and Fetch Metadata.

use crate::problem::{Code, Problem};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::SocketAddr;
use std::sync::Arc;

/// Said with every answer: no script but the server's own files, nothing from or to elsewhere
/// (CSP Level 3), no guessing of types, no frame around it, nothing kept in a cache.
const SAID: [(HeaderName, &str); 6] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; \
         font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; base-uri 'none'; \
         form-action 'none'; frame-ancestors 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (header::CACHE_CONTROL, "no-store"),
];

/// The names under which this server is reached.
#[derive(Debug, Clone)]
pub(crate) struct Guard(Arc<[String]>);

impl Guard {
    pub(crate) fn of(address: SocketAddr) -> Guard {
        let port = address.port();
        let named = ["127.0.0.1", "localhost", "[::1]"].map(|name| format!("{name}:{port}"));
        Guard(named.into())
    }
    fn is_own(&self, host: &str) -> bool {
        self.0.iter().any(|own| own.eq_ignore_ascii_case(host))
    }
    fn is_own_origin(&self, origin: &str) -> bool {
        origin.strip_prefix("http://").is_some_and(|host| self.is_own(host))
    }

    /// Why a request is not let in, if it is not.
    fn refusal(&self, request: &Request) -> Option<Problem> {
        let headers = request.headers();
        let authority = request.uri().authority();
        let hosts: Vec<_> = headers.get_all(header::HOST).iter().collect();
        let own_host = match hosts.as_slice() {
            [host] => text(host).is_some_and(|host| self.is_own(host)),
            _ => false,
        };
        if !own_host || authority.is_some_and(|named| !self.is_own(named.as_str())) {
            return Some(Problem::new(
                StatusCode::MISDIRECTED_REQUEST,
                Code::Foreign,
                "the request is for another host than this machine",
                format!("Open http://{}/ in a browser on this machine.", self.0[0]),
            ));
        }
        let mut origins = headers.get_all(header::ORIGIN).iter();
        let foreign = origins.any(|origin| !text(origin).is_some_and(|o| self.is_own_origin(o)));
        let site = one(headers, "sec-fetch-site");
        let elsewhere = !matches!(site, None | Some("same-origin" | "none"));
        // A link on another page may lead here; what it shows is not seen there.
        let followed = request.method() == Method::GET
            && one(headers, "sec-fetch-mode") == Some("navigate")
            && one(headers, "sec-fetch-dest") == Some("document")
            && !request.uri().path().starts_with("/api/");
        (foreign || (elsewhere && !followed)).then(|| {
            Problem::new(
                StatusCode::FORBIDDEN,
                Code::Foreign,
                "the request comes from a page of another site",
                "Work in the page that this server shows; nothing was done.",
            )
        })
    }
}

fn text(value: &HeaderValue) -> Option<&str> {
    value.to_str().ok()
}

fn one<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers.get(name).map(|value| text(value).unwrap_or("unreadable"))
}

/// Lets in or refuses, and says what must be said with every answer.
pub(crate) async fn check(State(guard): State<Guard>, request: Request, next: Next) -> Response {
    let mut response = match guard.refusal(&request) {
        Some(refusal) => refusal.into_response(),
        None => next.run(request).await,
    };
    for (name, value) in SAID {
        response.headers_mut().entry(name).or_insert(HeaderValue::from_static(value));
    }
    response
}
