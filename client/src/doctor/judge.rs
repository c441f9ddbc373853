//! Findings on what was seen. Pure: the same sight gives the same findings.

use std::cmp::Ordering;
use std::time::Duration;

use super::{Answers, Finding, Health, Level, Limits, Seen, StatusAnswer, checks};

/// This client's version.
const CLIENT: &str = env!("CARGO_PKG_VERSION");

/// All findings, in the order in which things are to be mended.
pub(crate) fn judge(seen: &Seen, limits: &Limits) -> Vec<Finding> {
    let answers = match &seen.server_seen {
        Ok(answers) => answers,
        Err(why) => return vec![why.finding(&seen.server)],
    };
    let mut findings = vec![reached(&seen.server, answers.round_trip), health(answers)];
    match &answers.status {
        StatusAnswer::Told(told) => {
            findings.push(version(&told.status.version, CLIENT));
            findings.extend(checks::all(told, seen, limits));
        }
        StatusAnswer::Unimplemented => findings.push(Finding::new(
            "STATUS_UNKNOWN",
            Level::Warn,
            format!(
                "the daemon is older than this client ({CLIENT}) and does not tell how it is: \
                 clock, disk, journal and projection are not judged"
            ),
            "install a lamellad of this client's version and start it again",
        )),
        StatusAnswer::Failed(why) => findings.push(Finding::new(
            "STATUS_FAILED",
            Level::Fail,
            format!("the daemon cannot tell how it is: {why}"),
            "look at lamellad's log, and start it again",
        )),
    }
    findings.extend(answers.plugins.iter().flat_map(checks::plugins));
    let zone = seen.shop_zone();
    let outbox = answers.outbox.iter();
    findings.extend(outbox.flat_map(|outbox| checks::outbox(outbox, &zone)));
    findings
}

fn reached(server: &str, round_trip: Duration) -> Finding {
    let way = if server.starts_with("unix:") {
        "a Unix socket"
    } else {
        "TCP"
    };
    let ms = crate::units::number(round_trip.as_secs_f64() * 1e3);
    Finding::ok(
        "REACHED",
        format!("{server} answers over {way} within {ms} ms"),
    )
}

fn health(answers: &Answers) -> Finding {
    match &answers.health {
        Health::Serving => Finding::ok("HEALTH_SERVING", "it says that it takes calls"),
        Health::NotServing => Finding::new(
            "HEALTH_NOT_SERVING",
            Level::Fail,
            "it says that it takes no calls",
            "it is stopping: wait until it has, and start lamellad again",
        ),
        Health::Unknown(why) => Finding::new(
            "HEALTH_UNKNOWN",
            Level::Warn,
            format!("it does not say whether it takes calls: {why}"),
            "make sure that lamellad is what listens there, and of which version",
        ),
    }
}

fn version(daemon: &str, client: &str) -> Finding {
    let both = format!("lamellad is {daemon}, lamella is {client}");
    let order = numbers(daemon).zip(numbers(client)).map(|(d, c)| d.cmp(&c));
    match order {
        Some(Ordering::Equal) => Finding::ok("VERSION_SAME", both),
        Some(Ordering::Less) => Finding::new(
            "DAEMON_OLDER",
            Level::Warn,
            format!("{both}: some commands may be unknown to it"),
            "install the newer lamellad as well and start it again",
        ),
        Some(Ordering::Greater) => Finding::new(
            "DAEMON_NEWER",
            Level::Note,
            format!("{both}: what is new is not shown"),
            "install the newer lamella as well; until then `lamella call` reaches all methods",
        ),
        None => Finding::new(
            "VERSION_UNKNOWN",
            Level::Note,
            format!("{both}: they cannot be compared"),
            "make sure that both are from the same release",
        ),
    }
}

/// The three numbers of a version; what follows a hyphen or plus does not count.
fn numbers(version: &str) -> Option<[u64; 3]> {
    let plain = version.split(['-', '+']).next()?;
    let mut parts = plain.split('.').map(|part| part.parse().ok());
    let all = [parts.next()??, parts.next()??, parts.next()??];
    parts.next().is_none().then_some(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_are_compared_as_numbers() {
        let found = |daemon, client| version(daemon, client).code;
        assert_eq!(found("0.1.0", "0.1.0"), "VERSION_SAME");
        assert_eq!(found("0.1.0-dev", "0.1.0+a"), "VERSION_SAME");
        assert_eq!(found("0.9.3", "0.10.0"), "DAEMON_OLDER");
        assert_eq!(found("1.0.0", "0.10.0"), "DAEMON_NEWER");
        for odd in ["", "1", "1.2", "1.2.3.4", "1.x.3"] {
            assert_eq!(found(odd, "0.1.0"), "VERSION_UNKNOWN", "{odd}");
        }
    }
}
