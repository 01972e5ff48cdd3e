//! The pieces that open and close the show.

use super::drums::{crash, kick, rim, snare, tick, timpani};
use super::score::{octave_lower, pitch};
use super::stage::Stage;
use super::voices::{HORN, SPICCATO, STRINGS, TROMBONE, TRUMPET, glockenspiel};

/// Twenty bars in D at 120: calls over drums, the theme in the horns, the flourish on the thirteenth bar.
pub fn overture(stage: &mut Stage) {
    overture_calls(stage);
    overture_theme(stage);
    overture_flourish(stage);
}

fn overture_calls(stage: &mut Stage) {
    stage.put(0.0, &timpani(pitch("D2"), 1.2), -7.0, 0.3);
    stage.play(
        4.0,
        &TRUMPET,
        "D5/.75 D5/.25 A4/.5 D5/.5 G5/1 E5/.5 -/.5",
        -13.0,
        (0.8, 0.9),
    );
    stage.play(
        12.0,
        &TRUMPET,
        "D5/.75 D5/.25 A4/.5 D5/.5 A5/1 G5/.5 E5/.5",
        -12.0,
        (0.85, 1.0),
    );
    stage.play(
        12.0,
        &HORN,
        "A4/.75 A4/.25 E4/.5 A4/.5 E5/1 D5/.5 C5/.5",
        -13.0,
        (0.85, 1.0),
    );
    for bar in 0..4 {
        let beat = 4.0 * f64::from(bar);
        stage.play(
            beat,
            &SPICCATO,
            "D3/.5 D3/.5 A3/.5 D3/.5 D3/.5 A3/.5 C4/.5 A3/.5",
            -12.0,
            (0.8, 0.9),
        );
        stage.bass(beat, "D2/1.5 D2/.5 D2/1 A1/1", -7.0);
        stage.drum(beat, &kick(), 0.5, "X---x-x-", -6.0);
        stage.drum(beat, &snare(), 0.25, "--..x-..--..x.x.", -11.0);
        stage.drum(beat, &rim(), 1.0, "xxxx", -8.0);
    }
}

fn overture_theme(stage: &mut Stage) {
    const TUNE: &str = "F#4/1.5 E4/.5 A4/1 D5/1 | C#5/.5 B4/.5 F#4/1 B4/1.5 -/.5 | G4/1 B4/.5 D5/.5 E5/1 C#5/1 | A4/3 -/1 \
        | F#4/1.5 E4/.5 A4/1 D5/1 | E5/1.5 C5/.5 G4/1 C5/1 | D5/1 B4/1 G4/1 B4/1 | C#5/1 E5/1 A4/.5 C#5/.5 E5/.5 -/.5";
    stage.put(16.0, &timpani(pitch("D2"), 1.6), -5.0, 0.3);
    stage.put(16.0, &crash(1.6), -17.0, 0.2);
    stage.play(16.0, &HORN, TUNE, -9.5, (0.8, 1.0));
    stage.play(
        16.0,
        &STRINGS,
        "F#3+A3+D4/4 F#3+B3+D4/4 G3+B3+D4/2 G3+C#4+E4/2 E3+A3+C#4/4 F#3+A3+D4/4 G3+C4+E4/4 G3+B3+D4/4 G3+C#4+E4/3.5",
        -16.5,
        (0.7, 1.0),
    );
    stage.bass(
        16.0,
        "D2/1.5 D2/.5 A2/1 D2/1 B1/1.5 B1/.5 F#2/1 B1/1 G1/1.5 G1/.5 A1/1 A1/1 A1/1.5 A1/.5 E2/1 A1/1 \
        D2/1.5 D2/.5 A2/1 D2/1 C2/1.5 C2/.5 G2/1 C2/1 G1/1.5 G1/.5 D2/1 G1/1 A1/1 A1/1 A1/1 A1/.5",
        -6.0,
    );
    for bar in 0..8 {
        let beat = 16.0 + 4.0 * f64::from(bar);
        let last = bar == 7;
        stage.drum(
            beat,
            &kick(),
            0.5,
            if last { "X-x-X-x-" } else { "X---x-x-" },
            -6.0,
        );
        stage.drum(
            beat,
            &snare(),
            0.5,
            if last { "--x---" } else { "--x---x." },
            -10.0,
        );
        stage.drum(beat, &rim(), 1.0, "xxxx", -8.0);
        stage.drum(
            beat,
            &tick(),
            0.5,
            if last { "-x-x-x--" } else { "-x-x-x-x" },
            -15.0,
        );
    }
    stage.roll(45.0, 2.5, &snare(), 0.125, (-24.0, -12.0));
    stage.roll(45.0, 2.5, &timpani(pitch("A2"), 0.4), 0.125, (-22.0, -12.0));
}

