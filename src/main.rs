//! Flags in, one command run; nothing else.

fn main() {}
