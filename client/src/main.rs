//! lamella
fn main() {}