fn overture_flourish(stage: &mut Stage) {
    const TUNE: &str = "A5/2 F#5/.5 E5/.5 D5/.5 E5/.5 | G5/1.5 F#5/.5 D5/1 B4/1 | E5/1 G5/1 B5/1.5 A5/.5 | A5/2 E5/1 C#5/1 \
        | D5/1 F#5/1 B5/1.5 A5/.5 | G5/1 B5/1 A5/1 C#5/1 | D5/.5 D5/.5 A4/.5 D5/.5 F#5/1 A5/.5 -/.5 | D5+F#5+A5/1.5 -/2.5";
    const INNER: &str = "D5/2 A4/.5 A4/.5 F#4/.5 A4/.5 | B4/1.5 A4/.5 G4/1 G4/1 | B4/1 B4/1 G5/1.5 E5/.5 | E5/2 C#5/1 A4/1 \
        | F#4/1 B4/1 F#5/1.5 D5/.5 | D5/1 G5/1 E5/1 A4/1 | A4/.5 A4/.5 F#4/.5 A4/.5 D5/1 F#5/.5 -/.5 | A4+D5/1.5 -/2.5";
    const LOW: &str = "D3+A3/2 D3/1 A3/1 | G3+B3/2 D3/1 G3/1 | E3+B3/2 G3/1 E3/1 | A3+C#4/2 E3/1 A3/1 \
        | B2+F#3/2 B3/1 F#3/1 | G3+B3/2 A3+C#4/2 | D3/.5 D3/.5 A2/.5 D3/.5 F#3/1 A3/.5 -/.5 | D3+A3/1.5 -/2.5";
    stage.put(48.0, &timpani(pitch("D2"), 2.0), 0.0, 0.3);
    stage.put(48.0, &kick(), -2.0, 0.1);
    stage.put(48.0, &crash(2.4), -8.0, 0.2);
    stage.play(48.0, &TRUMPET, TUNE, -10.0, (1.0, 1.0));
    stage.play(48.0, &HORN, INNER, -11.0, (1.0, 1.0));
    stage.play(48.0, &TROMBONE, LOW, -11.5, (1.0, 1.0));
    // The flourish itself: a run of bells up and over the chord.
    stage.strike(
        48.0,
        glockenspiel,
        "D6/.25 A5/.25 D6/.25 F#6/.25 A6/.5 F#6/.5 D6/.25 E6/.25 F#6/.25 A6/.25 D7/1",
        -16.0,
    );
    stage.bass(
        48.0,
        "D2/1 D2/1 A2/1 D2/1 G1/1 G1/1 D2/1 G1/1 E2/1 E2/1 B1/1 E2/1 A1/1 A1/1 E2/1 A1/1 \
        B1/1 B1/1 F#2/1 B1/1 G1/1 G1/1 A1/1 A1/1 D2/1 A1/1 D2/1 A1/1 D2/1.5",
        -5.0,
    );
    for bar in 0..7 {
        let beat = 48.0 + 4.0 * f64::from(bar);
        stage.drum(beat, &kick(), 0.5, "X-x-X-x-", -6.0);
        stage.drum(beat, &snare(), 0.25, "--..X-..--.xX-x.", -10.0);
        stage.drum(beat, &rim(), 1.0, "xxxx", -8.0);
        stage.drum(beat, &tick(), 0.5, "-x-x-x-x", -14.0);
        if bar == 4 {
            stage.put(beat, &crash(1.6), -14.0, 0.2);
        }
    }
    stage.put(76.0, &timpani(pitch("D2"), 1.8), -1.0, 0.4);
    stage.put(76.0, &kick(), -4.0, 0.2);
    stage.put(76.0, &crash(2.0), -11.0, 0.3);
}

/// Half a bar of the march: two beats of bass, and the chord that answers each.
type Half = (&'static str, &'static str);

const STRAIN_HALVES: [Half; 14] = [
    ("Bb1/1 F2/1", "D4+F4"),
    ("Bb1/1 F2/1", "D4+F4"),
    ("F2/1 C2/1", "C4+Eb4"),
    ("F2/1 A1/1", "A3+Eb4"),
    ("C2/1 G2/1", "Eb4+G4"),
    ("C2/1 G1/1", "C4+Eb4"),
    ("F2/1 C2/1", "C4+Eb4"),
    ("F2/1 A1/1", "A3+Eb4"),
    ("Bb1/1 F2/1", "D4+F4"),
    ("Eb2/1 Bb1/1", "Bb3+G4"),
    ("G1/1 D2/1", "Bb3+D4"),
    ("C2/1 G1/1", "C4+Eb4"),
    ("F2/1 C2/1", "C4+Eb4"),
    ("F2/1 F1/1", "A3+Eb4"),
];

