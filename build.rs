//! Migrations are embedded by a macro that cargo cannot see into: a new file must rebuild the crate.

fn main() {
    println!("cargo:rerun-if-changed=migrations");
}
