//! Enrolled devices: a browser made a key pair and keeps it, the book knows the public half. Whoever signs
//! in there shows by a signature that it is this device: the second factor at the bench.

use jiff::Timestamp;
use ring::signature::{ECDSA_P256_SHA256_FIXED, UnparsedPublicKey};
use serde::{Deserialize, Serialize};
use trial::number::PersonName;
use utoipa::ToSchema;

use super::Access;
use super::challenge::STALE;
use super::kept::Kept;
use super::secret;
use crate::problem::Problem;

/// Of P-256 an uncompressed point (SEC 1, 2.3.3), as browsers export it.
const KEY_BYTES: usize = 65;

/// A name has no more characters.
const NAME_AT_MOST: usize = 60;

/// So many devices are enrolled at most.
const DEVICES_AT_MOST: usize = 500;

/// What is kept of an enrolled device. Nothing of it is secret.
#[derive(Clone, Serialize, Deserialize)]
pub(in crate::web) struct Device {
    /// The public key, as hexadecimal digits.
    key: String,
    /// What it is called.
    pub(in crate::web) name: String,
    /// Who enrolled it.
    pub(in crate::web) by: String,
    /// When.
    pub(in crate::web) since: Timestamp,
    /// The last request of a sign-in on it, to the minute.
    pub(in crate::web) seen: Option<Timestamp>,
    /// The certificate by which somebody last signed in on it, where its browser trusts that.
    certificate: Option<String>,
}

/// On which devices the bench opens.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(in crate::web) enum BenchDevices {
    /// On those that are enrolled, and on no others.
    Enrolled,
    /// On any.
    Any,
}

/// Whether browsers are told to reach the book enciphered alone (RFC 6797).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(in crate::web) enum Promise {
    /// It was never said.
    #[default]
    Never,
    /// It is said.
    Given,
    /// It is said that it holds no longer.
    TakenBack,
}

/// What a browser shows to say which device it is on.
#[derive(Clone, Default)]
pub(in crate::web) struct Showing {
    /// Its public key, as hexadecimal digits; empty where it has none.
    pub(in crate::web) key: String,
    /// The challenge that it signed.
    pub(in crate::web) challenge: String,
    /// The signature, as hexadecimal digits: r and s of 32 bytes each.
    pub(in crate::web) signature: String,
    /// The word that came with the challenge.
    pub(in crate::web) word: String,
    /// Where it is, such as `https://bench.lab.example:4160`.
    pub(in crate::web) origin: String,
    /// The certificate by which it came.
    pub(in crate::web) certificate: Option<String>,
    /// Whether the browser trusts it: by its own rules it needs to, for what it keeps of pages.
    pub(in crate::web) trusted: bool,
}

/// An enrolled device that has shown itself.
pub(in crate::web) struct Known {
    /// What it is called.
    pub(super) name: String,
    certificate: Option<String>,
}

impl Showing {
    /// Takes what it shows: `what` is done, `of` whom or what.
    fn take(
        &self,
        access: &Access,
        (what, of): (&str, &str),
        now: Timestamp,
    ) -> Result<(), Problem> {
        let (origin, challenge) = (&self.origin, &self.challenge);
        access.challenges.look(challenge, (origin, &self.word), now)?;
        let key = hex::decode(&self.key).unwrap_or_default();
        let signature = hex::decode(&self.signature).unwrap_or_default();
        let text = format!("cinderbook {what}\n{origin}\n{challenge}\n{of}");
        let key = UnparsedPublicKey::new(&ECDSA_P256_SHA256_FIXED, key);
        key.verify(text.as_bytes(), &signature).map_err(|_| {
            Problem::used_wrongly("the signature of this device is not one of its key").hint(STALE)
        })?;
        // Only what was right is used up: strangers fill no memory with it.
        access.challenges.use_up(challenge, now)
    }
}

