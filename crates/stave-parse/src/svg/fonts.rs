//! Fonts for the texts of a drawing.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::{Arc, Mutex};

use usvg::fontdb::{Database, FaceInfo, Family, ID, Query, Stretch, Style, Weight};
use usvg::{Font, FontFamily, FontResolver, FontStyle};

use super::line_font;
use stave_toolpath::likeness::most_alike;

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
    /// These, and those installed on this machine for what these have not: a family that is among
    /// these is taken from here alone, so that a text looks alike on every machine.
    BeforeInstalled(FontSet),
    /// Any of these, looked up once for many drawings; see [`Fonts::loaded`].
    Loaded(LoadedFonts),
}

/// Fonts that have been looked up.
#[derive(Clone)]
pub struct LoadedFonts {
    database: Arc<Database>,
    first_family: Option<String>,
}

impl fmt::Debug for Fonts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Fonts::None => "None",
            Fonts::Installed => "Installed",
            Fonts::Given(_) => "Given(…)",
            Fonts::BeforeInstalled(_) => "BeforeInstalled(…)",
            Fonts::Loaded(_) => "Loaded(…)",
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
        let mut set = FontSet::default();
        for file in files {
            set.add(file);
        }
        Fonts::Given(set)
    }

    /// The same, looked up now: whoever reads many drawings with them looks once.
    ///
    /// ```
    /// use stave_parse::svg::Fonts;
    /// assert!(matches!(Fonts::from_files([]).loaded(), Fonts::Loaded(_)));
    /// ```
    #[must_use]
    pub fn loaded(&self) -> Fonts {
        let (database, first_family) = (self.database(), self.first_family());
        Fonts::Loaded(LoadedFonts { database, first_family })
    }

    /// The family of the first font given, for texts that ask for none.
    pub(super) fn first_family(&self) -> Option<String> {
        if let Fonts::Loaded(loaded) = self {
            return loaded.first_family.clone();
        }
        let (Fonts::Given(set) | Fonts::BeforeInstalled(set)) = self else { return None };
        let face = set.0.faces().next()?;
        face.families.first().map(|(name, _)| name.clone())
    }

    /// The fonts to lay texts out with; letters of single lines are always among them.
    pub(super) fn database(&self) -> Arc<Database> {
        let mut database = match self {
            Fonts::None => return Arc::new(Database::new()),
            Fonts::Loaded(loaded) => return Arc::clone(&loaded.database),
            Fonts::Given(set) | Fonts::BeforeInstalled(set) => set.0.clone(),
            Fonts::Installed => Database::new(),
        };
        let given: Vec<ID> = database.faces().map(|face| face.id).collect();
        if !matches!(self, Fonts::Given(_)) {
            database.load_system_fonts();
            leave_out_again(&mut database, &given);
        }
        name_generic_families(&mut database, &given);
        line_font::load(&mut database);
        Arc::new(database)
    }
}

/// A set of fonts.
#[derive(Clone, Default)]
pub struct FontSet(Database);

impl FontSet {
    /// Adds the fonts of a file: TrueType, OpenType, or a collection of them. How many it holds.
    ///
    /// ```
    /// use stave_parse::svg::FontSet;
    /// assert_eq!(FontSet::default().add(b"not a font".to_vec()), 0);
    /// ```
    pub fn add(&mut self, file: Vec<u8>) -> usize {
        let before = self.0.len();
        self.0.load_font_data(file);
        self.0.len() - before
    }
}

/// Leaves out the fonts whose family is among those given.
fn leave_out_again(database: &mut Database, given: &[ID]) {
    let names = |face: &FaceInfo| face.families.iter().map(|(name, _)| name.clone()).collect();
    let is_given = |face: &&FaceInfo| given.contains(&face.id);
    let ours: Vec<Vec<String>> = database.faces().filter(is_given).map(names).collect();
    let again = |face: &&FaceInfo| {
        !given.contains(&face.id)
            && face.families.iter().any(|(name, _)| ours.iter().flatten().any(|our| our == name))
    };
    let twice: Vec<ID> = database.faces().filter(again).map(|face| face.id).collect();
    for face in twice {
        database.remove_face(face);
    }
}

