//! Modbus, against a server over the network and a simulated instrument at a serial cable, each
//! by another hand than ours.

use std::future::{Ready, ready};
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU16, Ordering};

use acquisition::{Event, Live, Trouble, open};
use tempfile::TempDir;
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinHandle;
use tokio_modbus::server::Service;
use tokio_modbus::server::tcp::{Server, accept_tcp_connection};
use tokio_modbus::{ExceptionCode, Request, Response};

use crate::cable::Cable;
use crate::made::{Paper, celsius, clock, imported, settings, until, word, words_on_time};

/// Input register 0 is what is set, 1 and 2 hold 25.5 with the low word first; there are no others.
#[derive(Clone)]
struct Registers(Arc<AtomicU16>);

impl Service for Registers {
    type Request = Request<'static>;
    type Response = Response;
    type Exception = ExceptionCode;
    type Future = Ready<Result<Response, ExceptionCode>>;

    fn call(&self, request: Request<'static>) -> Self::Future {
        let words = [self.0.load(Ordering::Relaxed), 0x0000, 0x41CC];
        let Request::ReadInputRegisters(first, count) = request else {
            panic!("something else than input registers was asked for")
        };
        let found = words.get(usize::from(first)..usize::from(first + count));
        let answer = found.map(|words| Response::ReadInputRegisters(words.to_vec()));
        ready(answer.ok_or(ExceptionCode::IllegalDataAddress))
    }
}

fn serve(listener: TcpListener, registers: Registers) -> JoinHandle<()> {
    tokio::spawn(async move {
        let connected = |stream: TcpStream, from: SocketAddr| {
            let registers = registers.clone();
            async move { accept_tcp_connection(stream, from, |_| Ok(Some(registers.clone()))) }
        };
        Server::new(listener).serve(&connected, |_| ()).await.unwrap();
    })
}

fn tcp_settings(address: SocketAddr, more: &str) -> String {
    format!(
        "source = \"modbus-tcp\"\naddress = \"{address}\"\ninterval_seconds = 0.02\n\
         silence_seconds = 0.5\nanswer_within_seconds = 0.3\n\
         [[channel]]\nname = \"Block\"\ntable = \"input\"\nregister = 0\nnumber = \"i16\"\n\
         scale = 0.1\nunit = \"C\"\nopen_circuit = [32767]\n\
         [[channel]]\nname = \"Air\"\ntable = \"input\"\nregister = 1\nnumber = \"f32\"\n\
         word_order = \"low-first\"\nunit = \"C\"\n{more}"
    )
}

async fn first_readings<W>(live: &mut Live<W>) -> Vec<Event> {
    until(live, |event| word(event) == "readings").await
}

#[tokio::test]
async fn registers_over_the_network_are_read_and_recorded() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let block = Arc::new(AtomicU16::new(237));
    let server = serve(listener, Registers(Arc::clone(&block)));
    let paper = Paper::default();
    let text = tcp_settings(address, "");
    let mut live = open(&settings(&text), clock(), paper.clone()).await.unwrap().live;
    for _ in 0..3 {
        let events = first_readings(&mut live).await;
        assert_eq!((celsius(&events, 0), celsius(&events, 1)), (vec![23.7], vec![25.5]));
    }
    block.store(32767, Ordering::Relaxed);
    let open = until(&mut live, |event| word(event) == "open-circuit").await;
    assert!(celsius(&open, 0).iter().all(|value| value.to_bits() == 23.7_f64.to_bits()));
    block.store(240, Ordering::Relaxed);
    let whole = until(&mut live, |event| word(event) == "returned").await;
    assert!(matches!(whole.last(), Some(Event::Returned { channel: Some(0), .. })));
    first_readings(&mut live).await;
    live.stop().await.unwrap();
    let text = paper.text();
    assert!(text.contains(",23.7,25.5,input 0: 00ED 0000 41CC\n"), "{text}");
    let trace = imported(&text, "Block").trace;
    assert!(trace.len() >= 4 && !trace.missing().is_empty());
    server.abort();
}

