"""Music whose beats are known, and how near a beat tracker comes to them.

    beats.py make FOLDER      scores of the corpus that music21 10.5.1 carries (out of copyright), performed by
                              fluidsynth with the General MIDI sounds of fluid-soundfont-gm: FOLDER/ID.wav, and
                              FOLDER/truth.json with every beat and downbeat in seconds
    beats.py judge FOLDER     FOLDER/ours.json (`abeam gauge FOLDER/*.wav --json`) and librosa 0.11.0's beat
                              tracker on the same files, by the F-measure of mir_eval 0.8.2 (70 ms, nothing trimmed):
                              FOLDER/judged.json

A performance is not the metronome's: notes begin up to a few hundredths of a second off, are louder on a downbeat by
a little, and some pieces hurry, slow down or sway.
"""

import json
import math
import multiprocessing
import random
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

SOUNDS = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
SECONDS = 25
"""Seconds of each piece."""
UNEVEN = 0.008
"""Standard deviation of a note's beginning, seconds."""

PIANO, HARPSICHORD, VIBRAPHONE, MARIMBA, ACCORDION = 0, 6, 11, 12, 21
GUITAR, STEEL_GUITAR, PIZZICATO, HARP = 24, 25, 45, 46
ORGAN, STRINGS, CHOIR, BRASS, FLUTE = 19, 48, 52, 61, 73

# Strokes of a drum kit in one bar: General MIDI key, quarter notes from the bar's start, velocity.
MARCH = [(36, 0, 100), (38, 1, 85), (42, 0.5, 60), (42, 1.5, 60)]
ROCK = [(36, 0, 100), (36, 2, 95), (38, 1, 95), (38, 3, 95)] + [(42, i / 2, 65) for i in range(8)]
JIG = [(36, 0, 100), (38, 1.5, 85), (42, 1, 55), (42, 2.5, 55)]
WALTZ = [(36, 0, 100), (42, 1, 70), (42, 2, 70)]

STEADY, SWAYS, SLOWS, HURRIES = "steady", "sways", "slows", "hurries"
# Percussive or sustained sounds; looked at while the tracker was made, or kept aside.
P, S, SEEN, ASIDE = "percussive", "sustained", "seen", "aside"

# id, score, first measure, quarter notes a beat, beats a minute, instrument, drums, pace, sounds, use
PIECES = [
    ("prelude", "bach/bwv846", 0, 1, 72, PIANO, [], STEADY, P, SEEN),
    ("dance-3-piano", "chopin/mazurka06-2", 8, 1, 126, PIANO, [], SWAYS, P, SEEN),
    ("rag", "joplin/maple_leaf_rag", 0, 1, 92, PIANO, [], STEADY, P, SEEN),
    ("sonata-piano", "mozart/k545/movement1_exposition", 0, 1, 132, PIANO, [], STEADY, P, SEEN),
    ("chorale-guitar", "bach/bwv26.6", 0, 1, 80, GUITAR, [], STEADY, P, SEEN),
    ("reel-band", "ryansMammoth/QueensGuardsReel", 0, 1, 176, STEEL_GUITAR, ROCK, STEADY, P, SEEN),
    ("jig-band", "ryansMammoth/BelleOfTheKitchenJig", 0, 1.5, 116, PIZZICATO, JIG, STEADY, P, SEEN),
    ("hornpipe-band", "ryansMammoth/SmithsHornpipe", 0, 1, 100, ACCORDION, MARCH, HURRIES, P, SEEN),
    ("nine-eight-harp", "ryansMammoth/RideAMileSlipjig", 0, 1.5, 112, HARP, [], STEADY, P, SEEN),
    ("polonaise-piano", "schumann_clara/polonaise_op1n1", 0, 1, 88, PIANO, [], STEADY, P, SEEN),
    ("aria-piano", "verdi/laDonnaEMobile", 0, 0.5, 138, PIANO, [], STEADY, P, SEEN),
    ("six-eight-pizzicato", "mozart/k458/movement1", 0, 1.5, 108, PIZZICATO, [], STEADY, P, SEEN),
    ("fantasia-harpsichord", "cpebach/h186", 0, 1, 100, HARPSICHORD, [], SLOWS, P, SEEN),
    ("allegro-band", "mozart/k80/movement2", 0, 1, 126, BRASS, ROCK, STEADY, P, SEEN),
    ("chorale-3-marimba", "bach/bwv137.5", 0, 1, 104, MARIMBA, [], STEADY, P, SEEN),
    ("reel-pizzicato", "ryansMammoth/RileysFavorite", 0, 2, 95, PIZZICATO, [], SWAYS, P, SEEN),
    ("allegro-strings", "mozart/k155/movement1", 0, 1, 120, STRINGS, [], STEADY, S, SEEN),
    ("minuet-strings", "haydn/opus1no1/movement2", 0, 1, 126, STRINGS, [], SLOWS, S, SEEN),
    ("chorale-choir", "bach/bwv66.6", 0, 1, 76, CHOIR, [], STEADY, S, SEEN),
    ("chorale-organ", "bach/bwv7.7", 0, 1, 84, ORGAN, [], STEADY, S, SEEN),
    ("trio-organ", "corelli/opus3no1/1grave", 0, 1, 66, ORGAN, [], SWAYS, S, SEEN),
    ("presto-strings", "haydn/opus1no1/movement1", 0, 1.5, 120, STRINGS, [], HURRIES, S, SEEN),
    ("rondo-harpsichord", "mozart/k155/movement3", 0, 1, 104, HARPSICHORD, [], STEADY, P, ASIDE),
    ("polonaise-rubato", "schumann_clara/polonaise_op1n3", 0, 1, 92, PIANO, [], SWAYS, P, ASIDE),
    ("reel-guitar", "ryansMammoth/GenSheridansReel", 0, 1, 108, GUITAR, MARCH, STEADY, P, ASIDE),
    ("jig-mandolin", "ryansMammoth/PaddyOCarrolsJig", 0, 1.5, 124, STEEL_GUITAR, JIG, HURRIES, P, ASIDE),
    ("presto-pizzicato", "haydn/opus1no1/movement5", 0, 1, 138, PIZZICATO, [], STEADY, P, ASIDE),
    ("chorale-3-guitar", "bach/bwv153.9", 0, 1, 96, GUITAR, [], STEADY, P, ASIDE),
    ("hymn-piano", "johnson_j_r/lift_every_voice", 0, 1.5, 84, PIANO, [], SLOWS, P, ASIDE),
    ("song-vibraphone", "liliuokalani/aloha_oe", 0, 1, 88, VIBRAPHONE, [], STEADY, P, ASIDE),
    ("minuet-harpsichord", "mozart/k80/movement3", 0, 1, 120, HARPSICHORD, [], STEADY, P, ASIDE),
    ("waltz-band", "bach/bwv17.7", 0, 1, 144, ACCORDION, WALTZ, STEADY, P, ASIDE),
    ("hornpipe-piano", "ryansMammoth/TinWeddingHornpipe", 0, 1, 152, PIANO, [], STEADY, P, ASIDE),
    ("minuet-strings-2", "mozart/k458/movement2", 0, 1, 116, STRINGS, [], STEADY, S, ASIDE),
    ("chorale-organ-2", "bach/bwv10.7", 0, 1, 80, ORGAN, [], STEADY, S, ASIDE),
    ("chorale-3-choir", "bach/bwv19.7", 0, 1, 92, CHOIR, [], STEADY, S, ASIDE),
    ("andante-strings", "mozart/k156/movement4", 0, 1, 76, STRINGS, [], SWAYS, S, ASIDE),
]


