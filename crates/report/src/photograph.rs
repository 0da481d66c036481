//! A photograph as a report shows it: the picture, without what its camera wrote beside it. Where and
//! when it was taken, by whom, and previews of it stand in metadata; the evidence file keeps them.

use crate::model::{Photograph, PhotographKind};

const PNG: [u8; 8] = *b"\x89PNG\r\n\x1a\n";
/// Chunks that a picture is drawn from (ISO/IEC 15948, clause 11); no other is kept.
const DRAWN: [&[u8; 4]; 11] = [
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT",
    b"pHYs",
];

/// Takes everything out of a JPEG or PNG file but what the picture is drawn from; `None` if it is
/// neither, or is broken off.
pub(crate) fn bare(name: &str, bytes: &[u8]) -> Option<Photograph> {
    let (kind, bytes) = if bytes.starts_with(&PNG) {
        (PhotographKind::Png, png(bytes)?)
    } else if bytes.starts_with(&[0xff, 0xd8]) {
        (PhotographKind::Jpeg, jpeg(bytes)?)
    } else {
        return None;
    };
    Some(Photograph { name: name.to_owned(), kind, bytes })
}

fn be(bytes: &[u8], at: usize, count: usize) -> Option<usize> {
    let bytes = bytes.get(at..at.checked_add(count)?)?;
    Some(bytes.iter().fold(0, |value, byte| (value << 8) | usize::from(*byte)))
}

fn png(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = PNG.to_vec();
    let mut at = PNG.len();
    loop {
        let end = at.checked_add(be(bytes, at, 4)?)?.checked_add(12)?;
        let chunk = bytes.get(at..end)?;
        let name = chunk.get(4..8)?;
        if DRAWN.iter().any(|drawn| drawn.as_slice() == name) {
            out.extend_from_slice(chunk);
        }
        if name == b"IEND" {
            // What follows is no part of the picture.
            return Some(out);
        }
        at = end;
    }
}

/// The marker segments of ITU-T T.81, Annex B, less comments and application data. Kept are JFIF's
/// header (ITU-T T.871), a colour profile (ICC.1, Annex B.4) and the colour transform of APP14 (ITU-T
/// T.872), without which colours would be wrong; which side is up is written anew.
fn jpeg(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut segments: Vec<&[u8]> = Vec::new();
    let (mut jfif, mut up) = (None, None);
    let mut at = 2;
    loop {
        // Any number of fill bytes may stand before a marker (B.1.1.2).
        while bytes.get(at..at + 2)? == [0xff, 0xff] {
            at += 1;
        }
        if *bytes.get(at)? != 0xff {
            return None;
        }
        let marker = *bytes.get(at + 1)?;
        let start = at;
        if marker == 0xd9 {
            segments.push(bytes.get(start..start + 2)?);
            break;
        }
        if (0xd0..=0xd7).contains(&marker) || marker == 0x01 {
            at += 2;
            continue;
        }
        at = start.checked_add(2)?.checked_add(be(bytes, start + 2, 2)?)?;
        let body = bytes.get(start + 4..at)?;
        match marker {
            0xe0 if body.starts_with(b"JFIF\0") => {
                // Its thumbnail, if any, is left out: version, units and densities are 12 bytes.
                jfif = jfif.or(body.get(..12));
                continue;
            }
            0xe1 => {
                up = up.or(orientation(body));
                continue;
            }
            0xe2 if body.starts_with(b"ICC_PROFILE\0") => {}
            0xee if body.starts_with(b"Adobe") => {}
            0xe0..=0xef | 0xfe => continue,
            _ => {}
        }
        if marker == 0xda {
            // The scan: until a marker that is neither a stuffed byte nor a restart (B.1.1.5).
            while bytes.get(at)? != &0xff || matches!(bytes.get(at + 1)?, 0x00 | 0xff | 0xd0..=0xd7)
            {
                at += 1;
            }
        }
        segments.push(bytes.get(start..at)?);
    }
    let mut out = vec![0xff, 0xd8];
    if let Some(jfif) = jfif {
        out.extend_from_slice(&[0xff, 0xe0, 0, 16]);
        out.extend_from_slice(jfif);
        out.extend_from_slice(&[0, 0]);
    }
    if let Some(up @ 2..=8) = up {
        out.extend_from_slice(&oriented(up));
    }
    segments.iter().for_each(|segment| out.extend_from_slice(segment));
    Some(out)
}

/// The tag Orientation (274) of the first directory of an Exif segment (TIFF 6.0, section 2).
fn orientation(body: &[u8]) -> Option<u8> {
    let tiff = body.strip_prefix(b"Exif\0\0")?;
    let big = match tiff.get(..4)? {
        b"MM\0*" => true,
        b"II*\0" => false,
        _ => return None,
    };
    let number = |at: usize, count: usize| -> Option<usize> {
        let mut bytes = tiff.get(at..at.checked_add(count)?)?.to_vec();
        if !big {
            bytes.reverse();
        }
        be(&bytes, 0, count)
    };
    let directory = number(4, 4)?;
    let entries = number(directory, 2)?;
    let mut at = directory.checked_add(2)?;
    for _ in 0..entries {
        if number(at, 2)? == 274 {
            return u8::try_from(number(at + 8, 2)?).ok().filter(|up| (1..=8).contains(up));
        }
        at = at.checked_add(12)?;
    }
    None
}

