//! Timeline: flight, script and sound on one clock.
