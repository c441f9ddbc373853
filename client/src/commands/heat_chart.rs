//! The chart of `lamella heat`: a line in the terminal, or a file.

use lamella_proto::v1;

use crate::chart;
use crate::plot::{Chart, Curve};
use crate::text::View;
use crate::units::number;

/// The curve as one line of blocks, at even times.
pub(crate) fn line(points: &[v1::HeatPoint], view: &View) -> String {
    let series = series(points, |temperature| temperature.panel_c);
    let values = even(&series);
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let Some((end_s, _)) = series.last().filter(|_| low <= high) else {
        return String::new();
    };
    format!(
        "\n{}  0 to {} s, {} to {}\n",
        chart::blocks(&values),
        number(*end_s),
        view.units.temperature(low),
        view.units.temperature(high)
    )
}

/// The curve with its interval and the ceiling.
pub(crate) fn svg(answer: &v1::PredictHeatResponse) -> Chart {
    let curve = |name: &str, of: fn(&v1::HeatTemperature) -> f64| Curve {
        name: name.to_owned(),
        points: series(&answer.curve, of),
    };
    let mut curves = vec![
        curve("panel", |t| t.panel_c),
        curve("95 %, upper end", |t| t.high_c),
        curve("95 %, lower end", |t| t.low_c),
    ];
    let end_s = answer.curve.last().map_or(0.0, |point| point.after_s);
    if let Some(used) = &answer.used {
        curves.push(Curve {
            name: "ceiling".to_owned(),
            points: vec![(0.0, used.ceiling_c), (end_s, used.ceiling_c)],
        });
    }
    Chart {
        title: "Panel temperature while polishing".to_owned(),
        x: "seconds".to_owned(),
        y: "°C".to_owned(),
        curves,
        marks: Vec::new(),
    }
}

fn series(points: &[v1::HeatPoint], of: impl Fn(&v1::HeatTemperature) -> f64) -> Vec<(f64, f64)> {
    points
        .iter()
        .filter_map(|point| Some((point.after_s, of(point.temperature.as_ref()?))))
        .collect()
}

/// 48 values at even times, on straight lines between the points.
fn even(points: &[(f64, f64)]) -> Vec<f64> {
    let Some((end_s, _)) = points.last() else {
        return Vec::new();
    };
    let at = |time_s: f64| {
        points
            .windows(2)
            .find(|pair| time_s <= pair[1].0)
            .map(|pair| {
                let (from, to) = (pair[0], pair[1]);
                let share = (time_s - from.0) / (to.0 - from.0).max(f64::MIN_POSITIVE);
                from.1 + share.max(0.0) * (to.1 - from.1)
            })
            .or(points.last().map(|last| last.1))
    };
    (0..48)
        .filter_map(|step| at(end_s * f64::from(step) / 47.0))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::commands::heat::tests::answer;

    #[test]
    fn the_chart_has_the_interval_and_the_ceiling() {
        let chart = svg(&answer());
        assert_eq!(chart.curves.len(), 4);
        assert_eq!(chart.curves[1].points[1], (60.0, 27.0));
        assert_eq!(chart.curves[3].points, vec![(0.0, 50.0), (90.0, 50.0)]);
    }

    #[test]
    fn values_lie_on_the_lines_between_points() {
        let values = even(&[(0.0, 20.0), (47.0, 67.0)]);
        assert_eq!(values.len(), 48);
        assert!(
            values
                .iter()
                .zip(20..)
                .all(|(got, expected)| (got - f64::from(expected)).abs() < 1e-9)
        );
        assert_eq!(even(&[]), Vec::<f64>::new());
    }
}
