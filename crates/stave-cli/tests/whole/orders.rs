//! `stave order`: what is made, kept, refused, and what it costs.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::command::{Outcome, fixture, run_in, stave};
use crate::pictures::png;

/// A copy of the fixture order with the files it names, to write beside.
fn shop() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in ["orders", "orders/fonts", "blanks", "machines"] {
        fs::create_dir(folder.path().join(name)).unwrap();
        for entry in fs::read_dir(fixture(name)).unwrap() {
            let path = entry.unwrap().path();
            if path.is_file() {
                let to = folder.path().join(name).join(path.file_name().unwrap());
                fs::copy(&path, to).unwrap();
            }
        }
    }
    folder
}

fn order(shop: &Path, rest: &[&str]) -> Outcome {
    let arguments: Vec<&str> = ["order", "orders/order.toml"].iter().chain(rest).copied().collect();
    run_in(shop, &arguments, b"")
}

fn json(outcome: &Outcome) -> Value {
    serde_json::from_slice(&outcome.out).unwrap_or_else(|_| panic!("no JSON:\n{}", outcome.err))
}

/// The state of each row.
fn states(report: &Value) -> Vec<&str> {
    report["pieces"].as_array().unwrap().iter().map(|row| row["state"].as_str().unwrap()).collect()
}

fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let Ok(entries) = fs::read_dir(folder) else { return BTreeMap::new() };
    entries
        .map(|entry| entry.unwrap().path())
        .map(|path| (path.clone(), fs::read(path).unwrap()))
        .collect()
}

fn change(path: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(path).unwrap();
    assert!(text.contains(from), "{from}");
    fs::write(path, text.replacen(from, to, 1)).unwrap();
}

