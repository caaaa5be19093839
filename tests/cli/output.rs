//! What is written: where, under which name, and never over something else.

use super::bench::{Bench, Told, content};

#[test]
fn running_twice_or_with_more_threads_gives_the_same_bytes() {
    let bench = Bench::new();
    let timing = bench.path("kit-amber.timing.json");
    let first = bench.run("time session.toml");
    first.says(0, &["written: ", "kit-amber.timing.json"]);
    assert!(
        first.out.starts_with("kit-amber (unverified): "),
        "{first:?}"
    );
    let bytes = content(&timing);
    for workers in ["1", "2", "3"] {
        let again = bench.run(&format!("time session.toml --workers {workers}"));
        assert_eq!((again.code, &again.out), (0, &first.out));
        assert_eq!(content(&timing), bytes, "{workers} threads");
    }
}

#[test]
fn standard_input_is_a_clip_without_a_path() {
    let bench = Bench::new();
    let clip = content(&bench.path("good.mp4"));
    let args = ["time", "--rig", "rig.toml", "--setup", "kit", "-"];
    let mut seen = Vec::new();
    for _ in 0..2 {
        let run = bench
            .command()
            .args(args)
            .write_stdin(clip.clone())
            .output();
        assert_eq!(Told::of(run.unwrap()).code, 0);
        seen.push(content(&bench.path("kit.timing.json")));
    }
    assert_eq!(seen[0], seen[1]);
    let timing: serde_json::Value = serde_json::from_slice(&seen[0]).unwrap();
    assert_eq!(timing["clips"][0]["path"], "-");
    let args = ["time", "--rig", "rig.toml", "--setup", "other", "-"];
    let broken = bench.command().args(args).write_stdin("no film").output();
    Told::of(broken.unwrap()).says(1, &["standard input: is not a film"]);
    let empty = bench.command().args(args).write_stdin("").output();
    Told::of(empty.unwrap()).says(2, &["standard input: is empty"]);
}

#[test]
fn another_result_is_kept_unless_forced() {
    let bench = Bench::new();
    let timing = bench.path("kit.timing.json");
    let time = "time --rig rig.toml --setup kit good.mp4";
    assert_eq!(bench.run(time).code, 0);
    let old = content(&timing);
    let rig = super::bench::RIG.replace("window_ms = 600", "window_ms = 500");
    bench.file("rig.toml", &rig);
    bench.run(time).says(
        2,
        &["kit.timing.json", "other settings", "--out", "--force"],
    );
    assert_eq!(content(&timing), old);
    assert_eq!(bench.run(&format!("{time} --force")).code, 0);
    assert_ne!(content(&timing), old);
    bench.file("kit.timing.json", "my notes");
    bench
        .run(time)
        .says(2, &["kit.timing.json", "no timing file", "--force"]);
    assert_eq!(content(&timing), b"my notes");
}

#[test]
fn the_output_folder_must_be_one() {
    let bench = Bench::new();
    bench
        .run("time session.toml --out gone/deeper")
        .says(2, &["gone/deeper", "does not exist", "make it first"]);
    bench
        .run("time session.toml --out rig.toml")
        .says(2, &["rig.toml", "is a file, not a folder"]);
    std::fs::create_dir(bench.path("results")).unwrap();
    assert_eq!(bench.run("time session.toml --out results").code, 0);
    assert!(bench.path("results/kit-amber.timing.json").is_file());
    assert!(bench.listed(".timing.json").is_empty());
}

#[test]
fn an_exclusion_that_takes_nothing_out_is_warned_of() {
    let bench = Bench::new();
    bench.session(
        "[[setup]]\nname = \"kit\"\nclips = [\"good.mp4\"]\n\
         [[exclude]]\nclip = \"good.mp4\"\ntrial = 9\nreason = \"phone rang\"\n",
    );
    let told = bench.run("time session.toml");
    told.says(
        0,
        &[
            "warning: kit: good.mp4: trial 9 is excluded",
            "has 3 trials",
        ],
    );
}

#[test]
fn a_name_with_separators_is_made_safe() {
    let bench = Bench::new();
    bench.session("[[setup]]\nname = \"../kit/amber\"\nclips = [\"good.mp4\"]\n");
    assert_eq!(bench.run("time session.toml").code, 0);
    assert_eq!(bench.listed(".timing.json"), ["_.-kit-amber.timing.json"]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_or_a_closed_pipe_is_no_panic() {
    let bench = Bench::new();
    let shell = |line: &str| {
        let command = std::process::Command::new("sh")
            .current_dir(bench.path(""))
            .args(["-c", line])
            .arg(assert_cmd::cargo::cargo_bin("focuslag"))
            .output();
        Told::of(command.unwrap())
    };
    let full = shell("\"$0\" plan --hit-rate 0.9 --versus 0.7 > /dev/full");
    full.says(1, &["standard output cannot be written"]);
    let film = shell("\"$0\" time session.toml > /dev/full");
    film.says(1, &["standard output cannot be written"]);
    assert!(bench.path("kit-amber.timing.json").is_file());
    for command in [
        "--help",
        "time session.toml",
        "plan --fps 240",
        "time --help",
    ] {
        let closed = shell(&format!(
            "{{ \"$0\" {command}; echo \"ended with $?\" >&2; }} | :"
        ));
        closed.says(0, &["ended with 0"]);
    }
    let silent = shell("\"$0\" time session.toml 2>&- >&-");
    assert!(silent.code <= 1, "{silent:?}");
}
