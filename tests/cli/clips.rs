//! Clips that cannot be timed: each is named with what to do, and takes no
//! other clip down.

use super::bench::{Bench, content, silence};

const TIME: &str = "time --rig rig.toml --setup kit ";

#[test]
fn files_that_are_no_clip_are_named_one_by_one() {
    let bench = Bench::new();
    let good = content(&bench.path("good.mp4"));
    bench.file("letter.mp4", "Dear counter, the kit is slow.");
    bench.bytes("empty.mp4", b"");
    bench.bytes("short.mp4", &good[..good.len() / 3]);
    bench.bytes("sound.wav", &silence());
    bench.file("list.mp4", "ffconcat version 1.0\nfile 'good.mp4'\n");
    bench.file(
        "list.m3u8",
        "#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\ngood.mp4\n",
    );
    for (file, words) in [
        ("letter.mp4", &["not a film", "MP4"][..]),
        ("empty.mp4", &["is empty", "copy the clip"]),
        ("short.mp4", &["moov", "copy the clip again"]),
        ("sound.wav", &["not a film"]),
        ("list.mp4", &["not a film"]),
        ("list.m3u8", &["not a film"]),
    ] {
        let told = bench.run(&format!("{TIME}{file}"));
        told.says(1, &[file, "nothing was written"]);
        told.says(1, words);
        assert!(bench.listed(".timing.json").is_empty(), "{file}");
    }
}

#[test]
fn sound_in_a_film_container_is_told_from_a_film() {
    let bench = Bench::new();
    let made = std::process::Command::new("ffmpeg")
        .args(["-v", "quiet", "-f", "lavfi", "-i", "sine=d=1", "-y"])
        .arg(bench.path("sound.mp4"))
        .status();
    if !made.is_ok_and(|s| s.success()) {
        println!("skipped: the ffmpeg tool is not installed");
        return;
    }
    let told = bench.run(&format!("{TIME}sound.mp4"));
    told.says(1, &["sound.mp4", "no video track", "give the film"]);
}

#[test]
fn what_is_no_file_is_a_wrong_request() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("folder")).unwrap();
    let told = bench.run(&format!("{TIME}folder"));
    told.says(2, &["folder is a folder", "name a clip"]);
    let told = bench.run(&format!("{TIME}gone.mp4"));
    told.says(2, &["gone.mp4 is not there", "name a clip"]);
    let told = bench.run(&format!("{TIME}good.mp4 good.mp4"));
    told.says(2, &["good.mp4 is named twice"]);
}

#[cfg(unix)]
#[test]
fn a_clip_that_may_not_be_read_is_said() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::new();
    let clip = bench.path("good.mp4");
    std::fs::set_permissions(&clip, std::fs::Permissions::from_mode(0o000)).unwrap();
    if std::fs::File::open(&clip).is_ok() {
        println!("skipped: this user may read everything");
        return;
    }
    bench
        .run(&format!("{TIME}good.mp4"))
        .says(1, &["good.mp4", "permissions"]);
}

#[test]
fn one_broken_clip_does_not_take_the_others_down() {
    let bench = Bench::new();
    bench.file("broken.mp4", "no film");
    bench.session(
        "[[setup]]\nname = \"kit-amber\"\nclips = [\"broken.mp4\", \"good.mp4\"]\n\
         [[setup]]\nname = \"kit-slate\"\nclips = [\"good.mp4\"]\n",
    );
    let told = bench.run("time session.toml");
    told.says(1, &["error: kit-amber: ", "broken.mp4", "not a film"]);
    assert!(
        told.out.contains("1 of 2 clips could not be judged"),
        "{told:?}"
    );
    assert_eq!(
        bench.listed(".timing.json"),
        ["kit-amber.timing.json", "kit-slate.timing.json"]
    );
    let first = content(&bench.path("kit-amber.timing.json"));
    // The same clips and settings again: no --force is needed.
    bench.run("time session.toml").says(1, &["broken.mp4"]);
    assert_eq!(content(&bench.path("kit-amber.timing.json")), first);
}

#[test]
fn a_setup_without_any_trial_writes_nothing_and_the_next_goes_on() {
    let bench = Bench::new();
    bench.file("broken.mp4", "no film");
    bench.session(
        "[[setup]]\nname = \"kit-amber\"\nclips = [\"broken.mp4\"]\n\
         [[setup]]\nname = \"kit-slate\"\nclips = [\"good.mp4\"]\n",
    );
    let told = bench.run("time session.toml");
    told.says(
        1,
        &["kit-amber: no trial in any clip, so nothing was written"],
    );
    assert_eq!(bench.listed(".timing.json"), ["kit-slate.timing.json"]);
}

#[test]
fn a_true_rate_that_nobody_can_know_is_asked_for_before_decoding() {
    let bench = Bench::new();
    bench.file(
        "scene.toml",
        "[motion]\nlead_ms = 100\ntail_ms = 100\n[film]\nsize = [320, 240]\n\
         [container]\nstored_fps = 30\n[[trial]]\n",
    );
    assert_eq!(bench.run("render scene.toml -o slow.mp4").code, 0);
    bench.file("rig.toml", &super::bench::RIG.replace("fps = 240.0", ""));
    let told = bench.run(&format!("{TIME}slow.mp4"));
    told.says(
        2,
        &[
            "slow.mp4",
            "`capture.fps`",
            "30.00 frames a second",
            "counter",
        ],
    );
    assert!(bench.listed(".timing.json").is_empty());
}
