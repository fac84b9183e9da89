//! What the judge finds, at its limit and not below it, by steps made by hand.

use proptest::prelude::*;
use stave_rig::{MadeFor, ROTARY, Rig, X, Z};
use stave_setup::{JobFile, Setup, read_blank, read_machine};
use stave_toolpath::{BeamWord, Corner, Stand, Step, StepKind, StepSink};

use super::{Judge, Made, RunFacts};
use crate::finding::{Code, Finding, Severity};

/// A can of 60 mm, so that 1 mm around is 1/30 rad, with a zone kept clear by 1 mm around it; and
/// behind it a step that stands at 78.7 degrees.
const CAN: &str = "name = \"can\"\n[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\n\
                   diameter = 60\n[[station]]\nat = 101\ndiameter = 70\n[[station]]\nat = 150\n\
                   diameter = 70\n[[zone]]\nname = \"boss\"\nat = [20, 30]\nturn = [80, 100]\n\
                   margin = 1\n";
const BENCH: &str = "name = \"bench\"\n[controller]\nfull_power = 1000\n[x]\nspeed = 500\n\
                     acceleration = 5000\nmin = -5\nmax = 120\n[y]\nspeed = 500\n\
                     acceleration = 5000\n[z]\nspeed = 20\nacceleration = 100\nup = \"away\"\n\
                     min = -2\nmax = 8\n[rotary]\nword = \"A\"\nunits_per_turn = 360\n\
                     speed = 360\nacceleration = 2000\nmin = -400\nmax = 800\n";

fn setup() -> Setup {
    let (blank, machine) = (read_blank(CAN, "b").unwrap(), read_machine(BENCH, "m").unwrap());
    Setup::new(blank, machine, JobFile::default()).unwrap()
}

/// Words by axis of a place of the run.
fn words(x: f64, z: f64, a: f64) -> [f64; 4] {
    let mut words = [0.0; 4];
    (words[X], words[Z], words[ROTARY]) = (x, z, a);
    words
}

fn stand(words: [f64; 4]) -> Stand {
    Stand { words, place: None }
}

/// A slow burn at half the power, on line 7 of section 3.
fn burn(from: [f64; 4], to: [f64; 4]) -> Step {
    Step {
        kind: StepKind::Burn,
        from: stand(from),
        to: stand(to),
        drives_z: true,
        beam: Some(BeamWord::M4),
        power_s: Some(500.0),
        time_s: 100.0,
        asked_s: 100.0,
        length_mm: 10.0,
        corner: Corner::Tolerance,
        joined: false,
        even_dose: false,
        line: 7,
        section: 3,
    }
}

fn travel(beam: Option<BeamWord>, power_s: Option<f64>) -> Step {
    let (from, to) = (words(0.0, 0.0, 0.0), words(10.0, 0.0, 0.0));
    Step { kind: StepKind::Travel, beam, power_s, ..burn(from, to) }
}

/// What is found in a run, and what keeps it from being written.
fn judged(made: Made, steps: &[Step]) -> (Vec<Finding>, Option<Code>) {
    let setup = setup();
    let made_for = MadeFor::of_setup(&setup);
    let mut judge = Judge::new(&setup, &made_for, made);
    let rig = Rig::of_setup(&setup);
    let mut placed = Judge::new(&setup, &made_for, made);
    for step in steps {
        judge.step(step).unwrap();
        // Whether the source knows the place or the judge has to look for it is all one.
        let at = |stand: Stand| Stand { place: Some(rig.place(&stand.words, &mut 0)), ..stand };
        placed.step(&Step { from: at(step.from), to: at(step.to), ..*step }).unwrap();
    }
    let verdict = judge.verdict(&RunFacts::default());
    let placed = placed.verdict(&RunFacts::default());
    assert_eq!(verdict.findings.len(), placed.findings.len());
    for (one, other) in verdict.findings.iter().zip(&placed.findings) {
        assert_eq!((one.code, &one.message), (other.code, &other.message));
        assert!(other.at.is_none_or(|at| near(one.at, at)), "{one:?} {other:?}");
        assert!(other.turn.is_none_or(|turn| near(one.turn, turn)), "{one:?} {other:?}");
    }
    (verdict.findings, judge.refuses(&[]))
}