#[tokio::test]
async fn a_register_that_is_refused_is_told_once_and_the_others_go_on() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let server = serve(listener, Registers(Arc::new(AtomicU16::new(200))));
    let more = "[[channel]]\nname = \"Far\"\ntable = \"input\"\nregister = 90\nnumber = \"i16\"\n\
                unit = \"C\"\n";
    let text = tcp_settings(address, more);
    let mut live = open(&settings(&text), clock(), Paper::default()).await.unwrap().live;
    let mut told = Vec::new();
    for _ in 0..5 {
        told.extend(first_readings(&mut live).await);
    }
    let refusals: Vec<String> = told
        .iter()
        .filter_map(|event| match event {
            Event::Trouble { trouble: refused @ Trouble::NoValue { .. }, .. } => {
                Some(refused.to_string())
            }
            Event::Trouble { .. } | Event::Readings(_) | Event::Returned { .. } => None,
        })
        .collect();
    assert_eq!(refusals, ["There is no value of input register 90: it has no such register."]);
    server.abort();
}

#[tokio::test]
async fn a_server_that_is_gone_and_comes_back_returns() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let registers = Registers(Arc::new(AtomicU16::new(200)));
    let server = serve(listener, registers.clone());
    let text = tcp_settings(address, "");
    let mut live = open(&settings(&text), clock(), Paper::default()).await.unwrap().live;
    first_readings(&mut live).await;
    server.abort();
    let gone = until(&mut live, |event| word(event) == "unplugged").await;
    assert_eq!(words_on_time(&gone).last(), Some(&"unplugged"));
    let listener = TcpListener::bind(address).await.unwrap();
    let server = serve(listener, registers);
    let back = first_readings(&mut live).await;
    assert_eq!(words_on_time(&back), ["returned", "readings"]);
    server.abort();
}

fn rtu_settings(port: &std::path::Path, unit: u8) -> String {
    format!(
        "source = \"modbus-rtu\"\nunit_number = {unit}\ninterval_seconds = 0.03\n\
         silence_seconds = 0.4\nanswer_within_seconds = 0.1\n\
         [port]\npath = \"{}\"\nbaud = 19200\n\
         [[channel]]\nname = \"Block\"\ntable = \"input\"\nregister = 0\nnumber = \"i16\"\n\
         scale = 0.1\nunit = \"C\"\n\
         [[channel]]\nname = \"Air\"\ntable = \"input\"\nregister = 5\nnumber = \"u16\"\n\
         scale = 0.01\nunit = \"K\"\n",
        port.display()
    )
}

#[tokio::test]
async fn registers_over_a_serial_cable_are_read_each_at_its_time() {
    let folder = TempDir::new().unwrap();
    let port = folder.path().join("port");
    let cable = Cable::new();
    cable.name_it(&port);
    let instrument = cable.instrument(17, &[7004, 0, 0, 0, 0, 29615]);
    let text = rtu_settings(&port, 17);
    let mut live = open(&settings(&text), clock(), Paper::default()).await.unwrap().live;
    let block = first_readings(&mut live).await;
    let air = first_readings(&mut live).await;
    assert_eq!(celsius(&block, 0), [700.4]);
    assert_eq!(celsius(&air, 1), [296.15 - 273.15]);
    assert!(block.last().unwrap().at() < air.last().unwrap().at());
    instrument.fall_silent();
    let quiet = until(&mut live, |event| word(event) == "silence").await;
    assert!(words_on_time(&quiet).contains(&"no-value"), "{:?}", words_on_time(&quiet));
    instrument.speak();
    let back = first_readings(&mut live).await;
    assert!(words_on_time(&back).ends_with(&["returned", "readings"]));
    instrument.go().await;
    drop(cable);
    let gone = until(&mut live, |event| word(event) == "unplugged").await;
    assert!(!gone.is_empty());
}

#[tokio::test]
async fn another_unit_number_gives_no_answer() {
    let folder = TempDir::new().unwrap();
    let port = folder.path().join("port");
    let cable = Cable::new();
    cable.name_it(&port);
    let _instrument = cable.instrument(17, &[200; 6]);
    let text = rtu_settings(&port, 18);
    let mut live = open(&settings(&text), clock(), Paper::default()).await.unwrap().live;
    let events = until(&mut live, |event| word(event) == "silence").await;
    assert!(celsius(&events, 0).is_empty());
    let Event::Trouble { trouble, .. } = &events[0] else { panic!("{events:?}") };
    let expected = "There is no value of input register 0: no answer came within 0.1 s.";
    assert_eq!(trouble.to_string(), expected);
}
