//! Small file systems for the tests. Mounting needs the rights of root; without them a test that
//! mounts fails and says so.

use std::path::Path;
use std::process::Command;

/// A file system mounted on a temporary folder.
pub(crate) struct Mounted(tempfile::TempDir);

impl Mounted {
    /// A file system in memory, with these options.
    pub(crate) fn tmpfs(options: &str) -> Self {
        let mounted = Self(tempfile::tempdir().unwrap());
        mounted.mount(&["-t", "tmpfs", "-o", options, "tmpfs"]);
        mounted
    }

    /// From now on it can only be read.
    pub(crate) fn make_read_only(&self) {
        self.mount(&["-o", "remount,ro"]);
    }

    /// Where it is.
    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }

    fn mount(&self, arguments: &[&str]) {
        let done = Command::new("mount").args(arguments).arg(self.path()).output().unwrap();
        let words = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success(), "cannot mount a file system (run as root): {words}");
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        Command::new("umount").arg("--lazy").arg(self.path()).status().ok();
    }
}
