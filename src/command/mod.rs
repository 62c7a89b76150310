//! What the program can be told to do.