/// The one finding of a run laid just now.
#[track_caller]
fn only(code: Code, steps: &[Step]) -> Finding {
    let (findings, _) = judged(Made::Here, steps);
    assert_eq!(findings.iter().map(|f| f.code).collect::<Vec<_>>(), [code], "{findings:?}");
    findings[0].clone()
}

#[track_caller]
fn clean(made: Made, steps: &[Step]) {
    assert_eq!(judged(made, steps), (Vec::new(), None));
}

fn near(found: Option<f64>, wanted: f64) -> bool {
    found.is_some_and(|found| (found - wanted).abs() < 1e-6)
}

#[test]
fn power() {
    let at = |power_s: f64| {
        let step = burn(words(40.0, 0.0, 0.0), words(50.0, 0.0, 0.0));
        Step { power_s: Some(power_s), ..step }
    };
    clean(Made::Here, &[at(1000.0)]);
    let found = only(Code::Power, &[at(300.0), at(1001.0), at(1000.5)]);
    assert!(near(found.value, 100.1) && near(found.limit, 100.0));
    assert_eq!((found.severity, found.line, found.section), (Severity::Error, Some(7), Some(3)));
    assert_eq!(judged(Made::Here, &[at(1001.0)]).1, Some(Code::Power));
    // What is burned before the first line has none.
    assert_eq!(only(Code::Power, &[Step { line: 0, ..at(1001.0) }]).line, None);
    // A dot burns too; what is dark has no power, whatever stands there.
    let dot = Step {
        kind: StepKind::Dot,
        from: at(1.0).to,
        time_s: 1.0,
        power_s: Some(1200.0),
        ..at(1.0)
    };
    assert!(near(only(Code::Power, &[dot]).value, 120.0));
    let dark = Step { kind: StepKind::Dark, ..at(1200.0) };
    clean(Made::Here, &[at(500.0), dark]);
    // A laser that is only on or off has no power to be too much.
    clean(Made::Here, &[Step { power_s: None, ..at(0.0) }]);
}

#[test]
fn travel_limits() {
    let home = words(0.0, 0.0, 0.0);
    let there = |to: [f64; 4]| {
        [
            burn(home, words(1.0, 0.0, 0.0)),
            Step { kind: StepKind::Travel, beam: None, ..burn(words(1.0, 0.0, 0.0), to) },
        ]
    };
    let ends = [(X, -5.0, 120.0), (Z, -2.0, 8.0), (ROTARY, -400.0, 800.0)];
    for (axis, min, max) in ends {
        let at = |value: f64| {
            let mut to = home;
            to[axis] = value;
            there(to)
        };
        clean(Made::Here, &at(min));
        clean(Made::Here, &at(max));
        for (value, limit) in [(min - 1e-3, min), (max + 1e-3, max)] {
            let found = only(Code::TravelLimit, &at(value));
            assert!(near(found.value, value) && near(found.limit, limit), "{found:?}");
            assert_eq!((found.severity, found.line), (Severity::Error, Some(7)));
            assert_eq!(judged(Made::Here, &at(value)).1, Some(Code::TravelLimit));
        }
    }
    // Both ends of an axis are told.
    let both = [there(words(-6.0, 0.0, 0.0)), there(words(121.0, 0.0, 0.0))].concat();
    assert_eq!(judged(Made::Here, &both).0.len(), 2);
}

/// Where a word of the can's rotary lies `mm` around past the edge of the zone's margin.
fn edge_deg(mm: f64) -> f64 {
    80.0 + ((mm - 1.0) / 30.0_f64).to_degrees()
}

