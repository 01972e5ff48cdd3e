//! In a track close up the document's own tempo is what a beat goes by, and no vamp is proposed that it could not have.

use std::sync::Arc;

use abeam::show::edit::Manuscript;
use abeam::sound::{Landmarks, Pulse, Vamping};
use abeam::spotting::{Spotting, Step};
use abeam::units::{Span, Tempo};

/// A bed of 100 beats a minute by ear, close up, with more said of it in its document.
fn close_up(more: &str) -> Spotting {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("show.toml");
    let text = format!(
        "[show]\ntitle = \"Lake\"\n[profile.high]\norder = [\"a\"]\n[site]\nelevation = \"0 m\"\nline_bearing = 64\n\
         line_distance = \"230 m\"\n[aircraft.solo]\n[[figure]]\nid = \"a\"\naircraft = \"solo\"\ntakes = \"60 s\"\n\
         [[track]]\nid = \"bed\"\nfile = \"bed.flac\"\nstarts = \"a.start\"\n{more}\n"
    );
    std::fs::write(&file, text).expect("a document");
    let manuscript = Manuscript::open(&file).expect("it opens");
    let length = Span::from_s(60.0);
    let mut spotting = Spotting::new(manuscript, &"bed".into(), length, 48_000).expect("a bed");
    let every = |s: f64| (0..(60.0 / s) as u32).map(move |i| Span::from_s(s * f64::from(i)));
    let vamp = |from: f64, to: f64| Vamping {
        from: Span::from_s(from),
        to: Span::from_s(to),
        written: Span::from_s(from),
        bars: 4,
        alike: 0.9,
        even: true,
    };
    spotting.found(Arc::new(Landmarks {
        pulse: Pulse {
            tempo: Some(Tempo::from_bpm(100.0)),
            beats: every(0.6).collect(),
            downbeats: every(2.4).collect(),
        },
        onsets: Vec::new(),
        vamps: vec![vamp(4.8, 24.0), vamp(14.4, 24.0), vamp(2.4, 9.6)],
    }));
    spotting
}

#[test]
fn a_beat_is_as_long_as_the_document_says() {
    for (more, beat) in [
        ("", 0.6),
        ("tempo = \"90 bpm\"\nbar = \"4 beats\"", 60.0 / 90.0),
        ("tempo = \"120 bpm\"\nbar = \"2 s\"", 0.5),
        // A bar alone says nothing of beats.
        ("bar = \"2 s\"", 0.6),
    ] {
        let mut spotting = close_up(more);
        spotting.stride(Step::Beat);
        spotting.go_to(Span::ZERO);
        spotting.scrub(3);
        let at = spotting.playhead().s();
        assert!((at - 3.0 * beat).abs() < 1e-5, "{more}: {at}");
    }
}

#[test]
fn what_is_proposed_has_nothing_cut_out() {
    let proposed = |more: &str| {
        let mut spotting = close_up(more);
        let mut all = Vec::new();
        spotting.next_vamp();
        while let Some((vamp, nth, count)) = spotting.proposal() {
            all.push((vamp.from.s(), nth, count));
            spotting.next_vamp();
        }
        all
    };
    assert_eq!(proposed(""), [(4.8, 1, 3), (14.4, 2, 3), (2.4, 3, 3)]);
    let cut = "cuts = [{ from = \"0:12.000\", to = \"0:14.000\" }]";
    assert_eq!(proposed(cut), [(14.4, 1, 2), (2.4, 2, 2)]);
}
