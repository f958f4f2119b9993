//! What the made-up laboratory's record says of its people.

use trial::fact::{Authorisation, Fact};
use trial::number::PersonName;
use trial::person::{Entrusted, Grant, Role};

/// A fact that follows any other, for tests that need many entries.
pub(crate) fn admitted(n: u64) -> Fact {
    Fact::PersonAdmitted {
        person: PersonName(format!("person {n}")),
        authorisations: vec![Authorisation::Test, Authorisation::Review],
    }
}

/// One person is admitted, entrusted with more, and disabled.
pub(super) fn facts() -> [Fact; 3] {
    let grant = |text: &str| Grant::parse(text).unwrap();
    let entrusted = |roles: &[Role], grants: &[Grant], reason: &str| {
        Fact::PersonEntrusted(Box::new(Entrusted {
            person: "Bo Lind".into(),
            roles: roles.to_vec(),
            grants: grants.to_vec(),
            reason: reason.to_owned(),
        }))
    };
    let test = grant("test");
    let review = grant("review by iec-60695-11-5/2016 from 2026-03-02 until 2027-03-01");
    let roles = [Role::Technician, Role::Engineer];
    let (person, reason) = ("Bo Lind".into(), "left the laboratory".to_owned());
    [
        entrusted(&[Role::Technician], std::slice::from_ref(&test), ""),
        entrusted(&roles, &[test, review], "trained and watched by Ana Ruiz"),
        Fact::PersonDisabled { person, reason },
    ]
}
