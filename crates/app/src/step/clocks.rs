//! Whether the clocks let a report be issued.

use trial::clocks::clocks;
use trial::moment::Moment;

use crate::book::OpenBook;
use crate::problem::Problem;
use crate::words::when;

/// Whether the clock of this machine, and that of the device that asks, let a report be issued.
///
/// # Errors
///
/// Where this machine's clock is wrong, or the two are too far apart to say which one is right.
pub(crate) fn agree(book: &OpenBook, device: Option<Moment>) -> Result<(), Problem> {
    let now = book.at()?;
    let Some(device) = device else { return Ok(()) };
    let apart = device.since(now).seconds().abs();
    if apart <= clocks().wrong.seconds() {
        return Ok(());
    }
    Err(Problem::conflict(format!(
        "the clock of this device shows {}, and that of the machine that keeps the record {}: they \
         are {:.0} min apart",
        when(device),
        when(now),
        apart / 60.0
    ))
    .hint(
        "No report was issued. Set the clock that is wrong, load this page again, then issue it.",
    ))
}

/// What a device says that its clock shows, where it says so.
///
/// # Errors
///
/// When it is no moment.
pub(crate) fn told(device_clock: &str) -> Result<Option<Moment>, Problem> {
    match device_clock.trim() {
        "" => Ok(None),
        text => Moment::parse(text).map(Some).map_err(|error| {
            Problem::used_wrongly(format!("the clock of the device cannot be read: {error}"))
                .hint("Load the page again, then issue the report.")
        }),
    }
}
