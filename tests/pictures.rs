//! The pictures in the README are what the program draws today.
//!
//! `cargo test --test pictures -- --ignored` draws them anew.

mod stage;

use std::fs;
use std::path::PathBuf;

use abeam::live::{Session, What};
use abeam::screens::{Theme, svg};
use ratatui::crossterm::event::KeyCode;
use stage::*;

const SIZE: (u16, u16) = (100, 32);

/// Every picture by the name of its file.
fn pictures() -> Vec<(&'static str, String)> {
    let run_in = run_in();
    let picture = |session: &Session, theme, keys: &[KeyCode]| {
        let mut panel = panel(session, theme);
        for key in keys {
            press(&mut panel, session, *key);
        }
        svg(&drawn(&mut panel, session, &desk(), SIZE))
    };
    let mut stopped = run_in.clone();
    let now = stopped.now().s();
    happen(&mut stopped, now + 1.0, What::KnockItOff);
    wait(&mut stopped, now + 8.0);
    vec![
        ("stand.svg", picture(&run_in, Theme::Dark, &[])),
        ("stand-bright.svg", picture(&run_in, Theme::Light, &[])),
        ("desk.svg", picture(&run_in, Theme::Dark, &[KeyCode::Tab])),
        ("knock-it-off.svg", picture(&stopped, Theme::Dark, &[])),
    ]
}

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("media/pictures")
        .join(name)
}

#[test]
fn the_committed_pictures_are_current() {
    for (name, picture) in pictures() {
        let committed = fs::read_to_string(file(name)).unwrap_or_default();
        assert!(
            committed == picture,
            "media/pictures/{name} is out of date: cargo test --test pictures -- --ignored"
        );
    }
}

#[test]
#[ignore = "draws the pictures anew"]
fn draw_the_pictures() {
    for (name, picture) in pictures() {
        fs::create_dir_all(file("")).expect("a folder");
        fs::write(file(name), picture).expect("a picture");
    }
}
