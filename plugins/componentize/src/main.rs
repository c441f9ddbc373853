//! Makes a component from a core module: `lamella-componentize IN.wasm OUT.wasm`.
//!
//! The module says itself, in a section that its bindings wrote, of which world it is.

use std::error::Error;
use std::fs;
use wit_component::ComponentEncoder;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<_> = std::env::args_os().skip(1).collect();
    let [from, to] = arguments.as_slice() else {
        return Err("usage: lamella-componentize IN.wasm OUT.wasm".into());
    };
    let module = fs::read(from).map_err(|error| format!("{}: {error}", from.display()))?;
    let component = ComponentEncoder::default()
        .validate(true)
        .module(&module)
        .map_err(chain)?
        .encode()
        .map_err(chain)?;
    fs::write(to, component).map_err(|error| format!("{}: {error}", to.display()))?;
    Ok(())
}

/// An error with its causes, on one line.
fn chain(error: impl std::fmt::Display) -> String {
    format!("{error:#}")
}
