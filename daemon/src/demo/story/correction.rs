//! Parts off, and a heat-led correction of a roof that no gauge on site reads.

use lamella_proto::v1::{self, record::Entry};

use super::{add, ranked};
use crate::demo::teller::{Teller, temperature};

/// Panel temperatures seen at successive half steps, Fahrenheit.
const SEEN_F: [f64; 3] = [80.6, 87.3, 95.0];
/// The panel is never to pass this, Fahrenheit.
const CEILING_F: f64 = 95.0;

pub(super) async fn tell(teller: &mut Teller) -> anyhow::Result<()> {
    teller.step(
        "The front badge comes off.",
        "job add blue-estate off 'front badge' --fasteners '2 push nuts' --kept-at 'tray 3'",
    );
    let part = v1::PartOff {
        part: "front badge".to_owned(),
        fasteners: "2 push nuts".to_owned(),
        kept_at: "tray 3".to_owned(),
    };
    add(teller, Entry::PartOff(part)).await?;
    teller.answer("recorded; the car cannot leave without it");
    correct(teller).await
}

async fn correct(teller: &mut Teller) -> anyhow::Result<()> {
    let mut passes: Vec<v1::PassDone> = Vec::new();
    let mut typed = "advise --substrate composite --ceiling 95F".to_owned();
    teller.step(
        "The roof: clear coat unknown, so heat leads. Where to begin?",
        &typed,
    );
    let mut advice = advise(teller, &passes).await?;
    anyhow::ensure!(advice.action() == v1::AdviceAction::Start, "{advice:?}");
    teller.cautions(&advice.cautions);
    for (done, seen_f) in SEEN_F.into_iter().enumerate() {
        let seen_c = celsius(seen_f);
        let last = done + 1 == SEEN_F.len();
        let setup = advice.setup.clone().unwrap_or_default();
        let outcome = if last {
            v1::PassOutcome::Improved
        } else {
            v1::PassOutcome::Unchanged
        };
        let word = if last { "improved" } else { "unchanged" };
        record_pass(teller, &setup, seen_f, outcome, word).await?;
        passes.push(v1::PassDone {
            rung: advice.rung,
            panel_c: Some(seen_c),
            removal_um: None,
            outcome: outcome.into(),
            ..v1::PassDone::default()
        });
        typed = format!("{typed} --pass {}:{seen_f}F:{word}", advice.rung);
        teller.step(
            &format!("The panel is at {}. What next?", temperature(seen_c)),
            &typed,
        );
        let before = advice.rung;
        advice = advise(teller, &passes).await?;
        let expected = if last {
            v1::AdviceAction::Stop
        } else {
            v1::AdviceAction::StepUp
        };
        anyhow::ensure!(
            advice.action() == expected,
            "expected {expected:?}: {advice:?}"
        );
        anyhow::ensure!(
            last || advice.rung == before + 1,
            "a rung was skipped: {advice:?}"
        );
    }
    anyhow::ensure!(advice.reason == "CEILING_REACHED", "{advice:?}");
    teller.cautions(&advice.cautions);
    Ok(())
}

async fn advise(
    teller: &mut Teller,
    passes: &[v1::PassDone],
) -> anyhow::Result<v1::AdvisePassResponse> {
    let request = v1::AdvisePassRequest {
        substrate: v1::Substrate::Composite.into(),
        ceiling_c: Some(celsius(CEILING_F)),
        passes: passes.to_vec(),
        ..v1::AdvisePassRequest::default()
    };
    let advice = teller.calculator.advise_pass(request).await?.into_inner();
    teller.answer(&format!("{} [{}]", advice.sentence, advice.reason));
    Ok(advice)
}

async fn record_pass(
    teller: &mut Teller,
    setup: &v1::Setup,
    seen_f: f64,
    outcome: v1::PassOutcome,
    word: &str,
) -> anyhow::Result<()> {
    let item = |item: &Option<v1::RankedItem>| {
        let item = item.clone().unwrap_or_default();
        (
            format!("{}@{}", item.name, item.rank),
            ranked(&item.name, item.rank),
        )
    };
    let (machine, pad, liquid) = (item(&setup.machine), item(&setup.pad), item(&setup.liquid));
    teller.command(&format!(
        "job add blue-estate pass --panel roof --machine '{}' --pad '{}' --liquid '{}' --speed {} \
         --pressure {}kPa --seconds {} --temp {seen_f}F --outcome {word}",
        machine.0, pad.0, liquid.0, setup.speed, setup.pressure_kpa, setup.seconds
    ));
    let pass = v1::Pass {
        panel: "roof".to_owned(),
        setup: Some(v1::Setup {
            machine: machine.1,
            pad: pad.1,
            liquid: liquid.1,
            ..setup.clone()
        }),
        panel_c: Some(celsius(seen_f)),
        outcome: outcome.into(),
        ..v1::Pass::default()
    };
    add(teller, Entry::Pass(pass)).await?;
    Ok(())
}

fn celsius(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8
}
