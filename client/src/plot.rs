//! Charts as SVG files, drawn by plotters.

use std::path::Path;

use plotters::prelude::*;

use crate::errors::CliError;

/// A line through points.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Curve {
    /// What it is.
    pub(crate) name: String,
    /// Its points, rising in x.
    pub(crate) points: Vec<(f64, f64)>,
}

/// An upright mark with the stretch it may lie in.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Mark {
    /// What it is.
    pub(crate) name: String,
    /// Earliest, expected, latest.
    pub(crate) at: [f64; 3],
}

/// A chart of curves over one axis, with marks on it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Chart {
    /// What it shows.
    pub(crate) title: String,
    /// Name and unit of the x axis.
    pub(crate) x: String,
    /// Name and unit of the y axis.
    pub(crate) y: String,
    /// The curves.
    pub(crate) curves: Vec<Curve>,
    /// The marks.
    pub(crate) marks: Vec<Mark>,
}

const SIZE: (u32, u32) = (960, 540);
/// Share of the x axis that a mark's name takes up.
const LABEL_SHARE: f64 = 0.018;
const CURVES: [RGBColor; 4] = [
    RGBColor(0, 90, 160),
    RGBColor(200, 80, 0),
    RGBColor(0, 130, 80),
    RGBColor(120, 60, 150),
];

impl Chart {
    /// Writes the chart.
    ///
    /// # Errors
    /// [`CliError::Write`].
    pub(crate) fn save(&self, path: &Path) -> Result<(), CliError> {
        let failed = |source| CliError::Write {
            path: path.to_owned(),
            source,
        };
        let svg = self
            .svg()
            .map_err(|why| failed(std::io::Error::other(why)))?;
        std::fs::write(path, svg).map_err(failed)
    }

    /// The chart's text; the reason where it cannot be drawn.
    fn svg(&self) -> Result<String, String> {
        let mut svg = String::new();
        {
            let area = SVGBackend::with_string(&mut svg, SIZE).into_drawing_area();
            self.draw(&area).map_err(|error| error.to_string())?;
            area.present().map_err(|error| error.to_string())?;
        }
        Ok(svg)
    }

    fn draw<'a>(
        &self,
        area: &DrawingArea<SVGBackend<'a>, plotters::coord::Shift>,
    ) -> Result<(), DrawingAreaErrorKind<std::io::Error>> {
        area.fill(&WHITE)?;
        let points = || self.curves.iter().flat_map(|curve| curve.points.iter());
        let marked = || self.marks.iter().flat_map(|mark| mark.at);
        let x = extent(points().map(|point| point.0).chain(marked()), 0.0);
        let y = extent(points().map(|point| point.1), 0.08);
        let mut chart = ChartBuilder::on(area)
            .caption(&self.title, ("sans-serif", 22))
            .margin(16)
            .x_label_area_size(44)
            .y_label_area_size(56)
            .build_cartesian_2d(x.clone(), y.clone())?;
        chart
            .configure_mesh()
            .max_light_lines(0)
            .x_desc(&self.x)
            .y_desc(&self.y)
            .draw()?;
        for mark in &self.marks {
            let [from, at, to] = mark.at;
            let band = [(from, y.start), (to, y.end)];
            chart.draw_series([Rectangle::new(
                band,
                RGBColor(120, 120, 120).mix(0.12).filled(),
            )])?;
            let upright = [(at, y.start), (at, y.end)];
            chart.draw_series([PathElement::new(upright, RGBColor(90, 90, 90))])?;
        }
        for (at, names) in labels(&self.marks, (x.end - x.start) * LABEL_SHARE) {
            let style = ("sans-serif", 13)
                .into_font()
                .transform(FontTransform::Rotate90);
            chart.draw_series([Text::new(names, (at, y.end), style)])?;
        }
        for (curve, color) in self.curves.iter().zip(CURVES.into_iter().cycle()) {
            chart
                .draw_series(LineSeries::new(
                    curve.points.iter().copied(),
                    color.stroke_width(2),
                ))?
                .label(&curve.name)
                .legend(move |(x, y)| PathElement::new([(x, y), (x + 20, y)], color));
        }
        chart
            .configure_series_labels()
            .position(SeriesLabelPosition::UpperMiddle)
            .border_style(BLACK.mix(0.3))
            .background_style(WHITE.mix(0.85))
            .draw()?;
        Ok(())
    }
}

/// The names of the marks where they stand; marks closer than `apart` share one
/// label, which would else lie over each other.
fn labels(marks: &[Mark], apart: f64) -> Vec<(f64, String)> {
    let mut labels: Vec<(f64, String)> = Vec::new();
    for mark in marks {
        let [_, at, _] = mark.at;
        match labels.last_mut() {
            Some((before, names)) if (at - *before).abs() < apart => {
                names.push_str(", ");
                names.push_str(&mark.name);
            }
            _ => labels.push((at, mark.name.clone())),
        }
    }
    labels
}

/// From the least to the largest value, with some room; never empty.
fn extent(values: impl Iterator<Item = f64>, room: f64) -> std::ops::Range<f64> {
    let (low, high) = values
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
    if low > high {
        return 0.0..1.0;
    }
    let least = if high - low < 1e-9 { 1.0 } else { 0.0 };
    let room = (high - low) * room + least;
    low - room..high + room
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart() -> Chart {
        Chart {
            title: "Cure of <coating> & more".to_owned(),
            x: "hours".to_owned(),
            y: "°C".to_owned(),
            curves: vec![Curve {
                name: "panel".to_owned(),
                points: vec![(0.0, 15.0), (8.0, 22.0)],
            }],
            marks: vec![Mark {
                name: "dry".to_owned(),
                at: [5.0, 6.0, 7.5],
            }],
        }
    }

    /// SVG 2: the root element is svg, text is XML, so < and & are escaped.
    #[test]
    fn a_chart_is_an_svg_with_its_words_escaped() {
        let svg = chart().svg().unwrap();
        assert!(
            svg.starts_with("<svg ") && svg.trim_end().ends_with("</svg>"),
            "{svg}"
        );
        assert!(svg.contains("Cure of &lt;coating&gt; &amp; more"), "{svg}");
        assert!(svg.contains("<polyline") && svg.contains("dry"), "{svg}");
    }

    #[test]
    fn marks_that_lie_close_share_a_label() {
        let mark = |name: &str, at| Mark {
            name: name.to_owned(),
            at: [at; 3],
        };
        let marks = [mark("wipe", 0.0), mark("recoat", 0.5), mark("dry", 9.0)];
        assert_eq!(
            labels(&marks, 1.0),
            [(0.0, "wipe, recoat".to_owned()), (9.0, "dry".to_owned())]
        );
    }

    #[test]
    fn nothing_to_draw_is_no_failure() {
        let empty = Chart {
            curves: vec![],
            marks: vec![],
            ..chart()
        };
        assert!(empty.svg().is_ok());
        assert_eq!(extent([3.0].into_iter(), 0.0), 2.0..4.0);
        assert_eq!(extent([f64::NAN].into_iter(), 0.0), 0.0..1.0);
    }
}
