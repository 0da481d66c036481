//! The page's files, built from ui/ by the build script and carried in the program.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "$OUT_DIR/ui"]
struct Files;

/// The page itself. Its own addresses follow a `#`, so there is one.
pub(crate) async fn front() -> Response {
    file("index.html")
}

/// One of its files.
pub(crate) async fn asset(Path(name): Path<String>) -> Response {
    file(&format!("assets/{name}"))
}

/// The mark in the browser's tab.
pub(crate) async fn mark() -> Response {
    file("mark.svg")
}

fn file(name: &str) -> Response {
    let Some(found) = Files::get(name) else { return StatusCode::NOT_FOUND.into_response() };
    let kind = kind_of(name);
    ([(header::CONTENT_TYPE, kind)], found.data.into_owned()).into_response()
}

/// Media types of what the build writes.
fn kind_of(name: &str) -> &'static str {
    match name.rsplit_once('.').map(|(_, extension)| extension) {
        Some("html") => "text/html; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("woff2") => "font/woff2",
        Some("woff") => "font/woff",
        Some("json") => "application/json",
        _ => "application/octet-stream",
    }
}
