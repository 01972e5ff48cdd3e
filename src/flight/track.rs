//! A flown piece of path, dense enough to ask where the aircraft was at any instant of it.

use super::vector::{Vector, length, plus};

/// Finer than any time the program states, s.
const AT_ONCE: f64 = 1e-8;
/// After so many halvings nothing is left to halve, however long a hold.
const MOST_HALVINGS: usize = 60;
/// So many states, most legs have no more.
const MOST_LEGS: usize = 16;

/// The aircraft at one instant, in the site frame; SI.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct State {
    /// Since the figure's start.
    pub t: f64,
    /// Where it is.
    pub place: [f64; 3],
    /// Its velocity over the ground.
    pub ground: [f64; 3],
    /// Its velocity through the air; where it is not known yet, only the direction counts.
    pub air: [f64; 3],
    /// The angle between its nose and that, rad.
    pub nose_off: f64,
}

/// States in order of time, between which place and velocity are those of the cubics that keep both, and the
/// wind goes evenly.
#[derive(Debug, Clone)]
pub(super) struct Track {
    first: State,
    rest: Vec<State>,
}

impl State {
    /// Along the display line.
    pub fn x(&self) -> f64 {
        self.place[0]
    }

    /// Away from the crowd line.
    pub fn y(&self) -> f64 {
        self.place[1]
    }

    /// From crowd centre, by the straight line.
    pub fn range(&self) -> f64 {
        length(self.place)
    }

    /// Speed over the ground.
    pub fn ground_speed(&self) -> f64 {
        length(self.ground)
    }
}

impl Track {
    /// A track of one state: no time passes on it.
    pub fn at_rest(first: State) -> Self {
        let rest = Vec::with_capacity(MOST_LEGS);
        Track { first, rest }
    }

    /// Goes on to a later state.
    pub fn push(&mut self, state: State) {
        self.rest.push(state);
    }

    /// The same, all of it `s` seconds later.
    pub fn later_by(&mut self, s: f64) {
        self.first.t += s;
        for state in &mut self.rest {
            state.t += s;
        }
    }

    pub fn start(&self) -> &State {
        &self.first
    }

    pub fn end(&self) -> &State {
        self.rest.last().unwrap_or(&self.first)
    }

    /// With another track behind it, which begins where this one ends, perhaps on another heading.
    pub fn joined(mut self, other: Track) -> Track {
        if other.first != *self.end() {
            self.rest.push(other.first);
        }
        self.rest.extend(other.rest);
        self
    }

    /// The same way through the air, begun from `start` and with `more` wind along the display line, m/s.
    pub fn drifted(&self, start: &State, more: f64) -> Track {
        let begun = self.first;
        let drifted = |state: &State| {
            let after = state.t - begun.t;
            let [x, y, z] = state.place;
            State {
                t: start.t + after,
                place: [
                    start.x() + (x - begun.x()) + more * after,
                    start.y() + (y - begun.y()),
                    z,
                ],
                ground: plus(state.ground, more, [1.0, 0.0, 0.0]),
                ..*state
            }
        };
        Track {
            first: drifted(&begun),
            rest: self.rest.iter().map(drifted).collect(),
        }
    }

    /// The state at `t`, held to the track's own time.
    pub fn at(&self, t: f64) -> State {
        let next = self.rest.partition_point(|state| state.t < t);
        let Some(after) = self.rest.get(next) else {
            return *self.end();
        };
        let before = match next.checked_sub(1) {
            Some(i) => self.rest.get(i).unwrap_or(&self.first),
            None => &self.first,
        };
        between(before, after, t)
    }

    /// When it first is at `x` along the display line.
    pub fn when_at_x(&self, x: f64) -> Option<f64> {
        if self.first.x() == x {
            return Some(self.first.t);
        }
        crossing(&self.first, &self.rest, x)
    }

    /// Where it is at `x` again, each time, once it has been further than `near` from it.
    pub fn back_at_x(&self, x: f64, near: f64) -> impl Iterator<Item = State> {
        let is_near = move |state: &&State| (state.x() - x).abs() <= near;
        let near = self.rest.iter().take_while(is_near).count();
        let rest = self.rest.get(near..).unwrap_or_default();
        let back = rest.windows(2).filter_map(move |pair| match pair {
            [before, after] => crossing(before, std::slice::from_ref(after), x),
            _ => None,
        });
        back.map(|t| self.at(t))
    }

