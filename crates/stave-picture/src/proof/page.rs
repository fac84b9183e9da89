//! The page: one HTML file that holds all it needs, made from the modules in `page/`.

mod data;
mod still;
mod way;

use super::ProofParts;
use super::customer::{APPROVED, CHECK, NOT_SETTLED, UNLISTED};
use crate::svg::{escaped, isolated};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};
use stave_toolpath::xml::turns_reading;

const PAGE: &str = include_str!("../../page/index.html");
const STYLE: &str = include_str!("../../page/style.css");
/// The modules, each after those it uses.
const MODULES: [&str; 19] = [
    include_str!("../../page/geometry.js"),
    include_str!("../../page/decode.js"),
    include_str!("../../page/track.js"),
    include_str!("../../page/mesh.js"),
    include_str!("../../page/ink.js"),
    include_str!("../../page/measure.js"),
    include_str!("../../page/lists.js"),
    include_str!("../../page/shader.js"),
    include_str!("../../page/view.js"),
    include_str!("../../page/nozzle.js"),
    include_str!("../../page/bare.js"),
    include_str!("../../page/overlay.js"),
    include_str!("../../page/reading.js"),
    include_str!("../../page/beside.js"),
    include_str!("../../page/flat.js"),
    include_str!("../../page/coarse.js"),
    include_str!("../../page/colours.js"),
    include_str!("../../page/gestures.js"),
    include_str!("../../page/main.js"),
];

impl ProofParts<'_> {
    /// The page as one HTML file that asks for nothing else. For the customer it has neither
    /// figures nor findings nor times, but a line to sign.
    #[must_use]
    pub fn page_html(&self, for_customer: bool) -> String {
        let data = serde_json::to_string(&self.data(for_customer)).unwrap_or_default();
        let data = plain_json(&data);
        let made_for = match (for_customer, self.engraved_place()) {
            (true, Some(place)) => format!("{}; {place}", self.customer_size()),
            (true, None) => self.customer_size(),
            (false, _) => self.wrapped_for.clone(),
        };
        let script: String = MODULES.iter().map(|module| bundled(module)).collect();
        let approval = match self.is_settled() {
            true => format!(
                "<p>{CHECK}</p>\n<p class=\"sign\">{APPROVED}</p><p class=\"sign\">Date</p>"
            ),
            false => format!("<p class=\"unsettled\">{NOT_SETTLED}</p>"),
        };
        let still = if for_customer { self.still() } else { self.without_script() };
        let on_ware = self.on_ware_figure(for_customer);
        let parts: [(&str, &str); 13] = [
            // What a browser takes the hash of is all between the tags.
            ("{{script_hash}}", &script_hash(&format!("\n{script}\n"))),
            ("{{title}}", &escaped(&isolated(&self.name))),
            ("{{made_for}}", &escaped(&made_for)),
            ("{{files}}", &escaped(&self.drawn_from(for_customer))),
            ("{{still}}", &still),
            ("{{energy}}", self.energy.words()),
            ("{{on_ware}}", &on_ware),
            ("{{cautions}}", &escaped(self.cautions)),
            ("{{texts}}", &self.texts_to_read()),
            ("{{approval}}", &approval),
            ("{{style}}", STYLE),
            ("{{script}}", &script),
            ("{{data}}", &data),
        ];
        filled(&kept_for(for_customer), &parts)
    }

    /// The texts as they will be engraved, for the customer to read over.
    fn texts_to_read(&self) -> String {
        let (title, reading) = match self.texts_are_listed {
            true if self.texts.is_empty() => return String::new(),
            true => ("Every text as it will be engraved", "Please read each letter."),
            false => ("Texts", UNLISTED),
        };
        let item = |text: &String| format!("<li><p dir=\"auto\">{}</p></li>\n", escaped(text));
        let list: String = self.texts.iter().map(item).collect();
        let list = if list.is_empty() { list } else { format!("<ol>\n{list}</ol>") };
        format!(
            "<section id=\"texts\" aria-labelledby=\"texts-title\">\n\
             <h2 id=\"texts-title\">{title}</h2>\n<p>{reading}</p>{list}</section>"
        )
    }

    /// What the page of the bench says where no script runs.
    fn without_script(&self) -> String {
        let found = self.findings.iter().map(|finding| {
            format!("<li>{}: {}</li>\n", finding.severity.word(), escaped(&finding.message))
        });
        let (title, found) = (self.findings_title(), found.collect::<String>());
        let found = if found.is_empty() { found } else { format!("<ol>\n{found}</ol>") };
        format!(
            "<noscript><p class=\"notice\">This page draws the piece with a script, and scripts \
             are switched off. The sheet as SVG or PNG (-o proof.svg) needs none.</p>\n\
             <h2>{title}</h2>\n{found}</noscript>"
        )
    }
}

