//! A document is changed where somebody changes it, and nowhere else: comments and layout stay byte for byte,
//! and whatever goes wrong on the way to the disk, nothing is lost.

use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use abeam::show::edit::{EditError, Manuscript, Place};
use abeam::units::Span;
use proptest::prelude::*;
use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
use tempfile::TempDir;

const SHOW: &str = "\u{20}\u{20}# kept
[show]   # a title
title = \"A show\"\t# tab before
start = '19:00:00'

[profile.high]
order = [\"one\",    # first
         \"two\"]

[site]
elevation = \"412 ft\"
line_bearing = 64
line_distance = \"230 m\"

[aircraft.solo]
name = \"Solo\"

[[figure]]
id = \"one\"
name = \"One\"
aircraft = \"solo\"
takes = \"30 s\"   # timed
[[figure]]
id = \"two\"
name = \"Two\"
aircraft = \"solo\"
takes = \"30 s\"

[[track]]
id       = \"braces\"
file     = \"a.flac\"
hits     = { first = \"0:10.000\", 'last verse' = \"0:20.000\" }   # two of them
entries  = [ \"0:00\",  # the beginning
             \"0:04.000\" ]
starts   = \"one.start\"

[[track]]
id = \"dotted\"
file = \"b.flac\"
hits.first = \"0:10.000\"    # one
hits.second = \"0:20.000\"
starts = \"two.start\"

# before the last one
[[track]]
  id = \"headed\"
  file = \"c.flac\"
  starts = \"two.start + 10 s\"
  under = true

  [track.hits]   # with a header
  first = \"0:10.000\"
# the end";

/// A document in a folder of its own.
struct Desk {
    _folder: TempDir,
    file: PathBuf,
}

fn desk(text: &str) -> Desk {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("show.toml");
    fs::write(&file, text).expect("written");
    Desk {
        _folder: folder,
        file,
    }
}

fn open(text: &str) -> (Desk, Manuscript) {
    let desk = desk(text);
    let manuscript = Manuscript::open(&desk.file).expect("it opens");
    (desk, manuscript)
}

fn hit(track: &str, name: &str) -> Place {
    Place::item("track", track).key("hits").key(name)
}

fn changed(text: &str, place: &Place, value: &str) -> String {
    let (_desk, mut manuscript) = open(text);
    manuscript
        .change("a change", |draft| draft.set(place, value))
        .unwrap_or_else(|error| panic!("{place}: {error}"));
    manuscript.text().to_owned()
}

/// Where the tracks of the demonstration have their hits, and the text of it.
fn demo() -> (String, Vec<(String, String)>) {
    let text = fs::read_to_string("cues/lantern-lake.toml").expect("the demonstration");
    let (_desk, manuscript) = open(&text);
    let show = manuscript.show().expect("it loads");
    let hits = show.tracks.iter().flat_map(|track| {
        let names = track.hits.iter().map(|(name, _)| name.to_string());
        names
            .map(|name| (track.id.to_string(), name))
            .collect::<Vec<_>>()
    });
    (text, hits.collect())
}

#[test]
fn a_value_is_changed_in_place_however_its_table_is_written() {
    for (track, before, after) in [
        (
            "braces",
            "{ first = \"0:10.000\",",
            "{ first = \"0:11.000\",",
        ),
        (
            "dotted",
            "hits.first = \"0:10.000\"    # one",
            "hits.first = \"0:11.000\"    # one",
        ),
        (
            "headed",
            "  first = \"0:10.000\"\n# the end",
            "  first = \"0:11.000\"\n# the end",
        ),
    ] {
        assert_eq!(
            changed(SHOW, &hit(track, "first"), "0:11.000"),
            SHOW.replacen(before, after, 1)
        );
    }
    let element = Place::item("track", "braces").key("entries").at(1);
    assert_eq!(
        changed(SHOW, &element, "0:05.000"),
        SHOW.replacen("0:04.000", "0:05.000", 1)
    );
}

#[test]
fn what_is_new_is_written_as_its_neighbours_are() {
    for (place, before, after) in [
        (
            hit("braces", "third"),
            "'last verse' = \"0:20.000\" }",
            "'last verse' = \"0:20.000\", third = \"0:30.000\" }",
        ),
        (
            hit("dotted", "third"),
            "hits.second = \"0:20.000\"\n",
            "hits.second = \"0:20.000\"\nhits.third  = \"0:30.000\"\n",
        ),
        (
            hit("headed", "third"),
            "  first = \"0:10.000\"\n# the end",
            "  first = \"0:10.000\"\n  third = \"0:30.000\"\n# the end",
        ),
        (
            Place::item("track", "braces").key("entries").at(2),
            "\"0:04.000\" ]",
            "\"0:04.000\", \"0:30.000\" ]",
        ),
        (
            Place::item("track", "braces").key("trim"),
            "starts   = \"one.start\"\n",
            "starts   = \"one.start\"\ntrim     = \"0:30.000\"\n",
        ),
        (
            Place::top("words").key("accident"),
            "# the end",
            "# the end\n\n[words]\naccident = \"0:30.000\"\n",
        ),
    ] {
        let text = match place.to_string().as_str() {
            // No length, so the show would not load: what is written is looked at without that.
            "track braces: trim" => SHOW.replace("[site]", "[sites]"),
            _ => SHOW.to_owned(),
        };
        assert_eq!(
            changed(&text, &place, "0:30.000"),
            text.replacen(before, after, 1),
            "{place}"
        );
    }
}

#[test]
fn a_first_hit_makes_its_table() {
    let text = SHOW.replacen(
        "hits.first = \"0:10.000\"    # one\nhits.second = \"0:20.000\"\n",
        "",
        1,
    );
    let after = text.replacen(
        "file = \"b.flac\"\nstarts = \"two.start\"\n",
        "file = \"b.flac\"\nstarts = \"two.start\"\nhits = { first = \"0:10.000\" }\n",
        1,
    );
    assert_eq!(
        changed(&text, &hit("dotted", "first"), "0:10.000"),
        after.replace("hits =", "hits   =")
    );
}

#[test]
fn what_is_removed_takes_its_comma_or_its_line_with_it() {
    for (place, before, after) in [
        (hit("braces", "first"), "first = \"0:10.000\", ", ""),
        (
            hit("braces", "last verse"),
            ", 'last verse' = \"0:20.000\"",
            "",
        ),
        (
            hit("dotted", "first"),
            "hits.first = \"0:10.000\"    # one\n",
            "",
        ),
        (
            hit("headed", "first"),
            "  first = \"0:10.000\"\n# the end",
            "# the end",
        ),
    ] {
        let (_desk, mut manuscript) = open(SHOW);
        let removed = manuscript.change("one less", |draft| draft.remove(&place));
        assert_eq!(removed, Ok(()), "{place}");
        assert_eq!(
            manuscript.text(),
            SHOW.replacen(before, after, 1),
            "{place}"
        );
        manuscript.undo().expect("undone");
        assert_eq!(manuscript.text(), SHOW);
    }
}

#[test]
fn a_hit_gets_another_name_and_not_one_that_is_taken() {
    let (_desk, mut manuscript) = open(SHOW);
    let rename = |name: &'static str| {
        move |draft: &mut abeam::show::edit::Draft| draft.rename(&hit("dotted", "first"), name)
    };
    let taken = manuscript.change("renamed", rename("second"));
    assert!(matches!(taken, Err(EditError::NoPlace(_))), "{taken:?}");
    manuscript
        .change("renamed", rename("bell"))
        .expect("renamed");
    assert_eq!(
        manuscript.text(),
        SHOW.replacen("hits.first", "hits.bell", 1)
    );
}

#[test]
fn a_hit_gets_its_new_name_wherever_it_is_spoken_of_in_one_change() {
    let text = SHOW.replace(
        "# before the last one",
        "[[block]]
id = \"words\"   # dotted.second is met below
text = \"Now. [wait dotted.second + 2 s] And [wait dotted.first] now, dotted.second.\"
starts = \"dotted.second - 12 s\"
[[call]]
id = \"smoke\"
who = \"me\"
at = 'dotted.second - 1 s'
text = \"Smoke on\"
",
    );
    let text = text.replace("'last verse'", "last_verse");
    let (_desk, mut manuscript) = open(&text);
    let show = manuscript.show().expect("it loads");
    let named = |manuscript: &mut Manuscript, name: &str| {
        manuscript.change("renamed", |draft| {
            draft.rename_hit(&show, &"dotted".into(), &"second".into(), name)
        })
    };
    let taken = named(&mut manuscript, "first").expect_err("taken");
    assert!(taken.to_string().contains("already"), "{taken}");
    let odd = named(&mut manuscript, "a bell").expect_err("no word");
    assert!(odd.to_string().contains("letters, digits"), "{odd}");
    assert_eq!(manuscript.text(), text, "all of it is changed or nothing");
    named(&mut manuscript, "bell").expect("renamed");
    let wanted = text
        .replace("hits.second", "hits.bell")
        .replace("[wait dotted.second", "[wait dotted.bell")
        .replace("\"dotted.second - 12 s\"", "\"dotted.bell - 12 s\"")
        .replace("'dotted.second - 1 s'", "'dotted.bell - 1 s'");
    assert_eq!(manuscript.text(), wanted);
    manuscript.show().expect("it loads");
    manuscript.undo();
    assert_eq!(manuscript.text(), text);
}

#[test]
fn what_is_not_there_is_named() {
    let (_desk, mut manuscript) = open(SHOW);
    for (place, says) in [
        (
            hit("brass", "first"),
            "no track of this document is called brass",
        ),
        (
            Place::item("track", "braces").key("file").key("name"),
            "file",
        ),
        (
            Place::item("track", "braces").key("entries").at(7),
            "only 2 elements",
        ),
    ] {
        let error = manuscript
            .change("never", |draft| draft.set(&place, "0:01"))
            .expect_err("no such place");
        assert!(error.to_string().contains(says), "{error}");
    }
    assert!(manuscript.is_saved() && manuscript.changes() == 0);
}

#[test]
fn a_change_that_would_break_the_show_is_not_made() {
    let (text, _) = demo();
    let (_desk, mut manuscript) = open(&text);
    let error = manuscript
        .change("the hit goes", |draft| {
            draft.remove(&hit("hymn", "last_verse"))
        })
        .expect_err("a meet needs it");
    assert!(
        matches!(&error, EditError::Faulty(why) if why.contains("hit")),
        "{error:?}"
    );
    assert_eq!(manuscript.text(), text);
}

#[test]
fn changes_are_undone_and_made_again_in_order() {
    let (_desk, mut manuscript) = open(SHOW);
    let place = hit("braces", "first");
    let set = |at: &'static str| {
        let place = place.clone();
        move |draft: &mut abeam::show::edit::Draft| draft.set(&place, at)
    };
    manuscript.change("to 11", set("0:11.000")).expect("set");
    let eleven = manuscript.text().to_owned();
    manuscript.change("to 12", set("0:12.000")).expect("set");
    manuscript.go_on("to 13", set("0:13")).expect("set");
    let thirteen = manuscript.text().to_owned();
    assert_eq!(manuscript.undo(), Some("to 13"));
    assert_eq!(manuscript.text(), eleven);
    assert_eq!(manuscript.undo(), Some("to 11"));
    assert_eq!(manuscript.text(), SHOW);
    assert_eq!(manuscript.undo(), None);
    assert_eq!(manuscript.redo(), Some("to 11"));
    assert_eq!(manuscript.redo(), Some("to 13"));
    assert_eq!(manuscript.text(), thirteen);
    manuscript.undo();
    manuscript.change("to 14", set("0:14.000")).expect("set");
    assert_eq!(
        manuscript.redo(),
        None,
        "what was undone is gone once something else is done"
    );
}

#[test]
fn a_document_with_windows_line_ends_and_a_byte_order_mark_keeps_them() {
    let text = format!("\u{feff}{}", SHOW.replace('\n', "\r\n"));
    let after = changed(&text, &hit("dotted", "third"), "0:30.000");
    let line = "hits.second = \"0:20.000\"\r\n";
    assert_eq!(
        after,
        text.replacen(line, &format!("{line}hits.third  = \"0:30.000\"\r\n"), 1)
    );
    let after = changed(&text, &hit("headed", "first"), "0:11.000");
    let (head, tail) = text.split_at(text.rfind("0:10.000").expect("it"));
    assert_eq!(
        after,
        format!("{head}{}", tail.replacen("0:10.000", "0:11.000", 1))
    );
}

#[test]
fn a_file_keeps_its_permissions_and_a_link_stays_one() {
    let desk = desk(SHOW);
    fs::set_permissions(&desk.file, fs::Permissions::from_mode(0o640)).expect("set");
    let link = desk.file.with_file_name("link.toml");
    symlink("show.toml", &link).expect("a link");
    let mut manuscript = Manuscript::open(&link).expect("opened");
    manuscript
        .change("later", |draft| {
            draft.set(&hit("dotted", "first"), "0:11.000")
        })
        .expect("changed");
    assert!(!manuscript.is_saved());
    manuscript.save().expect("written");
    assert!(manuscript.is_saved());
    assert!(link.symlink_metadata().expect("there").is_symlink());
    assert_eq!(
        fs::metadata(&desk.file)
            .expect("there")
            .permissions()
            .mode()
            & 0o777,
        0o640
    );
    assert_eq!(
        fs::read_to_string(&desk.file).expect("read"),
        manuscript.text()
    );
    let names: Vec<_> = fs::read_dir(desk.file.parent().expect("a folder"))
        .expect("read")
        .collect();
    assert_eq!(names.len(), 2, "nothing is left beside it: {names:?}");
}

#[test]
fn what_somebody_else_wrote_meanwhile_is_not_written_over() {
    let (desk, mut manuscript) = open(SHOW);
    manuscript
        .change("later", |draft| {
            draft.set(&hit("dotted", "first"), "0:11.000")
        })
        .expect("changed");
    let others = SHOW.replacen("A show", "Another", 1);
    fs::write(&desk.file, &others).expect("written");
    let error = manuscript.save().expect_err("overtaken");
    assert!(matches!(error, EditError::Overtaken(_)), "{error:?}");
    assert_eq!(fs::read_to_string(&desk.file).expect("read"), others);
    let beside = manuscript.save_beside().expect("kept");
    assert_eq!(
        fs::read_to_string(&beside).expect("read"),
        manuscript.text()
    );
    assert_ne!(manuscript.save_beside().expect("kept"), beside);
    fs::remove_file(&desk.file).expect("gone");
    assert!(matches!(manuscript.save(), Err(EditError::Overtaken(_))));
}

#[test]
fn a_file_that_may_not_be_written_is_not() {
    let (desk, mut manuscript) = open(SHOW);
    fs::set_permissions(&desk.file, fs::Permissions::from_mode(0o444)).expect("set");
    manuscript
        .change("later", |draft| {
            draft.set(&hit("dotted", "first"), "0:11.000")
        })
        .expect("changed");
    let error = manuscript.save().expect_err("it may not");
    assert!(error.to_string().contains("may not be written"), "{error}");
    assert_eq!(fs::read_to_string(&desk.file).expect("read"), SHOW);
}

/// A file that may not grow past a size fails in the middle of a write, as one on a full disk does.
#[test]
fn a_full_disk_loses_nothing_and_the_change_can_be_written_later() {
    const LIMIT: u64 = 64_000;
    let text = format!("{SHOW}\n#{}\n", "x".repeat(LIMIT as usize));
    let (desk, mut manuscript) = open(&text);
    manuscript
        .change("later", |draft| {
            draft.set(&hit("dotted", "first"), "0:11.000")
        })
        .expect("changed");
    let written = manuscript.text().to_owned();
    // The signal that comes with the failure would end the program.
    signal_hook::flag::register(
        signal_hook::consts::SIGXFSZ,
        Arc::new(AtomicBool::new(false)),
    )
    .expect("a handler");
    let before = getrlimit(Resource::Fsize);
    let limited = Rlimit {
        current: Some(LIMIT),
        ..before
    };
    setrlimit(Resource::Fsize, limited).expect("limited");
    let saved = manuscript.save();
    setrlimit(Resource::Fsize, before).expect("free again");
    assert!(matches!(saved, Err(EditError::Unwritten(_))), "{saved:?}");
    assert_eq!(
        fs::read_to_string(&desk.file).expect("read"),
        text,
        "the old file is whole"
    );
    assert_eq!(manuscript.text(), written, "the change is kept");
    assert_eq!(files_of(&desk.file), 1, "nothing in part is left");
    manuscript.save().expect("there is room again");
    assert_eq!(fs::read_to_string(&desk.file).expect("read"), written);
}

fn files_of(file: &Path) -> usize {
    fs::read_dir(file.parent().expect("a folder"))
        .expect("read")
        .count()
}

proptest! {
    #[test]
    fn a_hit_set_and_set_back_gives_the_same_bytes_and_loads_with_its_new_value(
        which in any::<prop::sample::Index>(),
        ms in 20_000i64..80_000,
    ) {
        let (text, hits) = demo();
        let (track, name) = &hits[which.index(hits.len())];
        let (_desk, mut manuscript) = open(&text);
        let place = hit(track, name);
        let old = manuscript.get(&place).expect("a value").as_str().expect("text").to_owned();
        let at = Span::from_ms(ms);
        manuscript.change("to", |draft| draft.set(&place, at.clock(3))).expect("set");
        let show = manuscript.show().expect("it loads");
        let track = show.track(&track.as_str().into()).expect("the track");
        prop_assert!(track.hits.iter().any(|(hit, when)| hit == name.as_str() && *when == at));
        manuscript.change("and back", |draft| draft.set(&place, old)).expect("set");
        prop_assert_eq!(manuscript.text(), &text);
        manuscript.undo();
        manuscript.undo();
        prop_assert_eq!(manuscript.text(), &text);
    }

    /// What is new and taken away again leaves no trace either, whichever way its table is written.
    #[test]
    fn a_hit_added_and_removed_gives_the_same_bytes(
        track in prop::sample::select(vec!["braces", "dotted", "headed"]),
        name in "[a-z][a-z_]{0,12}|[a-zé ]{1,8}",
    ) {
        let (_desk, mut manuscript) = open(SHOW);
        let place = hit(track, &name);
        prop_assume!(manuscript.get(&place).is_none());
        if manuscript.change("one more", |draft| draft.set(&place, "0:30.000")).is_ok() {
            prop_assert!(manuscript.get(&place).is_some());
            manuscript.change("one less", |draft| draft.remove(&place)).expect("removed");
        }
        prop_assert_eq!(manuscript.text(), SHOW);
    }
}
