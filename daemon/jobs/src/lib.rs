//! The job.
