//! Bytes to moves: a G-code reader to RS274/NGC.
