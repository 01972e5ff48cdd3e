//! What the technician alone hears, on the headphones: a place of a track, a join. The programme never has it.

use std::sync::Arc;

use super::desk::Desk;
use super::loading::Loading;
use crate::live::playout::{Bus, Monotonic, Order, Sound, Start};
use crate::sound::{Course, Pcm, Rendering};
use crate::units::{Gain, Span};

/// The number of the voice that is heard on the headphones; those of the show count from 1.
pub(super) const VOICE: u32 = u32::MAX;
/// From the key to the sound at the soonest: so long a start can take, and nothing of it is lost.
const AHEAD: Span = Span::from_ms(120);
/// How it comes in and goes out: without a click.
const FADE_IN: Span = Span::from_ms(5);
const FADE_OUT: Span = Span::from_ms(60);
/// What is no longer than this is a touch on the track: the playhead does not run with it.
const TOUCH: Span = Span::from_ms(300);
/// Frames rendered at once.
const PIECE: usize = 4_096;

/// What is being heard.
#[derive(Debug, Clone)]
pub(super) struct Audition {
    track: usize,
    course: Course,
    /// Where its voice's own beginning lies: the course's entry where the course is rendered.
    rendered: bool,
    lasts: Option<Span>,
}

impl Desk {
    /// Plays a track on the headphones as a course has it, for a while or to its end; what was heard there
    /// before goes out.
    ///
    /// # Errors
    /// When it cannot be heard, and what would help.
    pub fn audition(
        &mut self,
        track: usize,
        course: &Course,
        lasts: Option<Span>,
    ) -> Result<(), String> {
        if !self.is_audible() {
            return Err("the show was asked to run without sound".into());
        }
        if !self.has_headphones() {
            return Err(
                "there are no headphones: name their sockets in machine.toml, headphones = [3, 4]"
                    .into(),
            );
        }
        let Some(Loading::Ready(media)) = self.tracks().get(track) else {
            return Err("this track is not decoded".into());
        };
        let (pcm, gain) = (media.pcm.clone(), media.gain);
        let rendered = lasts.filter(|_| !course.joins.is_empty());
        let sound = match rendered {
            Some(lasts) => Arc::new(rendered_for(pcm, course, lasts)),
            None => pcm,
        };
        let at = Monotonic::now() + AHEAD;
        self.send(Order::Start(Start {
            voice: VOICE,
            sound: Sound::Whole(sound),
            from: if rendered.is_some() {
                Span::ZERO
            } else {
                course.entry
            },
            begins: Span::ZERO,
            at,
            fade_in: FADE_IN,
            gain,
            duck: Gain::ZERO,
            bus: Bus::Headphones,
        }));
        if let Some(lasts) = lasts {
            self.send(Order::Fade {
                voice: VOICE,
                at: at + (lasts - FADE_OUT),
                over: FADE_OUT,
            });
        }
        self.auditioned = Some(Audition {
            track,
            course: course.clone(),
            rendered: rendered.is_some(),
            lasts,
        });
        Ok(())
    }

    /// Takes away what is heard on the headphones.
    pub fn end_audition(&mut self) {
        if self.auditioned.take().is_some() {
            self.send(Order::Fade {
                voice: VOICE,
                at: Monotonic::now(),
                over: FADE_OUT,
            });
        }
    }

    /// The track heard on the headphones, and the place of it that is heard now.
    pub fn auditioned(&self) -> Option<(usize, Span)> {
        let audition = self.auditioned.as_ref()?;
        if audition.lasts.is_some_and(|lasts| lasts <= TOUCH) {
            return None;
        }
        let heard = self
            .playheads()
            .into_iter()
            .find(|head| head.voice == VOICE)?;
        let place = if audition.rendered {
            audition.course.place_at(heard.position)
        } else {
            heard.position
        };
        Some((audition.track, place))
    }
}

/// The sound of a course's beginning.
fn rendered_for(pcm: Arc<Pcm>, course: &Course, lasts: Span) -> Pcm {
    let rate = pcm.rate;
    let wanted = (lasts.s() * f64::from(rate)).ceil() as usize * 2;
    let mut rendering = Rendering::new(pcm, course.clone(), Span::ZERO);
    let mut samples = Vec::with_capacity(wanted + PIECE * 2);
    while samples.len() < wanted && rendering.render(PIECE, &mut samples) {}
    samples.truncate(wanted);
    Pcm {
        rate,
        channels: 2,
        samples,
    }
}
