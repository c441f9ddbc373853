//! The projection may be deleted, scribbled over, cut or replaced: the journal
//! is the truth, and the daemon answers from it as before.

use std::path::{Path, PathBuf};

use lamella_tests::api::Api;
use lamella_tests::daemon::Daemon;
use lamella_tests::shop;
use serde_json::json;

use crate::random::Random;
use crate::store;

/// What is done to the projection.
#[derive(Debug, Clone, Copy)]
enum Harm<'a> {
    /// The whole folder is deleted.
    Deleted,
    /// All files in it are deleted.
    Emptied,
    /// A file stands in its place.
    NotAFolder,
    /// So many runs of random bytes, each so long, in each file of a part.
    Scribbled {
        part: Part,
        places: usize,
        length: usize,
    },
    /// One bit is flipped in each file of a part.
    Flipped { part: Part },
    /// Each file of a part keeps so much of its length.
    Cut { part: Part, percent: usize },
    /// Another folder is put in its place.
    Replaced { with: &'a Path },
    /// It looks as if an earlier start had died while it opened.
    OpenNotEnded,
}

/// Some of sled's files. Its settings file is tiny, and whatever hits that
/// hides what happens to the others.
#[derive(Debug, Clone, Copy)]
enum Part {
    All,
    Log,
    Blobs,
}

/// What the daemon must say about the projection that it found.
#[derive(Debug, Clone, Copy)]
enum Says {
    /// Set aside and rebuilt, for a reason that contains this.
    Rebuilt(&'static str),
    /// Nothing: it was used, or there was none.
    Nothing,
    /// Either: sled may or may not need what was hit. The answers count.
    Either,
}

const ALL: usize = usize::MAX;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whatever_happens_to_the_projection_the_answers_stay() {
    let mut random = Random::of_this_run();
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    store::fill(&daemon.client().await).await;
    assert!(daemon.terminate().success());
    let older = store::copy(dir.path());
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    store::add_notes(&api, 30).await;
    add_long_job(&api).await;
    let before = shop::everything(&api).await;
    assert!(daemon.terminate().success());
    let other = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(other.path());
    store::fill(&daemon.client().await).await;
    assert!(daemon.terminate().success());

    for (harm, says) in harms(
        &older.path().join("projection"),
        &other.path().join("projection"),
    ) {
        let harmed = store::copy(dir.path());
        harm.befalls(harmed.path(), &mut random);
        let daemon = Daemon::start_on(harmed.path());
        let rebuilds = store::rebuilds(&daemon);
        println!("{harm:?}: {rebuilds:?}");
        match (says, rebuilds.as_slice()) {
            (Says::Rebuilt(why), [rebuilt]) => {
                assert!(rebuilt.contains(why), "{harm:?}: {rebuilt}");
            }
            (Says::Nothing, []) | (Says::Either, [] | [_]) => {}
            (says, rebuilds) => panic!("{harm:?}: {says:?} was expected, not {rebuilds:?}"),
        }
        let api = daemon.client().await;
        assert_eq!(shop::everything(&api).await, before, "{harm:?}");
        shop::new_job(&api, "Black pickup").await;
        let after = shop::everything(&api).await;
        assert!(daemon.terminate().success(), "{harm:?}");
        store::verify_clean(harmed.path(), &format!("{harm:?}"));
        assert_eq!(store::answers(harmed.path()).await, after, "{harm:?}");
    }
}

/// A job that is long enough for sled to keep it in a file of its own.
async fn add_long_job(api: &Api) {
    let text = "\u{1F697}".repeat(1000);
    let services: Vec<_> = (0..40)
        .map(|number| json!({"code": format!("service-{number}"), "description": text}))
        .collect();
    let job = json!({"display_name": "Long van", "services": services});
    api.ok("JobService/CreateJob", json!({"job": job})).await;
}

fn harms<'a>(older: &'a Path, other: &'a Path) -> Vec<(Harm<'a>, Says)> {
    let scribbled = |part, places, length| Harm::Scribbled {
        part,
        places,
        length,
    };
    vec![
        (Harm::Deleted, Says::Nothing),
        (Harm::Emptied, Says::Rebuilt("never completed")),
        (Harm::NotAFolder, Says::Rebuilt("the engine failed")),
        (scribbled(Part::All, 1, ALL), Says::Rebuilt("")),
        (scribbled(Part::Log, 1, ALL), Says::Rebuilt("")),
        (scribbled(Part::Log, 16, 256), Says::Either),
        (scribbled(Part::Log, 2, 16), Says::Either),
        (scribbled(Part::Blobs, 1, ALL), Says::Either),
        (Harm::Flipped { part: Part::Log }, Says::Either),
        (Harm::Flipped { part: Part::Log }, Says::Either),
        (Harm::Flipped { part: Part::Blobs }, Says::Either),
        (
            Harm::Cut {
                part: Part::All,
                percent: 0,
            },
            Says::Rebuilt(""),
        ),
        (
            Harm::Cut {
                part: Part::Log,
                percent: 0,
            },
            Says::Rebuilt(""),
        ),
        (
            Harm::Cut {
                part: Part::Log,
                percent: 50,
            },
            Says::Either,
        ),
        (
            Harm::Cut {
                part: Part::Log,
                percent: 99,
            },
            Says::Either,
        ),
        (
            Harm::Cut {
                part: Part::Blobs,
                percent: 50,
            },
            Says::Either,
        ),
        // Sound and merely behind.
        (Harm::Replaced { with: older }, Says::Nothing),
        (
            Harm::Replaced { with: other },
            Says::Rebuilt("is not the journal's"),
        ),
        (Harm::OpenNotEnded, Says::Rebuilt("ended while opening")),
    ]
}

