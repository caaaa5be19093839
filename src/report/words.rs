//! Numbers and names as a reader sees them.

use textwrap::{Options, WordSplitter};

pub(super) use crate::names::plain;
use crate::store::schema::Rate;

/// Width of running text, columns.
const COLUMNS: usize = 92;

/// What stands where there is no number.
pub(super) const NONE: &str = "—";

/// `322`, for columns whose head names the unit.
pub(super) fn whole(x: Option<f64>) -> String {
    x.map_or(NONE.to_owned(), |x| format!("{:.0}", zero(x, 0)))
}

/// `+12` or `−84`.
pub(super) fn signed(x: Option<f64>) -> String {
    x.map_or(NONE.to_owned(), |x| minus(&format!("{:+.0}", zero(x, 0))))
}

/// `87 %`; 100 % and 0 % only where it is exactly so, else `> 99 %`, `< 1 %`.
pub(super) fn percent(x: Option<f64>) -> String {
    x.map_or(NONE.to_owned(), |x| format!("{} %", share(x)))
}

/// A share in percent without its sign.
pub(super) fn share(x: f64) -> String {
    match format!("{:.0}", zero(x * 100.0, 0)).as_str() {
        "100" if x < 1.0 => "> 99".to_owned(),
        "0" if x > 0.0 => "< 1".to_owned(),
        whole => whole.to_owned(),
    }
}

/// `301 to 344`, the ends of an interval.
pub(super) fn ends(low: &str, high: &str) -> String {
    format!("{low} to {high}")
}

/// Points of percent, signed.
pub(super) fn points(x: Option<f64>) -> String {
    signed(x.map(|x| x * 100.0))
}

/// `322 (301 to 344)`, with the ends already in words.
pub(super) fn with_interval(value: &str, low: &str, high: &str) -> String {
    if low == NONE && high == NONE {
        value.to_owned()
    } else {
        format!("{value} ({low} to {high})")
    }
}

/// `87 % (55 to 95)`.
pub(super) fn rate_with_interval(rate: Option<Rate>) -> String {
    rate.map_or(NONE.to_owned(), |r| {
        with_interval(&percent(Some(r.value)), &share(r.low), &share(r.high))
    })
}

/// `14` or `13 to 19`, of twice these standard uncertainties.
pub(super) fn twice([low, high]: [f64; 2]) -> String {
    let (low, high) = (fixed(2.0 * low, 0), fixed(2.0 * high, 0));
    if low == high { low } else { ends(&low, &high) }
}

/// `0.012` or `< 0.001`.
pub(super) fn p(x: Option<f64>) -> String {
    match x {
        None => NONE.to_owned(),
        Some(p) if p < 0.001 => "< 0.001".to_owned(),
        Some(p) => format!("{p:.3}"),
    }
}

/// Fixed decimals, for optics and pendulums.
pub(super) fn fixed(x: f64, digits: usize) -> String {
    format!("{:.digits$}", zero(x, digits))
}

/// `4 ‰` or `3.5 ‰`.
pub(super) fn permille(x: f64) -> String {
    let whole = (x - x.round()).abs() < 0.05;
    format!("{} ‰", fixed(x, usize::from(!whole)))
}

/// Never a negative nought.
fn zero(x: f64, digits: usize) -> f64 {
    if x.abs() < 0.5 * 10f64.powi(-(digits as i32)) {
        0.0
    } else {
        x
    }
}

fn minus(text: &str) -> String {
    text.replace('-', "−")
}

/// Running text in lines, the first led by `lead`, the others indented alike.
pub(super) fn paragraph(lead: &str, text: &str) -> String {
    let indent = " ".repeat(lead.chars().count());
    let options = Options::new(COLUMNS)
        .initial_indent(lead)
        .subsequent_indent(&indent)
        .word_splitter(WordSplitter::NoHyphenation);
    let mut filled = textwrap::fill(&plain(text), options);
    filled.push('\n');
    filled
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_naturally() {
        assert_eq!(signed(Some(-0.2)), "+0");
        assert_eq!(signed(Some(-84.4)), "−84");
        assert_eq!(percent(Some(0.867)), "87 %");
        assert_eq!(
            (whole(None), p(Some(0.0002))),
            (NONE.to_owned(), "< 0.001".to_owned())
        );
        assert_eq!(with_interval("3", NONE, NONE), "3");
        assert_eq!(with_interval("3", "1", NONE), "3 (1 to —)");
    }
}
