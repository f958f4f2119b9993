//! Who times a specimen at the bench, and whose presses count.

use super::HistoryProblem;
use crate::bench::{DeviceId, Press, PressLog, SittingId};
use crate::fact::{Fact, Recorded};
use crate::moment::{Elapsed, Moment};
use crate::number::{PersonName, SpecimenNumber};
use metrology::Duration;
use std::collections::BTreeMap;

/// A sitting that timed a specimen, or still does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sitting {
    /// Its number.
    pub sitting: SittingId,
    /// On which device.
    pub device: DeviceId,
    /// Whose.
    pub who: PersonName,
    /// Since when.
    pub since: Moment,
    /// Why it took the specimen over, if it did.
    pub taken_because: Option<String>,
    /// All its presses that were kept, those included that came after it was taken over.
    pub log: PressLog,
    /// How far its clock is behind the clock of the first sitting.
    behind: Option<i64>,
    /// The least time from a batch's last press, by the device's calendar, until the record had
    /// it: how far that calendar is behind the record's, and the way of the presses.
    late: Option<i64>,
    /// Whether presses of it count.
    counts: bool,
}

/// The sittings of one specimen.
#[derive(Clone, Debug, Default)]
pub(super) struct Sittings {
    all: BTreeMap<SittingId, Sitting>,
    timekeeper: Option<SittingId>,
    counted: Vec<Press>,
}

impl Sittings {
    /// The sitting whose presses count now.
    pub(super) fn timekeeper(&self) -> Option<&Sitting> {
        self.all.get(&self.timekeeper?)
    }

    /// A sitting.
    pub(super) fn one(&self, sitting: SittingId) -> Option<&Sitting> {
        self.all.get(&sitting)
    }

    /// The presses that count, all on the clock of the first sitting.
    pub(super) fn counted(&self) -> &[Press] {
        &self.counted
    }

    /// How far a time across a take-over may be off, either way: what the calendars of the devices
    /// differ by, as the record saw them.
    pub(super) fn across(&self) -> Duration {
        let late = || self.all.values().filter(|it| it.counts).filter_map(|it| it.late);
        let (most, least) = (late().max().unwrap_or(0), late().min().unwrap_or(0));
        Duration::from_microseconds(most.saturating_sub(least))
    }

    /// How far the calendar of a device was ahead of the record's at least; 0 s where none was.
    pub(super) fn ahead(&self) -> Duration {
        let late = self.all.values().filter(|it| it.counts).filter_map(|it| it.late);
        Duration::from_microseconds(late.map(i64::saturating_neg).fold(0, i64::max))
    }

    /// Takes presses or a take-over up; if that cannot be, nothing has changed.
    pub(super) fn follow(&mut self, next: &Recorded) -> Result<(), HistoryProblem> {
        if let Fact::PressesKept { specimen, device, sitting, presses, .. } = &next.fact {
            self.keep((*specimen, *device, *sitting), presses, next)
        } else if let Fact::TimekeeperTaken { specimen, device, sitting, reason, .. } = &next.fact {
            self.take_over((*specimen, *device, *sitting), reason, next)
        } else {
            Ok(())
        }
    }

