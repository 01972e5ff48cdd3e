//! A picture of a screen, for documents.

use std::fmt::Write;

use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};

/// The size of a cell and of its letters, in pixels.
const CELL: (f64, f64) = (9.0, 18.0);
const LETTER: f64 = 14.9;
/// What the terminal's own two colours are in a picture.
const OWN: (&str, &str) = ("#e6e6e6", "#101010");

/// The buffer as an SVG picture with a margin of a cell's width: letters monospaced, block characters drawn as
/// rectangles.
pub fn svg(buffer: &Buffer) -> String {
    let (columns, rows) = (buffer.area.width, buffer.area.height);
    let margin = CELL.0;
    let wide = f64::from(columns) * CELL.0 + 2.0 * margin;
    let high = f64::from(rows) * CELL.1 + 2.0 * margin;
    // The first row may be a banner, the last one is none.
    let corner = buffer.cell((buffer.area.x, buffer.area.bottom().saturating_sub(1)));
    let paper = corner.map_or(OWN.1.into(), |cell| colours(cell).1);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"-{margin} -{margin} {wide} {high}\" \
         width=\"{wide}\" height=\"{high}\" \
         font-family=\"DejaVu Sans Mono, Menlo, Consolas, monospace\" font-size=\"{LETTER}\">\n\
         <rect x=\"-{margin}\" y=\"-{margin}\" width=\"{wide}\" height=\"{high}\" fill=\"{paper}\"/>\n",
    );
    for y in 0..rows {
        let cells: Vec<&Cell> = (0..columns)
            .filter_map(|x| buffer.cell((buffer.area.x + x, buffer.area.y + y)))
            .collect();
        draw_grounds(&cells, y, &paper, &mut svg);
        draw_letters(&cells, y, &mut svg);
    }
    svg.push_str("</svg>\n");
    svg
}

/// The colours of a cell, reversal taken into account: letter, ground.
fn colours(cell: &Cell) -> (String, String) {
    let (letter, ground) = (hex(cell.fg, OWN.0), hex(cell.bg, OWN.1));
    if cell.modifier.contains(Modifier::REVERSED) {
        (ground, letter)
    } else {
        (letter, ground)
    }
}

/// Runs of one ground as one rectangle, where it is not that of the paper.
fn draw_grounds(cells: &[&Cell], y: u16, paper: &str, svg: &mut String) {
    let mut from = 0;
    while let Some(first) = cells.get(from) {
        let ground = colours(first).1;
        let same = cells[from..]
            .iter()
            .take_while(|cell| colours(cell).1 == ground);
        let count = same.count();
        if ground != paper {
            rect([from as f64, f64::from(y), count as f64, 1.0], &ground, svg);
        }
        from += count;
    }
}

/// Runs of one style as one text; block characters as rectangles.
fn draw_letters(cells: &[&Cell], y: u16, svg: &mut String) {
    let mut x = 0;
    while let Some(first) = cells.get(x) {
        let letter = first.symbol().chars().next().unwrap_or(' ');
        if let Some(parts) = block_parts(letter) {
            for [left, top, wide, high] in parts {
                let place = [x as f64 + left, f64::from(y) + top, wide, high];
                rect(place, &colours(first).0, svg);
            }
            x += 1;
            continue;
        }
        let style = (colours(first), first.modifier);
        let run: Vec<&str> = cells[x..]
            .iter()
            .take_while(|cell| (colours(cell), cell.modifier) == style)
            .take_while(|cell| cell.symbol().chars().next().and_then(block_parts).is_none())
            .map(|cell| cell.symbol())
            .collect();
        let text = run.concat();
        if !text.trim().is_empty() {
            draw_run((x, y), run.len(), &text, &style.0.0, first.modifier, svg);
        }
        x += run.len().max(1);
    }
}

