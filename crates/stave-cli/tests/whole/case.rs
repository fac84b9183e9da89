//! One way to wrap one program: which files, which settings, and the command that does it.

use crate::command::{self, LAID, Outcome, fixture};
use crate::lay::{Lay, LayKind};
use crate::meridian::Meridian;
use crate::rotary::Rotary;
use crate::settings::{self, Machine};
use std::path::PathBuf;

/// The settings of a wrap. Lengths mm, angles degrees.
#[derive(Clone, Debug)]
pub struct Case {
    pub blank: PathBuf,
    pub machine: PathBuf,
    pub lay: LayKind,
    pub anchor: Option<(f64, f64)>,
    pub tilt: f64,
    pub tolerance: f64,
    pub place: (f64, f64),
    pub zero: Option<(f64, f64)>,
    pub toward_minus: bool,
    pub even_dose: bool,
    pub follow: bool,
}

impl Case {
    pub fn new(blank: &str, machine: &str, lay: LayKind, tilt: f64, place_at: f64) -> Self {
        Self {
            blank: fixture(&format!("blanks/{blank}.toml")),
            machine: fixture(&format!("machines/{machine}.toml")),
            lay,
            anchor: None,
            tilt,
            tolerance: 0.01,
            place: (place_at, 0.0),
            zero: None,
            toward_minus: false,
            even_dose: false,
            follow: false,
        }
    }

    /// The arguments of `stave wrap` for standard input.
    pub fn arguments(&self) -> Vec<String> {
        let mut all: Vec<String> = vec!["wrap".into(), "-".into()];
        let mut add = |key: &str, value: String| all.extend([key.to_owned(), value]);
        add("-b", self.blank.display().to_string());
        add("-m", self.machine.display().to_string());
        add("--lay", self.lay.name().into());
        add("--anchor", self.anchor.map_or("drawing".into(), |(u, v)| format!("{u},{v}")));
        add("--tilt", self.tilt.to_string());
        add("--tolerance", self.tolerance.to_string());
        add("--place-at", self.place.0.to_string());
        add("--place-turn", self.place.1.to_string());
        if let Some((at, turn)) = self.zero {
            add("--zero-at", at.to_string());
            add("--zero-turn", turn.to_string());
        }
        add("--toward", if self.toward_minus { "x-" } else { "x+" }.into());
        add("--dose", if self.even_dose { "even" } else { "as-given" }.into());
        add("--focus", if self.follow { "follow" } else { "fixed" }.into());
        all.extend(LAID.map(str::to_owned));
        // Art may go around a narrow wall more than once here: what is asked is where it lands.
        all.extend(["--allow", "overlap"].map(str::to_owned));
        all
    }

    /// The same settings as a job file.
    pub fn job_file(&self) -> String {
        let anchor = self.anchor.map_or("\"drawing\"".into(), |(u, v)| format!("[{u:?}, {v:?}]"));
        let zero = self
            .zero
            .map_or(String::new(), |(at, turn)| format!("[zero]\nat = {at:?}\nturn = {turn:?}\n"));
        let allow: Vec<&str> = LAID[1].split(',').chain(["overlap"]).collect();
        format!(
            "allow = {allow:?}\nlay = \"{}\"\nanchor = {anchor}\ntilt = {:?}\ntolerance = {:?}\ntoward = \
             \"{}\"\ndose = \"{}\"\n\
             focus = \"{}\"\n[place]\nat = {:?}\nturn = {:?}\n{zero}",
            self.lay.name(),
            self.tilt,
            self.tolerance,
            if self.toward_minus { "x-" } else { "x+" },
            if self.even_dose { "even" } else { "as-given" },
            if self.follow { "follow" } else { "fixed" },
            self.place.0,
            self.place.1,
        )
    }

    /// Wraps `program`, settings given as options.
    pub fn wrap(&self, program: &str) -> Outcome {
        let arguments = self.arguments();
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        command::run(&arguments, program.as_bytes())
    }

    /// Wraps `program`, settings given in a job file.
    pub fn wrap_by_file(&self, program: &str) -> Outcome {
        let folder = tempfile::tempdir().unwrap();
        let job = folder.path().join("job.toml");
        std::fs::write(&job, self.job_file()).unwrap();
        let path = |p: &PathBuf| p.display().to_string();
        let (blank, machine, job) = (path(&self.blank), path(&self.machine), path(&job));
        command::run(&["wrap", "-b", &blank, "-m", &machine, "-j", &job], program.as_bytes())
    }

    /// The same setting in these tests' own mathematics.
    pub fn bench(&self) -> Bench {
        let wall = settings::wall(&self.blank);
        let machine = settings::machine(&self.machine);
        let lay = Lay::new(&wall, self.lay, self.place, self.anchor);
        let rotary = Rotary::new(
            &wall,
            &machine,
            self.tilt,
            self.zero.unwrap_or(self.place),
            self.toward_minus,
        );
        Bench { wall, machine, lay, rotary, tolerance: self.tolerance }
    }
}

/// Wall, machine, lay and rotary of a case.
pub struct Bench {
    pub wall: Meridian,
    pub machine: Machine,
    pub lay: Lay,
    pub rotary: Rotary,
    pub tolerance: f64,
}

impl Bench {
    /// The `u` whose points land at a length along the meridian.
    pub fn u_of_s(&self, s: f64) -> f64 {
        let (mut low, mut high) = (-1e3, 1e3);
        for _ in 0..80 {
            let middle = f64::midpoint(low, high);
            if self.lay.image(&self.wall, middle, 0.0)[0] < s {
                low = middle;
            } else {
                high = middle;
            }
        }
        f64::midpoint(low, high)
    }

    /// Where a point of the flat program lands: `s` and turn.
    pub fn image(&self, xy: [f64; 2]) -> [f64; 2] {
        let (u, v) = if self.machine.along == 1 { (xy[1], -xy[0]) } else { (xy[0], xy[1]) };
        self.lay.image(&self.wall, u, v)
    }
}
