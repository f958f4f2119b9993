//! What a certificate says of itself: who issued it and till when it holds (X.509, RFC 5280, 4.1).

use jiff::civil::Date;

/// What people are told of a certificate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Certificate {
    /// Who issued it: the common name, or what it gives instead.
    pub(super) issuer: String,
    /// The day on which it ends, in UTC.
    pub(super) until: Date,
}

// Tags of DER (X.690).
const SEQUENCE: u8 = 0x30;
const OBJECT: u8 = 0x06;
const UTC_TIME: u8 = 0x17;
const GENERALIZED_TIME: u8 = 0x18;
const VERSION: u8 = 0xa0;

/// Names of an issuer that people know, the best one first: common name, organisation (X.520).
const NAMES: [&[u8]; 2] = [&[0x55, 4, 3], &[0x55, 4, 10]];

impl Certificate {
    /// Reads a certificate (DER); none if it is none.
    pub(super) fn read(der: &[u8]) -> Option<Self> {
        let (certificate, _) = expect(der, SEQUENCE)?;
        let (signed, _) = expect(certificate, SEQUENCE)?;
        let after_version = match element(signed)? {
            (VERSION, _, rest) => rest,
            _ => signed,
        };
        let (_, _, after_serial) = element(after_version)?;
        let (_, after_algorithm) = expect(after_serial, SEQUENCE)?;
        let (issuer, after_issuer) = expect(after_algorithm, SEQUENCE)?;
        let (validity, _) = expect(after_issuer, SEQUENCE)?;
        let (_, _, after_begin) = element(validity)?;
        let (kind, end, _) = element(after_begin)?;
        Some(Self {
            issuer: name(issuer).unwrap_or_else(|| "no name".to_owned()),
            until: day(kind, end)?,
        })
    }
}

/// The best known name among those of an issuer.
fn name(issuer: &[u8]) -> Option<String> {
    let mut names = Vec::new();
    let mut rest = issuer;
    while let Some((_, set, after)) = element(rest) {
        rest = after;
        let Some((pair, _)) = expect(set, SEQUENCE) else { continue };
        let Some((object, value)) = expect(pair, OBJECT) else { continue };
        if let Some((_, text, _)) = element(value) {
            names.push((object, String::from_utf8_lossy(text).into_owned()));
        }
    }
    let of = |wanted: &&[u8]| names.iter().find(|(object, _)| object == wanted);
    NAMES.iter().find_map(of).or(names.first()).map(|(_, name)| name.clone())
}

/// The day of a time: `YYMMDD…` or `YYYYMMDD…` (RFC 5280, 4.1.2.5).
fn day(kind: u8, time: &[u8]) -> Option<Date> {
    let text = std::str::from_utf8(time).ok()?;
    let (year, rest) = match kind {
        UTC_TIME => {
            let short: i16 = text.get(..2)?.parse().ok()?;
            (if short < 50 { 2000 + short } else { 1900 + short }, text.get(2..)?)
        }
        GENERALIZED_TIME => (text.get(..4)?.parse().ok()?, text.get(4..)?),
        _ => return None,
    };
    Date::new(year, rest.get(..2)?.parse().ok()?, rest.get(2..4)?.parse().ok()?).ok()
}

/// What is in the element of this kind at the head of `bytes`, and what follows it.
fn expect(bytes: &[u8], kind: u8) -> Option<(&[u8], &[u8])> {
    let (found, inside, rest) = element(bytes)?;
    (found == kind).then_some((inside, rest))
}

/// The element at the head of `bytes`: its kind, what is in it, and what follows it.
fn element(bytes: &[u8]) -> Option<(u8, &[u8], &[u8])> {
    let (kind, length, rest) = match bytes {
        [kind, short @ 0..=0x7f, rest @ ..] => (*kind, usize::from(*short), rest),
        [kind, 0x81, one, rest @ ..] => (*kind, usize::from(*one), rest),
        [kind, 0x82, high, low, rest @ ..] => {
            (*kind, usize::from(u16::from_be_bytes([*high, *low])), rest)
        }
        _ => return None,
    };
    let (inside, rest) = rest.split_at_checked(length)?;
    Some((kind, inside, rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made(organisation_only: bool, year: i32) -> Vec<u8> {
        let mut params = rcgen::CertificateParams::new(["bench.lab.example".to_owned()]).unwrap();
        params.distinguished_name = rcgen::DistinguishedName::new();
        params.distinguished_name.push(rcgen::DnType::OrganizationName, "Made-up laboratory");
        if !organisation_only {
            params.distinguished_name.push(rcgen::DnType::CommonName, "Made-up authority");
        }
        params.not_after = rcgen::date_time_ymd(year, 3, 9);
        let key = rcgen::KeyPair::generate().unwrap();
        params.self_signed(&key).unwrap().der().to_vec()
    }

    #[test]
    fn a_certificate_says_whose_it_is_and_till_when() {
        let read = |only, year| Certificate::read(&made(only, year)).unwrap();
        let until = |year| jiff::civil::date(year, 3, 9);
        assert_eq!(
            read(false, 2027),
            Certificate { issuer: "Made-up authority".to_owned(), until: until(2027) }
        );
        // From 2050 on the year has four figures.
        assert_eq!(
            read(true, 2051),
            Certificate { issuer: "Made-up laboratory".to_owned(), until: until(2051) }
        );
    }

    #[test]
    fn what_is_cut_off_or_changed_is_no_certificate_and_no_panic() {
        let whole = made(false, 2027);
        for length in 0..whole.len() {
            assert_eq!(Certificate::read(&whole[..length]), None, "{length} bytes");
        }
        for place in 0..whole.len() {
            let mut changed = whole.clone();
            changed[place] ^= 0x5a;
            drop(Certificate::read(&changed));
        }
    }
}
