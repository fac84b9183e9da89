//! A surface of revolution, and the lays that carry a flat plane to it.
