//! The tables, their guards, and what they ask of the database.
//!
//! No invariant rests on how transactions are kept apart. A number, a hash and a hash before it
//! stand once; each entry refers to the one before it; so there is no gap and no fork, whoever
//! writes. The guard locks the one row of `head` before it looks, so writers come one by one.

use tokio_postgres::{Client, Error};

use crate::store::StoreError;

/// The form of the tables. The first had no signed heads; a book in it is used as it is.
const FORM: i32 = 2;

/// What the guard says when an entry does not follow the last one.
pub(super) const OVERTAKEN: &str = "CB001";

/// What the guards say otherwise.
pub(super) const GUARDED: &str = "CB002";

/// Settings that safety rests on, and what they must be.
const SETTINGS: [(&str, &str); 5] = [
    ("synchronous_commit", "on"),
    ("fsync", "on"),
    ("full_page_writes", "on"),
    // After a failed sync the database stops and reads its log again; it does not try once more.
    ("data_sync_retry", "off"),
    ("server_encoding", "UTF8"),
];

const FOLLOWS: &str = "
DECLARE
    last cinderbook.head;
BEGIN
    IF current_setting('fsync') <> 'on' OR current_setting('full_page_writes') <> 'on'
        OR current_setting('synchronous_commit') = 'off'
    THEN
        RAISE EXCEPTION 'the database was told not to wait for the disk' USING ERRCODE = 'CB002';
    END IF;
    SELECT * INTO STRICT last FROM cinderbook.head FOR UPDATE;
    IF NEW.number <> last.number + 1 OR NEW.previous IS DISTINCT FROM last.hash THEN
        RAISE EXCEPTION 'an entry follows the last one' USING ERRCODE = 'CB001';
    END IF;
    UPDATE cinderbook.head SET number = NEW.number, hash = NEW.hash;
    RETURN NEW;
END
";

const KEPT: &str = "
BEGIN
    RAISE EXCEPTION 'an entry is never changed or removed' USING ERRCODE = 'CB002';
END
";

const SIGNED_KEPT: &str = "
BEGIN
    RAISE EXCEPTION 'a signed head is never changed or removed' USING ERRCODE = 'CB002';
END
";

