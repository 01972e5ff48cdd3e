//! Work on tracks while a show is on the stage: the document read and written, tracks listened to, and what is
//! heard on the headphones.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};

use crate::live::Stage;
use crate::live::stage::Loading;
use crate::screens::{Panel, Wish};
use crate::show::Name;
use crate::show::edit::{EditError, Manuscript};
use crate::sound::{Landmarks, Media, landmarks};
use crate::spotting::{Audition, Spotting};

/// Where the document is, and which track is being listened to.
pub(super) struct Spotter {
    document: PathBuf,
    listening: Option<(Name, Receiver<Landmarks>)>,
}

impl Spotter {
    pub(super) fn new(document: PathBuf) -> Spotter {
        Spotter {
            document,
            listening: None,
        }
    }

    /// Does what is wished for; a wish that is for the show itself is nothing here.
    pub(super) fn grant(&mut self, wish: Wish, stage: &mut Stage, panel: &mut Panel) {
        match wish {
            Wish::Spot(track) => match self.begin(track, stage, panel) {
                Ok(()) => panel.open_track(),
                Err(why) => panel.refuse(why),
            },
            Wish::Hear(audition) => hear(&audition, stage, panel),
            Wish::HearNothing => stage.desk_mut().end_audition(),
            Wish::Write => {
                if let Some(spotting) = panel.spotting() {
                    write(spotting);
                }
            }
            Wish::Happen(_) | Wish::Practise(_) | Wish::Quit => {}
        }
    }

    /// Begins to work on a track, or turns to it; what was changed of others stays changed.
    fn begin(&mut self, index: usize, stage: &Stage, panel: &mut Panel) -> Result<(), String> {
        let Some(track) = stage.session().show().tracks.get(index) else {
            return Err("this show has no tracks".into());
        };
        let media = media_of(index, stage)?;
        let (length, rate) = (media.pcm.duration(), media.pcm.rate);
        match panel.spotting() {
            Some(spotting) => spotting
                .turn_to(&track.id, length, rate)
                .map_err(|error| error.to_string())?,
            None => {
                let spotting = Manuscript::open(&self.document)
                    .and_then(|manuscript| Spotting::new(manuscript, &track.id, length, rate))
                    .map_err(|error| error.to_string())?;
                panel.begin_spotting(spotting);
            }
        }
        self.listening = listen(&track.id, media);
        Ok(())
    }

    /// Passes on what has been found in the track since, and which place of it is heard.
    pub(super) fn attend(&mut self, stage: &Stage, panel: &mut Panel) {
        panel.hear(stage.desk().auditioned().map(|(_, place)| place));
        let Some((track, found)) = &self.listening else {
            return;
        };
        let Ok(found) = found.try_recv() else {
            return;
        };
        if let Some(spotting) = panel.spotting()
            && spotting.track_id() == track
        {
            spotting.found(Arc::new(found));
        }
        self.listening = None;
    }
}

fn media_of(index: usize, stage: &Stage) -> Result<Arc<Media>, String> {
    match stage.desk().tracks().get(index) {
        Some(Loading::Ready(media)) => Ok(media.clone()),
        Some(Loading::Decoding(_)) => Err("this track is still being decoded".into()),
        Some(Loading::Failed(why)) => Err(format!("this track cannot be decoded: {why}")),
        Some(Loading::Missing) | None => Err("the file of this track is not there".into()),
    }
}

/// Listens to a track on a thread of its own; where the system has none, nothing is found.
fn listen(track: &Name, media: Arc<Media>) -> Option<(Name, Receiver<Landmarks>)> {
    let (tell, told) = channel();
    let listening = move || {
        // Nobody waits any more where another track was turned to.
        let _ = tell.send(landmarks(&media.pcm));
    };
    let thread = std::thread::Builder::new().name("listening".into());
    thread.spawn(listening).ok()?;
    Some((track.clone(), told))
}

fn hear(audition: &Audition, stage: &mut Stage, panel: &mut Panel) {
    let Some(spotting) = panel.spotting() else {
        return;
    };
    let tracks = &stage.session().show().tracks;
    let Some(index) = tracks
        .iter()
        .position(|track| track.id == *spotting.track_id())
    else {
        return;
    };
    let heard = stage
        .desk_mut()
        .audition(index, &audition.course, audition.lasts);
    // Whoever only moved the playhead did not ask for a sound.
    if let (Err(why), false) = (heard, audition.is_touch()) {
        spotting.complain(why);
    }
}

/// Writes the document; where it is another's by now, beside it.
fn write(spotting: &mut Spotting) {
    let Err(error) = spotting.write() else {
        return;
    };
    let kept = match error {
        EditError::Overtaken(_) => match spotting.write_beside() {
            Ok(beside) => format!("yours is {}", beside.display()),
            Err(failed) => failed.to_string(),
        },
        _ => "Ctrl S tries again".to_owned(),
    };
    spotting.complain(format!("{error}; {kept}"));
}

/// What was changed of a document and is not written.
pub(super) struct Unwritten {
    spotting: Spotting,
    /// Whether the show is over and done with: else it may be gone on with, by the document as it is.
    left: bool,
}

impl Unwritten {
    /// What a panel has of that kind, if it has any.
    pub(super) fn of(panel: &mut Panel, left: bool) -> Option<Unwritten> {
        let spotting = panel.spotting()?;
        (!spotting.is_written()).then(|| Unwritten {
            spotting: spotting.clone(),
            left,
        })
    }

    /// Writes it: to the document, or beside it where that is not to be touched or cannot be written. Says what
    /// became of it.
    pub(super) fn write(mut self) -> String {
        let why = if self.left {
            match self.spotting.write() {
                Ok(()) => return self.spotting.said().text.clone(),
                Err(error) => error.to_string(),
            }
        } else {
            "the show can be gone on with by the document as it is".to_owned()
        };
        match self.spotting.write_beside() {
            Ok(beside) => format!("{why}; what was changed is in {}", beside.display()),
            Err(error) => {
                let changes: Vec<&str> = self.spotting.unwritten().collect();
                let changes = changes.join("\n  ");
                format!("{why}; {error}. What was set, to be set again:\n  {changes}")
            }
        }
    }
}
