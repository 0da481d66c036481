//! Levels as a picture of dots: a PNG with a palette, a byte a dot.

/// Viridis (van der Walt and Smith 2015, CC0), every 15th of its 256 colours; straight lines between
/// them stay within 5 of 255 of the others.
const VIRIDIS: [u32; 18] = [
    0x440154, 0x481769, 0x472a7a, 0x433d84, 0x3d4e8a, 0x355e8d, 0x2e6d8e, 0x297b8e, 0x23898e,
    0x1f978b, 0x21a585, 0x2eb37c, 0x46c06f, 0x65cb5e, 0x89d548, 0xb0dd2f, 0xd8e219, 0xfde725,
];
const APART: usize = 15;

/// Red, green and blue of a shade; of 0, which is nothing, those of paper.
fn dot(shade: u8) -> [u8; 3] {
    if shade == 0 {
        return [255; 3];
    }
    let (i, rest) = (usize::from(shade) / APART, usize::from(shade) % APART);
    let [from, to] = [i, (i + 1).min(VIRIDIS.len() - 1)].map(|i| VIRIDIS[i].to_be_bytes());
    let part = rest as f64 / APART as f64;
    let mix = |k: usize| (f64::from(from[k]) * (1.0 - part) + f64::from(to[k]) * part).round();
    [mix(1) as u8, mix(2) as u8, mix(3) as u8]
}

/// The colour of a shade, `#440154`.
pub(super) fn colour(shade: u8) -> String {
    let [red, green, blue] = dot(shade);
    format!("#{red:02x}{green:02x}{blue:02x}")
}

/// Rows of shades, `width` in each, as a PNG file (ISO/IEC 15948).
pub(super) fn png(width: usize, shades: &[u8]) -> Vec<u8> {
    let height = shades.len() / width.max(1);
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, width as u32, height as u32);
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_palette((0..=255).flat_map(dot).collect::<Vec<u8>>());
    let written = encoder
        .write_header()
        .and_then(|mut writer| writer.write_image_data(&shades[..width * height]));
    // Only a picture without dots cannot be written, and none is drawn of that.
    debug_assert!(written.is_ok(), "{written:?}");
    file
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_is_read_back_as_it_was_written() {
        let shades = [0, 1, 128, 255, 255, 0];
        let mut reader = png::Decoder::new(std::io::Cursor::new(png(3, &shades)));
        reader.set_transformations(png::Transformations::IDENTITY);
        let mut reader = reader.read_info().expect("a PNG");
        let mut out = vec![0; reader.output_buffer_size().expect("small")];
        reader.next_frame(&mut out).expect("a picture");
        assert_eq!((reader.info().width, reader.info().height, &out[..]), (3, 2, &shades[..]));
    }

    #[test]
    fn shades_are_colours_of_viridis() {
        // Entries 128 and 200 of matplotlib's table of viridis: 33, 145, 140 and 112, 207, 87 (from the
        // table that the page uses).
        assert_eq!((colour(0), colour(255)), ("#ffffff".to_owned(), "#fde725".to_owned()));
        for (shade, known) in [(128u8, [33, 145, 140]), (200, [112, 207, 87])] {
            let near = dot(shade)
                .iter()
                .zip(known)
                .all(|(a, b): (&u8, i32)| (i32::from(*a) - b).abs() <= 5);
            assert!(near, "{shade}: {:?}", dot(shade));
        }
    }
}
