//! The clock that is handed in.

use std::fmt;
use std::sync::Arc;

use metrology::Duration;

/// A clock that never runs backwards: the time since a zero of its own.
#[derive(Clone)]
pub struct Clock(Arc<dyn Fn() -> Duration + Send + Sync>);

impl Clock {
    /// The clock that `read` reads.
    #[must_use]
    pub fn new(read: impl Fn() -> Duration + Send + Sync + 'static) -> Self {
        Self(Arc::new(read))
    }

    /// What it shows, in whole microseconds.
    #[must_use]
    pub fn now(&self) -> Duration {
        whole_microseconds((self.0)())
    }
}

impl fmt::Debug for Clock {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "Clock({})", self.now())
    }
}

/// The nearest whole microsecond: all times of readings are such, so that a recording holds them
/// exactly.
pub(crate) fn whole_microseconds(time: Duration) -> Duration {
    Duration::from_seconds((time.seconds() * 1e6).round() / 1e6)
}
