//! How the headings of a scene file are written down.

/// Headings with their keys: each with its type, its value where it is left out,
/// and the reader that refuses what is out of range.
macro_rules! table {
    ($($(#[$about:meta])* $name:ident {
        $($(#[$of_key:meta])* $key:ident: $type:ty = $usual:expr $(; $reader:literal)?,)*
    })*) => {$(
        $(#[$about])*
        #[derive(Clone, Debug, PartialEq, serde::Deserialize)]
        #[serde(default, deny_unknown_fields)]
        pub struct $name {
            $($(#[$of_key])* $(#[serde(deserialize_with = $reader)])? pub $key: $type,)*
        }

        impl Default for $name {
            fn default() -> Self {
                Self { $($key: $usual,)* }
            }
        }
    )*};
}
pub(super) use table;
