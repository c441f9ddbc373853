//! The shop's log: the only thing that a plugin may ask of its host.

/// How much a line of the log matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// For the plugin's author.
    Debug,
    /// Worth knowing.
    Info,
    /// Something is odd.
    Warn,
}

/// Writes a line to the shop's log. The host cuts long lines, and drops those beyond a
/// fixed number in one call. Outside a host, as in a unit test, it does nothing.
pub fn log(level: Level, line: &str) {
    #[cfg(target_family = "wasm")]
    {
        use crate::bindings::pricing::lamella::shop::log as host;
        let level = match level {
            Level::Debug => host::Level::Debug,
            Level::Info => host::Level::Info,
            Level::Warn => host::Level::Warn,
        };
        host::write(level, line);
    }
    #[cfg(not(target_family = "wasm"))]
    let _ = (level, line);
}
