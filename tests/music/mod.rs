//! Performed music whose beats are known, and the Python packages that make and judge it; `.ci/test` installs them.
#![allow(dead_code, reason = "each test file uses its own part")]

use std::path::{Path, PathBuf};
use std::process::Command;

/// Runs a script of `tests/reference` and gives what it printed.
pub fn script(name: &str, arguments: &[&Path]) -> String {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let python = Path::new(env!("CARGO_TARGET_TMPDIR")).join("python/bin/python");
    assert!(
        python.exists(),
        "this test needs Python packages: `bash .ci/python` installs them"
    );
    let (file, verb) = name.split_once(' ').unwrap_or((name, ""));
    let output = Command::new(python)
        .arg(here.join("tests/reference").join(file))
        .args((!verb.is_empty()).then_some(verb))
        .args(arguments)
        .output()
        .expect("Python runs");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{name}: {said}");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The folder of the performances; they are made once.
pub fn performances() -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("beats");
    script("beats.py make", &[&folder]);
    folder
}