#[test]
fn zones() {
    // The words' rounding and the tolerance of 0.01 mm may lie over an edge.
    let slack = 0.01 + 1e-3;
    let along = |mm: f64| {
        let turn = edge_deg(mm);
        burn(words(22.0, 0.0, turn), words(28.0, 0.0, turn))
    };
    let into = |mm: f64| burn(words(10.0, 0.0, 90.0), words(19.0 + mm, 0.0, 90.0));
    for lap in [-360.0, 0.0, 360.0] {
        for step in [along, into] {
            let at = |mm: f64| {
                let mut step = step(mm);
                step.from.words[ROTARY] += lap;
                step.to.words[ROTARY] += lap;
                [step]
            };
            clean(Made::Here, &at(-0.5));
            clean(Made::Here, &at(slack - 1e-6));
            let found = only(Code::Zone, &at(slack + 1e-3));
            assert!(near(found.value, slack + 1e-3) && found.message.contains("\"boss\""));
            assert_eq!((found.severity, found.line), (Severity::Error, Some(7)));
            assert_eq!(judged(Made::Here, &at(slack + 1e-3)).1, Some(Code::Zone));
        }
    }
    // Across it, with both ends outside; and a dot in its middle.
    let across = burn(words(25.0, 0.0, 40.0), words(25.0, 0.0, 140.0));
    let found = only(Code::Zone, &[across]);
    assert!(near(found.value, 6.0) && near(found.at, 25.0), "{found:?}");
    let dot = Step { kind: StepKind::Dot, from: stand(words(25.0, 0.0, 90.0)), ..across };
    let dot = Step { to: dot.from, time_s: 1.0, ..dot };
    assert!(near(only(Code::Zone, &[dot]).turn, 90.0));
    // What does not mark may go there.
    let dark = Step { kind: StepKind::Dark, ..across };
    clean(Made::Here, &[burn(words(0.0, 0.0, 0.0), words(1.0, 0.0, 0.0)), dark]);
}

#[test]
fn the_beam_on_travels() {
    let first = burn(words(40.0, 0.0, 0.0), words(50.0, 0.0, 0.0));
    for dark in
        [travel(None, Some(300.0)), travel(None, None), travel(Some(BeamWord::M4), Some(0.0))]
    {
        clean(Made::Before, &[first, dark]);
    }
    for lit in [travel(Some(BeamWord::M4), Some(0.001)), travel(Some(BeamWord::M3), None)] {
        let found = only(Code::BeamOnTravel, &[first, lit, Step { line: 8, ..lit }]);
        assert!(found.message.contains("during 2 travels"), "{}", found.message);
        assert_eq!((found.severity, found.line), (Severity::Error, Some(7)));
    }
}

#[test]
fn speeds() {
    // 10 mm of X at 500 mm/s, 36 degrees at 360 a second, 1 mm of Z at 20 mm/s.
    let ways = [(X, 10.0, 0.02, 500.0), (ROTARY, 36.0, 0.1, 360.0), (Z, 1.0, 0.05, 20.0)];
    for (axis, way, least_s, limit) in ways {
        let asked = |asked_s: f64, kind: StepKind| {
            let mut to = words(40.0, 0.0, 0.0);
            to[axis] += way;
            // As slowed it keeps the limit; what was asked is what is told.
            [Step { kind, asked_s, time_s: least_s, ..burn(words(40.0, 0.0, 0.0), to) }]
        };
        for share in [1.0, 1.0 - 5e-4, 3.0] {
            clean(Made::Here, &asked(least_s * share, StepKind::Burn));
        }
        let found = only(Code::SpeedLimit, &asked(least_s * 0.5, StepKind::Burn));
        assert!(near(found.value, 2.0 * limit) && near(found.limit, limit), "{found:?}");
        assert_eq!((found.severity, found.line), (Severity::Warning, Some(7)));
        // It is not refused.
        assert_eq!(judged(Made::Here, &asked(least_s * 0.5, StepKind::Burn)).1, None);
        only(Code::SpeedLimit, &asked(least_s * 0.998, StepKind::Burn));
        let lit = burn(words(40.0, 0.0, 0.0), words(41.0, 0.0, 0.0));
        let dark = asked(least_s * 0.5, StepKind::Dark)[0];
        only(Code::SpeedLimit, &[lit, dark]);
        // A travel asks for nothing.
        let travel = Step { beam: None, ..asked(0.0, StepKind::Travel)[0] };
        clean(Made::Here, &[lit, travel]);
    }
}

