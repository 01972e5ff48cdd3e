//! Shapes and text, as SVG that needs nothing but itself.

use std::fmt::Write;

use super::ink::{FAINT, Fill, INK, Marker, PAPER, Pen};
use super::letters::{FONTS, fitted, width};
use super::{Area, Point};

/// Every picture begins with it, so that a file can be known as one of ours.
pub const MARK: &str = "<!-- Drawn by abeam -->";

/// The fills that are patterns; `@` stands for what the picture's names begin with.
const PATTERNS: &str = "<defs>\n\
    <pattern id=\"@slanted\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
    <rect width=\"5\" height=\"5\" fill=\"#ffffff\"/><line x1=\"1\" y1=\"0\" x2=\"1\" y2=\"5\" stroke=\"#000000\"/></pattern>\n\
    <pattern id=\"@dotted\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\">\
    <rect width=\"6\" height=\"6\" fill=\"#ffffff\"/><circle cx=\"2\" cy=\"2\" r=\"0.8\" fill=\"#000000\"/></pattern>\n\
    </defs>\n";

/// Where a text stands to its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// It begins there.
    From,
    /// Its middle is there.
    Over,
    /// It ends there.
    Until,
}

/// A picture being drawn.
#[derive(Debug, Clone)]
pub struct Drawing {
    title: String,
    description: String,
    wide: f64,
    /// What every name in it begins with.
    names: String,
    body: String,
}

impl Drawing {
    /// An empty picture; title and description are for those who have it read to them.
    pub fn new(title: &str, description: &str, wide: f64) -> Drawing {
        Drawing {
            title: escaped(title),
            description: escaped(description),
            wide,
            names: String::new(),
            body: String::new(),
        }
    }

    /// The same, its names beginning with `names` (letters): two pictures of one page have none in common.
    pub fn on_a_page(mut self, names: &str) -> Drawing {
        self.names = names.to_owned();
        self
    }

    /// Its width.
    pub fn wide(&self) -> f64 {
        self.wide
    }

    /// The picture as a file, this high.
    pub fn finish(self, high: f64) -> String {
        let (wide, high) = (number(self.wide), number(high));
        let (names, patterns) = (&self.names, PATTERNS.replace('@', &self.names));
        format!(
            "{MARK}\n<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" width=\"{wide}\" \
             height=\"{high}\" role=\"img\" aria-labelledby=\"{names}title {names}description\" font-family=\"{FONTS}\" \
             fill=\"none\" stroke-linecap=\"butt\" stroke-linejoin=\"round\">\n\
             <title id=\"{names}title\">{}</title>\n<desc id=\"{names}description\">{}</desc>\n{patterns}\
             <rect width=\"{wide}\" height=\"{high}\" fill=\"{PAPER}\"/>\n{}</svg>\n",
            self.title, self.description, self.body
        )
    }

    /// What is drawn until [`Self::end`] belongs together under a name.
    pub fn begin(&mut self, name: &str) {
        self.put(&format!("<g>\n<title>{}</title>", escaped(name)));
    }

    /// Ends what was begun last.
    pub fn end(&mut self) {
        self.put("</g>");
    }

    /// A line through points.
    pub fn line(&mut self, points: &[Point], pen: Pen) {
        if points.len() < 2 {
            return;
        }
        let points = listed(points);
        self.put(&format!("<polyline points=\"{points}\"{}/>", stroke(pen)));
    }

    /// A filled shape.
    pub fn shape(&mut self, corners: &[Point], fill: Fill) {
        let corners = listed(corners);
        let fill = self.filled(fill);
        self.put(&format!("<polygon points=\"{corners}\"{fill}/>"));
    }

