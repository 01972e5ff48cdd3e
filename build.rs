//! Turns the words of the CMU Pronouncing Dictionary that the rule miscounts into a table that is looked up
//! where it lies in the program.

use std::error::Error;
use std::path::Path;
use std::{env, fs};

#[path = "src/script/rule.rs"]
mod rule;

const WORDS: &str = "src/script/cmudict/syllables.txt";

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed={WORDS}");
    println!("cargo::rerun-if-changed=src/script/rule.rs");
    let mut table = fst::MapBuilder::memory();
    let mut word = String::new();
    // How the lines are written: tests/reference/cmudict_table.py.
    for line in fs::read_to_string(WORDS)?.lines() {
        let mut letters = line.chars();
        let (Some(shared), Some(count)) = (letters.next(), letters.next_back()) else {
            return Err(format!("{WORDS}: an empty line").into());
        };
        word.truncate(usize::from(shared as u8 - b'a'));
        word.push_str(letters.as_str());
        let syllables = count.to_digit(36).ok_or("a word without its syllables")?;
        if rule::by_rule(&word) != syllables as usize {
            table.insert(&word, u64::from(syllables))?;
        }
    }
    let folder = env::var("OUT_DIR")?;
    fs::write(
        Path::new(&folder).join("syllables.fst"),
        table.into_inner()?,
    )?;
    Ok(())
}
