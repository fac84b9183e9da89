//! What can be typed for `keys`.

use clap::Args as ClapArgs;

/// Explain the keys of the files that are written by hand: what each means, what it may be, its
/// unit, its default and an example.
#[derive(Debug, ClapArgs)]
pub(crate) struct KeysArgs {
    /// One key, in full (rotary.reverse) or by its last part; all of them where not given
    #[arg(value_name = "KEY")]
    pub(crate) key: Option<String>,
    /// Print JSON instead of a page
    #[arg(long)]
    pub(crate) json: bool,
}
