//! Signed heads in the database: added, read, and never changed. The same key signs the same record
//! with the same bytes, so it does not matter which machine comes first.

use tokio_postgres::Row;

use super::notes::Notes;
use super::of_number;
use crate::heads::KeptHead;
use crate::store::StoreError;

impl Notes {
    /// Keeps a signed head, unless one of as many entries is there.
    ///
    /// # Errors
    ///
    /// As the database says.
    pub(crate) fn keep_signed(&self, head: &KeptHead) -> Result<(), StoreError> {
        let statement = "INSERT INTO cinderbook.signed (size, note) VALUES ($1, $2)
            ON CONFLICT DO NOTHING";
        let (size, note) = (of_number(head.size), &head.note);
        self.line().ask(async |there| there.client.execute(statement, &[&size, note]).await)?;
        Ok(())
    }

    /// The signed head of so many entries.
    ///
    /// # Errors
    ///
    /// As the database says.
    pub(crate) fn signed_head(&self, size: u64) -> Result<Option<KeptHead>, StoreError> {
        let (question, size) =
            ("SELECT size, note FROM cinderbook.signed WHERE size = $1", of_number(size));
        let row =
            self.line().ask(async |there| there.client.query_opt(question, &[&size]).await)?;
        row.as_ref().map(kept).transpose()
    }

    /// All signed heads, the smallest first.
    ///
    /// # Errors
    ///
    /// As the database says.
    pub(crate) fn signed_heads(&self) -> Result<Vec<KeptHead>, StoreError> {
        let question = "SELECT size, note FROM cinderbook.signed ORDER BY size";
        let rows = self.line().ask(async |there| there.client.query(question, &[]).await)?;
        rows.iter().map(kept).collect()
    }

    /// Of how many entries heads were signed, the smallest first.
    ///
    /// # Errors
    ///
    /// As the database says.
    pub(crate) fn signed_sizes(&self) -> Result<Vec<u64>, StoreError> {
        let question = "SELECT size FROM cinderbook.signed ORDER BY size";
        let rows = self.line().ask(async |there| there.client.query(question, &[]).await)?;
        rows.iter().map(|row| size(row.try_get(0)?)).collect()
    }
}

fn kept(row: &Row) -> Result<KeptHead, StoreError> {
    Ok(KeptHead { size: size(row.try_get(0)?)?, note: row.try_get(1)? })
}

fn size(found: i64) -> Result<u64, StoreError> {
    let damaged = |_| StoreError::Damaged { what: format!("a head of {found} entries was signed") };
    u64::try_from(found).map_err(damaged)
}
