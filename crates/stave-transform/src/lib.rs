//! Flat moves to machine moves: lay, subdivide, dose, speed.
