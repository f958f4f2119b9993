//! A PostgreSQL of the tests' own: Debian's programs, a folder that goes away, a port of its own on
//! this machine. The program refuses to run as root; then it runs as the system's user `postgres`.

use std::net::TcpListener;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, Weak};
use std::thread::sleep;
use std::time::Duration;

use tempfile::TempDir;

/// The role that owns the tables, and the one that adds entries.
pub(crate) const OWNER: &str = "lab_owner";
pub(crate) const BENCH: &str = "bench";

/// A server that is up; it ends with this.
pub(crate) struct Server {
    child: Mutex<Child>,
    pub(crate) port: u16,
    folder: TempDir,
}

/// Databases are numbered.
static DATABASES: AtomicU32 = AtomicU32::new(1);

impl Server {
    /// One that several tests use at the same time, each in a database of its own.
    pub(crate) fn shared() -> Arc<Self> {
        static SHARED: Mutex<Weak<Server>> = Mutex::new(Weak::new());
        let mut shared = SHARED.lock().unwrap();
        shared.upgrade().unwrap_or_else(|| {
            let server = Arc::new(Self::start(&[]));
            *shared = Arc::downgrade(&server);
            server
        })
    }

    /// A new one, with further settings.
    pub(crate) fn start(settings: &[&str]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        if is_root() {
            done(Command::new("chown").arg("postgres").arg(folder.path()));
        }
        let kept = folder.path().join("kept");
        let initdb = ["--auth=trust", "--username=lab_super", "--encoding=UTF8", "--no-sync"];
        done(as_postgres("initdb").args(initdb).args(["--locale=C", "-D"]).arg(&kept));
        let port = free_port();
        let child = Self::spawn(&folder, port, settings);
        let server = Self { child: Mutex::new(child), port, folder };
        server.wait();
        server.say("postgres", &format!("CREATE ROLE {OWNER} LOGIN; CREATE ROLE {BENCH} LOGIN"));
        server
    }

    /// A new one that enciphers, by this certificate and this key (PEM).
    pub(crate) fn enciphered(certificate: &str, key: &str) -> Self {
        let place = tempfile::tempdir().unwrap();
        let settings =
            [("ssl_cert_file", certificate), ("ssl_key_file", key)].map(|(name, text)| {
                let path = place.path().join(name);
                std::fs::write(&path, text).unwrap();
                // The program takes a key that nobody else may read, and no other.
                done(Command::new("chmod").arg("600").arg(&path));
                format!("{name}={}", path.display())
            });
        if is_root() {
            done(Command::new("chown").args(["-R", "postgres"]).arg(place.path()));
        }
        // They are read when it starts.
        Self::start(&["ssl=on", &settings[0], &settings[1]])
    }

    fn spawn(folder: &TempDir, port: u16, settings: &[&str]) -> Child {
        let kept = folder.path().join("kept");
        let mut command = as_postgres("postgres");
        command.arg("-D").arg(kept).args(["-p", &port.to_string(), "-h", "127.0.0.1"]);
        command.args(["-c", "unix_socket_directories=", "-c", "max_connections=200"]);
        for setting in settings {
            command.args(["-c", setting]);
        }
        command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
    }

    /// Waits until questions are answered.
    fn wait(&self) {
        for _ in 0..600 {
            if self.try_say("postgres", "SELECT 1").is_ok() {
                return;
            }
            sleep(Duration::from_millis(50));
        }
        panic!("PostgreSQL does not start");
    }

    /// Kills it where it stands, with all that it was doing, and starts it again.
    pub(crate) fn kill_and_start(&self) {
        let mut child = self.child.lock().unwrap();
        child.kill().unwrap();
        child.wait().unwrap();
        // Its processes notice within moments; until then their memory keeps a new one from starting.
        for _ in 0..200 {
            *child = Self::spawn(&self.folder, self.port, &[]);
            sleep(Duration::from_millis(150));
            if child.try_wait().unwrap().is_none() {
                break;
            }
        }
        drop(child);
        self.wait();
    }

    /// A database of its own, owned by the role that is to own the tables: its name.
    pub(crate) fn database(&self) -> String {
        let name = format!("lab_{}", DATABASES.fetch_add(1, Ordering::Relaxed));
        self.say("postgres", &format!("CREATE DATABASE {name} OWNER {OWNER}"));
        name
    }

    /// An address for a role.
    pub(crate) fn address(&self, role: &str, database: &str) -> PathBuf {
        format!("postgres://{role}@127.0.0.1:{}/{database}", self.port).into()
    }

    /// Says something as the one who may do everything; gives what is answered.
    pub(crate) fn say(&self, database: &str, statement: &str) -> String {
        self.try_say(database, statement).unwrap()
    }

    pub(crate) fn try_say(&self, database: &str, statement: &str) -> Result<String, String> {
        self.say_as("lab_super", database, statement)
    }

    pub(crate) fn say_as(
        &self,
        role: &str,
        database: &str,
        statement: &str,
    ) -> Result<String, String> {
        let mut psql = Command::new(program("psql"));
        let told = psql
            .args(["-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1", "-c", statement, "-d"])
            .arg(self.address(role, database))
            .output()
            .unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap().trim().to_owned();
        if told.status.success() { Ok(text(told.stdout)) } else { Err(text(told.stderr)) }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let mut child = self.child.lock().unwrap();
        // The fast way out: everyone is sent away.
        let pid = child.id().to_string();
        Command::new("kill").args(["-INT", &pid]).status().ok();
        for _ in 0..100 {
            if child.try_wait().is_ok_and(|ended| ended.is_some()) {
                return;
            }
            sleep(Duration::from_millis(50));
        }
        child.kill().ok();
        child.wait().ok();
    }
}

fn is_root() -> bool {
    let told = Command::new("id").arg("-u").output().unwrap();
    told.stdout == b"0\n"
}

/// A program of PostgreSQL, by its path or by Debian's place for it.
fn program(name: &str) -> PathBuf {
    let on_path = std::env::var_os("PATH").unwrap_or_default();
    let mut places: Vec<PathBuf> = std::env::split_paths(&on_path).collect();
    let versions = std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    let mut debian: Vec<_> = versions.map(|version| version.path().join("bin")).collect();
    debian.sort();
    places.extend(debian.into_iter().rev());
    let found = places.into_iter().map(|place| place.join(name)).find(|path| path.is_file());
    found.unwrap_or_else(|| panic!("{name} of PostgreSQL is not here: run .ci/prepare"))
}

fn as_postgres(name: &str) -> Command {
    if !is_root() {
        return Command::new(program(name));
    }
    let mut command = Command::new("setpriv");
    command.args(["--reuid=postgres", "--regid=postgres", "--clear-groups"]);
    command.arg(program(name)).current_dir("/");
    command
}

fn done(command: &mut Command) {
    let told = command.output().unwrap();
    assert!(told.status.success(), "{command:?}: {}", String::from_utf8_lossy(&told.stderr));
}

/// A port that nobody has.
fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}
