//! Plugins to install, and installing them.

use std::path::{Path, PathBuf};

use lamella_proto::v1::{self, install_plugin_request::Part};
use sha2::{Digest as _, Sha256};

use crate::api::{Api, Refused};
use crate::wait;

/// Bytes in one message of an upload.
pub const CHUNK_BYTES: usize = 1 << 20;

/// A component as shipped in `plugins/prebuilt`.
///
/// # Panics
/// When there is none of that name.
pub fn prebuilt(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../plugins/prebuilt");
    let path = path.join(name).with_extension("wasm");
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Writes a configuration into `dir` in which a plugin has a minute, and little
/// fuel: a busy machine must not look like a slow plugin, and an endless one must end.
///
/// # Panics
/// When it cannot be written.
pub fn patient(dir: &Path, fuel_units: u64) -> PathBuf {
    let path = dir.join("patient.toml");
    let text = format!("[plugins]\ndeadline_ms = 60000\nfuel_units = {fuel_units}\n");
    std::fs::write(&path, text).expect("a configuration can be written");
    path
}

/// SHA-256 in hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    hex::encode(Sha256::digest(bytes))
}

/// A header that announces these bytes.
pub fn header(id: &str, bytes: &[u8]) -> v1::InstallPluginHeader {
    v1::InstallPluginHeader {
        plugin_id: id.to_owned(),
        sha256: sha256(bytes),
        ..Default::default()
    }
}

/// A setting.
pub fn setting(key: &str, value: &str) -> v1::PluginSetting {
    v1::PluginSetting {
        key: key.to_owned(),
        value: value.to_owned(),
    }
}

/// The messages of an upload.
pub fn messages(
    header: v1::InstallPluginHeader,
    bytes: &[u8],
) -> impl Iterator<Item = v1::InstallPluginRequest> + use<> {
    let chunks: Vec<Part> = bytes
        .chunks(CHUNK_BYTES)
        .map(|chunk| Part::Chunk(chunk.to_vec()))
        .collect();
    std::iter::once(Part::Header(header))
        .chain(chunks)
        .map(|part| v1::InstallPluginRequest { part: Some(part) })
}

/// Uploads bytes under a header.
///
/// # Errors
/// The daemon's refusal.
///
/// # Panics
/// When no answer comes.
pub async fn install(
    api: &Api,
    header: v1::InstallPluginHeader,
    bytes: &[u8],
) -> Result<v1::Plugin, Refused> {
    let mut plugins = api.plugins();
    let stream = tokio_stream::iter(messages(header, bytes));
    let answer = wait::ready("an install", plugins.install_plugin(stream)).await;
    answer
        .map(tonic::Response::into_inner)
        .map_err(|status| Refused::of(&status))
}

/// Installs bytes that must install.
///
/// # Panics
/// When they do not.
pub async fn installed(api: &Api, id: &str, bytes: &[u8]) -> v1::Plugin {
    let answer = install(api, header(id, bytes), bytes).await;
    answer.unwrap_or_else(|refused| panic!("{id} was refused: {refused:#?}"))
}

/// One plugin as the daemon shows it.
///
/// # Errors
/// The daemon's refusal.
///
/// # Panics
/// When no answer comes.
pub async fn get(api: &Api, id: &str) -> Result<v1::Plugin, Refused> {
    let mut plugins = api.plugins();
    let request = v1::GetPluginRequest {
        name: format!("plugins/{id}"),
    };
    let answer = wait::ready("a plugin", plugins.get_plugin(request)).await;
    answer
        .map(tonic::Response::into_inner)
        .map_err(|status| Refused::of(&status))
}

/// Names of the files in a daemon's folder of components, uploads among them.
///
/// # Panics
/// When the folder cannot be read.
pub fn files(data_dir: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder(data_dir)).expect("the daemon makes this folder");
    let mut names: Vec<String> = entries
        .map(|entry| entry.expect("it can be read"))
        // What is compiled from them lies in a folder of its own.
        .filter(|entry| entry.path().is_file())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort_unstable();
    names
}

/// A daemon's folder of components.
pub fn folder(data_dir: &Path) -> PathBuf {
    data_dir.join("plugins")
}
