//! The plugins that `plugins/build all` makes of their sources, installed and
//! priced with through the real programs: one rule in three languages, and a
//! product list. `tests/run plugins` builds them and runs this.

use std::path::PathBuf;

use lamella_proto::FILE_DESCRIPTOR_SET;
use lamella_proto::v1::install_plugin_request::Part;
use lamella_proto::v1::{InstallPluginHeader, InstallPluginRequest, PluginWasi};
use lamella_tests::binaries;
use lamella_tests::cli;
use lamella_tests::daemon::Daemon;
use prost::Message as _;
use prost_reflect::{DescriptorPool, DynamicMessage};
use serde_json::{Value, json};

/// The rule in each language: file, and which WASI its runtime asks for.
const RULES: [(&str, &str); 3] = [
    ("tiered-pricing", "none"),
    ("tiered-pricing-python", "empty"),
    ("tiered-pricing-javascript", "none"),
];

/// The rule's README worked by hand, with its defaults: both panels are large.
///
/// | line | quantity x unit price | cents |
/// |---|---|---|
/// | correct, hood, moderate | 1.6 m2 x 60.00 x 1.3 | 12480 |
/// | correct, roof, good | 2 m2 x 60.00 x 0.8 | 9600 |
/// | wash | 1 x 45.00 | 4500 |
/// | film | 4.2 m x 55.00 | 23100 |
/// | chemical | 0.25 l x 40.00 | 1000 |
/// | labour | 1.5 h x 65.00 | 9750 |
const AMOUNTS: [&str; 6] = ["12480", "9600", "4500", "23100", "1000", "9750"];
/// Their sum; 19 % of it, 114.817, to the cent; both together.
const TOTALS: [(&str, &str); 3] = [
    ("netTotal", "60430"),
    ("taxTotal", "11482"),
    ("grossTotal", "71912"),
];

fn built(name: &str) -> PathBuf {
    let path = binaries::repository().join(format!("plugins/dist/{name}.wasm"));
    assert!(
        path.exists(),
        "{} is not there; plugins/build all makes it",
        path.display()
    );
    path
}

/// A daemon whose shop charges 19 % of tax.
fn shop() -> (Daemon, tempfile::TempDir) {
    let dir = tempfile::tempdir().expect("a temporary directory");
    let config = dir.path().join("lamellad.toml");
    let text = "[[money.tax_classes]]\nname = \"standard\"\nrate_percent = \"19\"\n";
    std::fs::write(&config, text).expect("a file can be written");
    let daemon = Daemon::builder().arg("--config").arg(&config).start();
    (daemon, dir)
}

/// A car with areas and conditions, and a job on it.
fn book(daemon: &Daemon) {
    let vehicle = [
        "vehicle",
        "new",
        "Blue estate",
        "--id",
        "blue-estate",
        "--panel",
        "hood:steel:clear-coat:moderate:1.6m2",
        "--panel",
        "roof:aluminium:clear-coat:good:2m2",
    ];
    daemon.lamella(vehicle).ended_with(0);
    let job = [
        "job",
        "new",
        "Blue estate",
        "--id",
        "blue-estate",
        "--vehicle",
        "blue-estate",
        "--service",
        "correct:hood,roof",
        "--service",
        "wash",
    ];
    daemon.lamella(job).ended_with(0);
}

fn amounts(quote: &Value) -> Vec<&str> {
    let lines = quote["lines"].as_array().expect("a quote has lines");
    lines
        .iter()
        .map(|line| {
            let amount = &line["amount"]["minorUnits"];
            amount.as_str().expect("a line has an amount")
        })
        .collect()
}

fn comes_to_what_was_worked_out(quote: &Value) {
    assert_eq!(amounts(quote), AMOUNTS, "{quote:#}");
    for (total, minor_units) in TOTALS {
        assert_eq!(quote[total]["minorUnits"], minor_units, "{quote:#}");
        assert_eq!(quote[total]["currencyCode"], "EUR");
    }
}

#[test]
#[ignore = "needs plugins/build all; tests/run plugins does both"]
fn guests_of_three_languages_give_the_same_cents() {
    let (daemon, _config) = shop();
    book(&daemon);
    for (rule, wasi) in RULES {
        let file = built(rule);
        let file = file.to_str().expect("a path of text");
        let install = [
            "plugin", "install", file, "--id", rule, "--wasi", wasi, "--output", "json",
        ];
        let installed = daemon.lamella(install).json();
        assert_eq!(installed["state"], "PLUGIN_STATE_ENABLED", "{installed:#}");

        let args = [
            "quote",
            "blue-estate",
            "--plugin",
            rule,
            "--measure",
            "film:clear film=4.2m",
            "--measure",
            "chemical:pre-wash=250ml",
            "--measure",
            "labour:masking=1h30min",
            "--output",
            "json",
        ];
        comes_to_what_was_worked_out(&daemon.lamella(args).json());
        let request = json!({
            "parent": "jobs/blue-estate",
            "plugin": format!("plugins/{rule}"),
            "measures": [
                {"kind": "film", "item": "clear film", "quantityThousandths": 4200, "unit": "m"},
                {"kind": "chemical", "item": "pre-wash", "quantityThousandths": 250_000, "unit": "ml"},
                {"kind": "labour", "item": "masking", "quantityThousandths": 1500, "unit": "h"},
            ],
        });
        let called = daemon.lamella(["call", "QuoteService/CreateQuote", &request.to_string()]);
        comes_to_what_was_worked_out(&called.json());
    }
    let listed = daemon
        .lamella(["plugin", "list", "--output", "json"])
        .json();
    let names: Vec<&str> = listed["plugins"]
        .as_array()
        .expect("plugins are listed")
        .iter()
        .filter_map(|plugin| plugin["name"].as_str())
        .collect();
    assert_eq!(
        names,
        [
            "plugins/tiered-pricing",
            "plugins/tiered-pricing-javascript",
            "plugins/tiered-pricing-python"
        ]
    );
    let called = daemon.lamella(["call", "PluginService/ListPlugins", "{}"]);
    assert_eq!(called.json(), listed);
}

