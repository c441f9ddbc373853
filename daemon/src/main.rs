//! lamellad
fn main() {}
