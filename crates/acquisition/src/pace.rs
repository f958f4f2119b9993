//! The pace of sources that have no instrument.

use metrology::Duration;
use tokio::time::{Instant, sleep_until};

use crate::lines::wait;
use crate::settings::Speed;

/// Waits for moments of a time of its own.
#[derive(Debug)]
pub(crate) struct Pacer {
    speed: Speed,
    begun: Option<Instant>,
}

impl Pacer {
    pub(crate) const fn new(speed: Speed) -> Self {
        Self { speed, begun: None }
    }

    /// Waits until `elapsed` has passed since the first call.
    pub(crate) async fn until(&mut self, elapsed: Duration) {
        let begun = *self.begun.get_or_insert_with(Instant::now);
        match self.speed {
            Speed::Times(times) => sleep_until(begun + wait(elapsed / times)).await,
            Speed::AtOnce => {}
        }
    }
}
