//! Tables: RFC 4180 to the letter, and what is not by it.

#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use std::io::{self, Read, Write as _};
use std::process::{Command, Stdio};

use stave_setup::{Rows, RowsError, Separator, read_rows};

fn read(table: &[u8]) -> Result<Rows, String> {
    read_rows(table, "t.csv", Separator::Comma, None).map_err(|error| error.to_string())
}

fn values(table: &str) -> Vec<Vec<String>> {
    let rows = read(table.as_bytes()).unwrap();
    std::iter::once(rows.header).chain(rows.rows.into_iter().map(|row| row.values)).collect()
}

/// The examples of RFC 4180, section 2, numbers 1, 2 and 5 to 7.
#[test]
fn the_examples_of_the_rfc() {
    let plain = [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]];
    assert_eq!(values("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"), plain);
    assert_eq!(values("aaa,bbb,ccc\r\nzzz,yyy,xxx"), plain);
    assert_eq!(values("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx"), plain);
    let broken = [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]];
    assert_eq!(values("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx"), broken);
    let quoted = "h,i,j\r\n\"aaa\",\"b\"\"bb\",\"ccc\"";
    assert_eq!(values(quoted)[1], ["aaa", "b\"bb", "ccc"]);
}

#[test]
fn lines_are_those_of_the_file() {
    let table = "\u{feff}name,boat\n\n\"two\nlines\",a\n\r\n b ,\r\n\"\",\"\"\n";
    let rows = read(table.as_bytes()).unwrap();
    assert_eq!(rows.header, ["name", "boat"]);
    let found: Vec<(u64, &[String])> =
        rows.rows.iter().map(|row| (row.line, row.values.as_slice())).collect();
    let expected: [(u64, [&str; 2]); 3] =
        [(3, ["two\nlines", "a"]), (6, [" b ", ""]), (7, ["", ""])];
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(expected) {
        assert_eq!((found.0, found.1), (expected.0, &expected.1.map(str::to_owned)[..]));
    }
    let tabs = read_rows(&b"a\tb\n1,2\t\"3\t4\"\n"[..], "t.tsv", Separator::Tab, None).unwrap();
    assert_eq!(tabs.rows[0].values, ["1,2", "3\t4"]);
    assert_eq!(
        read_rows(&b"a\n1\n2\n3\n"[..], "t", Separator::Comma, Some(2)).unwrap().rows.len(),
        2
    );
}

#[test]
fn what_is_not_a_table_is_told_with_its_line() {
    let told = |table: &[u8]| read(table).unwrap_err();
    for (table, expected) in [
        (&b""[..], "t.csv: it is empty"),
        (b"\n\n", "t.csv: it is empty"),
        (b"\xef\xbb\xbf", "t.csv: it is empty"),
        (b"a,,b\n", "t.csv:1: the header has a field without a name"),
        (b"a,b,a\n", "t.csv:1: the header names `a` twice"),
        (b"a\x1b[2J,a\x1b[2J\n", "t.csv:1: the header names `a\u{fffd}[2J` twice"),
        (b"a;b\n1;2\n", "t.csv:1: fields are parted by commas, and these by semicolons"),
        (b"a,b\n1,2\n1\n", "t.csv:3: a row of 1 fields, but the header has 2"),
        (b"a,b\n1,2,3\n", "t.csv:2: a row of more fields than the header has, which are 2"),
        (b"a,b\n1,\"2\n3\n", "t.csv:2: a quote is opened here and never closed"),
        (b"a,b,c\n1,\"2\n3,4\n", "t.csv:2: a quote is opened here and never closed"),
        (b"a,b\n1,5\" pipe\n", "t.csv:2: a quote within a field that has none around it"),
        (b"a,b\n1,\"5\" pipe\n", "t.csv:2: text after the closing quote"),
        (b"a\nx\n\0\n", "t.csv:3: a field holds a NUL"),
        (b"a\n\xed\xa0\x80\n", "t.csv:2: this is not UTF-8"),
        (b"\xff\xfea\0\n\0", "t.csv:1: a field holds a NUL"),
        (b"a\n\"x\ny\xff\"\n", "t.csv:2: this is not UTF-8"),
    ] {
        let message = told(table);
        assert!(message.starts_with(expected), "{table:?}: {message}");
    }
    let wide = format!("a,b\n{}\n", vec!["x"; 10_000].join(","));
    assert!(told(wide.as_bytes()).starts_with("t.csv:2: a row of more fields"));
}

