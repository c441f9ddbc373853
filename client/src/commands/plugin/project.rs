//! The files of a new plugin's project, which this program carries along; they
//! are those that `plugins/template/files.txt` names.

use std::fs;
use std::path::Path;

use crate::errors::CliError;

/// What stands for the project's name in the template's own files.
const NAME_STANDS_HERE: &str = "PLUGIN_NAME";

/// Scripts, which must be executable.
const SCRIPTS: &[&str] = &["build", "rust-component"];

macro_rules! files {
    ($($from:literal => $to:literal),* $(,)?) => {
        &[$(File {
            from: $from,
            to: $to,
            text: include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../plugins/", $from)),
        }),*]
    };
}

struct File {
    /// Where it lies in `plugins/`.
    from: &'static str,
    /// Where it goes in the project.
    to: &'static str,
    text: &'static str,
}

const FILES: &[File] = files! {
    "template/Cargo.toml" => "Cargo.toml",
    "template/README.md" => "README.md",
    "template/build" => "build",
    "template/gitignore" => ".gitignore",
    "template/src/lib.rs" => "src/lib.rs",
    "template/src/tests.rs" => "src/tests.rs",
    "rust-component" => "rust-component",
    "componentize/Cargo.toml" => "componentize/Cargo.toml",
    "componentize/Cargo.lock" => "componentize/Cargo.lock",
    "componentize/src/main.rs" => "componentize/src/main.rs",
    "sdk/Cargo.toml" => "sdk/Cargo.toml",
    "sdk/clippy.toml" => "sdk/clippy.toml",
    "sdk/src/bindings.rs" => "sdk/src/bindings.rs",
    "sdk/src/draft.rs" => "sdk/src/draft.rs",
    "sdk/src/draft_tests.rs" => "sdk/src/draft_tests.rs",
    "sdk/src/lib.rs" => "sdk/src/lib.rs",
    "sdk/src/log.rs" => "sdk/src/log.rs",
    "sdk/src/pricing.rs" => "sdk/src/pricing.rs",
    "sdk/src/products.rs" => "sdk/src/products.rs",
    "sdk/src/round.rs" => "sdk/src/round.rs",
    "sdk/src/settings.rs" => "sdk/src/settings.rs",
    "wit/shop-1.0.0/pricing.wit" => "wit/shop-1.0.0/pricing.wit",
    "wit/shop-1.0.0/products.wit" => "wit/shop-1.0.0/products.wit",
    "wit/shop-1.0.0/types.wit" => "wit/shop-1.0.0/types.wit",
};

/// Writes the project of that name; how many files.
///
/// # Errors
/// [`CliError::Write`] with the path.
pub(crate) fn write(dir: &Path, name: &str) -> Result<usize, CliError> {
    for file in FILES {
        let path = dir.join(file.to);
        let text = if file.from.starts_with("template/") {
            file.text.replace(NAME_STANDS_HERE, name)
        } else {
            file.text.to_owned()
        };
        put(&path, &text, SCRIPTS.contains(&file.to)).map_err(|source| CliError::Write {
            path: path.clone(),
            source,
        })?;
    }
    Ok(FILES.len())
}

fn put(path: &Path, text: &str, executable: bool) -> std::io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    // Never over one that has come in between.
    let mut file = fs::File::create_new(path)?;
    std::io::Write::write_all(&mut file, text.as_bytes())?;
    if executable {
        make_executable(&file)?;
    }
    Ok(())
}

#[cfg(unix)]
fn make_executable(file: &fs::File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt as _;

    let mut permissions = file.metadata()?.permissions();
    // Whoever may read it may run it.
    let readers = permissions.mode() & 0o444;
    permissions.set_mode(permissions.mode() | readers >> 2);
    file.set_permissions(permissions)
}

#[cfg(not(unix))]
fn make_executable(_: &fs::File) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_files_are_those_that_the_template_names() {
        let list = include_str!(concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../plugins/template/files.txt"
        ));
        let named: Vec<&str> = list
            .lines()
            .filter(|line| !line.trim().is_empty() && !line.starts_with('#'))
            .collect();
        let carried: Vec<String> = FILES
            .iter()
            .map(|file| format!("{} {}", file.from, file.to))
            .collect();
        assert_eq!(carried, named);
    }

    #[test]
    fn a_project_is_written_under_its_name() {
        let dir = tempfile::tempdir().unwrap();
        let project = dir.path().join("shop-prices");
        assert_eq!(write(&project, "shop-prices").unwrap(), FILES.len());
        for file in FILES {
            let text = fs::read_to_string(project.join(file.to)).unwrap();
            assert!(!text.contains(NAME_STANDS_HERE), "{}", file.to);
        }
        let manifest = fs::read_to_string(project.join("Cargo.toml")).unwrap();
        assert!(manifest.contains("name = \"shop-prices\""), "{manifest}");
        assert!(matches!(
            write(&project, "shop-prices").unwrap_err(),
            CliError::Write { .. }
        ));
    }

    #[cfg(unix)]
    #[test]
    fn scripts_can_be_run() {
        use std::os::unix::fs::PermissionsExt as _;

        let dir = tempfile::tempdir().unwrap();
        write(dir.path(), "a").unwrap();
        for file in FILES {
            let mode = fs::metadata(dir.path().join(file.to))
                .unwrap()
                .permissions();
            let runs = mode.mode() & 0o100 != 0;
            assert_eq!(runs, SCRIPTS.contains(&file.to), "{}", file.to);
        }
    }
}
