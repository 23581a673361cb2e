//! The fast way of a plain number: digits, at most one decimal sign, then the delimiter.

use super::number::TENS;

/// A plain decimal number that starts at `at` and is followed by `delimiter` or the line's end: its value, and where it ends.
///
/// Up to 15 digits: both the digits as an integer and the power of ten are exact, so one division rounds correctly
/// (Clinger 1990, "How to read floating point numbers accurately"). Anything else is `None` and takes the slow path.
#[inline]
#[must_use]
pub fn plain_number_at(line: &[u8], at: usize, delimiter: u8) -> Option<(f64, usize)> {
    number_at::<b'.'>(line, at, delimiter)
}

/// The same with a decimal comma. Where the comma parts the cells it is a delimiter, not a decimal sign.
#[inline]
#[must_use]
pub fn comma_number_at(line: &[u8], at: usize, delimiter: u8) -> Option<(f64, usize)> {
    number_at::<b','>(line, at, delimiter)
}

/// Every byte of a word.
const fn each(byte: u8) -> u64 {
    byte as u64 * 0x0101_0101_0101_0101
}

#[inline(always)]
fn number_at<const SIGN: u8>(line: &[u8], at: usize, delimiter: u8) -> Option<(f64, usize)> {
    // A branch, not a sum: the place of the next cell must not wait for this byte.
    if line.get(at) == Some(&b'-') {
        return unsigned::<SIGN>(line, at + 1, delimiter).map(|(value, end)| (-value, end));
    }
    unsigned::<SIGN>(line, at, delimiter)
}

#[inline(always)]
fn unsigned<const SIGN: u8>(line: &[u8], start: usize, delimiter: u8) -> Option<(f64, usize)> {
    short::<SIGN>(line, start, delimiter).or_else(|| long::<SIGN>(line, start, delimiter))
}

/// A number that ends within eight bytes of `start`: they are looked at all at once.
#[inline(always)]
fn short<const SIGN: u8>(line: &[u8], start: usize, delimiter: u8) -> Option<(f64, usize)> {
    let word = eight(line, start)?;
    // A digit becomes its value, every other byte more than 9. Adding 0x76 then sets the top bit of the others. A carry out of
    // a byte reaches only the one behind it, and only from 0x8a up, which is neither a sign nor read further.
    let values = word ^ each(b'0');
    let others = (values.wrapping_add(each(0x76)) | values) & each(0x80);
    if others == 0 {
        return None;
    }
    let first = others.trailing_zeros() / 8;
    let byte = |n: u32| (word >> (8 * n)) as u8;
    let ends = |n: u32| byte(n) == delimiter || (byte(n) == 0 && start + n as usize == line.len());
    if first == 0 {
        return None;
    }
    if ends(first) {
        // `first` digits, moved to the word's end: what stands before them is nought.
        return Some((eight_digits(values << (8 * (8 - first))) as f64, start + first as usize));
    }
    if byte(first) != SIGN {
        return None;
    }
    let rest = others & (others - 1);
    if rest == 0 {
        return None;
    }
    let second = rest.trailing_zeros() / 8;
    if !ends(second) {
        return None;
    }
    let before = (1u64 << (8 * first)) - 1;
    let digits = (values & before) | ((values >> 8) & !before);
    let whole = eight_digits(digits << (8 * (9 - second)));
    Some((whole as f64 / TENS[(second - 1 - first) as usize], start + second as usize))
}

/// The eight bytes from `start`, the first one lowest; noughts behind the line's end. `None` where the line is shorter than that.
#[inline]
fn eight(line: &[u8], start: usize) -> Option<u64> {
    if let Some(bytes) = line.get(start..).and_then(|l| l.first_chunk::<8>()) {
        return Some(u64::from_le_bytes(*bytes));
    }
    let left = line.len().checked_sub(start).filter(|n| *n > 0)?;
    Some(u64::from_le_bytes(*line.last_chunk::<8>()?) >> (8 * (8 - left)))
}

/// Eight digits, the first one lowest, as a number: pairs, then fours, then eights.
#[inline]
fn eight_digits(values: u64) -> u64 {
    let pairs = (values * 10 + (values >> 8)) & 0x00ff_00ff_00ff_00ff;
    let fours = (pairs * 100 + (pairs >> 16)) & 0x0000_ffff_0000_ffff;
    (fours * 10_000 + (fours >> 32)) & 0xffff_ffff
}

/// The same byte by byte, up to 15 digits.
#[inline(never)]
fn long<const SIGN: u8>(line: &[u8], start: usize, delimiter: u8) -> Option<(f64, usize)> {
    let (mut i, mut whole, mut decimals, mut digits) = (start, 0u64, 0usize, 0usize);
    let mut signed = false;
    while let Some(&b) = line.get(i) {
        let digit = b.wrapping_sub(b'0');
        if digit < 10 {
            whole = whole.wrapping_mul(10).wrapping_add(u64::from(digit));
            digits += 1;
            decimals += usize::from(signed);
        } else if b == delimiter {
            break;
        } else if b == SIGN && !signed && i > start {
            signed = true;
        } else {
            return None;
        }
        i += 1;
    }
    if digits == 0 || digits > 15 {
        return None;
    }
    Some((whole as f64 / TENS[decimals], i))
}
