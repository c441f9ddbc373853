//! Film: how much of each piece, and what length to pull from which roll.
//!
//! - [`measure`]: the calculator, its input and its result
//! - [`piece`]: what a piece is, and the limits on it
//! - [`outline`]: the outline to cut, with the overwrap of each edge
//! - [`geometry`]: areas, extents, self-intersection
//! - [`roll`]: a roll, and what comes of laying all boxes on it
//! - `layout`: the shelf layout itself
//! - `cautions`: what to keep in mind, as data

mod cautions;
pub mod geometry;
mod layout;
mod measure;
pub mod outline;
pub mod piece;
pub mod roll;
#[cfg(test)]
mod tests;

pub use geometry::Point;
pub use measure::{
    FilmInput, FilmResult, MAX_GAP_MM, MAX_MARGIN_MM, MAX_ROLLS, PieceMeasure, measure,
};
pub use outline::OutlineKind;
pub use piece::{Overwrap, Piece, Shape};
pub use roll::{Placement, Roll, RollLayout, UnusableRoll};
