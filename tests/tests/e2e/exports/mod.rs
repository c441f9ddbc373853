//! Days as files. The judges are foreign: Python's csv and json modules, pandas,
//! DuckDB, pyarrow and a spreadsheet library read what was written, and work out
//! from the API's own answers what should be there.
//!
//! - `judged`: what is in the files
//! - `delivery`: chunks, cancelling, failing, and the end-of-day script

mod delivery;
mod judged;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use lamella_tests::api::Api;
use lamella_tests::cli::Ran;
use lamella_tests::daemon::Daemon;
use lamella_tests::{cli, python, shop};
use serde_json::json;

const ZONE: &str = "Europe/Vienna";
const FORMATS: [&str; 3] = ["csv", "jsonl", "parquet"];

/// A shop in Vienna with a tax of 19 %; a plugin has a minute, as a busy machine
/// must not look like a slow plugin.
const SETTINGS: &str = r#"
[shop]
time_zone = "Europe/Vienna"
[money]
currency = "EUR"
rounding = "half-up"
tax_basis = "class"
[[money.tax_classes]]
name = "standard"
rate_percent = "19"
[plugins]
deadline_ms = 60000
"#;

/// A daemon whose shop is in Vienna.
fn daemon() -> (Daemon, tempfile::TempDir) {
    let dir = tempfile::tempdir().unwrap();
    let config = dir.path().join("shop.toml");
    std::fs::write(&config, SETTINGS).unwrap();
    let daemon = Daemon::builder().arg("--config").arg(config).start();
    (daemon, dir)
}

/// A car from booking to hand-over, and a past full of nasty text around the
/// clock changes of 2024-03-31 and 2024-10-27 (IANA time zone database).
async fn history(api: &Api) -> String {
    let job = shop::job_at(api, "READY").await;
    let records = shop::records();
    let mix = |product: &str, lot: &str| {
        let mut mix = records[2].1.clone();
        mix["product"] = json!(product);
        mix["lot"] = json!(lot);
        mix["concentrate_ml"] = json!(33.3335);
        mix
    };
    let nasty = [
        ("=HYPERLINK(\"x\")", "+1"),
        ("-2+3", "@here"),
        ("two\nlines, \"quoted\"", "semi;colon"),
        ("crème brûlée 光沢 🚗", "'quoted"),
        ("＝full width", "0123"),
    ];
    for (product, lot) in nasty {
        shop::append(
            api,
            &job,
            "2024-03-31T00:59:59.5Z",
            "mix",
            mix(product, lot),
        )
        .await;
    }
    let mut film = records[3].1.clone();
    film["width_mm"] = json!(701.25);
    film["length_mm"] = json!(402.001);
    shop::append(api, &job, "2024-03-31T01:00:00Z", "film_piece", film).await;
    let coat = records[4].1.clone();
    shop::append(api, &job, "2024-10-27T00:30:00Z", "coat_layer", coat).await;
    // The edges of the day, and one second on either side.
    for (from, to) in [
        ("2024-03-30T22:59:59Z", "2024-03-30T23:30:00Z"),
        ("2024-03-30T23:00:00Z", "2024-03-30T23:20:00Z"),
        ("2024-03-31T21:59:59Z", "2024-03-31T23:00:00Z"),
        ("2024-03-31T22:00:00Z", "2024-04-01T00:00:00.001Z"),
        ("2024-10-26T22:00:00Z", "2024-10-27T01:00:00Z"),
        ("2024-10-27T22:59:59Z", "2024-10-27T23:00:00Z"),
    ] {
        let labour = json!({"worker": "first, worker", "activity": "=wash", "from_time": from, "to_time": to});
        shop::append(api, &job, to, "labour", labour).await;
    }
    shop::advance(api, &job, "HANDED_OVER").await;
    let second = shop::new_job(api, "+Second \"car\", red").await;
    shop::advance(api, &second, "CANCELLED").await;
    job
}

fn export(daemon: &Daemon, days: &[&str], format: &str, out: &Path) -> Ran {
    let mut args = vec!["export", "--format", format, "--out", out.to_str().unwrap()];
    args.extend(days);
    daemon.lamella(args)
}

/// Exports days in every format; the folders.
fn export_all(daemon: &Daemon, days: &[&str], to: &Path) -> Vec<PathBuf> {
    let one = |format: &str| {
        let out = to.join(format);
        export(daemon, days, format, &out).ended_with(0);
        out
    };
    FORMATS.map(one).to_vec()
}

/// Has Python judge exports in three formats; the rows of each dataset.
fn judged(folders: &[PathBuf], api_json: &Path) -> BTreeMap<String, u64> {
    let mut command = cli::clean(&python::interpreter());
    command.arg(python::script("read_exports.py"));
    command.arg(ZONE).arg(api_json).args(folders);
    let ran = cli::run(command, "").ended_with(0);
    serde_json::from_str(ran.stdout.trim()).expect(&ran.stdout)
}

fn rows(counts: &BTreeMap<String, u64>, wanted: [(&str, u64); 9]) {
    let wanted: BTreeMap<String, u64> = wanted
        .map(|(name, rows)| (name.to_owned(), rows))
        .into_iter()
        .collect();
    assert_eq!(*counts, wanted);
}

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).unwrap().map(Result::unwrap);
    entries
        .map(|entry| {
            let name = entry.file_name().into_string().unwrap();
            (name, std::fs::read(entry.path()).unwrap())
        })
        .collect()
}
