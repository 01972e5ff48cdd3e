//! The pool over the Stand: words with no start of their own, those that fit the present gap first.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::Rect;

use super::digits::to_go;
use super::facts::Scene;
use super::overlay::message;
use super::text::{cut, on_one_line};
use super::theme::Styles;
use crate::live::session::Filler;
use crate::live::{Session, What};
use crate::timeline::Version;

/// As many as there are digits.
const OFFERED: usize = 9;

/// What a key picks from the pool; nothing while words are being said.
pub(super) fn pick(code: KeyCode, session: &Session) -> Option<What> {
    let KeyCode::Char(digit @ '1'..='9') = code else {
        return None;
    };
    let picked = *offered(session).get(digit as usize - '1' as usize)?;
    let block = session.show().blocks.get(picked.block)?.id.clone();
    let free = session.speaking().is_none() && picked.fits;
    free.then_some(What::BeginBlock { block })
}

fn offered(session: &Session) -> Vec<Filler> {
    let mut fillers = session.fillers();
    fillers.truncate(OFFERED);
    fillers
}

/// Draws what is offered, and the gap it is for.
pub(super) fn draw(scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    let gap = match session.gap() {
        None => "nothing follows".into(),
        Some(gap) if gap.us() == 0 => "no room just now".into(),
        Some(gap) => format!("{} free", to_go(gap)),
    };
    let fillers = offered(session).into_iter().enumerate();
    let mut lines: Vec<String> = fillers.map(|(i, filler)| line(scene, i, filler)).collect();
    if lines.is_empty() {
        lines.push("The show has no words without a start of their own.".into());
    }
    lines.push(String::new());
    lines.push(match session.speaking() {
        Some(_) => "Words are being said: end them first.   Esc closes".into(),
        None => "1 … 9 begins these words   Esc closes".into(),
    });
    message(
        &format!("fillers: {gap}"),
        &lines,
        true,
        area,
        styles,
        buffer,
    );
}

/// `1  the-lake, 0:08, 34 s to spare: The lake is forty…`
fn line(scene: &Scene, i: usize, filler: Filler) -> String {
    let session = scene.session;
    let number = match filler.fits {
        true => (i + 1).to_string(),
        false => "-".into(),
    };
    let version = match filler.version {
        Version::Short => ", short",
        _ => "",
    };
    let spare = filler.spare.map(|spare| spare.s());
    let spare = match spare {
        None => String::new(),
        Some(spare) if !filler.fits && spare < 0.0 => {
            format!(", {:.0} s TOO LONG", (-spare).ceil())
        }
        Some(_) if !filler.fits => ", too close".into(),
        Some(spare) => format!(", {:.0} s to spare", spare.floor()),
    };
    let said = match filler.said {
        Some(at) => format!(", SAID {}", scene.clock.text(at, 0)),
        None => String::new(),
    };
    let id = session.show().blocks.get(filler.block);
    let id = id.map_or("", |block| block.id.as_str());
    let words = on_one_line(&session.block_words(filler.block, filler.version).text);
    let lasts = to_go(filler.lasts);
    cut(
        &format!("{number}  {id}, {lasts}{version}{spare}{said}: {words}"),
        72,
    )
}
