//! A body that is no upload is short, and comes at once: one that trickles would hold its connection, and
//! what waits for it, for as long as its sender likes.

use crate::problem::{Code, Problem};
use axum::RequestExt;
use axum::body::{Body, to_bytes};
use axum::extract::{Request, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::time::Duration;

/// Hands a request on when its body is there whole; refuses it after `patience`.
pub(crate) async fn check(
    State(patience): State<Duration>,
    request: Request,
    next: Next,
) -> Response {
    let (head, body) = request.with_limited_body().into_parts();
    match tokio::time::timeout(patience, to_bytes(body, usize::MAX)).await {
        Ok(Ok(bytes)) => next.run(Request::from_parts(head, Body::from(bytes))).await,
        // Longer than any that is taken; a connection that broke hears no answer.
        Ok(Err(_)) => refused(
            StatusCode::PAYLOAD_TOO_LARGE,
            "the body is too long".to_owned(),
            "Correct the request; /api/openapi.json describes what is taken.",
        ),
        Err(_) => refused(
            StatusCode::REQUEST_TIMEOUT,
            format!(
                "the body did not come whole within {} s; nothing was done",
                patience.as_secs()
            ),
            "Send it again at once; files go into an upload, which may take its time.",
        ),
    }
}

/// The rest of the body is not waited for.
fn refused(status: StatusCode, what: String, remedy: &str) -> Response {
    let mut response = Problem::new(status, Code::Limit, what, remedy).into_response();
    response.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
    response
}
