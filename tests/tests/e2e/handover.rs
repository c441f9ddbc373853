//! The hand-over sheet, judged by html5lib and pypdf; its numbers are the
//! calculators'.

use std::path::Path;

use lamella_tests::api::Api;
use lamella_tests::daemon::Daemon;
use lamella_tests::{cli, python, shop};
use serde_json::{Value, json};
use tempfile::TempDir;

/// What a name could try to put into the page.
const NASTY: &str = "<script>alert('x')</script>\"><img src=x onerror=alert(1)>&amp;";

fn judge<const N: usize>(args: [&str; N]) -> Value {
    let mut python = cli::clean(&python::interpreter());
    python.arg(python::script("handover.py")).args(args);
    let ran = cli::run(python, "").ended_with(0);
    serde_json::from_str(ran.stdout.trim()).expect(&ran.stdout)
}

/// A car polished, filmed and coated, with readings before and after.
async fn finished(api: &Api) -> String {
    let job = shop::job_at(api, "IN_WORK").await;
    let readings = |um: [f64; 5]| json!({"panel": "hood", "readings_um": um, "gauge": "gauge 2"});
    let steps = [
        ("pass", shop::records()[1].1.clone(), "2024-01-15T09:00:00Z"),
        (
            "gauge_readings",
            readings([104.0, 106.0, 104.0, 107.0, 105.0]),
            "2024-01-15T10:00:00Z",
        ),
        (
            "film_piece",
            json!({"panel": "rear-bumper", "film": "clear film", "lot": "F-7", "width_mm": 700, "length_mm": 400, "settle_hours": 24}),
            "2024-01-15T11:00:00Z",
        ),
        (
            "coat_layer",
            json!({"panels": ["hood", "roof"], "coating": shop::coating(12.0), "lot": "C-9", "panel_c": 20, "air": {"air_c": 21, "relative_humidity_percent": 50}}),
            "2024-01-15T12:00:00Z",
        ),
        ("mix", shop::records()[2].1.clone(), "2024-01-15T08:30:00Z"),
        (
            "part_off",
            shop::records()[7].1.clone(),
            "2024-01-15T08:10:00Z",
        ),
        (
            "part_refit",
            shop::records()[8].1.clone(),
            "2024-01-15T13:00:00Z",
        ),
        (
            "note",
            json!({"text": "for the shop only"}),
            "2024-01-15T13:00:00Z",
        ),
    ];
    for (kind, entry, time) in steps {
        shop::append(api, &job, time, kind, entry).await;
    }
    let update = json!({"job": {"name": job, "display_name": NASTY, "wishes": NASTY, "customer": {"display_name": NASTY}}});
    api.ok("JobService/UpdateJob", update).await;
    for stage in ["CURING", "READY", "HANDED_OVER"] {
        shop::advance(api, &job, stage).await;
    }
    job
}

/// What the calculators make of the hood's readings.
async fn expected(api: &Api) -> Vec<f64> {
    let before = json!([{"readings_um": [108, 111, 107, 112, 110]}]);
    let after = json!([{"readings_um": [104, 106, 104, 107, 105]}]);
    let assessed = |spots: &Value| json!({"panels": [{"panel": "hood", "substrate": "SUBSTRATE_STEEL", "finish": "FINISH_CLEAR_COAT", "spots": spots}]});
    let mut values = Vec::new();
    for spots in [&before, &after] {
        let answer = api
            .ok("CalculatorService/AssessPaint", assessed(spots))
            .await;
        values.push(answer["panels"][0]["mean_um"].as_f64().unwrap());
    }
    // The two rounds name different gauges: one none, one "gauge 2".
    let request = json!({"before": before, "after": after, "two_gauges": true});
    let removal = api.ok("CalculatorService/MeasureRemoval", request).await;
    values.push(removal["removal_um"].as_f64().unwrap());
    values
}