/// Twelve rows in five scripts on two blanks: one name is too long, one has characters that no font
/// has, and both spoil nothing else.
#[test]
fn the_fixture_order_is_made_and_kept() {
    let shop = shop();
    let made = shop.path().join("orders/made");
    let first = order(shop.path(), &["--json"]);
    assert_eq!(first.status, Some(1), "{}", first.err);
    let report = json(&first);
    let rows = report["pieces"].as_array().unwrap();
    for (row, expected) in rows.iter().zip(1..) {
        assert_eq!(row["row"], expected);
        assert_eq!(row["line"], expected + 1);
        let code = match expected {
            8 => Some("too-long"),
            9 => Some("font"),
            _ => None,
        };
        assert_eq!(row["state"], if code.is_some() { "failed" } else { "made" }, "{row:#}");
        assert_eq!(row["fit"], code.is_none());
        if let Some(code) = code {
            assert_eq!(row["file"], Value::Null);
            assert!(row["message"].as_str().unwrap().contains(code), "{row:#}");
            assert!(row["findings"].as_array().unwrap().iter().any(|one| one["code"] == code));
        }
    }
    let there = files(&made);
    assert_eq!(there.len(), 10);
    for row in rows.iter().filter(|row| row["state"] == "made") {
        let path = shop.path().join("orders").join(row["file"].as_str().unwrap());
        let program = String::from_utf8(there[&path].clone()).unwrap();
        assert!(program.starts_with("(stave wrapped 1 blank="), "{program}");
        assert!(program.ends_with("M5\nM2\n"));
        let seconds = row["duration_s"].as_f64().unwrap();
        assert!(program.contains(&format!(" duration={seconds:010.1}")), "{seconds}: {program}");
    }
    let name = "orders/made/02-Bo O'Neill _ Søn.nc";
    let (cup, machine) = ("blanks/cup.toml", "machines/degrees.toml");
    run_in(shop.path(), &["check", name, "-b", cup, "-m", machine], b"").done();

    // The same again: nothing is made, times and price are the same.
    let again = json(&order(shop.path(), &["--json"]));
    assert_eq!(states(&again).iter().filter(|state| **state == "kept").count(), 10);
    assert_eq!(again["quote"], report["quote"]);
    assert_eq!(files(&made), there);
    let durations = |report: &Value| -> Vec<Value> {
        report["pieces"].as_array().unwrap().iter().map(|row| row["duration_s"].clone()).collect()
    };
    assert_eq!(durations(&again), durations(&report));

    // What was cut off, what is gone and what was made of another drawing is made anew.
    let first_cup = made.join("01-Ada Quill.nc");
    let whole = fs::read(&first_cup).unwrap();
    fs::write(&first_cup, &whole[..whole.len() - 3]).unwrap();
    fs::remove_file(made.join("03-Łucja Żytka.nc")).unwrap();
    let mut changed = fs::read(made.join("04-Ξένια Κρίνου.nc")).unwrap();
    let middle = changed.len() / 2;
    changed[middle] ^= 1;
    fs::write(made.join("04-Ξένια Κρίνου.nc"), changed).unwrap();
    let verified = order(shop.path(), &["--verify", "--json", "--only", "1,3-5"]);
    assert_eq!(verified.status, Some(1));
    let report = json(&verified);
    assert_eq!(
        &states(&report)[..6],
        ["would-make", "left", "would-make", "would-make", "kept", "left"]
    );
    assert_eq!(report["pieces"][0]["message"], "it was cut off or changed since");
    assert_eq!(report["pieces"][2]["message"], "not made yet");
    assert_eq!(report["quote"], Value::Null);
    let third = json(&order(shop.path(), &["--json"]));
    assert_eq!(states(&third).iter().filter(|state| **state == "made").count(), 3);
    assert_eq!(files(&made), there);
    assert_eq!(order(shop.path(), &["--verify", "--only", "1-7,10-12"]).status, Some(0));

    // A changed key makes its pieces anew, a comment does not.
    change(&shop.path().join("blanks/can.toml"), "name =", "# again\nname =");
    assert_eq!(order(shop.path(), &["--verify", "--only", "10"]).status, Some(0));
    change(&shop.path().join("orders/can.toml"), "speed = 250.0", "speed = 240.0");
    let stale = json(&order(shop.path(), &["--verify", "--json", "--only", "1,10"]));
    assert_eq!(stale["pieces"][9]["message"], "the job is not what it was made of");
    assert_eq!(stale["pieces"][0]["state"], "kept");
    change(&shop.path().join("orders/members.csv"), "Ada Quill,cup,,", "Ada Quill,cup,cox,");
    let stale = json(&order(shop.path(), &["--verify", "--json", "--only", "1"]));
    assert_eq!(
        stale["pieces"][0]["message"],
        "the drawing or its fields is not what it was made of"
    );
}

#[test]
fn looking_writes_nothing() {
    let shop = shop();
    let made = shop.path().join("orders/made");
    let check = order(shop.path(), &["--check", "--json"]);
    assert_eq!(check.status, Some(1), "{}", check.err);
    let report = json(&check);
    assert_eq!(report["quote"], Value::Null);
    assert_eq!(states(&report).iter().filter(|state| **state == "failed").count(), 2);
    let dry = order(shop.path(), &["--dry-run", "--json"]);
    assert_eq!(dry.status, Some(0), "{}", dry.err);
    let report = json(&dry);
    assert_eq!(states(&report).iter().filter(|state| **state == "would-make").count(), 10);
    assert!(report["pieces"][0]["duration_s"].as_f64().unwrap() > 0.0);
    assert!(!made.exists());
    // What cannot be made would not be made, however it is asked.
    let verified = order(shop.path(), &["--verify", "--json"]);
    assert_eq!(verified.status, Some(1), "{}", verified.err);
    assert_eq!(states(&json(&verified)), states(&report));
    assert!(json(&verified)["pieces"][7]["message"].as_str().unwrap().contains("too-long"));
    assert!(!made.exists());
    let table = order(shop.path(), &["--dry-run"]);
    for words in ["10 would-make, 2 failed", "line 9: ", "work_s", "total"] {
        assert!(table.out_text().contains(words), "{words}:\n{}", table.out_text());
    }
}