    /// A rectangle, filled and with an edge where wanted.
    pub fn area(&mut self, area: Area, fill: Option<Fill>, edge: Option<Pen>) {
        let Area {
            left,
            top,
            wide,
            high,
        } = area;
        self.put(&format!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"{}{}/>",
            number(left),
            number(top),
            number(wide.max(0.0)),
            number(high.max(0.0)),
            fill.map_or(String::new(), |fill| self.filled(fill)),
            edge.map_or(String::new(), stroke),
        ));
    }

    /// A ring.
    pub fn ring(&mut self, [x, y]: Point, radius: f64, pen: Pen) {
        self.put(&format!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{PAPER}\"{}/>",
            number(x),
            number(y),
            number(radius),
            stroke(pen)
        ));
    }

    /// A mark of this size each way from its place.
    pub fn marker(&mut self, marker: Marker, [x, y]: Point, size: f64, colour: &'static str) {
        let fill = Fill::Plain(colour);
        let around = |corners: &[Point]| -> Vec<Point> {
            let corner = |[dx, dy]: &Point| [x + size * dx, y + size * dy];
            corners.iter().map(corner).collect()
        };
        match marker {
            Marker::Circle => self.put(&format!(
                "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"{}/>",
                number(x),
                number(y),
                number(size),
                self.filled(fill)
            )),
            Marker::Square => {
                let corners = around(&[[-0.9, -0.9], [0.9, -0.9], [0.9, 0.9], [-0.9, 0.9]]);
                self.shape(&corners, fill);
            }
            Marker::Triangle => {
                self.shape(&around(&[[0.0, -1.2], [1.1, 0.8], [-1.1, 0.8]]), fill);
            }
            Marker::Diamond => {
                let corners = around(&[[0.0, -1.3], [1.3, 0.0], [0.0, 1.3], [-1.3, 0.0]]);
                self.shape(&corners, fill);
            }
        }
    }

    /// An arrowhead with its point at a place, the way `towards` goes.
    pub fn head(&mut self, [x, y]: Point, towards: Point, size: f64, colour: &'static str) {
        let long = towards[0].hypot(towards[1]);
        if long == 0.0 {
            return;
        }
        let [dx, dy] = [towards[0] / long * size, towards[1] / long * size];
        let back = [x - dx, y - dy];
        let corners = [
            [x, y],
            [back[0] - 0.45 * dy, back[1] + 0.45 * dx],
            [back[0] + 0.45 * dy, back[1] - 0.45 * dx],
        ];
        self.shape(&corners, Fill::Plain(colour));
    }

    /// An arrow from one place to another.
    pub fn arrow(&mut self, from: Point, to: Point, pen: Pen) {
        self.line(&[from, to], pen);
        let towards = [to[0] - from[0], to[1] - from[1]];
        self.head(to, towards, 8.0, pen.colour);
    }

    /// A text on a line, cut where it would leave the picture.
    pub fn text(&mut self, [x, y]: Point, side: Side, size: f64, text: &str) {
        let room = match side {
            Side::From => self.wide - x,
            Side::Over => 2.0 * x.min(self.wide - x),
            Side::Until => x,
        };
        let text = fitted(text, size, room);
        let anchor = match side {
            Side::From => "",
            Side::Over => " text-anchor=\"middle\"",
            Side::Until => " text-anchor=\"end\"",
        };
        self.put(&format!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{anchor} fill=\"{INK}\">{}</text>",
            number(x),
            number(y),
            number(size),
            escaped(&text)
        ));
    }

    /// A text in its area, on paper so that lines under it do not touch it.
    pub fn label(&mut self, area: Area, size: f64, text: &str) {
        self.area(area, Some(Fill::Plain(PAPER)), None);
        let at = [area.middle()[0], area.top + 0.82 * area.high];
        self.text(at, Side::Over, size, text);
    }

    /// A grid line.
    pub fn grid(&mut self, from: Point, to: Point) {
        self.line(&[from, to], Pen::solid(FAINT, 0.5));
    }

    fn filled(&self, fill: Fill) -> String {
        let pattern = |name: &str| format!(" fill=\"url(#{}{name})\"", self.names);
        match fill {
            Fill::Plain(colour) => format!(" fill=\"{colour}\""),
            Fill::Slanted => pattern("slanted"),
            Fill::Dotted => pattern("dotted"),
        }
    }

    fn put(&mut self, element: &str) {
        // Writing to a string cannot fail.
        let _ = writeln!(self.body, "{element}");
    }
}

/// The size of a label for a text.
pub fn label_size(text: &str, size: f64) -> (f64, f64) {
    (width(text, size) + 4.0, size * 1.25)
}

fn listed(points: &[Point]) -> String {
    let each = points
        .iter()
        .map(|[x, y]| format!("{},{}", number(*x), number(*y)));
    let mut each: Vec<String> = each.collect();
    each.dedup();
    each.join(" ")
}

fn stroke(pen: Pen) -> String {
    let dash = match pen.dash {
        "" => String::new(),
        dash => format!(" stroke-dasharray=\"{dash}\""),
    };
    let (colour, wide) = (pen.colour, number(pen.wide));
    format!(" stroke=\"{colour}\" stroke-width=\"{wide}\"{dash}")
}

/// To a tenth of a pixel: finer than anything can be seen.
fn number(value: f64) -> String {
    let text = format!("{value:.1}");
    match text.strip_suffix(".0").unwrap_or(&text) {
        "-0" => "0".into(),
        text => text.into(),
    }
}

/// Text as XML takes it (XML 1.0, 2.2: most control characters cannot be written at all).
fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '\u{fffe}' | '\u{ffff}' => escaped.push('\u{fffd}'),
            letter if letter.is_control() => escaped.push(' '),
            letter => escaped.push(letter),
        }
    }
    escaped
}