/// Twenty bars in B flat at 120: a march with a trio, and its strain again to end.
pub fn closing(stage: &mut Stage) {
    const STRAIN: &str = "F4/.75 G4/.25 Bb4/1 D5/1.5 C5/.5 | Eb5/1 C5/.5 A4/.5 F4/2 | G4/.75 A4/.25 C5/1 Eb5/1.5 D5/.5 \
        | F5/1 Eb5/.5 C5/.5 A4/2 | Bb4/.75 D5/.25 F5/1 G5/1 Eb5/1 | D5/1 Bb4/1 G4/1 C5/1 | C5/.75 D5/.25 Eb5/1 A4/1 C5/1";
    // Two bars of drums, eight of the strain, four of trio, and six of the strain's end.
    stage.put(0.0, &timpani(pitch("Bb2"), 1.0), -8.0, 0.3);
    for bar in 0..19 {
        let beat = 4.0 * f64::from(bar);
        let trio = (10..14).contains(&bar);
        stage.drum(beat, &kick(), 1.0, "XxXx", if trio { -9.0 } else { -6.0 });
        stage.drum(beat, &rim(), 1.0, "xxxx", -8.0);
        stage.drum(
            beat,
            &snare(),
            0.25,
            "--x-x-..--x-x.x.",
            if trio { -17.0 } else { -11.0 },
        );
    }
    strain(stage, 8.0, STRAIN, &STRAIN_HALVES, 0.85);
    stage.play(36.0, &TRUMPET, "Bb4/2 -/2", -12.0, (0.9, 0.9));
    stage.bass(36.0, "Bb1/1 F2/1 Bb1/1 F2/1", -6.0);
    trio(stage);
    stage.put(56.0, &crash(1.8), -12.0, 0.2);
    stage.put(56.0, &timpani(pitch("Bb2"), 1.6), -3.0, 0.3);
    let tail: String = STRAIN.split('|').skip(4).collect();
    strain(stage, 56.0, &tail, &STRAIN_HALVES[8..], 1.0);
    stage.play(
        68.0,
        &TRUMPET,
        "D5/.75 D5/.25 F5/1 G5/1 A5/1 | Bb5/1 F5/.5 D5/.5 F5/1.5 -/.5",
        -11.0,
        (1.0, 1.0),
    );
    stage.play(
        68.0,
        &HORN,
        "Bb4/.75 Bb4/.25 D5/1 Eb5/1 Eb5/1 | D5/1 Bb4/.5 Bb4/.5 A4/1.5 -/.5",
        -12.0,
        (1.0, 1.0),
    );
    stage.play(
        68.0,
        &TROMBONE,
        "Bb3/1 D4/1 Eb4/1 F3/1 | Bb3/1 G3/1 F3/1.5 -/.5",
        -12.0,
        (1.0, 1.0),
    );
    stage.bass(
        68.0,
        "Bb1/1 Bb1/1 Eb2/1 F2/1 Bb1/1 G1/1 F1/1.5 -/.5 Bb1/1.5",
        -5.5,
    );
    stage.put(76.0, &timpani(pitch("Bb2"), 1.8), -2.0, 0.4);
    stage.put(76.0, &kick(), -4.0, 0.2);
    stage.put(76.0, &crash(2.0), -11.0, 0.3);
    stage.play(76.0, &TRUMPET, "D5+F5+Bb5/1.5", -12.0, (1.0, 1.0));
    stage.play(76.0, &TROMBONE, "Bb2+F3+D4/1.5", -12.0, (1.0, 1.0));
}

/// The march's strain: tune in trumpets with horns an octave under, bass on the beat, trombones after it.
fn strain(stage: &mut Stage, beat: f64, tune: &str, halves: &[Half], force: f64) {
    stage.play(beat, &TRUMPET, tune, -11.0, (force, force));
    stage.play(beat, &HORN, &octave_lower(tune), -12.0, (force, force));
    for (half, (bass, chord)) in halves.iter().enumerate() {
        let beat = beat + 2.0 * half as f64;
        let after = format!("-/.5 {chord}/.5 -/.5 {chord}/.5");
        stage.bass(beat, bass, -5.5);
        stage.play(beat, &TROMBONE, &after, -16.0, (force, force));
    }
}

/// The trio, in E flat: strings sing, bells answer.
fn trio(stage: &mut Stage) {
    stage.play(
        40.0,
        &STRINGS,
        "G4/1.5 Ab4/.5 C5/1 Bb4/1 | F4/1.5 G4/.5 Bb4/1 Ab4/1 | Eb4/1.5 F4/.5 Ab4/1 C5/1 | Bb4/2 D5/1 F4/1",
        -9.0,
        (0.9, 0.9),
    );
    stage.play(
        40.0,
        &STRINGS,
        "Bb3+Eb4/4 Bb3+D4/4 C4+Eb4/4 Ab3+D4/4",
        -15.0,
        (0.8, 0.8),
    );
    stage.strike(
        40.0,
        glockenspiel,
        "-/3 Eb6/.5 G6/.5 -/3 D6/.5 F6/.5 -/3 C6/.5 Eb6/.5 -/3 Bb5/.5 D6/.5",
        -17.0,
    );
    stage.bass(40.0, "Eb2/1 Bb1/1 Eb2/1 Bb1/1 Bb1/1 F2/1 Bb1/1 F2/1 Ab1/1 Eb2/1 Ab1/1 Eb2/1 Bb1/1 F2/1 Bb1/1 F2/1", -6.5);
}
