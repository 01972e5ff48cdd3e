//! Sound: what a track is and what leaves the desk.

mod pcm;

pub use pcm::Pcm;
