//! Photos are told by their bytes: what is not built like one is turned away, and nothing panics.

use levigate_project::records::{MediaType, PHOTO_LIMIT_BYTES, Photo, PhotoError};
use proptest::prelude::*;

const PIXEL_PNG: &[u8] = &[
    0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A, 0, 0, 0, 13, 0x49, 0x48, 0x44, 0x52, 0, 0, 0, 1, 0, 0, 0,
    1, 8, 0, 0, 0, 0, 0x3A, 0x7E, 0x9B, 0x55, 0, 0, 0, 10, 0x49, 0x44, 0x41, 0x54, 0x78, 0x9C, 0x63, 0x60, 0,
    0, 0, 2, 0, 1, 0x48, 0xAF, 0xA4, 0x71, 0, 0, 0, 0, 0x49, 0x45, 0x4E, 0x44, 0xAE, 0x42, 0x60, 0x82,
];

/// Mark, application segment, frame header, scan header, a little scan, end.
fn jpeg() -> Vec<u8> {
    let mut bytes = vec![0xFF, 0xD8];
    bytes.extend([0xFF, 0xE0, 0, 16, b'J', b'F', b'I', b'F', 0, 1, 1, 0, 0, 1, 0, 1, 0, 0]);
    bytes.extend([0xFF, 0xC0, 0, 11, 8, 0, 1, 0, 1, 1, 1, 0x11, 0]);
    bytes.extend([0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 63, 0, 0x37, 0xFF, 0, 0x12, 0xFF, 0xD9]);
    bytes
}

fn webp() -> Vec<u8> {
    let picture = [0x2F, 0, 0, 0, 0x10, 0x07, 0x10, 0x11, 0x11, 0x88, 0x88, 0xFE];
    let mut bytes = b"RIFF".to_vec();
    bytes.extend(24_u32.to_le_bytes());
    bytes.extend(b"WEBPVP8L");
    bytes.extend(12_u32.to_le_bytes());
    bytes.extend(picture);
    bytes
}

#[test]
fn the_three_types_are_known_by_their_bytes() {
    for (bytes, media) in
        [(PIXEL_PNG.to_vec(), MediaType::Png), (jpeg(), MediaType::Jpeg), (webp(), MediaType::Webp)]
    {
        let photo = Photo::declared(bytes.clone(), media).unwrap();
        assert_eq!((photo.media(), photo.bytes()), (media, bytes.as_slice()));
        assert_eq!(MediaType::from_name(media.name()), Some(media));
    }
    let mismatch = Photo::declared(jpeg(), MediaType::Png);
    assert_eq!(mismatch, Err(PhotoError::Mismatch { declared: MediaType::Png, found: MediaType::Jpeg }));
    assert_eq!(MediaType::from_name("image/svg+xml"), None);
}

#[test]
fn hostile_bytes_are_turned_away() {
    let strangers: [&[u8]; 9] = [
        b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
        b"<!doctype html><script>alert(1)</script>",
        b"GIF89a\x01\x00\x01\x00\x80\x00\x00",
        b"%PDF-1.7",
        b"PK\x03\x04",
        b"MZ\x90\x00",
        b"\x7fELF",
        b"BM\x00\x00",
        b"RIFF\x04\x00\x00\x00WAVE",
    ];
    for bytes in strangers {
        assert_eq!(Photo::new(bytes.to_vec()), Err(PhotoError::UnknownType));
    }
    assert_eq!(Photo::new(Vec::new()), Err(PhotoError::Empty));

    let malformed = |bytes: Vec<u8>, why: &str| {
        assert!(matches!(Photo::new(bytes), Err(PhotoError::Malformed { .. })), "{why}");
    };
    let script = b"<script>alert(1)</script>";
    malformed([&PIXEL_PNG[..8], script].concat(), "a page behind the first bytes of a PNG");
    malformed([PIXEL_PNG, script].concat(), "a page behind a whole PNG");
    malformed([PIXEL_PNG, b"PK\x03\x04"].concat(), "an archive behind a whole PNG");
    malformed([&[0xFF, 0xD8, 0xFF][..], script].concat(), "a page behind the first bytes of a JPEG");
    malformed([b"RIFF\x00\x00\x00\x00WEBP", &script[..]].concat(), "a page in a WebP frame");
    malformed([webp(), script.to_vec()].concat(), "a page behind a whole WebP");
    let mut flat = PIXEL_PNG.to_vec();
    flat[19] = 0;
    malformed(flat, "no width");
    let mut endless = PIXEL_PNG.to_vec();
    endless[33..37].copy_from_slice(&u32::MAX.to_be_bytes());
    malformed(endless, "a chunk longer than the file");
    // Cut anywhere, none of them is a photo any more.
    for whole in [PIXEL_PNG.to_vec(), jpeg(), webp()] {
        for length in 1..whole.len() {
            assert!(Photo::new(whole[..length].to_vec()).is_err(), "cut to {length}");
        }
    }
}

