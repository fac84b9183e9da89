//! Tests of the `stave` command as its user meets it.
//!
//! What is checked here is checked from outside: a program reader, a wall and lays of these tests'
//! own, written from the formulas and not from the crates, read back what `stave wrap` wrote.
#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]
#![expect(unreachable_pub, reason = "one binary of many modules: pub means for the others")]

mod agree;
mod alike;
mod any;
mod around;
mod art;
mod art_pixels;
mod axis_ends;
mod backlash;
mod bad_input;
mod broken_runs;
mod case;
mod check;
mod choices;
mod close_up;
mod coating;
mod command;
mod cutting;
mod dates;
mod digests;
mod drawn;
mod estimate;
mod far_out;
mod feed_words;
mod fields;
mod files;
mod files_written;
mod fixtures;
mod flat_place;
mod framed;
mod globe;
mod greedy;
mod head;
mod icons;
mod ideal;
mod inches;
mod kept;
mod lag;
mod late;
mod lay;
mod lays;
mod long_programs;
mod manners;
mod measure;
mod measuring;
mod meridian;
mod odd_pictures;
mod on_itself;
mod on_off;
mod one_focus;
mod orders;
mod part;
mod pictures;
mod place;
mod program;
#[cfg(target_os = "linux")]
mod progress;
mod proof;
mod rays;
mod readme;
mod reference;
mod rendered;
mod replay;
mod replayed;
mod resume;
mod rotary;
mod scan_again;
mod second_opinions;
mod seen_through;
mod set_line;
mod setting_up;
mod settings;
mod svg_out;
mod swatch;
mod swatch_fits;
mod units;
mod unsaid;
mod walk;
mod ware;
mod ware_focus;
mod wedge;
mod zones;
