//! The display matrix, read as mirroring and quarter turns.

use super::Orientation;

/// Side-data size: nine 32-bit numbers.
const MATRIX_BYTES: usize = 36;

/// The nine numbers of a display matrix in the machine's byte order.
pub(super) fn matrix_from_bytes(bytes: &[u8]) -> Option<[i32; 9]> {
    let bytes = bytes.get(..MATRIX_BYTES)?;
    let mut matrix = [0; 9];
    for (value, raw) in matrix.iter_mut().zip(bytes.chunks_exact(4)) {
        *value = i32::from_ne_bytes([raw[0], raw[1], raw[2], raw[3]]);
    }
    Some(matrix)
}

/// Reads a display matrix `a b u  c d v  x y w` (a point goes to
/// `ax + cy, bx + dy`, y down; ISO/IEC 14496-12, 6.2.2) as quarter turns after
/// an optional mirroring. The second value tells whether it is that exactly;
/// if not, the nearest quarter turn is given.
pub(super) fn orientation(matrix: &[i32; 9], stored: (usize, usize)) -> (Orientation, bool) {
    let [a, b, c, d] = [matrix[0], matrix[1], matrix[3], matrix[4]].map(f64::from);
    let det = a * d - b * c;
    let mirrored = det < 0.0;
    // With the mirroring taken off, (cos, sin) of the clockwise turn.
    let (cos, sin) = if mirrored { (-a, -b) } else { (a, b) };
    let quarter_turns = match (cos.abs() >= sin.abs(), cos >= 0.0, sin >= 0.0) {
        (true, true, _) => 0,
        (false, _, true) => 1,
        (true, false, _) => 2,
        (false, _, false) => 3,
    };
    let whole = a.abs().max(b.abs());
    let rest = a.abs().min(b.abs());
    let exact = det != 0.0 && rest <= 0.002 * whole;
    let orientation = Orientation {
        quarter_turns: if det == 0.0 { 0 } else { quarter_turns },
        mirrored,
        stored,
    };
    (orientation, exact)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;

    /// The eight matrices of a mirroring and quarter turns, applied to points
    /// as ISO/IEC 14496-12 6.2.2 says and moved back into the frame, must be
    /// undone by `to_stored`.
    #[test]
    fn all_eight_orientations_are_undone() {
        let (w, h) = (322.0, 241.0);
        for (a, b, c, d) in [
            (1, 0, 0, 1),
            (0, 1, -1, 0),
            (-1, 0, 0, -1),
            (0, -1, 1, 0),
            (-1, 0, 0, 1),
            (0, -1, -1, 0),
            (1, 0, 0, -1),
            (0, 1, 1, 0),
        ] {
            let one = 1 << 16;
            let matrix = [a * one, b * one, 0, c * one, d * one, 0, 0, 0, 1 << 30];
            let (found, exact) = orientation(&matrix, (322, 241));
            assert!(exact);
            let shown = |x: f64, y: f64| {
                let (a, b, c, d) = (f64::from(a), f64::from(b), f64::from(c), f64::from(d));
                let px = a * x + c * y + (-a * w).max(0.0) + (-c * h).max(0.0);
                let py = b * x + d * y + (-b * w).max(0.0) + (-d * h).max(0.0);
                Point::new(px, py)
            };
            for (x, y) in [(0.0, 0.0), (w, 0.0), (10.5, 200.25), (w, h)] {
                let back = found.to_stored(shown(x, y));
                assert!(
                    (back.x - x).abs() < 1e-9 && (back.y - y).abs() < 1e-9,
                    "{found:?}"
                );
            }
            let corner = shown(if a + c > 0 { w } else { 0.0 }, 0.0);
            let (uw, uh) = found.upright_size();
            assert!(corner.x <= uw as f64 && corner.y <= uh as f64);
        }
    }

    #[test]
    fn odd_matrices_are_told() {
        let (_, exact) = orientation(&[46341, 46341, 0, -46341, 46341, 0, 0, 0, 1 << 30], (4, 4));
        assert!(!exact);
        let (flat, exact) = orientation(&[0; 9], (4, 4));
        assert!(!exact && flat.quarter_turns == 0 && !flat.mirrored);
        assert!(matrix_from_bytes(&[0; 35]).is_none());
    }
}
