//! Screens: they draw a session; no rule of the show lives here.
