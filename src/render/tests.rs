use super::scene::{At, Motion, Outcome, Profile, Side, Stimulus, Trial};
use super::truth::UpdateTruth;
use super::*;

/// Refreshes at k/60 s, lag 55 ms, screen 300 px high: all by hand.
fn scene(outcomes: &[Outcome]) -> Scene {
    let mut scene = Scene::default();
    (scene.lens.delay_ms, scene.lens.drive_ms) = (100.0, 200.0);
    scene.motion = Motion {
        profile: Profile::Stop,
        move_ms: 300.0,
        pause_ms: 2000.0,
        pause_jitter_ms: 0.0,
        lead_ms: 1000.0,
        ..Motion::default()
    };
    scene.screen.phase_ms = Some(0.0);
    scene.screen.corners = Some([[100., 50.], [500., 50.], [500., 350.], [100., 350.]]);
    scene.live_view.lag_ms = 55.0;
    (scene.optics.near_permille, scene.optics.far_permille) = (40.0, 40.0);
    let trial = |outcome| Trial {
        outcome,
        ..Trial::default()
    };
    scene.trials = outcomes.iter().copied().map(trial).collect();
    scene
}

fn refresh(t: f64) -> f64 {
    (t * 60.0).ceil() / 60.0
}

fn close(got: f64, want: f64) -> bool {
    (got - want).abs() < 1e-9
}

fn verdicts(truth: &Truth) -> Vec<(Verdict, Option<&'static str>)> {
    truth.trials.iter().map(|t| (t.verdict, t.reason)).collect()
}

/// The card falls from 1.0 to 1.3 s; 55 ms later is 1.355, shown at 82/60. The
/// lens moves from 1.4 to 1.6 s; its blur of 40 ‰ falls as 20·(1 + cos πτ)
/// and is b at τ = acos(b/20 − 1)/π: δ = 2 ‰, its pair 3 and 4/3 ‰.
#[test]
fn instants_of_a_plain_trial_are_those_worked_out_by_hand() {
    let truth = foresee(&scene(&[Outcome::Hit])).unwrap();
    let trial = &truth.trials[0];
    assert_eq!(trial.side, Some(Side::Near));
    assert_eq!((trial.verdict, trial.reason), (Verdict::Hit, None));
    assert!(close(trial.onset_s, 82.0 / 60.0));
    assert!(close(trial.move_s.unwrap(), refresh(1.055)));
    assert!((trial.world.onset_s - 1.3).abs() < 1e-9);
    let at = |b: f64| 1.4 + 0.2 * ((b / 20.0 - 1.0).acos() / std::f64::consts::PI);
    let [first, last] = trial.settle_s.unwrap();
    assert!(close(first, refresh(at(3.0) + 0.055)), "{first}");
    assert!(close(last, refresh(at(4.0 / 3.0) + 0.055)), "{last}");
    assert!(close(trial.crossing_s.unwrap(), refresh(at(2.0) + 0.055)));
    let world = trial.world.settle_s.unwrap();
    assert!((world[0] - at(3.0)).abs() < 2e-4 && (world[1] - at(4.0 / 3.0)).abs() < 2e-4);
    // 0.5 ‰ less than at onset.
    assert!(close(trial.reaction_s.unwrap(), refresh(at(39.5) + 0.055)));
    assert!(close(trial.blur_permille.onset, 40.0));
    assert_eq!(trial.blur_permille.end, Some(0.0));
    assert!(close(trial.window_end_s, 82.0 / 60.0 + 1.5));
    assert_eq!(trial.early, Some(false));
}

#[test]
fn every_outcome_has_its_verdict() {
    use Outcome::{DidNotStay, Hit, HuntedOn, NeverMoved, Relapse, Soft};
    for (outcome, want) in [
        (Hit, (Verdict::Hit, None)),
        (Relapse, (Verdict::Hit, None)),
        (Soft, (Verdict::Soft, None)),
        (HuntedOn, (Verdict::Lost, Some("hunted on"))),
        (NeverMoved, (Verdict::Lost, Some("never moved"))),
        (DidNotStay, (Verdict::Lost, Some("did not stay"))),
    ] {
        let truth = foresee(&scene(&[outcome, Hit, Hit])).unwrap();
        let got = verdicts(&truth);
        assert_eq!(got[0], want);
        // A lens that stayed on the other side's plane has nothing to do.
        let second = match outcome {
            NeverMoved => (Verdict::Void, Some("not displaced")),
            _ => (Verdict::Hit, None),
        };
        assert_eq!(got[1], second, "after {outcome:?}");
        let moved = outcome != NeverMoved;
        assert_eq!(truth.trials[0].reaction_s.is_some(), moved);
        let settled = matches!(want.0, Verdict::Hit | Verdict::Soft);
        assert_eq!(truth.trials[0].settle_s.is_some(), settled);
    }
}

#[test]
fn a_drive_longer_than_the_window_is_lost() {
    let mut slow = scene(&[Outcome::Hit]);
    slow.trials[0].drive_ms = Some(2200.0);
    let truth = foresee(&slow).unwrap();
    assert_eq!(verdicts(&truth), [(Verdict::Lost, Some("hunted on"))]);
}

