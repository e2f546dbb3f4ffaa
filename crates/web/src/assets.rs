//! Scripts, style sheets and fonts: read from disk in a debug build, from the binary in a release build.

use crate::trouble::Trouble;
use axum::extract::Path;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "static/"]
struct Static;

/// The worker of the bench pages: it may rule over the list and everything below it.
pub async fn bench_worker() -> impl IntoResponse {
    ([("service-worker-allowed", "/batches")], file(Path("bench/worker.js".to_owned())).await)
}

/// One file. The name is looked up in a fixed list, so no path can lead out of the folder.
pub async fn file(Path(name): Path<String>) -> Response {
    let sound =
        !name.split('/').any(|part| part.is_empty() || part.starts_with('.')) && !name.contains(['\\', '\0']);
    let Some(found) = sound.then(|| Static::get(&name)).flatten() else {
        return Trouble::not_found("There is no such file.").into_response();
    };
    let kind = match name.rsplit('.').next() {
        Some("js") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("woff2") => "font/woff2",
        Some("svg") => "image/svg+xml",
        Some("webmanifest") => "application/manifest+json",
        Some("txt") => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    };
    // Fonts never change under their name; the rest may change with the next start of another version.
    let keep = if kind == "font/woff2" { "public, max-age=31536000, immutable" } else { "no-cache" };
    let mark: String =
        found.metadata.sha256_hash().iter().take(8).map(|byte| format!("{byte:02x}")).collect();
    (
        [
            (header::CONTENT_TYPE, kind.to_owned()),
            (header::CACHE_CONTROL, keep.to_owned()),
            (header::ETAG, format!("\"{mark}\"")),
        ],
        found.data.into_owned(),
    )
        .into_response()
}
