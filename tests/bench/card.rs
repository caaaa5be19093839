//! Why the card's texture is what it is: the card and other textures, sampled
//! as a screen samples them, by the project's own measures.
//!
//! `cargo bench --bench card [-- --seed N]`

#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "../support/texture.rs"]
mod texture;

use focuslag::card::{Card, CardSpec, Paper, Side};
use focuslag::rig::{DEFAULT_MEASURE, MeasureSpec};
use texture::{RIVALS, Sampled, card, curve, rival, spectrum};

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let seed = args
        .iter()
        .position(|a| a == "--seed")
        .and_then(|k| args.get(k + 1))
        .map_or(1, |v| v.parse().expect("a number"));
    println!("seed {seed}, screen of 1000 film pixels\n");
    println!(
        "| texture | fills | slope | share of energy per octave 12.5–25–50–100–200 | sectors | \
         side peak | rise | 5 % lost | 10 % left |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    let made = |side| {
        Card::new(CardSpec {
            side,
            paper: Paper::A4,
            seed,
            finest_mm: 0.8,
        })
        .expect("in range")
    };
    let (near, far) = (made(Side::Near), made(Side::Far));
    for fill in [0.3, 0.5, 1.0] {
        row("card, near", fill, &card(&near.leaves, fill));
        row("card, far", fill, &card(&far.leaves, fill));
        for (name, black) in RIVALS {
            row(name, fill, &rival(&near.leaves, fill, black));
        }
    }
    println!("\n| measure | fills | rise | 5 % lost | 10 % left (at most 40 px looked at) |");
    println!("| --- | --- | --- | --- | --- |");
    for measure in [
        DEFAULT_MEASURE,
        MeasureSpec::MidBand {
            low_cph: 24.0,
            high_cph: 120.0,
        },
        MeasureSpec::VarianceOfLaplacian,
        MeasureSpec::NormalizedVariance,
        MeasureSpec::Brenner,
    ] {
        for fill in [0.3, 1.0] {
            let c = curve(&card(&near.leaves, fill), &measure);
            println!(
                "| {} | {:.0} % | {:.1} % | {:.2} px | {:.1} px |",
                measure.name(),
                100.0 * fill,
                100.0 * c.rise,
                c.lost_5,
                c.left_10.min(40.0)
            );
        }
    }
}

fn row(name: &str, fill: f64, picture: &Sampled) {
    let s = spectrum(picture);
    let c = curve(picture, &DEFAULT_MEASURE);
    let octaves: Vec<String> = s
        .octaves
        .iter()
        .map(|o| format!("{:.1}", 100.0 * o))
        .collect();
    // With an octave all but empty there is no line to lay through.
    let slope = if s.octaves.iter().all(|o| *o > 0.001) {
        format!("{:.1}", s.slope)
    } else {
        "—".to_owned()
    };
    let sectors = if s.sectors < 1000.0 {
        format!("{:.1}", s.sectors)
    } else {
        "> 1000".to_owned()
    };
    println!(
        "| {name} | {:.0} % | {slope} | {} % | {sectors} | {:.2} | {:.1} % | {:.2} px | {:.1} px |",
        100.0 * fill,
        octaves.join(", "),
        s.side_peak,
        100.0 * c.rise,
        c.lost_5,
        c.left_10
    );
}
