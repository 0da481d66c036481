//! CRC-32C (Castagnoli; RFC 3720 appendix B.4), reflected polynomial 0x82f63b78, a byte at a time:
//! it runs over compressed tiles, a small part of what is read.

const TABLE: [u32; 256] = {
    let mut table = [0; 256];
    let mut i = 0;
    while i < 256 {
        let mut crc = i as u32;
        let mut bit = 0;
        while bit < 8 {
            crc = if crc & 1 == 1 { (crc >> 1) ^ 0x82f6_3b78 } else { crc >> 1 };
            bit += 1;
        }
        table[i] = crc;
        i += 1;
    }
    table
};

pub(super) fn crc32c(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0, |crc, &b| (crc >> 8) ^ TABLE[usize::from(crc as u8 ^ b)])
}

#[cfg(test)]
mod tests {
    use super::crc32c;

    #[test]
    fn rfc_3720_appendix_b_4() {
        let rising: Vec<u8> = (0..32).collect();
        let falling: Vec<u8> = (0..32).rev().collect();
        assert_eq!(crc32c(&[0; 32]), 0x8a91_36aa);
        assert_eq!(crc32c(&[0xff; 32]), 0x62a8_ab43);
        assert_eq!(crc32c(&rising), 0x46dd_794e);
        assert_eq!(crc32c(&falling), 0x113f_db5c);
    }
}
