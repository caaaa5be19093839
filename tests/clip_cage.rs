//! What decodes a stranger's clip can open nothing, whatever it is made to do.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::fs::File;
use std::net::{TcpStream, UdpSocket};
use std::process::Command;

use focuslag::clip::{FrameSink, LumaFrame, ProbeOptions, decode, probe};
use support::Bench;

/// Stands for code that a clip has brought into a decoder: it tries everything
/// once, on the thread that decodes.
struct Attacker {
    elsewhere: std::path::PathBuf,
    succeeded: Option<Vec<&'static str>>,
}

/// What of all this can be done here.
fn possible(elsewhere: &std::path::Path) -> Vec<&'static str> {
    let mut out = Vec::new();
    let mut tried = |what, done: bool| out.extend(done.then_some(what));
    tried("read a file", File::open("/etc/passwd").is_ok());
    tried("list a folder", std::fs::read_dir("/").is_ok());
    tried("write a file", File::create(elsewhere).is_ok());
    tried("remove a file", std::fs::remove_file(elsewhere).is_ok());
    tried("open a socket", UdpSocket::bind("127.0.0.1:0").is_ok());
    let refused = |e: std::io::Error| e.kind() == std::io::ErrorKind::ConnectionRefused;
    tried(
        "reach out",
        TcpStream::connect("127.0.0.1:1").is_err_and(refused),
    );
    tried("run a program", Command::new("true").status().is_ok());
    tried("keep readings", tempfile::tempfile().is_ok());
    out
}

impl FrameSink for Attacker {
    type Out = Vec<&'static str>;

    fn frame(&mut self, _: &LumaFrame<'_>) {
        if self.succeeded.is_none() {
            self.succeeded = Some(possible(&self.elsewhere));
        }
    }

    fn finish(self) -> Self::Out {
        self.succeeded.unwrap_or_default()
    }
}

/// Whether this kernel has Landlock (Linux 5.13, where it is switched on).
fn has_landlock() -> bool {
    // SAFETY: asks for the version alone: no pointer is read (landlock(7)).
    unsafe { libc::syscall(libc::SYS_landlock_create_ruleset, 0usize, 0usize, 1u32) > 0 }
}

#[test]
fn a_decoder_that_was_taken_over_opens_nothing() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    if !has_landlock() {
        println!("skipped: this kernel has no Landlock");
        return;
    }
    let clip = bench.moving("a.mp4", "64x48", "25", 100, "-c:v libx264 -g 48");
    let index = probe(&clip, &ProbeOptions::default()).unwrap();
    // Writable by everybody, but not where readings go (Filesystem Hierarchy
    // Standard 3.0, 5.15).
    let here = tempfile::tempdir_in("/var/tmp").unwrap();
    let elsewhere = here.path().join("a-decoder-was-here");
    let mut done = Vec::new();
    let sink = |_| Attacker {
        elsewhere: elsewhere.clone(),
        succeeded: None,
    };
    decode(&index, 2, sink, |part| done.push(part), |_| {}).unwrap();
    assert_eq!(done.len(), 2, "two stretches, two threads");
    for part in done {
        assert_eq!(part, ["keep readings"]);
    }
    // The rest of the process is as free as before.
    let free = possible(&elsewhere);
    for what in [
        "read a file",
        "write a file",
        "open a socket",
        "run a program",
    ] {
        assert!(free.contains(&what), "{what}: {free:?}");
    }
}
