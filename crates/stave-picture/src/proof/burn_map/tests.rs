use super::*;
use stave_wall::{Station, WallShape};
use std::collections::BTreeSet;

fn cone() -> Wall {
    let stations =
        [Station { at_mm: 0.0, radius_mm: 20.0 }, Station { at_mm: 40.0, radius_mm: 30.0 }];
    Wall::from_stations(&stations, WallShape::Straight).unwrap()
}

fn place(s_mm: f64, turn_rad: f64) -> WallPlace {
    WallPlace { s_mm, turn_rad }
}

#[test]
fn no_energy_is_lost_on_the_wall_nor_at_the_seam() {
    let wall = cone();
    let mut map = BurnMap::new(&wall, 0.2);
    map.burn(place(10.0, PI - 0.1), place(12.0, PI + 0.1), 5.0, 1.0, 0);
    let all: f64 = (0..map.cells.len()).map(|cell| map.energy(cell)).sum();
    // To a part of a cell at either end.
    assert!((all - 5.0).abs() < 0.05, "{all}");
    assert!(map.cell(11.0, PI).is_some_and(|cell| map.density(cell) > 0.0));
    assert!(
        map.cell(11.0, 3.0 * PI).is_some_and(|cell| map.density(cell) > 0.0),
        "turns are folded"
    );
    assert_eq!(map.cell(-0.1, 0.0), None);
    map.burn(place(-5.0, 0.0), place(-4.0, 0.0), 5.0, 1.0, 0);
    map.burn(place(f64::NAN, 0.0), place(1.0, 0.0), 5.0, 1.0, 0);
    let still: f64 = (0..map.cells.len()).map(|cell| map.energy(cell)).sum();
    assert!((all - still).abs() < 1e-9);
}

#[test]
fn hatching_gives_power_over_speed_and_spacing_at_either_radius() {
    // 40 % at 200 mm/s, lines 0.1 mm apart on the wall: 40 / (200 · 0.1) = 2 %·s/mm².
    let wall = cone();
    let mut map = BurnMap::new(&wall, 0.15);
    for (s, name) in [(5.0, "narrow"), (35.0, "wide")] {
        let radius = wall.section(s, &mut 0).radius_mm;
        for k in -60..=60 {
            let turn = f64::from(k) * 0.1 / radius;
            map.burn(place(s - 3.0, turn), place(s + 3.0, turn), 40.0 * 6.0 / 200.0, 0.0, 0);
        }
        let looks = (-20..20).flat_map(|i| (-20..20).map(move |j| (f64::from(i), f64::from(j))));
        let cells: BTreeSet<usize> =
            looks.filter_map(|(i, j)| map.cell(s + 0.05 * i, 0.05 * j / radius)).collect();
        let seen: Vec<f64> = cells.into_iter().map(|cell| map.density(cell)).collect();
        let mean = seen.iter().sum::<f64>() / seen.len() as f64;
        assert!((mean - 2.0).abs() < 0.03, "{name}: {mean}");
        assert!(seen.iter().all(|d| (d - 2.0).abs() < 0.5), "no stripes to speak of");
    }
}

#[test]
fn the_first_burn_gives_time_and_section() {
    let mut map = BurnMap::new(&cone(), 0.2);
    map.burn(place(10.0, 0.0), place(12.0, 0.0), 1.0, 7.0, 3);
    map.burn(place(11.0, -0.1), place(11.0, 0.1), 1.0, 9.0, 4);
    let cell = map.cell(11.0, 0.0).unwrap();
    assert_eq!(map.first(cell), Some((7.0, 3)));
    let cell = map.cell(11.0, 0.08).unwrap();
    assert_eq!(map.first(cell), Some((9.0, 4)));
    assert_eq!(map.first(map.cell(30.0, 0.0).unwrap()), None);
    let there = map.place(map.cell(11.0, 0.08).unwrap());
    assert!((there.s_mm - 11.0).abs() < 0.1 && (there.turn_rad - 0.08).abs() < 0.005);
}

#[test]
fn a_map_of_large_ware_stays_small() {
    let stations =
        [Station { at_mm: 0.0, radius_mm: 400.0 }, Station { at_mm: 2000.0, radius_mm: 400.0 }];
    let map = BurnMap::new(&Wall::from_stations(&stations, WallShape::Straight).unwrap(), 0.2);
    assert!((map.size().0 * map.size().1) as f64 <= 1.01 * MOST_CELLS);
    assert_eq!(map.top_density(), 0.0);
}

/// However a line lies on the cells, and whether it is wider than they are or not, its energy per
/// area is its own in every cell, and twice that where it is burned twice.
#[test]
fn a_line_has_one_strength_all_along() {
    let wall = cone();
    for spot_mm in [0.03, 0.1, 0.23] {
        for passes in [1, 2] {
            let mut map = BurnMap::new(&wall, spot_mm);
            for k in 0..40 {
                let turn = TAU * f64::from(k) / 40.0;
                // From along to around, each a little aside of the last on the cells.
                let lean = f64::from(k % 20) / 19.0;
                let (ds, dt) = (3.5 * (1.0 - lean), 3.5 * lean / 25.0);
                let (a, b) = (place(18.03 + 0.013 * f64::from(k), turn), ds);
                let end = place(a.s_mm + b, turn + dt);
                let r = wall.section(0.5 * (a.s_mm + end.s_mm), &mut 0).radius_mm;
                let energy = 3.0 * ds.hypot(dt * r) * spot_mm.max(0.0);
                (0..passes).for_each(|_| map.burn(a, end, energy, 0.0, 0));
            }
            let burned: Vec<usize> =
                (0..map.cells.len()).filter(|cell| map.first(*cell).is_some()).collect();
            let found: Vec<f64> = burned.iter().map(|cell| map.strength(*cell)).collect();
            let (least, most) = found
                .iter()
                .fold((f64::INFINITY, 0.0_f64), |ends, s| (ends.0.min(*s), ends.1.max(*s)));
            if passes == 1 {
                assert!(most < 1.001 * least, "{spot_mm} mm: {least} to {most}");
            }
            let energy: f64 = burned.iter().map(|cell| map.energy(*cell)).sum();
            let mean = burned.iter().map(|cell| map.energy(*cell) * map.strength(*cell));
            let mean = mean.sum::<f64>() / energy;
            match (passes, spot_mm) {
                (1, 0.1..) => assert!((mean - 3.0).abs() < 0.1, "{spot_mm}: {mean}"),
                (_, 0.2..) => assert!((5.6..=6.1).contains(&mean), "{spot_mm}: {mean}"),
                _ => {}
            }
        }
    }
}

/// What is burned is as large as it is, not as the cells that it meets.
#[test]
fn a_line_burns_its_length_by_its_width() {
    let mut map = BurnMap::new(&cone(), 0.2);
    map.burn(place(10.0, 0.3), place(30.0, 0.6), 1.0, 0.0, 0);
    let length = 20_f64.hypot(0.3 * map.radius_near(20.0));
    assert!((map.burned_mm2() / (0.2 * length) - 1.0).abs() < 0.02, "{}", map.burned_mm2());
    map.burn(place(5.0, -1.0), place(5.0, -1.0), 1.0, 0.0, 0);
    assert!(map.first(map.cell(5.0, -1.0).unwrap()).is_some(), "a dot");
}
