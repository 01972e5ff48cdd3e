//! A show document with nothing wrong is a show; one with something wrong says what to write instead.

use abeam::show::load::read;
use abeam::show::report::{Look, report};
use abeam::show::{
    ClimbPower, Go, IfMissed, Keep, LegSpeed, LoadError, Manner, Motion, Place, RunUntil, Severity,
    Show, Side, Source, StandPlace, TurnBy, TurnTowards, Vamp, VampStep, load,
};
use abeam::units::{Airspeed, Length, Span, Speed};

const SAMPLE: &str = include_str!("document/sample.toml");

/// The faults of `text` as they are shown.
fn shown(text: &str) -> String {
    let (_, faults) = read("show.toml", text);
    let source = Source {
        name: "show.toml".into(),
        text: text.into(),
    };
    report(&source, &faults, Look::Plain, 90)
}

/// What the sample says once each `(from, to)` is replaced in it.
fn changed(changes: &[(&str, &str)]) -> String {
    changes.iter().fold(SAMPLE.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "the sample has no {from:?}");
        text.replacen(from, to, 1)
    })
}

/// For each change of the sample by itself, what is said about it.
fn each(cases: &[(&str, &str)]) -> String {
    let told = cases.iter().map(|case| {
        let (show, _) = read("show.toml", &changed(&[*case]));
        assert!(show.is_none(), "{case:?} is taken for a show");
        shown(&changed(&[*case]))
    });
    told.collect::<Vec<_>>().join("\n")
}

fn sample() -> Show {
    let (show, faults) = read("sample.toml", SAMPLE);
    assert!(faults.is_empty(), "{}", shown(SAMPLE));
    show.expect("no fault and no show")
}

#[test]
fn the_sample_is_a_show_and_every_key_arrives() {
    let show = sample();
    assert_eq!(show.title, "Lantern Lake evening display");
    assert_eq!(show.profile, "high");
    let profiles: Vec<&str> = show.profiles.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(profiles, ["high", "low"]);

    assert_eq!(show.start.map(|t| t.to_string()), Some("19:40:00".into()));
    assert_eq!(
        show.slot_ends.map(|t| t.to_string()),
        Some("19:54:00".into())
    );
    let zero = show.zero.as_ref().expect("a zero");
    assert_eq!(zero.anchor.to_string(), "arrival.abeam");
    assert_eq!(&SAMPLE[zero.at.clone()], "\"arrival.abeam\"");
    assert!(show.knock_it_off_words.contains("paused") && show.accident_words.contains("stewards"));

    assert_eq!(show.site.elevation, Length::from_m(412.0 * 0.3048));
    assert_eq!(show.site.stand, StandPlace(Length::from_m(-40.0)));
    assert!((show.site.line_bearing.deg() - 64.0).abs() < 1e-9);
    assert!(show.site.centre.is_some_and(|(lat, lon)| lat > lon));
    assert_eq!(show.day.wind.len(), 2);
    assert!(
        (show.day.wind[0].gust.kt() - 11.0).abs() < 1e-9,
        "9 kt gusting 20"
    );
    assert_eq!(show.day.wind[1].height, Length::from_m(3000.0 * 0.3048));
    assert_eq!(
        show.aircraft[0].climb_power,
        Some(ClimbPower::Everywhere(Speed::from_mps(60.0)))
    );

    let arrival = &show.figures[0];
    assert_eq!((arrival.aircraft.len(), arrival.from), (2, Side::Right));
    let Manner::Flown(legs) = &arrival.manner else {
        panic!("the arrival is flown")
    };
    assert!(matches!(legs[0].motion, Motion::Hold { expect, .. } if expect == Span::from_s(60.0)));
    let ends = |leg: usize| match legs[leg].motion {
        Motion::Run { until, pitch: None } => (until, legs[leg].pass),
        ref other => panic!("{other:?}"),
    };
    assert_eq!(ends(1), (RunUntil::Centre, true));
    assert_eq!(ends(2), (RunUntil::Time(Span::from_s(20.0)), false));
    let Some(LegSpeed::Changed { to, gain }) = legs[2].speed else {
        panic!("{:?}", legs[2])
    };
    assert_eq!(to, Airspeed::Calibrated(Speed::from_kt(300.0)));
    assert!((gain.mps2() - 4.0 * 1852.0 / 3600.0).abs() < 1e-9);
    assert!(matches!(
        legs[3].motion,
        Motion::Turn {
            towards: TurnTowards::Away,
            by: TurnBy::Bank(_),
            ..
        }
    ));
    assert!(matches!(
        ends(4),
        (
            RunUntil::Place(Place {
                side: Some(Side::Right),
                ..
            }),
            false
        )
    ));
    let Manner::Timed { takes, passes } = &show.figures[2].manner else {
        panic!("the mirror is timed")
    };
    assert_eq!((*takes, passes.len()), (Span::from_s(38.0), 2));
    assert_eq!(
        show.figures[2].hush,
        Some((Span::from_s(-8.0), Span::from_s(12.0)))
    );
    let memorial = &show.figures[3];
    assert_eq!(
        (memorial.gates.len(), memorial.spread),
        (2, Span::from_ms(1500))
    );
    assert!(matches!(memorial.manner_in(&"low".into()), Manner::Flown(legs) if legs.len() == 2));
    assert!(matches!(memorial.manner_in(&"high".into()), Manner::Flown(legs) if legs.len() == 3));

    assert_eq!(show.blocks[0].keep, Keep::Must);
    assert!(show.blocks[1].starts.is_none());
    assert_eq!(show.silences[0].until.anchor.to_string(), "memorial.heard");
    assert_eq!(
        (show.calls[0].who.as_str(), show.calls[0].text.as_str()),
        ("coordinator", "Smoke on")
    );
    let hymn = &show.tracks[0];
    assert_eq!(hymn.hits[0], ("last_verse".into(), Span::from_ms(72_480)));
    assert_eq!(hymn.entries, [Span::ZERO, Span::from_s(16.0)]);
    assert!(matches!(
        hymn.vamp,
        Some(Vamp {
            step: VampStep::Bar,
            planned: 2,
            ..
        })
    ));
    // Four beats at 75 a minute.
    let bars = show.tracks[2].bars.expect("its bars");
    assert_eq!(
        (bars.length, bars.first),
        (Span::from_ms(3_200), Span::from_ms(1_600))
    );
    let meet = hymn.meets.as_ref().expect("a meet");
    assert_eq!(
        (meet.hit_at, meet.if_missed),
        (Span::from_ms(72_480), IfMissed::Late)
    );
    assert_eq!(
        (hymn.level.map(|l| l.lufs()), hymn.trim.db()),
        (Some(-18.0), -1.0)
    );
    assert_eq!((show.tracks[1].go, show.tracks[1].under), (Go::Hand, true));
}

