//! `[[cue]]`.

use std::collections::BTreeSet;

use super::fields::Table;
use super::read_screen::area;
use super::spec::{CueKind, CueSpec, DEFAULT_CUE_TOLERANCE};
use super::value::Value;

/// Reads all `[[cue]]` tables.
pub(super) fn cues(root: &Table<'_>) -> Vec<CueSpec> {
    let mut seen = BTreeSet::new();
    let mut out = Vec::new();
    for table in root.sections("cue") {
        let cue = cue(&table);
        if let Some(cue) = cue {
            if !seen.insert(cue.name.clone()) {
                let name = &cue.name;
                table.fault(
                    "name",
                    format!("is \"{name}\" like another cue; give every cue its own name"),
                );
            }
            out.push(cue);
        }
    }
    out
}

fn cue(table: &Table<'_>) -> Option<CueSpec> {
    let name = table.need("name", "add a name, e.g. `name = \"subject box\"`");
    let name = name.and_then(|v| v.text());
    let kind = table.need("kind", "add `kind = \"color\"`, `\"light\"` or `\"tone\"`");
    let kind = kind.and_then(|v| v.choice(&["color", "light", "tone"]));
    let tolerance = table
        .number("tolerance", 0.01..=1.0)
        .unwrap_or(DEFAULT_CUE_TOLERANCE);
    let kind = match kind? {
        0 => {
            let region = region(table);
            let color = table.need("color", "add the colour, e.g. `color = \"#30c040\"`");
            let color = color.and_then(|v| color_of(&v));
            CueKind::Color {
                region: region?,
                color: color?,
                tolerance,
            }
        }
        1 => {
            table.refuse("color", "belongs to a cue of kind \"color\"; take it out");
            CueKind::Light {
                region: region(table)?,
                tolerance,
            }
        }
        _ => {
            for key in ["region", "color", "tolerance"] {
                table.refuse(key, "has no meaning for a tone; take it out");
            }
            CueKind::Tone
        }
    };
    Some(CueSpec {
        name: name?.to_owned(),
        kind,
    })
}

fn region(table: &Table<'_>) -> Option<super::spec::AreaFrac> {
    let remedy = "add `region = [left, top, right, bottom]` in fractions of the screen";
    area(&table.need("region", remedy)?)
}

/// `"#rrggbb"` or `[r, g, b]`.
fn color_of(value: &Value<'_>) -> Option<[u8; 3]> {
    if !value.is_text() {
        let items = value.items()?;
        if items.len() != 3 {
            value.fault(
                "is no colour; write it as \"#rrggbb\" or as three whole numbers from 0 to 255",
            );
            return None;
        }
        let parts: Vec<_> = items.iter().map(|i| i.whole_in(0..=255)).collect();
        let parts: Vec<u8> = parts
            .into_iter()
            .map(|p| u8::try_from(p?).ok())
            .collect::<Option<_>>()?;
        return parts.try_into().ok();
    }
    let text = value.text()?;
    let digits = text
        .strip_prefix('#')
        .filter(|d| d.len() == 6 && d.bytes().all(|b| b.is_ascii_hexdigit()));
    let parsed = digits.and_then(|d| u32::from_str_radix(d, 16).ok());
    if parsed.is_none() {
        value.fault(format!(
            "is \"{text}\"; write it as \"#rrggbb\" with six hexadecimal digits"
        ));
    }
    parsed.map(|rgb| {
        let [_, r, g, b] = rgb.to_be_bytes();
        [r, g, b]
    })
}
