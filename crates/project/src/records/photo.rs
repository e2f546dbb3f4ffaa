//! Photos: PNG, JPEG and WebP only, told by their bytes and never by their name. Nothing is decoded here; the frame of the
//! file is walked far enough that a page, a script or an archive dressed up as a photo is turned away.

mod picture_only;

use serde::{Deserialize, Serialize};

/// Largest photo kept, bytes.
pub const PHOTO_LIMIT_BYTES: usize = 8 * 1024 * 1024;

/// The media types kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum MediaType {
    /// PNG.
    #[serde(rename = "image/png")]
    Png,
    /// JPEG.
    #[serde(rename = "image/jpeg")]
    Jpeg,
    /// WebP.
    #[serde(rename = "image/webp")]
    Webp,
}

impl MediaType {
    /// The media type's name, as sent to a browser.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Png => "image/png",
            Self::Jpeg => "image/jpeg",
            Self::Webp => "image/webp",
        }
    }

    /// The media type of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::Png, Self::Jpeg, Self::Webp].into_iter().find(|media| media.name() == name)
    }

    /// The ending of a file's name.
    #[must_use]
    pub fn extension(self) -> &'static str {
        match self {
            Self::Png => "png",
            Self::Jpeg => "jpg",
            Self::Webp => "webp",
        }
    }
}

/// A photo that has been looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    media: MediaType,
    bytes: Vec<u8>,
}

/// Why bytes are no photo.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PhotoError {
    /// No bytes.
    #[error("the photo is empty")]
    Empty,
    /// Too many bytes.
    #[error("the photo has {bytes} bytes, at most {PHOTO_LIMIT_BYTES} are kept")]
    TooLarge {
        /// Bytes given.
        bytes: usize,
    },
    /// None of the types kept.
    #[error("the file is neither PNG, JPEG nor WebP")]
    UnknownType,
    /// Begins like one of the types but is not built like it.
    #[error("the file begins like {} but is cut short or built wrongly: {what}", media.name())]
    Malformed {
        /// What it begins like.
        media: MediaType,
        /// What is wrong.
        what: &'static str,
    },
    /// Not what was declared.
    #[error("the file was sent as {} but is {}", declared.name(), found.name())]
    Mismatch {
        /// What was declared.
        declared: MediaType,
        /// What it is.
        found: MediaType,
    },
}

impl PhotoError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Empty | Self::UnknownType => "choose a photo saved as PNG, JPEG or WebP",
            Self::TooLarge { .. } => "save the photo smaller; 2,000 pixels along the longer side are plenty",
            Self::Malformed { .. } => "open the photo in a viewer and save it again",
            Self::Mismatch { .. } => "save the photo again under its true type",
        }
    }
}

impl Photo {
    /// Looks at the bytes.
    ///
    /// # Errors
    /// See [`PhotoError`].
    pub fn new(bytes: Vec<u8>) -> Result<Self, PhotoError> {
        if bytes.is_empty() {
            return Err(PhotoError::Empty);
        }
        if bytes.len() > PHOTO_LIMIT_BYTES {
            return Err(PhotoError::TooLarge { bytes: bytes.len() });
        }
        let (media, frame) = if bytes.starts_with(PNG) {
            (MediaType::Png, walk_png(&bytes))
        } else if bytes.starts_with(&[0xFF, 0xD8, 0xFF]) {
            (MediaType::Jpeg, walk_jpeg(&bytes))
        } else if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
            (MediaType::Webp, walk_webp(&bytes))
        } else {
            return Err(PhotoError::UnknownType);
        };
        frame.map_err(|what| PhotoError::Malformed { media, what })?;
        Ok(Self { media, bytes })
    }

    /// Looks at the bytes and holds them against the type they were sent as.
    ///
    /// # Errors
    /// See [`PhotoError`].
    pub fn declared(bytes: Vec<u8>, declared: MediaType) -> Result<Self, PhotoError> {
        let photo = Self::new(bytes)?;
        if photo.media != declared {
            return Err(PhotoError::Mismatch { declared, found: photo.media });
        }
        Ok(photo)
    }

    /// What it is.
    #[must_use]
    pub fn media(&self) -> MediaType {
        self.media
    }

    /// Its bytes.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }
}

