//! The versions of all blocks are the best choice there is: every choice is tried, by another program.

mod planned;

use abeam::script::Reading;
use abeam::show::Keep;
use abeam::show::load::read;
use abeam::timeline::{Cause, Facts, Plan, SpokenBlock, Version};
use abeam::units::Span;
use planned::{PASS, document, planned};

const SHOWS: usize = 500;
const MOST_BLOCKS: u64 = 10;
/// Shows larger than that, and the blocks in them, most of which hang on each other: 3^14 choices at most.
const LARGE_SHOWS: usize = 5;
const LARGE: usize = 14;

/// Numbers that look thrown: splitmix64.
struct Dice(u64);

impl Dice {
    fn below(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % sides
    }

    fn once_in(&mut self, times: u64) -> bool {
        self.below(times) == 0
    }
}

/// Seconds of the show, or seconds after the end of a block.
#[derive(Clone, Copy)]
enum At {
    Show(i64),
    EndOf(usize, i64),
}

struct Words {
    keep: Keep,
    starts: At,
    ends_by: Option<At>,
    /// What is waited for after half of the words.
    wait: Option<At>,
    full: i64,
    short: Option<i64>,
}

struct Gap {
    words: Vec<Words>,
    /// The pass is abeam at 0: too loud from, until.
    hush: Option<(i64, i64)>,
    silences: Vec<(At, i64)>,
}

impl At {
    fn written(self) -> String {
        match self {
            At::Show(s) => format!("show + {s} s"),
            At::EndOf(block, s) => format!("b{block}.end + {s} s"),
        }
    }
}

fn throw(dice: &mut Dice) -> Gap {
    let count = 1 + dice.below(MOST_BLOCKS) as usize;
    let chained = dice.below(4);
    throw_blocks(dice, count, chained)
}

/// So many blocks, of which so many in four hang on the end of another.
fn throw_blocks(dice: &mut Dice, count: usize, chained: u64) -> Gap {
    // Crowded shows and roomy ones.
    let length = 20 + dice.below(100);
    let seconds = |dice: &mut Dice| dice.below(length) as i64;
    let mut words: Vec<Words> = Vec::new();
    for i in 0..count {
        let hangs = i > 0 && dice.below(4) < chained;
        let starts = match hangs {
            true => At::EndOf(dice.below(i as u64) as usize, dice.below(4) as i64),
            false => At::Show(seconds(dice)),
        };
        let full = 4 + dice.below(20) as i64;
        words.push(Words {
            keep: [Keep::Must, Keep::Should, Keep::May][dice.below(3) as usize],
            starts,
            ends_by: dice.once_in(4).then(|| match starts {
                At::Show(s) => At::Show(s + 3 + dice.below(25) as i64),
                At::EndOf(..) => At::Show(10 + seconds(dice)),
            }),
            wait: dice.once_in(6).then(|| At::Show(seconds(dice))),
            full: full / 2 * 2,
            short: (!dice.once_in(3)).then(|| 2 + dice.below(full as u64 / 2) as i64 * 2),
        });
    }
    let hush = dice.once_in(2).then(|| {
        let from = seconds(dice);
        (from, from + 3 + dice.below(15) as i64)
    });
    let silences = (0..dice.below(3)).map(|_| {
        let from = match dice.once_in(3) && chained > 0 {
            true => At::EndOf(dice.below(count as u64) as usize, dice.below(9) as i64),
            false => At::Show(seconds(dice)),
        };
        (from, 1 + dice.below(12) as i64)
    });
    let silences = silences.collect();
    Gap {
        words,
        hush,
        silences,
    }
}