/// JSON as it stands in a page: without '<', which alone can end the element that holds it, and
/// without marks that turn the way in which the source is read. All of them can only be in texts.
fn plain_json(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for letter in json.chars() {
        if letter == '<' || turns_reading(letter) {
            out.push_str(&format!("\\u{:04x}", u32::from(letter)));
        } else {
            out.push(letter);
        }
    }
    out
}

/// The page without what is for the other reader.
fn kept_for(customer: bool) -> String {
    let other = if customer { "bench" } else { "customer" };
    let (begin, end) = (format!("<!--{other}-->"), format!("<!--/{other}-->"));
    let mut out = String::new();
    for (k, part) in PAGE.split(&begin).enumerate() {
        out.push_str(if k == 0 {
            part
        } else {
            part.split_once(&end).map_or("", |(_, rest)| rest)
        });
    }
    out
}

/// A module as a part of one script: what it takes from the others stands there already.
fn bundled(module: &str) -> String {
    let kept = module.lines().filter(|line| !line.starts_with("import "));
    kept.flat_map(|line| [line.strip_prefix("export ").unwrap_or(line), "\n"]).collect()
}

/// What a page allows to run: a script of just these letters (Content Security Policy Level 3,
/// section 2.3.1).
pub(super) fn script_hash(script: &str) -> String {
    let digest = Sha256::digest(script.as_bytes());
    format!("sha256-{}", STANDARD.encode(digest))
}

/// A text with its placeholders filled, in one pass, so that what is filled in is never taken for a
/// placeholder.
pub(super) fn filled(template: &str, parts: &[(&str, &str)]) -> String {
    let mut out = String::new();
    let mut rest = template;
    loop {
        let next = parts
            .iter()
            .filter_map(|(name, text)| rest.find(name).map(|at| (at, *name, *text)))
            .min();
        let Some((at, name, text)) = next else { break };
        out.push_str(&rest[..at]);
        out.push_str(text);
        rest = &rest[at + name.len()..];
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_scripts_of_known_letters_may_run() {
        // The example of the specification, section 8.3: an empty script has no other hash.
        assert_eq!(script_hash(""), "sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=");
        for page in [PAGE, include_str!("../../page/order.html")] {
            let policy = page.find("script-src '{{script_hash}}'").unwrap();
            assert!(policy < page.find("<script").unwrap() && !page.contains(" onclick="));
        }
    }

    /// What is read back is what was said, and the source is read from left to right throughout.
    #[test]
    fn data_hold_no_marks_that_turn_the_reading() {
        let said = "</script> \u{2068}כוס\u{2069} \u{202e}abc\u{200f}\u{2028}";
        let json = plain_json(&serde_json::to_string(said).unwrap());
        assert!(json.contains("\\u003c/script> \\u2068כוס\\u2069 \\u202eabc"), "{json}");
        assert!(!json.contains(turns_reading) && !json.contains('<'));
        assert_eq!(serde_json::from_str::<String>(&json).unwrap(), said);
    }

    #[test]
    fn placeholders_are_filled_once() {
        assert_eq!(filled("a {{x}} {{y}}", &[("{{x}}", "{{y}}"), ("{{y}}", "2")]), "a {{y}} 2");
    }

    #[test]
    fn modules_become_one_script() {
        assert_eq!(
            bundled("import { a } from \"./a.js\";\nexport function b() {}\n"),
            "function b() {}\n"
        );
        for module in MODULES {
            let script = bundled(module);
            assert!(!script.contains("\nimport ") && !script.contains("\nexport "));
            assert!(!script.contains("</script"), "a script cannot hold its own end");
        }
    }
}