/// An Exif segment that says which side is up, and nothing else.
fn oriented(up: u8) -> [u8; 36] {
    let mut segment = [0; 36];
    segment[..4].copy_from_slice(&[0xff, 0xe1, 0, 34]);
    segment[4..18].copy_from_slice(b"Exif\0\0MM\0*\0\0\0\x08");
    // One entry: tag 274, one SHORT.
    segment[18..30].copy_from_slice(&[0, 1, 0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, up]);
    segment
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A JPEG of 8 by 8 grey samples as an encoder writes it (Pillow 9.4, quality 1), with an Exif
    /// segment that states a place (GPS directory) and which side is up, a comment, and bytes after
    /// the end of the image.
    fn with_place() -> Vec<u8> {
        let mut file = vec![0xff, 0xd8];
        file.extend(segment(0xe0, b"JFIF\0\x01\x01\0\0\x01\0\x01\x02\x02SECRETSECRET"));
        let mut tiff = b"Exif\0\0II*\0\x08\0\0\0".to_vec();
        tiff.extend([2, 0]);
        tiff.extend([0x12, 0x01, 3, 0, 1, 0, 0, 0, 6, 0, 0, 0]); // Orientation 6
        tiff.extend([0x25, 0x88, 4, 0, 1, 0, 0, 0, 38, 0, 0, 0]); // GPS directory
        tiff.extend(b"\0\0\0\0 52.2297N SECRET");
        file.extend(segment(0xe1, &tiff));
        file.extend(segment(0xe2, b"MPF\0SECRET"));
        file.extend(segment(0xfe, b"SECRET"));
        file.extend(segment(0xdb, &[&[0u8][..], &[255; 64]].concat()));
        file.extend(segment(0xc0, &[8, 0, 8, 0, 8, 1, 1, 0x11, 0]));
        file.extend(segment(0xda, &[1, 1, 0, 0, 63, 0]));
        file.extend([0x12, 0xff, 0x00, 0x34, 0xff, 0xd0, 0x56]);
        file.extend([0xff, 0xd9]);
        file.extend(b"SECRET");
        file
    }

    fn segment(marker: u8, body: &[u8]) -> Vec<u8> {
        let length = u16::try_from(body.len() + 2).expect("short").to_be_bytes();
        [&[0xff, marker], &length[..], body].concat()
    }

    fn has(bytes: &[u8], what: &[u8]) -> bool {
        bytes.windows(what.len()).any(|part| part == what)
    }

    #[test]
    fn a_jpeg_keeps_its_picture_and_which_side_is_up_and_no_place() {
        let file = with_place();
        assert!(has(&file, b"SECRET"));
        let bare = bare("a.jpg", &file).expect("a picture");
        assert_eq!(bare.kind, PhotographKind::Jpeg);
        assert!(!has(&bare.bytes, b"SECRET") && !has(&bare.bytes, &[0x88, 0x25]));
        assert!(has(&bare.bytes, &[0x12, 0xff, 0x00, 0x34, 0xff, 0xd0, 0x56, 0xff, 0xd9]));
        assert!(bare.bytes.ends_with(&[0xff, 0xd9]));
        let exif = bare.bytes.windows(2).position(|pair| pair == [0xff, 0xe1]).expect("Exif");
        assert_eq!(orientation(&bare.bytes[exif + 4..exif + 36]), Some(6));
        let again = super::bare("a.jpg", &bare.bytes).expect("a picture");
        assert_eq!(again.bytes, bare.bytes, "once bare it stays as it is");
    }

    #[test]
    fn a_png_keeps_only_what_is_drawn() {
        let chunk = |name: &[u8; 4], body: &[u8]| {
            let length = u32::try_from(body.len()).expect("short").to_be_bytes();
            [&length[..], name, body, &[0; 4]].concat()
        };
        let mut file = PNG.to_vec();
        file.extend(chunk(b"IHDR", &[0, 0, 0, 1, 0, 0, 0, 1, 8, 0, 0, 0, 0]));
        for name in [b"eXIf", b"tEXt", b"iTXt", b"zTXt", b"tIME", b"prIv"] {
            file.extend(chunk(name, b"SECRET"));
        }
        file.extend(chunk(b"IDAT", b"picture"));
        file.extend(chunk(b"IEND", b""));
        file.extend(b"SECRET");
        let bare = bare("a.png", &file).expect("a picture");
        assert!(has(&bare.bytes, b"IHDR") && has(&bare.bytes, b"picture"));
        assert!(!has(&bare.bytes, b"SECRET") && bare.bytes.ends_with(b"IEND\0\0\0\0"));
    }

    #[test]
    fn what_is_no_picture_or_is_broken_off_is_not_shown() {
        let file = with_place();
        for end in 0..file.len() - 8 {
            assert!(bare("a.jpg", &file[..end]).is_none(), "{end}");
        }
        assert!(bare("a.txt", b"a text").is_none());
        assert!(bare("a.png", &PNG).is_none());
        assert!(bare("a.jpg", b"\xff\xd8\xff\xe1\xff\xff").is_none());
    }
}
