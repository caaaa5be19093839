//! Each limit of the policy, on each side.

use super::super::compare::Named;
use super::super::sample::Latencies;
use super::world::World;
use super::{Check, GateOptions, Policy};

pub(super) fn checks(
    (baseline, sessions): (Option<&Named>, &[Named]),
    candidate: &Named,
    policy: &Policy,
    latencies: Latencies,
    options: &GateOptions,
) -> Vec<Check> {
    let world = World::new((baseline, sessions), candidate, policy, latencies, options);
    let views = world.views();
    let mut checks = Vec::new();
    let change = &policy.change;
    let require = &policy.require;
    for view in &views {
        if let Some(limit) = change.hit_rate_drop {
            checks.push(view.hit_rate_drop(limit));
        }
        if let Some(limit) = change.median_slowdown_ms {
            checks.push(view.slowdown("median_slowdown_ms", 0.5, limit));
        }
        if let Some(limit) = change.p90_slowdown_ms {
            checks.push(view.slowdown("p90_slowdown_ms", 0.9, limit));
        }
        if let Some(limit) = require.hit_rate {
            checks.push(view.required_hit_rate(limit));
        }
        if let Some(limit) = require.p90_ms {
            checks.push(view.required_p90(limit));
        }
    }
    checks
}
