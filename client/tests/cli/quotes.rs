//! `lamella quote`: pricing, and what becomes of the quotes.

use crate::{code, fake, ok, run, stderr, stdout};

#[test]
fn a_job_is_priced() {
    let fake = fake::on_tcp();
    insta::assert_snapshot!(ok(&fake, &["quote", "a", "--why"]), @"x");
    let args = [
        "quote",
        "jobs/list",
        "--plugin",
        "shop-prices",
        "--set",
        "per-hour=7200",
        "--measure",
        "film:clear film=60in",
        "--measure",
        "labour:correct=1h30min",
        "--dry-run",
        "--request-id",
        "r1",
    ];
    assert!(ok(&fake, &args).contains("not stored"));
    let seen = fake.seen.lock().unwrap();
    assert_eq!(seen.quoted[0].parent, "jobs/a");
    assert_eq!(seen.quoted[0].plugin, "");
    let request = &seen.quoted[1];
    assert_eq!(request.parent, "jobs/list");
    assert_eq!(request.plugin, "plugins/shop-prices");
    assert_eq!(request.settings[0].value, "7200");
    // 60 in are 1.524 m exactly (1959 agreement); an hour and a half.
    let measures: Vec<(i64, &str)> = request
        .measures
        .iter()
        .map(|measure| (measure.quantity_thousandths, measure.unit.as_str()))
        .collect();
    assert_eq!(measures, [(1_524, "m"), (1_500, "h")]);
    assert!(request.validate_only);
    assert_eq!(request.request_id, "r1");
}

#[test]
fn quotes_are_listed_shown_and_accepted() {
    let fake = fake::on_tcp();
    insta::assert_snapshot!(ok(&fake, &["quote", "list", "a"]), @"x");
    let short = ok(&fake, &["quote", "show", "a/1"]);
    assert_eq!(short, ok(&fake, &["quote", "show", "jobs/a/quotes/1"]));
    assert!(short.contains("jobs/a/quotes/1"), "{short}");
    let args = [
        "quote",
        "accept",
        "a/1",
        "--by",
        "A. Customer",
        "--note",
        "by phone",
    ];
    insta::assert_snapshot!(ok(&fake, &args), @"x");
    let json = ok(&fake, &["quote", "--output", "json", "a"]);
    let quote: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(quote["grossTotal"]["minorUnits"], "11700");
    let json = ok(&fake, &["quote", "list", "a", "--output", "json"]);
    assert!(json.contains("\"quotes\""), "{json}");
}

#[test]
fn a_rerun_that_differs_is_told_by_the_exit_code() {
    let fake = fake::on_tcp();
    insta::assert_snapshot!(ok(&fake, &["quote", "rerun", "a/1"]), @"x");
    let output = run(&fake, &["quote", "rerun", "a/2"]);
    assert_eq!(code(&output), Some(3));
    insta::assert_snapshot!(stdout(&output), @"x");
    insta::assert_snapshot!(stderr(&output), @"error: jobs/a/quotes/2 no longer comes to the same");
    insta::assert_snapshot!(ok(&fake, &["quote", "compare", "a/1", "a/2"]), @"x");
}

#[test]
fn what_cannot_be_read_is_a_usage_error() {
    let fake = fake::on_tcp();
    for args in [
        vec!["quote"],
        vec!["quote", "show", "a"],
        vec!["quote", "a", "--measure", "film:clear=4"],
        vec!["quote", "a", "--set", "x"],
        vec!["quote", "--why", "list", "a"],
    ] {
        let output = run(&fake, &args);
        assert_eq!(code(&output), Some(2), "{args:?}: {}", stdout(&output));
    }
}
