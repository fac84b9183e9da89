//! Ware and machines of the fixtures that differ in every convention, as texts.

/// Stepped, tapered, round and rounded.
pub const BLANKS: [&str; 4] = [
    include_str!("../../fixtures/blanks/bottle.toml"),
    include_str!("../../fixtures/blanks/cup.toml"),
    include_str!("../../fixtures/blanks/ornament.toml"),
    include_str!("../../fixtures/blanks/tumbler.toml"),
];

/// In degrees, along Y, on a roller, on the Y word.
pub const MACHINES: [&str; 4] = [
    include_str!("../../fixtures/machines/degrees.toml"),
    include_str!("../../fixtures/machines/along-y.toml"),
    include_str!("../../fixtures/machines/roller.toml"),
    include_str!("../../fixtures/machines/swapped.toml"),
];
