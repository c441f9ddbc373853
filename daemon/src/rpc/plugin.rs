//! PluginService.

use lamella_calc::violation::Checks;
use lamella_jobs::check;
use lamella_plugin_host::World;
use lamella_proto::v1::{self, plugin_service_server::PluginService};
use tonic::{Request, Response, Status, Streaming};

use super::{finish, page_size, request_key, status, upload};
use crate::convert;
use crate::plugins::{Install, Plugins, version_of};
use crate::quoting::{Quoting, Trial};

/// The shop's plugins.
pub(crate) struct PluginCalls {
    plugins: Plugins,
    quoting: Quoting,
}

impl PluginCalls {
    pub(crate) fn new(plugins: Plugins, quoting: Quoting) -> Self {
        Self { plugins, quoting }
    }
}

#[tonic::async_trait]
impl PluginService for PluginCalls {
    async fn install_plugin(
        &self,
        request: Request<Streaming<v1::InstallPluginRequest>>,
    ) -> Result<Response<v1::Plugin>, Status> {
        let mut stream = request.into_inner();
        let install = install_from_pb(upload::header(&mut stream).await?)?;
        let received = upload::component(&mut stream, &self.plugins).await?;
        answer(self.plugins.install(install, received).await)
    }

    async fn try_plugin(
        &self,
        request: Request<Streaming<v1::TryPluginRequest>>,
    ) -> Result<Response<v1::TryPluginResponse>, Status> {
        let mut stream = request.into_inner();
        let asked = try_from_pb(&upload::header(&mut stream).await?)?;
        let failed = |error| status::plugins(&error);
        // Before the component is taken: what names no job is refused at once.
        let jobs = self.quoting.recorded(asked.jobs).await.map_err(failed)?;
        let received = upload::component(&mut stream, &self.plugins).await?;
        let size_bytes = received.size_bytes;
        let plugin = self.plugins.load_upload(received, asked.wasi, asked.sha256);
        let plugin = plugin.await.map_err(failed)?;
        match (plugin.world(), jobs.is_empty()) {
            (World::Pricing, true) => {
                return Err(upload::refused(
                    "header.jobs",
                    "is required: it prices jobs",
                ));
            }
            (World::ProductList, false) => {
                return Err(upload::refused(
                    "header.jobs",
                    "must be empty: it lists products",
                ));
            }
            (World::Pricing, false) | (World::ProductList, true) => {}
        }
        let trial = Trial {
            version: version_of(&plugin, asked.wasi, size_bytes),
            plugin,
            settings: asked.settings,
        };
        answer(self.quoting.try_plugin(trial, &jobs).await)
    }

    async fn get_plugin(
        &self,
        request: Request<v1::GetPluginRequest>,
    ) -> Result<Response<v1::Plugin>, Status> {
        let mut checks = Checks::new();
        let id = convert::names::id(&request.into_inner().name, "plugins", "name", &mut checks);
        finish(checks)?;
        answer(self.plugins.get(id).await)
    }

