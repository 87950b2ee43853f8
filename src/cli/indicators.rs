//! `tintpoint indicators`.

use super::args::IndicatorOptions;
use super::failure::Status;
use super::output::{self, Output};
use crate::indicator::catalogue;
use crate::present::dyes;

/// Lists the table, or shows one dye.
pub(crate) fn run(options: &IndicatorOptions) -> Status {
    let columns = output::columns();
    let (salt, warmth) = (options.ionic_strength, options.temperature);
    let text = match options.name {
        Some(dye) => format!("{}\n{}", dyes::entry(dye, columns), dyes::curve(dye, salt, warmth)),
        None => catalogue::all().iter().map(|dye| dyes::entry(dye, columns)).collect::<Vec<_>>().join("\n"),
    } + "\n"
        + &dyes::legend(columns);
    if let Err(e) = Output::new().put(&text) {
        output::complain(&format!("cannot write the list: {e}"), None);
        return Status::Failed;
    }
    if let (Some(dye), Some(path)) = (options.name, &options.picture)
        && let Err(why) = output::picture(path, &dyes::drawing(dye, salt, warmth))
    {
        output::complain(&why, Some("give a folder that exists and may be written to"));
        return Status::Failed;
    }
    Status::Judged
}
