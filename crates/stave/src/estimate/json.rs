//! Estimates as one JSON object.

use serde::Serialize;

use super::{Estimate, Quote};

/// As one JSON object: that of the program, or the sum's with each program under `programs`; with
/// `quote` where there is one.
///
/// # Errors
/// Never for estimates of ours; serialising is fallible in general.
pub fn estimates_to_json(all: &[Estimate], quote: Option<&Quote>) -> serde_json::Result<String> {
    #[derive(Serialize)]
    struct Whole<'a> {
        #[serde(flatten)]
        sum: &'a Estimate,
        #[serde(skip_serializing_if = "Option::is_none")]
        programs: Option<&'a [Estimate]>,
        #[serde(skip_serializing_if = "Option::is_none")]
        quote: Option<&'a Quote>,
    }
    match all {
        [one] => serde_json::to_string_pretty(&Whole { sum: one, programs: None, quote }),
        _ => serde_json::to_string_pretty(&Whole {
            sum: &Estimate::sum(all),
            programs: Some(all),
            quote,
        }),
    }
}