impl Access {
    /// Enrols the device of the browser whose session has this word; the session is on it from then on.
    ///
    /// # Errors
    ///
    /// [`Problem`] where its key is none or enrolled already, the name is not one of its own, the signature
    /// does not hold, or it cannot be kept.
    pub(in crate::web) fn enrol(
        &self,
        (showing, name): (&Showing, &str),
        (by, word): (&PersonName, &str),
        now: Timestamp,
    ) -> Result<(), Problem> {
        let key = hex::decode(&showing.key).unwrap_or_default();
        if key.len() != KEY_BYTES || key.first() != Some(&4) {
            return Err(Problem::used_wrongly("this device shows no public key of P-256")
                .hint("Enrol it from its own page, This device."));
        }
        let key = hex::encode(key);
        showing.take(self, ("enrol", name), now)?;
        let (name, shown) = (fit(name)?, secret::hash(word));
        self.desk().kept.try_change(|kept| {
            if let Some(device) = kept.devices.iter().find(|device| device.key == key) {
                return Err(Problem::used_wrongly(format!(
                    "this device is enrolled already, as {}",
                    device.name
                ))
                .hint("Sign out and in again: the sign-in is then on it."));
            }
            if kept.devices.iter().any(|it| it.name.to_lowercase() == name.to_lowercase()) {
                return Err(Problem::used_wrongly(format!("another device is called {name}"))
                    .hint("Give a name that is on no other device."));
            }
            if kept.devices.len() >= DEVICES_AT_MOST {
                let text = format!("{DEVICES_AT_MOST} devices are enrolled already");
                return Err(Problem::used_wrongly(text).hint("End some at Set up first."));
            }
            for session in kept.sessions.iter_mut().filter(|session| session.hash == shown) {
                session.enrolled = Some(name.clone());
            }
            kept.devices.push(Device {
                key,
                name,
                by: by.0.clone(),
                since: now,
                seen: Some(now),
                certificate: None,
            });
            Ok(())
        })
    }

    /// The enrolled device on which `person` signs in; none where the browser shows none that is known.
    ///
    /// # Errors
    ///
    /// [`Problem`] where one that is enrolled does not show that it is there now.
    pub(super) fn known(
        &self,
        showing: &Showing,
        typed_name: &str,
        now: Timestamp,
    ) -> Result<Option<Known>, Problem> {
        let key = showing.key.to_lowercase();
        let name = {
            let desk = self.desk();
            let found = desk.kept.devices.iter().find(|device| device.key == key);
            found.map(|device| device.name.clone())
        };
        let Some(name) = name else { return Ok(None) };
        // What the browser says of the certificate is signed with the rest.
        let what = if showing.trusted { "sign-in trusted" } else { "sign-in" };
        showing.take(self, (what, typed_name), now)?;
        let certificate = showing.certificate.clone().filter(|_| showing.trusted);
        Ok(Some(Known { name, certificate }))
    }

    /// Ends a device, with the sign-ins and the bench passes on it.
    ///
    /// # Errors
    ///
    /// [`Problem`] where there is none of this name, or it cannot be kept.
    pub(in crate::web) fn end_device(&self, name: &str) -> Result<(), Problem> {
        self.desk().kept.try_change(|kept| {
            if !kept.devices.iter().any(|device| device.name == name) {
                return Err(Problem::used_wrongly(format!("no device `{name}` is enrolled"))
                    .hint("Choose one of the list at Set up."));
            }
            kept.devices.retain(|device| device.name != name);
            kept.sessions.retain(|session| session.enrolled.as_deref() != Some(name));
            kept.passes.retain(|pass| pass.enrolled.as_deref() != Some(name));
            Ok(())
        })
    }

    /// The enrolled devices, in the order in which they were.
    pub(in crate::web) fn devices(&self) -> Vec<Device> {
        self.desk().kept.devices.clone()
    }

    /// The enrolled device that the session of this word is on.
    pub(in crate::web) fn device_of(&self, word: &str) -> Option<String> {
        let shown = secret::hash(word);
        let desk = self.desk();
        desk.kept.sessions.iter().find(|session| session.hash == shown)?.enrolled.clone()
    }