#[test]
fn the_size_limit_is_kept_to_the_byte() {
    let mut large = jpeg();
    large.resize(PHOTO_LIMIT_BYTES, 0);
    assert!(Photo::new(large.clone()).is_ok(), "telephones write behind the end mark");
    large.push(0);
    assert_eq!(Photo::new(large), Err(PhotoError::TooLarge { bytes: PHOTO_LIMIT_BYTES + 1 }));
}

proptest! {
    #[test]
    fn no_bytes_panic(
        start in prop::sample::select(vec![&PIXEL_PNG[..8], &PIXEL_PNG[..33], b"\xFF\xD8\xFF", b"RIFF\x20\0\0\0WEBPVP8 ", b""]),
        rest in prop::collection::vec(any::<u8>(), 0..200),
    ) {
        let _ = Photo::new([start, &rest].concat());
    }
}

/// Photos another program wrote, with a place, a time, a camera, notes and a second picture in the file (`photos/make.py`).
const WRITTEN: [(&str, &[u8]); 4] = [
    ("telephone.jpg", include_bytes!("photos/telephone.jpg")),
    ("telephone-progressive.jpg", include_bytes!("photos/telephone-progressive.jpg")),
    ("screen.png", include_bytes!("photos/screen.png")),
    ("telephone.webp", include_bytes!("photos/telephone.webp")),
];

fn holds(bytes: &[u8], word: &[u8]) -> bool {
    bytes.windows(word.len()).any(|window| window == word)
}

#[test]
fn only_the_picture_is_left_and_what_was_left_out_is_named() {
    for (name, bytes) in WRITTEN {
        assert!(holds(bytes, b"Quillfen") && holds(bytes, b"GPSLatitude"), "{name} holds what is to go");
        let (photo, out) = Photo::new(bytes.to_vec()).unwrap().picture_only().unwrap();
        for word in [&b"Quillfen"[..], b"GPSLatitude", b"2026:11:24", b"xmpmeta"] {
            assert!(!holds(photo.bytes(), word), "{name} still holds {}", String::from_utf8_lossy(word));
        }
        for word in ["the place where it was taken", "notes of the camera", "notes of a program"] {
            assert!(out.iter().any(|one| one == word), "{name}: {out:?}");
        }
        // Which way is up stays: a block of one entry, tag 0x0112, with the value 6.
        assert!(holds(photo.bytes(), b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x06\0"), "{name}");
        let (again, nothing_new) = photo.clone().picture_only().unwrap();
        assert_eq!(again, photo, "{name}");
        assert!(nothing_new.len() <= 1, "only the block that says which way is up: {nothing_new:?}");
    }
    let (jpeg, out) = Photo::new(WRITTEN[0].1.to_vec()).unwrap().picture_only().unwrap();
    assert!(out.iter().any(|one| one == "what stood behind the picture"));
    assert!(holds(jpeg.bytes(), b"ICC_PROFILE"), "its colours stay");
    assert!(jpeg.bytes().ends_with(&[0xFF, 0xD9]));
}

#[test]
fn a_photo_that_says_nothing_is_kept_byte_for_byte() {
    for bytes in [PIXEL_PNG.to_vec(), jpeg(), webp()] {
        let (photo, out) = Photo::new(bytes.clone()).unwrap().picture_only().unwrap();
        assert_eq!(photo.bytes(), bytes);
        assert!(out.is_empty(), "{out:?}");
    }
}

proptest! {
    #[test]
    fn a_photo_spoilt_anywhere_never_panics(which in 0..4_usize, at in any::<prop::sample::Index>(), byte in any::<u8>()) {
        let mut bytes = WRITTEN[which].1.to_vec();
        let at = at.index(bytes.len());
        bytes[at] = byte;
        if let Ok(photo) = Photo::new(bytes) {
            let _ = photo.picture_only();
        }
    }
}
