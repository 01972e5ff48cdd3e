//! Labels along an axis, each in the first row where it is clear of the others and of what leads to them.

/// A label that begins at a place of the axis, or reaches back from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Item {
    /// The place it belongs to: a line leads there from the axis, through the rows between.
    pub at: f64,
    /// Where it begins, `at` or before.
    pub from: f64,
    /// Where it ends, text and all; text begins after `at`.
    pub until: f64,
}

/// Room between labels, and on both sides of a line.
const GAP: f64 = 3.0;

/// The row of each item, counted from the axis. No two overlap in a row, and no line to an item goes
/// through the text of another.
pub fn rows(items: &[Item]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..items.len()).collect();
    // From the last to the first: what is placed already has its text beyond the line to what comes next.
    order.sort_by(|&a, &b| items[b].at.total_cmp(&items[a].at).then(b.cmp(&a)));
    let mut taken: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut found = vec![0; items.len()];
    for i in order {
        let item = items[i];
        let clear = |row: &Vec<(f64, f64)>| {
            row.iter()
                .all(|&(from, until)| item.until + GAP <= from || until + GAP <= item.from)
        };
        let row = taken.iter().position(clear).unwrap_or(taken.len());
        taken.resize(taken.len().max(row + 1), Vec::new());
        taken[row].push((item.from, item.until));
        for between in &mut taken[..row] {
            between.push((item.at, item.at));
        }
        found[i] = row;
    }
    found
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn nothing_overlaps_and_no_line_crosses_a_text(
            places in prop::collection::vec((0.0..500.0, 0.0..60.0, 1.0..120.0), 0..25)
        ) {
            let items: Vec<Item> = places
                .iter()
                .map(|&(at, back, text)| Item { at, from: at - back, until: at + text })
                .collect();
            let rows = rows(&items);
            for (a, row_a) in items.iter().zip(&rows) {
                for (b, row_b) in items.iter().zip(&rows) {
                    if row_a == row_b && a != b {
                        prop_assert!(a.until <= b.from || b.until <= a.from);
                    }
                    if row_a > row_b {
                        prop_assert!(!(b.at < a.at && a.at < b.until), "{a:?} through {b:?}");
                    }
                }
            }
        }
    }
}
