//! The book's key: begun, kept, renewed, lost; what it signs, and what it does not.

use std::fs;
use std::path::Path;

use ledger::heads::{keep_key, keep_next_key, kept_heads, read_key};
use ledger::key::{BookKeys, Earlier, begun};
use ledger::note::{Note, PublicKey, SecretKey};
use ledger::scrub::scrub;
use ledger::{Book, Seen, verify, verify_by};
use trial::fact::{BookKey, Fact};

use crate::copies::contents;
use crate::story::{admitted, key, minute, opened, tell};

fn say(book: &mut Book, fact: &Fact) {
    let next = book.head().map_or(1, |head| head.number + 1);
    book.append(minute(next), &"Ana Ruiz".into(), fact).unwrap();
}

fn say_key(book: &mut Book, key: BookKey) {
    say(book, &Fact::KeyBegun(Box::new(key)));
}

fn other(book: &Book, seed: u8) -> SecretKey {
    SecretKey::of(&book.origin().unwrap().unwrap(), &[seed; 32]).unwrap()
}

/// A check by a key that is believed.
fn by(folder: &Path, key: &PublicKey) -> Vec<String> {
    let seen = Seen { heads: Vec::new(), key: Some(key.clone()) };
    verify_by(folder, &seen).unwrap().faults.iter().map(ToString::to_string).collect()
}

#[test]
fn a_key_file_is_its_owners_alone_and_comes_back() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("book");
    let book = tell(&folder);
    let key = key(&book);
    assert!(read_key(&folder, None).unwrap().is_none());
    keep_key(&folder, &key).unwrap();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = fs::metadata(folder.join("key")).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
    }
    let read = read_key(&folder, Some(key.public())).unwrap().unwrap();
    assert_eq!(read.to_text(), key.to_text());
    let (copy, bundle) = (place.path().join("copy"), place.path().join("bundle"));
    book.sign_head(&key).unwrap();
    book.back_up(&copy).unwrap();
    book.export(&bundle).unwrap();
    for copy in [copy, bundle] {
        let files = contents(&copy);
        assert!(files.iter().any(|(name, _)| name.starts_with("heads/")));
        let secret = key.to_text();
        let holds = |bytes: &[u8]| bytes.windows(secret.len()).any(|it| it == secret.as_bytes());
        assert!(!files.iter().any(|(name, bytes)| name == "key" || holds(bytes)));
    }
    fs::write(folder.join("key"), "no key").unwrap();
    let refused = read_key(&folder, None).err().unwrap();
    assert!(refused.to_string().ends_with("does not hold a key"), "{refused}");
}

#[test]
fn the_head_of_a_record_is_signed_again_with_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = tell(folder.path());
    let key = key(&book);
    let first = book.sign_head(&key).unwrap();
    assert_eq!(book.sign_head(&key).unwrap(), first);
    let size = book.head().unwrap().number;
    say(&mut book, &admitted(1));
    let later = book.sign_head(&key).unwrap();
    assert_eq!((first.size, later.size), (size, size + 1));
    drop(book);
    let again = Book::open(folder.path()).unwrap();
    again.history().unwrap();
    assert_eq!(again.sign_head(&key).unwrap(), later);
    assert_eq!(kept_heads(folder.path()).unwrap(), [first, later]);
    let verification = verify(folder.path(), None).unwrap();
    assert!(verification.is_sound(), "{:?}", verification.faults);
    assert_eq!(verification.signed, 2);
    assert_eq!(verification.key.as_ref(), Some(key.public()));
}

