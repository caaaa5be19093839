//! Numbers as a person types them, and what to write instead.

/// A plain finite number; what to write instead where it has a unit, a percent
/// sign or a decimal comma.
pub fn number(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(match meant(text) {
            Some(value) => format!("give a plain number, without a unit and with a point: {value}"),
            None => "give a plain number, such as 0.9, 240 or 59.94".to_owned(),
        }),
    }
}

/// The same above zero.
pub fn above_zero(text: &str) -> Result<f64, String> {
    match number(text)? {
        value if value > 0.0 => Ok(value),
        _ => Err("give a number above 0".to_owned()),
    }
}

/// The same, nought allowed.
pub fn not_negative(text: &str) -> Result<f64, String> {
    match number(text)? {
        value if value >= 0.0 => Ok(value),
        _ => Err("give 0 or a number above it".to_owned()),
    }
}

/// `0.9` for `90%`, `240` for `240fps`, `59.94` for `59,94`.
fn meant(text: &str) -> Option<f64> {
    let text = text.trim().replace(',', ".");
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || ".-+".contains(c)))
        .unwrap_or(text.len());
    let value: f64 = text[..end].parse().ok()?;
    let unit = text[end..].trim();
    let percent = unit == "%";
    let words = unit.chars().all(|c| c.is_alphabetic() || c == '/');
    (percent || words).then(|| if percent { value / 100.0 } else { value })
}

/// What is wrong with a share given as `key`, where it can be told what was
/// meant; other ranges are left to those who use it.
pub fn share_complaint(key: &str, share: Option<f64>) -> Option<String> {
    let value = share?;
    if value == 1.0 {
        return Some(format!(
            "command line: --{key}: 1 is certainty, which no number of trials shows; try 0.99"
        ));
    }
    let least = match key {
        "confidence" | "power" => 50.0,
        _ => 2.0,
    };
    (value >= least && value < 100.0).then(|| {
        format!(
            "command line: --{key}: {value} is no share; write {} for {value} %",
            value / 100.0
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_meant_is_offered() {
        assert_eq!(number("59.94"), Ok(59.94));
        for (typed, offered) in [
            ("90%", "0.9"),
            ("240fps", "240"),
            ("59,94", "59.94"),
            ("600 ms", "600"),
        ] {
            let told = number(typed).unwrap_err();
            assert!(told.ends_with(&format!(": {offered}")), "{typed}: {told}");
        }
        for typed in ["many", "", "inf", "nan", "1.2.3", "3=4"] {
            let told = number(typed).unwrap_err();
            assert!(
                told.contains("such as 0.9, 240 or 59.94"),
                "{typed}: {told}"
            );
        }
    }

    #[test]
    fn percents_are_no_shares() {
        let told = share_complaint("hit-rate", Some(90.0)).unwrap();
        assert!(told.contains("write 0.9 for 90 %"), "{told}");
        assert!(
            share_complaint("hit-rate", Some(1.0))
                .unwrap()
                .contains("try 0.99")
        );
        assert_eq!(share_complaint("hit-rate", Some(0.9)), None);
    }
}