const PNG: &[u8] = &[0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A];

fn big_endian_32(bytes: &[u8], at: usize) -> Option<usize> {
    let four: [u8; 4] = bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
    usize::try_from(u32::from_be_bytes(four)).ok()
}

/// Chunk by chunk: the header first, the end chunk last and nothing behind it.
fn walk_png(bytes: &[u8]) -> Result<(), &'static str> {
    let mut at = PNG.len();
    let (mut first, mut data) = (true, false);
    while at < bytes.len() {
        let length = big_endian_32(bytes, at).ok_or("a chunk is cut short")?;
        let name = bytes.get(at + 4..at + 8).ok_or("a chunk is cut short")?;
        let next = at.checked_add(length).and_then(|end| end.checked_add(12)).ok_or("a chunk is too long")?;
        if next > bytes.len() {
            return Err("a chunk is cut short");
        }
        if first && (name != b"IHDR" || length != 13) {
            return Err("it does not begin with its header");
        }
        if first && (big_endian_32(bytes, at + 8) == Some(0) || big_endian_32(bytes, at + 12) == Some(0)) {
            return Err("it has no width or no height");
        }
        data |= name == b"IDAT";
        if name == b"IEND" {
            let whole = data && length == 0 && next == bytes.len();
            return if whole {
                Ok(())
            } else {
                Err("something stands behind its end, or there is no picture in it")
            };
        }
        first = false;
        at = next;
    }
    Err("it has no end")
}

/// Segment by segment up to the scan, with a frame header before it and the end mark somewhere behind it (telephones write
/// more behind the end mark).
fn walk_jpeg(bytes: &[u8]) -> Result<(), &'static str> {
    let mut at = 2;
    let mut frame = false;
    loop {
        if bytes.get(at) != Some(&0xFF) {
            return Err("a segment does not begin with its mark");
        }
        while bytes.get(at + 1) == Some(&0xFF) {
            at += 1;
        }
        let mark = *bytes.get(at + 1).ok_or("it is cut short")?;
        let length: [u8; 2] =
            bytes.get(at + 2..at + 4).and_then(|two| two.try_into().ok()).ok_or("it is cut short")?;
        let length = usize::from(u16::from_be_bytes(length));
        let next = at + 2 + length;
        if length < 2 || next > bytes.len() {
            return Err("a segment is cut short");
        }
        frame |= matches!(mark, 0xC0..=0xCF) && !matches!(mark, 0xC4 | 0xC8 | 0xCC);
        match mark {
            0xDA if !frame => return Err("its scan comes before its frame"),
            0xDA if bytes[next..].windows(2).any(|pair| pair == [0xFF, 0xD9]) => return Ok(()),
            0xDA => return Err("it has no end"),
            0xC0..=0xCF | 0xDB..=0xEF | 0xFE => at = next,
            _ => return Err("a mark stands where none belongs"),
        }
    }
}

/// The container's length must be the file's, and its first chunk one of the three picture chunks.
fn walk_webp(bytes: &[u8]) -> Result<(), &'static str> {
    let length: [u8; 4] = bytes.get(4..8).and_then(|four| four.try_into().ok()).ok_or("it is cut short")?;
    let length = usize::try_from(u32::from_le_bytes(length)).map_err(|_| "it is too long")?;
    if length.checked_add(8) != Some(bytes.len()) {
        return Err("its length is not the file's");
    }
    let chunk: [u8; 4] = bytes.get(16..20).and_then(|four| four.try_into().ok()).ok_or("it is cut short")?;
    let chunk = usize::try_from(u32::from_le_bytes(chunk)).map_err(|_| "a chunk is too long")?;
    if chunk.checked_add(20).is_none_or(|end| end > bytes.len()) || chunk == 0 {
        return Err("a chunk is cut short");
    }
    match bytes.get(12..16) {
        Some(b"VP8 " | b"VP8L" | b"VP8X") => Ok(()),
        _ => Err("there is no picture in it"),
    }
}