/// The price in JSON against its own lines, reckoned here in whole cents.
#[test]
fn the_price_is_that_of_the_pieces() {
    let shop = shop();
    let outcome = order(shop.path(), &["--dry-run", "--json", "--csv", "books.csv"]);
    let report = json(&outcome.done());
    let mut tenths = 0;
    let mut cents = 0;
    let mut pieces = 0;
    for row in report["pieces"].as_array().unwrap() {
        let Some(seconds) = row["duration_s"].as_f64() else { continue };
        let count = row["count"].as_i64().unwrap();
        #[expect(clippy::cast_possible_truncation, reason = "seconds of a cup")]
        let each = (seconds * 10.0).round() as i64;
        tenths += count * (each + 750);
        cents += count * if row["fields"]["ware"] == "cup" { 635 } else { 410 };
        pieces += count;
    }
    let half_up = |value: i64, by: i64| (2 * value + by).div_euclid(2 * by);
    // × 1.02, and two blanks set up for.
    let work_s = half_up(tenths * 102, 100) + 2 * 9000;
    let work = half_up(work_s * 4500, 36_000);
    let material = half_up(cents * 102, 100);
    let markup = half_up((work + material) * 30, 100);
    let discount = half_up((work + material + markup) * 5, 100);
    let net = work + material + markup - discount;
    let tax = half_up(net * 20, 100);
    let money = |cents: i64| format!("{}.{:02}", cents / 100, cents % 100);
    let quote = &report["quote"];
    assert_eq!(quote["pieces"], pieces);
    assert_eq!(quote["work_s"], format!("{}.{}", work_s / 10, work_s % 10));
    for (key, value) in [
        ("work", work),
        ("material", material),
        ("cost", work + material),
        ("markup", markup),
        ("discount", discount),
        ("net", net),
        ("tax", tax),
        ("total", net + tax),
    ] {
        assert_eq!(quote[key], money(value), "{key}: {quote:#}");
    }
    let books = fs::read_to_string(shop.path().join("books.csv")).unwrap();
    assert_eq!(books.lines().count(), 13, "{books}");
    assert!(
        books.contains("\"11-{Plain} _Tea_\"") || books.contains("11-_Plain_ _Tea_"),
        "{books}"
    );
}

/// Whatever a customer is called, what is made lies in its folder; two that would be one are told
/// before anything is written.
#[test]
fn names_stay_in_their_folder() {
    let shop = shop();
    let table = shop.path().join("orders/members.csv");
    fs::write(
        &table,
        "number,name,ware,boss,ink,count\n../../x,A,can,,red,1\ncon.nc,B,can,,red,1\n",
    )
    .unwrap();
    change(&shop.path().join("orders/order.toml"), "{number}-{name}", "{number}");
    order(shop.path(), &[]).done();
    let names: Vec<String> = files(&shop.path().join("orders/made"))
        .into_keys()
        .map(|path| path.file_name().unwrap().to_str().unwrap().to_owned())
        .collect();
    assert_eq!(names, ["_._.._x.nc", "_con.nc.nc"]);
    assert!(!shop.path().join("x.nc").exists());
    fs::write(
        &table,
        "number,name,ware,boss,ink,count\nSØN,A,can,,red,1\n9,C,can,,red,1\nsøn.,B,can,,red,1\n",
    )
    .unwrap();
    let clash = order(shop.path(), &[]);
    assert_eq!(clash.status, Some(2));
    assert!(clash.err.contains("row 1 (line 2) and row 3 (line 4) of"), "{}", clash.err);
    assert!(!shop.path().join("orders/made/9.nc").exists());
}

