//! Shelf layout of upright boxes on a roll: first fit, decreasing height.
//!
//! Boxes are sorted by their length along the roll, then each goes on the first shelf (a row across
//! the roll) with room, or opens a new one. Boxes that may turn are tried in both directions, under
//! three sorting habits; the shortest result is kept. For boxes that may not turn this is the
//! classic heuristic, whose length is at most 1.7 times the best possible plus the tallest box
//! (Coffman, Garey, Johnson, Tarjan 1980; from memory).

/// Slack when a box is held against the roll, in mm: absorbs rounding in sums of decimals.
const FIT_MM: f64 = 1e-6;

/// A box to place. Sizes in mm, finite and above 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Item {
    pub(crate) across_mm: f64,
    pub(crate) along_mm: f64,
    pub(crate) may_rotate: bool,
}

/// Where a box lies: `x_mm` across the roll from its left edge, `y_mm` along it from the cut end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Placed {
    /// Position in the list given.
    pub(crate) item: usize,
    pub(crate) x_mm: f64,
    pub(crate) y_mm: f64,
    pub(crate) across_mm: f64,
    pub(crate) along_mm: f64,
    pub(crate) rotated: bool,
}

/// Boxes in the order in which they were placed, and the length that they take.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shelves {
    pub(crate) placed: Vec<Placed>,
    pub(crate) length_mm: f64,
}

/// Narrowest roll that takes the box, in mm.
pub(crate) fn narrowest_mm(item: &Item) -> f64 {
    if item.may_rotate {
        item.across_mm.min(item.along_mm)
    } else {
        item.across_mm
    }
}

/// Places every box on a roll of `width_mm` with at least `gap_mm` between neighbours, or `None`
/// when one is too wide for it.
pub(crate) fn lay_out(items: &[Item], width_mm: f64, gap_mm: f64) -> Option<Shelves> {
    let habits = [Habit::AsGiven, Habit::LongAcross, Habit::LongAlong];
    let can_turn = items.iter().any(|item| item.may_rotate);
    let tried = if can_turn { &habits[..] } else { &habits[..1] };
    tried
        .iter()
        .filter_map(|&habit| first_fit(items, width_mm, gap_mm, habit))
        .min_by(|a, b| a.length_mm.total_cmp(&b.length_mm))
}

/// Which way a box that may turn is preferred when it opens a shelf.
#[derive(Debug, Clone, Copy)]
enum Habit {
    AsGiven,
    LongAcross,
    LongAlong,
}

/// A box in one of its directions.
#[derive(Debug, Clone, Copy)]
struct Pose {
    across_mm: f64,
    along_mm: f64,
    rotated: bool,
}

struct Shelf {
    y_mm: f64,
    along_mm: f64,
    /// First free place across the roll, the gap included.
    free_x_mm: f64,
}

/// The direction in which a box opens a shelf, and another in which it may still share one.
/// `None` when the box is too wide for the roll.
fn poses(item: &Item, width_mm: f64, habit: Habit) -> Option<(Pose, Option<Pose>)> {
    let given = Pose {
        across_mm: item.across_mm,
        along_mm: item.along_mm,
        rotated: false,
    };
    let turned = Pose {
        across_mm: item.along_mm,
        along_mm: item.across_mm,
        rotated: true,
    };
    let turn_first = match habit {
        Habit::AsGiven => false,
        Habit::LongAcross => item.along_mm > item.across_mm,
        Habit::LongAlong => item.along_mm < item.across_mm,
    };
    let fits = |pose: &Pose| pose.across_mm <= width_mm + FIT_MM;
    let given = Some(given).filter(fits);
    let turned = Some(turned).filter(|pose| item.may_rotate && fits(pose));
    let (first, second) = if turn_first {
        (turned, given)
    } else {
        (given, turned)
    };
    match (first, second) {
        (Some(first), second) => Some((first, second)),
        (None, second) => second.map(|only| (only, None)),
    }
}

