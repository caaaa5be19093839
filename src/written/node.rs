//! The TOML tree as serde reads it.

use std::collections::BTreeSet;

use serde::de::value::{BorrowedStrDeserializer, MapAccessDeserializer, StrDeserializer};
use serde::de::{DeserializeSeed, Deserializer, IntoDeserializer, MapAccess, SeqAccess, Visitor};
use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

use super::refusal::{Refusal, Why};

/// One value on its way into a type.
struct Node<'a> {
    value: &'a DeValue<'a>,
    key: String,
    out: &'a LeftOut,
}

/// Keys of values that were refused in an earlier go, and are passed over.
pub(super) type LeftOut = BTreeSet<String>;

/// A whole file on its way into a type.
pub(super) fn root<'a>(
    tree: &'a DeTable<'a>,
    out: &'a LeftOut,
) -> impl Deserializer<'a, Error = Refusal> {
    MapAccessDeserializer::new(Entries::new(tree, String::new(), out))
}

/// Reads a value; a refusal carries its place.
fn read<'a, T: DeserializeSeed<'a>>(
    seed: T,
    value: &'a Spanned<DeValue<'a>>,
    key: String,
    out: &'a LeftOut,
) -> Result<T::Value, Refusal> {
    let node = Node {
        value: value.get_ref(),
        key: key.clone(),
        out,
    };
    seed.deserialize(node)
        .map_err(|e| e.at(&key, value.span().start))
}

impl<'a> Node<'a> {
    fn wrong<T>(&self, wanted: &str) -> Result<T, Refusal> {
        let found = match self.value.type_str() {
            "integer" | "float" => "number",
            other => other,
        };
        Err(Refusal::told(format!("is a {found}; give {wanted}")))
    }

    fn integer(&self) -> Result<i64, Refusal> {
        match self.value {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix())
                .map_err(|_| Refusal::told("is out of range; give a smaller whole number")),
            _ => self.wrong("a whole number"),
        }
    }

    fn number(&self) -> Result<f64, Refusal> {
        let number = match self.value {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix())
                .ok()
                .map(|i| i as f64),
            DeValue::Float(f) => f.as_str().parse().ok().filter(|f: &f64| f.is_finite()),
            DeValue::String(_) => {
                return self
                    .wrong("a number, plain, without quotes or a unit (600, not \"600 ms\")");
            }
            _ => return self.wrong("a number"),
        };
        number.ok_or_else(|| {
            Refusal::told("is not a number that can be used; give a plain finite number")
        })
    }

    fn text(&self) -> Result<&'a str, Refusal> {
        match self.value {
            DeValue::String(text) => Ok(text),
            _ => self.wrong("text in quotes"),
        }
    }

    fn is_out(&self) -> bool {
        self.out.contains(&self.key)
    }

    /// Reads the value by `read`, unless it was left out.
    fn unless_out<T>(self, read: impl FnOnce(Self) -> Result<T, Refusal>) -> Result<T, Refusal> {
        if self.is_out() {
            return Err(Why::LeftOut.into());
        }
        read(self)
    }
}

/// Whole numbers of all widths: which fits, the type says.
macro_rules! whole {
    ($($name:ident)*) => {$(
        fn $name<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
            self.unless_out(|node| visitor.visit_i64(node.integer()?))
        }
    )*};
}

