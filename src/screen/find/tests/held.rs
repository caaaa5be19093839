//! A drawn screen, held against corners that fit it or do not.

use super::*;

fn at(at: [f64; 4], turn: f64) -> Looks {
    film(|x, y, k| screen(x, y, k, at, turn, true))
}

fn said() -> Quad<UprightPx> {
    Quad::new(truth().map(|[x, y]| Point::new(x, y)))
}

#[test]
fn all_sides_are_seen_where_the_screen_lies_and_none_beside_it() {
    let looks = at(AT, TURN);
    assert_eq!(sides(&looks.mean(), &said(), UPRIGHT), 4);
    // Corners written down 2 px off are still those of this screen.
    let near = Quad::new(said().corners.map(|p| Point::new(p.x + 2.0, p.y - 2.0)));
    assert_eq!(sides(&looks.mean(), &near, UPRIGHT), 4);
    let [x, y, w, h] = AT;
    let moved = at([x + 12.0, y + 9.0, w, h], TURN + 0.026);
    assert_eq!(sides(&moved.mean(), &said(), UPRIGHT), 0);
    // Turned about the frame, the sides are those of the stored picture.
    for quarter_turns in 0..4 {
        for mirrored in [false, true] {
            let turned = Orientation {
                quarter_turns,
                mirrored,
                stored: SIZE,
            };
            let upright = Quad::new(truth().map(|[x, y]| turned.to_upright(Point::new(x, y))));
            assert_eq!(sides(&looks.mean(), &upright, turned), 4, "{turned:?}");
        }
    }
}

#[test]
fn a_screen_beside_its_corners_is_found_near_them() {
    let [x, y, w, h] = AT;
    let (to, turn) = ([x + 12.0, y - 7.0, w, h], TURN + 0.026);
    let beside = place(&at(to, turn), &said(), UPRIGHT);
    let found = beside.near.unwrap();
    assert!(!found.lies_at(&said()) && found.has_shape_of(&said()));
    assert!((found.off(&said()) - 15.0).abs() < 4.0, "{found:?}");
    assert_eq!(beside.sides, 0);
    assert!(!beside.lifeless);
    let there = place(&at(AT, TURN), &said(), UPRIGHT);
    assert!(there.near.unwrap().lies_at(&said()));
}

#[test]
fn a_desk_is_no_screen_and_a_dark_one_may_be() {
    let desk = |x: f64, y: f64| 0.3 + 0.05 * (0.9 * x).sin() * (0.7 * y).cos();
    let bare = place(&film(|x, y, _| desk(x, y)), &said(), UPRIGHT);
    assert!(bare.lifeless && bare.near.is_none(), "{bare:?}");
    // No rim, yet something comes and goes.
    let alive = film(|x, y, k| {
        let card = k >= 20 && (x - AT[0]).abs() < 60.0 && (y - AT[1]).abs() < 50.0;
        desk(x, y) + if card { 0.2 } else { 0.0 }
    });
    let alive = place(&alive, &said(), UPRIGHT);
    assert!(!alive.lifeless && alive.sides == 0, "{alive:?}");
}

#[test]
fn another_shape_is_another_screen() {
    let quad = |w: f64, h: f64| {
        Quad::rect(
            100.0 - w / 2.0,
            90.0 - h / 2.0,
            100.0 + w / 2.0,
            90.0 + h / 2.0,
        )
    };
    let with = |corners| Found {
        corners,
        corner_u_px: 0.2,
        sway_px: 0.0,
        support: 1.0,
        contrast: 0.2,
        changing: 0.5,
    };
    let four_by_three = quad(160.0, 120.0);
    assert!(with(quad(200.0, 150.0)).has_shape_of(&four_by_three));
    // The 3:2 picture between two black bands.
    assert!(!with(quad(160.0, 106.7)).has_shape_of(&four_by_three));
}

#[test]
fn corners_keep_the_order_they_were_written_in() {
    let [a, b, c, d] = said().corners;
    let on_its_side = Quad::new([d, a, b, c]);
    let found = find(&at(AT, TURN), UPRIGHT).unwrap();
    let same = found.in_order_of(&on_its_side);
    assert!(
        same.lies_at(&on_its_side) && same.off(&on_its_side) < 0.5,
        "{same:?}"
    );
}

#[test]
fn a_similarity_carries_what_lies_beside_the_screen() {
    let from = said();
    let by = |p: Point<UprightPx>| {
        let (c, s) = (1.03 * 0.02f64.cos(), 1.03 * 0.02f64.sin());
        Point::new(5.0 + c * p.x - s * p.y, -3.0 + s * p.x + c * p.y)
    };
    let moves = Similarity::between(&from, &Quad::new(from.corners.map(by)));
    let lamp = Point::new(20.0, 30.0);
    assert!(distance(moves.apply(lamp), by(lamp)) < 1e-9);
    assert!((moves.growth() - 1.03).abs() < 1e-12);
}