#[test]
fn a_trial_without_its_whole_window_is_cut() {
    let mut short = scene(&[Outcome::Hit, Outcome::Hit, Outcome::Hit]);
    short.trials[0].pause_ms = Some(1650.0);
    short.motion.tail_ms = Some(1600.0);
    let cut = (Verdict::Void, Some("cut"));
    let truth = foresee(&short).unwrap();
    assert_eq!(verdicts(&truth), [cut, (Verdict::Hit, None), cut]);
    assert_eq!(truth.trials[0].would_be.verdict, Verdict::Hit);
    assert_eq!(truth.trials[0].settle_s, None);
}

#[test]
fn a_lens_that_follows_the_target_is_early() {
    let mut scene = scene(&[Outcome::Hit; 3]);
    scene.trials[0].delay_ms = Some(-280.0);
    scene.trials[1].delay_ms = Some(-50.0);
    scene.trials[2].delay_ms = Some(-80.0);
    let truth = foresee(&scene).unwrap();
    assert_eq!(truth.trials[0].early, Some(true));
    assert!(truth.trials[0].settle_s.unwrap()[1] < truth.trials[0].onset_s);
    assert_eq!(truth.trials[1].early, Some(false));
    assert!(truth.trials.iter().all(|t| t.reaction_s.is_none()));
}

/// Sharp at onset says nothing of the lens where the card was never seen out
/// of focus, or where the lens had stayed on the card since it came the last time.
#[test]
fn sharp_at_onset_needs_a_lens_that_came_from_elsewhere() {
    let void = (Verdict::Void, Some("not displaced"));
    let mut always = scene(&[Outcome::Hit]);
    always.trials[0].delay_ms = Some(-280.0);
    assert_eq!(verdicts(&foresee(&always).unwrap()), [void]);
    let stays = foresee(&scene(&[Outcome::Hit, Outcome::NeverMoved, Outcome::Hit])).unwrap();
    let lost = (Verdict::Lost, Some("never moved"));
    assert_eq!(verdicts(&stays), [(Verdict::Hit, None), lost, void]);
}

/// A lens that runs through focus and stops 9 ‰ beyond it is soft; one that
/// stops within the hit limit is a hit.
#[test]
fn a_lens_that_runs_through_focus_is_soft_unless_it_stops_in_it() {
    let mut scene = scene(&[Outcome::RanThrough]);
    let truth = foresee(&scene).unwrap();
    assert_eq!(verdicts(&truth), [(Verdict::Soft, None)]);
    assert!(close(truth.trials[0].blur_permille.end.unwrap(), 9.0));
    let seen = truth.updates.iter().filter_map(|u| u.permille.zip(u.side));
    let near = seen.filter(|(_, side)| *side == Side::Near);
    assert!(near.map(|(b, _)| b).fold(f64::MAX, f64::min) < 2.0);
    scene.lens.residual_permille = 3.9;
    assert_eq!(verdicts(&foresee(&scene).unwrap()), [(Verdict::Hit, None)]);
    scene.hit_permille = 3.5;
    assert_eq!(verdicts(&foresee(&scene).unwrap()), [(Verdict::Soft, None)]);
}

/// Before the card comes the background is sharp; while it is under way there
/// is no subject.
#[test]
fn every_update_has_its_blur_and_its_side() {
    let truth = foresee(&scene(&[Outcome::Hit])).unwrap();
    let period = 1.0 / 60.0;
    let even = |w: &[UpdateTruth]| close(w[1].shown_s - w[0].shown_s, period);
    assert!(truth.updates.windows(2).all(even));
    let sides = |side| truth.updates.iter().filter(move |u| u.side == side);
    assert!(sides(Some(Side::Far)).all(|u| u.permille == Some(0.0)));
    assert!(sides(None).all(|u| u.permille.is_none()) && sides(None).count() > 3);
    // Between the shown onset and the lens's start the card is 40 ‰ off.
    let early = |u: &&UpdateTruth| (82.0 / 60.0 - 1e-6..1.45).contains(&u.shown_s);
    let mut waiting = truth.updates.iter().filter(early);
    assert!(waiting.all(|u| u.side == Some(Side::Near) && u.permille == Some(40.0)));
    let last = truth.updates.last().unwrap();
    assert_eq!((last.side, last.permille), (Some(Side::Near), Some(0.0)));
}

/// Half a swing takes 2 s. The area (0.35..0.65) is covered to 90 % once the
/// card's left edge, 0.24 + 0.5·(1 − s), has come to 0.38: s = 0.72.
#[test]
fn a_free_pendulum_starts_trials_by_what_it_covers() {
    let mut scene = scene(&[Outcome::Hit, Outcome::Hit]);
    scene.at = At::Cover;
    scene.window_ms = 900.0;
    scene.motion.profile = Profile::Ease;
    scene.motion.move_ms = 2000.0;
    scene.motion.pause_ms = 0.0;
    let truth = foresee(&scene).unwrap();
    let tau = (1.0 - 2.0 * 0.72_f64).acos() / std::f64::consts::PI;
    assert!((truth.trials[0].world.onset_s - (1.0 + 2.0 * tau)).abs() < 1e-6);
    // It leaves the area but for 10 % when the edge has come to 0.62: s = 0.76.
    let tau = (1.0 - 2.0 * 0.76_f64).acos() / std::f64::consts::PI;
    assert!((truth.trials[1].world.onset_s - (3.0 + 2.0 * tau)).abs() < 1e-6);
    assert_eq!(verdicts(&truth), [(Verdict::Hit, None); 2]);
}

