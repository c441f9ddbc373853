//! What a plugin writes: kept up to the host's limits, then only counted.

use crate::bindings::pricing::lamella::shop::log::Level;
use crate::config::HostConfig;
use crate::state::CallState;
use wasmtime::StoreContextMut;
use wasmtime::component::{Linker, WasmStr};

/// Name of the log in the contract.
pub(crate) const INTERFACE: &str = "lamella:shop/log@1.0.0";

/// Fuel taken for each line besides its bytes, so that empty lines cost too.
const LINE_FUEL_UNITS: u64 = 100;

/// One line that a plugin wrote.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LogLine {
    /// How much it matters.
    pub level: LogLevel,
    /// Its text; ends in "…" where it was cut.
    pub text: String,
}

/// How much a line matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogLevel {
    /// For the plugin's author.
    Debug,
    /// Worth knowing.
    Info,
    /// Something is odd.
    Warn,
}

/// The log of one call.
#[derive(Debug)]
pub(crate) struct Log {
    lines: Vec<LogLine>,
    dropped_lines: u64,
    lines_left: usize,
    bytes_left: usize,
    line_bytes: usize,
}

impl Log {
    pub(crate) fn new(config: &HostConfig) -> Self {
        Self {
            lines: Vec::new(),
            dropped_lines: 0,
            lines_left: config.log_lines,
            bytes_left: config.log_bytes,
            line_bytes: config.log_line_bytes,
        }
    }

    /// Keeps a line, or counts it as dropped.
    pub(crate) fn push(&mut self, level: LogLevel, text: &str) {
        let kept = cut(text, self.line_bytes);
        if self.lines_left == 0 || kept.len() > self.bytes_left {
            self.dropped_lines = self.dropped_lines.saturating_add(1);
            return;
        }
        self.lines_left -= 1;
        self.bytes_left -= kept.len();
        let text = if kept.len() < text.len() {
            format!("{kept}…")
        } else {
            kept.to_owned()
        };
        self.lines.push(LogLine { level, text });
    }

    /// The longest line that is kept whole, bytes.
    pub(crate) fn line_bytes(&self) -> usize {
        self.line_bytes
    }

    /// Gives up what it holds: the lines, and how many were dropped.
    pub(crate) fn take(&mut self) -> (Vec<LogLine>, u64) {
        (std::mem::take(&mut self.lines), self.dropped_lines)
    }
}

/// Offers the log to guests.
pub(crate) fn add_to_linker(linker: &mut Linker<CallState>) -> wasmtime::Result<()> {
    linker.instance(INTERFACE)?.func_wrap("write", write)
}

fn write(
    mut store: StoreContextMut<'_, CallState>,
    (level, line): (Level, WasmStr),
) -> wasmtime::Result<()> {
    let log = store.data().log();
    let bytes = {
        let text = line.to_str(&store)?;
        let level = match level {
            Level::Debug => LogLevel::Debug,
            Level::Info => LogLevel::Info,
            Level::Warn => LogLevel::Warn,
        };
        log.lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
            .push(level, &text);
        text.len() as u64
    };
    charge(&mut store, bytes)
}

/// Takes fuel for work that the host did for the guest, which the guest's own
/// instructions do not show.
fn charge(store: &mut StoreContextMut<'_, CallState>, bytes: u64) -> wasmtime::Result<()> {
    let left = store.get_fuel()?;
    match left.checked_sub(LINE_FUEL_UNITS.saturating_add(bytes)) {
        Some(rest) => store.set_fuel(rest),
        None => Err(wasmtime::Trap::OutOfFuel.into()),
    }
}

/// The longest beginning of `text` that has at most `limit` bytes.
pub(crate) fn cut(text: &str, limit: usize) -> &str {
    &text[..text.floor_char_boundary(limit)]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn log(lines: usize, bytes: usize, line: usize) -> Log {
        Log::new(&HostConfig {
            log_lines: lines,
            log_bytes: bytes,
            log_line_bytes: line,
            ..HostConfig::default()
        })
    }

    #[test]
    fn lines_past_the_number_are_counted() {
        let mut log = log(2, 100, 100);
        for text in ["a", "b", "c", "d"] {
            log.push(LogLevel::Info, text);
        }
        let (lines, dropped) = log.take();
        assert_eq!(
            lines
                .iter()
                .map(|line| line.text.as_str())
                .collect::<Vec<_>>(),
            ["a", "b"]
        );
        assert_eq!(dropped, 2);
    }

    #[test]
    fn long_lines_are_cut_between_characters() {
        let mut log = log(9, 100, 4);
        log.push(LogLevel::Warn, "abcé");
        log.push(LogLevel::Warn, "abcd");
        assert_eq!(
            log.take()
                .0
                .iter()
                .map(|line| line.text.clone())
                .collect::<Vec<_>>(),
            ["abc…", "abcd"]
        );
    }

    #[test]
    fn text_past_the_bytes_is_dropped() {
        let mut log = log(9, 5, 4);
        log.push(LogLevel::Debug, "abcd");
        log.push(LogLevel::Debug, "ef");
        log.push(LogLevel::Debug, "g");
        let (lines, dropped) = log.take();
        assert_eq!((lines.len(), dropped), (2, 1));
    }
}