/// R26, rehearsed: a key is renewed by both; one that is lost is replaced, and everyone sees it.
#[test]
fn a_renewed_key_is_believed_by_the_old_one_and_a_lost_one_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = tell(folder.path());
    let (first, second, third) = (key(&book), other(&book, 8), other(&book, 9));
    book.sign_head(&first).unwrap();
    keep_key(folder.path(), &first).unwrap();
    keep_next_key(folder.path(), &second).unwrap();
    // The program ends here: the record names the first key, and it is there.
    let found = read_key(folder.path(), Some(first.public())).unwrap().unwrap();
    assert_eq!(found.public(), first.public());
    say_key(&mut book, begun(&second, Some(Earlier::AtHand(&first)), "yearly"));
    // The program ends here: the record names the second key, and it takes its place.
    let found = read_key(folder.path(), Some(second.public())).unwrap().unwrap();
    assert_eq!(found.public(), second.public());
    assert!(!folder.path().join("key.next").exists());
    book.sign_head(&second).unwrap();
    assert_eq!(by(folder.path(), first.public()), Vec::<String>::new());
    assert_eq!(by(folder.path(), second.public()), Vec::<String>::new());

    fs::remove_file(folder.path().join("key")).unwrap();
    assert!(read_key(folder.path(), Some(second.public())).unwrap().is_none());
    say(&mut book, &admitted(3));
    let lost = Earlier::Lost(second.public());
    say_key(&mut book, begun(&third, Some(lost), "the disk of the key file broke"));
    let entry = book.head().unwrap().number;
    book.sign_head(&third).unwrap();
    let verification = verify(folder.path(), None).unwrap();
    assert!(verification.is_sound(), "{:?}", verification.faults);
    assert_eq!(verification.keys_lost, [entry]);
    assert_eq!(by(folder.path(), third.public()), Vec::<String>::new());
    let told = by(folder.path(), second.public());
    assert_eq!(told.len(), 1);
    let words = format!("a key that began with entry {entry} without the signature of the key");
    assert!(told[0].contains(&words), "{told:?}");
    let told = by(folder.path(), other(&book, 10).public());
    assert!(told[0].ends_with("is none of the book's"), "{told:?}");
}

#[test]
fn no_key_begins_without_its_own_signature_or_in_place_of_another_than_the_last() {
    let folder = tempfile::tempdir().unwrap();
    let book = tell(folder.path());
    let (first, second) = (key(&book), other(&book, 8));
    let name = book.origin().unwrap().unwrap();
    let follow = |key: &BookKey| {
        let mut keys = BookKeys::of(name.clone());
        keys.follow(48, &begun(&first, None, "")).unwrap();
        keys.follow(49, key)
    };
    let sound = begun(&second, Some(Earlier::AtHand(&first)), "yearly");
    assert_eq!(follow(&sound), Ok(()));
    let refused = |change: fn(&mut BookKey), words: &str| {
        let mut key = sound.clone();
        change(&mut key);
        assert_eq!(follow(&key), Err(words.to_owned()));
    };
    refused(|key| key.reason.push('x'), "its key has not signed it");
    refused(|key| key.by_new.0[3] ^= 1, "its key has not signed it");
    refused(|key| key.by_old.as_mut().unwrap().0[3] ^= 1, "the earlier key has not signed it");
    refused(|key| key.in_place_of = None, "its key takes the place of another than the last one");
    refused(|key| key.key.0 = [0; 32], "its key is none");
}

/// A record that was put back from an old copy beside the heads that were signed since.
#[test]
fn a_record_that_does_not_continue_what_was_signed_is_found_and_not_signed() {
    let place = tempfile::tempdir().unwrap();
    let (folder, copy) = (place.path().join("book"), place.path().join("copy"));
    let mut book = tell(&folder);
    book.back_up(&copy).unwrap();
    for n in 0..10 {
        say(&mut book, &admitted(n));
    }
    let key = key(&book);
    book.sign_head(&key).unwrap();
    drop(book);
    fs::copy(copy.join("record.sqlite"), folder.join("record.sqlite")).unwrap();
    fs::copy(copy.join("head"), folder.join("head")).unwrap();
    let faults = verify(&folder, None).unwrap().faults;
    let words = faults[0].to_string();
    assert!(words.starts_with("the signed head of "), "{words}");
    let mut book = Book::open(&folder).unwrap();
    let refused = book.sign_head(&key).unwrap_err().to_string();
    assert!(refused.ends_with("does not continue it"), "{refused}");
    for n in 20..30 {
        say(&mut book, &admitted(n));
    }
    let refused = book.sign_head(&key).unwrap_err().to_string();
    assert!(refused.ends_with("does not continue it"), "as long, and another: {refused}");
    say(&mut book, &admitted(30));
    let refused = book.sign_head(&key).unwrap_err().to_string();
    assert!(refused.ends_with("does not continue it"), "longer: {refused}");
    drop(book);
    let book = Book::open(&folder).unwrap();
    book.history().unwrap();
    let refused = book.sign_head(&key).unwrap_err().to_string();
    assert!(refused.ends_with("does not continue it"), "opened anew: {refused}");
}

