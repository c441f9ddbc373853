//! Small charts for the terminal: characters only, so that they survive a pipe.

/// Something with an earliest, an expected and a latest place on an axis.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Span {
    /// What it is.
    pub(crate) name: String,
    /// Earliest.
    pub(crate) from: f64,
    /// Expected.
    pub(crate) at: f64,
    /// Latest.
    pub(crate) to: f64,
    /// Whether it is less than sure: drawn dotted.
    pub(crate) dotted: bool,
}

/// Columns of the axis.
const WIDTH: f64 = 48.0;

/// Spans below each other on one logarithmic axis, which suits times from minutes
/// to weeks; nothing where there is nothing to place. The last line names both
/// ends of the axis by `label`.
pub(crate) fn timeline(spans: &[Span], label: impl Fn(f64) -> String) -> String {
    let above_zero = |value: &f64| *value > 0.0 && value.is_finite();
    let low = spans
        .iter()
        .flat_map(|s| [s.from, s.at])
        .filter(above_zero)
        .reduce(f64::min);
    let high = spans
        .iter()
        .map(|span| span.to)
        .filter(above_zero)
        .reduce(f64::max);
    let (Some(low), Some(high)) = (low, high) else {
        return String::new();
    };
    let scale = (high / low).ln().max(f64::MIN_POSITIVE);
    let place = |value: f64| {
        ((value.max(low) / low).ln() / scale * WIDTH)
            .round()
            .min(WIDTH)
    };
    let named = spans
        .iter()
        .map(|span| span.name.chars().count())
        .max()
        .unwrap_or(0);
    let columns = || std::iter::successors(Some(0.0), |x| (*x < WIDTH).then_some(x + 1.0));
    let mut out = String::new();
    for span in spans {
        let (from, at, to) = (place(span.from), place(span.at), place(span.to));
        let dash = if span.dotted { '╌' } else { '━' };
        let line: String = columns()
            .map(|x: f64| match x {
                x if (x - at).abs() < 0.5 => '●',
                x if x >= from && x <= to => dash,
                _ => '·',
            })
            .collect();
        out.push_str(&format!("{:named$}  {line}\n", span.name));
    }
    let (left, right) = (label(low), label(high));
    let gap = columns()
        .count()
        .saturating_sub(left.chars().count() + right.chars().count());
    out.push_str(&format!(
        "{:named$}  {left}{}{right}\n",
        "",
        " ".repeat(gap)
    ));
    out
}

/// A curve as one line of blocks of rising height, at most 48; nothing for none.
/// Where there are more values, each block is their mean.
pub(crate) fn blocks(values: &[f64]) -> String {
    const HEIGHTS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
    const MOST: usize = 48;
    let size = values.len().div_ceil(MOST).max(1);
    let means: Vec<f64> = values
        .chunks(size)
        .map(|chunk| chunk.iter().sum::<f64>() / chunk.iter().map(|_| 1.0).sum::<f64>())
        .collect();
    let low = means.iter().copied().fold(f64::INFINITY, f64::min);
    let high = means.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let height = |value: &f64| {
        let share = (value - low) / (high - low).max(f64::MIN_POSITIVE);
        let steps = HEIGHTS
            .iter()
            .zip(1..)
            .find(|(_, step)| share <= f64::from(*step) / 8.0);
        steps.map_or('█', |(block, _)| *block)
    };
    means.iter().map(height).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn span(name: &str, from: f64, at: f64, to: f64, dotted: bool) -> Span {
        Span {
            name: name.to_owned(),
            from,
            at,
            to,
            dotted,
        }
    }

    #[test]
    fn spans_lie_on_one_axis() {
        let spans = [
            span("wipe", 0.1, 0.1, 0.1, false),
            span("dry", 8.0, 10.0, 14.0, false),
            span("full", 80.0, 100.0, 1000.0, true),
        ];
        let drawn = timeline(&spans, |hours| format!("{hours} h"));
        insta::assert_snapshot!(drawn, @"
        wipe  ●················································
        dry   ·······················━●━━······················
        full  ···································╌●╌╌╌╌╌╌╌╌╌╌╌╌
              0.1 h                                      1000 h
        ");
        assert_eq!(timeline(&[], |_| String::new()), "");
    }

    #[test]
    fn blocks_rise_with_the_values() {
        assert_eq!(
            blocks(&[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]),
            "▁▁▂▃▄▅▆▇█"
        );
        assert_eq!(blocks(&[20.0, 20.0]), "▁▁");
        assert_eq!(blocks(&[]), "");
        assert_eq!(blocks(&[1.0; 1000]).chars().count(), 48);
    }

    proptest! {
        #[test]
        fn no_number_makes_it_panic(all: Vec<(f64, f64, f64)>, values: Vec<f64>) {
            let spans: Vec<Span> =
                all.iter().map(|&(from, at, to)| span("x", from, at, to, false)).collect();
            let _ = timeline(&spans, |value| value.to_string());
            prop_assert!(blocks(&values).chars().count() <= 48);
        }
    }
}
