//! VehicleService.

use lamella_calc::violation::Checks;
use lamella_jobs::vehicle::VehicleFields;
use lamella_proto::v1::{self, vehicle_service_server::VehicleService};
use tonic::{Request, Response, Status};

use super::{finish, page_size, request_key, status};
use crate::convert;
use crate::ledger::Ledger;

/// Vehicles and their panels.
pub(crate) struct Vehicles {
    ledger: Ledger,
}

impl Vehicles {
    pub(crate) fn new(ledger: Ledger) -> Self {
        Self { ledger }
    }
}

#[tonic::async_trait]
impl VehicleService for Vehicles {
    async fn create_vehicle(
        &self,
        request: Request<v1::CreateVehicleRequest>,
    ) -> Result<Response<v1::Vehicle>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "CreateVehicle", &request, &mut checks);
        let id = convert::names::chosen_id(&request.vehicle_id, "vehicle_id", &mut checks);
        let fields = vehicle_fields(request.vehicle.as_ref(), &mut checks);
        if request.vehicle.is_some() {
            fields.check(&mut checks, "vehicle");
        }
        finish(checks)?;
        let vehicle = self.ledger.create_vehicle(id, fields, key).await;
        vehicle
            .map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn get_vehicle(
        &self,
        request: Request<v1::GetVehicleRequest>,
    ) -> Result<Response<v1::Vehicle>, Status> {
        let mut checks = Checks::new();
        let id = convert::names::id(&request.into_inner().name, "vehicles", "name", &mut checks);
        finish(checks)?;
        let vehicle = self.ledger.vehicle(id).await;
        vehicle
            .map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn list_vehicles(
        &self,
        request: Request<v1::ListVehiclesRequest>,
    ) -> Result<Response<v1::ListVehiclesResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let size = page_size(request.page_size, &mut checks);
        finish(checks)?;
        let page = self
            .ledger
            .vehicles(request.show_deleted, size, request.page_token)
            .await;
        let page = page.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::ListVehiclesResponse {
            vehicles: page.items,
            next_page_token: page.next_page_token,
        }))
    }

    async fn update_vehicle(
        &self,
        request: Request<v1::UpdateVehicleRequest>,
    ) -> Result<Response<v1::Vehicle>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "UpdateVehicle", &request, &mut checks);
        let fields = vehicle_fields(request.vehicle.as_ref(), &mut checks);
        let vehicle = request.vehicle.unwrap_or_default();
        let id = convert::names::id(&vehicle.name, "vehicles", "vehicle.name", &mut checks);
        let mask =
            convert::vehicle::mask_from_pb(request.update_mask.as_ref(), &fields, &mut checks);
        // The ledger checks the vehicle as it will be; what is written is
        // checked here too, so that everything wrong is named at once.
        let sound = VehicleFields {
            display_name: "sound".to_owned(),
            ..VehicleFields::default()
        };
        sound.updated(&fields, &mask).check(&mut checks, "vehicle");
        finish(checks)?;
        let vehicle = self
            .ledger
            .update_vehicle(id, fields, mask, vehicle.etag, key)
            .await;
        vehicle
            .map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn delete_vehicle(
        &self,
        request: Request<v1::DeleteVehicleRequest>,
    ) -> Result<Response<v1::Vehicle>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "DeleteVehicle", &request, &mut checks);
        let id = convert::names::id(&request.name, "vehicles", "name", &mut checks);
        finish(checks)?;
        let vehicle = self.ledger.delete_vehicle(id, request.etag, key).await;
        vehicle
            .map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn undelete_vehicle(
        &self,
        request: Request<v1::UndeleteVehicleRequest>,
    ) -> Result<Response<v1::Vehicle>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "UndeleteVehicle", &request, &mut checks);
        let id = convert::names::id(&request.name, "vehicles", "name", &mut checks);
        finish(checks)?;
        let vehicle = self.ledger.undelete_vehicle(id, request.etag, key).await;
        vehicle
            .map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn list_paint_ledger(
        &self,
        request: Request<v1::ListPaintLedgerRequest>,
    ) -> Result<Response<v1::ListPaintLedgerResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let query = convert::paint_ledger::query_from_pb(&request, &mut checks);
        let size = panels_per_page(request.page_size, &mut checks);
        finish(checks)?;
        let terms = query.clone();
        let page = self
            .ledger
            .paint_ledger(query, size, request.page_token)
            .await;
        let page = page.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(convert::paint_ledger::page_to_pb(
            &page, &terms,
        )))
    }
}

/// The vehicle of a request; a request without one is noted.
fn vehicle_fields(vehicle: Option<&v1::Vehicle>, checks: &mut Checks) -> VehicleFields {
    checks.require(vehicle.is_some(), "vehicle", || "is required".to_owned());
    vehicle
        .map(|vehicle| convert::vehicle::fields_from_pb(vehicle, "vehicle", checks))
        .unwrap_or_default()
}

/// Panels on a page: fewer than other things, since each is worked out.
fn panels_per_page(asked: i32, checks: &mut Checks) -> usize {
    checks.require((0..=200).contains(&asked), "page_size", || {
        format!("must be 0 to 200, got {asked}")
    });
    usize::try_from(asked)
        .ok()
        .filter(|size| *size > 0)
        .unwrap_or(50)
}