/// What makes the tables, for `role` to add to and to read.
pub(super) fn making((files, evidence): (&str, &str), role: &str) -> String {
    let (files, evidence, role) = (quoted(files), quoted(evidence), name(role));
    format!(
        "BEGIN;
SET LOCAL search_path = pg_catalog;
CREATE SCHEMA cinderbook;
CREATE TABLE cinderbook.book (
    sole boolean PRIMARY KEY DEFAULT true CHECK (sole),
    form integer NOT NULL,
    files text NOT NULL,
    evidence text NOT NULL
);
INSERT INTO cinderbook.book (form, files, evidence) VALUES ({FORM}, {files}, {evidence});
CREATE TABLE cinderbook.head (
    sole boolean PRIMARY KEY DEFAULT true CHECK (sole),
    number bigint NOT NULL CHECK (number >= 0),
    hash bytea CHECK (length(hash) = 32),
    CHECK ((number = 0) = (hash IS NULL))
);
INSERT INTO cinderbook.head (number) VALUES (0);
CREATE TABLE cinderbook.entry (
    number bigint CONSTRAINT entry_number PRIMARY KEY,
    before bigint GENERATED ALWAYS AS (nullif(number - 1, 0)) STORED,
    previous bytea CONSTRAINT entry_previous UNIQUE,
    at bigint NOT NULL,
    who text NOT NULL,
    kind text NOT NULL,
    form bigint NOT NULL,
    body bytea NOT NULL,
    evidence bytea NOT NULL,
    hash bytea NOT NULL CONSTRAINT entry_hash UNIQUE,
    CONSTRAINT entry_from_one CHECK (number > 0),
    CONSTRAINT entry_lengths CHECK (length(hash) = 32 AND length(evidence) % 32 = 0),
    CONSTRAINT entry_place UNIQUE (number, hash),
    CONSTRAINT entry_follows FOREIGN KEY (before, previous)
        REFERENCES cinderbook.entry (number, hash) MATCH FULL
);
CREATE TABLE cinderbook.signed (
    size bigint CONSTRAINT signed_size PRIMARY KEY
        CONSTRAINT signed_entry REFERENCES cinderbook.entry (number),
    note text NOT NULL
);
CREATE TABLE cinderbook.note (
    name text PRIMARY KEY,
    version bigint NOT NULL,
    bytes bytea NOT NULL
);
CREATE FUNCTION cinderbook.entry_follows_the_last() RETURNS trigger LANGUAGE plpgsql
    SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $guard${FOLLOWS}$guard$;
CREATE FUNCTION cinderbook.entry_is_kept() RETURNS trigger LANGUAGE plpgsql
    AS $guard${KEPT}$guard$;
CREATE TRIGGER entry_follows_the_last BEFORE INSERT ON cinderbook.entry
    FOR EACH ROW EXECUTE FUNCTION cinderbook.entry_follows_the_last();
CREATE TRIGGER entry_is_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON cinderbook.entry
    FOR EACH STATEMENT EXECUTE FUNCTION cinderbook.entry_is_kept();
ALTER TABLE cinderbook.entry ENABLE ALWAYS TRIGGER entry_follows_the_last;
ALTER TABLE cinderbook.entry ENABLE ALWAYS TRIGGER entry_is_kept;
CREATE FUNCTION cinderbook.signed_is_kept() RETURNS trigger LANGUAGE plpgsql
    AS $guard${SIGNED_KEPT}$guard$;
CREATE TRIGGER signed_is_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON cinderbook.signed
    FOR EACH STATEMENT EXECUTE FUNCTION cinderbook.signed_is_kept();
ALTER TABLE cinderbook.signed ENABLE ALWAYS TRIGGER signed_is_kept;
{}
COMMIT;",
        granting(&role)
    )
}

/// What lets a role (as SQL writes it) add entries and signed heads, read all, and change nothing
/// but notes.
fn granting(role: &str) -> String {
    format!(
        "GRANT USAGE ON SCHEMA cinderbook TO {role};
GRANT SELECT ON cinderbook.book, cinderbook.head TO {role};
GRANT SELECT, INSERT ON cinderbook.entry, cinderbook.signed TO {role};
GRANT SELECT, INSERT, UPDATE ON cinderbook.note TO {role};"
    )
}

/// A text as SQL writes it.
fn quoted(text: &str) -> String {
    format!("E'{}'", text.replace('\\', "\\\\").replace('\'', "''"))
}

/// A name as SQL writes it.
fn name(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

pub(super) const APPEND: &str = "INSERT INTO cinderbook.entry
    (number, previous, at, who, kind, form, body, evidence, hash)
    VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)";

pub(super) const LAST: &str = "SELECT number, previous, at, who, kind, form, body, evidence, hash
    FROM cinderbook.entry ORDER BY number DESC LIMIT 1";

pub(super) const AFTER: &str = "SELECT number, previous, at, who, kind, form, body, evidence, hash
    FROM cinderbook.entry WHERE number > $1 ORDER BY number LIMIT $2";

/// Whether a role may do more than add: it owns the tables, or was granted it.
pub(super) const MAY_CHANGE: &str = "SELECT bool_or(pg_has_role(relowner, 'MEMBER')
        OR has_table_privilege(oid, 'UPDATE') OR has_table_privilege(oid, 'DELETE')
        OR has_table_privilege(oid, 'TRUNCATE') OR has_table_privilege(oid, 'TRIGGER'))
    FROM pg_class
    WHERE oid IN (to_regclass('cinderbook.entry'), to_regclass('cinderbook.signed'))";

