//! Beats and downbeats against music whose beats are known: scores that PyPI's music21 carries, played by Debian's
//! fluidsynth, scored by PyPI's mir_eval (F-measure, 70 ms), with librosa's beat tracker on the same files beside;
//! see `tests/reference/beats.py`. Some pieces were looked at while the tracker was made, the others were not.

mod music;

use std::path::Path;
use std::process::Command;

use serde::Deserialize;

#[derive(Deserialize)]
struct Judged {
    id: String,
    sounds: String,
    r#use: String,
    bpm: f64,
    tempo_bpm: Option<f64>,
    ours: f64,
    librosa: f64,
    downbeats: f64,
}

/// Gauges all pieces and has them judged.
fn judged() -> Vec<Judged> {
    let folder = music::performances();
    let mut files: Vec<_> = folder
        .read_dir()
        .expect("the performances")
        .map(|entry| entry.expect("a file").path())
        .filter(|path| path.extension().is_some_and(|end| end == "wav"))
        .collect();
    files.sort();
    let output = Command::new(env!("CARGO_BIN_EXE_abeam"))
        .arg("gauge")
        .args(&files)
        .arg("--json")
        .env(
            "XDG_CACHE_HOME",
            folder.join(std::process::id().to_string()),
        )
        .output()
        .expect("the program runs");
    assert!(output.status.success());
    let _ = std::fs::remove_dir_all(folder.join(std::process::id().to_string()));
    std::fs::write(folder.join("ours.json"), output.stdout).expect("what was gauged");
    music::script("beats.py judge", &[&folder]);
    read(&folder.join("judged.json"))
}

fn read(path: &Path) -> Vec<Judged> {
    let text = std::fs::read(path).expect("what was judged");
    serde_json::from_slice(&text).expect("JSON of it")
}

fn mean(pieces: &[&Judged], of: impl Fn(&Judged) -> f64) -> f64 {
    pieces.iter().map(|piece| of(piece)).sum::<f64>() / pieces.len() as f64
}

#[test]
fn beats_are_found_in_performed_music_and_better_than_by_librosa() {
    let judged = judged();
    println!("piece                   true  found  beats  librosa  downbeats  sounds");
    for piece in &judged {
        let tempo = piece
            .tempo_bpm
            .map_or("-".into(), |bpm| format!("{bpm:.1}"));
        println!(
            "{:22} {:5.0} {tempo:>6} {:6.2} {:8.2} {:10.2}  {}, {}",
            piece.id,
            piece.bpm,
            piece.ours,
            piece.librosa,
            piece.downbeats,
            piece.sounds,
            piece.r#use
        );
    }
    let of = |sounds: &[&str], uses: &[&str]| -> Vec<&Judged> {
        let chosen = |piece: &&Judged| {
            sounds.contains(&piece.sounds.as_str()) && uses.contains(&piece.r#use.as_str())
        };
        judged.iter().filter(chosen).collect()
    };
    let (all, both) = (["percussive", "sustained"], ["seen", "aside"]);
    for sounds in all {
        for uses in [&both[..], &["seen"], &["aside"]] {
            let pieces = of(&[sounds], uses);
            println!(
                "{} {sounds}, {}: beats {:.3}, librosa {:.3}, downbeats {:.3}",
                pieces.len(),
                uses.join(" and "),
                mean(&pieces, |piece| piece.ours),
                mean(&pieces, |piece| piece.librosa),
                mean(&pieces, |piece| piece.downbeats)
            );
        }
    }
    assert!(judged.len() >= 20);
    for uses in [&both[..], &["seen"], &["aside"]] {
        let pieces = of(&all, uses);
        let (ours, theirs) = (mean(&pieces, |p| p.ours), mean(&pieces, |p| p.librosa));
        assert!(ours > theirs, "{uses:?}: {ours}, librosa {theirs}");
    }
    for uses in [&both[..], &["aside"]] {
        let pieces = of(&["percussive"], uses);
        let (ours, theirs) = (mean(&pieces, |p| p.ours), mean(&pieces, |p| p.librosa));
        assert!(
            ours >= 0.85 && ours > theirs,
            "percussive, {uses:?}: {ours}, librosa {theirs}"
        );
    }
    let percussive = of(&["percussive"], &both);
    assert!(mean(&percussive, |piece| piece.downbeats) >= 0.6);
}