    /// The first sitting that sends a press becomes the timekeeper. One that was it once may
    /// still send: nothing that was pressed is lost, and what comes late does not count.
    fn keep(
        &mut self,
        (specimen, device, sitting): (SpecimenNumber, DeviceId, SittingId),
        presses: &[Press],
        next: &Recorded,
    ) -> Result<(), HistoryProblem> {
        if let Some(timekeeper) = self.timekeeper()
            && !self.all.contains_key(&sitting)
        {
            return Err(other(specimen, timekeeper));
        }
        self.same_device(device, sitting)?;
        let mut log = self.one(sitting).map(|it| it.log.clone()).unwrap_or_default();
        let kept_to = log.kept_to();
        if presses.is_empty() || log.fresh(presses)? != presses {
            return Err(HistoryProblem::Gap { kept_to });
        }
        log.take(presses)?;
        let known = self.one(sitting).and_then(|it| it.behind);
        let behind = known.unwrap_or_else(|| behind(self.counted.first(), &presses[0]));
        let open = || Sitting::new((device, sitting), next, None);
        let kept = self.all.entry(sitting).or_insert_with(open);
        kept.log = log;
        kept.behind = Some(behind);
        if let Some(last) = presses.last() {
            let came = next.at.unix_microseconds().saturating_sub(last.wall.unix_microseconds());
            kept.late = Some(kept.late.map_or(came, |late| late.min(came)));
        }
        if *self.timekeeper.get_or_insert(sitting) == sitting {
            kept.counts = true;
            self.counted.extend(presses.iter().map(|press| on_first_clock(press, behind)));
        }
        Ok(())
    }

    fn take_over(
        &mut self,
        (specimen, device, sitting): (SpecimenNumber, DeviceId, SittingId),
        reason: &str,
        next: &Recorded,
    ) -> Result<(), HistoryProblem> {
        let Some(timekeeper) = self.timekeeper() else {
            let what = format!("a timekeeper of specimen {specimen}");
            return Err(HistoryProblem::Unknown { what });
        };
        if timekeeper.sitting == sitting {
            let what = format!("sitting {sitting} as timekeeper of specimen {specimen}");
            return Err(HistoryProblem::Twice { what });
        }
        self.same_device(device, sitting)?;
        let mut taker = Sitting::new((device, sitting), next, Some(reason.to_owned()));
        if let Some(before) = self.all.remove(&sitting) {
            let Sitting { log, behind, late, counts, .. } = before;
            taker = Sitting { log, behind, late, counts, ..taker };
        }
        self.all.insert(sitting, taker);
        self.timekeeper = Some(sitting);
        Ok(())
    }

    /// A sitting is of one device.
    fn same_device(&self, device: DeviceId, sitting: SittingId) -> Result<(), HistoryProblem> {
        match self.one(sitting) {
            Some(there) if there.device != device => Err(HistoryProblem::Twice {
                what: format!("sitting {sitting} of device {}", there.device),
            }),
            Some(_) | None => Ok(()),
        }
    }
}

impl Sitting {
    /// An instant of this sitting on the clock of the first one; none before a press joins them.
    pub(super) fn on_first_clock(&self, at: Elapsed) -> Option<Elapsed> {
        let at = at.microseconds().saturating_add(self.behind?);
        Some(Elapsed::from_microseconds(at))
    }

    fn new(
        (device, sitting): (DeviceId, SittingId),
        next: &Recorded,
        taken_because: Option<String>,
    ) -> Self {
        let (who, since) = (next.who.clone(), next.at);
        let log = PressLog::default();
        let (behind, late, counts) = (None, None, false);
        Self { sitting, device, who, since, taken_because, log, behind, late, counts }
    }
}

fn other(specimen: SpecimenNumber, timekeeper: &Sitting) -> HistoryProblem {
    HistoryProblem::OtherTimekeeper {
        specimen,
        who: timekeeper.who.clone(),
        device: timekeeper.device,
        since: timekeeper.since,
    }
}

/// How many microseconds a sitting's clock is behind that of the first, by the calendars of the
/// two devices: what they differ by is the uncertainty of a time across both.
fn behind(first: Option<&Press>, press: &Press) -> i64 {
    let Some(first) = first else { return 0 };
    let calendar = press.wall.unix_microseconds().saturating_sub(first.wall.unix_microseconds());
    let own = press.at.microseconds().saturating_sub(first.at.microseconds());
    calendar.saturating_sub(own)
}

fn on_first_clock(press: &Press, behind: i64) -> Press {
    let at = Elapsed::from_microseconds(press.at.microseconds().saturating_add(behind));
    Press { at, ..press.clone() }
}