#[test]
fn a_light_is_seen_directly() {
    let mut scene = scene(&[Outcome::Hit, Outcome::NeverMoved]);
    scene.stimulus = Stimulus::Light;
    let truth = foresee(&scene).unwrap();
    let trial = &truth.trials[0];
    assert!(trial.side.is_none() && trial.move_s.is_none() && trial.early.is_none());
    assert!(close(trial.onset_s, 1.0));
    // 28 ‰ = 8.4 px, 1.1 .. 1.3 s.
    let tau = (2.0_f64 / 8.4 - 1.0).acos() / std::f64::consts::PI;
    let first = refresh(1.1 + 0.2 * tau + 0.055);
    assert!(close(trial.settle_s.unwrap()[0], first));
    assert_eq!(truth.trials[1].reason, Some("never moved"));
    // Sharp from the start and unmoved: nothing was tested.
    scene.light.start_permille = 0.0;
    let truth = foresee(&scene).unwrap();
    assert_eq!(verdicts(&truth)[1], (Verdict::Void, Some("not displaced")));
}

#[test]
fn a_kit_draws_the_shares_it_is_given() {
    let text = "[kit]\ncount = 400\nsoft = 0.1\nhunted_on = 0.05\nnever_moved = 0.05\n\
                delay_ms = { median = 80, log_sd = 0.2 }\n";
    let scene = Scene::from_toml(text, "kit.toml").unwrap();
    let trials = kit::trials(&scene);
    let count = |o| trials.iter().filter(|t| t.outcome == o).count() as f64;
    // Within three standard deviations of the binomial.
    assert!((count(Outcome::Soft) - 40.0).abs() < 18.0);
    assert!((count(Outcome::HuntedOn) - 20.0).abs() < 13.0);
    let mut delays: Vec<f64> = trials.iter().filter_map(|t| t.delay_ms).collect();
    delays.sort_by(f64::total_cmp);
    assert!((delays[200] - 80.0).abs() < 4.0, "{}", delays[200]);
    assert_eq!(trials, kit::trials(&scene));
}

/// A second and a half of a small film.
fn small() -> Scene {
    let mut scene = Scene::default();
    (scene.film.fps, scene.film.size) = (60.0, [160, 120]);
    scene.screen.bezel_px = 6.0;
    (scene.motion.lead_ms, scene.motion.tail_ms) = (200.0, Some(900.0));
    scene.trials = vec![Trial::default()];
    scene
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    let dir = tempfile::tempdir().unwrap();
    let make = |name: &str, scene: &Scene| {
        let clip = dir.path().join(name);
        render(scene, dir.path(), &clip, |_, _| ()).unwrap();
        let truth = std::fs::read(truth_path(&clip)).unwrap();
        (std::fs::read(clip).unwrap(), truth)
    };
    let first = make("a.mp4", &small());
    assert!(first == make("b.mp4", &small()));
    let other = Scene { seed: 2, ..small() };
    assert!(first.0 != make("c.mp4", &other).0);
    let left: Vec<_> = std::fs::read_dir(dir.path()).unwrap().collect();
    assert_eq!(left.len(), 6);
}

#[test]
fn progress_counts_every_frame_that_is_written() {
    let dir = tempfile::tempdir().unwrap();
    let mut scene = small();
    scene.container.dropped = vec![5, 6];
    let mut seen = Vec::new();
    let clip = dir.path().join("a.mkv");
    let truth = render(&scene, dir.path(), &clip, |d, n| seen.push((d, n))).unwrap();
    let n = truth.frames as u64;
    assert_eq!(seen.last(), Some(&(n, n)));
    assert_eq!(seen.len(), truth.frames);
}

#[test]
fn a_picture_turned_and_seen_by_a_player_is_upright() {
    let upright: Vec<u8> = (0..6).collect();
    // 0 1 2      one turn clockwise of the stored picture gives the upright one
    // 3 4 5
    assert_eq!(output::turn(upright.clone(), (3, 2), 1), [2, 5, 1, 4, 0, 3]);
    assert_eq!(output::turn(upright.clone(), (3, 2), 2), [5, 4, 3, 2, 1, 0]);
    assert_eq!(output::turn(upright, (3, 2), 3), [3, 0, 4, 1, 5, 2]);
}

#[test]
fn light_kind_needs_no_swing() {
    let dir = tempfile::tempdir().unwrap();
    let mut scene = small();
    scene.stimulus = Stimulus::Light;
    (scene.light.center, scene.light.radius) = ([20.0, 20.0], 5.0);
    let clip = dir.path().join("light.mp4");
    assert!(render(&scene, dir.path(), &clip, |_, _| ()).is_ok());
}
