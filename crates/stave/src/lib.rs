//! The pipeline of Stave, one function per step of the job.