impl Gap {
    fn plan(&self) -> Plan {
        let mut body = PASS.to_owned();
        if let Some((from, until)) = self.hush {
            body += &format!("hush = {{ from = \"{from} s\", until = \"{until} s\" }}\n");
        }
        for (i, block) in self.words.iter().enumerate() {
            let keep = match block.keep {
                Keep::Must => "must",
                Keep::Should => "should",
                Keep::May => "may",
            };
            let wait = block.wait.map(At::written);
            let wait = wait.map_or(String::new(), |at| format!(" [wait {at}] "));
            body += &format!(
                "[[block]]\nid = \"b{i}\"\nkeep = \"{keep}\"\nstarts = \"{}\"\ntext = \"a{wait}b\"\n",
                block.starts.written()
            );
            if let Some(by) = block.ends_by {
                body += &format!("ends_by = \"{}\"\n", by.written());
            }
            if block.short.is_some() {
                body += &format!("short = \"a{wait}b\"\n");
            }
        }
        for (from, lasts) in &self.silences {
            let until = match *from {
                At::Show(s) => At::Show(s + lasts),
                At::EndOf(block, s) => At::EndOf(block, s + lasts),
            };
            let (from, until) = (from.written(), until.written());
            body += &format!("[[silence]]\nfrom = \"{from}\"\nuntil = \"{until}\"\n");
        }
        let (show, faults) = read(
            "gap.toml",
            &document("zero = \"pass.abeam\"", &["pass"], &body),
        );
        let show = show.unwrap_or_else(|| panic!("{faults:#?}\n{body}"));
        let reading = |block: &Words, lasts: i64| match block.wait {
            Some(_) => Reading {
                pieces: vec![seconds(lasts / 2), seconds(lasts / 2)],
                ..Reading::from(Span::ZERO)
            },
            None => Reading::from(seconds(lasts)),
        };
        let readings = self.words.iter().map(|block| {
            let short = block.short.map(|lasts| reading(block, lasts));
            (reading(block, block.full), short)
        });
        let facts = Facts {
            readings: readings.collect(),
            track_lengths: Vec::new(),
        };
        Plan::new(&show, &show.profile, &show.day, facts)
    }

    fn lasts(&self, i: usize, version: Version) -> i64 {
        match version {
            Version::Full => self.words[i].full,
            Version::Short => self.words[i].short.unwrap_or(self.words[i].full),
            Version::LeftOut => 0,
        }
    }

    /// What a choice is worth: must fit, should fit, should said; words of each that fit; words that do not.
    fn worth(&self, versions: &[Version]) -> [i64; 7] {
        let mut pieces: Vec<Vec<(i64, i64)>> = Vec::new();
        let at = |time: At, pieces: &[Vec<(i64, i64)>]| match time {
            At::Show(s) => s,
            At::EndOf(block, s) => pieces[block].last().expect("an end").1 + s,
        };
        for (i, block) in self.words.iter().enumerate() {
            let start = at(block.starts, &pieces);
            let lasts = self.lasts(i, versions[i]);
            pieces.push(match block.wait.filter(|_| lasts > 0) {
                Some(wait) => {
                    let goes_on = at(wait, &pieces).max(start + lasts / 2);
                    vec![(start, start + lasts / 2), (goes_on, goes_on + lasts / 2)]
                }
                None => vec![(start, start + lasts)],
            });
        }
        // A text fits that has one spread of its own time to spare, where there is a shorter one: 6 %, the narrator's
        // unless the document says another.
        let clear = |i: usize, (from, until): (i64, i64)| {
            let shorter = versions[i] == Version::Full && self.words[i].short.is_some();
            until * 1_000 + i64::from(shorter) * 60 * (until - from)
        };
        let silences = self.silences.iter().map(|(from, lasts)| {
            let from = at(*from, &pieces);
            (from, from + lasts)
        });
        let quiet: Vec<(i64, i64)> = silences.chain(self.hush).collect();
        let mut worth = [0; 7];
        for (i, block) in self.words.iter().enumerate() {
            if versions[i] == Version::LeftOut {
                continue;
            }
            let start = pieces[i][0].0;
            let over = clear(i, *pieces[i].last().expect("an end"));
            let apart = |&(from, until): &(i64, i64)| {
                pieces[i]
                    .iter()
                    .all(|piece| clear(i, *piece) <= from * 1_000 || piece.0 >= until)
            };
            // Of two blocks that begin at one instant the one with the lesser id is first.
            let name = |i: usize| format!("b{i}");
            let next = (0..self.words.len()).filter(|&j| {
                versions[j] != Version::LeftOut && (pieces[j][0].0, name(j)) > (start, name(i))
            });
            let fits = quiet.iter().all(apart)
                && block
                    .ends_by
                    .is_none_or(|by| over <= at(by, &pieces) * 1_000)
                && next
                    .map(|j| pieces[j][0].0)
                    .all(|begins| over <= begins * 1_000);
            let words = self.lasts(i, versions[i]);
            worth[2] += i64::from(block.keep == Keep::Should);
            match (fits, block.keep) {
                (false, _) => worth[6] -= words,
                (true, Keep::Must) => {
                    worth[0] += 1;
                    worth[3] += words;
                }
                (true, Keep::Should) => {
                    worth[1] += 1;
                    worth[4] += words;
                }
                (true, Keep::May) => worth[5] += words,
            }
        }
        worth
    }

