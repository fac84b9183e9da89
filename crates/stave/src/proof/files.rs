//! Which files a picture is of, each with its digest.

use stave_picture::proof::FileShown;
use stave_rig::MadeFor;
use stave_setup::Digests;

/// What the input is called.
pub(super) const INPUT: &str = "input";

/// The names of the files that a program is held against, as the sheet is to show them; empty where
/// there is none.
#[derive(Clone, Debug, Default)]
pub struct FileNames {
    /// Of the blank.
    pub blank: String,
    /// Of the machine.
    pub machine: String,
    /// Of the job.
    pub job: String,
    /// Of the input; that of the source where this is empty.
    pub input: String,
}

/// The files of a program with the digests of line 1; `own` are those of the files at hand. A name
/// stands only beside the digest of what the file says: what a program was made from may be at hand
/// no more.
pub(super) fn shown(
    names: &FileNames,
    own: &Digests,
    made_for: &MadeFor,
    (finished, source, input): (bool, &str, Option<&str>),
) -> Vec<FileShown> {
    let made = made_for.files.as_ref().unwrap_or(own);
    let settings = [
        ("blank", &names.blank, &own.blank, &made.blank),
        ("machine", &names.machine, &own.machine, &made.machine),
        ("job", &names.job, &own.job, &made.job),
    ];
    let settings = settings.map(|(what, name, own, made)| {
        let name = if own == made { bare(name) } else { "" };
        one(what, name, made)
    });
    let source = bare(if names.input.is_empty() { source } else { &names.input });
    let program = finished.then(|| one("program", source, "-"));
    let input = one(INPUT, if finished { "" } else { source }, input.unwrap_or("-"));
    let all = settings.into_iter().chain(program).chain([input]);
    all.filter(|file| !(file.name.is_empty() && file.digest.is_empty())).collect()
}

fn one(what: &'static str, name: &str, digest: &str) -> FileShown {
    let digest = if digest == "-" { "" } else { digest };
    FileShown { what, name: name.to_owned(), digest: digest.to_owned() }
}

/// A name without its folder.
fn bare(name: &str) -> &str {
    name.rsplit(['/', '\\']).next().unwrap_or(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_stands_beside_its_own_digest_alone() {
        let digests = |blank: &str| Digests {
            blank: blank.to_owned(),
            machine: "22222222".to_owned(),
            job: "-".to_owned(),
            input: "-".to_owned(),
        };
        let names = FileNames {
            blank: "ware/cup.toml".to_owned(),
            machine: "bench.toml".to_owned(),
            ..FileNames::default()
        };
        let line_one = "stave wrapped 1 blank=cup machine=bench lay=true-width tilt=0 place=0,0 \
                        zero=0,0 toward=x+ focus=fixed";
        let mut made_for = MadeFor::parse(line_one.as_bytes()).unwrap().unwrap();
        let told = |made_for: &MadeFor, source: (bool, &str, Option<&str>)| -> Vec<String> {
            let all = shown(&names, &digests("11111111"), made_for, source);
            all.iter().map(ToString::to_string).collect()
        };
        let drawn = (false, "art/crest.svg", Some("33333333"));
        let all = ["blank cup.toml 11111111", "machine bench.toml 22222222"];
        assert_eq!(told(&made_for, drawn), [&all[..], &["input crest.svg 33333333"]].concat());
        made_for.files = Some(digests("44444444"));
        assert_eq!(
            told(&made_for, (true, "crest.nc", Some("33333333"))),
            ["blank 44444444", all[1], "program crest.nc", "input 33333333"]
        );
    }
}
