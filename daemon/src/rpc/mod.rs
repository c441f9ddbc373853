//! The services, one file each: they check and convert what comes in, call,
//! and convert what goes out. No logic lives here.

pub(crate) mod booking;
pub(crate) mod calculator;
pub(crate) mod condition;
pub(crate) mod export;
pub(crate) mod job;
pub(crate) mod outbox;
pub(crate) mod photo;
pub(crate) mod plugin;
pub(crate) mod quote;
pub mod status;
pub(crate) mod upload;
pub(crate) mod vehicle;
pub(crate) mod watch;

use lamella_calc::error::CalcError;
use lamella_calc::violation::Checks;
use prost::Message;
use sha2::{Digest as _, Sha256};
use tonic::Status;

use crate::convert::shop_fill::FromShop;
use crate::ledger::RequestKey;
use crate::plugins::Plugins;

/// Entries on a page when the request does not say.
const DEFAULT_PAGE: usize = 100;
/// Most entries on a page.
const LARGEST_PAGE: i32 = 1000;

/// Ends the checks: every violation in one status.
fn finish(checks: Checks) -> Result<(), Status> {
    checks
        .finish()
        .map_err(|error: CalcError| status::calc(&error))
}

/// Completes a request that names products with what the shop's lists say of them.
async fn from_shop(
    request: &mut impl FromShop,
    plugins: &Plugins,
    checks: &mut Checks,
) -> Result<(), Status> {
    if request.names_products() {
        let shop = plugins.shop_products().await;
        request.fill(&shop.map_err(|error| status::plugins(&error))?, checks);
    }
    Ok(())
}

fn page_size(asked: i32, checks: &mut Checks) -> usize {
    checks.require((0..=LARGEST_PAGE).contains(&asked), "page_size", || {
        format!("must be 0 to {LARGEST_PAGE}, got {asked}")
    });
    match usize::try_from(asked) {
        Ok(0) | Err(_) => DEFAULT_PAGE,
        Ok(size) => size,
    }
}

/// What makes a retry of this request recognisable. `request_id` must have been
/// taken out of `request` before.
fn request_key(
    request_id: String,
    method: &'static str,
    request: &impl Message,
    checks: &mut Checks,
) -> RequestKey {
    let printable = request_id.bytes().all(|byte| byte.is_ascii_graphic());
    checks.require(printable && request_id.len() <= 128, "request_id", || {
        "must be up to 128 printable ASCII characters without spaces".to_owned()
    });
    let digest = Sha256::digest(request.encode_to_vec()).to_vec();
    RequestKey {
        request_id,
        method,
        digest,
    }
}
