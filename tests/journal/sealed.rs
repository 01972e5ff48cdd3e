//! An accident seals the journal.

use abeam::live::What;
use abeam::live::journal;

use crate::{cut_short, on_disk, resumed};

#[test]
fn an_accident_seals_the_journal_and_the_show_goes_on_in_another_file() {
    let record = cut_short(-100.0, 1.0, &[(-99.5, What::Duck { latched: true })]);
    let (folder, path) = on_disk(&record);
    let mut stage = resumed(&path, record);
    stage.happen(What::Accident);
    let sealed = std::fs::read(&path).expect("the sealed file");
    for _ in 0..2 {
        stage.happen(What::Accident);
        stage.happen(What::Release);
    }
    assert_eq!(
        stage
            .warnings()
            .filter(|said| said.contains("seal"))
            .count(),
        0
    );
    drop(stage);
    assert_eq!(
        std::fs::read(&path).expect("the file"),
        sealed,
        "nothing is added to it"
    );
    assert!(
        std::fs::metadata(&path)
            .expect("a file")
            .permissions()
            .readonly()
    );

    // The hash is that of every byte before the line it stands in.
    let text = String::from_utf8(sealed.clone()).expect("text");
    let last = text.trim_end().rfind('\n').expect("lines") + 1;
    let line: serde_json::Value = serde_json::from_str(&text[last..]).expect("a line");
    let hash = blake3::hash(&text.as_bytes()[..last]).to_string();
    assert_eq!(line["sealed"]["blake3"], hash.as_str());
    assert!(
        text[..last].contains("\"what\":\"accident\""),
        "the accident is in it"
    );

    // What came after names it.
    let next = folder
        .path()
        .join(line["sealed"]["next"].as_str().expect("a name"));
    let after = std::fs::read_to_string(&next).expect("the next file");
    let follows: serde_json::Value =
        serde_json::from_str(after.lines().nth(1).expect("a line")).expect("a line");
    assert_eq!(follows["follows"]["blake3"], hash.as_str());
    assert_eq!(
        Some(follows["follows"]["file"].as_str().expect("a name")),
        path.file_name().and_then(|name| name.to_str())
    );

    // Read from the first, both are one journal, and a start after a kill goes on in the second.
    let record = journal::read(&path).expect("a journal");
    let whats: Vec<&What> = record.events().map(|event| &event.what).collect();
    let release = What::Release;
    let accident = What::Accident;
    let duck = What::Duck { latched: true };
    assert_eq!(
        whats,
        [&duck, &accident, &accident, &release, &accident, &release]
    );
    let chain = journal::chain(&path).expect("files");
    assert_eq!(
        (chain.files, chain.broken),
        (vec![path.clone(), next.clone()], 0)
    );
    let mut stage = resumed(&path, record);
    stage.happen(What::Duck { latched: false });
    drop(stage);
    assert_eq!(std::fs::read(&path).expect("the file"), sealed);
    assert!(
        std::fs::read_to_string(&next)
            .expect("it")
            .contains("\"latched\":false")
    );
}

#[test]
fn a_sealed_journal_that_was_changed_is_told_of() {
    let record = cut_short(-100.0, 1.0, &[]);
    let (_folder, path) = on_disk(&record);
    let mut stage = resumed(&path, record);
    stage.happen(What::Accident);
    drop(stage);
    let text = std::fs::read_to_string(&path).expect("a file");
    let mut permissions = std::fs::metadata(&path).expect("a file").permissions();
    #[allow(clippy::permissions_set_readonly_false)] // its own folder goes with the test
    permissions.set_readonly(false);
    std::fs::set_permissions(&path, permissions).expect("a file");
    std::fs::write(
        &path,
        text.replace("accident", "Accident")
            .replace("Accident", "audible"),
    )
    .expect("a file");
    assert_eq!(journal::chain(&path).expect("files").broken, 1);
    let record = journal::read(&path).expect("a journal");
    let stage = resumed(&path, record);
    assert!(
        stage
            .warnings()
            .any(|said| said.contains("not as they were sealed"))
    );
}

/// A kill may come between the accident and its seal.
#[test]
fn a_start_after_a_kill_seals_what_was_not_sealed() {
    let record = cut_short(-100.0, 1.0, &[(-99.5, What::Accident)]);
    let (_folder, path) = on_disk(&record);
    drop(resumed(&path, record));
    assert_eq!(journal::chain(&path).expect("files").files.len(), 2);
    let record = journal::read(&path).expect("a journal");
    drop(resumed(&path, record));
    assert_eq!(journal::chain(&path).expect("files").files.len(), 2, "once");
}
