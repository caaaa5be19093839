//! Plain letters for the annotated picture: five by seven dots.

use image::{Rgb, RgbImage};

/// Rows of each letter, the highest of five bits is the leftmost dot.
const LETTERS: [(char, [u8; 7]); 15] = [
    ('A', [14, 17, 17, 31, 17, 17, 17]),
    ('B', [30, 17, 17, 30, 17, 17, 30]),
    ('C', [14, 17, 16, 16, 16, 17, 14]),
    ('D', [30, 17, 17, 17, 17, 17, 30]),
    ('E', [31, 16, 16, 30, 16, 16, 31]),
    ('F', [31, 16, 16, 30, 16, 16, 16]),
    ('G', [14, 17, 16, 23, 17, 17, 14]),
    ('H', [17, 17, 17, 31, 17, 17, 17]),
    ('I', [14, 4, 4, 4, 4, 4, 14]),
    ('K', [17, 18, 20, 24, 20, 18, 17]),
    ('L', [16, 16, 16, 16, 16, 16, 31]),
    ('M', [17, 27, 21, 21, 17, 17, 17]),
    ('R', [30, 17, 17, 30, 20, 18, 17]),
    ('S', [15, 16, 16, 14, 1, 1, 30]),
    ('T', [31, 4, 4, 4, 4, 4, 4]),
];

/// Writes `text` with its upper left corner at (x, y), dots of `dot` px, on a
/// black ground.
pub fn write(image: &mut RgbImage, text: &str, (x, y): (i64, i64), dot: i64, color: Rgb<u8>) {
    let dot = dot.max(1);
    let mut put = |px: i64, py: i64, c: Rgb<u8>| {
        if let (Ok(px), Ok(py)) = (u32::try_from(px), u32::try_from(py))
            && px < image.width()
            && py < image.height()
        {
            image.put_pixel(px, py, c);
        }
    };
    let mut left = x;
    for letter in text.chars() {
        let rows = LETTERS
            .iter()
            .find(|l| l.0 == letter)
            .map_or([0; 7], |l| l.1);
        for j in -1..8 {
            for i in -1..6 {
                let row = usize::try_from(j).ok().and_then(|j| rows.get(j));
                let lit = (0..5).contains(&i) && row.is_some_and(|r| r >> (4 - i) & 1 == 1);
                let c = if lit { color } else { Rgb([0, 0, 0]) };
                for k in 0..dot * dot {
                    put(left + i * dot + k % dot, y + j * dot + k / dot, c);
                }
            }
        }
        left += 6 * dot;
    }
}
