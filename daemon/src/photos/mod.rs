//! Photo files: what kind a file is, what is taken out of it, and the folder
//! they lie in, each under the hash of its bytes.
//!
//! - [`files`]: the folder
//! - [`image`]: what kind of image a file is, and the file without what the camera told
//! - `jpeg`: where a JPEG file ends
//! - [`check`]: whether every photo's file is there and whole
//! - [`error`]: why a file was not taken or cannot be given

pub mod check;
pub mod error;
pub mod files;
pub mod image;
mod jpeg;

pub use self::error::PhotoError;
pub use self::files::PhotoFiles;