#[test]
fn what_is_left_out_has_its_default() {
    let text = r#"
[show]
title = "Small"
[profile.only]
order = ["pass"]
[site]
elevation = "0 ft"
line_bearing = 90
line_distance = "150 m"
[aircraft.solo]
[[figure]]
id = "pass"
takes = "20 s"
[[track]]
id = "bed"
file = "bed.flac"
starts = "show"
[[block]]
id = "words"
text = "Good evening."
"#;
    let (show, faults) = read("small.toml", text);
    assert!(faults.is_empty(), "{}", shown(text));
    let show = show.expect("no fault and no show");
    assert_eq!(show.day.qnh.pa(), 101_325.0);
    assert!((show.day.temperature.c() - 15.0).abs() < 1e-9);
    assert_eq!(show.day.wind[0].speed.mps(), 0.0);
    assert_eq!(show.narrator.words_per_minute, 130.0);
    assert_eq!(show.hush_above.db(), -12.0);
    assert_eq!(show.figures[0].aircraft[0], "solo");
    assert!(matches!(show.figures[0].manner, Manner::Timed { .. }));
    let track = &show.tracks[0];
    assert_eq!(
        (track.entries[0].us(), track.duck.db(), track.under),
        (0, 12.0, false)
    );
    assert_eq!(format!("{:?}", show.blocks[0].keep), "Should");
}

