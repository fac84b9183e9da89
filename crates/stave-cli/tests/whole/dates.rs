//! The date on sheets and title blocks.

use std::path::Path;
use std::process::{Command, Output};

use crate::command::{DAY, fixture, run_in, stave};

const EPOCH: &str = "SOURCE_DATE_EPOCH";

/// What draws pictures: a name of the file each is written to, and the words before it.
const DRAWN: [(&str, &[&str]); 11] = [
    ("page.svg", &["template", "-b", "blanks/cup.toml"]),
    ("plane.svg", &["template", "-b", "blanks/mug.toml", "--place-facet", "name plate"]),
    ("patterns.svg", &["template", "-b", "blanks/cup.toml", "--paper"]),
    ("sheets.svg", &["template", "-b", "blanks/cup.toml", "--paper", "--sheet", "letter"]),
    ("level.svg", &["level", "-b", "blanks/cup.toml", "-m", "machines/degrees.toml"]),
    ("lays.svg", &["lays", "--path", "M20 0h9v9z", "-b", CUP, "-m", MACHINE]),
    ("proof.svg", &["proof", "--path", "M20 0h9v9z", "-b", CUP, "-m", MACHINE]),
    ("proof.html", &["proof", "--path", "M20 0h9v9z", "-b", CUP, "-m", MACHINE]),
    (
        "customer.svg",
        &["proof", "--path", "M20 0h9v9z", "-b", CUP, "-m", MACHINE, "--for-customer"],
    ),
    ("order.svg", &["proof", "orders/order.toml", "--for-customer"]),
    ("order.html", &["proof", "orders/order.toml"]),
];
const CUP: &str = "blanks/cup.toml";
const MACHINE: &str = "machines/degrees.toml";

fn drawn(folder: &Path) -> Vec<(&'static str, String)> {
    let draw = |(name, words): (&'static str, &[&str])| {
        let out = folder.join(name);
        run_in(&fixture(""), &[words, &["-o", out.to_str().unwrap()]].concat(), b"").done();
        (name, std::fs::read_to_string(&out).unwrap())
    };
    DRAWN.map(draw).into()
}

#[test]
fn every_sheet_bears_its_date_and_is_made_again_byte_for_byte() {
    let folders = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
    let [first, again] = folders.each_ref().map(|folder| drawn(folder.path()));
    for ((name, picture), (_, again)) in first.iter().zip(&again) {
        assert!(picture.contains(DAY.1), "{name}");
        assert!(picture == again, "{name} differs from itself");
    }
    // So does each page of several.
    for name in ["sheets-2.svg", "order-2.svg"] {
        let page = std::fs::read_to_string(folders[0].path().join(name)).unwrap();
        assert!(page.contains(DAY.1), "{name}");
    }
}

fn page(set: impl Fn(&mut Command) -> &mut Command) -> Output {
    let mut command = Command::new(stave());
    command.env_remove(EPOCH).args(["template", "-b", CUP]).current_dir(fixture(""));
    set(&mut command).output().unwrap()
}

/// Against `date`, in zones on both sides of the date line and where the clock is.
#[test]
fn the_date_is_that_of_the_local_clock() {
    for zone in [None, Some("UTC"), Some("Pacific/Kiritimati"), Some("Pacific/Pago_Pago")] {
        let day = || {
            let mut date = Command::new("date");
            zone.map(|zone| date.env("TZ", zone));
            let told = date.arg("+%Y-%m-%d").output().unwrap();
            String::from_utf8(told.stdout).unwrap().trim().to_owned()
        };
        let before = day();
        let drawn = page(|command| match zone {
            Some(zone) => command.env("TZ", zone),
            None => command,
        });
        let picture = String::from_utf8(drawn.stdout).unwrap();
        // A day may end meanwhile.
        assert!([before, day()].iter().any(|day| picture.contains(day)), "{zone:?}: {picture}");
    }
}

/// It is told, and nothing is drawn; a program has no date and does not ask for one.
#[test]
fn a_date_that_cannot_be_meant_is_refused_where_one_is_drawn() {
    let drawn = page(|command| command.env(EPOCH, "yesterday"));
    let told = String::from_utf8(drawn.stderr).unwrap();
    assert_eq!(drawn.status.code(), Some(2), "{told}");
    assert!(told.contains(EPOCH) && told.contains("\"yesterday\""), "{told}");
    assert!(drawn.stdout.is_empty());
    let wrapped = Command::new(stave())
        .env(EPOCH, "yesterday")
        .args(["wrap", "--path", "M20 0h9v9z", "-b", CUP, "-m", MACHINE])
        .current_dir(fixture(""))
        .output()
        .unwrap();
    assert!(wrapped.status.success(), "{}", String::from_utf8_lossy(&wrapped.stderr));
}