#[test]
fn off_the_wall_and_out_of_reach() {
    let first = burn(words(40.0, 0.0, 0.0), words(50.0, 0.0, 0.0));
    // The rounding of two words.
    let before = |x: f64| [first, burn(words(1.0, 0.0, 0.0), words(x, 0.0, 0.0))];
    clean(Made::Before, &before(0.0));
    clean(Made::Before, &before(-1e-4));
    let (findings, refused) = judged(Made::Before, &before(-0.01));
    assert!(findings.len() == 1 && findings[0].code == Code::OffWall);
    assert!(near(findings[0].value, 0.01) && near(findings[0].at, -0.01));
    // What was laid just now was held to the wall on the way.
    assert_eq!(refused, None);
    clean(Made::Here, &before(-0.01));
    // The step stands at atan 5, 78.7 degrees; 75 can be burned.
    let onto = |x: f64| [burn(words(90.0, 0.0, 0.0), words(x, 0.0, 0.0))];
    clean(Made::Before, &onto(100.0));
    let (findings, _) = judged(Made::Before, &onto(100.5));
    assert!(findings.len() == 1 && findings[0].code == Code::Reach, "{findings:?}");
    assert!(near(findings[0].value, 5_f64.atan().to_degrees()) && near(findings[0].limit, 75.0));
}

#[test]
fn burned_twice_and_not_at_all() {
    let around = |deg: f64| burn(words(50.0, 0.0, -30.0), words(50.0, 0.0, deg - 30.0));
    clean(Made::Here, &[around(360.0)]);
    let found = only(Code::Overlap, &[around(457.0)]);
    assert!(found.value.is_some_and(|value| (value - 97.0).abs() <= 1.0), "{found:?}");
    assert!(found.at.is_some_and(|at| (at - 50.0).abs() <= 1.0));
    assert_eq!(found.severity, Severity::Error);
    only(Code::NothingBurns, &[travel(None, Some(0.0))]);
    let setup = setup();
    let walk = MadeFor { walk: true, ..MadeFor::of_setup(&setup) };
    let mut judge = Judge::new(&setup, &walk, Made::Before);
    judge.step(&travel(None, Some(0.0))).unwrap();
    assert!(judge.verdict(&RunFacts::default()).findings.is_empty());
}

proptest! {
    /// On the wall, clear of the zone, in reach, within limits: nothing is found, in any order.
    #[test]
    fn a_run_that_keeps_within_everything_is_clean(
        places in prop::collection::vec((31.5..99.0_f64, -90.0..90.0_f64, 0.0..=1000.0_f64), 2..40),
    ) {
        let steps: Vec<Step> = places
            .windows(2)
            .map(|pair| {
                let at = |place: (f64, f64, f64)| words(place.0, 0.0, place.1);
                Step { power_s: Some(pair[1].2), ..burn(at(pair[0]), at(pair[1])) }
            })
            .collect();
        for made in [Made::Here, Made::Before] {
            prop_assert_eq!(judged(made, &steps), (Vec::new(), None));
        }
    }
}

/// The can's crest lies at 30 mm, and behind its step at 35: what burns on both is focused half
/// way, whichever comes first.
#[test]
fn the_focus_is_half_way_between_what_burns() {
    let low = burn(words(20.0, 0.0, 0.0), words(40.0, 0.0, 0.0));
    let high = burn(words(110.0, 0.0, 0.0), words(120.0, 0.0, 0.0));
    let setup = setup();
    let focus = |steps: &[Step]| {
        let mut judge = Judge::new(&setup, &MadeFor::of_setup(&setup), Made::Before);
        assert!(!judge.burned() && judge.burned_at_mm().is_none());
        for step in steps {
            judge.step(step).unwrap();
        }
        assert!(judge.burned());
        (judge.focus(), judge.burned_at_mm().unwrap())
    };
    for steps in [[low, high], [high, low]] {
        let (found, at) = focus(&steps);
        assert!((found.height_mm - 32.5).abs() < 1e-9 && (found.defocus_mm - 2.5).abs() < 1e-9);
        assert!((at.0 - 20.0).abs() < 1e-9 && (at.1 - 120.0).abs() < 1e-9, "{at:?}");
    }
    let (found, _) = focus(&[low]);
    assert!((found.height_mm - 30.0).abs() < 1e-9 && found.defocus_mm.abs() < 1e-9);
}

