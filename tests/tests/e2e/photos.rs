//! Photos: what is kept of a file and what is not, judged by Pillow and piexif;
//! and that files and entries stay together over deletions, kills and damage.

use std::path::{Path, PathBuf};

use lamella_proto::v1;
use lamella_proto::v1::photo_service_client::PhotoServiceClient;
use lamella_proto::v1::upload_photo_request::Part;
use lamella_tests::api::Refused;
use lamella_tests::cli::Ran;
use lamella_tests::daemon::Daemon;
use lamella_tests::{cli, python, shop};
use serde_json::{Value, json};
use tempfile::TempDir;
use tonic::Code;

/// Runs `tests/python/photos.py`.
fn judge(args: &[&Path], command: &str) -> Value {
    let mut python = cli::clean(&python::interpreter());
    python
        .arg(python::script("photos.py"))
        .arg(command)
        .args(args);
    let ran = cli::run(python, "").ended_with(0);
    serde_json::from_str(ran.stdout.trim()).expect(&ran.stdout)
}

/// A directory with the photos of `photos.py`, and what they are.
fn made() -> (TempDir, Value) {
    let dir = TempDir::new().unwrap();
    let told = judge(&[dir.path()], "make");
    (dir, told)
}

fn add(daemon: &Daemon, job: &str, file: &Path, more: &[&str]) -> Ran {
    let file = file.to_str().unwrap();
    let args = ["photo", "add", job, file, "--output", "json"];
    daemon.lamella(args.iter().chain(more))
}