/// Lets `serif`, `sans-serif` and the others mean fonts that are there, where those that a database
/// means by itself are not; those given before all others.
fn name_generic_families(database: &mut Database, given: &[ID]) {
    let names = |wanted: &dyn Fn(&FaceInfo) -> bool| -> BTreeSet<String> {
        let faces = database.faces().filter(|face| wanted(face));
        faces.flat_map(|face| face.families.iter().map(|(name, _)| name.clone())).collect()
    };
    let ours = names(&|face| given.contains(&face.id));
    let families = names(&|_| true);
    let there = |wanted: &[&str], words: &[&str], without: &[&str]| {
        let fits = |name: &&String| {
            words.iter().all(|w| name.contains(w)) && !without.iter().any(|w| name.contains(w))
        };
        let exact =
            wanted.iter().find(|name| families.contains(**name)).map(|name| (*name).to_owned());
        let given = ours.iter().find(fits).cloned();
        given.or(exact).or_else(|| families.iter().find(fits).cloned())
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
    /// The families asked for, the one taken for them, and the nearest that are there.
    pub(super) replaced: BTreeMap<Vec<String>, (String, Vec<String>)>,
}

/// The family of a text that asks for none. No font is called so: it gets the serif one.
pub(super) const UNNAMED: &str = "\u{0}unnamed";

/// The families that are there and named most like one that is not.
fn nearest(asked: &str, database: &Database) -> Vec<String> {
    const MOST: usize = 3;
    let names: BTreeSet<&str> =
        database.faces().flat_map(|f| f.families.iter().map(|(name, _)| name.as_str())).collect();
    most_alike(asked, names, 0.0).into_iter().take(MOST).map(str::to_owned).collect()
}

/// Chooses fonts as CSS does, and any font rather than none, since a text must not vanish.
/// A text that asks for no family gets `unnamed`, where there is one.
pub(super) fn resolver(
    wanting: &Arc<Mutex<Wanting>>,
    unnamed: Option<String>,
) -> FontResolver<'static> {
    let wanting = Arc::clone(wanting);
    let any = FontResolver::default_fallback_selector();
    FontResolver {
        select_font: Box::new(move |font, database| {
            let asked = families(font.families());
            let found = best(font, database, unnamed.as_deref());
            let face = found.and_then(|id| database.face(id));
            let generic = font.families().iter().any(|f| !matches!(f, FontFamily::Named(_)));
            // A poisoned lock means that a reader panicked, and then nobody asks for this.
            if let (Some(face), Ok(mut wanting)) = (face, wanting.lock()) {
                let is_asked = asked.iter().any(|name| name == UNNAMED)
                    || face.families.iter().any(|(name, _)| asked.contains(name));
                let taken = face.families.first().map(|(name, _)| name.clone());
                if let (false, false, Some(taken)) = (generic, is_asked, taken) {
                    let near = nearest(asked.first().map_or("", String::as_str), database);
                    wanting.replaced.insert(asked, (taken, near));
                }
            }
            found
        }),
        select_fallback: Box::new(move |character, tried, database| {
            // Outlines among letters of single lines, or single lines among outlines, would be
            // burned as something else.
            let is_line = |id: ID| database.face(id).is_some_and(is_line_face);
            if tried.first().copied().is_some_and(is_line) {
                return None;
            }
            let lines = database.faces().filter(|face| is_line_face(face)).map(|face| face.id);
            let tried: Vec<ID> = tried.iter().copied().chain(lines).collect();
            any(character, &tried, database)
        }),
    }
}

fn is_line_face(face: &FaceInfo) -> bool {
    face.families.iter().any(|(name, _)| line_font::is_line_family(name))
}

fn best(font: &Font, database: &Database, unnamed: Option<&str>) -> Option<ID> {
    let mut families: Vec<Family<'_>> = font
        .families()
        .iter()
        .map(|family| match family {
            FontFamily::Serif => Family::Serif,
            FontFamily::SansSerif => Family::SansSerif,
            FontFamily::Cursive => Family::Cursive,
            FontFamily::Fantasy => Family::Fantasy,
            FontFamily::Monospace => Family::Monospace,
            FontFamily::Named(name) if name == UNNAMED => {
                unnamed.map_or(Family::Serif, Family::Name)
            }
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
        let faces = database.faces().filter(|face| !is_line_face(face));
        faces.min_by_key(rank).map(|face| face.id)
    })
}

/// The families that a text asks for, in its order.
pub(super) fn families(families: &[FontFamily]) -> Vec<String> {
    families.iter().map(family_name).collect()
}

pub(super) fn family_name(family: &FontFamily) -> String {
    match family {
        FontFamily::Named(name) => name.clone(),
        other => other.to_string(),
    }
}