    async fn list_plugins(
        &self,
        request: Request<v1::ListPluginsRequest>,
    ) -> Result<Response<v1::ListPluginsResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let size = page_size(request.page_size, &mut checks);
        finish(checks)?;
        let page = self.plugins.list(size, request.page_token).await;
        answer(page.map(|page| v1::ListPluginsResponse {
            plugins: page.items,
            next_page_token: page.next_page_token,
        }))
    }

    async fn update_plugin(
        &self,
        request: Request<v1::UpdatePluginRequest>,
    ) -> Result<Response<v1::Plugin>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "UpdatePlugin", &request, &mut checks);
        let settings = convert::plugin::update_from_pb(&request, &mut checks);
        checks.require(request.plugin.is_some(), "plugin", || {
            "is required".to_owned()
        });
        let plugin = request.plugin.unwrap_or_default();
        let id = convert::names::id(&plugin.name, "plugins", "plugin.name", &mut checks);
        finish(checks)?;
        let changed = self
            .plugins
            .set_settings(id, settings, plugin.etag, key)
            .await;
        answer(changed)
    }

    async fn enable_plugin(
        &self,
        request: Request<v1::EnablePluginRequest>,
    ) -> Result<Response<v1::Plugin>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "EnablePlugin", &request, &mut checks);
        let id = convert::names::id(&request.name, "plugins", "name", &mut checks);
        finish(checks)?;
        answer(self.plugins.enable(id, request.etag, key).await)
    }

    async fn disable_plugin(
        &self,
        request: Request<v1::DisablePluginRequest>,
    ) -> Result<Response<v1::Plugin>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "DisablePlugin", &request, &mut checks);
        let id = convert::names::id(&request.name, "plugins", "name", &mut checks);
        finish(checks)?;
        answer(self.plugins.disable(id, request.etag, key).await)
    }

    async fn delete_plugin(
        &self,
        request: Request<v1::DeletePluginRequest>,
    ) -> Result<Response<v1::Plugin>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "DeletePlugin", &request, &mut checks);
        let id = convert::names::id(&request.name, "plugins", "name", &mut checks);
        finish(checks)?;
        answer(self.plugins.remove(id, request.etag, key).await)
    }

    async fn list_shop_products(
        &self,
        _request: Request<v1::ListShopProductsRequest>,
    ) -> Result<Response<v1::ListShopProductsResponse>, Status> {
        answer(self.plugins.shop_products().await)
    }
}

/// What a header asks for.
fn install_from_pb(mut header: v1::InstallPluginHeader) -> Result<Install, Status> {
    let mut checks = Checks::new();
    let request_id = std::mem::take(&mut header.request_id);
    let request = request_key(request_id, "InstallPlugin", &header, &mut checks);
    check::id(&mut checks, "header.plugin_id", &header.plugin_id);
    let sha256 = convert::plugin::sha256_from_pb(&header.sha256, "header.sha256", &mut checks);
    let wasi = convert::plugin::wasi_from_pb(header.wasi, "header.wasi", &mut checks);
    let settings =
        convert::plugin::settings_from_pb(&header.settings, "header.settings", &mut checks);
    finish(checks)?;
    Ok(Install {
        id: header.plugin_id,
        sha256,
        wasi,
        settings,
        validate_only: header.validate_only,
        etag: header.etag,
        request,
    })
}

/// Most jobs of one trial.
const MOST_JOBS: usize = 100;

/// What a trial asks for.
struct Try {
    sha256: String,
    wasi: v1::PluginWasi,
    settings: Vec<v1::PluginSetting>,
    jobs: Vec<String>,
}

fn try_from_pb(header: &v1::TryPluginHeader) -> Result<Try, Status> {
    let mut checks = Checks::new();
    let sha256 = convert::plugin::sha256_from_pb(&header.sha256, "header.sha256", &mut checks);
    let wasi = convert::plugin::wasi_from_pb(header.wasi, "header.wasi", &mut checks);
    let settings =
        convert::plugin::settings_from_pb(&header.settings, "header.settings", &mut checks);
    check::count(&mut checks, "header.jobs", header.jobs.len(), 0, MOST_JOBS);
    let mut jobs = Vec::new();
    for (index, name) in header.jobs.iter().take(MOST_JOBS).enumerate() {
        let field = format!("header.jobs[{index}]");
        let id = convert::names::id(name, "jobs", &field, &mut checks);
        checks.require(!jobs.contains(&id), field, || {
            format!("names {} a second time", check::quote(name))
        });
        jobs.push(id);
    }
    finish(checks)?;
    Ok(Try {
        sha256,
        wasi,
        settings,
        jobs,
    })
}

fn answer<T>(done: Result<T, crate::plugins::PluginsError>) -> Result<Response<T>, Status> {
    done.map(Response::new)
        .map_err(|error| status::plugins(&error))
}
