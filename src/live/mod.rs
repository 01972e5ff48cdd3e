//! The running show.
