//! The quiet pieces: the lake bed, the memorial hymn, and the small piece of a first show.

use super::drums::{crash, kick, rim, snare, tick, timpani, tom, triangle};
use super::score::{octave_lower, pitch};
use super::stage::Stage;
use super::voices::{CHOIR, FLUTE, HORN, STRINGS, TRUMPET, bell, glockenspiel};

/// Eighteen bars in C at 90: three of arrival, three rounds of a four-bar cycle, three of leaving.
pub fn lake_bed(stage: &mut Stage) {
    const CYCLE: &str = "C3/.5 G3/.5 B3/.5 E4/.5 D4/.5 B3/.5 G3/.5 E3/.5 | E3/.5 B3/.5 D4/.5 G4/.5 F#4/.5 D4/.5 B3/.5 G3/.5 \
        | A2/.5 E3/.5 B3/.5 C4/.5 E4/.5 C4/.5 B3/.5 E3/.5 | D3/.5 A3/.5 E4/.5 F#4/.5 A4/.5 F#4/.5 E4/.5 A3/.5";
    const PADS: &str = "G3+B3+E4/4 G3+B3+D4/4 A3+C4+E4/4 A3+D4+F#4/4";
    const BASS: &str = "C2/3 G2/1 E2/3 B2/1 A2/3 E2/1 D2/3 A2/1";

    stage.harp(
        0.0,
        "C3/1 G3/1 B3/1 E4/1 | E3/1 B3/1 D4/1 G4/1 | D3/1 A3/1 E4/1 F#4/1",
        -8.0,
    );
    stage.play(4.0, &CHOIR, "G3+B3+D4/4 A3+D4+F#4/4", -15.0, (0.4, 0.7));
    for round in 0..3 {
        let beat = 12.0 + 16.0 * f64::from(round);
        stage.harp(beat, CYCLE, -8.0);
        stage.play(beat, &CHOIR, PADS, -13.5, (0.7, 0.7));
        stage.bass(beat, BASS, -9.0);
        stage.play(
            beat,
            &FLUTE,
            "-/2 E5/1 F#5/1 D5/3 -/1 -/2 C5/1 E5/1 A4/3 -/1",
            -16.0,
            (0.6, 0.6),
        );
    }
    stage.harp(
        60.0,
        "C3/.5 G3/.5 B3/.5 E4/.5 D4/1 G3/1 | D3/1 A3/1 E4/1 F#4/1 | C3+G3+B3+E4/4",
        -8.0,
    );
    stage.play(
        60.0,
        &CHOIR,
        "G3+B3+E4/4 A3+D4+F#4/4 G3+B3+E4/3",
        -14.0,
        (0.7, 0.4),
    );
    stage.bass(60.0, "C2/4 D2/4 C2/4", -9.0);

    for bar in 0..17 {
        let beat = 4.0 * f64::from(bar);
        stage.drum(beat, &tom(74.0), 1.0, "x-.-", -6.0);
        stage.drum(beat, &rim(), 1.0, "xxxx", -12.0);
        stage.drum(beat, &tick(), 0.5, "-.-.-.-x", -14.0);
    }
    stage.drum(68.0, &tom(74.0), 1.0, "x", -6.0);
    stage.drum(68.0, &rim(), 1.0, "x", -12.0);
}

/// Thirty-two bars at 80: opening in G, a vamp, a verse that builds, the last verse in A, a closing.
pub fn hymn(stage: &mut Stage) {
    hymn_opening(stage);
    hymn_build(stage);
    hymn_last_verse(stage);
    hymn_closing(stage);
}

