//! CalculatorService. Nothing is stored.

use lamella_calc::violation::Checks;
use lamella_calc::{advice, air, cure, dilution, film, heat, mix, paint};
use lamella_proto::v1::{self, calculator_service_server::CalculatorService};
use tonic::{Request, Response, Status};

use super::{finish, from_shop, status};
use crate::convert::calc;
use crate::plugins::Plugins;

/// The calculators.
pub(crate) struct Calculator {
    plugins: Plugins,
}

impl Calculator {
    pub(crate) fn new(plugins: Plugins) -> Self {
        Self { plugins }
    }
}

#[tonic::async_trait]
impl CalculatorService for Calculator {
    async fn dilute(
        &self,
        request: Request<v1::DiluteRequest>,
    ) -> Result<Response<v1::DiluteResponse>, Status> {
        let mut checks = Checks::new();
        let mut request = request.into_inner();
        from_shop(&mut request, &self.plugins, &mut checks).await?;
        let input = calc::dilution::from_pb(&request, &mut checks);
        let diluted = all(checks, || dilution::dilute(&input))?;
        Ok(Response::new(calc::dilution::to_pb(&diluted, &request)))
    }

    async fn blend_strengths(
        &self,
        request: Request<v1::BlendStrengthsRequest>,
    ) -> Result<Response<v1::BlendStrengthsResponse>, Status> {
        let mut checks = Checks::new();
        let input = calc::blend::from_pb(&request.into_inner(), &mut checks);
        let blended = all(checks, || mix::blend::blend(&input))?;
        Ok(Response::new(calc::blend::to_pb(&blended)))
    }

    async fn measure_film(
        &self,
        request: Request<v1::MeasureFilmRequest>,
    ) -> Result<Response<v1::MeasureFilmResponse>, Status> {
        let mut checks = Checks::new();
        let mut request = request.into_inner();
        from_shop(&mut request, &self.plugins, &mut checks).await?;
        let input = calc::film::from_pb(&request, &mut checks);
        let measured = all(checks, || film::measure(&input))?;
        Ok(Response::new(calc::film::to_pb(&measured)))
    }

    async fn time_cure(
        &self,
        request: Request<v1::TimeCureRequest>,
    ) -> Result<Response<v1::TimeCureResponse>, Status> {
        let mut checks = Checks::new();
        let mut request = request.into_inner();
        from_shop(&mut request, &self.plugins, &mut checks).await?;
        let (input, axis) = calc::cure::from_pb(&request, &mut checks);
        let timed = all(checks, || cure::time_cure(&input))?;
        Ok(Response::new(calc::cure::to_pb(&timed, &input, axis)))
    }

    async fn advise_pass(
        &self,
        request: Request<v1::AdvisePassRequest>,
    ) -> Result<Response<v1::AdvisePassResponse>, Status> {
        let mut checks = Checks::new();
        let mut request = request.into_inner();
        from_shop(&mut request, &self.plugins, &mut checks).await?;
        let input = calc::advice::from_pb(&request, &mut checks);
        let advised = all(checks, || advice::advise(&input))?;
        let rungs = input.ladder.unwrap_or_default().rungs().len();
        Ok(Response::new(calc::advice::to_pb(&advised, rungs)))
    }

    async fn dew_point(
        &self,
        request: Request<v1::DewPointRequest>,
    ) -> Result<Response<v1::DewPointResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let input = calc::cure::air_from_pb(&request, &mut checks);
        let found = all(checks, || air::dew_point(&input, request.panel_c))?;
        Ok(Response::new(calc::cure::air_to_pb(&found)))
    }

    async fn assess_paint(
        &self,
        request: Request<v1::AssessPaintRequest>,
    ) -> Result<Response<v1::AssessPaintResponse>, Status> {
        let mut checks = Checks::new();
        let input = calc::paint::assess_from_pb(&request.into_inner(), &mut checks);
        let assessed = all(checks, || paint::assess(&input))?;
        Ok(Response::new(calc::paint::assess_to_pb(&assessed)))
    }

    async fn measure_removal(
        &self,
        request: Request<v1::MeasureRemovalRequest>,
    ) -> Result<Response<v1::MeasureRemovalResponse>, Status> {
        let mut checks = Checks::new();
        let input = calc::paint::removal_from_pb(&request.into_inner(), &mut checks);
        let measured = all(checks, || paint::measure_removal(&input))?;
        Ok(Response::new(calc::paint::removal_to_pb(&measured)))
    }

    async fn predict_heat(
        &self,
        request: Request<v1::PredictHeatRequest>,
    ) -> Result<Response<v1::PredictHeatResponse>, Status> {
        let mut checks = Checks::new();
        let input = calc::heat::from_pb(&request.into_inner(), &mut checks);
        let predicted = all(checks, || heat::predict(&input))?;
        Ok(Response::new(calc::heat::to_pb(&predicted)))
    }
}

/// The calculator's answer, or what the conversion and the calculator found
/// wrong together.
fn all<T>(
    mut checks: Checks,
    calculate: impl FnOnce() -> Result<T, lamella_calc::error::CalcError>,
) -> Result<T, Status> {
    use lamella_calc::error::CalcError;
    if checks.is_clean() {
        return calculate().map_err(|error| status::calc(&error));
    }
    // Required values that are missing stand as NaN, which is named once.
    if let Err(CalcError::Invalid(violations)) = calculate() {
        checks.take(violations);
    }
    finish(checks)?;
    Err(Status::internal("violations were found and lost"))
}
