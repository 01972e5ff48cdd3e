//! What was played, for returns to rights societies.

use super::{Read, text};

const HEAD: [&str; 9] = [
    "show",
    "date",
    "track",
    "title",
    "composer",
    "publisher",
    "begun",
    "seconds",
    "known by",
];

/// One line a playing (RFC 4180).
pub(super) fn csv(read: &[Read]) -> String {
    let mut csv = line(HEAD.map(str::to_owned));
    for one in read {
        let show = &one.opened.show;
        let played = one.went.sounded.iter().filter_map(|sounded| {
            let track = show.tracks.get(sounded.track)?;
            let credit = |credit: &Option<String>| credit.clone().unwrap_or_default();
            Some(line([
                show.title.clone(),
                text::date(&one.went),
                track.id.to_string(),
                credit(&track.credits.title),
                credit(&track.credits.composer),
                credit(&track.credits.publisher),
                text::told(show, sounded.from),
                format!("{:.0}", sounded.lasted.s()),
                sounded.source.words().to_owned(),
            ]))
        });
        csv.extend(played);
    }
    csv
}

fn line(cells: [String; 9]) -> String {
    let quoted = |cell: String| {
        if cell.contains([',', '"', '\n', '\r']) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell
        }
    };
    cells.map(quoted).join(",") + "\r\n"
}
