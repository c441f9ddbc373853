//! `lamella plugin`: what is sent, what is printed, and what the exit code says.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::Stdio;

use lamella_proto::v1::{InstallPluginHeader, PluginWasi};

use crate::{code, fake, lamella, ok, run, stderr, stdout};

/// A file of that many bytes; what is in it is for the server to judge.
fn component(dir: &Path, bytes: usize) -> String {
    let path: PathBuf = dir.join("rule.wasm");
    fs::write(&path, vec![7; bytes]).unwrap();
    path.to_str().unwrap().to_owned()
}

#[test]
fn a_component_is_sent_in_pieces_with_its_hash() {
    let fake = fake::on_tcp();
    let dir = tempfile::tempdir().unwrap();
    // FIPS 180-2, appendix B.1: SHA-256 of "abc".
    let path = dir.path().join("abc.wasm");
    fs::write(&path, b"abc").unwrap();
    let short = path.to_str().unwrap();
    let args = [
        "plugin",
        "install",
        short,
        "--id",
        "shop-prices",
        "--wasi",
        "empty",
        "--set",
        "per-hour=7200",
        "--dry-run",
        "--etag",
        "e1",
        "--request-id",
        "r1",
    ];
    insta::assert_snapshot!(ok(&fake, &args), @"
    it would be installed; nothing was kept
    tiered-pricing 1.0.0  enabled
    plugin    plugins/shop-prices
    does      prices jobs
    sha256    abababababababababababababababababababababababababababababababab
    size      53000 bytes
    wasi      none
    setting   a = 1
    setting   b = 2
    etag      e1
    ");
    let long = component(dir.path(), 2 * 1024 * 1024 + 1);
    ok(&fake, &["plugin", "install", &long, "--id", "shop-prices"]);
    let seen = fake.seen.lock().unwrap();
    let (header, sizes) = &seen.installed[0];
    let expected = InstallPluginHeader {
        plugin_id: "shop-prices".to_owned(),
        sha256: "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad".to_owned(),
        wasi: PluginWasi::Empty.into(),
        settings: header.settings.clone(),
        validate_only: true,
        etag: "e1".to_owned(),
        request_id: "r1".to_owned(),
    };
    assert_eq!(*header, expected);
    assert_eq!(header.settings[0].key, "per-hour");
    assert_eq!(sizes[..], [3]);
    assert_eq!(seen.installed[1].1, [1024 * 1024, 1024 * 1024, 1]);
    assert_eq!(seen.installed[1].0.wasi, 0);
}

/// The server says no while the component is still on its way, more of it than
/// the connection holds.
#[test]
fn a_refusal_in_the_middle_of_an_upload_is_told() {
    let fake = fake::on_tcp();
    let dir = tempfile::tempdir().unwrap();
    let large = component(dir.path(), 16 * 1024 * 1024);
    let output = run(&fake, &["plugin", "install", &large, "--id", "refused"]);
    assert_eq!(code(&output), Some(3), "{}", stderr(&output));
    insta::assert_snapshot!(stderr(&output), @"error: INVALID_ARGUMENT: plugin_id is taken");
}

#[test]
fn a_file_that_is_not_there_is_a_usage_error() {
    let fake = fake::on_tcp();
    for command in ["install", "test"] {
        let mut args = vec!["plugin", command, "no/such.wasm"];
        if command == "install" {
            args.extend(["--id", "a"]);
        }
        let output = run(&fake, &args);
        assert_eq!(code(&output), Some(2), "{command}");
        assert!(stderr(&output).contains("no/such.wasm"), "{command}");
    }
}

#[test]
fn plugins_are_listed_enabled_disabled_and_removed() {
    let fake = fake::on_tcp();
    insta::assert_snapshot!(ok(&fake, &["plugin", "list"]), @"plugins/shop-prices  enabled  prices jobs  tiered-pricing 1.0.0, sha256 abababababab");
    insta::assert_snapshot!(ok(&fake, &["plugin", "disable", "shop-prices"]), @"
    tiered-pricing 1.0.0  disabled
    plugin    plugins/shop-prices
    does      prices jobs
    sha256    abababababababababababababababababababababababababababababababab
    size      53000 bytes
    wasi      none
    setting   a = 1
    setting   b = 2
    etag      e1
    ");
    assert!(ok(&fake, &["plugin", "enable", "plugins/shop-prices"]).contains("enabled"));
    assert!(ok(&fake, &["plugin", "remove", "shop-prices"]).starts_with("removed\n"));
    assert_eq!(code(&run(&fake, &["plugin", "remove", "none"])), Some(4));
    assert_eq!(ok(&fake, &["plugin", "products"]), "no products\n");
    let json = ok(&fake, &["plugin", "show", "a", "--output", "json"]);
    let plugin: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(plugin["current"]["sizeBytes"], "53000");
}

#[test]
fn settings_keep_what_is_not_named_and_the_etag() {
    let fake = fake::on_tcp();
    let shown = ok(&fake, &["plugin", "settings", "a"]);
    assert_eq!(shown, "a  1\nb  2\n");
    let args = [
        "plugin", "settings", "a", "--set", "b=3=4", "--set", "c=", "--unset", "a",
    ];
    assert_eq!(ok(&fake, &args), "b  3=4\nc\n");
    {
        let seen = fake.seen.lock().unwrap();
        let request = &seen.plugins_updated[0];
        assert_eq!(request.plugin.as_ref().unwrap().etag, "e1");
        assert_eq!(request.update_mask.as_ref().unwrap().paths, ["settings"]);
    }
    let output = run(&fake, &["plugin", "settings", "a", "--unset", "x"]);
    assert_eq!(code(&output), Some(2));
    insta::assert_snapshot!(stderr(&output), @"error: --unset: the plugin has no setting `x`");
}

#[test]
fn a_trial_fails_when_a_job_got_no_quote() {
    let fake = fake::on_tcp();
    let dir = tempfile::tempdir().unwrap();
    let file = component(dir.path(), 10);
    let good = ok(&fake, &["plugin", "test", &file, "--job", "a"]);
    assert!(good.contains("117.00 EUR"), "{good}");
    let args = [
        "plugin", "test", &file, "--job", "a", "--job", "bare", "--why",
    ];
    let output = run(&fake, &args);
    assert_eq!(code(&output), Some(3));
    insta::assert_snapshot!(stdout(&output), @"
    tiered-pricing 1.0.0, sha256 abababababab  prices jobs

    == jobs/a
    117.00 EUR
    quote     not stored
    plugin    plugins/shop-prices, tiered-pricing 1.0.0, sha256 abababababab

    code    description      quantity  unit price     amount  tax
    labour  labour, correct     1.5 h   65.00 EUR  97.50 EUR  standard
      1.5 h on record

    net                               97.50 EUR
    tax, standard 20 % of 97.50 EUR   19.50 EUR
    gross                            117.00 EUR
    log       info: one line

    == jobs/bare
    PRICE_REFUSED: nothing to price
    log       info: one line
    ");
    insta::assert_snapshot!(stderr(&output), @"error: no quote for 1 of 2 jobs");
}

#[test]
fn a_project_is_written_once() {
    let fake = fake::on_tcp();
    let dir = tempfile::tempdir().unwrap();
    let new = |args: &[&str]| {
        let mut command = lamella(&fake.address, &["plugin", "new", "shop-prices"]);
        command.args(args).current_dir(dir.path());
        command.output().unwrap()
    };
    let output = new(&[]);
    assert_eq!(code(&output), Some(0), "{}", stderr(&output));
    insta::assert_snapshot!(stdout(&output), @"
    24 files written to shop-prices; the rule is in src/lib.rs, README.md says more
    next: cd shop-prices && cargo test && ./build
    ");
    let rule = fs::read_to_string(dir.path().join("shop-prices/src/lib.rs")).unwrap();
    assert!(rule.contains("export_pricing!"), "{rule}");
    let again = new(&[]);
    assert_eq!(code(&again), Some(2));
    insta::assert_snapshot!(stderr(&again), @"error: --dir: shop-prices is there and not an empty folder");
    let elsewhere = new(&["--dir", "a/b"]);
    assert_eq!(code(&elsewhere), Some(0), "{}", stderr(&elsewhere));
    assert!(dir.path().join("a/b/rust-component").exists());
    let bad = run(&fake, &["plugin", "new", "Shop"]);
    assert_eq!(code(&bad), Some(2));
    insta::assert_snapshot!(stderr(&bad), @"error: NAME: must be 1 to 63 of lower-case letters, digits and hyphens, a letter first, no hyphen last, got `Shop`");
}

/// The same through `lamella call`: a stream of JSON, bytes in base64
/// (RFC 4648, section 10: "Zm9vYmFy" is "foobar").
#[test]
fn a_component_can_be_sent_by_call() {
    let fake = fake::on_tcp();
    let mut child = lamella(
        &fake.address,
        &["call", "PluginService/InstallPlugin", "-", "--compact"],
    )
    .stdin(Stdio::piped())
    .stdout(Stdio::piped())
    .spawn()
    .unwrap();
    let lines = "{\"header\":{\"plugin_id\":\"by-call\"}}\n{\"chunk\":\"Zm9v\"}\n{\"chunk\":\"Zm9vYmFy\"}\n";
    let mut stdin = child.stdin.take().unwrap();
    stdin.write_all(lines.as_bytes()).unwrap();
    drop(stdin);
    let output = child.wait_with_output().unwrap();
    assert_eq!(code(&output), Some(0));
    assert!(stdout(&output).contains("plugins/by-call"));
    let seen = fake.seen.lock().unwrap();
    assert_eq!(seen.installed[0].1, [3, 6]);
    drop(seen);
    let wrong = run(
        &fake,
        &[
            "call",
            "PluginService/InstallPlugin",
            "{}\n{\"chunk\":\"?\"}",
        ],
    );
    assert_eq!(code(&wrong), Some(2));
    insta::assert_snapshot!(stderr(&wrong), @"error: lamella.v1.InstallPluginRequest: chunk: invalid base64: Invalid symbol 63, offset 0. at line 2 column 12");
}
