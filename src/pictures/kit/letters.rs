//! How wide a text is.
//!
//! A picture names no font of its own, so nobody knows which one it is seen in. Widths are therefore those
//! of a wide one, DejaVu Sans; in the others of [`FONTS`] a text takes less room than it is given.

/// The fonts a text is drawn in: the first of them that is there.
pub const FONTS: &str = "Arial, 'Liberation Sans', Helvetica, 'DejaVu Sans', sans-serif";

/// Advance widths of the letters from space to `~`, in thousandths of the font's size, rounded up: DejaVu
/// Sans 2.37, as its `hmtx` table says.
const WIDTHS: [u16; 95] = [
    318, 401, 460, 838, 637, 951, 780, 275, 391, 391, 500, 838, 318, 361, 318, 337, 637, 637, 637,
    637, 637, 637, 637, 637, 637, 637, 337, 337, 838, 838, 838, 531, 1000, 685, 687, 699, 771, 632,
    576, 775, 752, 295, 295, 656, 558, 863, 749, 788, 604, 788, 695, 635, 611, 732, 685, 989, 686,
    611, 686, 391, 337, 391, 838, 500, 500, 613, 635, 550, 635, 616, 353, 635, 634, 278, 278, 580,
    278, 975, 634, 612, 635, 635, 412, 521, 393, 634, 592, 818, 592, 592, 525, 637, 337, 637, 838,
];
/// Wide enough for any other letter of a European or East Asian alphabet.
const OTHER: u16 = 1100;

/// The most a text of this font size takes, in pixels.
pub fn width(text: &str, size: f64) -> f64 {
    let thousandths: u64 = text.chars().map(|letter| u64::from(advance(letter))).sum();
    thousandths as f64 * size / 1000.0
}

fn advance(letter: char) -> u16 {
    let listed = u32::from(letter).checked_sub(u32::from(' '));
    listed
        .and_then(|i| WIDTHS.get(i as usize))
        .copied()
        .unwrap_or(OTHER)
}

/// The text in at most `room` pixels, ended with `…` where it does not fit.
pub fn fitted(text: &str, size: f64, room: f64) -> String {
    if width(text, size) <= room {
        return text.to_owned();
    }
    let mut kept = String::new();
    let mut taken = width("…", size);
    for letter in text.chars() {
        taken += f64::from(advance(letter)) * size / 1000.0;
        if taken > room {
            break;
        }
        kept.push(letter);
    }
    kept.truncate(kept.trim_end().len());
    kept.push('…');
    kept
}
