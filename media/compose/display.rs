//! The pieces that go with fast flying: the driving one with its break, and the sting.

use super::drums::{crash, kick, rim, snare, tick, timpani, tom};
use super::score::{octave_lower, pitch};
use super::stage::Stage;
use super::voices::{HORN, SPICCATO, STRINGS, TROMBONE, TRUMPET, bell};

/// A bar of the drive: the bass's root and fifth, and the strings' figure of one beat.
type Drive = (&'static str, &'static str, &'static str);

const ROUND: [Drive; 8] = [
    ("E2", "B2", "E4/.25 B3/.25 G4/.25 B3/.25"),
    ("E2", "D3", "E4/.25 B3/.25 F#4/.25 B3/.25"),
    ("C2", "G2", "E4/.25 C4/.25 G4/.25 C4/.25"),
    ("D2", "A2", "F#4/.25 D4/.25 A4/.25 D4/.25"),
    ("E2", "B2", "G4/.25 B3/.25 E4/.25 B3/.25"),
    ("G2", "D3", "G4/.25 D4/.25 B4/.25 D4/.25"),
    ("A1", "E2", "A4/.25 C4/.25 E4/.25 C4/.25"),
    ("B1", "F#2", "F#4/.25 B3/.25 D#4/.25 B3/.25"),
];

/// Twenty-eight bars in E minor at 150: drive, tune, the break for drums on the eleventh bar, the tune again and higher.
pub fn fast(stage: &mut Stage) {
    const TUNE: &str = "B4/1.5 E5/1.5 D5/1 | B4/.5 A4/.5 F#4/1 A4/2 | G4/1.5 C5/1.5 E5/1 | D5/.5 C5/.5 A4/1 F#4/2 \
        | G4/1.5 B4/1.5 E5/1 | D5/.5 E5/.5 G5/1 D5/2 | C5/1.5 E5/1.5 A5/1";
    const TUNE_END: &str = "F#5/1 D#5/1 B4/1.5 -/.5";
    const HIGH: &str = "G5/1.5 E5/1.5 B5/1 | A5/.5 G5/.5 F#5/1 D5/2 | E5/1.5 G5/1.5 C6/1 | A5/.5 B5/.5 A5/1 F#5/2 \
        | E5/1.5 A5/1.5 C6/1 | B5/1.5 A5/.5 F#5/1 D#5/1";

    stage.put(0.0, &timpani(pitch("E2"), 0.9), -7.0, 0.3);
    drive(stage, 0.0, &ROUND[..2], false);
    drive(stage, 8.0, &ROUND, true);
    stage.play(8.0, &HORN, TUNE, -9.5, (0.8, 1.0));
    stage.play(36.0, &HORN, TUNE_END, -9.5, (1.0, 1.0));
    stage.roll(37.5, 2.0, &snare(), 0.125, (-22.0, -11.0));

    fast_break(stage);

    drive(stage, 48.0, &ROUND, true);
    stage.put(48.0, &crash(1.6), -13.0, 0.2);
    stage.play(48.0, &TRUMPET, TUNE, -11.0, (0.95, 1.0));
    stage.play(76.0, &TRUMPET, TUNE_END, -11.0, (1.0, 1.0));
    stage.play(48.0, &HORN, &octave_lower(TUNE), -11.0, (0.95, 1.0));
    let climb = [ROUND[4], ROUND[3], ROUND[2], ROUND[3], ROUND[6], ROUND[7]];
    drive(stage, 80.0, &climb, true);
    stage.put(80.0, &crash(1.6), -11.0, 0.2);
    stage.play(80.0, &TRUMPET, HIGH, -11.5, (1.0, 1.0));
    stage.play(80.0, &HORN, &octave_lower(HIGH), -10.5, (1.0, 1.0));
    stage.play(
        80.0,
        &STRINGS,
        "G4+B4/4 F#4+A4/4 E4+G4/4 F#4+A4/4 E4+A4/4 D#4+F#4/4",
        -14.0,
        (1.0, 1.0),
    );

    let run = "E4/.25 F#4/.25 G4/.25 A4/.25 B4/.25 A4/.25 B4/.25 D5/.25 E5/.25 D5/.25 E5/.25 F#5/.25 G5/.25 A5/.25 -/.5";
    stage.play(104.0, &SPICCATO, run, -7.0, (1.0, 1.0));
    stage.play(104.0, &SPICCATO, &octave_lower(run), -7.0, (1.0, 1.0));
    stage.drum(104.0, &kick(), 0.5, "XxXxXxX-", -6.0);
    stage.drum(104.0, &snare(), 0.25, "x...x...x...xx--", -12.0);
    stroke(stage, 108.0);
    stage.play(108.0, &TRUMPET, "E5+B5/1", -11.0, (1.0, 1.0));
    stage.play(108.0, &TROMBONE, "E3+B3+G4/1", -12.0, (1.0, 1.0));
}

/// Bars of drums, bass and bowed figures; with the full kit or kick and cymbal alone.
fn drive(stage: &mut Stage, beat: f64, bars: &[Drive], full: bool) {
    for (bar, (root, fifth, figure)) in bars.iter().enumerate() {
        let beat = beat + 4.0 * bar as f64;
        let before_break = beat == 36.0;
        let line = format!(
            "{root}/.5 {root}/.5 {root}/.5 {fifth}/.5 {root}/.5 {root}/.5 {fifth}/.5 {root}/.4"
        );
        stage.bass(beat, &line, -5.0);
        stage.drum(
            beat,
            &kick(),
            0.25,
            if before_break {
                "X---x-x-X-x-----"
            } else {
                "X-----x-X-x---x-"
            },
            -5.0,
        );
        stage.drum(beat, &rim(), 1.0, "xxxx", -7.0);
        stage.drum(
            beat,
            &tick(),
            0.25,
            if before_break {
                "x.x.x.x.x.x.x---"
            } else {
                "x.x.x.x.x.x.x.x."
            },
            -14.0,
        );
        if full {
            stage.drum(
                beat,
                &snare(),
                0.25,
                if before_break {
                    "----X--.----X---"
                } else {
                    "----X--.--.-X--."
                },
                -9.0,
            );
        }
        for count in 0..if before_break { 3 } else { 4 } {
            stage.play(
                beat + f64::from(count),
                &SPICCATO,
                figure,
                -12.5,
                (0.9, 0.9),
            );
        }
    }
}

/// The break: one stroke of everything, then two bars of drums.
fn fast_break(stage: &mut Stage) {
    stroke(stage, 40.0);
    stage.play(40.0, &TRUMPET, "E5+B5/.5", -11.0, (1.0, 1.0));
    stage.play(40.0, &TROMBONE, "E3+B3+E4/.5", -11.0, (1.0, 1.0));
    stage.put(40.0, &bell(pitch("E4"), 3.0), -14.0, 0.4);
    stage.drum(40.0, &kick(), 0.5, "--x-X--x X-x-X-x-", -5.0);
    stage.drum(40.0, &rim(), 1.0, "xxxx xxxx", -9.0);
    stage.drum(
        40.0,
        &tom(165.0),
        0.25,
        "----x.x---x.---- x.x---x.--x.----",
        -6.0,
    );
    stage.drum(
        40.0,
        &tom(110.0),
        0.25,
        "--------x.--x.x- ----x.----x.x.x-",
        -5.0,
    );
    stage.drum(
        40.0,
        &snare(),
        0.25,
        "----------------  --------....xxX-",
        -9.0,
    );
}

fn stroke(stage: &mut Stage, beat: f64) {
    stage.put(beat, &timpani(pitch("E2"), 1.5), -1.0, 0.3);
    stage.put(beat, &kick(), -2.0, 0.1);
    stage.put(beat, &snare(), -7.0, 0.2);
    stage.put(beat, &crash(1.9), -8.0, 0.2);
}

/// Two bars in D at 120: a run up, and the chord on the third beat.
pub fn sting(stage: &mut Stage) {
    let run = "D4/.25 F#4/.25 A4/.25 C#5/.25 D5/.25 F#5/.25 -/.5";
    stage.put(0.0, &timpani(pitch("A2"), 0.8), -7.0, 0.2);
    stage.drum(0.0, &rim(), 1.0, "xx", -8.0);
    stage.drum(0.0, &snare(), 0.25, "...xxx--", -14.0);
    stage.play(0.0, &TRUMPET, run, -12.0, (0.7, 1.0));
    stage.play(0.0, &HORN, &octave_lower(run), -12.0, (0.7, 1.0));
    stage.put(2.0, &timpani(pitch("D2"), 2.0), 0.0, 0.3);
    stage.put(2.0, &kick(), -2.0, 0.1);
    stage.put(2.0, &crash(2.4), -9.0, 0.3);
    stage.put(2.0, &bell(pitch("D4"), 3.0), -11.0, 0.4);
    stage.play(2.0, &TRUMPET, "F#5+A5/2.5", -11.0, (1.0, 1.0));
    stage.play(2.0, &HORN, "A4+D5/2.5", -11.0, (1.0, 1.0));
    stage.play(2.0, &TROMBONE, "D3+A3+F#4/2.5", -11.0, (1.0, 1.0));
    stage.bass(2.0, "D2/3", -5.0);
    stage.drum(2.0, &rim(), 1.0, "-xxx", -12.0);
}