/// A walk is focused where the program was: at the height that its line 1 tells, found on the wall
/// and not at the zero. The can's step rises from 30 to 35 mm between 100 and 101.
#[test]
fn a_walk_is_focused_where_its_wall_has_that_height() {
    let setup = setup();
    let at = |height_mm: f64, zero_mm: f64| {
        let own = MadeFor::of_setup(&setup);
        let zero = (zero_mm, own.zero.1);
        let made_for = MadeFor { focus_height_mm: Some(height_mm), walk: true, zero, ..own };
        let focus = Judge::new(&setup, &made_for, Made::Before).focus();
        assert!((focus.height_mm - height_mm).abs() < 1e-12);
        focus.place.at_mm
    };
    for (height_mm, zero_mm, expected) in [
        (32.5, 0.0, 100.5),
        (32.5, 140.0, 100.5),
        (30.0, 40.0, 40.0),
        (35.0, 40.0, 101.0),
        // No place has it: what else could be told?
        (50.0, 40.0, 40.0),
    ] {
        let found = at(height_mm, zero_mm);
        assert!((found - expected).abs() < 1e-9, "{height_mm} {zero_mm}: {found}");
    }
}

/// A head 2 mm higher over a wall that is 2 mm higher is as far from it, whichever way Z grows; and
/// as it was focused with Z at 0, over a wall that is no higher it is out of focus.
#[test]
fn z_words_lift_the_head_the_way_they_grow() {
    let cone = "station = [{ at = 0, diameter = 60 }, { at = 100, diameter = 80 }]";
    for (up, z) in [("away", 2.0), ("toward", -2.0)] {
        let bench = BENCH.replace("up = \"away\"", &format!("up = \"{up}\""));
        let focus = |blank: &str| {
            let machine = read_machine(&bench, "m").unwrap();
            let setup = Setup::new(read_blank(blank, "b").unwrap(), machine, JobFile::default());
            let setup = setup.unwrap();
            let mut judge = Judge::new(&setup, &MadeFor::of_setup(&setup), Made::Before);
            judge.step(&burn(words(40.0, 0.0, 0.0), words(40.1, 0.0, 0.0))).unwrap();
            judge.step(&burn(words(60.0, z, 0.0), words(60.1, z, 0.0))).unwrap();
            judge.focus()
        };
        let on_cone = focus(cone);
        assert!((on_cone.height_mm - 34.005).abs() < 1e-9, "{up}: {on_cone:?}");
        assert!(on_cone.defocus_mm < 0.006, "{up}: {on_cone:?}");
        let on_can = focus(CAN);
        assert!((on_can.height_mm - 30.0).abs() < 1e-9, "{up}: {on_can:?}");
        assert!((on_can.defocus_mm - 2.0).abs() < 1e-9, "{up}: {on_can:?}");
    }
}

/// However far too fast, what is advised is more than nothing and still within what the axis does.
#[test]
fn too_fast_is_told_with_a_speed_that_goes() {
    for (asked_s, advised) in [(10.0, None), (0.01, Some("50 %")), (1e-5, Some("0.05 %"))] {
        let step = Step { asked_s, ..burn(words(40.0, 0.0, 0.0), words(50.0, 0.0, 0.0)) };
        let (findings, _) = judged(Made::Before, &[step]);
        let told = findings.iter().find(|one| one.code == Code::SpeedLimit);
        assert_eq!(told.is_some(), advised.is_some(), "{findings:?}");
        let advised = advised.map(|share| format!("; ask for {share} of the speed or less"));
        let message = told.map(|one| one.message.clone()).unwrap_or_default();
        assert!(message.ends_with(&advised.unwrap_or_default()), "{message}");
    }
}

