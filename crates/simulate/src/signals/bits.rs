//! Bits of packets: order, check words, whitening.

/// Bits of octets, least significant first, as Bluetooth LE sends them.
pub fn lsb_first(octets: &[u8]) -> Vec<bool> {
    octets.iter().flat_map(|o| (0..8).map(move |k| o >> k & 1 == 1)).collect()
}

/// The lowest `count` bits of a word, most significant first.
pub fn msb_first(word: u64, count: u32) -> Vec<bool> {
    (0..count).rev().map(|k| word >> k & 1 == 1).collect()
}

/// Remainder of a bit stream, in the order sent, divided by x^width + `polynomial`, from `start`.
pub fn remainder(bits: &[bool], polynomial: u64, width: u32, start: u64) -> u64 {
    let mask = (1u64 << width) - 1;
    bits.iter().fold(start & mask, |r, b| {
        let carry = (r >> (width - 1) & 1 == 1) != *b;
        let r = r << 1 & mask;
        if carry { r ^ polynomial } else { r }
    })
}

/// Bluetooth LE check word, bits in the order sent (Core Specification Vol 6 Part B 3.1.1:
/// x^24+x^10+x^9+x^6+x^4+x^3+x+1, from 0x555555 on advertising channels).
pub fn ble_crc(pdu: &[bool]) -> Vec<bool> {
    msb_first(remainder(pdu, 0x00_065b, 24, 0x55_5555), 24)
}

/// Bluetooth LE whitening of a channel index (Vol 6 Part B 3.2: x^7 + x^4 + 1, position 0 set,
/// the channel index in positions 1 to 6).
pub fn ble_whitening(channel: u8) -> impl Iterator<Item = bool> {
    let mut state = 0x40 | (channel & 0x3f);
    std::iter::from_fn(move || {
        let out = state & 1 == 1;
        state >>= 1;
        if out {
            state ^= 0x44;
        }
        Some(out)
    })
}

/// DECT R-field of an A-field's bits (EN 300 175-3: x^16+x^10+x^8+x^7+x^3+1, last bit inverted).
pub fn dect_r_crc(bits: &[bool]) -> u64 {
    remainder(bits, 0x0589, 16, 0) ^ 1
}

/// RDS block of 26 bits: information, then check word plus offset word (IEC 62106 Annex B:
/// x^10+x^8+x^7+x^5+x^4+x^3+1).
pub fn rds_block(information: u16, offset: u16) -> Vec<bool> {
    let information = msb_first(u64::from(information), 16);
    let check = remainder(&information, 0x1b9, 10, 0) ^ u64::from(offset);
    [information, msb_first(check, 10)].concat()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn octets(bits: &[bool]) -> Vec<u8> {
        bits.chunks(8)
            .map(|b| b.iter().enumerate().fold(0, |o, (k, b)| o | u8::from(*b) << k))
            .collect()
    }

    #[test]
    fn check_words_are_the_published_ones() {
        // FRM-001: CRC-24/BLE of "123456789" is C25A56 (catalogue, least significant bit first).
        let crc = ble_crc(&lsb_first(b"123456789"));
        let value = crc.iter().enumerate().fold(0u32, |v, (k, b)| v | u32::from(*b) << k);
        assert_eq!(value, 0xc2_5a56);
        // FRM-022: the octets on air of an invented PDU.
        let pdu = [0x00, 0x0b, 0x11, 0x22, 0x33, 0xcc, 0xbb, 0xaa, 0x02, 0x01, 0x06, 0x01, 0x0a];
        assert_eq!(octets(&ble_crc(&lsb_first(&pdu))), [0xd5, 0x4e, 0xd6]);
        // FRM-003: CRC-16/DECT-R of "123456789" is 007E, most significant bit first.
        let text: Vec<bool> =
            b"123456789".iter().flat_map(|o| msb_first(u64::from(*o), 8)).collect();
        assert_eq!(dect_r_crc(&text), 0x007e);
        // FRM-028: RDS check word of 0x1234 in block A is 06A.
        let block = rds_block(0x1234, 0x0fc);
        assert_eq!(block[16..], msb_first(0x06a, 10));
    }

    #[test]
    fn whitening_is_the_published_sequence() {
        // FRM-018…021, least significant bit first.
        for (channel, expected) in [
            (37, [0x8d, 0xd2, 0x57, 0xa1, 0x3d, 0xa7, 0x66, 0xb0]),
            (38, [0xd6, 0xc5, 0x44, 0x20, 0x59, 0xde, 0xe1, 0x8f]),
            (39, [0x1f, 0x37, 0x4a, 0x5f, 0x85, 0xf6, 0x9c, 0x9a]),
            (0, [0x40, 0xb2, 0xbc, 0xc3, 0x1f, 0x37, 0x4a, 0x5f]),
        ] {
            let bits: Vec<bool> = ble_whitening(channel).take(64).collect();
            assert_eq!(octets(&bits), expected, "channel {channel}");
        }
    }
}
