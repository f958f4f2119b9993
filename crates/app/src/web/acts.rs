//! Which act each address is: one table. The guard reads it, and the description of the interface
//! tells it. What is asked for by POST and does not stand here is done by nobody.

use axum::http::Method;
use trial::person::Act::{
    self, AddEvidence, CareForBench, CheckRecord, ConfirmFlame, Issue, Judge, KeepEquipment, Look,
    LookAfterPeople, LookAfterServer, OwnSignIn, Plan, Prepare, Review, Test, WatchFlame,
};

/// An address, and the acts that may be asked for there: it is open to who may do one of them, and
/// each act is looked at again where it is done.
pub(super) type Row = (&'static str, &'static [Act]);

/// What a POST asks for.
pub(super) const POSTED: &[Row] = &[
    ("/sign-out", &[OwnSignIn]),
    ("/api/sign-out", &[OwnSignIn]),
    ("/second-factor", &[OwnSignIn]),
    ("/api/second-factor", &[OwnSignIn]),
    ("/api/device/enrol", &[LookAfterPeople]),
    ("/setup", &[OwnSignIn, LookAfterPeople, LookAfterServer]),
    ("/setup/person", &[LookAfterPeople]),
    ("/api/setup/acts", &[OwnSignIn, LookAfterPeople, LookAfterServer]),
    ("/plans/new/{draft}/{page}", &[Plan]),
    ("/api/plans", &[Plan]),
    ("/plans/{plan}", &[Prepare, Judge, Issue]),
    ("/api/plans/{plan}/acts", &[Prepare, Judge, Issue]),
    ("/api/bench/{plan}/{specimen}/presses", &[Test]),
    ("/api/bench/{plan}/{specimen}/timekeeper", &[Test]),
    ("/api/bench/{plan}/{specimen}/films/{film}", &[AddEvidence]),
    ("/api/bench/{plan}/{specimen}/films/{film}/pieces/{piece}", &[AddEvidence]),
    ("/api/bench/{plan}/{specimen}/photos", &[AddEvidence]),
    ("/specimens/{specimen}/describe/{page}", &[Test, Act::Amend]),
    ("/specimens/{specimen}/photos", &[Test, Act::Amend]),
    ("/api/specimens/{specimen}/description", &[Test, Act::Amend]),
    ("/specimens/{specimen}/films", &[AddEvidence]),
    ("/api/specimens/{specimen}/films", &[AddEvidence]),
    ("/specimens/{specimen}/films/{sha256}", &[AddEvidence]),
    ("/api/specimens/{specimen}/films/{sha256}/place", &[AddEvidence]),
    ("/specimens/{specimen}/times", &[Review]),
    ("/api/specimens/{specimen}/times", &[Review]),
    ("/plans/{plan}/review", &[Review]),
    ("/api/plans/{plan}/review/acts", &[Review]),
    ("/sign", &[Test, Review, Issue, WatchFlame, KeepEquipment, Act::Amend]),
    ("/api/sign", &[Test, Review, Issue, WatchFlame, KeepEquipment, Act::Amend]),
    ("/sign/rules", &[Issue]),
    ("/api/sign/rules", &[Issue]),
    ("/specimens/{specimen}/amend", &[Test, Act::Amend]),
    ("/api/specimens/{specimen}/amend", &[Test, Act::Amend]),
    ("/reports", &[Issue]),
    ("/api/reports", &[Issue]),
    ("/flame", &[ConfirmFlame]),
    ("/api/flame/void", &[ConfirmFlame]),
    ("/flame/run", &[ConfirmFlame]),
    ("/api/flame/run", &[ConfirmFlame]),
    ("/api/flame/run/acts", &[ConfirmFlame]),
    ("/flame/source", &[ConfirmFlame]),
    ("/flame/bring", &[ConfirmFlame]),
    ("/api/flame/files", &[ConfirmFlame]),
    ("/flame/type", &[ConfirmFlame]),
    ("/api/flame/times", &[ConfirmFlame]),
    ("/api/flame/times/check", &[ConfirmFlame]),
    ("/flame/base-line", &[WatchFlame]),
    ("/api/flame/base-line", &[WatchFlame]),
    ("/flame/chart", &[WatchFlame]),
    ("/api/flame/chart/note", &[WatchFlame]),
    ("/register-equipment", &[KeepEquipment]),
    ("/api/register-equipment", &[KeepEquipment]),
    ("/calibration", &[KeepEquipment]),
    ("/api/calibration", &[KeepEquipment]),
    ("/withdraw", &[KeepEquipment]),
    ("/api/withdraw", &[KeepEquipment]),
    ("/weighing", &[CareForBench]),
    ("/api/weighing", &[CareForBench]),
    ("/open-lot", &[CareForBench]),
    ("/api/open-lot", &[CareForBench]),
    ("/care", &[CareForBench, KeepEquipment, Review]),
    ("/api/care/done", &[CareForBench]),
    ("/api/care/every", &[KeepEquipment]),
    ("/api/care/let", &[Review]),
    ("/care/commissioning", &[KeepEquipment]),
    ("/api/care/commissioning", &[KeepEquipment]),
    ("/record/check", &[CheckRecord]),
    ("/api/record/check", &[CheckRecord]),
    ("/api/evidence", &[AddEvidence, KeepEquipment]),
];

