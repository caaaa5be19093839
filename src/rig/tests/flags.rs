use std::path::Path;

use super::super::Session;
use super::session::{counter, names, read};

#[test]
fn faults_of_session_and_rigs_come_together_and_once() {
    let text = "rig = \"../rigs/bad.toml\"\n[[setup]]\nname = 3\nclips = [\"amber-1.mp4\"]\n[[setup]]\nname = \"b\"\nclips = [\"slate-1.mp4\"]\nrig = \"../rigs/bad.toml\"\n[[exclude]]\nclip = 7\n";
    let said: Vec<String> = read(&counter(), text)
        .unwrap_err()
        .list
        .iter()
        .map(ToString::to_string)
        .collect();
    let wanted = [
        "session.toml:3: setup[0].name",
        "session.toml:9: exclude[0].trial",
        "session.toml:9: exclude[0].reason",
        "session.toml:10: exclude[0].clip",
        "bad.toml:1: name: is missing",
        "bad.toml:2: trial.window_ms",
    ];
    assert_eq!(said.len(), wanted.len(), "{said:#?}");
    for (said, wanted) in said.iter().zip(wanted) {
        assert!(said.contains(wanted), "{wanted} … {said}");
    }
}

#[test]
fn flags_make_a_session_too() {
    let dir = counter();
    let at = |name: &str| dir.path().join(name);
    let rig = at("rigs/pendulum.toml");
    let tags = ["firmware=2.0".to_owned(), "note=a=b".to_owned()];
    let session = Session::from_flags(&rig, "kit-amber", &tags, &[at("day/amber-?.mp4")]).unwrap();
    assert_eq!(
        names(&session.setups[0].clips),
        ["amber-1.mp4", "amber-2.mp4"]
    );
    assert_eq!(session.setups[0].tags["note"], "a=b");
    assert_eq!(session.setups[0].rig_file, rig);

    let tags = ["firmware".to_owned(), "a=1".to_owned(), "a=2".to_owned()];
    let clips = [
        at("day/none.mp4"),
        at("day/amber-1.mp4"),
        at("day/amber-1.mp4"),
    ];
    let said = Session::from_flags(Path::new("none.toml"), " ", &tags, &clips)
        .unwrap_err()
        .to_string();
    for words in [
        "command line: --setup: is empty",
        "command line: --tag: is \"firmware\"; write it as KEY=VALUE",
        "command line: --tag: \"a\" is given twice",
        "none.mp4 is not there",
        "amber-1.mp4 is named twice",
        "none.toml: cannot be read",
    ] {
        assert!(said.contains(words), "{words} … {said}");
    }
    let said = Session::from_flags(&rig, "x", &[], &[])
        .unwrap_err()
        .to_string();
    assert!(said.contains("command line: CLIP: is missing"), "{said}");
}