fn hymn_opening(stage: &mut Stage) {
    stage.harp(
        0.0,
        "G2+D3/1 B3/1 D4/1 G4/1 | F#2+D3/1 A3/1 D4/1 E4/1 | E2+B2/1 G3/1 B3/1 F#4/1 | C3+G3/1 B3/1 D4/1 E4/1",
        -9.0,
    );
    stage.strike(0.0, |hertz| bell(hertz, 4.5), "G3/8 E3/8", -17.0);
    stage.play(
        8.0,
        &HORN,
        "B3/1 D4/1 F#4/1.5 G4/.5 E4/3 -/1",
        -15.0,
        (0.5, 0.6),
    );
    for bar in 0..8 {
        let beat = 4.0 * f64::from(bar);
        stage.drum(beat, &tom(64.0), 1.0, "x-.-", -6.0);
        stage.drum(beat, &rim(), 1.0, "xxxx", -14.0);
    }
    // Four bars alike, so that any bar line here may be joined to any other.
    for bar in 4..8 {
        let beat = 4.0 * f64::from(bar);
        stage.harp(
            beat,
            "G2/.5 D3/.5 B3/.5 A3/.5 E3/.5 B3/.5 C3/.5 E4/.5",
            -9.0,
        );
        stage.play(
            beat,
            &STRINGS,
            "G3+B3+D4/2 G3+B3+E4/1 G3+C4+E4/1",
            -18.0,
            (0.7, 0.7),
        );
        stage.bass(beat, "G1/2 E2/1 C2/1", -10.0);
    }
}

fn hymn_build(stage: &mut Stage) {
    const TUNE: &str = "B3/1 D4/1 F#4/1.5 G4/.5 | E4/1.5 F#4/.5 B3/2 | C4/1 E4/1 B4/1.5 A4/.5 | F#4/2 A4/1.5 -/.5 \
        | G4/1 B4/1 D5/1.5 E5/.5 | C5/1.5 B4/.5 G4/1 E4/1 | E4/1 G4/1 C5/1 E5/1 | F#5/2 E5/1 B4/.5 -/.5";
    stage.play(32.0, &HORN, TUNE, -11.5, (0.55, 0.95));
    stage.play(
        32.0,
        &STRINGS,
        "G3+B3+D4/4 G3+B3+E4/4 G3+C4+E4/4 F#3+A3+D4/4 G3+B3+E4/4 G3+C4+E4/4 G3+C4+E4+G4/4 F#3+A3+D4/2 G#3+B3+E4/1.5",
        -16.0,
        (0.6, 1.0),
    );
    stage.play(
        48.0,
        &CHOIR,
        "G4+B4/4 E4+A4/4 E4+G4+C5/4 F#4+D5/2 G#4+B4/1.5",
        -17.0,
        (0.5, 1.0),
    );
    stage.bass(
        32.0,
        "G1/2 G2/2 E2/2 B2/2 C2/2 G2/2 D2/2 A2/2 E2/2 B2/2 A1/2 E2/2 C2/1 C2/1 G2/1 C2/1 D2/1 D2/1 E2/1 E2/.5",
        -7.0,
    );
    stage.harp(
        32.0,
        "G3/1 B3/1 D4/1 B3/1 | E3/1 G3/1 B3/1 G3/1 | C3/1 E3/1 G3/1 E3/1 | D3/1 F#3/1 A3/1 F#3/1 \
        | E3/.5 G3/.5 B3/.5 D4/.5 E4/.5 D4/.5 B3/.5 G3/.5 | A2/.5 E3/.5 A3/.5 C4/.5 E4/.5 C4/.5 A3/.5 E3/.5 \
        | C3/.5 E3/.5 G3/.5 C4/.5 E4/.5 G4/.5 E4/.5 C4/.5 | D3/.5 F#3/.5 A3/.5 D4/.5 E3/.5 G#3/.5 B3/.5",
        -10.0,
    );
    for bar in 0..8 {
        let beat = 32.0 + 4.0 * f64::from(bar);
        let rise = f64::from(bar) * 0.9;
        stage.drum(
            beat,
            &tom(64.0),
            1.0,
            if bar == 7 { "x-x-" } else { "x-x." },
            -7.0 + rise,
        );
        stage.drum(beat, &rim(), 1.0, "xxxx", -13.0 + rise);
        if bar >= 4 {
            let marks = if bar == 7 {
                "x-..x-..x..."
            } else {
                "x-..x-..x-..x..."
            };
            stage.drum(beat, &snare(), 0.25, marks, -19.0 + rise);
        }
    }
    // The roll stops half a beat short: a breath before the last verse.
    stage.roll(60.0, 3.5, &timpani(pitch("E2"), 0.5), 0.125, (-24.0, -12.0));
}

