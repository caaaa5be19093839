//! Sharpness that motion leaves alone.
//!
//! A picture smeared along one direction loses what changes along it and keeps
//! what changes across it (Yitzhaky and Kopeika 1997, Graph. Models Image
//! Process. 59, tell motion blur by this; citation from memory), while defocus
//! takes both alike. Where the target goes on moving while focus is judged, only
//! what changes across its way counts.

use super::{Reading, Tiles};

/// An axis of the stored picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axis {
    /// Along its rows.
    Rows,
    /// Along its columns.
    Columns,
}

/// Of white noise, and of its change from frame to frame, half is seen in
/// either direction.
const OF_NOISE: f32 = 0.5;

/// Keeps of a frame's energies what changes across `way`. Measures that do not
/// tell directions apart keep all.
pub fn keep_across(way: Axis, reading: &mut Reading, tiles: &mut Tiles) {
    let along: f32 = tiles.along.iter().sum();
    let all: f32 = tiles.energy.iter().sum();
    if along <= 0.0 || all <= 0.0 {
        return;
    }
    for (energy, along) in tiles.energy.iter_mut().zip(&mut tiles.along) {
        *energy = match way {
            Axis::Rows => (*energy - *along).max(0.0),
            Axis::Columns => *along,
        };
        *along = 0.0;
    }
    for v in tiles.compared.iter_mut().chain(&mut tiles.change) {
        *v *= OF_NOISE;
    }
    let share = match way {
        Axis::Rows => 1.0 - along / all,
        Axis::Columns => along / all,
    };
    reading.energy *= f64::from(share.clamp(0.0, 1.0));
    reading.change = reading.change.map(|c| c * f64::from(OF_NOISE));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sharpness::TILES;

    fn frame(along: f32, down: f32) -> (Reading, Tiles) {
        let mut tiles = Tiles::empty();
        tiles.energy = [along + down; TILES];
        tiles.along = [along; TILES];
        tiles.change = [0.2; 16];
        let reading = Reading {
            mean: 0.5,
            energy: f64::from(along + down),
            change: Some(0.02),
            white: 0.0,
        };
        (reading, tiles)
    }

    #[test]
    fn what_a_smear_takes_away_does_not_count() {
        // Sharp, smeared along the rows, out of focus.
        for (along, down) in [(3.0, 2.0), (0.2, 2.0), (0.3, 0.2)] {
            for (way, want) in [(Axis::Rows, down), (Axis::Columns, along)] {
                let (mut reading, mut tiles) = frame(along, down);
                keep_across(way, &mut reading, &mut tiles);
                assert!((reading.energy - f64::from(want)).abs() < 1e-6);
                assert!(tiles.energy.iter().all(|e| (e - want).abs() < 1e-6));
                assert_eq!((reading.change, tiles.change[3]), (Some(0.01), 0.1));
            }
        }
    }

    #[test]
    fn a_measure_without_directions_keeps_all() {
        let (mut reading, mut tiles) = frame(0.0, 2.0);
        let before = (reading, tiles.clone());
        keep_across(Axis::Rows, &mut reading, &mut tiles);
        assert_eq!((reading, tiles), before);
    }
}