#[test]
fn quantities_say_their_units() {
    let told = each(&[
        ("speed = \"350 kt\"", "speed = 350"),
        ("speed = \"350 kt\"", "speed = \"350 knotz\""),
        ("speed = \"350 kt\"", "speed = \"-350 kt\""),
        ("speed = \"350 kt\"", "speed = \"0 kt\""),
        ("speed = \"350 kt\"", "speed = nan"),
        ("speed = \"350 kt\"", "speed = \"inf kt\""),
        ("speed = \"350 kt\"", "speed = [350]"),
        ("height = \"500 ft\"", "height = \"-500 ft\""),
        ("height = \"500 ft\"", "height = 500"),
        ("line_distance = \"230 m\"", "line_distance = \"0 m\""),
        ("temperature = \"24 C\"", "temperature = 24"),
        ("temperature = \"24 C\"", "temperature = \"24\""),
        ("qnh = \"1009 hPa\"", "qnh = \"100.9 hPa\""),
        ("takes = \"38 s\"", "takes = \"-38 s\""),
        ("takes = \"38 s\"", "takes = 38"),
        ("start   = \"19:40:00\"", "start = 19:40:00"),
        ("start   = \"19:40:00\"", "start = \"25:40\""),
        ("from = 230", "from = 400"),
        ("line_bearing  = 64", "line_bearing = inf"),
        ("line_bearing  = 64", "line_bearing = \"64 deg\""),
        ("words_per_minute = 130", "words_per_minute = 0"),
        ("stretch = \"2 %\"", "stretch = \"200 %\""),
        ("gust = \"20 kt\"", "gust = \"4 kt\""),
        ("stand = \"40 m left\"", "stand = \"40 m\""),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn unknown_keys_and_words_name_the_nearest() {
    let told = each(&[
        ("speed = \"350 kt\"", "sped = \"350 kt\""),
        ("slot_ends", "slot_end"),
        ("[narrator]", "[narator]"),
        ("go = \"auto\"", "go = \"automatic\""),
        ("keep = \"must\"", "keep = \"always\""),
        ("from = \"left\"", "from = \"west\""),
        ("pass = true", "pass = \"yes\""),
        ("trim = \"-1 dB\"", "zzzzzz = 1"),
        ("[[silence]]", "[silence]"),
        ("[site]", "[[site]]"),
        ("towards = \"away\"", "towards = \"outwards\""),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn what_loops_or_is_cut_out_must_agree_with_the_rest_of_its_track() {
    let cuts = |cuts: &str| format!("stretch = \"2 %\"\ncuts = [{cuts}]");
    let of_hymn = |more: String| ("stretch = \"2 %\"".to_owned(), more);
    let changes: Vec<(String, String)> = [
        cuts("{ from = \"0:20\", to = \"0:10\" }"),
        cuts("{ from = \"0:20\", to = \"0:30\" }, { from = \"0:25\", to = \"0:35\" }"),
        cuts("{ from = \"1:10\", to = \"1:20\" }"),
        cuts("{ from = \"0:10\", to = \"0:20\" }"),
        cuts("{ from = \"0:50\", to = \"1:00\" }"),
        "stretch = \"2 %\"\nloop = { from = \"0:20\", to = \"0:30\" }".to_owned(),
        "stretch = \"2 %\"\nloop = { from = \"0:20\", to = \"0:20.5\" }".to_owned(),
    ]
    .into_iter()
    .map(of_hymn)
    .collect();
    let changes: Vec<(&str, &str)> = changes
        .iter()
        .map(|(a, b)| (a.as_str(), b.as_str()))
        .collect();
    insta::assert_snapshot!(each(&changes));
}

#[test]
fn ids_are_found_and_are_one_of_a_kind() {
    let told = each(&[
        (
            "order = [\"arrival\", \"slow-pass\"",
            "order = [\"arival\", \"slow-pass\"",
        ),
        (
            "order = [\"arrival\", \"memorial\", \"departure\"]",
            "order = []",
        ),
        ("aircraft = \"solo\"", "aircraft = \"sola\""),
        ("aircraft = [\"solo\", \"second\"]", "aircraft = []"),
        ("id = \"bed\"", "id = \"memorial\""),
        ("id = \"bed\"", "id = \"\""),
        ("id = \"bed\"", "id = \"low bed\""),
        ("id = \"bed\"", "id = \"show\""),
        ("id = \"bed\"", "name = \"bed\""),
        ("profile = \"high\"", "profile = \"hihg\""),
        ("[figure.versions.low]", "[figure.versions.lo]"),
        ("hit = \"last_verse\"", "hit = \"last_vers\""),
        ("last_verse = \"1:12.480\"", "end = \"1:12.480\""),
        ("\"memorial.inbound - 15 s\"", "\"memorail.inbound - 15 s\""),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn times_name_points_that_exist() {
    let told = each(&[
        ("memorial.abeam - 4 s", "memorial.abeam.2 - 4 s"),
        ("memorial.gate.2 - 10 s", "memorial.gate.3 - 10 s"),
        ("memorial.gate.2 - 10 s", "memorial.gates - 10 s"),
        ("memorial.gate.2 - 10 s", "slow-pass.inbound"),
        ("memorial.gate.2 - 10 s", "departure.abeam"),
        ("memorial.gate.2 - 10 s", "memorial.cross"),
        ("memorial.gate.2 - 10 s", "hymn.last_vers"),
        ("memorial.gate.2 - 10 s", "memorial-words.abeam"),
        ("memorial.gate.2 - 10 s", "crossing.start"),
        ("memorial.gate.2 - 10 s", "filler.end"),
        ("memorial.gate.2 - 10 s", "memorial"),
        ("memorial.gate.2 - 10 s", "memorial.abeam - soon"),
        ("start   = \"19:40:00\"", ""),
        ("\"arrival.abeam\"", "\"slow-pass.abeam\""),
        ("\"arrival.abeam\"", "\"show\""),
        ("memorial.heard + 8 s", "memorial.abeam - 8 s"),
        ("memorial.abeam - 4 s", "memorial.inbound - 40 s"),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn circles_are_spelt_out() {
    let around = "\"arrival.end\"\n[[block]]\nid = \"a\"\ntext = \"A.\"\nstarts = ";
    let told = each(&[
        // Two blocks.
        (
            "text = \"Lantern Lake is 14 km long.\"",
            &format!("text = \"Fill.\"\nstarts = \"a.end\"\nends_by = {around}\"filler.end\""),
        ),
        // A block and itself.
        (
            "\"memorial.inbound - 15 s\"",
            "\"memorial-words.start - 15 s\"",
        ),
        // A figure that waits for the music that meets it.
        (
            "starts = \"slow-pass.end + 5 s\"",
            "starts = \"hymn.start\"",
        ),
        // Show zero and what it starts.
        (
            "id = \"arrival\"",
            "id = \"arrival\"\nstarts = \"show + 10 s\"",
        ),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn figures_are_flown_or_timed() {
    let told = each(&[
        ("takes = \"38 s\"", "takes = \"38 s\"\nlegs = []"),
        ("takes = \"25 s\"", ""),
        (
            "passes = [\"12 s\", \"30 s\"]",
            "passes = [\"30 s\", \"12 s\"]",
        ),
        (
            "passes = [\"12 s\", \"30 s\"]",
            "passes = [\"12 s\", \"50 s\"]",
        ),
        (
            "hush = { from = \"-8 s\", until = \"12 s\" }",
            "hush = { from = \"8 s\", until = \"2 s\" }",
        ),
        ("{ run = \"for 20 s\", speed", "{ speed"),
        ("{ run = \"for 20 s\", speed", "{ run = \"20 s\", speed"),
        (
            "{ run = \"for 20 s\", speed",
            "{ hold = \"1 nmi\", run = \"for 20 s\", speed",
        ),
        ("run = \"to 2 nmi right\"", "run = \"to 0 nmi\""),
        ("gain = \"4 kt/s\"", "height = \"500 ft\""),
        ("gain = \"4 kt/s\"", "gain = \"-4 kt/s\""),
        ("speed = \"to 300 kt cas\"", "speed = \"300 kt cas\""),
        ("bank = \"60 deg\"", "bank = \"60 deg\", g = 2"),
        ("bank = \"60 deg\"", "bank = \"90 deg\""),
        (", bank = \"60 deg\"", ""),
        ("g = 2", "g = 1"),
        ("from = \"left\"", ""),
        ("expect = \"60 s\", ", ""),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn tracks_can_be_played_as_written() {
    let told = each(&[
        ("file = \"hymn.flac\"", "file = \"/music/hymn.flac\""),
        ("file = \"hymn.flac\"", "file = \"C:\\\\hymn.flac\""),
        ("file = \"hymn.flac\"", "file = \"\""),
        ("file = \"hymn.flac\"", ""),
        ("to = \"0:56.000\"", "to = \"0:40.000\""),
        ("step = \"bar\"", "step = \"20 s\""),
        ("step = \"bar\"", "step = \"beat\""),
        (
            "entries = [\"0:00\", \"0:16.000\"]",
            "entries = [\"0:00\", \"1:20.000\"]",
        ),
        ("entries = [\"0:00\", \"0:16.000\"]", "entries = []"),
        ("last_verse = \"1:12.480\"", "last_verse = \"-1:12.480\""),
        ("fade_out = \"4 s\"", "fade_out = \"-4 s\""),
        ("go = \"hand\"\nstarts = \"clock 19:41:00\"", ""),
        (
            "ends = \"hymn.last_verse - 10 s\"",
            "ends = \"clock 19:41:00\"",
        ),
        ("if_missed = \"late\"", "if_missed = \"never\""),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn bars_are_lengths_that_make_sense() {
    let told = each(&[
        ("tempo = \"75 bpm\"", "tempo = \"75\""),
        ("tempo = \"75 bpm\"", "tempo = \"4000 bpm\""),
        ("tempo = \"75 bpm\"", ""),
        ("bar = \"4 beats\"", "bar = \"4.5 beats\""),
        ("bar = \"4 beats\"", "bar = \"4 bars\""),
        ("bar = \"4 beats\"", "bar = \"5000 beats\""),
        ("bar = \"4 beats\"\n", ""),
        ("planned = 2", "planned = 1.5"),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn what_is_no_toml_is_said_in_plain_words() {
    let told = each(&[
        ("speed = \"350 kt\"", "speed = 350 kt"),
        (
            "title   = \"Lantern Lake evening display\"",
            "title = \"Lantern",
        ),
        ("profile = \"high\"", "profile ="),
        (
            "profile = \"high\"",
            "profile = \"high\"\nprofile = \"low\"",
        ),
        ("[narrator]", "[narrator"),
        (
            "gates = [\"2 nmi\", \"1 nmi\"]",
            "gates = [\"2 nmi\", \"1 nmi\"",
        ),
        ("duck = \"12 dB\"", "duck"),
        ("text = \"Smoke on\"", "text = “Smoke on”"),
        ("text = \"Smoke on\"", "text = \"\"\"Smoke on"),
        ("text = \"Smoke on\"", "text = \"Smoke \\on\""),
        ("under = true", "under = True"),
        ("[figure.versions.low]", "[[figure.versions.low"),
        ("from = 230", "from = 230 deg"),
        ("knock_it_off = ", "knock it off = "),
    ]);
    insta::assert_snapshot!(told);
}

#[test]
fn all_faults_are_told_at_once() {
    let text = changed(&[
        ("slot_ends", "slot_end"),
        ("speed = \"350 kt\"", "speed = 350"),
        ("id = \"bed\"", "id = \"memorial\""),
        ("\"memorial.inbound - 15 s\"", "\"memorail.inbound - 15 s\""),
    ]);
    let (show, faults) = read("show.toml", &text);
    assert!(show.is_none());
    assert_eq!(faults.len(), 4, "{}", shown(&text));
}

#[test]
fn a_figure_nobody_flies_is_advice_and_the_show_loads() {
    let text = changed(&[("\"slow-pass\", \"mirror\", ", "\"slow-pass\", ")]);
    let (show, faults) = read("show.toml", &text);
    assert!(show.is_some(), "{}", shown(&text));
    assert_eq!(faults[0].severity, Severity::Advice);
}

#[test]
fn an_empty_document_says_what_it_needs() {
    insta::assert_snapshot!(shown(""));
}

#[test]
fn files_that_are_no_document_are_refused_with_a_reason() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name);
    let write = |name: &str, bytes: &[u8]| std::fs::write(path(name), bytes).expect("written");
    let outside = |name: &str| match load(&path(name)) {
        Err(LoadError::Outside(why)) => why,
        other => panic!("{name}: {other:?}"),
    };

    assert!(outside("none.toml").ends_with("there is no such file"));
    std::fs::create_dir(path("folder")).expect("a folder in it");
    assert!(outside("folder").contains("this is a folder"));
    write("huge.toml", &vec![b'#'; 50_000_000]);
    assert!(outside("huge.toml").contains("larger than 4 MB"));

    write("latin.toml", b"[show]\ntitle = \"F\xeate\"\n");
    match load(&path("latin.toml")) {
        Err(LoadError::Faults(source, faults)) => {
            let text = report(&source, &faults, Look::Plain, 90);
            assert!(text.contains("latin.toml:2:11]"), "{text}");
            assert!(
                text.contains("not UTF-8") && text.contains("byte 18"),
                "{text}"
            );
        }
        other => panic!("{other:?}"),
    }

    write("sample.toml", SAMPLE.as_bytes());
    assert!(load(&path("sample.toml")).is_ok());
    write(
        "bom.toml",
        format!("\u{feff}{}", SAMPLE.replace('\n', "\r\n")).as_bytes(),
    );
    assert!(load(&path("bom.toml")).is_ok());
}

/// A generator of the same numbers every time (xorshift).
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % n.max(1) as u64) as usize
    }
}

#[test]
fn a_damaged_document_is_a_show_or_has_a_fault_and_never_panics() {
    const SCRAPS: [&str; 24] = [
        "\"",
        "[",
        "]",
        "[[",
        "{",
        "}",
        "=",
        ",",
        ".",
        "-",
        "\n",
        "\"\"\"",
        "nan",
        "1e999",
        "-1",
        "0",
        "true",
        "[[figure]]\n",
        "show.abeam",
        "hymn.end",
        "memorial.start",
        "é",
        "\u{0}",
        "9999999999999999999999",
    ];
    let mut dice = Dice(0x9E37_79B9_7F4A_7C15);
    let mut shows = 0;
    for round in 0..4000 {
        let mut bytes = SAMPLE.as_bytes().to_vec();
        for _ in 0..=dice.below(4) {
            let at = dice.below(bytes.len());
            let end = (at + dice.below(12)).min(bytes.len());
            let scrap = SCRAPS[dice.below(SCRAPS.len())].bytes();
            match dice.below(4) {
                0 => drop(bytes.drain(at..end)),
                1 => drop(bytes.splice(at..at, scrap)),
                2 => drop(bytes.splice(at..end, scrap)),
                _ => bytes[at] = dice.below(256) as u8,
            }
        }
        let text = String::from_utf8_lossy(&bytes);
        let (show, faults) = read("show.toml", &text);
        let error = faults.iter().any(|fault| fault.severity == Severity::Error);
        assert_eq!(show.is_none(), error, "round {round}: {faults:?}\n{text}");
        assert!(!shown(&text).contains("Failed to read"), "round {round}");
        shows += usize::from(show.is_some());
    }
    // Both ways out are taken: some damage falls into notes and texts.
    assert!((100..3900).contains(&shows), "{shows} of 4000 were shows");
}

#[test]
fn deep_nesting_and_monstrous_documents_are_answered() {
    for text in [
        format!("a = {}", "[".repeat(100_000)),
        format!("a = {}", "{ a = ".repeat(100_000)),
        format!("{}a = 1", "a.".repeat(100_000)),
        format!("[{}a]", "a.".repeat(100_000)),
        "x = 1\n".repeat(100_000),
        (0..50_000).map(|i| format!("k{i} = 1\n")).collect(),
        "[[block]]\nid = \"a\"\ntext = \"A.\"\nstarts = \"b.end\"\n".repeat(20_000),
        "#".repeat(5_000_000),
        // Everything compared with everything.
        format!(
            "[aircraft.a]\n[profile.p]\norder = [{}]\n{}",
            "\"f\",".repeat(400_000),
            (0..60_000)
                .map(|i| format!("[[figure]]\nid = \"f{i}\"\n"))
                .collect::<String>()
        ),
    ] {
        let (show, faults) = read("show.toml", &text);
        assert!(show.is_none() && !faults.is_empty());
        assert!(shown(&text).len() < 100_000);
    }
}

#[test]
fn a_long_chain_of_times_is_followed_to_its_end() {
    let block = |i: usize, starts: &str| {
        format!("[[block]]\nid = \"b{i}\"\ntext = \"A.\"\nstarts = \"{starts}\"\n")
    };
    let chain: String = (0..1900)
        .map(|i| block(i, &format!("b{}.end", i + 1)))
        .collect();
    let open = format!("{SAMPLE}\n{chain}{}", block(1900, "show"));
    assert!(read("show.toml", &open).0.is_some());
    let closed = format!("{SAMPLE}\n{chain}{}", block(1900, "b0.start"));
    let (show, faults) = read("show.toml", &closed);
    assert!(show.is_none());
    assert_eq!(faults.len(), 1);
    assert!(
        faults[0]
            .message
            .starts_with("these times wait for each other: b0.start → b1.end")
    );
}

/// A table written as something else is answered with what it holds.
#[test]
fn a_table_that_is_none_is_answered_with_its_keys() {
    let text = include_str!("document/sample.toml");
    let hushed = text.replacen(
        "\nspread = \"1.5 s\"",
        "\nhush = \"abeam - 2 s\"\nspread = \"1.5 s\"",
        1,
    );
    let (_, faults) = read("show.toml", &hushed);
    let fault = faults
        .iter()
        .find(|fault| fault.message.contains("`hush`"))
        .expect("a fault");
    assert!(
        fault
            .help
            .contains("hush = { from = \"-4 s\", until = \"10 s\" }"),
        "{}",
        fault.help
    );
}