#[test]
fn a_head_of_another_book_is_not_believed() {
    let place = tempfile::tempdir().unwrap();
    let (one, two) = (place.path().join("one"), place.path().join("two"));
    let book = tell(&one);
    let mut stranger = Book::create(&two).unwrap();
    stranger.append(minute(3), &"Bo Lind".into(), &opened()).unwrap();
    let signed = stranger.sign_head(&other(&stranger, 7)).unwrap();
    fs::create_dir(one.join("heads")).unwrap();
    fs::write(one.join("heads/1"), &signed.note).unwrap();
    assert_ne!(book.origin().unwrap(), stranger.origin().unwrap());
    let faults = verify(&one, None).unwrap().faults;
    assert!(faults[0].to_string().ends_with("bears no signature of a key of the book"));
    assert!(Note::read(&signed.note).is_ok());
}

#[test]
fn a_key_that_is_believed_wants_a_head_that_it_signed_under_its_own_size() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("book");
    let book = tell(&folder);
    let key = key(&book);
    assert_eq!(verify(&folder, None).unwrap().faults.len(), 0);
    let [unsigned] = &by(&folder, key.public())[..] else { panic!("one fault") };
    assert!(unsigned.contains("no signed head"), "{unsigned}");
    let signed = book.sign_head(&key).unwrap();
    assert_eq!(by(&folder, key.public()), Vec::<String>::new());
    let size = signed.size;
    fs::rename(folder.join(format!("heads/{size}")), folder.join("heads/1")).unwrap();
    let found = by(&folder, key.public());
    assert!(found[0].contains(&format!("it is the head of {size} entries")), "{found:?}");
}

/// R25: one flipped byte is named by one scrub; one that is told to end does.
#[test]
fn a_scrub_names_each_damaged_file_and_can_be_ended() {
    let folder = tempfile::tempdir().unwrap();
    let book = tell(folder.path());
    let mut named = std::collections::BTreeMap::new();
    for stored in book.chain().map(Result::unwrap) {
        for blob in stored.entry.evidence {
            named.entry(blob).or_insert(stored.entry.number);
        }
    }
    let blobs = book.evidence_files();
    let mut read = 0;
    let sound = scrub(&blobs, &named, &mut |bytes| {
        read += bytes;
        true
    });
    assert!(sound.whole && sound.faults.is_empty());
    assert_eq!((sound.files, sound.bytes), (named.len(), read as u64));
    for (hash, entry) in &named {
        let name = hash.to_string();
        let path = folder.path().join("evidence").join(&name[..2]).join(&name);
        let mut bytes = fs::read(&path).unwrap();
        bytes[0] ^= 1;
        fs::write(&path, &bytes).unwrap();
        let found = scrub(&blobs, &named, &mut |_| true);
        assert_eq!(found.faults.len(), 1);
        assert_eq!(found.faults[0].0, *entry);
        bytes[0] ^= 1;
        fs::write(&path, &bytes).unwrap();
    }
    let ended = scrub(&blobs, &named, &mut |_| false);
    assert!(!ended.whole);
}
