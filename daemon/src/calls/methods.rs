//! The RPCs that there are. Anybody may ask for a path that is none, so those
//! share one name: a label for each would be a way to fill the memory.

use std::collections::HashMap;
use std::sync::Arc;

use prost::Message as _;
use prost_types::FileDescriptorSet;

use crate::metrics::MethodLabels;

/// One RPC, as it is told of.
#[derive(Debug, Clone)]
pub(crate) struct Method {
    labels: Arc<MethodLabels>,
    full: Arc<str>,
    short: Arc<str>,
}

/// All RPCs by their HTTP paths.
#[derive(Debug)]
pub(crate) struct Methods {
    by_path: HashMap<String, Method>,
    unknown: Method,
}

impl Method {
    fn new(service: &str, method: &str) -> Self {
        let own = service.rsplit('.').next().unwrap_or(service);
        Self {
            labels: Arc::new(MethodLabels {
                service: service.into(),
                method: method.into(),
            }),
            full: format!("{service}/{method}").into(),
            short: format!("{own}/{method}").into(),
        }
    }

    /// For metrics.
    pub(super) fn labels(&self) -> &MethodLabels {
        &self.labels
    }

    /// As `lamella.v1.JobService/GetJob`.
    pub(super) fn full(&self) -> &str {
        &self.full
    }

    /// As `JobService/GetJob`.
    pub(super) fn short(&self) -> &str {
        &self.short
    }

    /// Whether a tool asked after the daemon itself: health, reflection.
    pub(super) fn is_housekeeping(&self) -> bool {
        self.labels.service.starts_with("grpc.")
    }
}

impl Methods {
    /// The RPCs in encoded descriptors.
    ///
    /// # Errors
    /// When they are not descriptors.
    pub(crate) fn try_new(encoded: &[&[u8]]) -> Result<Self, prost::DecodeError> {
        let mut by_path = HashMap::new();
        for encoded in encoded {
            for file in FileDescriptorSet::decode(*encoded)?.file {
                for service in &file.service {
                    let name = format!("{}.{}", file.package(), service.name());
                    for method in &service.method {
                        let path = format!("/{name}/{}", method.name());
                        by_path.insert(path, Method::new(&name, method.name()));
                    }
                }
            }
        }
        Ok(Self {
            by_path,
            unknown: Method::new("unknown", "unknown"),
        })
    }

    /// The RPC at a path.
    pub(super) fn of(&self, path: &str) -> Method {
        self.by_path.get(path).unwrap_or(&self.unknown).clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_apis_own_paths_have_names_and_all_others_share_one() {
        let methods = Methods::try_new(&[
            lamella_proto::FILE_DESCRIPTOR_SET,
            tonic_health::pb::FILE_DESCRIPTOR_SET,
        ])
        .unwrap();
        let job = methods.of("/lamella.v1.JobService/GetJob");
        assert_eq!(job.full(), "lamella.v1.JobService/GetJob");
        assert_eq!(job.short(), "JobService/GetJob");
        assert!(!job.is_housekeeping());
        assert!(methods.of("/grpc.health.v1.Health/Check").is_housekeeping());
        for path in ["", "/", "/lamella.v1.JobService/Get", "/x/GetJob"] {
            assert_eq!(methods.of(path).full(), "unknown/unknown", "{path}");
        }
    }
}
