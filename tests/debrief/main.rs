//! What really happened, beside the plan: journals of scripted shows whose lateness is known.

#[path = "../drawn_plan/mod.rs"]
#[allow(dead_code)] // each test file uses its part
mod drawn_plan;
mod files;
mod learned;
mod logs;
mod made;
mod music;
mod page;
#[path = "../press/mod.rs"]
mod press;
mod printed;
#[path = "../rehearsal/mod.rs"]
mod rehearsal;
mod seen;
mod stored;

pub fn close(a: f64, b: f64, within: f64, what: &str) {
    assert!((a - b).abs() <= within, "{what}: {a} is not {b}");
}
