//! How the daemon is, as StatusService tells it.

use lamella_proto::v1;
use lamella_store::ProjectionRecovery;

use super::{count, outbox, sequence, time};
use crate::condition::{Condition, Stored};

/// The package of the API.
const API_PACKAGE: &str = "lamella.v1";

/// All of it.
pub(crate) fn to_pb(condition: &Condition) -> v1::DaemonStatus {
    let Condition {
        now,
        about,
        time_zone,
        tax_configured,
        stored,
        plugins,
        outbox: progress,
    } = condition;
    v1::DaemonStatus {
        version: env!("CARGO_PKG_VERSION").to_owned(),
        api_package: API_PACKAGE.to_owned(),
        current_time: Some(time::to_pb(*now)),
        start_time: Some(time::to_pb(about.start_time)),
        listen_address: about.listen.to_string(),
        web_root_served: about.web_root_served,
        time_zone: time_zone.iana_name().unwrap_or_default().to_owned(),
        tax_configured: *tax_configured,
        data_directory: Some(v1::DataDirectoryStatus {
            path: stored.path.display().to_string(),
            free_bytes: stored.space.map(|space| sequence(space.free_bytes)),
            total_bytes: stored.space.map(|space| sequence(space.total_bytes)),
            writable: stored.writable,
            failure: stored.faults.join("; "),
        }),
        journal: Some(v1::JournalStatus {
            oldest_sequence: sequence(stored.oldest_seq),
            durable_sequence: sequence(stored.last_seq),
            segment_count: i32::try_from(stored.segments).unwrap_or(i32::MAX),
            size_bytes: stored.journal_bytes.map(sequence),
            truncated_bytes: sequence(about.recovery.truncated_bytes),
            read_only: stored.failure.is_some(),
            failure: stored.failure.clone().unwrap_or_default(),
        }),
        projection: Some(v1::ProjectionStatus {
            failure: plugins.as_ref().err().cloned().unwrap_or_default(),
            ..projection(stored, &about.recovery.projection)
        }),
        watcher_count: i32::try_from(stored.watchers).unwrap_or(i32::MAX),
        plugins: plugins.as_deref().ok().map(plugins_to_pb),
        outbox: Some(outbox::to_status_pb(progress.as_ref(), stored.last_seq)),
    }
}

fn projection(stored: &Stored, recovery: &ProjectionRecovery) -> v1::ProjectionStatus {
    let (start, from, why) = match recovery {
        ProjectionRecovery::Created => (v1::ProjectionStart::Created, None, String::new()),
        ProjectionRecovery::Opened => (v1::ProjectionStart::Opened, None, String::new()),
        ProjectionRecovery::CaughtUp { from } => {
            (v1::ProjectionStart::CaughtUp, Some(*from), String::new())
        }
        ProjectionRecovery::Rebuilt { why, .. } => {
            (v1::ProjectionStart::Rebuilt, None, why.to_string())
        }
    };
    v1::ProjectionStatus {
        applied_sequence: sequence(stored.applied_seq),
        lag_count: sequence(stored.last_seq.saturating_sub(stored.applied_seq)),
        start: start.into(),
        caught_up_from_sequence: from.map(sequence),
        rebuild_reason: why,
        failure: String::new(),
    }
}

fn plugins_to_pb(plugins: &[v1::Plugin]) -> v1::PluginsStatus {
    let serving = plugins
        .iter()
        .filter(|plugin| plugin.state() == v1::PluginState::Enabled);
    v1::PluginsStatus {
        installed_count: count(plugins.len()),
        serving_count: count(serving.count()),
        failed: plugins.iter().filter_map(failed).collect(),
    }
}

fn failed(plugin: &v1::Plugin) -> Option<v1::FailedPlugin> {
    let current = plugin.current.clone().unwrap_or_default();
    let failure = plugin.failure.clone()?;
    Some(v1::FailedPlugin {
        plugin: plugin.name.clone(),
        display_name: current.name,
        version: current.version,
        failure: Some(failure),
    })
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use jiff::Timestamp;
    use jiff::tz::TimeZone;
    use lamella_store::{RebuildReason, Recovery};

    use super::*;
    use crate::condition::About;
    use crate::config::Listen;

    fn condition(plugins: Result<Vec<v1::Plugin>, String>) -> Condition {
        Condition {
            now: Timestamp::UNIX_EPOCH,
            about: About {
                start_time: Timestamp::UNIX_EPOCH,
                listen: Listen::Unix(PathBuf::from("/run/lamella.sock")),
                data_dir: PathBuf::from("data"),
                web_root_served: true,
                recovery: Recovery {
                    oldest_seq: 1,
                    last_seq: 5,
                    segments: 1,
                    truncated_bytes: 3,
                    projection: ProjectionRecovery::Rebuilt {
                        why: RebuildReason::Blank,
                        from_snapshot: None,
                    },
                },
            },
            time_zone: TimeZone::UTC,
            tax_configured: false,
            stored: Stored {
                last_seq: 7,
                applied_seq: 5,
                failure: Some("cannot sync".to_owned()),
                ..Stored::default()
            },
            plugins,
            outbox: None,
        }
    }

    #[test]
    fn what_is_not_known_is_unset_and_says_why() {
        let told = to_pb(&condition(Err("cannot read".to_owned())));
        assert_eq!(told.plugins, None);
        let projection = told.projection.unwrap();
        assert_eq!(projection.failure, "cannot read");
        assert_eq!(projection.start(), v1::ProjectionStart::Rebuilt);
        assert_eq!(projection.rebuild_reason, "it was never completed");
        assert_eq!((projection.applied_sequence, projection.lag_count), (5, 2));
        let journal = told.journal.unwrap();
        assert_eq!((journal.read_only, journal.truncated_bytes), (true, 3));
        assert_eq!(
            (journal.failure.as_str(), journal.size_bytes),
            ("cannot sync", None)
        );
        assert_eq!(told.data_directory.unwrap().free_bytes, None);
        assert_eq!(told.outbox, Some(v1::OutboxStatus::default()));
    }

    #[test]
    fn plugins_are_counted_by_what_they_do() {
        let plugin = |id: &str, state: v1::PluginState| v1::Plugin {
            name: format!("plugins/{id}"),
            state: state.into(),
            failure: (state == v1::PluginState::Failed).then(v1::PluginFailure::default),
            ..Default::default()
        };
        let all = vec![
            plugin("a", v1::PluginState::Enabled),
            plugin("b", v1::PluginState::Failed),
            plugin("c", v1::PluginState::Disabled),
        ];
        let told = to_pb(&condition(Ok(all))).plugins.unwrap();
        assert_eq!((told.installed_count, told.serving_count), (3, 1));
        let failed: Vec<&str> = told.failed.iter().map(|f| f.plugin.as_str()).collect();
        assert_eq!(failed, ["plugins/b"]);
    }
}
