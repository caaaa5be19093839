//! The sheet every plot is drawn on, and its scales.

use svg::node::element::Element;
use svg::node::{Node, Text};

use crate::names::plain;
use crate::report::depth::Depth;
use crate::report::trial::Limits;

/// Width of every plot, in its own units.
pub(super) const WIDTH: f64 = 360.0;
/// Where plots begin and end across.
pub(super) const LEFT: f64 = 42.0;
pub(super) const RIGHT: f64 = 342.0;
/// Marks of an axis at most.
const MOST_TICKS: f64 = 6.0;
/// Longest name in a plot, characters.
const LONGEST: usize = 30;

/// An SVG being drawn.
pub(super) struct Sheet {
    root: Element,
}

impl Sheet {
    /// An empty one of this height with its text alternative.
    pub fn new(height: f64, title: &str, description: &str) -> Self {
        let mut root = Element::new("svg");
        root.assign("viewBox", format!("0 0 {} {}", n(WIDTH), n(height)));
        root.assign("role", "img");
        root.assign("class", "plot");
        root.append(told("title", title));
        root.append(told("desc", description));
        Self { root }
    }

    pub fn add(&mut self, element: Element) {
        self.root.append(element);
    }

    pub fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        self.path(
            class,
            &format!("M{} {}L{} {}", n(from.0), n(from.1), n(to.0), n(to.1)),
        );
    }

    pub fn path(&mut self, class: &str, d: &str) {
        let mut path = Element::new("path");
        path.assign("class", class);
        path.assign("d", d);
        self.add(path);
    }

    pub fn rect(&mut self, class: &str, [x, y, w, h]: [f64; 4]) {
        let mut rect = Element::new("rect");
        rect.assign("class", class);
        for (key, value) in [("x", x), ("y", y), ("width", w), ("height", h)] {
            rect.assign(key, n(value));
        }
        self.add(rect);
    }

    /// Words; `class` `m` centres them, `e` ends them there.
    pub fn words(&mut self, class: &str, x: f64, y: f64, text: &str) {
        let mut words = told("text", text);
        words.assign("x", n(x));
        words.assign("y", n(y));
        if !class.is_empty() {
            words.assign("class", class);
        }
        self.add(words);
    }

    /// A time axis under y, with its unit.
    pub fn time_axis(&mut self, scale: &Scale, y: f64, unit: &str) {
        self.line("ax", (scale.out.0, y), (scale.out.1, y));
        for tick in scale.ticks() {
            let x = scale.at(tick);
            self.line("ax", (x, y), (x, y + 4.0));
            let word = format!("{tick:.0}").replace('-', "−");
            self.words("m", x, y + 15.0, &word);
        }
        self.words("e u", scale.out.1, y + 28.0, unit);
    }

    /// An axis of shares to the left, 0 to 100 %.
    pub fn share_axis(&mut self, scale: &Scale, marks: &[f64], right: f64) {
        for share in marks {
            let y = scale.at(*share);
            self.line("gr", (LEFT, y), (right, y));
            self.words("e", LEFT - 5.0, y + 3.5, &format!("{:.0} %", share * 100.0));
        }
    }

    /// An axis of blur to the left, in focus at the bottom; `y` takes 0 to 1.
    pub fn depth_axis(&mut self, depth: &Depth, y: &Scale) {
        for mark in depth.marks() {
            let at = y.at(depth.at(mark));
            self.line("gr", (LEFT, at), (RIGHT, at));
            self.words("e", LEFT - 5.0, at + 3.5, &format!("{mark:.0} ‰"));
        }
    }

    /// What blur is held against.
    pub fn limits(&mut self, limits: &Limits, at: &dyn Fn(f64) -> f64) {
        for (class, _, level) in named(limits) {
            self.line(class, (LEFT, at(level)), (RIGHT, at(level)));
        }
    }

    /// The lines of [`Self::limits`] with their names and levels, at y.
    pub fn limits_key(&mut self, limits: &Limits, y: f64) {
        let mut x = LEFT;
        for (class, name, level) in named(limits) {
            self.line(class, (x, y - 3.0), (x + 16.0, y - 3.0));
            self.words("mt2", x + 20.0, y, &format!("{name} {} ‰", n(level)));
            x += 110.0;
        }
    }

    pub fn finish(self) -> String {
        self.root.to_string()
    }
}

/// Class, name and level of the limits that are known.
fn named(limits: &Limits) -> impl Iterator<Item = (&'static str, &'static str, f64)> + use<> {
    let all = [
        ("lim", "hit limit", limits.hit),
        ("fl", "film’s limit", limits.film),
    ];
    all.into_iter()
        .filter_map(|(class, name, level)| Some((class, name, level?)))
}

