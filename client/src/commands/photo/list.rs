//! `lamella photo list`.

use crate::commands::shared::PageArgs;
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;

/// List a job's photos in the order they were stored.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella photo list blue-estate --all")]
pub(crate) struct Args {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    #[command(flatten)]
    page: PageArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let list = crate::photos::list(session, &args.job.0, &args.page).await?;
    session.show(&list, render::photo::list)
}

#[cfg(test)]
mod tests {
    use lamella_proto::v1;

    use super::*;
    use crate::text::tests::view;
    use crate::units::System;

    #[test]
    fn a_list_shows_what_when_and_how_large() {
        let photo = v1::Photo {
            name: "jobs/a/photos/7".to_owned(),
            moment: v1::PhotoMoment::Before.into(),
            panel: "hood".to_owned(),
            caption: "swirls\nin sunlight".to_owned(),
            taken_time: Some(prost_types::Timestamp {
                seconds: 1_772_442_000,
                nanos: 0,
            }),
            r#type: v1::PhotoType::Jpeg.into(),
            size_bytes: 2_345_678,
            width_px: 4000,
            height_px: 3000,
            orientation: 6,
            ..Default::default()
        };
        let bare = v1::Photo {
            name: "jobs/a/photos/12".to_owned(),
            moment: v1::PhotoMoment::After.into(),
            r#type: v1::PhotoType::Heic.into(),
            size_bytes: 900,
            width_px: 10,
            height_px: 20,
            orientation: 1,
            ..Default::default()
        };
        let page = v1::ListPhotosResponse {
            photos: vec![photo, bare],
            next_page_token: String::new(),
        };
        insta::assert_snapshot!(render::photo::list(&page, &view(System::Metric)), @"
        jobs/a/photos/7   before  hood     Mon 2026-03-02 10:00  JPEG 3000 x 4000 px, 2.3 MB  swirls in sunlight
        jobs/a/photos/12  after   the car                        HEIC 10 x 20 px, 0.9 kB
        ");
    }
}