/// A line of two gigabytes is refused when its first megabyte has come.
#[test]
fn a_field_without_end_is_not_read_to_it() {
    struct Endless(u64);
    impl Read for Endless {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            buffer.fill(b'x');
            self.0 += buffer.len() as u64;
            assert!(self.0 < 4 << 20, "it read on");
            Ok(buffer.len())
        }
    }
    let head = &b"name\nAda\n"[..];
    for quote in [&b""[..], b"\""] {
        let table = head.chain(quote).chain(Endless(0));
        let error = read_rows(table, "t.csv", Separator::Comma, None).unwrap_err();
        let RowsError::Fault(message) = error else { panic!("{error:?}") };
        assert_eq!(message, "t.csv:3: a field has more than 1000000 bytes");
    }
}

const NASTY: &str = "name,note,\"a,b\"\r\n\
    \"Quill, Ada\",\"says \"\"so\"\"\",1\r\n\
    O'Neill & Søn,\"two\r\nlines\",\n\
    \n\
    \"\",\"\"\"\",\"\"\"\"\"\"\n\
    \" blanks \", kept , \t\n\
    \"Ξένια\",\"Юлия\",\"עדה\"\r\n\
    {brace},;semi|pipe,'single'\r\n\
    \"\n\",\",\",\"\r\n\"";

/// Two other readers of the same nasty table: the csv crate, and Python's csv module with
/// `strict=True` (PEP 305; both take the dialect of RFC 4180).
#[test]
fn others_read_the_same() {
    let ours = values(NASTY);
    assert_eq!(ours.len(), 8);
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(NASTY.as_bytes());
    let crates: Vec<Vec<String>> = reader
        .records()
        .map(|record| record.unwrap().iter().map(str::to_owned).collect())
        .collect();
    assert_eq!(ours, crates);
    let script = "import csv, io, json, sys\n\
                  text = sys.stdin.buffer.read().decode('utf-8')\n\
                  rows = csv.reader(io.StringIO(text, newline=''), strict=True)\n\
                  print(json.dumps([row for row in rows if row]))\n";
    let spawned = Command::new("python3")
        .args(["-c", script])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn();
    // Python is on the machine wherever the checks run; whoever has none is told so.
    let mut python = spawned.expect("python3 is needed for this test");
    python.stdin.take().unwrap().write_all(NASTY.as_bytes()).unwrap();
    let output = python.wait_with_output().unwrap();
    assert!(output.status.success());
    let pythons: Vec<Vec<String>> = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(ours, pythons);
}

proptest::proptest! {
    #![proptest_config(stave_tests::cases(64))]

    /// What the csv crate writes is read back, however the bytes come in.
    #[test]
    fn what_is_written_is_read(
        rows in proptest::collection::vec(
            proptest::collection::vec("[a\"\r\n, \\tøא]{0,6}", 3), 1..6),
        cut in 1_usize..9,
    ) {
        struct Slowly<'a>(&'a [u8], usize);
        impl Read for Slowly<'_> {
            fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
                let count = self.1.min(self.0.len()).min(buffer.len());
                let (now, later) = self.0.split_at(count);
                buffer[..count].copy_from_slice(now);
                self.0 = later;
                Ok(count)
            }
        }
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(["x", "y", "z"]).unwrap();
        rows.iter().for_each(|row| writer.write_record(row).unwrap());
        let bytes = writer.into_inner().unwrap();
        let read = read_rows(Slowly(&bytes, cut), "t.csv", Separator::Comma, None).unwrap();
        let found: Vec<Vec<String>> = read.rows.into_iter().map(|row| row.values).collect();
        proptest::prop_assert_eq!(found, rows);
    }
}
