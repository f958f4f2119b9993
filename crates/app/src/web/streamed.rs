//! Files of any size, answered piece by piece, or the part that is asked for (RFC 9110, 14).

use std::fs::File;
use std::io::{Read as _, Seek as _, SeekFrom};

use axum::body::{Body, Bytes};
use axum::http::{HeaderMap, HeaderName, StatusCode, header};
use axum::response::{IntoResponse as _, Response};
use futures_util::stream;

use super::answer::Refused;
use crate::problem::Problem;

/// So much is read at once.
const PIECE_BYTES: usize = 64 << 10;

/// A file and what is said of it.
pub(super) struct Streamed {
    pub(super) file: File,
    /// Its SHA-256: what lies under it never changes.
    pub(super) sha256: String,
    /// What it is and how it may be shown.
    pub(super) headers: Vec<(HeaderName, String)>,
}

/// Which bytes are asked for: from one up to before another.
#[derive(Debug, PartialEq, Eq)]
enum Wanted {
    All,
    Part(u64, u64),
    Beyond,
}

impl Streamed {
    /// All of it, or the part that is asked for.
    ///
    /// # Errors
    ///
    /// As the disk says.
    pub(super) fn answer(self, asked: &HeaderMap) -> Result<Response, Refused> {
        let Self { mut file, sha256, headers } = self;
        let cannot = |error: std::io::Error| {
            Refused::from(
                Problem::surroundings("a file of evidence cannot be read").because(&error),
            )
        };
        let length = file.metadata().map_err(cannot)?.len();
        let tag = format!("\"{sha256}\"");
        let text = |name| asked.get(name).and_then(|value| value.to_str().ok());
        let same = text(header::IF_RANGE).is_none_or(|seen| seen == tag);
        let wanted = text(header::RANGE).filter(|_| same).map_or(Wanted::All, |it| of(it, length));
        let (status, (from, to)) = match wanted {
            Wanted::All => (StatusCode::OK, (0, length)),
            Wanted::Part(from, to) => (StatusCode::PARTIAL_CONTENT, (from, to)),
            Wanted::Beyond => (StatusCode::RANGE_NOT_SATISFIABLE, (0, 0)),
        };
        file.seek(SeekFrom::Start(from)).map_err(cannot)?;
        let left = Some((file, to - from));
        let mut response = (status, Body::from_stream(stream::unfold(left, next))).into_response();
        let place = match status {
            StatusCode::OK => None,
            StatusCode::PARTIAL_CONTENT => Some(format!("bytes {from}-{}/{length}", to - 1)),
            _ => Some(format!("bytes */{length}")),
        };
        let about = [
            (header::ACCEPT_RANGES, "bytes".to_owned()),
            (header::ETAG, tag),
            (header::CONTENT_LENGTH, (to - from).to_string()),
        ];
        let place = place.map(|place| (header::CONTENT_RANGE, place));
        for (name, value) in headers.into_iter().chain(about).chain(place) {
            if let Ok(value) = value.parse() {
                response.headers_mut().insert(name, value);
            }
        }
        Ok(response)
    }
}

/// What a range asks for. Several parts at once are answered with all, as the standard allows.
fn of(range: &str, length: u64) -> Wanted {
    let Some((first, last)) = range.strip_prefix("bytes=").and_then(|it| it.split_once('-')) else {
        return Wanted::All;
    };
    let (from, to) = match (first.trim().parse::<u64>(), last.trim().parse::<u64>()) {
        (Ok(from), Ok(last)) if from <= last => (from, last.saturating_add(1).min(length)),
        (Ok(from), Err(_)) if last.trim().is_empty() => (from, length),
        (Err(_), Ok(last)) if first.trim().is_empty() => (length.saturating_sub(last), length),
        _ => return Wanted::All,
    };
    if from < to { Wanted::Part(from, to) } else { Wanted::Beyond }
}

/// The next piece of a file, and what is left of it then.
async fn next(left: Option<(File, u64)>) -> Option<(std::io::Result<Bytes>, Option<(File, u64)>)> {
    let (mut file, left) = left.filter(|(_, left)| *left > 0)?;
    let read = tokio::task::spawn_blocking(move || {
        let mut piece = vec![0; PIECE_BYTES.min(usize::try_from(left).unwrap_or(PIECE_BYTES))];
        file.read_exact(&mut piece).map(|()| (piece, file))
    });
    match read.await.map_err(std::io::Error::other).and_then(|read| read) {
        Ok((piece, file)) => {
            let left = left - piece.len() as u64;
            Some((Ok(Bytes::from(piece)), Some((file, left))))
        }
        Err(error) => Some((Err(error), None)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_is_read_as_the_standard_says() {
        for (range, wanted) in [
            ("bytes=0-99", Wanted::Part(0, 100)),
            ("bytes=990-", Wanted::Part(990, 1000)),
            ("bytes=-10", Wanted::Part(990, 1000)),
            ("bytes=-5000", Wanted::Part(0, 1000)),
            ("bytes=500-5000", Wanted::Part(500, 1000)),
            ("bytes=1000-", Wanted::Beyond),
            ("bytes=-0", Wanted::Beyond),
            ("bytes=9-3", Wanted::All),
            ("bytes=0-1,5-6", Wanted::All),
            ("lines=0-1", Wanted::All),
            ("bytes=a-b", Wanted::All),
        ] {
            assert_eq!(of(range, 1000), wanted, "{range}");
        }
    }
}