    /// Whether the bench opens on enrolled devices alone.
    pub(in crate::web) fn asks_device(&self) -> bool {
        self.desk().kept.asks_device
    }

    /// Opens the bench on enrolled devices alone, or on any.
    ///
    /// # Errors
    ///
    /// [`Problem`] where none is enrolled yet, or it cannot be kept.
    pub(in crate::web) fn ask_device(&self, devices: BenchDevices) -> Result<(), Problem> {
        let asks = devices == BenchDevices::Enrolled;
        self.desk().kept.try_change(|kept| {
            if asks && kept.devices.is_empty() {
                return Err(Problem::used_wrongly("no device is enrolled yet")
                    .hint("Enrol one first: on it, at This device."));
            }
            kept.asks_device = asks;
            Ok(())
        })
    }

    /// Whether browsers are told to reach the book enciphered alone.
    pub(in crate::web) fn promise(&self) -> Promise {
        self.desk().kept.promise
    }

    /// Tells browsers to reach the book enciphered alone, or that this holds no longer.
    ///
    /// # Errors
    ///
    /// [`Problem`] where no enrolled device came by this certificate yet, or it cannot be kept.
    pub(in crate::web) fn set_promise(
        &self,
        promise: Promise,
        certificate: &str,
    ) -> Result<(), Problem> {
        self.desk().kept.try_change(|kept| {
            if promise == Promise::Given && !works(kept, certificate) {
                return Err(Problem::used_wrongly(
                    "nobody has signed in yet on an enrolled device that trusts this certificate",
                )
                .hint("Trust the book on each device, enrol it, and sign in: then it is known that it works."));
            }
            // What was said once is taken back, not forgotten: browsers remember it for a year.
            kept.promise = match (promise, kept.promise) {
                (Promise::Given, _) => Promise::Given,
                (_, Promise::Never) => Promise::Never,
                (_, Promise::Given | Promise::TakenBack) => Promise::TakenBack,
            };
            Ok(())
        })
    }

    /// What browsers are told so (`Strict-Transport-Security`); nothing where it was never said, and where no
    /// enrolled device came by this certificate: another one is not known to work.
    pub(in crate::web) fn promised(&self, certificate: &str) -> Option<&'static str> {
        // Said with every answer: what the requests themselves took up is new enough.
        let desk = self.desk_as_it_is();
        match desk.kept.promise {
            Promise::Never => None,
            // ASVS 5.0, 3.4.1: a year.
            Promise::Given => works(&desk.kept, certificate).then_some("max-age=31536000"),
            Promise::TakenBack => Some("max-age=0"),
        }
    }
}

/// Whether somebody signed in on an enrolled device whose browser trusts this certificate.
fn works(kept: &Kept, certificate: &str) -> bool {
    kept.devices.iter().any(|device| device.certificate.as_deref() == Some(certificate))
}

/// Notes that somebody signed in on a device. What it is called, where it has not ended meanwhile.
pub(super) fn note(kept: &mut Kept, known: Option<Known>, now: Timestamp) -> Option<String> {
    let known = known?;
    let device = kept.devices.iter_mut().find(|device| device.name == known.name)?;
    device.seen = Some(now);
    device.certificate = known.certificate;
    Some(known.name)
}

/// A name that fits a device.
fn fit(name: &str) -> Result<String, Problem> {
    let name = name.trim();
    let count = name.chars().count();
    if name.chars().any(char::is_control) {
        return Err(Problem::used_wrongly("the name of the device is more than one line")
            .hint("Give it one line."));
    }
    if count == 0 || count > NAME_AT_MOST {
        return Err(Problem::used_wrongly(format!(
            "the name of the device has {count} characters"
        ))
        .hint(format!("Give it one line of 1 to {NAME_AT_MOST} characters.")));
    }
    Ok(name.to_owned())
}