impl<'de> Deserializer<'de> for Node<'de> {
    type Error = Refusal;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        self.unless_out(|node| match node.value {
            DeValue::Boolean(b) => visitor.visit_bool(*b),
            DeValue::Integer(_) => visitor.visit_i64(node.integer()?),
            DeValue::Float(_) => visitor.visit_f64(node.number()?),
            DeValue::String(text) => visitor.visit_borrowed_str(text),
            DeValue::Datetime(_) => node.wrong("text, a number, a list or a table"),
            DeValue::Array(list) => visitor.visit_seq(Items {
                rest: list.iter().enumerate(),
                list: node.key,
                out: node.out,
            }),
            DeValue::Table(table) => visitor.visit_map(Entries::new(table, node.key, node.out)),
        })
    }

    whole!(deserialize_u8 deserialize_u16 deserialize_u32 deserialize_u64
        deserialize_i8 deserialize_i16 deserialize_i32 deserialize_i64);

    fn deserialize_f32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        self.deserialize_f64(visitor)
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        self.unless_out(|node| visitor.visit_f64(node.number()?))
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        self.unless_out(|node| match node.value {
            DeValue::Boolean(b) => visitor.visit_bool(*b),
            _ => node.wrong("true or false, without quotes"),
        })
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        self.unless_out(|node| visitor.visit_borrowed_str(node.text()?))
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        self.deserialize_str(visitor)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        if self.is_out() {
            return visitor.visit_none();
        }
        visitor.visit_some(self)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        visitor: V,
    ) -> Result<V::Value, Refusal> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        match self.value {
            DeValue::Array(_) => self.deserialize_any(visitor),
            _ => self.wrong("a list in square brackets"),
        }
    }

    fn deserialize_tuple<V: Visitor<'de>>(
        self,
        len: usize,
        visitor: V,
    ) -> Result<V::Value, Refusal> {
        match self.value {
            DeValue::Array(list) if list.len() != len => Err(Refusal::told(format!(
                "holds {} values; give {len}",
                list.len()
            ))),
            _ => self.deserialize_seq(visitor),
        }
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refusal> {
        match self.value {
            DeValue::Table(_) => self.deserialize_any(visitor),
            _ => self.wrong("a table of `key = value` lines"),
        }
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Refusal> {
        self.deserialize_map(visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Refusal> {
        self.unless_out(|node| {
            let text: StrDeserializer<'_, Refusal> = node.text()?.into_deserializer();
            visitor.visit_enum(text)
        })
    }

    serde::forward_to_deserialize_any! {
        char bytes byte_buf unit unit_struct tuple_struct identifier ignored_any
    }
}

/// The elements of a list.
struct Items<'a, I> {
    rest: I,
    list: String,
    out: &'a LeftOut,
}

impl<'a, I: Iterator<Item = (usize, &'a Spanned<DeValue<'a>>)>> SeqAccess<'a> for Items<'a, I> {
    type Error = Refusal;

    fn next_element_seed<T: DeserializeSeed<'a>>(
        &mut self,
        seed: T,
    ) -> Result<Option<T::Value>, Refusal> {
        let Some((i, value)) = self.rest.next() else {
            return Ok(None);
        };
        read(seed, value, format!("{}[{i}]", self.list), self.out).map(Some)
    }
}

/// The entries of a table.
struct Entries<'a> {
    rest: toml::map::Iter<'a, Spanned<DeString<'a>>, Spanned<DeValue<'a>>>,
    /// The value whose key was read last, with its dotted key.
    next: Option<(String, &'a Spanned<DeValue<'a>>)>,
    heading: String,
    out: &'a LeftOut,
}

impl<'a> Entries<'a> {
    fn new(table: &'a DeTable<'a>, heading: String, out: &'a LeftOut) -> Self {
        Self {
            rest: table.iter(),
            next: None,
            heading,
            out,
        }
    }
}

impl<'a> MapAccess<'a> for Entries<'a> {
    type Error = Refusal;

    fn next_key_seed<K: DeserializeSeed<'a>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, Refusal> {
        for (name, value) in self.rest.by_ref() {
            let key = match self.heading.as_str() {
                "" => name.get_ref().to_string(),
                heading => format!("{heading}.{}", name.get_ref()),
            };
            if self.out.contains(&key) {
                continue;
            }
            let text: BorrowedStrDeserializer<'a, Refusal> =
                BorrowedStrDeserializer::new(name.get_ref());
            let read = seed.deserialize(text);
            let read = read.map_err(|e| e.at(&key, name.span().start))?;
            self.next = Some((key, value));
            return Ok(Some(read));
        }
        Ok(None)
    }

    fn next_value_seed<V: DeserializeSeed<'a>>(&mut self, seed: V) -> Result<V::Value, Refusal> {
        match self.next.take() {
            Some((key, value)) => read(seed, value, key, self.out),
            None => Err(Refusal::told("is missing; check the whole file")),
        }
    }
}
