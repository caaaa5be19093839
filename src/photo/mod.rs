//! Photographs taken during a session: whether each is sharp where it had to be.
//!
//! In: one folder of JPEG, PNG or TIFF files a setup, in shooting order by their
//! names, and in its folder `by-hand` what was focused by hand of the same target.
//! Out: a [`Photos`], which is also what `NAME.photos.json` holds: for every
//! picture the blur inside the focus area, ‰ of the picture's height, pixels and
//! circles of confusion, with its standard uncertainty and a verdict.
//!
//! Blur is what it is for films ([`crate::sharpness`]): the diameter of a uniform
//! disc by which a picture is softer than its reference, from the energies left by
//! band of frequency. The camera's own sharpening is in both and cancels. The
//! reference is the sharpest picture that was focused by hand; without one the
//! setup's own best, and then all is called unverified.
//!
//! The circle of confusion is the picture's diagonal ÷ 1500 (common practice, no
//! source).
//!
//! Failures: a folder that cannot be read or holds no picture ([`PhotoError`]). A
//! picture that cannot be read or judged is named with its reason, and the others
//! are judged.

mod crop;
mod error;
mod exif;
mod file;
mod folder;
mod judge;
mod measure;
pub(crate) mod pair;
mod record;
mod screen;
mod summary;
mod target;
mod thumb;
mod versus;
mod warnings;
mod write;
mod yardstick;

#[cfg(test)]
mod tests;

pub use crop::Crop;
pub(crate) use crop::crop;
pub use error::PhotoError;
pub use folder::Folder;
pub use judge::{Ask, Found, judge};
pub use record::{PhotoSummary, Photos, Picture, PictureBlur, PictureVerdict, Target, Why};
pub(crate) use screen::beside;
pub use screen::{Between, Matched, OnScreen};
pub use versus::{Versus, versus};
pub(crate) use write::{photos_file, write_photos};