/// Constraints and guards of the entries and the signed heads, a line each.
const FOUND: &str = "SELECT line FROM (
    SELECT conrelid AS held, contype::text || ' ' || conname AS line FROM pg_constraint
        WHERE contype IN ('c', 'f', 'p', 'u') AND convalidated
    UNION ALL
    SELECT tgrelid, 'guard ' || tgname || ' ' || tgtype || ' ' || tgenabled::text || ' ' || prosrc
        FROM pg_trigger JOIN pg_proc ON pg_proc.oid = tgfoid WHERE NOT tgisinternal
) AS found
WHERE held IN (to_regclass('cinderbook.entry'), to_regclass('cinderbook.signed'))
ORDER BY line COLLATE \"C\"";

/// The same as they were made, in this form. The numbers say when a guard stands up: 7 before each
/// row that is added, 58 before a statement that changes, removes or empties.
fn made(form: i32) -> Vec<String> {
    let entries = [
        "c entry_from_one".to_owned(),
        "c entry_lengths".to_owned(),
        "f entry_follows".to_owned(),
        format!("guard entry_follows_the_last 7 A {FOLLOWS}"),
        format!("guard entry_is_kept 58 A {KEPT}"),
        "p entry_number".to_owned(),
        "u entry_hash".to_owned(),
        "u entry_place".to_owned(),
        "u entry_previous".to_owned(),
    ];
    let signed = [
        "f signed_entry".to_owned(),
        format!("guard signed_is_kept 58 A {SIGNED_KEPT}"),
        "p signed_size".to_owned(),
    ];
    let mut made: Vec<String> = entries.into();
    if form > 1 {
        made.extend(signed);
        made.sort_unstable();
    }
    made
}

/// Reads back what safety rests on, and holds to it while the line is up.
pub(super) async fn settle(client: &Client) -> Result<Result<(), StoreError>, Error> {
    let names: Vec<String> =
        SETTINGS.iter().map(|(name, _)| format!("current_setting('{name}')")).collect();
    let row = client.query_one(&format!("SELECT {}", names.join(", ")), &[]).await?;
    for (nth, (setting, wanted)) in SETTINGS.into_iter().enumerate() {
        let found: String = row.try_get(nth)?;
        // Whether it also waits for another machine's disk is the laboratory's choice.
        let waits = setting == "synchronous_commit" && found != "off";
        if found != wanted && !waits {
            return Ok(Err(StoreError::Setting { setting, found, wanted }));
        }
    }
    let found: String = row.try_get(0)?;
    let settle = format!(
        "SET synchronous_commit = {}; SET default_transaction_isolation = 'read committed';
         SET lock_timeout = '10s'; SET statement_timeout = '15s'; SET search_path = pg_catalog",
        quoted(&found)
    );
    client.batch_execute(&settle).await?;
    Ok(Ok(()))
}

/// Is there a record, in a form known here, with its guards as they were made?
pub(super) async fn check(client: &Client) -> Result<Result<(), StoreError>, Error> {
    let row = client.query_one("SELECT to_regclass('cinderbook.book') IS NULL", &[]).await?;
    if row.try_get(0)? {
        return Ok(Err(StoreError::NoBook));
    }
    let row = client.query_one("SELECT form FROM cinderbook.book", &[]).await?;
    let found: i32 = row.try_get(0)?;
    if found > FORM {
        let (found, known) = (found.into(), FORM.into());
        return Ok(Err(StoreError::Newer { found, known }));
    }
    let made = made(found);
    let rows = client.query(FOUND, &[]).await?;
    let found: Vec<String> = rows.iter().map(|row| row.try_get(0)).collect::<Result<_, _>>()?;
    if found == made {
        return Ok(Ok(()));
    }
    let differs = made.iter().find(|line| !found.contains(line));
    let named = |line: &String| line.split(' ').nth(1).unwrap_or_default().to_owned();
    let what = differs.or(found.iter().find(|line| !made.contains(line))).map(named);
    let what = format!("`{}` is not as it was made", what.unwrap_or_default());
    Ok(Err(StoreError::Altered { what }))
}