fn hymn_last_verse(stage: &mut Stage) {
    const TUNE: &str = "C#5/1 E5/1 G#5/1.5 A5/.5 | F#5/1.5 G#5/.5 C#5/2 | D5/1 F#5/1 C#6/1.5 B5/.5 | G#5/2 B5/1.5 -/.5 \
        | A4/1 C#5/1 E5/1.5 F#5/.5 | D5/1.5 C#5/.5 A5/1 F#5/1 | F#5/1 A5/1 G#5/1 E5/1 | B4/2 G#4/1 B4/1 \
        | C#5/1.5 E5/.5 F#5/2 | A5/2 F#5/1 D5/1 | E5/1.5 F#5/.5 G#5/2 | A5/3 -/1";
    const CHORDS: &str = "A3+C#4+E4/4 A3+C#4+F#4/4 A3+D4+F#4/4 G#3+B3+E4/4 A3+C#4+F#4/4 A3+B3+D4+F#4/4 A3+D4+F#4/2 G#3+B3+E4/2 \
        G#3+B3+E4/4 A3+C#4+F#4/4 A3+D4+F#4/4 G#3+B3+E4/4 A3+C#4+E4/3";
    stage.put(64.0, &timpani(pitch("A2"), 2.2), -1.0, 0.3);
    stage.put(64.0, &bell(pitch("A4"), 4.5), -8.0, 0.4);
    stage.put(64.0, &bell(pitch("A3"), 4.5), -9.0, 0.4);
    stage.put(64.0, &crash(2.4), -12.0, 0.2);
    stage.play(64.0, &TRUMPET, TUNE, -13.0, (1.0, 0.95));
    stage.play(64.0, &HORN, &octave_lower(TUNE), -11.0, (1.0, 0.95));
    stage.play(64.0, &STRINGS, CHORDS, -13.5, (1.0, 0.9));
    stage.play(
        64.0,
        &CHOIR,
        "A4+C#5/4 A4+C#5/4 A4+D5/4 G#4+B4/4 A4+C#5/4 B4+D5/4 A4+D5/2 G#4+B4/2 G#4+B4/4 A4+C#5/4 A4+D5/4 G#4+B4/4 A4+C#5/3",
        -15.0,
        (1.0, 0.9),
    );
    stage.bass(
        64.0,
        "A1/2 A2/2 F#2/2 F#2/2 D2/2 D2/2 E2/2 E2/2 F#2/2 F#2/2 B1/2 B1/2 D2/2 E2/2 E2/2 E2/2 F#2/2 F#2/2 D2/2 D2/2 E2/2 E2/2 A1/3",
        -4.5,
    );
    for bar in 0..12 {
        let beat = 64.0 + 4.0 * f64::from(bar);
        stage.drum(beat, &kick(), 1.0, "x-x-", -5.0);
        stage.drum(beat, &rim(), 1.0, "xxxx", -6.5);
        stage.drum(beat, &snare(), 0.25, "--..x-..--..x-.x", -14.5);
        if bar % 4 == 0 && bar > 0 {
            stage.put(beat, &timpani(pitch("A2"), 1.6), -5.0, 0.3);
            stage.put(beat, &crash(1.6), -18.0, 0.2);
        }
    }
    stage.roll(
        108.0,
        4.0,
        &timpani(pitch("E2"), 0.5),
        0.125,
        (-22.0, -13.0),
    );
}