fn photo(dir: &Path) -> String {
    let mut python = cli::clean(&python::interpreter());
    python.arg(python::script("photos.py")).arg("make").arg(dir);
    cli::run(python, "").ended_with(0);
    dir.join("turned.jpg").to_str().unwrap().to_owned()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_sheet_is_sound_html_with_the_calculators_numbers_and_nothing_from_outside() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let dir = TempDir::new().unwrap();
    let job = finished(&api).await;
    let file = photo(dir.path());
    daemon
        .lamella([
            "photo",
            "add",
            &job,
            &file,
            "--panel",
            "hood",
            "--caption",
            NASTY,
        ])
        .ended_with(0);
    let out = dir.path().join("sheet.html");
    let out = out.to_str().unwrap();
    daemon
        .lamella(["handover", &job, "--out", out, "--shop", NASTY])
        .ended_with(0);

    let judged = judge(["html", out]);
    assert_eq!(judged["images"], 1);
    let values: Vec<f64> = judged["values"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(Value::as_f64)
        .collect();
    for value in expected(&api).await {
        assert!(
            values.iter().any(|v| (v - value).abs() < 1e-9),
            "{value} in {values:?}"
        );
    }
    let text = judged["text"].as_str().unwrap();
    // Names come through as text, whatever is in them.
    assert!(text.contains(NASTY), "{text}");
    for said in [
        "F-7",
        "C-9",
        "front badge",
        "one clip replaced",
        "890.00 EUR",
        "care instructions come first",
        "not read; takes a gauge that is ultrasonic",
    ] {
        assert!(text.contains(said), "{said} in {text}");
    }
    for kept_back in ["for the shop only", "first worker", "Draft"] {
        assert!(!text.contains(kept_back), "{kept_back} in {text}");
    }

    // The same as data; the coat is dry 12 h after noon at 20 C, as its data say.
    let sheet = daemon
        .lamella(["handover", &job, "--output", "json", "--photos", "0"])
        .json();
    let at = |pointer: &str| sheet.pointer(pointer).cloned().unwrap_or_default();
    let coating = sheet["timeline"]["rows"]
        .as_array()
        .unwrap()
        .iter()
        .find(|r| r["what"] == "hard coating");
    assert!(coating.is_some(), "{sheet:#}");
    assert_eq!(at("/photos"), json!([]));
    assert_eq!(at("/paper"), "A4");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_shop_brings_its_own_template_and_a_wrong_one_is_refused_with_its_line() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "RECEIVED").await;
    let dir = TempDir::new().unwrap();
    let (template, out) = (dir.path().join("own.jinja"), dir.path().join("own.html"));
    let (template_arg, out_arg) = (template.to_str().unwrap(), out.to_str().unwrap());
    let make = || {
        daemon.lamella([
            "handover",
            &job,
            "--template",
            template_arg,
            "--out",
            out_arg,
        ])
    };

    std::fs::write(&template, "{{ vehicle.registration }}, {{ draft }}").unwrap();
    make().ended_with(0);
    assert_eq!(std::fs::read_to_string(&out).unwrap(), "TEST 123, received");
    std::fs::write(&template, "one\n{{ vehicle.regstration }}").unwrap();
    let wrong = make().ended_with(2);
    assert!(wrong.stderr.contains("sheet.html:2"), "{wrong}");
    assert_eq!(
        std::fs::read_to_string(&out).unwrap(),
        "TEST 123, received",
        "what was there stays"
    );
    // The built-in template is one of those that can be brought.
    let built_in = daemon
        .lamella(["handover", "--print-template"])
        .ended_with(0);
    std::fs::write(&template, &built_in.stdout).unwrap();
    make().ended_with(0);
    assert!(
        judge(["html", out_arg])["text"]
            .as_str()
            .unwrap()
            .contains("the job is received")
    );

    let nowhere = daemon.lamella(["handover", &job]).ended_with(2);
    assert!(nowhere.stderr.contains("--out"), "{nowhere}");
}

/// With a Chromium on the PATH the paper is judged; without one, what is said.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_sheet_on_paper_or_a_word_on_what_is_missing() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "READY").await;
    let dir = TempDir::new().unwrap();
    let out = dir.path().join("sheet.pdf");
    let out = out.to_str().unwrap();
    let print = |paper: &str| {
        daemon.lamella([
            "handover",
            &job,
            "--out",
            out,
            "--paper",
            paper,
            "--timeout",
            "300s",
        ])
    };
    let path = std::env::var_os("PATH").unwrap_or_default();
    let there = std::env::split_paths(&path).any(|dir| {
        ["chromium", "chromium-browser", "chromium-headless-shell"]
            .iter()
            .any(|name| dir.join(name).is_file())
    });
    // ISO 216 and ANSI/ASME Y14.1, in points of 1/72 in.
    for (paper, width, height) in [("a4", "595.28", "841.89"), ("letter", "612", "792")] {
        let ran = print(paper);
        if there {
            ran.ended_with(0);
            let judged = judge(["pdf", out, width, height]);
            assert!(judged["pages"].as_u64().unwrap() >= 1);
            let text = judged["text"].as_str().unwrap();
            for said in [
                "Blue estate",
                "hard coating",
                "Rain and road from",
                "the job is ready",
            ] {
                assert!(text.contains(said), "{said} in {text}");
            }
        } else {
            let ran = ran.ended_with(2);
            assert!(ran.stderr.contains("chromium"), "{ran}");
        }
    }
    let missing = daemon
        .lamella([
            "handover",
            &job,
            "--out",
            out,
            "--browser",
            "/nowhere/browser",
        ])
        .ended_with(2);
    assert!(missing.stderr.contains("/nowhere/browser"), "{missing}");
}
