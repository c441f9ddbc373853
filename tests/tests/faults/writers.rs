//! Clients that create jobs and never give up: after a lost connection each
//! sends the same request with the same request_id to the next daemon.

use std::collections::BTreeMap;

use lamella_proto::v1::{CreateJobRequest, Job};
use lamella_tests::api::{Api, Refused};
use lamella_tests::wait;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;

/// Where the daemon is now.
#[derive(Debug, Clone, Default)]
struct Place {
    /// Empty before the first.
    address: String,
    /// No new job after the one that waits for its answer.
    finish: bool,
}

/// Writers at work, and what was acknowledged to them.
#[derive(Debug)]
pub(crate) struct Writers {
    place: watch::Sender<Place>,
    acknowledgements: mpsc::UnboundedReceiver<(String, String)>,
    tasks: JoinSet<Tally>,
    /// Job name by display name.
    pub(crate) acknowledged: BTreeMap<String, String>,
}

/// What writers met with.
#[derive(Debug, Default, Clone, Copy)]
pub(crate) struct Tally {
    /// Calls that a dying daemon left unanswered.
    pub(crate) unanswered: usize,
}

impl Writers {
    /// Starts writers; they wait for the first [`serve`](Self::serve).
    pub(crate) fn start(count: usize) -> Self {
        let (place, seen) = watch::channel(Place::default());
        let (told, acknowledgements) = mpsc::unbounded_channel();
        let mut tasks = JoinSet::new();
        for writer in 0..count {
            tasks.spawn(write(writer, seen.clone(), told.clone()));
        }
        Self {
            place,
            acknowledgements,
            tasks,
            acknowledged: BTreeMap::new(),
        }
    }

    /// Tells them where the daemon is.
    pub(crate) fn serve(&self, address: &str) {
        self.place.send_replace(Place {
            address: address.to_owned(),
            finish: false,
        });
    }

    /// Waits until so many more jobs are acknowledged.
    pub(crate) async fn acknowledge(&mut self, count: usize) {
        for _ in 0..count {
            let next = wait::ready("an acknowledgement", self.acknowledgements.recv()).await;
            self.note(next.expect("the writers live"));
        }
    }

    /// Takes in what was acknowledged meanwhile.
    pub(crate) fn take_in(&mut self) {
        while let Ok(next) = self.acknowledgements.try_recv() {
            self.note(next);
        }
    }

    /// Has every writer send what is still unanswered to this daemon and end.
    pub(crate) async fn finish(mut self, address: &str) -> (BTreeMap<String, String>, Tally) {
        self.place.send_replace(Place {
            address: address.to_owned(),
            finish: true,
        });
        let mut sum = Tally::default();
        while let Some(tally) = wait::ready("a writer's end", self.tasks.join_next()).await {
            sum.unanswered += tally.expect("a writer does not fail").unanswered;
        }
        self.take_in();
        (self.acknowledged, sum)
    }

    fn note(&mut self, (display_name, name): (String, String)) {
        let before = self.acknowledged.insert(display_name, name);
        assert_eq!(
            before, None,
            "a writer asks for each job until it is acknowledged once"
        );
    }
}

async fn write(
    writer: usize,
    mut place: watch::Receiver<Place>,
    told: mpsc::UnboundedSender<(String, String)>,
) -> Tally {
    let mut tally = Tally::default();
    let mut daemon = None;
    for number in 0.. {
        let display_name = format!("Car {writer}-{number}");
        let request = CreateJobRequest {
            job: Some(Job {
                display_name: display_name.clone(),
                ..Job::default()
            }),
            request_id: format!("request-{writer}-{number}"),
            ..CreateJobRequest::default()
        };
        let job = loop {
            let api = match &daemon {
                Some(api) => api,
                None => daemon.insert(next_daemon(&mut place).await),
            };
            match wait::ready("CreateJob", api.jobs().create_job(request.clone())).await {
                Ok(answer) => break answer.into_inner(),
                Err(status) => {
                    // A refusal has a reason, a broken connection has none.
                    let refused = Refused::of(&status);
                    assert_eq!(refused.reason, "", "{display_name}: {refused:?}");
                    tally.unanswered += 1;
                    daemon = None;
                }
            }
        };
        assert_eq!(job.display_name, display_name);
        told.send((display_name, job.name))
            .expect("the test listens");
        if place.borrow().finish {
            return tally;
        }
    }
    unreachable!("a writer ends when it is told to finish")
}

/// A connection to a daemon that was not yet tried.
async fn next_daemon(place: &mut watch::Receiver<Place>) -> Api {
    loop {
        place.changed().await.expect("the test lives");
        let address = place.borrow_and_update().address.clone();
        if let Ok(api) = Api::try_connect(&address).await {
            return api;
        }
    }
}
