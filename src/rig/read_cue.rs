//! `[[cue]]`.

use std::fmt;

use serde::de::value::SeqAccessDeserializer;
use serde::de::{Deserialize, Deserializer, SeqAccess, Visitor};

use super::spec::{AreaFrac, CueKind, CueSpec, DEFAULT_CUE_TOLERANCE};
use crate::written::Sheet;
use crate::written::values::{refused, text, whole};

#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(super) struct CueFile {
    #[serde(deserialize_with = "text")]
    name: Option<String>,
    kind: Option<Kind>,
    region: Option<AreaFrac>,
    color: Option<Color>,
    #[serde(deserialize_with = "super::read::tolerance")]
    tolerance: Option<f64>,
}

#[derive(Clone, Copy, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
enum Kind {
    Color,
    Light,
    Tone,
}

impl CueFile {
    /// The cue; `key` is where it stands.
    pub(super) fn checked(&self, sheet: &Sheet, key: &str) -> Option<CueSpec> {
        let need = |there: bool, name: &str, remedy: &str| {
            if !there {
                sheet.missing(&format!("{key}.{name}"), remedy);
            }
        };
        let refuse = |name: &str, why| sheet.refuse_key(&format!("{key}.{name}"), why);
        need(
            self.name.is_some(),
            "name",
            "add a name, e.g. `name = \"subject box\"`",
        );
        need(
            self.kind.is_some(),
            "kind",
            "add `kind = \"color\"`, `\"light\"` or `\"tone\"`",
        );
        let tolerance = self.tolerance.unwrap_or(DEFAULT_CUE_TOLERANCE);
        let kind = self.kind?;
        if !matches!(kind, Kind::Tone) {
            let remedy = "add `region = [left, top, right, bottom]` in fractions of the screen";
            need(self.region.is_some(), "region", remedy);
        }
        let kind = match kind {
            Kind::Color => {
                let remedy = "add the colour, e.g. `color = \"#30c040\"`";
                need(self.color.is_some(), "color", remedy);
                CueKind::Color {
                    region: self.region?,
                    color: self.color?.0,
                    tolerance,
                }
            }
            Kind::Light => {
                refuse("color", "belongs to a cue of kind \"color\"; take it out");
                CueKind::Light {
                    region: self.region?,
                    tolerance,
                }
            }
            Kind::Tone => {
                for name in ["region", "color", "tolerance"] {
                    refuse(name, "has no meaning for a tone; take it out");
                }
                CueKind::Tone
            }
        };
        Some(CueSpec {
            name: self.name.clone()?,
            kind,
        })
    }
}

/// `"#rrggbb"` or `[r, g, b]`.
#[derive(Clone, Copy)]
struct Color([u8; 3]);

struct Byte(u8);

impl<'de> Deserialize<'de> for Byte {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        whole(d, 0..=255).map(Self)
    }
}

impl<'de> Deserialize<'de> for Color {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        d.deserialize_any(Either)
    }
}

struct Either;

impl<'de> Visitor<'de> for Either {
    type Value = Color;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("\"#rrggbb\" or a list in square brackets, [red, green, blue]")
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Color, E> {
        let digits = text
            .strip_prefix('#')
            .filter(|d| d.len() == 6 && d.bytes().all(|b| b.is_ascii_hexdigit()));
        let Some(rgb) = digits.and_then(|d| u32::from_str_radix(d, 16).ok()) else {
            return refused(format!(
                "is \"{text}\"; write it as \"#rrggbb\" with six hexadecimal digits"
            ));
        };
        let [_, r, g, b] = rgb.to_be_bytes();
        Ok(Color([r, g, b]))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, list: A) -> Result<Color, A::Error> {
        match Vec::deserialize(SeqAccessDeserializer::new(list))?.as_slice() {
            [Byte(r), Byte(g), Byte(b)] => Ok(Color([*r, *g, *b])),
            _ => refused(
                "is no colour; write it as \"#rrggbb\" or as three whole numbers from 0 to 255",
            ),
        }
    }
}
