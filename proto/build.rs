//! Compiles the protos with protox, so that building needs no `protoc`.
use std::path::PathBuf;

use prost::Message as _;
use prost_types::FileDescriptorSet;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let api = protos_in("lamella/v1")?;
    let mut all = protos_in("lamella/store/v1")?;
    all.extend(api.iter().cloned());
    let out = PathBuf::from(std::env::var("OUT_DIR")?);
    std::fs::write(out.join("lamella.v1.bin"), compile(&api)?.encode_to_vec())?;
    tonic_prost_build::configure().compile_fds(compile(&all)?)?;
    Ok(())
}

/// The proto files of one package folder, in a stable order.
fn protos_in(dir: &str) -> std::io::Result<Vec<PathBuf>> {
    println!("cargo:rerun-if-changed={dir}");
    let mut files = Vec::new();
    for entry in std::fs::read_dir(dir)? {
        let path = entry?.path();
        if path.extension().is_some_and(|ext| ext == "proto") {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

/// Descriptors of `files` and all that they import, with their comments.
fn compile(files: &[PathBuf]) -> Result<FileDescriptorSet, protox::Error> {
    Ok(protox::Compiler::new(["."])?
        .include_imports(true)
        .include_source_info(true)
        .open_files(files)?
        .file_descriptor_set())
}
