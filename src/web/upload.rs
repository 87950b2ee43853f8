//! A form with a photo, taken in within limits of size and time.

use super::check::Upload;
use super::fields::Fields;
use super::settings::{SettingError, Settings};
use axum::extract::Multipart;
use axum::extract::multipart::{Field, MultipartError};
use std::sync::Arc;
use std::time::Duration;
use tokio::time::timeout;

/// Largest photo, bytes: twice what a phone writes at its best.
pub(super) const LARGEST: usize = 40 << 20;
/// Largest form: the photo and a few words.
pub(super) const LARGEST_FORM: usize = LARGEST + (64 << 10);
/// Longest word of a form, bytes.
const LONGEST_WORD: usize = 4096;
/// Fields of a form; more is nonsense.
const MOST_FIELDS: usize = 16;

/// Why a form was not taken.
#[derive(Debug, thiserror::Error)]
pub(super) enum UploadError {
    #[error("no photo was sent")]
    NoPhoto,
    #[error("the photo is larger than {} MB", LARGEST >> 20)]
    TooLarge,
    #[error("what was sent is no form, or broke off")]
    Broken,
    #[error("nothing came for a while")]
    Silent,
    #[error(transparent)]
    Setting(#[from] SettingError),
}

impl UploadError {
    pub(super) fn hint(&self) -> &'static str {
        match self {
            UploadError::NoPhoto => "take or choose a photo first",
            UploadError::TooLarge => "let the phone write JPEG, or a smaller picture",
            UploadError::Broken | UploadError::Silent => "go nearer to the network and send it again",
            UploadError::Setting(_) => "open the page again and choose from its lists",
        }
    }
}

impl From<MultipartError> for UploadError {
    fn from(error: MultipartError) -> Self {
        if error.status() == axum::http::StatusCode::PAYLOAD_TOO_LARGE { UploadError::TooLarge } else { UploadError::Broken }
    }
}

/// A form on its way.
#[derive(Debug)]
pub(super) struct Coming {
    pub(super) form: Multipart,
    /// Length of the whole, bytes, as its head tells.
    pub(super) about: usize,
    /// A sender that is silent for this long has gone.
    pub(super) silence: Duration,
}

/// Takes photo and settings from a form, and all its words.
pub(super) async fn take(coming: Coming, mut settings: Settings) -> Result<(Upload, Settings, Fields), UploadError> {
    let Coming { mut form, about, silence } = coming;
    let mut photo = None;
    let mut words = Vec::new();
    for _ in 0..MOST_FIELDS {
        let Some(field) = timeout(silence, form.next_field()).await.map_err(|_| UploadError::Silent)?? else { break };
        let name = field.name().unwrap_or_default().to_owned();
        if name == "photo" {
            let called = own_name(field.file_name().unwrap_or_default());
            let bytes = all(field, silence, LARGEST, about.min(LARGEST)).await?;
            // A form may offer two ways to a photo; the empty one was not used.
            if !bytes.is_empty() {
                photo = Some(Upload { name: called, bytes: Arc::new(bytes) });
            }
        } else {
            let word = all(field, silence, LONGEST_WORD, 0).await?;
            let word = String::from_utf8_lossy(&word).into_owned();
            settings.tell(&name, &word)?;
            words.push((name, word));
        }
    }
    Ok((photo.ok_or(UploadError::NoPhoto)?, settings, Fields(words)))
}

/// The bytes of a field, at most `limit`. Room for `about` of them is taken with the first: a photo that grew by doubling would
/// leave holes of many sizes behind, and keep twice its own.
async fn all(mut field: Field<'_>, silence: Duration, limit: usize, about: usize) -> Result<Vec<u8>, UploadError> {
    let mut bytes = Vec::new();
    while let Some(chunk) = timeout(silence, field.chunk()).await.map_err(|_| UploadError::Silent)?? {
        if bytes.len() + chunk.len() > limit {
            return Err(UploadError::TooLarge);
        }
        if bytes.is_empty() {
            bytes.reserve_exact(about.max(chunk.len()));
        }
        bytes.extend_from_slice(&chunk);
    }
    Ok(bytes)
}

/// The last part of a name, as it is shown; it never names a file here.
fn own_name(told: &str) -> String {
    let last = told.rsplit(['/', '\\']).next().unwrap_or_default();
    let name: String = last.chars().filter(|c| !c.is_control()).take(120).collect();
    if name.is_empty() { "photo".to_owned() } else { name }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lose_their_folders() {
        assert_eq!(own_name("../../etc/evening.jpg"), "evening.jpg");
        assert_eq!(own_name("C:\\pictures\\evening.jpg"), "evening.jpg");
        assert_eq!(own_name("a\u{1b}[2Jb.jpg"), "a[2Jb.jpg");
        assert_eq!(own_name(""), "photo");
        assert_eq!(own_name(&"x".repeat(500)).len(), 120);
    }
}
