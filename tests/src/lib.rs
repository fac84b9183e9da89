//! Helpers shared by the workspace's tests.
