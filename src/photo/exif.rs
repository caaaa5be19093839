//! When a photograph was taken.
//!
//! Source: Exif 2.32 (CIPA DC-008-2019), 4.6.5 D: DateTimeOriginal is
//! `YYYY:MM:DD HH:MM:SS`, SubSecTimeOriginal its decimal fraction. Nothing else of
//! it is read, and none of it is stored: it serves to match pictures to trials.

use exif::{DateTime, In, Reader, Tag, Value};

use super::pair::Taken;

/// The instant that an Exif block gives; `None` where it gives none.
pub(super) fn taken(block: &[u8]) -> Option<Taken> {
    let exif = Reader::new().read_raw(block.to_vec()).ok()?;
    let ascii = |tag: Tag| match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Ascii(lines) => lines.first().cloned(),
        _ => None,
    };
    let at = DateTime::from_ascii(&ascii(Tag::DateTimeOriginal)?).ok()?;
    let (fraction, resolution_ms) = ascii(Tag::SubSecTimeOriginal)
        .and_then(|t| fraction(&t))
        .unwrap_or((0, 1000));
    let seconds = (days(&at) * 24 + i64::from(at.hour)) * 3600
        + i64::from(at.minute) * 60
        + i64::from(at.second);
    Some(Taken {
        ms: seconds * 1000 + fraction,
        resolution_ms,
    })
}

/// Milliseconds of a decimal fraction's digits, and what they are read to.
fn fraction(digits: &[u8]) -> Option<(i64, u32)> {
    let text = std::str::from_utf8(digits).ok()?.trim();
    let text = text.get(..text.len().min(3))?;
    let value: i64 = text.parse().ok().filter(|v| *v >= 0)?;
    let step = 10u32.pow(3 - text.len() as u32);
    Some((value * i64::from(step), step))
}

/// Days since 1 March of the year 0 of the Gregorian calendar: the months from
/// March on have 153 days in each five.
fn days(at: &DateTime) -> i64 {
    let (year, month) = (i64::from(at.year), i64::from(at.month));
    let (year, month) = if month < 3 {
        (year - 1, month + 9)
    } else {
        (year, month - 3)
    };
    year * 365 + year / 4 - year / 100 + year / 400 + (153 * month + 2) / 5 + i64::from(at.day)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(year: u16, month: u8, day: u8) -> DateTime {
        DateTime::from_ascii(format!("{year}:{month:02}:{day:02} 00:00:00").as_bytes()).unwrap()
    }

    /// Differences of days as any calendar has them: leap years by the Gregorian
    /// rule (2000 is one, 2100 is none).
    #[test]
    fn days_run_on() {
        let between = |a, b| days(&b) - days(&a);
        assert_eq!(between(at(2026, 12, 31), at(2027, 1, 1)), 1);
        assert_eq!(between(at(2000, 2, 28), at(2000, 3, 1)), 2);
        assert_eq!(between(at(2100, 2, 28), at(2100, 3, 1)), 1);
        assert_eq!(between(at(1970, 1, 1), at(2026, 12, 1)), 20_788);
    }

    #[test]
    fn a_fraction_is_read_to_its_digits() {
        assert_eq!(fraction(b"5"), Some((500, 100)));
        assert_eq!(fraction(b"07"), Some((70, 10)));
        assert_eq!(fraction(b"123456"), Some((123, 1)));
        assert_eq!(fraction(b"  "), None);
        assert_eq!(fraction(b"x1"), None);
    }
}
