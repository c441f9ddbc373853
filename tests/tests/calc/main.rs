//! The calculators held against published tables and reference libraries.
//! `./tests/run calc` prints every check as one line of a table.
//!
//! - `row`: one check, and the table of all of them
//! - `reference`: what the Python libraries answered, run once
//! - one module per calculator: its rows, with the source beside each
//!
//! A calculator's module has `fn rows(&Reference) -> Vec<Row>` and a line in
//! [`MODULES`]; its Python half is `tests/python/reference_NAME.py`.

mod air;
mod cure;
mod escalation;
mod heat;
mod mix;
mod paint;
mod reference;
mod row;

use reference::Reference;
use row::Row;

/// Fewest checks that are still worth the name.
const FEWEST_ROWS: usize = 120;

/// Every calculator with its checks.
type Rows = fn(&Reference) -> Vec<Row>;
const MODULES: &[(&str, Rows)] = &[
    ("air", air::rows),
    ("cure", cure::rows),
    ("escalation", escalation::rows),
    ("heat", heat::rows),
    ("mix", mix::rows),
    ("paint", paint::rows),
];

#[test]
fn every_check_holds() {
    let reference = Reference::ask();
    let mut all = Vec::new();
    let mut complaints = Vec::new();
    for (name, rows) in MODULES {
        let rows = rows(&reference);
        if rows.is_empty() {
            complaints.push(format!("{name} has no check"));
        }
        all.extend(rows);
    }
    print!("{}", row::table(&all));
    complaints.extend(all.iter().filter(|row| !row.holds()).map(Row::complaint));
    if all.len() < FEWEST_ROWS {
        complaints.push(format!("{} checks, {FEWEST_ROWS} are wanted", all.len()));
    }
    println!(
        "{} checks, {} failed",
        all.len(),
        all.iter().filter(|row| !row.holds()).count()
    );
    assert!(complaints.is_empty(), "{}", complaints.join("\n"));
}