fn draw_run(
    (x, y): (usize, u16),
    columns: usize,
    text: &str,
    colour: &str,
    modifier: Modifier,
    svg: &mut String,
) {
    let mut more = String::new();
    if modifier.contains(Modifier::BOLD) {
        more.push_str(" font-weight=\"bold\"");
    }
    if modifier.contains(Modifier::UNDERLINED) {
        more.push_str(" text-decoration=\"underline\"");
    }
    let escaped = text
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;");
    // Writing to a string cannot fail.
    let _ = writeln!(
        svg,
        "<text x=\"{}\" y=\"{}\" textLength=\"{}\" xml:space=\"preserve\" fill=\"{colour}\"{more}>{escaped}</text>",
        x as f64 * CELL.0,
        f64::from(y) * CELL.1 + CELL.1 * 0.76,
        columns as f64 * CELL.0,
    );
}

/// A rectangle given in cells: left, top, width, height.
fn rect([left, top, wide, high]: [f64; 4], colour: &str, svg: &mut String) {
    let _ = writeln!(
        svg,
        "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{colour}\"/>",
        left * CELL.0,
        top * CELL.1,
        wide * CELL.0,
        high * CELL.1,
    );
}

/// The parts of its cell that a block character fills: left, top, width, height as shares of it.
fn block_parts(letter: char) -> Option<Vec<[f64; 4]>> {
    let quarters: &[usize] = match letter {
        '█' => return Some(vec![[0.0, 0.0, 1.0, 1.0]]),
        '▀' => return Some(vec![[0.0, 0.0, 1.0, 0.5]]),
        '▁'..='▇' => {
            let high = f64::from(letter as u32 - '▁' as u32 + 1) / 8.0;
            return Some(vec![[0.0, 1.0 - high, 1.0, high]]);
        }
        '▌' => return Some(vec![[0.0, 0.0, 0.5, 1.0]]),
        '▐' => return Some(vec![[0.5, 0.0, 0.5, 1.0]]),
        // Quarters counted left to right, top to bottom.
        '▘' => &[0],
        '▝' => &[1],
        '▖' => &[2],
        '▗' => &[3],
        '▚' => &[0, 3],
        '▞' => &[1, 2],
        '▛' => &[0, 1, 2],
        '▜' => &[0, 1, 3],
        '▙' => &[0, 2, 3],
        '▟' => &[1, 2, 3],
        _ => return None,
    };
    let half = |i: usize| i as f64 / 2.0;
    Some(
        quarters
            .iter()
            .map(|&i| [half(i % 2), half(i / 2), 0.5, 0.5])
            .collect(),
    )
}

/// A colour as `#rrggbb`: the fixed part of the 256 colours (a cube of six levels, then greys).
fn hex(colour: Color, own: &str) -> String {
    let Color::Indexed(index) = colour else {
        return own.to_owned();
    };
    let (red, green, blue) = match index {
        16..=231 => {
            let level = |step: u8| if step == 0 { 0 } else { 55 + 40 * step };
            let cube = index - 16;
            (level(cube / 36), level(cube / 6 % 6), level(cube % 6))
        }
        232..=255 => {
            let grey = 8 + 10 * (index - 232);
            (grey, grey, grey)
        }
        _ => return own.to_owned(),
    };
    format!("#{red:02x}{green:02x}{blue:02x}")
}

#[cfg(test)]
mod tests {
    use ratatui::style::Style;

    use super::*;

    #[test]
    fn letters_are_escaped_and_blocks_are_drawn() {
        let mut buffer = Buffer::empty(ratatui::layout::Rect::new(0, 0, 6, 1));
        buffer.set_string(0, 0, "a<b & █", Style::new());
        buffer.set_string(5, 0, "▄", Style::new().fg(Color::Indexed(231)));
        let svg = svg(&buffer);
        assert!(svg.contains(">a&lt;b &amp;</text>"), "{svg}");
        let half = "<rect x=\"45\" y=\"9\" width=\"9\" height=\"9\" fill=\"#ffffff\"/>";
        assert!(svg.contains(half), "{svg}");
    }
}
