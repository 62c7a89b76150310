//! The JSON API as a client meets it: the whole site on a temporary file, asked over a socket.

mod described;
mod logs;
mod photos;
mod reading;
mod refusing;
mod served;
mod writing;