/// An element that holds a text; the crate escapes it.
pub(super) fn told(name: &str, text: &str) -> Element {
    let mut element = Element::new(name);
    element.append(Text::new(plain(text)));
    element
}

/// A name short enough for a plot.
pub(super) fn short(name: &str) -> String {
    if name.chars().count() <= LONGEST {
        return name.to_owned();
    }
    name.chars().take(LONGEST - 1).chain(['…']).collect()
}

/// A coordinate to a tenth.
pub(super) fn n(v: f64) -> String {
    let rounded = (v * 10.0).round() / 10.0;
    let rounded = if rounded == 0.0 { 0.0 } else { rounded };
    rounded.to_string()
}

/// Values to places.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    /// First and last value.
    pub data: (f64, f64),
    /// Where they lie.
    pub out: (f64, f64),
}

impl Scale {
    pub fn new(data: (f64, f64), out: (f64, f64)) -> Self {
        Self { data, out }
    }

    /// Place of a value; beyond the ends, the end.
    pub fn at(&self, value: f64) -> f64 {
        let span = (self.data.1 - self.data.0).max(f64::MIN_POSITIVE);
        let share = ((value - self.data.0) / span).clamp(0.0, 1.0);
        self.out.0 + share * (self.out.1 - self.out.0)
    }

    /// Round values inside: multiples of 1, 2 or 5 times a power of ten.
    pub fn ticks(&self) -> Vec<f64> {
        let span = self.data.1 - self.data.0;
        if !(span > 0.0 && span.is_finite()) {
            return vec![self.data.0];
        }
        let raw = span / MOST_TICKS;
        let power = 10f64.powf(raw.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|m| m * power)
            .find(|s| *s >= raw * 0.999)
            .unwrap_or(10.0 * power);
        let mut ticks = Vec::new();
        let mut k = (self.data.0 / step - 1e-9).ceil();
        while k * step <= self.data.1 + step * 1e-9 {
            ticks.push(if k == 0.0 { 0.0 } else { k * step });
            k += 1.0;
        }
        ticks
    }
}

/// A path through points, coordinates to a half, points that change nothing
/// left out.
pub(super) fn trace(points: &[(f64, f64)]) -> String {
    let half = |v: f64| (v * 2.0).round() / 2.0;
    let mut kept: Vec<(f64, f64)> = Vec::with_capacity(points.len());
    for p in points {
        let p = (half(p.0), half(p.1));
        let flat = |a: &(f64, f64), b: &(f64, f64)| a.1 == p.1 && b.1 == p.1;
        match kept.as_slice() {
            [.., b] if *b == p => {}
            [.., a, b] if flat(a, b) => {
                kept.pop();
                kept.push(p);
            }
            _ => kept.push(p),
        }
    }
    let mut d = String::new();
    let mut last = (0.0, 0.0);
    for (k, p) in kept.iter().enumerate() {
        match k {
            0 => d.push_str(&format!("M{} {}l", p.0, p.1)),
            _ => {
                let lead = if k == 1 { "" } else { " " };
                d.push_str(&format!("{lead}{} {}", p.0 - last.0, p.1 - last.1));
            }
        }
        last = *p;
    }
    if kept.len() < 2 {
        d.push_str("0 0");
    }
    d
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_land_where_the_axis_says() {
        let scale = Scale::new((-200.0, 1800.0), (40.0, 340.0));
        assert_eq!(
            (scale.at(-200.0), scale.at(800.0), scale.at(9e9)),
            (40.0, 190.0, 340.0)
        );
        assert_eq!(scale.ticks(), [0.0, 500.0, 1000.0, 1500.0]);
        assert_eq!(Scale::new((0.0, 1.0), (0.0, 1.0)).ticks().len(), 6);
        assert_eq!(Scale::new((5.0, 5.0), (0.0, 1.0)).ticks(), [5.0]);
    }

    #[test]
    fn a_trace_keeps_every_turn() {
        let d = trace(&[
            (0.0, 10.0),
            (1.0, 10.1),
            (2.0, 10.0),
            (3.0, 4.0),
            (4.0, 4.0),
        ]);
        assert_eq!(d, "M0 10l2 0 1 -6 1 0");
        assert_eq!(trace(&[(1.0, 1.0)]), "M1 1l0 0");
    }

    #[test]
    fn markup_in_words_is_escaped() {
        let mut sheet = Sheet::new(10.0, "<script>", "a & b");
        sheet.words("", 0.0, 0.0, "\"><img src=x>");
        let text = sheet.finish();
        assert!(
            !text.contains("<script") && !text.contains("<img"),
            "{text}"
        );
        assert!(text.contains("&lt;script&gt;") && text.contains("a &amp; b"));
        assert_eq!(short(&"x".repeat(300)).chars().count(), 30);
    }
}