#[test]
fn what_cannot_be_meant_writes_nothing() {
    let shop = shop();
    let file = shop.path().join("orders/order.toml");
    let good = fs::read_to_string(&file).unwrap();
    let table = shop.path().join("orders/members.csv");
    let rows = fs::read_to_string(&table).unwrap();
    for (from, to, expected) in [
        ("{number}-{name}", "{nmaer}", "has no field `{nmaer}`"),
        ("count = \"{count}\"", "count = \"{count\"", "a field without its end"),
        ("ware = \"cup\"", "wear = \"cup\"", "has no field `{wear}`"),
        ("rows = \"members.csv\"", "rows = \"nobody.csv\"", "cannot read"),
        ("rate = 45.0", "rate = -1", "`rate` is -1"),
        ("tax = 20.0", "taxes = 20.0", "did you mean `tax`?"),
        ("discount = [[12", "discount = [[60", "pieces rising"),
        ("job = \"cup.toml\"", "job = \"order.toml\"", "this is an order file"),
        ("input = \"cup.svg\"", "input = \"gone.svg\"", "cannot read"),
    ] {
        assert!(good.contains(from), "{from}");
        fs::write(&file, good.replacen(from, to, 1)).unwrap();
        let outcome = order(shop.path(), &[]);
        assert_eq!(outcome.status, Some(2), "{to}: {}", outcome.err);
        assert!(outcome.err.contains(expected), "{to}: {}", outcome.err);
    }
    fs::write(&file, &good).unwrap();
    for (bad, expected) in [
        ("10,\"Reed", "members.csv:14: a quote is opened here"),
        ("13,a,can,,#111,1,more", "members.csv:14: a row of more fields"),
    ] {
        fs::write(&table, format!("{rows}{bad}\n")).unwrap();
        let outcome = order(shop.path(), &[]);
        assert_eq!(outcome.status, Some(2), "{}", outcome.err);
        assert!(outcome.err.contains(expected), "{}", outcome.err);
    }
    fs::write(&table, rows).unwrap();
    for (only, expected) in [
        ("0", "`0` must be"),
        ("3-1", "`3-1` must be"),
        ("7,x", "`x` must be"),
        ("13", "has 12 rows"),
    ] {
        let outcome = order(shop.path(), &["--only", only]);
        assert_eq!(outcome.status, Some(2), "{only}");
        assert!(outcome.err.contains(expected), "{}", outcome.err);
    }
    assert!(!shop.path().join("orders/made").exists());
}

/// Rows of the order itself; one that nothing makes, one whose count is none and one that brings
/// its own braces.
#[test]
fn a_bad_row_spoils_no_other() {
    let shop = shop();
    let file = shop.path().join("orders/order.toml");
    let text = fs::read_to_string(&file).unwrap();
    let row = |number: &str, name: &str, ware: &str, ink: &str, count: &str, more: &str| {
        format!(
            "[[row]]\nnumber = {number}\nname = \"{name}\"\nware = \"{ware}\"\nink = \
             \"{ink}\"\ncount = {count}\n{more}"
        )
    };
    let here = [
        row("1", "{name}", "can", "navy", "2", ""),
        row("2", "Bo", "jug", "navy", "1", ""),
        row("3", "Cy", "can", "navy", "\"two\"", ""),
        row("4", "Di", "can", "</text>", "1", ""),
        row("5", "Ed", "can", "navy", "1", "boss = \"bow\"\n"),
    ]
    .concat();
    fs::write(&file, format!("{}{here}", text.replacen("rows = \"members.csv\"\n", "", 1)))
        .unwrap();
    let outcome = order(shop.path(), &["--json"]);
    assert_eq!(outcome.status, Some(1), "{}", outcome.err);
    let report = json(&outcome);
    assert_eq!(states(&report), ["made", "failed", "failed", "failed", "made"]);
    let told: Vec<&str> =
        (1..4).map(|row| report["pieces"][row]["message"].as_str().unwrap()).collect();
    assert!(told[0].contains("no [[make]] of the order fits it: ware is \"jug\""), "{}", told[0]);
    assert!(told[1].contains("its count is \"two\""), "{}", told[1]);
    assert!(told[2].contains("the paint `</text>`"), "{}", told[2]);
    assert_eq!(report["quote"]["pieces"], 3);
    // What an earlier run made for a row that fails now is not left to be burned; what belongs to
    // no row is named, and stays.
    change(&file, "count = 2", "count = \"none\"");
    change(&file, "number = 5", "number = 6");
    let later = order(shop.path(), &["--json"]);
    assert_eq!(states(&json(&later)), ["failed", "failed", "failed", "failed", "made"]);
    let made = shop.path().join("orders/made");
    assert!(!made.join("1-_name_.nc").exists());
    assert!(made.join("5-Ed.nc").exists());
    assert!(later.err.contains("5-Ed.nc belongs to no row of the order"), "{}", later.err);
}