/// An upload as JSON, one message to a line, bytes in base64.
fn upload(id: &str, sha256: &str, wasi: PluginWasi, bytes: &[u8]) -> String {
    let header = InstallPluginHeader {
        plugin_id: id.to_owned(),
        sha256: sha256.to_owned(),
        wasi: wasi.into(),
        ..InstallPluginHeader::default()
    };
    let chunks = bytes.chunks(1024 * 1024).map(<[u8]>::to_vec);
    let parts = std::iter::once(Part::Header(header)).chain(chunks.map(Part::Chunk));
    let pool = DescriptorPool::decode(FILE_DESCRIPTOR_SET).expect("the API's own descriptors");
    let form = pool
        .get_message_by_name("lamella.v1.InstallPluginRequest")
        .expect("the API has the message");
    let mut lines = Vec::new();
    for part in parts {
        let message = InstallPluginRequest { part: Some(part) };
        let message = DynamicMessage::decode(form.clone(), message.encode_to_vec().as_slice());
        let message = message.expect("a message can be read again");
        lines.push(serde_json::to_string(&message).expect("a message has a JSON form"));
    }
    lines.join("\n")
}

#[test]
#[ignore = "needs plugins/build all; tests/run plugins does both"]
fn guests_can_be_installed_by_call() {
    let (daemon, _config) = shop();
    let files = RULES.into_iter().chain([("workshop-products", "none")]);
    for (name, wasi) in files {
        let file = built(name);
        let dry = [
            "plugin",
            "install",
            file.to_str().expect("a path of text"),
            "--id",
            name,
            "--wasi",
            wasi,
            "--dry-run",
            "--output",
            "json",
        ];
        let checked = daemon.lamella(dry).json();
        let sha256 = checked["current"]["sha256"]
            .as_str()
            .unwrap_or_else(|| panic!("a checked plugin has a hash: {checked:#}"));
        let bytes = std::fs::read(&file).expect("the file can be read");
        let wasi = if wasi == "empty" {
            PluginWasi::Empty
        } else {
            PluginWasi::None
        };
        let text = upload(name, sha256, wasi, &bytes);
        let method = ["call", "PluginService/InstallPlugin", "-"];
        let installed = cli::lamella_reading(&daemon.address, method, &text).json();
        assert_eq!(installed["state"], "PLUGIN_STATE_ENABLED", "{installed:#}");
        assert_eq!(installed["current"]["sha256"], sha256);
        assert_eq!(
            installed["current"]["sizeBytes"],
            bytes.len().to_string(),
            "{installed:#}"
        );
    }
}

#[test]
#[ignore = "needs plugins/build all; tests/run plugins does both"]
fn guests_that_list_products_list_what_their_source_names() {
    let (daemon, _config) = shop();
    let file = built("workshop-products");
    let install = [
        "plugin",
        "install",
        file.to_str().expect("a path of text"),
        "--id",
        "products",
    ];
    daemon.lamella(install).ended_with(0);
    let products = daemon
        .lamella(["plugin", "products", "--output", "json"])
        .json();
    let called = daemon.lamella(["call", "PluginService/ListShopProducts", "{}"]);
    assert_eq!(called.json(), products);
    let source = binaries::repository().join("plugins/workshop-products/products.toml");
    let source = std::fs::read_to_string(source).expect("the source can be read");
    for (kind, section) in [
        ("chemicals", "\n[[chemical]]"),
        ("films", "\n[[film]]"),
        ("coatings", "\n[[coating]]"),
        ("setups", "\n[[setup]]"),
    ] {
        let listed = products["products"][kind].as_array().map_or(0, Vec::len);
        assert!(listed > 0, "no {kind}: {products:#}");
        assert_eq!(listed, source.matches(section).count(), "{kind}");
    }
    // What they list is shown with the ids that calculators take.
    let shown = daemon.lamella(["plugin", "products"]).ended_with(0);
    for kind in ["chemicals", "films", "coatings", "setups"] {
        assert!(shown.stdout.contains(kind), "{shown}");
    }
}
