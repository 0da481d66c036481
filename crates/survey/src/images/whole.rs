//! Whether a picture came whole: its parts follow each other up to the mark that ends it.

use super::ImageKind;
use std::io::{self, ErrorKind, Read, Seek, SeekFrom};

/// Bytes of the end of an SVG in which its last tag is looked for: comments may follow it.
const TAIL_BYTES: u64 = 1 << 16;

/// Whether a picture of this kind has its end. The reader stands at its beginning.
pub(super) fn is_whole(kind: ImageKind, picture: impl Read + Seek) -> io::Result<bool> {
    let found = match kind {
        ImageKind::Png => png(picture),
        ImageKind::Jpeg => jpeg(picture),
        ImageKind::Svg => svg(picture),
    };
    match found {
        Err(error) if error.kind() == ErrorKind::UnexpectedEof => Ok(false),
        Err(error) => Err(error),
        Ok(whole) => Ok(whole),
    }
}

/// Chunks, each with its length before and its check after it, up to IEND (ISO/IEC 15948, 5.3).
fn png(mut picture: impl Read) -> io::Result<bool> {
    take::<8>(&mut picture)?;
    loop {
        let length = u32::from_be_bytes(take(&mut picture)?);
        let name: [u8; 4] = take(&mut picture)?;
        skip(&mut picture, u64::from(length) + 4)?;
        if name == *b"IEND" {
            return Ok(true);
        }
    }
}

/// Marker segments, and what is coded after a start of scan, up to EOI (ISO/IEC 10918-1, B.1.1).
fn jpeg(mut picture: impl Read) -> io::Result<bool> {
    const END: u8 = 0xd9;
    const SCAN: u8 = 0xda;
    take::<2>(&mut picture)?;
    let mut marker = marker(&mut picture)?;
    loop {
        match marker {
            Some(END) => return Ok(true),
            Some(kind) => {
                let length = u16::from_be_bytes(take(&mut picture)?);
                skip(&mut picture, u64::from(length.saturating_sub(2)))?;
                marker =
                    if kind == SCAN { coded(&mut picture)? } else { self::marker(&mut picture)? };
            }
            None => return Ok(false),
        }
    }
}

/// The marker that stands here, which fill bytes may precede; none where something else stands.
fn marker(picture: &mut impl Read) -> io::Result<Option<u8>> {
    let [first] = take(picture)?;
    if first != 0xff {
        return Ok(None);
    }
    loop {
        match take(picture)? {
            [0xff] => {}
            [kind] => return Ok(Some(kind)),
        }
    }
}

/// The marker that ends coded data: no stuffed zero and no restart.
fn coded(picture: &mut impl Read) -> io::Result<Option<u8>> {
    loop {
        if take(picture)? != [0xff] {
            continue;
        }
        let mut kind = [0xff];
        while kind == [0xff] {
            kind = take(picture)?;
        }
        if !matches!(kind, [0 | 0xd0..=0xd7]) {
            return Ok(Some(kind[0]));
        }
    }
}

/// The root's last tag, or a root that has no content.
fn svg(mut picture: impl Read + Seek) -> io::Result<bool> {
    let bytes = picture.seek(SeekFrom::End(0))?;
    picture.seek(SeekFrom::Start(bytes.saturating_sub(TAIL_BYTES)))?;
    let mut tail = Vec::new();
    picture.read_to_end(&mut tail)?;
    let tail = String::from_utf8_lossy(&tail);
    let tail = tail.trim_end();
    Ok(tail.ends_with('>')
        && (tail.contains("</svg") || tail.contains(":svg>") || tail.ends_with("/>")))
}

fn take<const N: usize>(picture: &mut impl Read) -> io::Result<[u8; N]> {
    let mut bytes = [0; N];
    picture.read_exact(&mut bytes)?;
    Ok(bytes)
}

fn skip(picture: &mut impl Read, bytes: u64) -> io::Result<()> {
    match io::copy(&mut picture.by_ref().take(bytes), &mut io::sink())? {
        n if n == bytes => Ok(()),
        _ => Err(ErrorKind::UnexpectedEof.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    /// One grey pixel (W3C PNG, 5: signature, IHDR, IDAT, IEND).
    const PNG: &[u8] =
        b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\0\0\0\0\x3a\x7e\x9b\x55\
\0\0\0\nIDAT\x78\x9c\x63\x68\0\0\0\x82\0\x81\x77\xcd\x72\xb6\0\0\0\0IEND\xae\x42\x60\x82";
    /// A header with a small picture of its own inside, a scan with a stuffed zero and a restart, a
    /// second scan.
    const JPEG: &[u8] =
        b"\xff\xd8\xff\xe1\0\x08thm\xff\xd9z\xff\xda\0\x04ab\x11\xff\0\x22\xff\xd0\x33\
\xff\xff\xda\0\x03c\x44\xff\xd9";
    const SVG: &[u8] =
        b"<?xml version=\"1.0\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\"><path/></svg>\n";

    #[test]
    fn a_picture_is_whole_to_its_last_byte_and_not_before() {
        for (kind, picture) in
            [(ImageKind::Png, PNG), (ImageKind::Jpeg, JPEG), (ImageKind::Svg, SVG)]
        {
            assert!(is_whole(kind, Cursor::new(picture)).expect("read"), "{kind:?}");
            let end = picture.len() - usize::from(kind == ImageKind::Svg);
            for cut in 0..end {
                // An SVG may be cut behind a tag that closes itself, as its root might.
                let may = kind == ImageKind::Svg && picture[..cut].ends_with(b"/>");
                let whole = is_whole(kind, Cursor::new(&picture[..cut])).expect("read");
                assert!(!whole || may, "{kind:?} of {cut} bytes");
            }
        }
    }

    #[test]
    fn what_follows_the_end_does_no_harm() {
        for (kind, picture) in [(ImageKind::Png, PNG), (ImageKind::Jpeg, JPEG)] {
            let more = [picture, b"and more"].concat();
            assert!(is_whole(kind, Cursor::new(more)).expect("read"), "{kind:?}");
        }
    }
}
