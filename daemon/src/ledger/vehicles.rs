//! What changes a vehicle.

use lamella_jobs::transition;
use lamella_jobs::vehicle::{Vehicle, VehicleField, VehicleFields};
use lamella_proto::store::v1::entry::Change;
use lamella_proto::v1;
use lamella_store::KvRead as _;

use super::change::{self, Context, RequestKey};
use super::error::LedgerError;
use super::{Ledger, keys, load};
use crate::convert;

impl Ledger {
    /// Creates a vehicle.
    ///
    /// # Errors
    /// Invalid fields, an id that is taken.
    pub async fn create_vehicle(
        &self,
        id: Option<String>,
        fields: VehicleFields,
        request: RequestKey,
    ) -> Result<v1::Vehicle, LedgerError> {
        let change = self
            .change(request, move |context| {
                let id = id.unwrap_or_else(|| change::new_id(context.now));
                if context.tx.get(&keys::vehicle(&id)).is_some() {
                    return Err(LedgerError::Exists {
                        name: convert::names::vehicle(&id),
                    });
                }
                let vehicle = transition::create_vehicle(id, fields, context.now)?;
                Ok(vehicle_change(&vehicle, context))
            })
            .await?;
        vehicle_after(change)
    }

    /// Changes a vehicle's fields.
    ///
    /// # Errors
    /// Unknown vehicle, stale etag, invalid fields, a deleted vehicle.
    pub async fn update_vehicle(
        &self,
        id: String,
        fields: VehicleFields,
        mask: Vec<VehicleField>,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Vehicle, LedgerError> {
        let change = self
            .change(request, move |context| {
                let vehicle = vehicle_at(context, &id, &etag)?;
                let after = transition::update_vehicle(&vehicle, &fields, &mask, context.now)?;
                Ok(vehicle_change(&after, context))
            })
            .await?;
        vehicle_after(change)
    }

    /// Marks a vehicle deleted.
    ///
    /// # Errors
    /// Unknown vehicle, stale etag, deleted already, a live job.
    pub async fn delete_vehicle(
        &self,
        id: String,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Vehicle, LedgerError> {
        let change = self
            .change(request, move |context| {
                let vehicle = vehicle_at(context, &id, &etag)?;
                let live = load::live_jobs_of(context.tx, &id)?;
                let after = transition::delete_vehicle(&vehicle, &live, context.now)?;
                Ok(vehicle_change(&after, context))
            })
            .await?;
        vehicle_after(change)
    }

    /// Takes back a deletion.
    ///
    /// # Errors
    /// Unknown vehicle, stale etag, not deleted.
    pub async fn undelete_vehicle(
        &self,
        id: String,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Vehicle, LedgerError> {
        let change = self
            .change(request, move |context| {
                let vehicle = vehicle_at(context, &id, &etag)?;
                let after = transition::undelete_vehicle(&vehicle, context.now)?;
                Ok(vehicle_change(&after, context))
            })
            .await?;
        vehicle_after(change)
    }
}

fn vehicle_at(context: &Context<'_, '_>, id: &str, etag: &str) -> Result<Vehicle, LedgerError> {
    let loaded = load::vehicle(context.tx, id)?;
    change::same_etag(&loaded.message.name, &loaded.message.etag, etag)?;
    Ok(loaded.domain)
}

fn vehicle_change(vehicle: &Vehicle, context: &Context<'_, '_>) -> Change {
    Change::Vehicle(convert::vehicle::vehicle_to_pb(
        vehicle,
        &change::etag(context.seq),
    ))
}

fn vehicle_after(change: Change) -> Result<v1::Vehicle, LedgerError> {
    match change {
        Change::Vehicle(vehicle) => Ok(vehicle),
        Change::Job(_) | Change::Plugin(_) | Change::PluginRemoved(_) => {
            Err(change::unexpected("a vehicle"))
        }
    }
}
