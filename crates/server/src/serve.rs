//! Start and end of the server: one port of the loopback interface.

use crate::surveys::Surveys;
use crate::{api, guard};
use axum::middleware;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use survey::SurveyError;
use tokio::sync::watch;

/// How long the work that is under way has to come to a safe place when the server ends.
const PATIENCE: Duration = Duration::from_secs(20);
/// How often it is asked whether to end.
const ASKED_EVERY: Duration = Duration::from_millis(100);

/// Which surveys are served.
#[derive(Debug, Clone)]
pub enum Where {
    /// This one.
    Survey(PathBuf),
    /// All in this folder, which is made when the first is started.
    Folder(PathBuf),
}

/// How to serve.
#[derive(Debug, Clone)]
pub struct Config {
    /// Which surveys.
    pub surveys: Where,
    /// Port of the loopback interface; any free one without.
    pub port: Option<u16>,
    /// Bytes that one upload may hold.
    pub most_upload_bytes: u64,
    /// How long the body of a request may take that is no upload.
    pub patience: Duration,
}

impl Config {
    /// Bytes of an upload where nobody says otherwise: an hour of 20 Msps of 8-bit samples fits
    /// into half of it.
    pub const MOST_UPLOAD_BYTES: u64 = 256 << 30;
    /// How long a body may take where nobody says otherwise: it comes from the same machine.
    pub const PATIENCE: Duration = Duration::from_secs(20);
}

/// Why nothing could be served.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The port is in use, or may not be used.
    #[error(
        "port {port} of this machine: {cause}. Give another with --port, or none for any free one."
    )]
    Port {
        /// The port; 0 for any.
        port: u16,
        /// What the operating system said.
        cause: std::io::Error,
    },
    /// The survey.
    #[error(transparent)]
    Survey(#[from] SurveyError),
    /// The operating system, later.
    #[error("serving ended: {0}. Start it again; what was acknowledged is kept.")]
    Ended(std::io::Error),
}

/// A server with its port bound, not yet answering.
#[derive(Debug)]
pub struct Bound {
    listener: TcpListener,
    address: SocketAddr,
    surveys: Surveys,
    patience: Duration,
}

impl Bound {
    /// Opens what is served and binds the port.
    ///
    /// # Errors
    /// If the survey cannot be opened or the port not bound.
    pub fn new(config: Config) -> Result<Bound, ServeError> {
        let port = config.port.unwrap_or(0);
        let wrong = |cause| ServeError::Port { port, cause };
        let surveys = Surveys::new(config.surveys, config.most_upload_bytes)?;
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).map_err(wrong)?;
        listener.set_nonblocking(true).map_err(wrong)?;
        let address = listener.local_addr().map_err(wrong)?;
        Ok(Bound { listener, address, surveys, patience: config.patience })
    }

    /// The address of the page.
    pub fn address(&self) -> String {
        format!("http://{}/", self.address)
    }

    /// Answers until `stop` says so. Work that is under way is then asked to stop at a safe place.
    ///
    /// # Errors
    /// If the operating system ends it.
    pub fn serve(self, stop: impl Fn() -> bool + Send + 'static) -> Result<(), ServeError> {
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .enable_all()
            .build()
            .map_err(ServeError::Ended)?;
        let ended = runtime.block_on(self.answer(stop));
        runtime.shutdown_timeout(PATIENCE);
        ended
    }

    async fn answer(self, stop: impl Fn() -> bool + Send + 'static) -> Result<(), ServeError> {
        let (ending, ends) = watch::channel(false);
        let surveys = Arc::new(self.surveys);
        let app = api::App { surveys, planes: Arc::default(), ends: ends.clone() };
        let surveys = app.surveys.clone();
        let routes = api::routes(self.patience)
            .split_for_parts()
            .0
            .with_state(app)
            .layer(middleware::map_response(crate::problem::told))
            .layer(middleware::from_fn_with_state(guard::Guard::of(self.address), guard::check));
        let listener =
            tokio::net::TcpListener::from_std(self.listener).map_err(ServeError::Ended)?;
        tokio::spawn(async move {
            while !stop() {
                tokio::time::sleep(ASKED_EVERY).await;
            }
            surveys.stop();
            // Nobody hears it if all has ended already.
            let _ = ending.send(true);
        });
        let mut told = ends.clone();
        let graceful = axum::serve(listener, routes)
            .with_graceful_shutdown(async move {
                let _ = told.wait_for(|ends| *ends).await;
            })
            .into_future();
        let mut told = ends;
        tokio::select! {
            ended = graceful => ended.map_err(ServeError::Ended),
            // A client that does not hang up keeps nobody from leaving.
            () = async move {
                let _ = told.wait_for(|ends| *ends).await;
                tokio::time::sleep(Duration::from_secs(2)).await;
            } => Ok(()),
        }
    }
}
