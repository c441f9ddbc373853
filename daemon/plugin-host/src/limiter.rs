//! What one call may hold: memory, tables and instances. A refusal ends the call
//! with a reason instead of giving the guest -1, which few guests survive in a way
//! that anyone could explain.

use crate::config::HostConfig;
use wasmtime::ResourceLimiter;

/// What a guest asked for when it was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{what} of {asked} {unit} asked for with {held} held, limit {limit}")]
pub(crate) struct LimitHit {
    /// What was asked for.
    pub(crate) what: Resource,
    unit: &'static str,
    asked: usize,
    held: usize,
    limit: usize,
}

/// What there is a limit for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Resource {
    Memory,
    Table,
}

impl std::fmt::Display for Resource {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(match self {
            Self::Memory => "memory",
            Self::Table => "table",
        })
    }
}

/// The limits of one call and what it holds of them.
#[derive(Debug)]
pub(crate) struct Limiter {
    memory_bytes: usize,
    held_bytes: usize,
    table_elements: usize,
    instances: usize,
}

impl Limiter {
    pub(crate) fn new(config: &HostConfig) -> Self {
        Self {
            memory_bytes: config.memory_bytes,
            held_bytes: 0,
            table_elements: config.table_elements,
            instances: config.instances,
        }
    }
}

impl ResourceLimiter for Limiter {
    fn memory_growing(
        &mut self,
        current: usize,
        desired: usize,
        _maximum: Option<usize>,
    ) -> wasmtime::Result<bool> {
        let held = self.held_bytes;
        let asked = held.saturating_sub(current).saturating_add(desired);
        if asked > self.memory_bytes {
            return Err(refuse(Resource::Memory, "bytes", asked, held, self.memory_bytes).into());
        }
        self.held_bytes = asked;
        Ok(true)
    }

    fn table_growing(
        &mut self,
        current: usize,
        desired: usize,
        _maximum: Option<usize>,
    ) -> wasmtime::Result<bool> {
        if desired > self.table_elements {
            return Err(refuse(
                Resource::Table,
                "entries",
                desired,
                current,
                self.table_elements,
            )
            .into());
        }
        Ok(true)
    }

    fn instances(&self) -> usize {
        self.instances
    }

    fn tables(&self) -> usize {
        self.instances
    }

    fn memories(&self) -> usize {
        self.instances
    }
}

fn refuse(what: Resource, unit: &'static str, asked: usize, held: usize, limit: usize) -> LimitHit {
    tracing::warn!(%what, unit, asked, held, limit, "plugin refused");
    LimitHit {
        what,
        unit,
        asked,
        held,
        limit,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn memories_add_up() {
        let mut limiter = Limiter::new(&HostConfig {
            memory_bytes: 200_000,
            ..HostConfig::default()
        });
        assert!(limiter.memory_growing(0, 65_536, None).unwrap());
        assert!(limiter.memory_growing(0, 65_536, None).unwrap());
        assert!(limiter.memory_growing(65_536, 131_072, None).unwrap());
        let refusal = limiter.memory_growing(65_536, 131_072, None).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "memory of 262144 bytes asked for with 196608 held, limit 200000"
        );
    }
}
