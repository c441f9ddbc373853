//! Findings on what the daemon says of itself.

use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use lamella_proto::v1;

use super::{Finding, Level, Limits, Seen, Told};
use crate::times;
use crate::units::{number, size};

/// A difference of the clocks so many times the limit is a failure.
const SKEW_FAILS: f64 = 30.0;
/// Free space of this part of the limit is a failure.
const SPACE_FAILS: f64 = 0.1;
/// So many events may wait for the outbox before it is worth a word.
const PENDING: i64 = 100;

/// Those that only the status tells of.
pub(super) fn all(told: &Told, seen: &Seen, limits: &Limits) -> Vec<Finding> {
    let status = &told.status;
    let directory = status.data_directory.clone().unwrap_or_default();
    let mut findings = vec![
        clock(told, &seen.shop_zone(), limits),
        space(&directory, limits),
        writable(&directory),
    ];
    findings.extend(journal(&status.journal.clone().unwrap_or_default()));
    findings.push(projection(&status.projection.clone().unwrap_or_default()));
    findings.push(tax(status.tax_configured));
    findings.push(zones(&status.time_zone, &seen.zone, told.received));
    findings
}

/// The daemon read its clock while the question was on its way and back: half of
/// that time is taken for the way back, and the other half for the doubt.
fn clock(told: &Told, zone: &TimeZone, limits: &Limits) -> Finding {
    let theirs = told.status.current_time.as_ref();
    let Some(theirs) = theirs.and_then(times::from_proto) else {
        return Finding::new(
            "CLOCK_UNKNOWN",
            Level::Warn,
            "the daemon does not tell what time it is",
            "look at lamellad's version",
        );
    };
    let half_s = told.round_trip.as_secs_f64() / 2.0;
    let half = SignedDuration::try_from_secs_f64(half_s).unwrap_or_default();
    let ours = told.received.checked_sub(half).unwrap_or(told.received);
    let skew_s = theirs.duration_since(ours).as_secs_f64();
    let (least_s, limit_s) = (skew_s.abs() - half_s, limits.max_skew.as_secs_f64());
    let at = |instant: Timestamp| {
        let shown = instant.to_zoned_datetime(zone.clone());
        shown.strftime("%Y-%m-%d %H:%M:%S %Z").to_string()
    };
    let both = format!("lamellad has {}, this machine {}", at(theirs), at(ours));
    let doubt = format!(", to within {} ms", number(half_s * 1e3));
    if least_s <= limit_s {
        return Finding::ok("CLOCK", format!("{both}: the same{doubt}"));
    }
    let level = if least_s > limit_s * SKEW_FAILS {
        Level::Fail
    } else {
        Level::Warn
    };
    let way = if skew_s > 0.0 { "ahead" } else { "behind" };
    Finding::new(
        "CLOCK_OFF",
        level,
        format!("{both}: lamellad is {} {way}{doubt}", span(skew_s.abs())),
        "set the clock that is wrong, and keep both by NTP: what is typed as `now` or `today` \
         is dated by this machine, everything else by lamellad",
    )
}

fn space(directory: &v1::DataDirectoryStatus, limits: &Limits) -> Finding {
    let path = &directory.path;
    let (Some(free), Some(total)) = (directory.free_bytes, directory.total_bytes) else {
        return Finding::new(
            "DISK_SPACE_UNKNOWN",
            Level::Warn,
            format!(
                "lamellad cannot tell the free space at {path}: {}",
                directory.failure
            ),
            &format!("see for yourself on its machine: df {path}"),
        );
    };
    let seen = format!(
        "{} of {} are free at {path}",
        size(float(free)),
        size(float(total))
    );
    let least = limits.min_free_bytes;
    let level = match float(free) {
        free if free < least * SPACE_FAILS => Level::Fail,
        free if free < least => Level::Warn,
        _ => return Finding::ok("DISK_SPACE", seen),
    };
    Finding::new(
        "DISK_SPACE_LOW",
        level,
        format!("{seen}, less than {}", size(least)),
        "make room on that disk, or stop lamellad and move the data directory to a larger one; \
         on a full disk no change is taken any more",
    )
}

fn writable(directory: &v1::DataDirectoryStatus) -> Finding {
    let path = &directory.path;
    if directory.writable {
        return Finding::ok("DATA_WRITABLE", format!("{path} can be written to"));
    }
    Finding::new(
        "DATA_NOT_WRITABLE",
        Level::Fail,
        format!("{path} cannot be written to: {}", directory.failure),
        "let lamellad's user write there: look at free space, owner, read-only mounts and \
         limits of the service, then start lamellad again",
    )
}

