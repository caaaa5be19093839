use super::*;
use crate::render::RenderError;

fn message(text: &str) -> String {
    Scene::from_toml(text, "harbour.toml")
        .unwrap_err()
        .to_string()
}

#[test]
fn an_empty_scene_is_a_scene() {
    let scene = Scene::from_toml("", "empty.toml").unwrap();
    assert_eq!(scene.film.fps, 240.0);
    assert!(scene.check().is_ok());
}

#[test]
fn errors_name_file_line_and_key() {
    for (text, line, key) in [
        ("seed = 2\n\n[screen]\nrefresh = 60\n", 4, "refresh"),
        ("[motion]\nmove_ms = -3\n", 2, "move_ms"),
        ("window_ms = 20\n", 1, "window_ms"),
        ("[film]\nfps = 240\nsize = [961, 540]\n", 3, "size"),
        ("[film]\nfps = 240\nexposure_ms = 9\n", 3, "exposure_ms"),
        ("[near]\n\nsize = [0.1, 0.1]\n", 3, "near.size"),
        ("[near]\naway = [0.6, 0.5]\n", 2, "near.away"),
        (
            "[screen]\ncorners = [[0,0],[9,9],[9,0],[0,9]]\n",
            2,
            "screen.corners",
        ),
        (
            "[[trial]]\nside = \"near\"\n[[trial]]\nside = \"near\"\n",
            1,
            "trial",
        ),
        ("[[trial]]\noutcome = \"great\"\n", 2, "outcome"),
        ("[container]\ndropped = [0]\n", 2, "container.dropped"),
        ("[container]\nrotation = 45\n", 2, "rotation"),
        ("[kit]\nsoft = 1.5\n", 2, "soft"),
        (
            "stimulus = \"light\"\n[light]\non_ms = 500\n",
            3,
            "light.on_ms",
        ),
        ("seed = = 3\n", 1, "seed"),
    ] {
        let got = message(text);
        let start = format!("harbour.toml:{line}: ");
        assert!(got.starts_with(&start), "{text:?} gave {got:?}");
        assert!(got.contains(key), "{text:?} gave {got:?}");
    }
}

#[test]
fn a_missing_image_names_file_line_and_key() {
    let text = "seed = 1\n[far]\nimage = \"no-such-wall.png\"\n";
    let scene = Scene::from_toml(text, "harbour.toml").unwrap();
    let dir = tempfile::tempdir().unwrap();
    let clip = dir.path().join("clip.mp4");
    let error = crate::render::render(&scene, dir.path(), &clip, |_, _| ()).unwrap_err();
    assert!(matches!(error, RenderError::Image { .. }));
    let got = error.to_string();
    assert!(got.starts_with("harbour.toml:3: `far.image`: "), "{got}");
    assert!(got.contains("no-such-wall.png"), "{got}");
    assert!(!clip.exists());
}

#[test]
fn a_trial_takes_what_it_leaves_out_from_the_lens() {
    let text = "[lens]\ndelay_ms = 10\ndrive_ms = 99\n[[trial]]\ndrive_ms = 50\n";
    let scene = Scene::from_toml(text, "t.toml").unwrap();
    let lens = scene.trials[0].lens(&scene.lens);
    assert_eq!((lens.delay_ms, lens.drive_ms), (10.0, 50.0));
}

#[test]
fn all_faults_come_at_once_with_the_nearest_key() {
    let got = message(
        "[motion]\nmove_m = 3\n[film]\nfps = \"240\"\nsize = [961, 540]\n[near]\naway = [0.6, 0.5]\n\
         [[trial]]\noutcome = \"great\"\nhunts = 200\n",
    );
    let lines: Vec<&str> = got.lines().collect();
    let wanted = [
        "harbour.toml:2: motion.move_m: is not a known key; did you mean `motion.move_ms`?",
        "harbour.toml:4: film.fps: is a string; give a number",
        "harbour.toml:5: film.size: is no size",
        "harbour.toml:7: near.away: does not leave the autofocus area",
        "harbour.toml:9: trial[0].outcome: is \"great\"; give one of \"hit\", \"soft\"",
        "harbour.toml:10: trial[0].hunts: is 200; give a whole number from 0 to 100",
    ];
    assert_eq!(lines.len(), wanted.len(), "{got}");
    for (line, wanted) in lines.iter().zip(wanted) {
        assert!(line.starts_with(wanted), "{wanted} … {line}");
    }
}