impl Harm<'_> {
    fn befalls(self, data_dir: &Path, random: &mut Random) {
        let projection = data_dir.join("projection");
        match self {
            Self::Deleted => std::fs::remove_dir_all(projection).unwrap(),
            Self::Emptied => {
                for file in Part::All.files(&projection) {
                    std::fs::remove_file(file).unwrap();
                }
            }
            Self::NotAFolder => {
                std::fs::remove_dir_all(&projection).unwrap();
                std::fs::write(projection, "not a folder").unwrap();
            }
            Self::Scribbled {
                part,
                places,
                length,
            } => part.edit(&projection, |bytes| {
                for _ in 0..places {
                    let at = random.within(0..=bytes.len().saturating_sub(length));
                    let end = at.saturating_add(length).min(bytes.len());
                    random.fill(&mut bytes[at..end]);
                }
            }),
            Self::Flipped { part } => part.edit(&projection, |bytes| {
                let byte = random.within(0..=bytes.len() - 1);
                bytes[byte] ^= 1 << random.within(0..=7);
            }),
            Self::Cut { part, percent } => {
                part.edit(&projection, |bytes| {
                    bytes.truncate(bytes.len() * percent / 100);
                });
            }
            Self::Replaced { with } => {
                std::fs::remove_dir_all(&projection).unwrap();
                store::copy_into(with, &projection);
            }
            Self::OpenNotEnded => {
                std::fs::write(data_dir.join("projection.opening"), "").unwrap();
            }
        }
    }
}

impl Part {
    fn files(self, projection: &Path) -> Vec<PathBuf> {
        let files = match self {
            Self::All => store::files(projection),
            Self::Log => vec![projection.join("db")],
            Self::Blobs => store::files(&projection.join("blobs")),
        };
        assert!(
            !files.is_empty(),
            "sled has no {self:?} in {}",
            projection.display()
        );
        files
    }

    fn edit(self, projection: &Path, mut change: impl FnMut(&mut Vec<u8>)) {
        for file in self.files(projection) {
            store::edit(&file, &mut change);
        }
    }
}