fn journal(journal: &v1::JournalStatus) -> Vec<Finding> {
    let bytes = journal.size_bytes.map_or_else(
        || "an unknown number of bytes".to_owned(),
        |bytes| size(float(bytes)),
    );
    let seen = format!(
        "the journal ends at event {}, all of it durable, {bytes} in {}",
        journal.durable_sequence,
        counted(journal.segment_count, "segment", "segments")
    );
    let mut findings = vec![if journal.read_only {
        Finding::new(
            "JOURNAL_FAILED",
            Level::Fail,
            format!(
                "no change is taken since the journal failed: {}",
                journal.failure
            ),
            "mend what is named there, then start lamellad again; what was acknowledged is safe, \
             and can be read meanwhile",
        )
    } else {
        Finding::ok("JOURNAL", seen)
    }];
    if journal.truncated_bytes > 0 {
        findings.push(Finding::new(
            "JOURNAL_CUT",
            Level::Note,
            format!(
                "the last start cut {} of an unfinished write off the journal",
                size(float(journal.truncated_bytes))
            ),
            "nothing, if power failed or lamellad was killed: it had not been acknowledged; \
             otherwise look at the disk",
        ));
    }
    findings
}

fn projection(projection: &v1::ProjectionStatus) -> Finding {
    let at = projection.applied_sequence;
    if !projection.failure.is_empty() {
        return Finding::new(
            "PROJECTION_FAILED",
            Level::Fail,
            format!("the projection cannot be read: {}", projection.failure),
            "stop lamellad, look at the disk, and start it again; it is built anew from the \
             journal where it must be, and nothing is lost",
        );
    }
    if projection.lag_count > 0 {
        return Finding::new(
            "PROJECTION_BEHIND",
            Level::Fail,
            format!(
                "the projection is at event {at} and lacks {}: what is read is old",
                projection.lag_count
            ),
            "start lamellad again: it catches up from the journal, and nothing is lost",
        );
    }
    let start = match projection.start() {
        v1::ProjectionStart::Created => "created at this start".to_owned(),
        v1::ProjectionStart::Opened => "sound at this start".to_owned(),
        v1::ProjectionStart::CaughtUp => format!(
            "caught up at this start from event {}",
            projection.caught_up_from_sequence.unwrap_or_default()
        ),
        v1::ProjectionStart::Rebuilt => {
            return Finding::new(
                "PROJECTION_REBUILT",
                Level::Note,
                format!(
                    "the projection was built anew at this start: {}",
                    projection.rebuild_reason
                ),
                "nothing: it was made from the journal and is whole; if it comes again at every \
                 start, look at the disk, and stop lamellad for `lamellad verify`",
            );
        }
        v1::ProjectionStart::Unspecified => "of an unknown past".to_owned(),
    };
    Finding::ok(
        "PROJECTION",
        format!("the projection is at event {at}, {start}"),
    )
}

fn tax(configured: bool) -> Finding {
    if configured {
        return Finding::ok("TAX", "tax classes are configured");
    }
    Finding::new(
        "TAX_NOT_CONFIGURED",
        Level::Note,
        "no tax is configured: every quote reckons with 0 %",
        "write [[money.tax_classes]] into lamellad's configuration and start it again",
    )
}

/// Zones of two names that keep the same time all year are no matter.
fn zones(shop: &str, machine: &TimeZone, now: Timestamp) -> Finding {
    let here = machine.iana_name().unwrap_or("a zone without a name");
    let todo = "write shop.time_zone into lamellad's configuration and start it again; times \
                that this client shows and reads are of this machine's zone, unless TZ says another";
    let Ok(zone) = TimeZone::get(shop) else {
        return Finding::new(
            "TIME_ZONE_UNKNOWN",
            Level::Note,
            format!("the shop's zone is not known, this machine's is {here}"),
            todo,
        );
    };
    let months = (0..12).map(|month| SignedDuration::from_hours(month * 730));
    let same = months
        .filter_map(|later| now.checked_add(later).ok())
        .all(|at| zone.to_offset(at) == machine.to_offset(at));
    if same {
        return Finding::ok(
            "TIME_ZONE",
            format!("the shop's zone is {shop}, this machine's {here}: the same time"),
        );
    }
    Finding::new(
        "TIME_ZONE_DIFFERS",
        Level::Note,
        format!("the shop's zone is {shop}, this machine's {here}"),
        todo,
    )
}

