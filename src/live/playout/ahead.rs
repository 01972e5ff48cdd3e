//! Sounds rendered while they play, a little ahead of what is heard: what is not rendered yet can still be turned.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::Duration;

use super::clock::Monotonic;
use crate::sound::{Course, Rendering, Rolling};
use crate::units::Span;

/// How far ahead of what is heard is rendered.
const AHEAD: Span = Span::from_ms(450);
/// How often is looked.
const LOOK: Duration = Duration::from_millis(15);
/// Frames rendered at once.
const PIECE: usize = 2_048;

/// The thread that renders.
pub struct Ahead {
    tasks: Sender<Task>,
}

enum Task {
    Begin(Box<Job>),
    Turn(u32, Course),
}

/// A sound being rendered.
struct Job {
    voice: u32,
    rendering: Rendering,
    rolling: Arc<Rolling>,
    /// When its first frame is heard.
    at: Monotonic,
    piece: Vec<f32>,
}

impl Ahead {
    /// A thread with nothing to do yet; an error when the system has none left.
    pub fn new() -> std::io::Result<Ahead> {
        let (tasks, given) = channel();
        std::thread::Builder::new()
            .name("rendering".into())
            .spawn(move || render(&given))?;
        Ok(Ahead { tasks })
    }

    /// Renders for a voice what is first heard at `at`. What is needed at once is there when this returns.
    pub fn begin(
        &self,
        voice: u32,
        rendering: Rendering,
        rate: u32,
        at: Monotonic,
    ) -> Arc<Rolling> {
        let rolling = Arc::new(Rolling::new(rate));
        let mut job = Job {
            voice,
            rendering,
            rolling: rolling.clone(),
            at,
            piece: Vec::new(),
        };
        job.render_piece();
        job.catch_up(Monotonic::now());
        // A thread that is gone leaves what is there: the rest is missing, and is counted so.
        let _ = self.tasks.send(Task::Begin(Box::new(job)));
        rolling
    }

    /// A voice's sound goes on another way, from what is not rendered yet.
    pub fn turn(&self, voice: u32, course: Course) {
        let _ = self.tasks.send(Task::Turn(voice, course));
    }
}

/// The thread's story: keeps every sound that somebody still has a little ahead of the clock.
fn render(given: &Receiver<Task>) {
    let mut jobs: Vec<Box<Job>> = Vec::new();
    loop {
        match given.recv_timeout(LOOK) {
            Ok(Task::Begin(job)) => jobs.push(job),
            Ok(Task::Turn(voice, course)) => {
                for job in jobs.iter_mut().filter(|job| job.voice == voice) {
                    job.rendering.turn(course.clone());
                }
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return,
        }
        for job in &mut jobs {
            job.catch_up(Monotonic::now());
        }
        jobs.retain(|job| !job.rolling.is_whole() && Arc::strong_count(&job.rolling) > 1);
    }
}

impl Job {
    /// Renders what will be heard within a little.
    fn catch_up(&mut self, now: Monotonic) {
        let ahead = (now - self.at) + AHEAD;
        let wanted = ahead.s() * f64::from(self.rolling.rate());
        while !self.rolling.is_whole() && (self.rolling.written() as f64) < wanted {
            self.render_piece();
        }
    }

    fn render_piece(&mut self) {
        self.piece.clear();
        let more = self.rendering.render(PIECE, &mut self.piece);
        self.rolling.push(&self.piece);
        if !more {
            self.rolling.finish();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::{Frame, Join, Pcm};

    const RATE: u32 = 48_000;

    /// Ten seconds whose every frame says where it is.
    fn ramp() -> Arc<Pcm> {
        let samples = (0..RATE * 10).flat_map(|k| [k as f32 / RATE as f32; 2]);
        Arc::new(Pcm {
            rate: RATE,
            channels: 2,
            samples: samples.collect(),
        })
    }

    fn left(rolling: &Rolling, frame: u64) -> f32 {
        match rolling.frame(frame) {
            Frame::Is(left, _) => left,
            other => panic!("frame {frame} is {other:?}"),
        }
    }

    #[test]
    fn a_turn_changes_what_is_not_rendered_yet_and_nothing_nearer() {
        let ahead = Ahead::new().expect("a thread");
        let course = Course::plain(Span::ZERO);
        let at = Monotonic::now();
        let rendering = Rendering::new(ramp(), course.clone(), Span::ZERO);
        let rolling = ahead.begin(1, rendering, RATE, at);
        assert!(
            rolling.written() > 10_000,
            "what is needed at once is there"
        );
        std::thread::sleep(Duration::from_millis(200));
        // From 2 s back to 1 s, ordered long before.
        let join = Join {
            at: Span::from_s(2.0),
            back: Span::from_s(1.0),
            bars: 1,
        };
        ahead.turn(
            1,
            Course {
                joins: vec![join],
                ..course
            },
        );
        let mut written = 0.0;
        while written < 2.5 * f64::from(RATE) {
            written = rolling.written() as f64;
            let heard = (Monotonic::now() - at).s() * f64::from(RATE);
            let most = AHEAD.s() * f64::from(RATE) + 2.0 * PIECE as f64;
            assert!(written <= heard + most, "no further ahead");
            std::thread::sleep(Duration::from_millis(10));
        }
        for frame in 0..u64::from(RATE) * 2 - 1_200 {
            assert_eq!(left(&rolling, frame), frame as f32 / RATE as f32);
        }
        for frame in u64::from(RATE) * 2..u64::from(RATE) * 2 + 20_000 {
            let place = frame - u64::from(RATE);
            assert_eq!(left(&rolling, frame), place as f32 / RATE as f32);
        }
    }
}
