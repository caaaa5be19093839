//! The picture that leads the page, read back from the file.

use focuslag::store::schema::{OnsetSeen, Timing, Verdict};
use focuslag::store::{read_timing, write_timing};

use crate::bench::{Bench, text};

/// Writes a setup of `trials` anew, as `change` leaves it.
fn changed(bench: &Bench, name: &str, trials: u32, change: fn(&mut Timing)) -> String {
    let path = bench.setup(name, name, 1, trials, false);
    let mut timing = read_timing(&path).unwrap();
    change(&mut timing);
    timing.summary = None;
    write_timing(&path, &timing).unwrap();
    path.display().to_string()
}

fn all_void(timing: &mut Timing) {
    for trial in timing.clips.iter_mut().flat_map(|c| &mut c.trials) {
        trial.verdict = Verdict::Void;
        trial.reason = Some("no signal".to_owned());
        trial.settle_s = None;
        trial.latency_ms = None;
        trial.latency_corrected_ms = None;
        trial.uncertainty_ms = None;
    }
}

fn seen_directly(timing: &mut Timing) {
    for trial in timing.clips.iter_mut().flat_map(|c| &mut c.trials) {
        trial.onset_seen = Some(OnsetSeen::Direct);
    }
}

#[test]
fn every_setup_has_its_line_in_the_order_of_the_files() {
    let bench = Bench::new();
    let long = "kit-slate, with the long lens and the grey bag, second shelf";
    assert_eq!(long.chars().count(), 60);
    let files = [
        changed(&bench, long, 8, |_| ()),
        changed(&bench, "kit-cobalt", 8, all_void),
        changed(&bench, "kit-few", 3, |_| ()),
        changed(&bench, "kit-amber", 12, seen_directly),
        changed(&bench, "kit-azure", 12, |_| ()),
    ];
    let mut args = vec!["report", "-o", "a.html"];
    args.extend(files.iter().map(String::as_str));
    let done = bench.run(&args);
    assert!(done.status.success(), "{done:?}");
    let page = text(&bench.path("a.html"));
    let (lead, rest) = page.split_once("In plain words").unwrap();
    let named: Vec<Vec<&str>> = lead
        .split("<figure class=\"glance\">")
        .skip(1)
        .map(|figure| {
            let names = figure.split("<bdi>").skip(1);
            names.map(|n| n.split('<').next().unwrap()).collect()
        })
        .collect();
    let together = vec![long, "kit-cobalt", "kit-few", "kit-azure"];
    assert_eq!(named, [together, vec!["kit-amber"]]);
    assert!(lead.contains(": no trial could be judged</p>"));
    assert!(lead.contains("8 void or excluded"));
    assert!(lead.contains("a swing, seen directly"));
    assert!(rest.contains("id=\"latencies\""));
}
