//! A mark that fits no point: somebody has to say what it is.

use crate::live::event::{MarkKind, PointOf};
use crate::units::Instant;

/// The question which point a mark is of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ask {
    /// What was keyed.
    pub kind: MarkKind,
    /// When it was seen.
    pub observed: Instant,
    /// The points nearest to it, nearest first.
    pub offered: Vec<PointOf>,
}