/// What is looked at by those alone who may do more than look. All else that is looked at is for all.
pub(super) const LOOKED_AT: &[Row] = &[
    ("/setup/person", &[LookAfterPeople]),
    ("/setup/log", &[LookAfterServer]),
    ("/api/setup/log", &[LookAfterServer]),
    ("/second-factor", &[OwnSignIn]),
    ("/api/second-factor", &[OwnSignIn]),
];

/// The acts that a request asks for; none where this book takes no such request.
pub(super) fn asked(method: &Method, path: &str) -> Option<&'static [Act]> {
    let stands =
        |table: &[Row]| table.iter().find(|(address, _)| *address == path).map(|(_, acts)| *acts);
    if method.is_safe() {
        Some(stands(LOOKED_AT).unwrap_or(&[Look]))
    } else if *method == Method::POST {
        stands(POSTED)
    } else {
        None
    }
}

/// Whether an address is one of the bench, by how it stands in the table.
pub(super) fn at_the_bench(route: &str) -> bool {
    route.trim_start_matches("/api").trim_start_matches('/').split('/').next() == Some("bench")
}

/// What a bench pass opens: the page of its specimen, its presses, films and photographs.
const BY_PASS: [&str; 6] = [
    "/bench/{plan}/{specimen}",
    "/api/bench/{plan}/{specimen}",
    "/api/bench/{plan}/{specimen}/presses",
    "/api/bench/{plan}/{specimen}/films/{film}",
    "/api/bench/{plan}/{specimen}/films/{film}/pieces/{piece}",
    "/api/bench/{plan}/{specimen}/photos",
];

/// The specimen to which a pass must be, where one opens this address: `route` as it stands in the
/// table, `path` as it was asked for.
pub(super) fn by_pass(route: &str, path: &str) -> Option<(u32, u32)> {
    if !BY_PASS.contains(&route) {
        return None;
    }
    let mut parts = path.split('/').skip_while(|part| *part != "bench").skip(1);
    Some((parts.next()?.parse().ok()?, parts.next()?.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pass_opens_its_specimen_and_nothing_else() {
        let presses = "/api/bench/{plan}/{specimen}/presses";
        assert_eq!(by_pass(presses, "/api/bench/7/2/presses"), Some((7, 2)));
        assert_eq!(by_pass("/bench/{plan}/{specimen}", "/bench/7/2"), Some((7, 2)));
        assert_eq!(by_pass(presses, "/api/bench/7/x/presses"), None);
        let taking = "/api/bench/{plan}/{specimen}/timekeeper";
        assert_eq!(by_pass(taking, "/api/bench/7/2/timekeeper"), None);
        assert_eq!(by_pass("/plans/{plan}", "/plans/7"), None);
    }

    #[test]
    fn the_bench_is_its_pages_and_their_twins() {
        assert!(BY_PASS.iter().all(|route| at_the_bench(route)));
        let bench = |(route, _): &&Row| route.contains("/bench/");
        assert!(POSTED.iter().filter(bench).all(|(route, _)| at_the_bench(route)));
        assert!(at_the_bench("/bench") && at_the_bench("/api/bench"));
        for other in ["/", "/help/bench", "/specimens/{specimen}/photos", "/api/clock"] {
            assert!(!at_the_bench(other), "{other}");
        }
    }

    #[test]
    fn what_does_not_stand_in_the_table_is_done_by_nobody() {
        assert_eq!(asked(&Method::POST, "/api/no-such"), None);
        assert_eq!(asked(&Method::DELETE, "/plans/{plan}"), None);
        assert_eq!(asked(&Method::GET, "/plans/{plan}"), Some(&[Look][..]));
        assert_eq!(asked(&Method::GET, "/setup/log"), Some(&[LookAfterServer][..]));
        let mut addresses: Vec<_> = POSTED.iter().map(|(address, _)| *address).collect();
        addresses.sort_unstable();
        assert!(addresses.windows(2).all(|two| two[0] != two[1]), "each stands once");
    }
}