    fn best(&self) -> [i64; 7] {
        let mut versions = vec![Version::Full; self.words.len()];
        let mut best = self.worth(&versions);
        // Counts up as an odometer does, each wheel with the versions a block can have.
        'every: loop {
            for (i, block) in self.words.iter().enumerate() {
                let mut wheel = vec![Version::Full];
                wheel.extend(block.short.map(|_| Version::Short));
                wheel.extend((block.keep != Keep::Must).then_some(Version::LeftOut));
                let place = wheel.iter().position(|version| *version == versions[i]);
                if let Some(next) = wheel.get(place.expect("a version of it") + 1) {
                    versions[i] = *next;
                    best = best.max(self.worth(&versions));
                    continue 'every;
                }
                versions[i] = Version::Full;
            }
            return best;
        }
    }
}

fn seconds(s: i64) -> Span {
    Span::from_ms(s * 1_000)
}

#[test]
fn no_other_choice_of_versions_keeps_more() {
    let mut dice = Dice(20);
    let (mut shorter, mut left_out) = (0, 0);
    for number in 0..SHOWS {
        let gap = throw(&mut dice);
        let plan = gap.plan();
        let chosen: Vec<Version> = plan.layout.blocks.iter().map(|b| b.version).collect();
        shorter += usize::from(chosen.contains(&Version::Short));
        left_out += usize::from(chosen.contains(&Version::LeftOut));
        assert_eq!(gap.worth(&chosen), gap.best(), "show {number}: {chosen:?}");
    }
    println!("{SHOWS} shows: {shorter} with short texts, {left_out} with blocks left out");
    assert!(shorter > SHOWS / 4 && left_out > SHOWS / 4);
}

#[test]
fn nor_in_shows_of_many_blocks_that_hang_on_each_other() {
    let mut dice = Dice(14);
    for number in 0..LARGE_SHOWS {
        let gap = throw_blocks(&mut dice, LARGE, 3);
        let plan = gap.plan();
        let chosen: Vec<Version> = plan.layout.blocks.iter().map(|b| b.version).collect();
        assert_eq!(gap.worth(&chosen), gap.best(), "show {number}: {chosen:?}");
    }
}

fn block(id: &str, full: f64, starts: &str, more: &str) -> String {
    format!("[[block]]\nid = \"{id}\"\ntext = \"{full} s\"\nstarts = \"{starts}\"\n{more}\n")
}

/// One block, 10 s long, that must stop in some way; the pass is abeam at 0.
fn chosen(id: &str, body: &str) -> (SpokenBlock, Option<String>, Vec<String>) {
    let pass = PASS.to_owned() + "hush = { from = \"-5 s\", until = \"8 s\" }\n";
    let lake = planned("zero = \"pass.abeam\"", &["pass"], &(pass + body));
    let plan = &lake.plan;
    let i = lake.show.blocks.iter().position(|block| block.id == id);
    let why = abeam::timeline::why(&lake.show, &plan.moments, &plan.layout, i.expect("a block"));
    let messages = lake
        .messages()
        .iter()
        .map(|told| (*told).to_owned())
        .collect();
    (lake.block(id), why, messages)
}

#[test]
fn what_made_a_text_shorter_is_told() {
    let silence = "[[silence]]\nfrom = \"show + 60 s\"\nuntil = \"show + 70 s\"\n";
    let must = "short = \"4 s\"\nkeep = \"must\"";
    for (body, cause, why) in [
        (
            block("a", 10.0, "show - 14 s", must),
            Cause::Hush(0),
            "the full text runs into pass, too loud to talk over",
        ),
        (
            block("a", 10.0, "show + 51 s", must) + silence,
            Cause::Silence(0),
            "the full text runs into the silence at 1:00.0",
        ),
        (
            block(
                "a",
                10.0,
                "show + 20 s",
                &format!("{must}\nends_by = \"show + 25 s\""),
            ),
            Cause::EndsBy,
            "the full text is not over by 0:25.0, its ends_by",
        ),
        (
            block("a", 10.0, "show + 20 s", must) + &block("b", 2.0, "show + 25 s", ""),
            Cause::Block(1),
            "the full text is not over when \"b\" begins",
        ),
        // In full it would push the next one into the silence.
        (
            block("a", 10.0, "show + 40 s", must)
                + &block("b", 15.0, "a.end + 1 s", "keep = \"must\"")
                + silence,
            Cause::RoomFor(1),
            "the full text leaves no room for \"b\"",
        ),
    ] {
        let (laid, told, messages) = chosen("a", &body);
        assert_eq!(laid.version, Version::Short, "{body}");
        assert_eq!(laid.because, Some(cause), "{body}");
        assert_eq!(told.as_deref(), Some(why));
        assert_eq!(messages, [""; 0], "{body}");
    }
}

