//! The axes of a chart against time.

use super::SMALL;
use crate::pictures::kit::scale::{multiples, round_step};
use crate::pictures::kit::{Area, Drawing, Scale, Side};
use crate::pictures::programme::Programme;

/// Draws round times below `area`, from and to `reach`.
pub(super) fn times(
    programme: &Programme,
    area: Area,
    reach: [f64; 2],
    time: &Scale,
    drawing: &mut Drawing,
) {
    for s in programme.ticks(reach, 80.0 / time.pixels_per()) {
        drawing.grid([time.at(s), area.top], [time.at(s), area.bottom()]);
        let x = time.at(s).clamp(area.left + 20.0, area.right() - 26.0);
        let at = [x, area.bottom() + 15.0];
        drawing.text(at, Side::Over, SMALL, &programme.tick_label(s));
    }
}

/// Draws round values beside `area`, some `steps` of them, each as `told`.
pub(super) fn values(
    area: Area,
    [least, most]: [f64; 2],
    steps: f64,
    told: impl Fn(f64) -> String,
    drawing: &mut Drawing,
) {
    let value = Scale::new([least, most], [area.bottom(), area.top]);
    for tick in multiples(least, most, round_step((most - least) / steps), 0.0) {
        let y = value.at(tick);
        drawing.grid([area.left, y], [area.right(), y]);
        let at = [area.left - 6.0, y + 4.0];
        drawing.text(at, Side::Until, SMALL, &told(tick));
    }
}
