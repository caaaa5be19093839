//! Which parts of the texture are covered: leaves are laid from the top down,
//! and one that shows nowhere need not be printed.

use super::Area;

/// Cells of the area, covered or not.
pub(super) struct Cover {
    columns: usize,
    rows: usize,
    cell: f64,
    covered: Vec<bool>,
    /// Cells still bare.
    pub bare: usize,
}

impl Cover {
    /// Nothing covered; cells of at most `cell` mm.
    pub(super) fn new(area: Area, cell: f64) -> Self {
        let columns = (area.width / cell).ceil() as usize;
        let rows = (area.height / cell).ceil() as usize;
        Self {
            columns,
            rows,
            cell,
            covered: vec![false; columns * rows],
            bare: columns * rows,
        }
    }

    /// All cells.
    pub(super) fn cells(&self) -> usize {
        self.covered.len()
    }

    /// Covers a disc (centre from the area's corner, mm); how many cells were
    /// bare before.
    pub(super) fn lay(&mut self, x: f64, y: f64, radius: f64) -> usize {
        let mut fresh = 0;
        let (top, bottom) = span(y, radius, self.cell, self.rows);
        for row in top..bottom {
            let off = (row as f64 + 0.5) * self.cell - y;
            let half = (radius * radius - off * off).max(0.0).sqrt();
            let (left, right) = span(x, half, self.cell, self.columns);
            for cell in &mut self.covered[row * self.columns..][left..right] {
                fresh += usize::from(!*cell);
                *cell = true;
            }
        }
        self.bare -= fresh;
        fresh
    }
}

/// Cells whose middle lies within `reach` of `at`: first, and one past the last.
fn span(at: f64, reach: f64, cell: f64, count: usize) -> (usize, usize) {
    let first = ((at - reach) / cell - 0.5).ceil().max(0.0);
    let past = ((at + reach) / cell + 0.5).floor().max(0.0);
    let past = (past as usize).min(count);
    ((first as usize).min(past), past)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_disc_covers_its_area_once() {
        let area = Area {
            x: 7.0,
            y: 9.0,
            width: 20.0,
            height: 10.0,
        };
        let mut cover = Cover::new(area, 0.05);
        assert_eq!(cover.cells(), 400 * 200);
        let fresh = cover.lay(5.0, 5.0, 3.0);
        let whole = std::f64::consts::PI * 9.0 / (0.05 * 0.05);
        assert!((fresh as f64 / whole - 1.0).abs() < 0.005, "{fresh}");
        assert_eq!(cover.lay(5.0, 5.0, 3.0), 0);
        let quarter = cover.lay(20.0, 10.0, 2.0);
        let whole = std::f64::consts::PI / (0.05 * 0.05);
        assert!((quarter as f64 / whole - 1.0).abs() < 0.01, "{quarter}");
        assert_eq!(cover.lay(-5.0, 30.0, 3.0), 0);
        assert_eq!(cover.bare, cover.cells() - fresh - quarter);
    }
}
