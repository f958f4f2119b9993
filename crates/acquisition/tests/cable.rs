//! A pair of terminals that stands for a serial cable, and instruments at its far end.
#![expect(clippy::disallowed_methods, reason = "devices are given names in a folder of the test")]

use std::fs::File;
use std::io::{Read as _, Write as _};
use std::os::fd::OwnedFd;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use rmodbus::ModbusProto;
use rmodbus::server::ModbusFrame;
use rmodbus::server::context::ModbusContext as _;
use rmodbus::server::storage::ModbusStorageSmall;
use rustix::fs::OFlags;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

/// The far end of a cable whose near end is a device at a path that can be opened.
#[derive(Debug)]
pub(crate) struct Cable {
    far: File,
    /// The near end is held open, as a driver would.
    _near: OwnedFd,
    path: PathBuf,
}

impl Cable {
    pub(crate) fn new() -> Self {
        let far = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&far).unwrap();
        unlockpt(&far).unwrap();
        let mut form = tcgetattr(&far).unwrap();
        form.make_raw();
        tcsetattr(&far, OptionalActions::Now, &form).unwrap();
        let path = ptsname(&far, Vec::new()).unwrap().into_string().unwrap();
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
        let near = rustix::fs::open(path.as_str(), flags, rustix::fs::Mode::empty()).unwrap();
        Self { far: File::from(far), _near: near, path: PathBuf::from(path) }
    }

    /// Gives the device a name that stays when the cable is another.
    pub(crate) fn name_it(&self, name: &Path) {
        std::fs::remove_file(name).ok();
        symlink(&self.path, name).unwrap();
    }

    pub(crate) fn send(&mut self, bytes: &[u8]) {
        self.far.write_all(bytes).unwrap();
    }

    /// The baud rate that the near end was set to.
    pub(crate) fn baud(&self) -> u32 {
        tcgetattr(&self.far).unwrap().input_speed()
    }

    /// Whether bytes were ever written into the near end.
    pub(crate) fn was_written_to(&self) -> bool {
        rustix::io::ioctl_fionread(&self.far).unwrap() > 0
    }

    /// Puts a Modbus instrument at the far end, with these input registers from 0 on.
    pub(crate) fn instrument(&self, unit: u8, registers: &[u16]) -> Instrument {
        let mut storage = ModbusStorageSmall::new();
        storage.set_inputs_bulk(0, registers).unwrap();
        let state = Arc::new(AtomicU8::new(ANSWERS));
        let far = self.far.try_clone().unwrap();
        let told = Arc::clone(&state);
        let thread = std::thread::spawn(move || serve(far, unit, &storage, &told));
        Instrument { state, thread }
    }
}

/// A Modbus instrument in a thread.
#[derive(Debug)]
pub(crate) struct Instrument {
    state: Arc<AtomicU8>,
    thread: JoinHandle<()>,
}

const ANSWERS: u8 = 0;
const SILENT: u8 = 1;
const GONE: u8 = 2;

impl Instrument {
    pub(crate) fn fall_silent(&self) {
        self.state.store(SILENT, Ordering::Relaxed);
    }

    pub(crate) fn speak(&self) {
        self.state.store(ANSWERS, Ordering::Relaxed);
    }

    /// Goes with the next question, and is sure to be gone then.
    pub(crate) async fn go(self) {
        self.state.store(GONE, Ordering::Relaxed);
        tokio::task::spawn_blocking(|| self.thread.join().unwrap()).await.unwrap();
    }
}

/// Bytes of a question that reads.
const QUESTION: usize = 8;

fn serve(mut far: File, unit: u8, storage: &ModbusStorageSmall, state: &AtomicU8) {
    let mut question = [0; 256];
    let mut length = 0;
    loop {
        match far.read(&mut question[length..QUESTION]) {
            Ok(0) => return,
            Ok(count) => length += count,
            // The near end is closed for a moment.
            Err(_) => std::thread::sleep(Duration::from_millis(2)),
        }
        if length < QUESTION {
            continue;
        }
        length = 0;
        match state.load(Ordering::Relaxed) {
            SILENT => continue,
            GONE => return,
            _ => {}
        }
        let mut answer = Vec::new();
        let mut frame = ModbusFrame::new(unit, &question, ModbusProto::Rtu, &mut answer);
        if frame.parse().is_err() {
            continue;
        }
        assert!(frame.readonly, "a question that writes was asked");
        if frame.processing_required {
            frame.process_read(storage).ok();
        }
        if frame.response_required {
            frame.finalize_response().unwrap();
            far.write_all(&answer).unwrap();
        }
    }
}
