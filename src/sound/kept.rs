//! Surveys kept from the last time, by what is in the file: its name and date do not matter.

use std::fs::{self, File};
use std::io;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::fault::{Problem, SoundError};
use super::survey::{Survey, survey};

/// Raised whenever a survey would come out otherwise than before.
const VERSION: u32 = 3;

/// What is kept of a file.
#[derive(Serialize, Deserialize)]
struct Entry {
    version: u32,
    survey: Survey,
}

/// Surveys a file, or gives what `folder` keeps of one with the same contents. What cannot be kept or read there is
/// measured anew. `progress` is told the share done, 0 to 1.
pub fn kept_survey(
    path: &Path,
    folder: &Path,
    progress: &mut dyn FnMut(f32),
) -> Result<Survey, SoundError> {
    if !path.is_file() {
        return survey(path, progress);
    }
    let name = hash(path)
        .map_err(|error| SoundError::new(path, Problem::Unreadable(error.to_string())))?;
    let place = folder.join(name + ".json");
    if let Some(survey) = read(&place) {
        return Ok(survey);
    }
    let survey = survey(path, progress)?;
    // A folder that cannot be written costs the next time only.
    let _ = write(&place, &survey);
    Ok(survey)
}

fn hash(path: &Path) -> io::Result<String> {
    let mut hasher = blake3::Hasher::new();
    hasher.update_reader(File::open(path)?)?;
    Ok(hasher.finalize().to_string())
}

fn read(place: &Path) -> Option<Survey> {
    let entry: Entry = serde_json::from_slice(&fs::read(place).ok()?).ok()?;
    (entry.version == VERSION).then_some(entry.survey)
}

/// Written aside and renamed: whoever reads meanwhile sees all of it or nothing.
fn write(place: &Path, survey: &Survey) -> io::Result<()> {
    let entry = Entry {
        version: VERSION,
        survey: survey.clone(),
    };
    if let Some(folder) = place.parent() {
        fs::create_dir_all(folder)?;
    }
    let aside = place.with_extension(format!("{}.part", std::process::id()));
    let written =
        fs::write(&aside, serde_json::to_vec(&entry)?).and_then(|()| fs::rename(&aside, place));
    if written.is_err() {
        let _ = fs::remove_file(&aside);
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;
    use tempfile::TempDir;

    fn write_tone(path: &Path, amplitude: f64) {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: 8_000,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut writer = hound::WavWriter::create(path, spec).expect("a WAV file");
        for i in 0..8_000 {
            let x = amplitude * (f64::from(i) * 0.5).sin();
            writer
                .write_sample((x * 32_767.0) as i16)
                .expect("a sample");
        }
        writer.finalize().expect("a WAV file");
    }

    fn only_entry(folder: &Path) -> std::path::PathBuf {
        let entries: Vec<_> = fs::read_dir(folder)
            .expect("a folder")
            .map(|entry| entry.expect("an entry").path())
            .collect();
        assert_eq!(entries.len(), 1, "{entries:?}");
        entries[0].clone()
    }

    #[test]
    fn a_survey_is_kept_by_what_is_in_the_file_and_a_broken_entry_is_measured_anew() {
        let dir = TempDir::new().expect("a directory");
        let (a, b) = (dir.path().join("a.wav"), dir.path().join("b.wav"));
        let cache = dir.path().join("cache/surveys");
        write_tone(&a, 0.5);
        fs::copy(&a, &b).expect("a copy");
        let mut measured = 0;
        let mut survey = |path: &Path| {
            let mut went = false;
            let survey = kept_survey(path, &cache, &mut |_| went = true).expect("a survey");
            measured += u32::from(went);
            (survey, measured)
        };
        let (first, _) = survey(&a);
        assert_eq!(survey(&a), (first.clone(), 1));
        assert_eq!(survey(&b), (first.clone(), 1));

        let entry = only_entry(&cache);
        let whole = fs::read(&entry).expect("an entry");
        for broken in [&b"{"[..], &whole[..whole.len() / 2], b""] {
            fs::write(&entry, broken).expect("a broken entry");
            assert_eq!(survey(&a).0, first);
            assert_eq!(fs::read(only_entry(&cache)).expect("an entry"), whole);
        }
        let version = format!("\"version\":{VERSION}");
        let older = String::from_utf8_lossy(&whole).replace(&version, "\"version\":0");
        fs::write(&entry, older).expect("an older entry");
        assert_eq!(survey(&a), (first.clone(), 5));

        write_tone(&a, 0.25);
        assert_ne!(survey(&a).0, first);
    }

    #[test]
    fn a_folder_that_cannot_be_written_does_not_matter() {
        let dir = TempDir::new().expect("a directory");
        let file = dir.path().join("a.wav");
        write_tone(&file, 0.5);
        let under_a_file = file.join("cache");
        assert!(kept_survey(&file, &under_a_file, &mut |_| {}).is_ok());
        let none = dir.path().join("none.wav");
        assert!(kept_survey(&none, &under_a_file, &mut |_| {}).is_err());
    }
}
