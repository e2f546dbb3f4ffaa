//! A photo without what its file says beside the picture. A telephone writes where and when a photo was taken, with what, and
//! often a second, larger picture behind the first; none of it belongs on a trial.
//!
//! Kept are the picture, its colours (profile, gamma, transparency) and which way is up; everything else is left out, known or
//! not, and named. The picture itself is copied byte for byte and never encoded again.

use super::{MediaType, PNG, Photo, PhotoError, big_endian_32};
use std::collections::BTreeSet;

const PLACE: &str = "the place where it was taken";
const CAMERA: &str = "notes of the camera";
const PROGRAM: &str = "notes of a program";
const COMMENT: &str = "comments";
const MORE: &str = "further pictures";
const OTHER: &str = "data nobody needs to see the picture";
const BEHIND: &str = "what stood behind the picture";

/// Chunks of a PNG that say how the picture looks; those with a large first letter always do.
const PNG_LOOKS: [&[u8; 4]; 9] =
    [b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT", b"bKGD", b"pHYs", b"cICP"];
/// Chunks of a WebP that are the picture or say how it looks.
const WEBP_LOOKS: [&[u8; 4]; 7] = [b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ICCP", b"ANIM", b"ANMF"];

/// What is left, and what was left out.
struct Cleaned {
    bytes: Vec<u8>,
    out: BTreeSet<&'static str>,
}

impl Photo {
    /// The photo without what its file holds beside the picture, and what that was, in words.
    ///
    /// # Errors
    /// The picture is built so wrongly that it cannot be told from the rest.
    pub fn picture_only(self) -> Result<(Self, Vec<String>), PhotoError> {
        let media = self.media;
        let cleaned = match media {
            MediaType::Png => png(&self.bytes),
            MediaType::Jpeg => jpeg(&self.bytes),
            MediaType::Webp => webp(&self.bytes),
        };
        let cleaned = cleaned.ok_or(PhotoError::Malformed { media, what: "a part of it is cut short" })?;
        // What is kept must pass the same look as what came.
        let photo = Self::declared(cleaned.bytes, media)?;
        Ok((photo, cleaned.out.into_iter().map(str::to_owned).collect()))
    }
}

/// What an Exif block says that matters here.
#[derive(Clone, Copy, Default)]
struct Exif {
    /// Which way is up, 1 to 8 (tag 0x0112); 1 when nothing is said.
    orientation: Option<u16>,
    /// It points to a block of the place (tag 0x8825).
    place: bool,
}

/// Reads the first directory of a TIFF block.
fn exif(block: &[u8]) -> Exif {
    let tiff = block.strip_prefix(b"Exif\0\0").unwrap_or(block);
    let little = match tiff.get(..4) {
        Some(b"II*\0") => true,
        Some(b"MM\0*") => false,
        _ => return Exif::default(),
    };
    let two = |at: usize| -> Option<u16> {
        let two: [u8; 2] = tiff.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if little { u16::from_le_bytes(two) } else { u16::from_be_bytes(two) })
    };
    let four = |at: usize| -> Option<usize> {
        let four: [u8; 4] = tiff.get(at..at.checked_add(4)?)?.try_into().ok()?;
        usize::try_from(if little { u32::from_le_bytes(four) } else { u32::from_be_bytes(four) }).ok()
    };
    let mut found = Exif::default();
    let Some(directory) = four(4) else { return found };
    let entries = directory.checked_add(2).and_then(|start| Some((start, usize::from(two(directory)?))));
    let Some((start, entries)) = entries else { return found };
    for entry in 0..entries {
        let Some(at) = start.checked_add(entry * 12) else { break };
        match two(at) {
            Some(0x0112) => found.orientation = two(at.saturating_add(8)).filter(|way| (2..=8).contains(way)),
            Some(0x8825) => found.place = true,
            Some(_) => {}
            None => break,
        }
    }
    found
}

/// A TIFF block that says which way is up and nothing else.
fn upright(orientation: u16) -> Vec<u8> {
    let mut tiff = b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0".to_vec();
    tiff.extend(orientation.to_le_bytes());
    tiff.extend([0; 6]);
    tiff
}

fn noted(found: Exif, out: &mut BTreeSet<&'static str>) {
    out.insert(CAMERA);
    if found.place {
        out.insert(PLACE);
    }
}

fn jpeg(bytes: &[u8]) -> Option<Cleaned> {
    let mut kept = bytes.get(..2)?.to_vec();
    let mut out = BTreeSet::new();
    let mut orientation = None;
    let (mut at, mut after_head) = (2, 2);
    loop {
        while bytes.get(at) == Some(&0xFF) && bytes.get(at + 1) == Some(&0xFF) {
            at += 1;
        }
        let (0xFF, mark) = (*bytes.get(at)?, *bytes.get(at + 1)?) else { return None };
        if mark == 0xD9 {
            kept.extend([0xFF, 0xD9]);
            if at + 2 < bytes.len() {
                out.insert(BEHIND);
            }
            break;
        }
        let length: [u8; 2] = bytes.get(at + 2..at + 4)?.try_into().ok()?;
        let next = at + 2 + usize::from(u16::from_be_bytes(length));
        let content = bytes.get(at + 4..next)?;
        let head = mark == 0xE0 && content.starts_with(b"JFIF\0");
        let looks = head
            || (mark == 0xE2 && content.starts_with(b"ICC_PROFILE\0"))
            || (mark == 0xEE && content.starts_with(b"Adobe"))
            || !matches!(mark, 0xE0..=0xEF | 0xFE);
        if looks {
            kept.extend(bytes.get(at..next)?);
            if head {
                after_head = kept.len();
            }
        } else if mark == 0xE1 && content.starts_with(b"Exif\0\0") {
            let found = exif(content);
            orientation = orientation.or(found.orientation);
            noted(found, &mut out);
        } else {
            out.insert(match mark {
                0xFE => COMMENT,
                0xE1 => PROGRAM,
                0xE2 if content.starts_with(b"MPF\0") => MORE,
                _ => OTHER,
            });
        }
        at = next;
        if mark == 0xDA {
            let end = scan_end(bytes, at)?;
            kept.extend(bytes.get(at..end)?);
            at = end;
        }
    }
    if let Some(orientation) = orientation {
        let mut segment = vec![0xFF, 0xE1, 0, 34];
        segment.extend(b"Exif\0\0");
        segment.extend(upright(orientation));
        kept.splice(after_head..after_head, segment);
    }
    Some(Cleaned { bytes: kept, out })
}

/// Where the coded picture ends: at the next mark that is neither a stuffed byte nor a restart.
fn scan_end(bytes: &[u8], from: usize) -> Option<usize> {
    let rest = bytes.get(from..)?;
    let end =
        rest.windows(2).position(|pair| pair[0] == 0xFF && !matches!(pair[1], 0 | 0xD0..=0xD7 | 0xFF))?;
    Some(from + end)
}

fn png(bytes: &[u8]) -> Option<Cleaned> {
    let mut kept = PNG.to_vec();
    let mut out = BTreeSet::new();
    let mut at = PNG.len();
    while at < bytes.len() {
        let length = big_endian_32(bytes, at)?;
        let next = at.checked_add(length)?.checked_add(12)?;
        let (name, content) = (bytes.get(at + 4..at + 8)?, bytes.get(at + 8..next - 4)?);
        let looks = name[0].is_ascii_uppercase() || PNG_LOOKS.iter().any(|looks| name == *looks);
        match name {
            _ if looks => kept.extend(bytes.get(at..next)?),
            b"eXIf" => {
                let found = exif(content);
                noted(found, &mut out);
                if let Some(orientation) = found.orientation {
                    kept.extend(png_chunk(*b"eXIf", &upright(orientation)));
                }
            }
            _ => {
                out.insert(match name {
                    b"iTXt" if content.starts_with(b"XML:com.adobe.xmp") => PROGRAM,
                    b"tEXt" | b"zTXt" | b"iTXt" => COMMENT,
                    b"acTL" | b"fcTL" | b"fdAT" => MORE,
                    _ => OTHER,
                });
            }
        }
        at = next;
    }
    Some(Cleaned { bytes: kept, out })
}

fn png_chunk(name: [u8; 4], content: &[u8]) -> Vec<u8> {
    let mut chunk = u32::try_from(content.len()).unwrap_or(0).to_be_bytes().to_vec();
    chunk.extend(name);
    chunk.extend(content);
    let sum = crc32(&chunk[4..]);
    chunk.extend(sum.to_be_bytes());
    chunk
}

/// The check sum of PNG (ISO 3309, polynomial 0xEDB88320 reflected).
fn crc32(bytes: &[u8]) -> u32 {
    let mut sum = u32::MAX;
    for byte in bytes {
        sum ^= u32::from(*byte);
        for _ in 0..8 {
            sum = if sum & 1 == 1 { (sum >> 1) ^ 0xEDB8_8320 } else { sum >> 1 };
        }
    }
    !sum
}

/// Marks in the head of an extended WebP: it holds an Exif block, it holds notes of a program.
const WEBP_EXIF: u8 = 0x08;
const WEBP_XMP: u8 = 0x04;

fn webp(bytes: &[u8]) -> Option<Cleaned> {
    let mut kept = bytes.get(..12)?.to_vec();
    let mut out = BTreeSet::new();
    let mut orientation = None;
    let mut flags_at = None;
    let mut at = 12;
    while at < bytes.len() {
        let length: [u8; 4] = bytes.get(at + 4..at + 8)?.try_into().ok()?;
        let length = usize::try_from(u32::from_le_bytes(length)).ok()?;
        let end = at.checked_add(8)?.checked_add(length)?;
        let content = bytes.get(at + 8..end)?;
        // Chunks are padded to an even length; the last pad may be missing.
        let next = (end + length % 2).min(bytes.len());
        let name = bytes.get(at..at + 4)?;
        if WEBP_LOOKS.iter().any(|looks| name == *looks) {
            if name == b"VP8X" {
                flags_at = Some(kept.len() + 8);
            }
            kept.extend(bytes.get(at..next)?);
        } else if name == b"EXIF" {
            let found = exif(content);
            orientation = found.orientation;
            noted(found, &mut out);
        } else {
            out.insert(if name == b"XMP " { PROGRAM } else { OTHER });
        }
        at = next;
    }
    if let Some(flags) = flags_at.and_then(|at| kept.get_mut(at)) {
        *flags &= !(WEBP_EXIF | WEBP_XMP);
        if let Some(orientation) = orientation {
            *flags |= WEBP_EXIF;
            let block = upright(orientation);
            kept.extend(b"EXIF");
            kept.extend(u32::try_from(block.len()).ok()?.to_le_bytes());
            kept.extend(block);
        }
    }
    let size = u32::try_from(kept.len() - 8).ok()?.to_le_bytes();
    kept.get_mut(4..8)?.copy_from_slice(&size);
    Some(Cleaned { bytes: kept, out })
}
