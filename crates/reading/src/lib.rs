//! reading
