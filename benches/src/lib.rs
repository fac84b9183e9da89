//! Helpers shared by the workspace's benches.
