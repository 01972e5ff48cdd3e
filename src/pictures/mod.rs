//! Pictures of a planned display, as SVG: drawn from the plan, deciding no rule of the show.
//!
//! * [`kit`]: what every picture is made with.
//! * `programme`: what is flown, as pictures name and count it. `legend`: what explains a picture.
//! * `map`: the display from above, to scale. `side`: as the crowd sees it.
//! * `plan`: the whole display. `figures`: each figure small. `figure`: one of them with its points.
//!   `heights`: height and speed against time. `arrivals`: the arrival strip.
//! * [`histogram`](mod@histogram): how often something was how late.
//!
//! Every text is measured before it is drawn, so that no two are over one another and none leaves its
//! picture. What differs differs in dash, shape or hatching as well as in colour.

mod arrivals;
mod figure;
mod figures;
mod heights;
pub mod histogram;
pub mod kit;
pub(crate) mod legend;
pub(crate) mod map;
mod plan;
pub(crate) mod programme;
mod side;

use crate::show::Show;
use crate::timeline::Plan;
use programme::Programme;

/// How every picture begins: a file that does not is somebody else's.
pub use kit::drawing::MARK;

/// One picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// The name of its file.
    pub name: String,
    /// What is in it.
    pub svg: String,
}

/// The pictures of a plan: `plan.svg`; `figures.svg` and a `plan-ID.svg` for each figure, of those that are
/// flown leg by leg; `heights.svg`; `arrivals.svg`. The same plan gives the same bytes.
pub fn pictures(show: &Show, plan: &Plan) -> Vec<Picture> {
    let programme = Programme::of(show, plan);
    let picture = |name: &str, svg| Picture {
        name: name.into(),
        svg,
    };
    let mut pictures = vec![picture("plan.svg", plan::sheet(&programme))];
    if programme.flown().next().is_some() {
        pictures.push(picture("figures.svg", figures::sheet(&programme)));
    }
    for part in programme.flown() {
        // `#` separates the flyings of a figure; in a file's address it would end the name.
        let key = part.times.key.as_str().replace('#', ".");
        let name = format!("plan-{key}.svg");
        pictures.push(picture(&name, figure::sheet(&programme, part)));
    }
    pictures.push(picture("heights.svg", heights::chart(&programme)));
    pictures.push(picture("arrivals.svg", arrivals::strip(&programme)));
    pictures
}
