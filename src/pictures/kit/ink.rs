//! Colours, dashes and markers: each thing is told from another by more than its colour.
//!
//! The colours are those of Okabe and Ito, "Color Universal Design: how to make figures and presentations
//! that are friendly to colorblind people" (2002, revised 2008), as far as they can be seen on white:
//! WCAG 2.2, success criterion 1.4.11, wants 3:1 for what is drawn.

/// What is written.
pub const INK: &str = "#000000";
/// What stands behind: other figures, grids.
pub const FAINT: &str = "#b0b0b0";
/// The paper.
pub const PAPER: &str = "#ffffff";

const BLUE: &str = "#0072b2";
const VERMILLION: &str = "#d55e00";
const BLUISH_GREEN: &str = "#009e73";

const COLOURS: [&str; 4] = [BLUE, VERMILLION, BLUISH_GREEN, INK];
const DASHES: [&str; 5] = ["", "9 4", "2.5 2.5", "12 4 2.5 4", "16 5"];
const MARKERS: [Marker; 4] = [
    Marker::Circle,
    Marker::Square,
    Marker::Triangle,
    Marker::Diamond,
];

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    /// Its colour.
    pub colour: &'static str,
    /// Its width.
    pub wide: f64,
    /// Its dashes and gaps; empty: solid.
    pub dash: &'static str,
}

impl Pen {
    /// A solid line.
    pub const fn solid(colour: &'static str, wide: f64) -> Pen {
        let dash = "";
        Pen { colour, wide, dash }
    }

    /// A dashed line.
    pub const fn dashed(colour: &'static str, wide: f64) -> Pen {
        let dash = "6 4";
        Pen { colour, wide, dash }
    }
}

/// What an area is filled with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fill {
    /// One colour.
    Plain(&'static str),
    /// Slanting lines: too loud to talk over.
    Slanted,
    /// Dots: only timed, not flown leg by leg.
    Dotted,
}

/// The shape of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Marker {
    /// A disc.
    Circle,
    /// A square.
    Square,
    /// A triangle, point up.
    Triangle,
    /// A square on its point.
    Diamond,
}

/// How one aircraft is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    /// Its line.
    pub pen: Pen,
    /// Its mark.
    pub marker: Marker,
}

/// The style of the `nth` aircraft (from 0). Twenty differ without their colours.
pub fn style(nth: usize) -> Style {
    Style {
        pen: Pen {
            colour: COLOURS[nth % COLOURS.len()],
            wide: 2.0,
            dash: DASHES[nth % DASHES.len()],
        },
        marker: MARKERS[nth % MARKERS.len()],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twenty_aircraft_differ_without_their_colours() {
        let grey: Vec<_> = (0..20)
            .map(|i| (style(i).pen.dash, style(i).marker))
            .collect();
        for (i, one) in grey.iter().enumerate() {
            assert!(!grey[..i].contains(one), "{i}: {one:?}");
        }
    }
}