    /// Each of its states with the next.
    pub fn pairs(&self) -> impl Iterator<Item = (&State, &State)> {
        let from = std::iter::once(&self.first).chain(&self.rest);
        from.zip(&self.rest)
    }

    /// Whether it stays where it is, as in a hold.
    pub fn is_still(&self) -> bool {
        self.rest.len() == 1 && self.end().place == self.first.place
    }

    /// States every `step` seconds from its start, and its end; of a track that stays where it is, only
    /// the two ends.
    pub fn every(&self, step: f64) -> impl Iterator<Item = State> {
        let duration = self.end().t - self.first.t;
        let step = if self.is_still() { duration } else { step };
        // Rounding does not make one more of them, next to the end.
        let whole = (duration / step - 1e-6).ceil().max(0.0) as usize;
        let mut walk = self.walk();
        (0..whole)
            .map(move |i| walk.to(self.first.t + i as f64 * step))
            .chain(std::iter::once(*self.end()))
    }

    /// Along it from its start.
    pub fn walk(&self) -> Walk<'_> {
        Walk {
            before: &self.first,
            rest: &self.rest,
        }
    }
}

/// Along a track, never back.
pub(super) struct Walk<'a> {
    before: &'a State,
    rest: &'a [State],
}

impl Walk<'_> {
    /// On to the state at `t`, held to the track's own time.
    pub fn to(&mut self, t: f64) -> State {
        while let Some((next, later)) = self.rest.split_first().filter(|(next, _)| next.t < t) {
            (self.before, self.rest) = (next, later);
        }
        match self.rest.first() {
            Some(after) => between(self.before, after, t),
            None => *self.before,
        }
    }
}

/// When the way from one state on through others crosses `x`.
fn crossing<'a>(mut before: &'a State, others: &'a [State], x: f64) -> Option<f64> {
    for after in others {
        let side = (before.x() - x).signum();
        if side * (after.x() - x) <= 0.0 {
            let on_this_side = |t| side * (x_between(before, after, t) - x) > 0.0;
            return Some(last_true(before.t, after.t, on_this_side));
        }
        before = after;
    }
    None
}

/// The state at `t` between two others.
fn between(a: &State, b: &State, t: f64) -> State {
    let h = b.t - a.t;
    if h <= 0.0 {
        return *b;
    }
    let s = ((t - a.t) / h).clamp(0.0, 1.0);
    let s2 = s * s;
    let place = |i: usize| place_between(a, b, s, i);
    let ground: Vector = std::array::from_fn(|i| {
        6.0 * (s - s2) * (b.place[i] - a.place[i]) / h
            + (3.0 * s2 - 4.0 * s + 1.0) * a.ground[i]
            + (3.0 * s2 - 2.0 * s) * b.ground[i]
    });
    let wind = |i: usize| {
        let (before, after) = (a.ground[i] - a.air[i], b.ground[i] - b.air[i]);
        before + (after - before) * s
    };
    State {
        t: a.t + s * h,
        place: std::array::from_fn(place),
        ground,
        air: std::array::from_fn(|i| ground[i] - wind(i)),
        nose_off: a.nose_off + (b.nose_off - a.nose_off) * s,
    }
}

/// Where along the display line it is at `t` between two states.
fn x_between(a: &State, b: &State, t: f64) -> f64 {
    let h = b.t - a.t;
    if h <= 0.0 {
        return b.x();
    }
    place_between(a, b, ((t - a.t) / h).clamp(0.0, 1.0), 0)
}

/// One coordinate at a share of the time between two states.
fn place_between(a: &State, b: &State, s: f64, i: usize) -> f64 {
    let (h, s2, s3) = (b.t - a.t, s * s, s * s * s);
    (2.0 * s3 - 3.0 * s2 + 1.0) * a.place[i]
        + (s3 - 2.0 * s2 + s) * h * a.ground[i]
        + (3.0 * s2 - 2.0 * s3) * b.place[i]
        + (s3 - s2) * h * b.ground[i]
}

/// The last value at which `holds`, between one at which it does and one at which it does not.
pub(super) fn last_true(mut yes: f64, mut no: f64, mut holds: impl FnMut(f64) -> bool) -> f64 {
    for _ in 0..MOST_HALVINGS {
        if (no - yes).abs() <= AT_ONCE {
            break;
        }
        let middle = 0.5 * (yes + no);
        if holds(middle) {
            yes = middle;
        } else {
            no = middle;
        }
    }
    no
}