/// 10 s of words, known to 6 %: with 0.5 s to spare they are in time in 4 of 5 shows only.
#[test]
fn a_text_that_fits_by_less_than_its_spread_is_said_short() {
    for (by, version, because) in [
        (30.5, Version::Short, Some(Cause::Tight)),
        (30.7, Version::Full, None),
    ] {
        let more = format!("short = \"4 s\"\nkeep = \"must\"\nends_by = \"show + {by} s\"");
        let (laid, why, messages) = chosen("a", &block("a", 10.0, "show + 20 s", &more));
        assert_eq!((laid.version, laid.because), (version, because));
        let tight = "the full text would have less to spare than its own spread";
        assert_eq!(why.as_deref(), because.map(|_| tight));
        assert_eq!(messages, [""; 0]);
    }
    // Without a short text it is said all the same.
    for keep in ["should", "may"] {
        let more = format!("keep = \"{keep}\"\nends_by = \"show + 30.5 s\"");
        let (laid, ..) = chosen("a", &block("a", 10.0, "show + 20 s", &more));
        assert_eq!(laid.version, Version::Full, "{keep}");
    }
}

#[test]
fn what_may_go_goes_before_anything_is_shortened() {
    let body = block("a", 10.0, "show + 20 s", "short = \"4 s\"")
        + &block("b", 2.0, "show + 25 s", "keep = \"may\"");
    let (laid, _, _) = chosen("a", &body);
    assert_eq!((laid.version, laid.slack), (Version::Full, None));
    let (laid, why, messages) = chosen("b", &body);
    assert_eq!((laid.version, laid.ends), (Version::LeftOut, None));
    assert_eq!(why.as_deref(), Some("the text leaves no room for \"a\""));
    assert_eq!(messages, ["\"b\" is left out, to leave room for \"a\""]);
}

/// Normal probabilities, as `norm.cdf` of scipy gives them (PyPI): Φ(1) = 0.841345,
/// Φ(2) = 0.977250.
#[test]
fn the_chance_that_a_block_fits_is_normal() {
    // 20 s of words, known to 6 %: 1.2 s. Both ends hang on the same point, so nothing else is unsure.
    let fits = |room: f64| {
        let by = format!("ends_by = \"show + {room} s\"");
        let (laid, _, _) = chosen("a", &block("a", 20.0, "show + 20 s", &by));
        laid.chance.expect("a limit").whole()
    };
    for (room, chance) in [
        (40.0, 0.5),
        (41.2, 0.841_345),
        (42.4, 0.977_250),
        (38.8, 0.158_655),
    ] {
        assert!((fits(room) - chance).abs() < 1e-5, "{room}: {}", fits(room));
    }
    // Begun at a time of its own, with the pass between: inbound is off by 10 s (the hold) and 5 s (the
    // start of the display), and the words by 1.2 s: √(100 + 25 + 1.44) = 11.2446 s. That much to spare is
    // one of those.
    let body = block(
        "a",
        20.0,
        "show - 80 s",
        "ends_by = \"pass.inbound - 8.7554 s\"",
    );
    let (laid, _, _) = chosen("a", &body);
    let spare = laid.slack.expect("a limit").s();
    assert!((spare - 11.2446).abs() < 1e-3, "{spare}");
    let chance = laid.chance.expect("a limit").whole();
    assert!((chance - 0.841_345).abs() < 1e-4, "{chance}");
    // Begun by the same point, the hold moves both.
    let body = block(
        "a",
        20.0,
        "pass.inbound - 31.2 s",
        "ends_by = \"pass.inbound - 10 s\"",
    );
    let (laid, _, _) = chosen("a", &body);
    let chance = laid.chance.expect("a limit").whole();
    assert!((chance - 0.841_345).abs() < 1e-5, "{chance}");
}
