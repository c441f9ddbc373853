//! What the arguments become on the wire.

use lamella_proto::v1::record::Entry;
use lamella_proto::v1::{PassOutcome, Stage};

use crate::{fake, ok};

#[test]
fn arguments_become_the_request_they_say() {
    let fake = fake::on_tcp();
    ok(
        &fake,
        &[
            "job",
            "new",
            "Blue estate",
            "--vehicle",
            "blue-estate",
            "--promise",
            "2026-03-02 17:00",
            "--service",
            "correct-one-step:hood,roof",
            "--phone",
            "555 0100",
            "--id",
            "a",
            "--request-id",
            "r1",
        ],
    );
    let pass = [
        "job",
        "add",
        "a",
        "pass",
        "--panel",
        "hood",
        "--machine",
        "dual action@1",
        "--pad",
        "soft foam@1",
        "--liquid",
        "fine polish@2",
        "--speed",
        "4",
        "--pressure",
        "10kPa",
        "--seconds",
        "20",
        "--temp",
        "95F",
        "--removal",
        "1um",
        "--outcome",
        "improved",
        "--at",
        "2026-03-02T08:00:00Z",
        "--author",
        "Sam",
    ];
    ok(&fake, &pass);
    ok(
        &fake,
        &[
            "job", "add", "a", "readings", "--panel", "hood", "4", "5mil", "100um",
        ],
    );
    ok(
        &fake,
        &[
            "job",
            "update",
            "a",
            "--email",
            "a@example.com",
            "--clear",
            "wishes",
        ],
    );
    ok(
        &fake,
        &[
            "job",
            "approve",
            "a",
            "--by",
            "A. Customer",
            "--amount",
            "850.00 EUR",
        ],
    );

    let seen = fake.seen.lock().unwrap();
    let request = &seen.created[0];
    let job = request.job.as_ref().unwrap();
    assert_eq!(
        (request.job_id.as_str(), request.request_id.as_str()),
        ("a", "r1")
    );
    assert_eq!(job.vehicle, "vehicles/blue-estate");
    assert_eq!(job.services[0].panels, ["hood", "roof"]);
    // 17:00 in Berlin in winter, UTC+1 (IANA tz database).
    assert_eq!(job.promise_time.unwrap().seconds, 1_772_467_200);
    assert_eq!(job.stage(), Stage::Unspecified);

    let record = seen.appended[0].record.as_ref().unwrap();
    assert_eq!(seen.appended[0].parent, "jobs/a");
    assert_eq!(record.author, "Sam");
    let Some(Entry::Pass(pass)) = &record.entry else {
        panic!("not a pass: {record:?}")
    };
    assert_eq!(pass.panel_c, Some(35.0));
    assert_eq!(pass.outcome(), PassOutcome::Improved);
    let setup = pass.setup.as_ref().unwrap();
    assert_eq!(setup.liquid.as_ref().unwrap().rank, 2);
    assert!((setup.pressure_kpa - 10.0).abs() < 1e-12 && (setup.seconds - 20.0).abs() < 1e-12);

    let Some(Entry::GaugeReadings(readings)) = &seen.appended[1].record.as_ref().unwrap().entry
    else {
        panic!("not readings")
    };
    assert_eq!(readings.readings_um, [101.6, 127.0, 100.0]);

    // The customer's other fields and the etag come from the job as it was.
    let update = &seen.updated[0];
    let job = update.job.as_ref().unwrap();
    assert_eq!(
        update.update_mask.as_ref().unwrap().paths,
        ["customer", "wishes"]
    );
    assert_eq!(job.etag, "e1");
    let customer = job.customer.as_ref().unwrap();
    assert_eq!(
        (customer.phone.as_str(), customer.email.as_str()),
        ("555 0100", "a@example.com")
    );

    let approval = seen.updated[1]
        .job
        .as_ref()
        .unwrap()
        .approval
        .as_ref()
        .unwrap();
    assert_eq!(approval.amount.as_ref().unwrap().minor_units, 85_000);
}