fn hymn_closing(stage: &mut Stage) {
    stage.harp(112.0, "A2+E3/1 C#4/1 E4/1 G#4/1 | D3+A3/1 C#4/1 F#4/1 A4/1 | D3+A3/1 B3/1 E4/1 F#4/1 | A2+E3+A3+C#4/4", -9.0);
    stage.play(
        112.0,
        &HORN,
        "C#4/1 E4/1 G#4/1.5 A4/.5 F#4/3 -/1",
        -15.0,
        (0.6, 0.5),
    );
    stage.play(
        112.0,
        &STRINGS,
        "A3+C#4+E4/4 A3+D4+F#4/4 A3+B3+D4/4 A3+C#4+E4/3",
        -19.0,
        (0.7, 0.5),
    );
    stage.bass(112.0, "A1/4 D2/4 D2/4 A1/4", -10.0);
    stage.strike(112.0, |hertz| bell(hertz, 4.5), "A3/8 D3/4 A3/4", -15.0);
    for bar in 28..31 {
        let beat = 4.0 * f64::from(bar);
        stage.drum(beat, &tom(64.0), 1.0, "x-.-", -6.0);
        stage.drum(beat, &rim(), 1.0, "xxxx", -14.0);
    }
    stage.drum(124.0, &tom(64.0), 1.0, "x", -6.0);
    stage.drum(124.0, &rim(), 1.0, "x", -14.0);
}

/// Eight bars in G at 120: harp and flute, the bell on the sixth bar.
pub fn first_show(stage: &mut Stage) {
    stage.harp(
        0.0,
        "G2/.5 D3/.5 A3/.5 B3/.5 D4/.5 B3/.5 A3/.5 D3/.5 | C3/.5 G3/.5 A3/.5 E4/.5 D4/.5 E4/.5 A3/.5 G3/.5 \
        | E3/.5 B3/.5 D4/.5 F#4/.5 G4/.5 F#4/.5 D4/.5 B3/.5 | C3/.5 G3/.5 B3/.5 E4/.5 G4/.5 E4/.5 B3/.5 G3/.5 \
        | A2/.5 E3/.5 G3/.5 C4/.5 D3/.5 A3/.5 C4/.5 -/.5 | G2/.5 D3/.5 G3/.5 B3/.5 D4/.5 G4/.5 B4/.5 D4/.5 \
        | C3/.5 G3/.5 D4/.5 E4/.5 D3/.5 A3/.5 F#4/.5 A4/.5 | G2+D3+B3+G4/4",
        -7.0,
    );
    stage.play(
        8.0,
        &FLUTE,
        "G4/1.5 B4/.5 F#5/1 D5/1 | E5/2 D5/.5 B4/.5 A4/1 | C5/1 E5/1 D5/1 A4/.5",
        -13.0,
        (0.7, 0.9),
    );
    stage.play(
        20.0,
        &FLUTE,
        "B4/1 D5/1 G5/1.5 F#5/.5 | E5/1 C5/1 A4/1 F#5/1 | G5/3",
        -13.0,
        (0.9, 0.7),
    );
    stage.bass(
        0.0,
        "G1/2 D2/2 C2/2 G2/2 E2/2 B2/2 C2/2 G2/2 A1/2 D2/1.5 -/.5 G1/2 G2/2 C2/2 D2/2 G1/3",
        -7.0,
    );
    stage.put(20.0, &bell(pitch("G4"), 4.0), -6.0, 0.4);
    stage.put(20.0, &timpani(pitch("G2"), 1.2), -8.0, 0.3);
    stage.strike(20.0, glockenspiel, "G5+B5/1 -/3 -/4 G5+D6/1", -14.0);
    for bar in 0..7 {
        let beat = 4.0 * f64::from(bar);
        stage.drum(beat, &kick(), 1.0, "x-x-", -9.0);
        stage.drum(beat, &rim(), 1.0, "xxxx", -11.0);
        stage.drum(
            beat,
            &tick(),
            0.5,
            if bar == 4 { "-x-x-x--" } else { "-x-x-x-x" },
            -14.0,
        );
    }
    stage.drum(28.0, &kick(), 1.0, "x", -9.0);
    stage.drum(28.0, &rim(), 1.0, "x", -11.0);
    stage.put(28.0, &triangle(), -20.0, 0.3);
}
