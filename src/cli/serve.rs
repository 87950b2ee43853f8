//! `tintpoint serve`.

use super::failure::Status;
use super::output;
use crate::desk::book::Book;
use crate::store::profiles::shelf::Shelf;
use crate::store::records::{self, RecordError};
use crate::web::App;
use crate::web::server::{Listening, own_address};
use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;

const EXAMPLES: &str = "Examples:
  tintpoint serve
  tintpoint serve --lan
  tintpoint serve --logbook club.db
  tintpoint serve --listen 127.0.0.1:9000";

/// Port unless told; it belongs to nothing well known.
const PORT: u16 = 8417;

/// Options of `tintpoint serve`.
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub(crate) struct ServeOptions {
    /// Address and port to listen at; port 0 takes any free one. Without --lan only this machine's own addresses.
    #[arg(long, value_name = "ADDR")]
    listen: Option<SocketAddr>,
    /// Let other devices of the network in, each with a code from this terminal. Plain http: use a network that you trust.
    #[arg(long)]
    lan: bool,
    /// The logbook that the page writes into, a file; in your data folder unless told.
    #[arg(long, value_name = "FILE")]
    logbook: Option<PathBuf>,
}

/// Serves until it is told to stop.
pub(crate) fn run(options: &ServeOptions) -> Status {
    let any: IpAddr = if options.lan { Ipv4Addr::UNSPECIFIED.into() } else { Ipv4Addr::LOCALHOST.into() };
    let address = options.listen.unwrap_or(SocketAddr::new(any, PORT));
    if !options.lan && !address.ip().is_loopback() {
        let message = format!("{} can be reached by other devices", address.ip());
        output::complain(&message, Some("say --lan as well, and each device is asked for a code"));
        return Status::Usage;
    }
    let listening = match Listening::at(address).and_then(|listening| Ok((listening.address()?, listening))) {
        Ok(listening) => listening,
        Err(error) => {
            output::complain(
                &format!("cannot listen at {address}: {error}"),
                Some("name another port, for instance --listen 127.0.0.1:9000"),
            );
            return Status::Failed;
        }
    };
    let (address, listening) = listening;
    let shown = SocketAddr::new(shown_ip(address.ip()), address.port());
    let is_told = tell(shown, options.lan);
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    // A page without profiles is still a page.
    let profiles = Shelf::open().unwrap_or_default();
    for error in &profiles.damaged {
        output::remark(&format!("{error}; it was passed over"));
    }
    let app = if options.lan { App::paired(workers, profiles, show_code) } else { Ok(App::alone(workers, profiles)) };
    let app = app.map(|app| match book(options) {
        Ok(book) => app.keeping(book),
        Err(error) => {
            output::remark(&format!("{error}; the page goes without a logbook"));
            app
        }
    });
    let served = app.map_err(std::io::Error::other).and_then(|app| listening.serve(Arc::new(app)));
    match is_told.and(served) {
        Ok(()) => Status::Judged,
        Err(error) => {
            output::complain(&format!("cannot serve: {error}"), None);
            Status::Failed
        }
    }
}

/// The logbook as told, else the one in the data folder.
fn book(options: &ServeOptions) -> Result<Book, RecordError> {
    options.logbook.clone().map_or_else(records::place, Ok).map(Book::at)
}

/// The address that a device types: one that is not named is the one which the network knows.
fn shown_ip(ip: IpAddr) -> IpAddr {
    if ip.is_unspecified() { own_address().unwrap_or(IpAddr::V4(Ipv4Addr::LOCALHOST)) } else { ip }
}

fn tell(address: SocketAddr, is_lan: bool) -> std::io::Result<()> {
    let url = format!("http://{address}/");
    let mut text = format!("{url}\n");
    if is_lan {
        if let Ok(code) = QrCode::new(&url) {
            text = format!("{}\n{text}", code.render::<Dense1x2>().build());
        }
        text.push_str(
            "Anyone on this network can try this address; whoever shares the network can listen in. Any screen can fog paper and film.\n",
        );
    }
    text.push_str("Ctrl+C ends it.\n");
    output::Output::new().put(&text)
}

fn show_code(code: &str) {
    let (first, last) = code.split_at(code.len() / 2);
    // A terminal that has gone away ends nothing: the devices that are in stay in.
    let _ = output::Output::new().put(&format!("code for the next device: {first}-{last}\n"));
}