/// One finding for each plugin that fails.
pub(super) fn plugins(plugins: &v1::PluginsStatus) -> Vec<Finding> {
    if plugins.failed.is_empty() {
        return vec![Finding::ok(
            "PLUGINS",
            format!(
                "{} installed, {} of them serving",
                counted(plugins.installed_count, "plugin is", "plugins are"),
                plugins.serving_count
            ),
        )];
    }
    plugins.failed.iter().map(plugin).collect()
}

fn plugin(failed: &v1::FailedPlugin) -> Finding {
    let v1::FailedPlugin {
        plugin,
        display_name,
        version,
        failure,
    } = failed;
    let failure = failure.clone().unwrap_or_default();
    let id = plugin.strip_prefix("plugins/").unwrap_or(plugin);
    Finding::new(
        "PLUGIN_FAILED",
        Level::Fail,
        format!(
            "{plugin} ({display_name} {version}) does not serve: {}: {}",
            failure.reason, failure.message
        ),
        &format!(
            "install it again with `lamella plugin install FILE --id {id}`, or take it out of \
             service with `lamella plugin disable {id}`"
        ),
    )
}

/// The dead letters, and what else holds deliveries up.
pub(super) fn outbox(outbox: &v1::OutboxStatus, zone: &TimeZone) -> Vec<Finding> {
    if !outbox.configured {
        return vec![Finding::ok("OUTBOX", "no outbox is configured")];
    }
    let to = if outbox.receiver.is_empty() {
        String::new()
    } else {
        format!(" to {}", outbox.receiver)
    };
    let last = outbox.last_failure.as_ref().map(|failure| {
        let at = failure.attempt_time.as_ref().and_then(times::from_proto);
        let at = at.map(|at| at.to_zoned_datetime(zone.clone()));
        let at = at.map(|at| at.strftime(" at %Y-%m-%d %H:%M").to_string());
        format!(
            "; the last attempt{} failed: {}",
            at.unwrap_or_default(),
            failure.message
        )
    });
    let last = last.unwrap_or_default();
    let (dead, waiting) = (outbox.dead_letter_count, outbox.waiting_job_count);
    let mut findings = Vec::new();
    if dead > 0 {
        findings.push(Finding::new(
            "OUTBOX_DEAD_LETTERS",
            Level::Warn,
            format!(
                "{}{to}, and what follows in the same job{last}",
                counted(dead, "event is not delivered", "events are not delivered")
            ),
            "`lamella booking dead-letters` lists them; `lamella booking retry JOB` sends one \
             again, and with --discard gives it up",
        ));
    }
    if waiting > 0 {
        findings.push(Finding::new(
            "OUTBOX_BEHIND",
            Level::Warn,
            format!(
                "{} for another attempt to deliver{to}{last}",
                counted(waiting, "job waits", "jobs wait")
            ),
            "see that the receiver runs and takes what is sent; it is tried again by itself, and \
             `lamella booking outbox` tells how far it has come",
        ));
    } else if outbox.pending_event_count > PENDING {
        findings.push(Finding::new(
            "OUTBOX_BEHIND",
            Level::Warn,
            format!(
                "{} events wait for delivery{to}",
                outbox.pending_event_count
            ),
            "ask again in a minute; if it does not get less, look at lamellad's log and start it \
             again",
        ));
    }
    if findings.is_empty() {
        findings.push(Finding::ok(
            "OUTBOX",
            format!(
                "events up to {} are delivered{to}",
                outbox.delivered_sequence
            ),
        ));
    }
    findings
}

/// A span of time in the words of a person: `2.5 s`, `12 min`, `3 h`, `4 d`.
fn span(seconds: f64) -> String {
    let units = [(86_400.0, "d"), (3_600.0, "h"), (60.0, "min")];
    let found = units.into_iter().find(|(least, _)| seconds >= *least);
    let (factor, name) = found.unwrap_or((1.0, "s"));
    format!("{} {name}", number(seconds / factor))
}

/// How many there are, with the word that goes with it.
fn counted(count: i32, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Bytes as a number that can be scaled. Beyond 2^53 they are rounded, which no
/// four digits show.
fn float(bytes: i64) -> f64 {
    bytes as f64
}
