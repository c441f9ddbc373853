//! The names that a browser may know this daemon by. A page on a foreign name
//! that was made to resolve to this machine would otherwise count as this
//! daemon's own, and could read every job (DNS rebinding).

use std::net::IpAddr;

use crate::config::Listen;

/// Which Host headers are answered.
#[derive(Debug, Clone, Default)]
pub struct Hosts {
    /// Lower case, without ports.
    names: Vec<String>,
    /// Any address written as numbers: such an origin cannot be rebound.
    any_address: bool,
    /// Any at all, for a Unix socket, which no browser reaches.
    any: bool,
}

impl Hosts {
    /// Loopback names, the host of each address, and `more` names.
    /// An address that stands for every interface allows any address written as
    /// numbers, since the daemon cannot know which of them it is reached by.
    pub fn new(addresses: &[&Listen], more: &[String]) -> Self {
        let mut hosts = Self {
            names: more.iter().map(|name| bare(name)).collect(),
            ..Self::default()
        };
        for address in addresses {
            match address {
                Listen::Unix(_) => hosts.any = true,
                Listen::Tcp(address) => {
                    let host = bare(address);
                    hosts.any_address |= number(&host).is_some_and(|ip| ip.is_unspecified());
                    hosts.names.push(host);
                }
            }
        }
        hosts
    }

    /// Whether to answer a request for this host, which may have a port. None
    /// asked for is refused: every browser says whom it asks.
    pub fn allow(&self, host: Option<&str>) -> bool {
        if self.any {
            return true;
        }
        let Some(host) = host.map(bare) else {
            return false;
        };
        match number(&host) {
            Some(ip) if ip.is_loopback() || self.any_address => true,
            _ => {
                let own = host == "localhost" || host.ends_with(".localhost");
                own || self.names.contains(&host)
            }
        }
    }
}

/// In lower case, without port and closing dot.
fn bare(host: &str) -> String {
    let without_port = match host.rsplit_once(':') {
        // Colons within an address in brackets are its own.
        Some((name, port)) if !port.contains(']') && port.bytes().all(|b| b.is_ascii_digit()) => {
            name
        }
        _ => host,
    };
    without_port.trim_end_matches('.').to_ascii_lowercase()
}

fn number(host: &str) -> Option<IpAddr> {
    let inner = host
        .strip_prefix('[')
        .and_then(|host| host.strip_suffix(']'));
    inner.unwrap_or(host).parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hosts(listen: &str, more: &[&str]) -> Hosts {
        let more: Vec<String> = more.iter().map(ToString::to_string).collect();
        Hosts::new(&[&listen.parse().unwrap()], &more)
    }

    #[test]
    fn loopback_and_its_own_address_are_answered_whatever_the_port() {
        let hosts = hosts("192.168.7.2:7575", &[]);
        for good in [
            "localhost",
            "LOCALHOST:7575",
            "localhost.:1",
            "shop.localhost",
            "127.0.0.1:7575",
            "127.8.8.8",
            "[::1]:7575",
            "192.168.7.2:7575",
            "192.168.7.2",
        ] {
            assert!(hosts.allow(Some(good)), "{good}");
        }
    }

    #[test]
    fn foreign_names_are_refused_also_when_they_look_alike() {
        let hosts = hosts("127.0.0.1:7575", &["wall.example"]);
        for bad in [
            "rebound.example",
            "localhost.example",
            "notlocalhost",
            "127.0.0.1.example:7575",
            "wall.example.evil.example",
            "192.168.7.2",
            "[fe80::1]",
            "",
            ":7575",
        ] {
            assert!(!hosts.allow(Some(bad)), "{bad}");
        }
        assert!(!hosts.allow(None));
        assert!(hosts.allow(Some("Wall.example:80")));
    }

    #[test]
    fn on_every_interface_numbers_are_allowed_and_names_are_not() {
        let hosts = hosts("0.0.0.0:7575", &[]);
        assert!(hosts.allow(Some("192.168.7.2:7575")));
        assert!(!hosts.allow(Some("rebound.example:7575")));
    }
}
