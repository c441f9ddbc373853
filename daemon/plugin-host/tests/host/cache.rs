//! Compiled code kept on disk: found again, private, and harmless when spoilt.

use crate::guest::honest;
use crate::support::{config, request};
use lamella_plugin_host::{CallLimits, HostConfig, LoadOptions, PluginHost};

#[test]
fn compiled_code_is_found_again() {
    let dir = tempfile::tempdir().unwrap();
    let cache_dir = dir.path().join("plugins").join("cache");
    let config = HostConfig {
        cache_dir: Some(cache_dir.clone()),
        ..config()
    };
    let bytes = honest().build();
    let quote = |host: &PluginHost| {
        let plugin = host.load(&bytes, &LoadOptions::default()).unwrap();
        plugin.quote(&request(3), CallLimits::default()).unwrap().0
    };
    let first = PluginHost::try_new(config.clone()).unwrap();
    let expected = quote(&first);
    assert_eq!(first.cache_hits_and_misses(), (0, 1));
    let second = PluginHost::try_new(config.clone()).unwrap();
    assert_eq!(quote(&second), expected);
    assert_eq!(second.cache_hits_and_misses(), (1, 0));
    // Another setting of the compiler is other code.
    let other = PluginHost::try_new(HostConfig {
        stack_bytes: 256 << 10,
        ..config
    })
    .unwrap();
    assert_eq!(quote(&other), expected);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = std::fs::metadata(&cache_dir).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o700);
    }
}

#[test]
fn spoilt_compiled_code_is_compiled_again() {
    let dir = tempfile::tempdir().unwrap();
    let config = HostConfig {
        cache_dir: Some(dir.path().into()),
        ..config()
    };
    let bytes = honest().build();
    let load = || {
        let host = PluginHost::try_new(config.clone()).unwrap();
        let plugin = host.load(&bytes, &LoadOptions::default()).unwrap();
        plugin.quote(&request(3), CallLimits::default()).unwrap();
        host.cache_hits_and_misses()
    };
    load();
    let mut spoilt = 0;
    let mut folders = vec![dir.path().to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                std::fs::write(path, b"spoilt").unwrap();
                spoilt += 1;
            }
        }
    }
    assert!(spoilt > 0);
    assert_eq!(load(), (0, 1));
}

#[test]
fn a_cache_folder_that_cannot_be_made_is_an_error() {
    let file = tempfile::NamedTempFile::new().unwrap();
    let cache_dir = Some(file.path().join("cache"));
    let error = PluginHost::try_new(HostConfig {
        cache_dir,
        ..config()
    })
    .unwrap_err();
    assert_eq!(error.reason(), "CACHE_UNAVAILABLE");
}
