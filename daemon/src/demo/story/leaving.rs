//! Cure, hand-over, and what is left on record.

use jiff::SignedDuration;
use lamella_proto::v1::{self, record::Entry};

use super::{JOB, add, advance, move_on, stage_name, timestamp};
use crate::demo::teller::Teller;

pub(super) async fn tell(teller: &mut Teller) -> anyhow::Result<()> {
    leave(teller).await?;
    sum_up(teller).await
}

async fn leave(teller: &mut Teller) -> anyhow::Result<()> {
    let now = teller.now();
    teller.step(
        "The day's work is written down, and the coating cures.",
        "job add blue-estate labour --worker Sam --activity 'correction and coating' --from 09:00 --to 15:30",
    );
    let labour = v1::Labour {
        worker: "Sam".to_owned(),
        activity: "correction and coating".to_owned(),
        from_time: Some(timestamp(now - SignedDuration::from_mins(390))),
        to_time: Some(timestamp(now)),
    };
    add(teller, Entry::Labour(labour)).await?;
    move_on(teller).await?;
    teller.step("May it leave?", "job move blue-estate");
    let early = advance(teller).await;
    teller.refused(early, &["PART_OFF", "CURE_WINDOW_OPEN"])?;
    teller.command("job add blue-estate refit 'front badge' --note 'one push nut replaced'");
    let refit = v1::PartRefit {
        part: "front badge".to_owned(),
        note: "one push nut replaced".to_owned(),
    };
    add(teller, Entry::PartRefit(refit)).await?;
    teller.answer("recorded");
    teller.wait(16, "the coating dries overnight");
    move_on(teller).await?;
    teller.step("Hand-over.", "job move blue-estate");
    let moved = advance(teller).await?;
    teller.answer(&format!(
        "now {}",
        stage_name(moved.job.unwrap_or_default().stage())
    ));
    teller.cautions(&moved.cautions);
    Ok(())
}

async fn sum_up(teller: &mut Teller) -> anyhow::Result<()> {
    teller.step("The job as it stands.", "job show blue-estate");
    let request = v1::GetJobRequest {
        name: JOB.to_owned(),
    };
    let job = teller.jobs.get_job(request).await?.into_inner();
    anyhow::ensure!(
        job.stage() == v1::Stage::HandedOver,
        "the job is not over: {job:?}"
    );
    let amount = job
        .approval
        .as_ref()
        .and_then(|approval| approval.amount.as_ref());
    let amount = amount.map_or_else(String::new, |amount| {
        let (whole, cents) = (amount.minor_units / 100, amount.minor_units % 100);
        format!(", {whole}.{cents:02} {} agreed", amount.currency_code)
    });
    teller.answer(&format!(
        "{}: {}{amount}",
        job.display_name,
        stage_name(job.stage())
    ));
    let request = v1::ListJobHistoryRequest {
        name: JOB.to_owned(),
        page_size: 1000,
        ..v1::ListJobHistoryRequest::default()
    };
    let events = teller
        .jobs
        .list_job_history(request)
        .await?
        .into_inner()
        .events;
    for event in &events {
        let what = match &event.change {
            Some(v1::job_event::Change::Created(_)) => "created".to_owned(),
            Some(v1::job_event::Change::Updated(updated)) => {
                let mask = updated.update_mask.clone().unwrap_or_default();
                format!("{} written", mask.paths.join(", "))
            }
            Some(v1::job_event::Change::StageChanged(moved)) => {
                format!("now {}", stage_name(moved.to_stage()))
            }
            Some(v1::job_event::Change::Recorded(record)) => {
                format!(
                    "record {}",
                    record.name.trim_start_matches("jobs/blue-estate/")
                )
            }
            Some(v1::job_event::Change::Deleted(_)) => "deleted".to_owned(),
            Some(v1::job_event::Change::Undeleted(_)) => "undeleted".to_owned(),
            Some(v1::job_event::Change::Quoted(quote)) => format!("quoted {}", quote.name),
            Some(v1::job_event::Change::QuoteAccepted(_)) => "quote accepted".to_owned(),
            Some(v1::job_event::Change::Photographed(photo)) => format!("photo {}", photo.name),
            Some(v1::job_event::Change::PhotoDeleted(_)) => "photo deleted".to_owned(),
            None => anyhow::bail!("an event without a change: {event:?}"),
        };
        teller.answer(&format!("#{:<3} {what}", event.sequence));
    }
    Ok(())
}
