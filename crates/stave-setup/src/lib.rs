//! The three input files: blank, machine, job.