fn first_fit(items: &[Item], width_mm: f64, gap_mm: f64, habit: Habit) -> Option<Shelves> {
    let mut queue = Vec::with_capacity(items.len());
    for (index, item) in items.iter().enumerate() {
        let (preferred, other) = poses(item, width_mm, habit)?;
        queue.push((index, preferred, other));
    }
    // A stable sort: equal boxes keep the order of the request, so the answer does not wander.
    queue.sort_by(|(_, a, _), (_, b, _)| b.along_mm.total_cmp(&a.along_mm));

    let narrowest_mm = items.iter().map(narrowest_mm).fold(f64::INFINITY, f64::min);
    let mut shelves: Vec<Shelf> = Vec::new();
    // Shelves that the narrowest box could still share, in the order opened.
    let mut open: Vec<usize> = Vec::new();
    let mut placed = Vec::with_capacity(items.len());
    let mut length_mm: f64 = 0.0;
    for (item, preferred, other) in queue {
        let room = open.iter().enumerate().find_map(|(at, &shelf)| {
            let fits = |pose: &Pose| {
                pose.along_mm <= shelves[shelf].along_mm + FIT_MM
                    && shelves[shelf].free_x_mm + pose.across_mm <= width_mm + FIT_MM
            };
            let pose = Some(preferred).filter(fits).or(other.filter(fits))?;
            Some((at, pose))
        });
        let (at, pose) = room.unwrap_or_else(|| {
            let y_mm = if shelves.is_empty() {
                0.0
            } else {
                length_mm + gap_mm
            };
            open.push(shelves.len());
            shelves.push(Shelf {
                y_mm,
                along_mm: preferred.along_mm,
                free_x_mm: 0.0,
            });
            length_mm = y_mm + preferred.along_mm;
            (open.len() - 1, preferred)
        });
        let shelf = &mut shelves[open[at]];
        placed.push(Placed {
            item,
            x_mm: shelf.free_x_mm,
            y_mm: shelf.y_mm,
            across_mm: pose.across_mm,
            along_mm: pose.along_mm,
            rotated: pose.rotated,
        });
        shelf.free_x_mm += pose.across_mm + gap_mm;
        if shelf.free_x_mm + narrowest_mm > width_mm + FIT_MM {
            open.remove(at);
        }
    }
    Some(Shelves { placed, length_mm })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn fixed(across_mm: f64, along_mm: f64) -> Item {
        Item {
            across_mm,
            along_mm,
            may_rotate: false,
        }
    }

    #[test]
    fn turning_is_used_only_where_allowed_and_needed() {
        let long = Item {
            across_mm: 2000.,
            along_mm: 500.,
            may_rotate: true,
        };
        let laid = lay_out(&[long], 1524., 0.).unwrap();
        assert!(laid.placed[0].rotated);
        assert!((laid.length_mm - 2000.).abs() < FIT_MM);
        assert_eq!(
            lay_out(
                &[Item {
                    may_rotate: false,
                    ..long
                }],
                1524.,
                0.
            ),
            None
        );
        assert!((narrowest_mm(&long) - 500.).abs() < FIT_MM);
    }

    #[test]
    fn decimals_that_sum_to_the_width_still_share_a_shelf() {
        // 0.1 ten times is a hair above 1 in binary.
        let laid = lay_out(&[fixed(0.1, 1.); 10], 1.0, 0.).unwrap();
        assert!((laid.length_mm - 1.).abs() < FIT_MM);
    }

    /// Cuts a strip into `count` boxes without waste, so that its length is the best possible.
    fn zero_waste(width_mm: f64, length_mm: f64, count: usize, cuts: &[f64]) -> Vec<Item> {
        let mut sheets = vec![(width_mm, length_mm)];
        for cut in &cuts[..count - 1] {
            let (big, &(w, l)) = (sheets.iter().enumerate())
                .max_by(|(_, a), (_, b)| (a.0 * a.1).total_cmp(&(b.0 * b.1)))
                .unwrap();
            let pair = if w * 3.0 > l * 2.0 {
                [(w * cut, l), (w - w * cut, l)]
            } else {
                [(w, l * cut), (w, l - l * cut)]
            };
            sheets.splice(big..=big, pair);
        }
        sheets.into_iter().map(|(w, l)| fixed(w, l)).collect()
    }

    fn tallest(items: &[Item]) -> f64 {
        items.iter().map(|i| i.along_mm).fold(0.0, f64::max)
    }

    /// Strip widths, optimal lengths and item counts of the zero-waste classes C1 to C7 of Hopper
    /// and Turton 2001 (check values, section 6); the cuts are our own, as only areas are published.
    const CLASSES: [(f64, f64, usize); 7] = [
        (20., 20., 16),
        (40., 15., 25),
        (60., 30., 28),
        (60., 60., 49),
        (60., 90., 73),
        (80., 120., 97),
        (160., 240., 196),
    ];

    proptest! {
        /// Bounds: at least the zero-waste length; at most 1.7 of it plus the tallest box
        /// (Coffman, Garey, Johnson, Tarjan 1980; from memory).
        #[test]
        fn length_keeps_the_bounds_of_the_heuristic(
            class in 0..CLASSES.len(), cuts in prop::collection::vec(0.2..0.8f64, 196),
        ) {
            let (width, best, count) = CLASSES[class];
            let items = zero_waste(width, best, count, &cuts);
            let laid = lay_out(&items, width, 0.).unwrap();
            prop_assert!(laid.length_mm >= best - 1e-6);
            prop_assert!(laid.length_mm <= 1.7 * best + tallest(&items) + 1e-6);
            let free: Vec<Item> = items.iter().map(|i| Item { may_rotate: true, ..*i }).collect();
            let area: f64 = items.iter().map(|i| i.across_mm * i.along_mm).sum();
            prop_assert!(lay_out(&free, width, 0.).unwrap().length_mm >= area / width - 1e-6);
        }

        #[test]
        fn boxes_stay_on_the_roll_and_apart_and_none_is_lost(
            sizes in prop::collection::vec((1.0..900.0f64, 1.0..2500.0f64, any::<bool>()), 1..60),
            width in 900.0..1600.0f64, gap in 0.0..20.0f64,
        ) {
            let items: Vec<Item> = (sizes.into_iter())
                .map(|(across_mm, along_mm, may_rotate)| Item { across_mm, along_mm, may_rotate })
                .collect();
            let laid = lay_out(&items, width, gap).unwrap();
            let mut seen: Vec<usize> = laid.placed.iter().map(|p| p.item).collect();
            seen.sort_unstable();
            prop_assert_eq!(seen, (0..items.len()).collect::<Vec<_>>());
            for (at, p) in laid.placed.iter().enumerate() {
                let item = items[p.item];
                let given = (item.across_mm, item.along_mm);
                let want = if p.rotated { (given.1, given.0) } else { given };
                prop_assert_eq!((p.across_mm, p.along_mm), want);
                prop_assert!(item.may_rotate || !p.rotated);
                prop_assert!(p.x_mm >= 0. && p.x_mm + p.across_mm <= width + FIT_MM);
                prop_assert!(p.y_mm >= 0. && p.y_mm + p.along_mm <= laid.length_mm + FIT_MM);
                for q in &laid.placed[at + 1..] {
                    let apart = |a: f64, a_len: f64, b: f64, b_len: f64| {
                        a + a_len + gap <= b + FIT_MM || b + b_len + gap <= a + FIT_MM
                    };
                    prop_assert!(
                        apart(p.x_mm, p.across_mm, q.x_mm, q.across_mm)
                            || apart(p.y_mm, p.along_mm, q.y_mm, q.along_mm),
                        "{p:?} and {q:?}"
                    );
                }
            }
        }
    }
}
