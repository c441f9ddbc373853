//! `lamella quote`: pricing, and what becomes of the quotes.

use crate::{code, fake, ok, run, stderr, stdout};

#[test]
fn a_job_is_priced() {
    let fake = fake::on_tcp();
    insta::assert_snapshot!(ok(&fake, &["quote", "a", "--why"]), @"
    117.00 EUR
    quote     jobs/a/quotes/1
    plugin    plugins/shop-prices, tiered-pricing 1.0.0, sha256 abababababab

    code    description      quantity  unit price     amount  tax
    labour  labour, correct     1.5 h   65.00 EUR  97.50 EUR  standard
      1.5 h on record

    net                               97.50 EUR
    tax, standard 20 % of 97.50 EUR   19.50 EUR
    gross                            117.00 EUR
    ");
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
    insta::assert_snapshot!(ok(&fake, &["quote", "list", "a"]), @"jobs/a/quotes/1  117.00 EUR  plugins/shop-prices");
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
    insta::assert_snapshot!(ok(&fake, &args), @"
    accepted  jobs/a/quotes/1, 117.00 EUR
    Blue estate  assessed
    job       jobs/a
    approved  by A. Customer, 117.00 EUR, jobs/a/quotes/1, by phone
    ");
    let json = ok(&fake, &["quote", "--output", "json", "a"]);
    let quote: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(quote["grossTotal"]["minorUnits"], "11700");
    let json = ok(&fake, &["quote", "list", "a", "--output", "json"]);
    assert!(json.contains("\"quotes\""), "{json}");
}

#[test]
fn a_rerun_that_differs_is_told_by_the_exit_code() {
    let fake = fake::on_tcp();
    insta::assert_snapshot!(ok(&fake, &["quote", "rerun", "a/1"]), @"117.00 EUR  the same, line for line");
    let output = run(&fake, &["quote", "rerun", "a/2"]);
    assert_eq!(code(&output), Some(3));
    insta::assert_snapshot!(stdout(&output), @"
    117.00 EUR  not the same
    gross_total  117.00 EUR  -> 118.00 EUR
    ");
    insta::assert_snapshot!(stderr(&output), @"error: jobs/a/quotes/2 no longer comes to the same");
    insta::assert_snapshot!(ok(&fake, &["quote", "compare", "a/1", "a/2"]), @"gross_total  117.00 EUR  -> 118.00 EUR");
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
