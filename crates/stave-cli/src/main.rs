//! The `stave` command.
fn main() {}
