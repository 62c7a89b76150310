//! Tells cargo that embedded files are part of the program: a new stylesheet, limit table or
//! migration makes a new build.

fn main() {
    for folder in ["static", "migrations", "src/standards/tables"] {
        println!("cargo:rerun-if-changed={folder}");
    }
}
