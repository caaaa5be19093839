//! When the camera draws what over its live view.

use super::scene::{Overlay, Scene, Shape, Since};
use super::schedule::{self, Update};
use super::truth::{CueTruth, TrialTruth};

/// One piece of graphics as it looks at some time.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Mark {
    /// Which overlay of the scene.
    pub overlay: usize,
    /// Display values of red, green and blue.
    pub color: [f64; 3],
    /// What a clock shows, in hundredths of a second.
    pub reading: u64,
}

/// All overlays over the whole clip.
pub(crate) struct Timeline<'a> {
    scene: &'a Scene,
    /// Begin and end of every appearance, s: per overlay, with its trial.
    spans: Vec<Vec<(f64, f64, Option<usize>)>>,
}

/// A hair's breadth, s.
const HAIR: f64 = 1e-9;

impl<'a> Timeline<'a> {
    pub(crate) fn new(scene: &'a Scene, trials: &[TrialTruth], end_s: f64) -> Self {
        let spans = scene.overlays.iter();
        Self {
            scene,
            spans: spans.map(|o| spans_of(o, trials, end_s)).collect(),
        }
    }

    /// What is drawn at a refresh at `t`.
    pub(crate) fn at(&self, t: f64) -> Vec<Mark> {
        let t = t + HAIR;
        let overlays = self.scene.overlays.iter().zip(&self.spans).enumerate();
        overlays
            .filter_map(|(overlay, (o, spans))| {
                let (begin, ..) = spans.iter().find(|(a, b, _)| (*a..*b).contains(&t))?;
                let turned = t >= begin + o.then_ms / 1000.0;
                let step = o.step_ms / 1000.0;
                Some(Mark {
                    overlay,
                    color: o.then_color.filter(|_| turned).unwrap_or(o.color),
                    reading: match o.shape {
                        Shape::Clock => ((t / step).floor().max(0.0) * step * 100.0).round() as u64,
                        _ => 0,
                    },
                })
            })
            .collect()
    }

    /// The updates of the live view and, between them, the refreshes at which
    /// only the graphics change.
    pub(crate) fn weave(&self, updates: &[Update], end_s: f64) -> Vec<Update> {
        let mut changes: Vec<f64> = Vec::new();
        for (o, spans) in self.scene.overlays.iter().zip(&self.spans) {
            for (a, b, _) in spans {
                changes.extend([*a, *b]);
                if o.then_color.is_some() {
                    changes.push(a + o.then_ms / 1000.0);
                }
            }
            if o.shape == Shape::Clock {
                let step = o.step_ms / 1000.0;
                let ticks = (end_s / step).ceil().min(1e6) as usize;
                changes.extend((0..=ticks).map(|k| k as f64 * step));
            }
        }
        let mut out = updates.to_vec();
        for t in changes {
            let shown_s = schedule::next_refresh(self.scene, t);
            let held = updates.partition_point(|u| u.shown_s <= shown_s + 1e-6);
            let Some(now) = held.checked_sub(1).map(|i| updates[i]) else {
                continue;
            };
            out.push(Update { shown_s, ..now });
        }
        out.sort_by(|a, b| a.shown_s.total_cmp(&b.shown_s));
        out.dedup_by(|later, first| later.shown_s - first.shown_s < 1e-6);
        out
    }

    /// When each named overlay appears in a trial.
    pub(crate) fn cues(&self, trial: usize) -> Vec<CueTruth> {
        let overlays = self.scene.overlays.iter().zip(&self.spans);
        overlays
            .filter_map(|(o, spans)| {
                let (begin, ..) = spans.iter().find(|s| s.2 == Some(trial))?;
                Some(CueTruth {
                    name: o.name.clone()?,
                    shown_s: schedule::next_refresh(self.scene, *begin),
                })
            })
            .collect()
    }
}

fn spans_of(o: &Overlay, trials: &[TrialTruth], end_s: f64) -> Vec<(f64, f64, Option<usize>)> {
    let at = o.at_ms / 1000.0;
    let span = |begin: f64, over: f64, trial| {
        let end = o.for_ms.map_or(over, |ms| begin + ms / 1000.0);
        (begin, end, trial)
    };
    if o.since == Since::Start {
        // The first update stands before the first frame.
        let begin = if at == 0.0 { f64::MIN } else { at };
        let end = o.for_ms.map_or(f64::MAX, |ms| at + ms / 1000.0);
        return vec![(begin.max(-1e3), end.min(end_s + 1e3), None)];
    }
    let of_trial = |(i, base): (usize, f64)| {
        let next = trials.get(i + 1);
        let over = next.map_or(end_s + 1.0, |n| n.move_s.unwrap_or(n.onset_s));
        span(base + at, over.max(base + at), Some(i))
    };
    bases(o.since, &o.trials, trials).map(of_trial).collect()
}

/// The trials in which something happens (all where none is `listed`), and the
/// instants that its time counts from.
pub(crate) fn bases(
    since: Since,
    listed: &[usize],
    trials: &[TrialTruth],
) -> impl Iterator<Item = (usize, f64)> {
    let all = trials.iter().enumerate();
    let chosen = all.filter(|(i, _)| listed.is_empty() || listed.contains(i));
    chosen.filter_map(move |(i, t)| match since {
        Since::Settle => Some((i, t.would_be.settle_s?[1])),
        _ => Some((i, t.onset_s)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::foresee;

    fn scene() -> Scene {
        let mut scene = Scene::default();
        scene.screen.phase_ms = Some(0.0);
        scene.overlays = vec![
            Overlay {
                name: Some("subject box".into()),
                since: Since::Onset,
                at_ms: 100.0,
                then_color: Some([0.1, 0.9, 0.1]),
                then_ms: 200.0,
                ..Overlay::default()
            },
            Overlay {
                shape: Shape::Clock,
                step_ms: 500.0,
                ..Overlay::default()
            },
        ];
        scene
    }

    #[test]
    fn graphics_change_at_refreshes_and_the_truth_names_them() {
        let scene = scene();
        let truth = foresee(&scene).unwrap();
        let line = Timeline::new(&scene, &truth.trials, 9.0);
        let onset = truth.trials[0].onset_s;
        assert_eq!(line.at(onset + 0.099).len(), 1);
        assert_eq!(line.at(onset + 0.101)[0].color, [0.95; 3]);
        assert_eq!(line.at(onset + 0.301)[0].color, [0.1, 0.9, 0.1]);
        let clock = line.at(1.7);
        assert_eq!(clock.last().unwrap().reading, 150);
        let cue = &truth.trials[0].cues[0];
        assert_eq!(cue.name, "subject box");
        assert!((cue.shown_s - ((onset + 0.1) * 60.0 - 1e-6).ceil() / 60.0).abs() < 1e-9);
    }

    #[test]
    fn between_live_view_pictures_only_the_graphics_change() {
        let mut scene = scene();
        scene.live_view.fps = Some(20.0);
        let updates = schedule::updates(&scene, 3.0);
        let line = Timeline::new(&scene, &[], 3.0);
        let woven = line.weave(&updates, 3.0);
        assert!(woven.len() > updates.len());
        assert!(woven.windows(2).all(|w| w[1].shown_s - w[0].shown_s > 1e-3));
        for u in &updates {
            assert!(woven.contains(u));
        }
    }
}
