//! Fonts for the texts of a drawing.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::{Arc, Mutex};

use usvg::fontdb::{Database, Family, ID, Query, Stretch, Style, Weight};
use usvg::{Font, FontFamily, FontResolver, FontStyle};

/// Where the fonts of texts come from.
#[derive(Clone)]
pub enum Fonts {
    /// No text can be drawn; each is named.
    None,
    /// Those installed on this machine, looked up only for a drawing that holds a text. This is the
    /// one place of the library that reads the machine it runs on.
    Installed,
    /// These.
    Given(FontSet),
}

impl fmt::Debug for Fonts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Fonts::None => "None",
            Fonts::Installed => "Installed",
            Fonts::Given(_) => "Given(…)",
        })
    }
}

impl Fonts {
    /// Fonts from files that the caller has read: TrueType, OpenType, or collections of them. What
    /// is not a font is passed over.
    ///
    /// ```
    /// use stave_parse::svg::Fonts;
    /// let fonts = Fonts::from_files([b"not a font".to_vec()]);
    /// assert!(matches!(fonts, Fonts::Given(_)));
    /// ```
    pub fn from_files(files: impl IntoIterator<Item = Vec<u8>>) -> Fonts {
        let mut database = Database::new();
        for file in files {
            database.load_font_data(file);
        }
        name_generic_families(&mut database);
        Fonts::Given(FontSet(Arc::new(database)))
    }

    pub(super) fn database(&self) -> Arc<Database> {
        match self {
            Fonts::None => Arc::new(Database::new()),
            Fonts::Given(set) => Arc::clone(&set.0),
            Fonts::Installed => {
                let mut database = Database::new();
                database.load_system_fonts();
                name_generic_families(&mut database);
                Arc::new(database)
            }
        }
    }
}

/// A set of fonts.
#[derive(Clone)]
pub struct FontSet(Arc<Database>);

/// Lets `serif`, `sans-serif` and the others mean fonts that are there, where those that a database
/// means by itself are not.
fn name_generic_families(database: &mut Database) {
    let families: BTreeSet<String> = database
        .faces()
        .flat_map(|face| face.families.iter().map(|(name, _)| name.clone()))
        .collect();
    let there = |wanted: &[&str], words: &[&str], without: &[&str]| {
        let exact =
            wanted.iter().find(|name| families.contains(**name)).map(|name| (*name).to_owned());
        exact.or_else(|| {
            let fits = |name: &&String| {
                words.iter().all(|w| name.contains(w)) && !without.iter().any(|w| name.contains(w))
            };
            families.iter().find(fits).cloned()
        })
    };
    let other = ["Mono", "Math", "Emoji", "Symbol", "Condensed"];
    if let Some(name) = there(&["Times New Roman", "DejaVu Serif"], &["Serif"], &other) {
        database.set_serif_family(name);
    }
    if let Some(name) = there(&["Arial", "DejaVu Sans"], &["Sans"], &other) {
        database.set_sans_serif_family(name);
    }
    if let Some(name) = there(&["Courier New", "DejaVu Sans Mono"], &["Mono"], &["Math"]) {
        database.set_monospace_family(name);
    }
}

/// What was asked of the fonts and could not be given.
#[derive(Debug, Default)]
pub(super) struct Wanting {
    /// The family asked for first, the family taken for it, and the nearest that are there.
    pub(super) replaced: BTreeMap<String, (String, Vec<String>)>,
    /// The families asked for where there is no font at all.
    pub(super) missing: BTreeSet<String>,
}

/// The family of a text that asks for none. No font is called so: it gets the serif one.
pub(super) const UNNAMED: &str = "\u{0}unnamed";

/// The families that are there and named most like one that is not.
fn nearest(asked: &str, database: &Database) -> Vec<String> {
    const MOST: usize = 3;
    /// The distance costs the product of the lengths; no family's name is longer.
    const LONGEST: usize = 100;
    let asked: String = asked.to_lowercase().chars().take(LONGEST).collect();
    let names: BTreeSet<&str> =
        database.faces().flat_map(|f| f.families.iter().map(|(name, _)| name.as_str())).collect();
    let alike = |name: &str| strsim::normalized_damerau_levenshtein(&asked, &name.to_lowercase());
    let mut ranked: Vec<(f64, &str)> =
        names.into_iter().filter(|n| n.len() <= LONGEST).map(|n| (alike(n), n)).collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
    ranked.into_iter().take(MOST).map(|(_, name)| name.to_owned()).collect()
}

/// Chooses fonts as CSS does, and any font rather than none, since a text must not vanish.
pub(super) fn resolver(wanting: &Arc<Mutex<Wanting>>) -> FontResolver<'static> {
    let wanting = Arc::clone(wanting);
    FontResolver {
        select_font: Box::new(move |font, database| {
            let asked: Vec<String> = font.families().iter().map(family_name).collect();
            let found = best(font, database);
            // A poisoned lock means that a reader panicked, and then nobody asks for this.
            if let Ok(mut wanting) = wanting.lock() {
                let first = asked.first().cloned().unwrap_or_default();
                match found.and_then(|id| database.face(id)) {
                    None => {
                        wanting.missing.insert(first);
                    }
                    Some(face) => {
                        let generic =
                            font.families().iter().any(|f| !matches!(f, FontFamily::Named(_)));
                        let is_asked = asked.iter().any(|name| name == UNNAMED)
                            || face.families.iter().any(|(name, _)| asked.contains(name));
                        if let (false, false, Some((name, _))) =
                            (generic, is_asked, face.families.first())
                        {
                            let near = nearest(&first, database);
                            wanting.replaced.insert(first, (name.clone(), near));
                        }
                    }
                }
            }
            found
        }),
        select_fallback: FontResolver::default_fallback_selector(),
    }
}

fn best(font: &Font, database: &Database) -> Option<ID> {
    let mut families: Vec<Family<'_>> = font
        .families()
        .iter()
        .map(|family| match family {
            FontFamily::Serif => Family::Serif,
            FontFamily::SansSerif => Family::SansSerif,
            FontFamily::Cursive => Family::Cursive,
            FontFamily::Fantasy => Family::Fantasy,
            FontFamily::Monospace => Family::Monospace,
            FontFamily::Named(name) => Family::Name(name),
        })
        .collect();
    families.extend([Family::Serif, Family::SansSerif]);
    let style = match font.style() {
        FontStyle::Normal => Style::Normal,
        FontStyle::Italic => Style::Italic,
        FontStyle::Oblique => Style::Oblique,
    };
    let stretch = Stretch::from(font.stretch());
    let query = Query { families: &families, weight: Weight(font.weight()), stretch, style };
    database.query(&query).or_else(|| {
        // The nearest in weight among all, upright first; by name, so that two machines with the
        // same fonts agree.
        let rank = |face: &&usvg::fontdb::FaceInfo| {
            let off = face.weight.0.abs_diff(font.weight());
            (face.style != style, off, face.post_script_name.clone())
        };
        database.faces().min_by_key(rank).map(|face| face.id)
    })
}

pub(super) fn family_name(family: &FontFamily) -> String {
    match family {
        FontFamily::Named(name) => name.clone(),
        other => other.to_string(),
    }
}
