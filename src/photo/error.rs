//! Why a photo could not be read, by whose fault.

/// A photo that gives no reading.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PhotoError {
    /// The file could not be opened or read.
    #[error("cannot read the file")]
    Unreadable(#[source] std::io::Error),
    /// The bytes are no picture of a known format, or are damaged.
    #[error("not a readable picture: {0}")]
    Damaged(String),
}

impl PhotoError {
    /// The stable code of the report.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            PhotoError::Unreadable(_) => "unreadable",
            PhotoError::Damaged(_) => "damaged",
        }
    }
}