/// An order that is killed leaves whole files and nothing else, and goes on where it was.
#[test]
fn an_order_that_is_stopped_goes_on() {
    let shop = shop();
    let table = shop.path().join("orders/members.csv");
    let rows: String = (1..=60).map(|n| format!("{n:02},Name {n},can,,#111,1\n")).collect();
    fs::write(&table, format!("number,name,ware,boss,ink,count\n{rows}")).unwrap();
    let made = shop.path().join("orders/made");
    let mut child = std::process::Command::new(stave())
        .args(["order", "orders/order.toml"])
        .current_dir(shop.path())
        .stdout(std::process::Stdio::null())
        .spawn()
        .unwrap();
    while files_named(&made) == 0 && child.try_wait().unwrap().is_none() {
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let stopped = files(&made);
    for (path, bytes) in &stopped {
        assert!(bytes.ends_with(b"M5\nM2\n"), "{path:?} is not whole");
    }
    let report = json(&order(shop.path(), &["--json"]).done());
    let kept = states(&report).iter().filter(|state| **state == "kept").count();
    assert_eq!(kept, stopped.len());
    let all = files(&made);
    assert_eq!(all.len(), 60);
    // The bytes do not depend on how they came about.
    fs::remove_dir_all(&made).unwrap();
    order(shop.path(), &[]).done();
    assert_eq!(files(&made), all);
}

fn files_named(folder: &Path) -> usize {
    fs::read_dir(folder).map_or(0, Iterator::count)
}

/// The sheets have every piece and every text, and tell the customer nothing of the machine.
#[test]
fn the_sheets_of_an_order_show_every_piece_and_every_text() {
    let shop = shop();
    let proof = |rest: &[&str]| {
        let arguments: Vec<&str> =
            ["proof", "orders/order.toml"].iter().chain(rest).copied().collect();
        run_in(shop.path(), &arguments, b"")
    };
    let read = |name: &str| fs::read_to_string(shop.path().join(name)).unwrap();
    proof(&["--for-customer", "-o", "cups.svg"]).done();
    let pages = ["cups.svg", "cups-2.svg", "cups-3.svg"].map(read).concat();
    assert!(!shop.path().join("cups-4.svg").exists());
    for words in [
        "Ada Quill",
        "Bo O'Neill &amp; Søn",
        "Łucja Żytka",
        "Ξένια Κρίνου",
        "Юлия Рогова",
        "עדה רון",
        "ნინო ტბელი",
    ] {
        // On its card and among the texts.
        assert!(pages.matches(words).count() >= 2, "{words}");
    }
    // A name that burns in two lines is read so.
    assert!(pages.contains("{Plain} &quot;Tea&quot;") && pages.contains("{Plain} / &quot;Tea"));
    assert_eq!(pages.matches("class=\"card\"").count(), 12);
    assert_eq!(pages.matches("<image ").count(), 12, "each has its picture");
    assert!(pages.contains("Bulrush Islands") && pages.contains("Approved as shown"));
    let of_machine = ["too-long", "degrees on A", "lens", "tilt", "nozzle"];
    for words in of_machine {
        assert!(!pages.contains(words), "{words}");
    }
    proof(&["-o", "bench.svg"]).done();
    assert!(["bench.svg", "bench-2.svg"].map(read).concat().contains("not fit: too-long"));
    proof(&["--for-customer", "-o", "cups.html"]).done();
    let page = read("cups.html");
    assert_eq!(page.matches("<section id=").count(), 12);
    assert!(!page.contains("too-long") && page.contains("<p dir=\"auto\">עדה רון</p>"));
    assert!(
        !page.contains("http://")
            || page.matches("http://").count() == page.matches("http://www.w3.org/").count()
    );
    proof(&["--for-customer", "--dpi", "40", "-o", "cups.png"]).done();
    assert!(fs::read(shop.path().join("cups-3.png")).unwrap().starts_with(b"\x89PNG"));
    let given = proof(&["-b", "blanks/can.toml", "-o", "cups.svg"]);
    assert_eq!(given.status, Some(2));
    assert!(given.err.contains("an order names its own blanks"), "{}", given.err);
}

/// A picture per row: from the drawing's folder, else from the order's, never from elsewhere; a
/// changed picture is made anew, and its row alone.
#[test]
fn a_row_may_name_its_picture() {
    let shop = tempfile::tempdir().unwrap();
    let at = |name: &str| shop.path().join(name);
    fs::create_dir_all(at("orders/art")).unwrap();
    fs::copy(fixture("blanks/can.toml"), at("orders/can.toml")).unwrap();
    fs::copy(fixture("machines/degrees.toml"), at("orders/bench.toml")).unwrap();
    let grey = |path: &str, shade: u8| {
        fs::write(at(path), png(2, 2, |x, y| if x == y { shade } else { 0 })).unwrap();
    };
    grey("orders/art/oar.png", 90);
    grey("orders/boat.png", 120);
    grey("outside.png", 90);
    let art = "<svg xmlns='http://www.w3.org/2000/svg' width='188.4956mm' height='110mm' \
               viewBox='0 0 188.4956 110'>\
               <image id='p' x='90' y='40' width='4' height='4' href='{picture}'/></svg>";
    fs::write(at("orders/art/art.svg"), art).unwrap();
    let job = "[[operation]]\nname = \"p\"\npick = { id = \"p\" }\nwork = \"picture\"\n\
               speed = 100\npower = 40\nlines_per_inch = 100\n";
    fs::write(at("orders/job.toml"), job).unwrap();
    let text = "machine = \"bench.toml\"\nout = \"made\"\nname = \"{name}\"\n\
                [[make]]\nblank = \"can.toml\"\njob = \"job.toml\"\ninput = \"art/art.svg\"\n\
                [[row]]\nname = \"oar\"\npicture = \"oar.png\"\n\
                [[row]]\nname = \"boat\"\npicture = \"boat.png\"\n\
                [[row]]\nname = \"gone\"\npicture = \"gone.png\"\n\
                [[row]]\nname = \"out\"\npicture = \"../outside.png\"\n";
    fs::write(at("orders/order.toml"), text).unwrap();
    let report = json(&order(shop.path(), &["--json"]));
    assert_eq!(states(&report), ["made", "made", "failed", "failed"], "{report:#}");
    for row in [2, 3] {
        let message = report["pieces"][row]["message"].as_str().unwrap();
        assert!(message.contains("left-out") || message.contains("left out"), "{message}");
    }
    let there = files(&at("orders/made"));
    assert_eq!(there.len(), 2);
    let states_now = || {
        let report = json(&order(shop.path(), &["--json"]));
        states(&report).into_iter().map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(states_now(), ["kept", "kept", "failed", "failed"]);
    grey("orders/boat.png", 60);
    assert_eq!(states_now(), ["kept", "made", "failed", "failed"]);
    let boat = at("orders/made/boat.nc");
    assert_ne!(there[&boat], fs::read(&boat).unwrap());
}

/// The table for the books goes over nothing that the order reads or makes, whatever rows are asked
/// for.
#[test]
fn the_books_go_over_nothing_of_the_order() {
    let shop = shop();
    let made = order(shop.path(), &[]);
    assert!(made.out_text().ends_with("\n  the 2 rows that failed are not in it\n"));
    for csv in ["orders/can.toml", "orders/cup.svg", "orders/made/01-Ada Quill.nc"] {
        let before = fs::read(shop.path().join(csv)).unwrap();
        for asked in [&["--only", "10"][..], &["--dry-run", "--only", "10"], &["--check"]] {
            let outcome = order(shop.path(), &[asked, &["--csv", csv]].concat());
            assert_eq!(outcome.status, Some(2), "{csv} {asked:?}: {}", outcome.err);
            assert!(outcome.err.contains("name another file"), "{}", outcome.err);
            assert!(fs::read(shop.path().join(csv)).unwrap() == before, "{csv} {asked:?}");
        }
    }
}
