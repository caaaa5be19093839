//! A clip: frames in presentation order, each with its time.
//!
//! In: a local file. Out: a [`ClipIndex`] (what the headers and the packet
//! stamps tell, without decoding) and, through [`decode`], luma frames in
//! presentation order, `0..=1` after black and white level are taken out.
//! The only room that knows ffmpeg-next.

mod encode;
mod encode_spec;
mod error;
mod frame;
mod index;
mod turn;

pub use encode::Encoder;
pub use encode_spec::{Codec, EncodeError, EncodeSpec, Planes};
pub use error::ClipError;
pub use frame::{Depth, LumaFrame};
pub use index::{ClipIndex, Orientation};