def make(folder):
    """Performs every piece that is not there yet."""
    folder.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor() as pool:
        truth = list(pool.map(perform, PIECES, [folder] * len(PIECES)))
    (folder / "truth.json").write_text(json.dumps(truth, indent=1))


def perform(piece, folder):
    """One piece: its sound, and what is true of it."""
    name, score, first, beat, bpm, instrument, drums, pace, sounds, use = piece
    truth = folder / f"{name}.json"
    if truth.exists():
        return json.loads(truth.read_text())
    bars, length, notes = read(score, first, SECONDS * bpm / 60 * beat)
    time = clock(beat, bpm, pace, length)
    chance = random.Random(name)
    lead = 0.3 + 0.9 * chance.random()
    events = []
    for start, end, key in notes:
        on = lead + time(start) + chance.gauss(0, UNEVEN)
        off = max(lead + time(end) - 0.02, on + 0.05)
        accent = 10 if any(abs(start - bar) < 1e-3 for bar in bars) else 0
        velocity = 78 + accent + chance.randint(-8, 8)
        events += [(on, 0x90, key, velocity), (off, 0x80, key, 0)]
    for bar in bars:
        for key, after, velocity in drums:
            on = lead + time(bar + after) + chance.gauss(0, UNEVEN / 2)
            if bar + after < length - 1e-3:
                events += [(on, 0x99, key, velocity), (on + 0.1, 0x89, key, 0)]
    midi = folder / f"{name}.mid"
    midi.write_bytes(midi_file(instrument, events))
    subprocess.run(
        ["fluidsynth", "-q", "-n", "-i", "-g", "0.6", "-r", "44100", "-F", str(folder / f"{name}.wav"), SOUNDS, str(midi)],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    beats = beats_of(bars, beat, length)
    facts = {
        "id": name,
        "sounds": sounds,
        "use": use,
        "bpm": bpm,
        "pace": pace,
        "beats_s": [lead + time(at) for at in beats],
        "downbeats_s": [lead + time(at) for at in bars],
    }
    truth.write_text(json.dumps(facts))
    return facts


def read(score, first, wanted):
    """Where bars begin, the length, and the notes `(start, end, key)`, in quarter notes from the first measure's
    start. A measure that is not full goes on in the next (the two halves of a bar that a repeat divides)."""
    from music21 import corpus

    score = corpus.parse(score)
    measures = list(score.parts[0].getElementsByClass("Measure"))[first:]
    origin = measures[0].offset
    bars, length, reached = [], 0.0, None
    for number, measure in enumerate(measures):
        at = float(measure.offset - origin)
        full = float(measure.barDuration.quarterLength)
        here = float(measure.duration.quarterLength)
        upbeat = number == 0 and here < full - 1e-3
        if at >= wanted:
            break
        length = at + here
        if upbeat:
            continue
        if reached is None or at - reached >= full - 1e-3:
            bars.append(at)
            reached = at
    notes = []
    for part in score.parts:
        for note in part.flatten().stripTies().notes:
            start, held = float(note.offset - origin), float(note.duration.quarterLength)
            if -1e-6 <= start < length - 1e-3 and held > 0 and not note.duration.isGrace:
                notes += [(start, min(start + held, length), pitch.midi) for pitch in note.pitches]
    return bars, length, sorted(set(notes))


def beats_of(bars, beat, length):
    """Beats from those of the upbeat to the end, evenly from each bar's start."""
    upbeat = [bars[0] - i * beat for i in range(1, 20) if bars[0] - i * beat > -1e-3]
    beats = list(reversed(upbeat))
    for start, end in zip(bars, bars[1:] + [length]):
        beats += [start + i * beat for i in range(round((end - start) / beat + 0.01)) if start + i * beat < end - 1e-3]
    return beats


def clock(beat, bpm, pace, length):
    """Seconds after the first measure's start, by quarter notes."""
    step = 1 / 96
    times = [0.0]
    for i in range(int((length + 8) / step)):
        share = i * step / length
        faster = {
            STEADY: 1.0,
            SWAYS: 1 + 0.06 * math.sin(2 * math.pi * i * step / (beat * 16)),
            SLOWS: 1 - 0.14 * max(0.0, share - 0.5) * 2,
            HURRIES: 1 + 0.12 * share,
        }[pace]
        times.append(times[-1] + step * 60 / (beat * bpm * faster))

    def time(quarters):
        place = max(0.0, quarters) / step
        below = min(int(place), len(times) - 2)
        return times[below] + (place - below) * (times[below + 1] - times[below])

    return time


def midi_file(instrument, events):
    """A standard MIDI file (format 0) of `(seconds, status, key, velocity)`; a tick is a 1920th of a second."""
    data = bytes([0, 0xC0, instrument])
    ticks = 0
    for at, status, key, velocity in sorted(events):
        then = round(at * 1920)
        data += variable(max(0, then - ticks)) + bytes([status, key, velocity])
        ticks = max(ticks, then)
    data += variable(1920) + b"\xff\x2f\x00"
    header = b"MThd" + (6).to_bytes(4, "big") + bytes([0, 0, 0, 1]) + (960).to_bytes(2, "big")
    return header + b"MTrk" + len(data).to_bytes(4, "big") + data


def variable(number):
    """A MIDI file's number of variable length."""
    out = bytes([number & 0x7F])
    while number := number >> 7:
        out = bytes([0x80 | number & 0x7F]) + out
    return out


def judge(folder):
    """F-measures of both trackers, and of our downbeats."""
    truth = json.loads((folder / "truth.json").read_text())
    ours = {Path(file["path"]).stem: file for file in json.loads((folder / "ours.json").read_text())["files"]}
    theirs = side_by_side([str(folder / f"{piece['id']}.wav") for piece in truth])
    judged = []
    for piece, beats in zip(truth, theirs):
        mine = ours[piece["id"]]
        judged.append(
            {
                **{key: piece[key] for key in ("id", "sounds", "use", "bpm", "pace")},
                "tempo_bpm": mine["tempo_bpm"],
                "ours": f_measure(piece["beats_s"], mine["beats_s"]),
                "librosa": f_measure(piece["beats_s"], beats),
                "downbeats": f_measure(piece["downbeats_s"], mine["downbeats_s"]),
            }
        )
    (folder / "judged.json").write_text(json.dumps(judged, indent=1))


def side_by_side(paths):
    """librosa's beats of each. What it compiles at its first call is kept on disk: one process does that first, for two
    that write it at once can break one another."""
    fresh = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, mp_context=fresh) as alone:
        alone.submit(librosa_beats, paths[0]).result()
    with ProcessPoolExecutor(mp_context=fresh) as pool:
        return list(pool.map(librosa_beats, paths))


def f_measure(truth, found):
    import mir_eval
    import numpy

    return float(mir_eval.beat.f_measure(numpy.array(truth), numpy.array(found), 0.07)) if found else 0.0


def librosa_beats(path):
    """librosa's beats; kept, as they never change."""
    kept = Path(path).with_suffix(".librosa.json")
    if not kept.exists():
        import librosa

        sound, rate = librosa.load(path, sr=22050)
        beats = librosa.beat.beat_track(y=sound, sr=rate, units="time")[1]
        kept.write_text(json.dumps([float(at) for at in beats]))
    return json.loads(kept.read_text())


if __name__ == "__main__":
    {"make": make, "judge": judge}[sys.argv[1]](Path(sys.argv[2]))
