//! What the fuzzer found and what it grew from, tried on every run of the tests: each file of the
//! corpus as it is, and changed here and there as a fuzzer would.

mod targets;

use std::fs;
use std::panic::catch_unwind;
use std::path::{Path, PathBuf};

use proptest::prelude::Rng;
use proptest::test_runner::{RngAlgorithm, TestRng};
use targets::{TARGETS, Target};

fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.expect("an entry").path()).collect();
    files.sort();
    files
}

fn here(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz").join(name)
}

/// Tries one input; what breaks a promise is written down, with all that it takes to try it again.
fn tried(name: &str, target: Target, file: &Path, data: &[u8], broken: &mut Vec<String>) {
    if catch_unwind(|| target(data)).is_err() {
        let from = file.file_name().unwrap_or_default().to_string_lossy();
        broken.push(format!("{name} {from}: b\"{}\"", data.escape_ascii()));
    }
}

#[test]
fn every_file_of_the_corpus_keeps_what_is_promised() {
    let mut broken = Vec::new();
    for (name, target) in TARGETS {
        let corpus = files(&here("corpus").join(name));
        assert!(corpus.len() >= 3, "{name}: a corpus of {}", corpus.len());
        for file in corpus {
            tried(name, *target, &file, &fs::read(&file).expect("a file"), &mut broken);
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

/// The words of the dictionary, as the fuzzer takes them.
fn words() -> Vec<Vec<u8>> {
    let text = fs::read_to_string(here("words.dict")).expect("a dictionary");
    let quoted = text.lines().filter(|line| line.starts_with('"'));
    quoted.map(|line| line.trim_matches('"').replace("\\x0a", "\n").into_bytes()).collect()
}

/// One change of the kinds that fuzzers make: a byte, a word put in, a stretch taken out, doubled.
fn changed(data: &[u8], words: &[Vec<u8>], rng: &mut TestRng) -> Vec<u8> {
    let mut below = |n: usize| rng.next_u32() as usize % n.max(1);
    let (a, b) = (below(data.len() + 1), below(data.len() + 1));
    let (from, to) = (a.min(b), a.max(b));
    let (head, middle, tail) = (&data[..from], &data[from..to], &data[to..]);
    match below(5) {
        0 => [head, tail].concat(),
        1 => [head, middle, middle, tail].concat(),
        2 => [head, &words[below(words.len())], middle, tail].concat(),
        3 => data[..from].to_vec(),
        _ => {
            let byte = [u8::try_from(below(256)).unwrap_or(0)];
            [head, &byte, middle.get(1..).unwrap_or_default(), tail].concat()
        }
    }
}

#[test]
fn changed_files_keep_what_is_promised() {
    let words = words();
    let mut broken = Vec::new();
    let rounds = stave_tests::times(4);
    for (name, target) in TARGETS {
        for (n, file) in files(&here("corpus").join(name)).iter().enumerate() {
            let seed = [u8::try_from(n % 251).unwrap_or(0); 32];
            let mut rng = TestRng::from_seed(RngAlgorithm::ChaCha, &seed);
            let data = fs::read(file).expect("a file");
            for _ in 0..rounds {
                let mut once = changed(&data, &words, &mut rng);
                for _ in 0..rng.next_u32() % 3 {
                    once = changed(&once, &words, &mut rng);
                }
                tried(name, *target, file, &once, &mut broken);
            }
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}