/// Two times are told only as far as they can be told apart.
#[test]
fn times_that_look_alike_are_not_set_against_each_other() {
    let setup = setup();
    let told = |asked_s: f64, burns_take_s: f64| {
        let mut judge = Judge::new(&setup, &MadeFor::of_setup(&setup), Made::Before);
        let step = Step { time_s: asked_s, ..burn(words(40.0, 0.0, 0.0), words(50.0, 0.0, 0.0)) };
        judge.step(&step).unwrap();
        let verdict = judge.verdict(&RunFacts { burns_take_s, ..RunFacts::default() });
        verdict.told.into_iter().find(|told| told.contains("were asked for"))
    };
    assert!(told(10.0, 12.0).unwrap().contains("take 12 s, and 10 s were asked for"));
    assert!(told(0.26, 0.29).unwrap().contains("take 0.29 s, and 0.26 s were asked for"));
    assert_eq!(told(2e-5, 3e-5), None);
    assert_eq!(told(2e-5, 0.4), None);
    assert_eq!(told(10.0, 10.2), None);
}

/// On ware that is not true the place to focus at is one of a turn, whose wall is as high as the
/// focus: the middle between the lowest and the highest that burns.
#[test]
fn on_uneven_ware_the_place_to_focus_at_has_the_height() {
    let ware = |oval: f64, runout: f64, rim: f64| {
        format!(
            "station = [{{ at = 0, diameter = 70, oval = {oval}, runout = {runout}, \
             runout_turn = 40 }}, {{ at = 100, diameter = {rim}, oval = {oval} }}]"
        )
    };
    for (oval, runout, rim, tilt, turns) in [
        (0.0, 0.5, 70.0, 0.0, (130.0, 230.0)),
        (0.8, 0.3, 78.0, -2.3, (-45.0, 45.0)),
        (2.0, 0.0, 70.0, 3.0, (350.0, 720.0)),
        (0.4, 0.2, 70.0, 0.0, (90.0, 90.0)),
    ] {
        let blank = read_blank(&ware(oval, runout, rim), "b").unwrap();
        let mut job = JobFile::default();
        job.set_option("tilt", &tilt.to_string()).unwrap();
        let setup = Setup::new(blank, read_machine(BENCH, "m").unwrap(), job).unwrap();
        let mut judge = Judge::new(&setup, &MadeFor::of_setup(&setup), Made::Before);
        judge.step(&burn(words(20.0, 0.0, turns.0), words(40.0, 0.0, turns.1))).unwrap();
        let focus = judge.focus();
        let turn_rad = focus.place.turn_rad.unwrap();
        let height_mm = focus.place.height_mm(&setup.blank, setup.job.tilt_rad, 0.0);
        assert!((height_mm - focus.height_mm).abs() < 1e-6, "{focus:?}");
        assert!(turn_rad.abs() <= std::f64::consts::PI + 1e-9, "{focus:?}");
        // Between what burns; nothing that burns is farther off than is told.
        assert!((19.9..=40.1).contains(&focus.place.at_mm), "{focus:?}");
        let radius = |at: f64, turn: f64| {
            setup.blank.wall.section(setup.blank.wall.s_of_at(at), &mut 0).radius_mm
                + setup.blank.running.off_mm(at, turn.to_radians())
        };
        let off = |share: f64| {
            let at = 20.0 + 20.0 * share;
            let turn = turns.0 + (turns.1 - turns.0) * share;
            let tilt = setup.job.tilt_rad;
            at * tilt.sin() + radius(at, turn) * tilt.cos() - focus.height_mm
        };
        let worst = (0..=400).map(|k| off(f64::from(k) / 400.0).abs()).fold(0.0, f64::max);
        // Burns go straight in words; along a tilted cone that is straight in place.
        assert!((worst - focus.defocus_mm).abs() < 0.02, "{worst} {focus:?}");
    }
    // True ware has no such turn.
    let setup = setup();
    let mut judge = Judge::new(&setup, &MadeFor::of_setup(&setup), Made::Before);
    judge.step(&burn(words(20.0, 0.0, 0.0), words(40.0, 0.0, 90.0))).unwrap();
    assert_eq!(judge.focus().place.turn_rad, None);
}
