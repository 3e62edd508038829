//! Damaged guides: whatever the bytes, there is no panic, and every fault has a place and a remedy.

use pondweigh::build;
use pondweigh::content::Input;

use crate::support::guide;

/// A small generator that is the same everywhere (xorshift; Marsaglia 2003, from memory).
struct Random(u64);

impl Random {
    fn next(&mut self, below: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % below.max(1) as u64) as usize
    }
}

fn damaged(input: &Input, random: &mut Random) -> Input {
    let mut input = input.clone();
    for _ in 0..=random.next(3) {
        let at = random.next(input.files.len());
        let bytes = &mut input.files[at].1;
        let place = random.next(bytes.len() + 1);
        match random.next(6) {
            // A piece is lost.
            0 => {
                let end = (place + random.next(40)).min(bytes.len());
                bytes.drain(place..end);
            }
            // A letter slips.
            1 if !bytes.is_empty() => {
                let place = place.min(bytes.len() - 1);
                bytes[place] = random.next(256) as u8;
            }
            // Something gets in.
            2 => {
                let bits: [&[u8]; 12] = [
                    b"{",
                    b"]",
                    b": ",
                    b"- ",
                    b"\t",
                    b"\xff",
                    b"\n\n",
                    b"..",
                    b"'",
                    b"-1",
                    b"0 d",
                    "é×".as_bytes(),
                ];
                let bit = bits[random.next(bits.len())];
                bytes.splice(place..place, bit.iter().copied());
            }
            // A line stands twice.
            3 => {
                let text = String::from_utf8_lossy(bytes).into_owned();
                let lines: Vec<&str> = text.lines().collect();
                if !lines.is_empty() {
                    let line = lines[random.next(lines.len())].to_owned();
                    bytes.extend_from_slice(format!("\n{line}\n").as_bytes());
                }
            }
            // The rest is cut off.
            4 => bytes.truncate(place),
            // The file is gone.
            _ => {
                input.files.remove(at);
            }
        }
        if input.files.is_empty() {
            break;
        }
    }
    input
}

#[test]
fn damaged_guides_never_panic() {
    let mut random = Random(0x5eed_0f00_d1ce_u64);
    let mut with_faults = 0;
    for name in [
        "tests/site/guide",
        "tests/cases/proof/ok-minimal",
        "tests/cases/proof/warn-repeats-ring",
    ] {
        let whole = guide(name);
        for _ in 0..250 {
            let (_, faults) = build(&damaged(&whole, &mut random), &|| {});
            with_faults += usize::from(!faults.is_empty());
            for fault in faults {
                assert!(fault.place.file.starts_with("content"), "{fault:?}");
                assert!(fault.hint.is_some(), "no remedy: {fault:?}");
            }
        }
    }
    assert!(with_faults > 400, "the damage shows: {with_faults}");
}
