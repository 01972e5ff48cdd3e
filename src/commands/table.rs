//! Tables as people read them.

/// Rows under a head, each column as wide as its widest cell, names to the left and the rest to the
/// right; nothing where there are no rows.
pub(super) fn table<const N: usize>(
    head: [&str; N],
    rows: impl Iterator<Item = [String; N]>,
) -> String {
    let rows: Vec<[String; N]> = rows.collect();
    if rows.is_empty() {
        return String::new();
    }
    let rows: Vec<[String; N]> = std::iter::once(head.map(str::to_owned))
        .chain(rows)
        .collect();
    let wide = |column: usize| {
        let cells = rows.iter().map(|row| row[column].chars().count());
        cells.max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..N).map(wide).collect();
    let mut text = String::new();
    for row in &rows {
        for (i, (cell, width)) in row.iter().zip(&widths).enumerate() {
            if i == 0 {
                text += &format!("{cell:<width$}");
            } else {
                text += &format!("  {cell:>width$}");
            }
        }
        text.push('\n');
    }
    text
}
