//! A track with the bars that come again written out: the sound that is stretched.

use super::course::Course;
use super::pcm::Pcm;

/// How long a join takes. It is over by the bar line, so that the first beat is that of the bar gone back to.
const CROSSING_S: f64 = 0.025;

/// Where a written-out track leaves the track and goes back.
#[derive(Debug, Clone, Copy)]
struct Seam {
    /// The first frame after it, written out.
    at: i64,
    /// Frames gone back before it and after it, in all.
    back: (i64, i64),
    /// How alike what leaves and what comes are, from 0 to 1.
    alike: f32,
}

/// A track written out as a course has it.
#[derive(Debug, Clone)]
pub(super) struct Unrolled {
    seams: Vec<Seam>,
    crossing: i64,
    frames: i64,
    /// What it was before it was turned, and the first frame at which that gives way.
    before: Option<(Box<Unrolled>, i64)>,
}

impl Unrolled {
    pub fn of(pcm: &Pcm, course: &Course) -> Unrolled {
        let rate = f64::from(pcm.rate);
        let frame = |s: f64| (s * rate).round() as i64;
        let crossing = frame(CROSSING_S);
        let mut seams: Vec<Seam> = Vec::new();
        let mut gone = crate::units::Span::ZERO;
        for (at, join) in course.unrolled_joins() {
            let before = frame(gone.s());
            gone += join.back;
            let seam = Seam {
                at: frame(at.s()),
                back: (before, frame(gone.s())),
                alike: 0.0,
            };
            seams.push(Seam {
                alike: likeness(pcm, &seam, crossing),
                ..seam
            });
        }
        Unrolled {
            seams,
            crossing,
            frames: pcm.frames() as i64 + frame(gone.s()),
            before: None,
        }
    }

    /// The same, but for what is before `from`, which is as it was. A turn that comes too late crosses over.
    pub fn after(self, mut before: Unrolled, from: i64) -> Unrolled {
        before.before = None;
        Unrolled {
            before: Some((Box::new(before), from)),
            ..self
        }
    }

    /// How many frames it has, written out.
    pub fn frames(&self) -> i64 {
        self.frames
    }

    /// Left and right of a frame; silence outside the track.
    pub fn frame(&self, pcm: &Pcm, index: i64) -> [f32; 2] {
        let new = self.written_out(pcm, index);
        let Some((before, from)) = &self.before else {
            return new;
        };
        if index >= from + self.crossing {
            return new;
        }
        let old = before.written_out(pcm, index);
        if index < *from || old == new {
            return old;
        }
        let share = (index - from) as f32 / self.crossing as f32;
        let (old_part, new_part) = parts(share, 0.0);
        [0, 1].map(|channel| old[channel] * old_part + new[channel] * new_part)
    }

    fn written_out(&self, pcm: &Pcm, index: i64) -> [f32; 2] {
        let next = self.seams.partition_point(|seam| seam.at <= index);
        let back = next
            .checked_sub(1)
            .and_then(|last| self.seams.get(last))
            .map_or(0, |seam| seam.back.1);
        let old = stereo(pcm, index - back);
        let Some(seam) = self
            .seams
            .get(next)
            .filter(|seam| seam.at - index <= self.crossing)
        else {
            return old;
        };
        let share = 1.0 - (seam.at - index) as f32 / self.crossing as f32;
        let (old_part, new_part) = parts(share, seam.alike);
        let new = stereo(pcm, index - seam.back.1);
        [0, 1].map(|channel| old[channel] * old_part + new[channel] * new_part)
    }
}

/// The parts of old and new so that the power stays: of unlike sounds the powers add, of like ones the amplitudes.
pub(super) fn parts(share: f32, alike: f32) -> (f32, f32) {
    let (new, old) = (std::f32::consts::FRAC_PI_2 * share).sin_cos();
    let power = 1.0 + 2.0 * alike * old * new;
    (old / power.sqrt(), new / power.sqrt())
}

/// The correlation of what leaves with what comes, where they cross; nothing for what is opposite.
fn likeness(pcm: &Pcm, seam: &Seam, crossing: i64) -> f32 {
    let (mut product, mut old_power, mut new_power) = (0.0_f64, 0.0_f64, 0.0_f64);
    for index in seam.at - crossing..seam.at {
        let (old, new) = (
            stereo(pcm, index - seam.back.0),
            stereo(pcm, index - seam.back.1),
        );
        for (old, new) in old.into_iter().zip(new) {
            product += f64::from(old * new);
            old_power += f64::from(old * old);
            new_power += f64::from(new * new);
        }
    }
    let power = (old_power * new_power).sqrt();
    if power > 0.0 {
        (product / power).clamp(0.0, 1.0) as f32
    } else {
        0.0
    }
}

fn stereo(pcm: &Pcm, index: i64) -> [f32; 2] {
    let channels = usize::from(pcm.channels.max(1));
    let Ok(index) = usize::try_from(index) else {
        return [0.0; 2];
    };
    let sample = |channel: usize| pcm.samples.get(index * channels + channel).copied();
    let left = sample(0).unwrap_or(0.0);
    let right = if channels > 1 {
        sample(1).unwrap_or(0.0)
    } else {
        left
    };
    [left, right]
}
