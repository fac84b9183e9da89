//! What of a blank every drawing of its wall shows alike.

use stave_setup::{Blank, Stands, Zone};
use stave_wall::Station;

use crate::draw::{FACET, HAIR, SOFT};

/// Stations no nearer to each other than so many mm of meridian: both ends and the widest stay, and
/// of the rest what is apart.
pub(crate) fn stations_apart(blank: &Blank, apart_mm: f64) -> Vec<&Station> {
    let stations = &blank.stations;
    let place = |k: usize| blank.wall.s_of_at(stations[k].at_mm);
    let all = 0..stations.len();
    let widest =
        all.clone().max_by(|a, b| stations[*a].radius_mm.total_cmp(&stations[*b].radius_mm));
    let ends = [0, stations.len().saturating_sub(1)];
    let mut kept: Vec<usize> = Vec::new();
    for k in ends.into_iter().chain(widest).chain(all) {
        let apart = |other: &usize| (place(*other) - place(k)).abs() >= apart_mm;
        if k < stations.len() && !kept.contains(&k) && kept.iter().all(apart) {
            kept.push(k);
        }
    }
    kept.sort_unstable();
    kept.into_iter().map(|k| &stations[k]).collect()
}

/// What the two ends of the ware are called, that with the least `at` first: it lies with its foot
/// to the left, stands on it, or stands on its rim.
pub(crate) fn end_names(stands: Stands) -> [&'static str; 2] {
    match stands {
        Stands::Upright | Stands::Lying => ["foot", "rim"],
        Stands::Inverted => ["rim", "foot"],
    }
}

/// The flat places of the ware: as a zone of no height and no margin each.
pub(crate) fn facets(blank: &Blank) -> impl Iterator<Item = Zone> {
    blank.facets.iter().map(|facet| Zone {
        name: facet.name.clone(),
        at_mm: facet.at_mm,
        turn_rad: facet.turns_rad(),
        rise_mm: 0.0,
        margin_mm: Some(0.0),
    })
}

/// How wide the line around the flat place that is burned is drawn: outside it, in colours that
/// nothing burned has, so that what burns at its edge is seen.
pub(crate) const PLACE_EDGE_MM: f64 = 0.25;

/// That line at the bench, and `plain`, as a customer sees it.
pub(crate) fn place_edge(plain: bool) -> String {
    let colour = if plain { HAIR } else { FACET };
    format!("stroke=\"{colour}\" stroke-width=\"{PLACE_EDGE_MM}\"")
}

/// How the edge of a flat place is drawn at the bench, and `plain`, as a customer sees it.
pub(crate) fn facet_style(plain: bool) -> String {
    let (colour, rest) = match plain {
        true => (SOFT, "stroke-width=\"0.2\""),
        false => (FACET, "stroke-width=\"0.25\" stroke-dasharray=\"1.8 0.7\""),
    };
    format!("class=\"facet\" fill=\"none\" stroke=\"{colour}\" {rest}")
}
