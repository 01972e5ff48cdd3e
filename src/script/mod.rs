//! Script: how long words take to say.