/// The names in the folder of photos.
fn files(daemon: &Daemon) -> Vec<String> {
    let entries = std::fs::read_dir(daemon.data_dir().join("photos")).unwrap();
    let names = entries.map(|e| e.unwrap().file_name().to_string_lossy().into_owned());
    names.collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn pixels_profile_and_orientation_stay_and_all_else_goes() {
    let (dir, told) = made();
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "IN_WORK").await;
    let mut stored = 0;
    for (name, is) in told.as_object().unwrap() {
        let given = dir.path().join(name);
        let ran = add(
            &daemon,
            &job,
            &given,
            &["--panel", "hood", "--caption", "swirls"],
        );
        let Some(kind) = is["type"].as_str() else {
            let ran = ran.ended_with(3);
            assert!(ran.stderr.contains("PHOTO_TYPE_UNKNOWN"), "{ran}");
            continue;
        };
        stored += 1;
        let photo = ran.json()["photos"][0].clone();
        assert_eq!(photo["type"], kind, "{photo}");
        assert_eq!(photo["orientation"], is["orientation"], "{photo}");
        assert_eq!(photo["moment"], "PHOTO_MOMENT_DURING", "by the stage");
        let kept = dir.path().join(format!("kept-{name}"));
        let photo_name = photo["name"].as_str().unwrap();
        daemon
            .lamella(["photo", "save", photo_name, "--out", kept.to_str().unwrap()])
            .ended_with(0);
        let size = std::fs::metadata(&kept).unwrap().len();
        assert_eq!(photo["sizeBytes"], size.to_string());
        if kind == "PHOTO_TYPE_HEIC" {
            assert_eq!(
                std::fs::read(&kept).unwrap(),
                std::fs::read(&given).unwrap()
            );
            assert_eq!(photo["cautions"][0]["code"], "PHOTO_LOCATION_KEPT");
            assert_eq!(
                (&photo["widthPx"], &photo["heightPx"]),
                (&json!(640), &json!(480))
            );
        } else {
            judge(&[&given, &kept], "compare");
            assert!(photo.get("cautions").is_none(), "{photo}");
            // As the camera wrote it, with its own offset of an hour.
            assert_eq!(photo["takenTime"], "2026-03-02T08:15:00Z");
            assert_eq!(
                (&photo["widthPx"], &photo["heightPx"]),
                (&json!(64), &json!(40))
            );
        }
    }
    assert_eq!(stored, 6);
    // History and list tell the same.
    let list = api
        .ok("PhotoService/ListPhotos", json!({"parent": job}))
        .await;
    let request = json!({"name": job, "page_size": 1000});
    let history = api.ok("JobService/ListJobHistory", request).await;
    let events = history["events"].as_array().unwrap();
    let told: Vec<&Value> = events
        .iter()
        .filter_map(|e| e.get("photographed"))
        .collect();
    assert_eq!(
        told,
        list["photos"]
            .as_array()
            .unwrap()
            .iter()
            .collect::<Vec<_>>()
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_file_stays_as_long_as_a_photo_is_in_it_and_a_deletion_is_finished_after_a_kill() {
    let (dir, _) = made();
    let given = dir.path().join("text.png");
    let data = TempDir::new().unwrap();
    let daemon = Daemon::start_on(data.path());
    let api = daemon.client().await;
    let jobs = [
        shop::new_job(&api, "one").await,
        shop::new_job(&api, "two").await,
    ];
    let mut photos = Vec::new();
    for job in &jobs {
        let once = add(&daemon, job, &given, &["--request-id", job]).json();
        let again = add(&daemon, job, &given, &["--request-id", job]).json();
        assert_eq!(once, again, "a retry is done once");
        photos.push(once["photos"][0]["name"].as_str().unwrap().to_owned());
    }
    assert_eq!(files(&daemon).len(), 1, "the same file is kept once");
    let reused = add(&daemon, &jobs[1], &given, &["--request-id", &jobs[0]]).ended_with(3);
    assert!(reused.stderr.contains("REQUEST_ID_REUSED"), "{reused}");

    daemon
        .lamella(["photo", "remove", &photos[0]])
        .ended_with(0);
    let path = data.path().join("photos").join(&files(&daemon)[0]);
    let kept = std::fs::read(&path).unwrap();
    daemon
        .lamella(["photo", "remove", &photos[1]])
        .ended_with(0);
    assert!(files(&daemon).is_empty());
    // A late retry of the upload brings no file back without its photo.
    add(&daemon, &jobs[0], &given, &["--request-id", &jobs[0]]).json();
    assert!(files(&daemon).is_empty());
    let gone = api
        .refused("PhotoService/GetPhoto", json!({"name": photos[1]}))
        .await;
    assert_eq!(
        (gone.code, gone.resource.as_str()),
        (Code::NotFound, photos[1].as_str())
    );

    // As a kill leaves it between the journal's entry and the file's end.
    daemon.kill();
    std::fs::write(&path, &kept).unwrap();
    std::fs::write(data.path().join("photos/upload-x"), "half").unwrap();
    let daemon = Daemon::start_on(data.path());
    // Ready is said before the deletion is finished; answering comes after it.
    daemon.lamella(["photo", "list", &jobs[0]]).ended_with(0);
    assert!(files(&daemon).is_empty());
    // Sent anew it is a new photo, and its file stays over a start.
    add(&daemon, &jobs[0], &given, &[]).json();
    daemon.kill();
    assert_eq!(files(&Daemon::start_on(data.path())).len(), 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_damaged_or_missing_file_is_found_by_verify_and_never_given() {
    let (dir, _) = made();
    let data = TempDir::new().unwrap();
    let daemon = Daemon::start_on(data.path());
    let api = daemon.client().await;
    let job = shop::new_job(&api, "one").await;
    let mut photos = Vec::new();
    for name in ["text.png", "lossless.webp"] {
        let photo = add(&daemon, &job, &dir.path().join(name), &[]).json();
        photos.push(photo["photos"][0].clone());
    }
    let path = |photo: &Value| -> PathBuf {
        data.path()
            .join("photos")
            .join(photo["sha256"].as_str().unwrap())
    };
    let verify = || cli::lamellad(["verify", "--data-dir", data.path().to_str().unwrap()]);
    assert!(daemon.terminate().success());
    let clean = verify().ended_with(0);
    assert!(
        clean
            .stdout
            .contains("photos: 2 in 2 files, every one whole"),
        "{clean}"
    );

    let mut bytes = std::fs::read(path(&photos[0])).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(path(&photos[0]), &bytes).unwrap();
    std::fs::remove_file(path(&photos[1])).unwrap();
    let found = verify().ended_with(1);
    for (photo, what) in photos.iter().zip(["is not what was stored", "is missing"]) {
        let line = found
            .stdout
            .lines()
            .find(|l| l.contains(photo["name"].as_str().unwrap()));
        assert!(line.is_some_and(|line| line.contains(what)), "{found}");
    }
    let daemon = Daemon::start_on(data.path());
    let api = daemon.client().await;
    for photo in &photos {
        let lost = api
            .refused("PhotoService/DownloadPhoto", json!({"name": photo["name"]}))
            .await;
        assert_eq!(
            (lost.code, lost.reason.as_str()),
            (Code::DataLoss, "PHOTO_FILE_LOST")
        );
    }
    // Sent once more, the damaged file is mended.
    add(&daemon, &job, &dir.path().join("text.png"), &[]).json();
    api.ok(
        "PhotoService/DownloadPhoto",
        json!({"name": photos[0]["name"]}),
    )
    .await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_upload_that_is_wrong_leaves_nothing_behind() {
    let config = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(config.path(), "[photos]\nmax_mib = 1\n").unwrap();
    let daemon = Daemon::builder().arg("--config").arg(config.path()).start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "one").await;
    // SHA-256 of no bytes at all: FIPS 180-4, empty message.
    let nothing = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
    let header = |sha256: &str| {
        Part::Header(v1::UploadPhotoHeader {
            parent: job.clone(),
            sha256: sha256.to_owned(),
            moment: v1::PhotoMoment::Before.into(),
            ..Default::default()
        })
    };
    let chunk = |bytes: usize| Part::Chunk(vec![0xFF; bytes]);
    let mib = 1024 * 1024;
    let cases = [
        (vec![chunk(9)], "INPUT_INVALID", "header"),
        (
            vec![header(nothing), header(nothing)],
            "INPUT_INVALID",
            "header",
        ),
        (vec![header(nothing), chunk(0)], "INPUT_INVALID", "chunk"),
        (
            vec![header(nothing), chunk(mib + 1)],
            "INPUT_INVALID",
            "chunk",
        ),
        (
            vec![header(nothing), chunk(mib), chunk(1)],
            "PHOTO_TOO_LARGE",
            "chunk",
        ),
        (
            vec![header(nothing), chunk(9)],
            "PHOTO_HASH_DIFFERS",
            "header.sha256",
        ),
        (vec![header(nothing)], "PHOTO_TYPE_UNKNOWN", "chunk"),
    ];
    for (parts, reason, field) in cases {
        let parts: Vec<v1::UploadPhotoRequest> = parts
            .into_iter()
            .map(|part| v1::UploadPhotoRequest { part: Some(part) })
            .collect();
        let mut photos = PhotoServiceClient::new(api.channel());
        let answer = photos.upload_photo(tokio_stream::iter(parts)).await;
        let refused = Refused::of(&answer.unwrap_err());
        assert_eq!(refused.code, Code::InvalidArgument, "{refused:?}");
        assert_eq!(
            (refused.reason.as_str(), refused.field_names()),
            (reason, vec![field])
        );
    }
    assert!(files(&daemon).is_empty());
}
