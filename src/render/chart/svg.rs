//! A chart as SVG, for a page: colours are names of the page's style, text stays text, and what can
//! be seen is said in words for those who cannot see it.

use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::report::chart::{Chart, Look, Series};
use crate::units::UnitSystem;

use super::super::safe::for_screen;
use super::scale::{Ruler, value};

/// A chart ready for a page.
#[derive(Clone, Debug)]
pub struct Drawn {
    pub svg: String,
    /// What its colours and signs mean.
    pub keys: Vec<Key>,
}

/// What a colour or a sign means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Key {
    /// Class of its swatch in the page's style.
    pub swatch: String,
    /// The sign that is drawn, where it is one.
    pub sign: &'static str,
    pub name: String,
}

/// Drawn at twice the size of its view, so that whole pixels are halves.
const FINE: i32 = 2;

/// Stand-ins for colours, each with the name that takes its place. The names are custom properties
/// of the page's style.
const NAMED: [(RGBColor, &str, &str); 9] = [
    (RGBColor(1, 1, 1), "#010101", "ink"),
    (RGBColor(1, 1, 2), "#010102", "soft"),
    (RGBColor(1, 1, 3), "#010103", "grid"),
    (RGBColor(1, 1, 4), "#010104", "band"),
    (RGBColor(1, 1, 5), "#010105", "limit"),
    (RGBColor(1, 2, 0), "#010200", "s0"),
    (RGBColor(1, 2, 1), "#010201", "s1"),
    (RGBColor(1, 2, 2), "#010202", "s2"),
    (RGBColor(1, 2, 3), "#010203", "s3"),
];
const INK: RGBColor = NAMED[0].0;
const SOFT: RGBColor = NAMED[1].0;
const GRID: RGBColor = NAMED[2].0;
const BAND: RGBColor = NAMED[3].0;
const LIMIT: RGBColor = NAMED[4].0;
const FIRST_SERIES: usize = 5;
const SERIES: usize = NAMED.len() - FIRST_SERIES;

const fn series_colour(n: usize) -> RGBColor {
    NAMED[FIRST_SERIES + n % SERIES].0
}

/// Signs of series, told apart without colour.
const SIGNS: [&str; 3] = ["●", "▲", "✕"];

/// Signs of marks: an inspection, a failure, anything else.
const MARKS: [&str; 3] = ["▼", "◆", "■"];

fn mark_kind(what: &str) -> usize {
    match what {
        "inspection" => 0,
        "failure" => 1,
        _ => 2,
    }
}

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Plane = Cartesian2d<RangedCoordf64, RangedCoordf64>;

/// Where the plot lies in the picture.
struct Frame {
    left: i32,
    right: i32,
    top: i32,
    bottom: i32,
    /// Rows of names of spans above the plot.
    rows: Vec<(usize, String, f64)>,
}

/// Width of a text of the small size, roughly: there are no fonts here to ask.
fn wide(text: &str) -> i32 {
    i32::try_from(text.chars().count()).unwrap_or(0) * 13
}

/// Draws a chart. `None` when there is nothing to draw.
pub fn draw(chart: &Chart, units: UnitSystem) -> Option<Drawn> {
    let (x, y) = (chart.reach_x()?, chart.reach_y()?);
    let size: (i32, i32) = if chart.small { (680, 300) } else { (1440, 560) };
    let x = Ruler::new(&chart.x, x, units, if chart.small { 4 } else { 8 });
    let y = Ruler::new(&chart.y, y, units, if chart.small { 3 } else { 5 });
    let mut text = String::new();
    {
        let (w, h) = (size.0.unsigned_abs(), size.1.unsigned_abs());
        let root = SVGBackend::with_string(&mut text, (w, h)).into_drawing_area();
        // A string takes everything: there is no file that could fail.
        picture(&root, chart, &x, &y, size, units).ok()?;
        root.present().ok()?;
    }
    Some(Drawn { svg: tidy(&text, chart, size), keys: keys(chart) })
}

/// Takes the library's frame off, puts ours on, and gives colours their names.
fn tidy(text: &str, chart: &Chart, size: (i32, i32)) -> String {
    let from = text.find('>').map_or(0, |at| at + 1);
    let to = text.rfind("</svg>").unwrap_or(text.len());
    let mut body = text.get(from..to).unwrap_or_default().trim().to_owned();
    for (_, hex, name) in NAMED {
        for attribute in ["fill", "stroke"] {
            let with = format!("{attribute}=\"var(--{name})\"");
            body = body.replace(&format!("{attribute}=\"{hex}\""), &with);
        }
    }
    body = body.replace(" opacity=\"1\"", "").replace(" font-family=\"sans-serif\"", "");
    let label = escaped(&format!("{}. {}", chart.title, chart.says));
    let class = if chart.small { "chart small" } else { "chart" };
    format!(
        "<svg class=\"{class}\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"{label}\" \
         xmlns=\"http://www.w3.org/2000/svg\">{body}</svg>",
        size.0, size.1
    )
}

fn escaped(text: &str) -> String {
    for_screen(text)
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
        .replace('\'', "&#39;")
}

fn keys(chart: &Chart) -> Vec<Key> {
    let mut out: Vec<Key> = Vec::new();
    if chart.series.len() > 1 || !chart.spans.is_empty() || !chart.marks.is_empty() {
        for (n, s) in chart.series.iter().enumerate() {
            let (look, sign) = match s.look {
                Look::Line => ("line", "—"),
                Look::LinePoints | Look::Points => ("sign", SIGNS[n % SIGNS.len()]),
                Look::Bars => ("bar", ""),
            };
            let swatch = format!("{look} s{}", n % SERIES);
            out.push(Key { swatch, sign, name: s.name.clone() });
        }
    }
    if !chart.spans.is_empty() {
        let swatch = "bar band".to_owned();
        out.push(Key { swatch, sign: "", name: "run".to_owned() });
    }
    let mut seen: Vec<&str> = Vec::new();
    for m in &chart.marks {
        if !seen.contains(&m.what.as_str()) {
            let swatch = "sign mark".to_owned();
            seen.push(&m.what);
            out.push(Key { swatch, sign: MARKS[mark_kind(&m.what)], name: m.what.clone() });
        }
    }
    out
}

fn style(size: i32, colour: RGBColor, h: HPos, v: VPos) -> TextStyle<'static> {
    // The library writes its sizes 1.24 times too small.
    let size = f64::from(size * FINE) * 1.24;
    let mut style = TextStyle::from(("sans-serif", size).into_font()).pos(Pos::new(h, v));
    style.color = colour.to_backend_color();
    style
}

/// Rows for the names of spans, so that none stands on another.
fn span_rows(
    chart: &Chart,
    x: &Ruler,
    frame: (i32, i32),
    units: UnitSystem,
) -> Vec<(usize, String, f64)> {
    let scale = f64::from(frame.1 - frame.0) / (x.to - x.from);
    let mut ends: Vec<f64> = Vec::new();
    let mut out = Vec::new();
    for span in &chart.spans {
        let middle = f64::midpoint(
            value(chart.x.scale, span.from, units),
            value(chart.x.scale, span.to, units),
        );
        let at = f64::from(frame.0) + (middle - x.from) * scale;
        let half = f64::from(wide(&span.label)) / 2.0 + 6.0;
        let row = ends.iter().position(|end| *end <= at - half).unwrap_or(ends.len());
        if row >= 3 {
            continue;
        }
        if row == ends.len() {
            ends.push(at + half);
        } else {
            ends[row] = at + half;
        }
        out.push((row, for_screen(&span.label).into_owned(), at));
    }
    out
}

type Failed = DrawingAreaErrorKind<std::io::Error>;

fn picture(
    root: &Area<'_>,
    chart: &Chart,
    x: &Ruler,
    y: &Ruler,
    size: (i32, i32),
    units: UnitSystem,
) -> Result<(), Failed> {
    let widest = y.ticks.iter().map(|t| wide(&t.1)).max().unwrap_or(0);
    let left = widest + if y.title.is_empty() { 24 } else { 54 };
    let right = size.0 - 40;
    let rows = span_rows(chart, x, (left, right), units);
    let high = rows.iter().map(|r| r.0 + 1).max().unwrap_or(0);
    let frame = Frame {
        left,
        right,
        top: 14 + 26 * i32::try_from(high).unwrap_or(0),
        bottom: size.1 - if x.title.is_empty() { 44 } else { 74 },
        rows,
    };
    let (from, to) = if chart.y.down { (y.to, y.from) } else { (y.from, y.to) };
    let plane: Plane = Cartesian2d::new(
        x.from..x.to,
        from..to,
        (frame.left..frame.right, frame.bottom..frame.top),
    );
    let area = root.clone().apply_coord_spec(plane.clone());
    let on = |x: f64, y: f64| -> (i32, i32) {
        use plotters::coord::CoordTranslate;
        plane.translate(&(x, y))
    };
    let px = |v: f64| on(v, y.from).0;
    let py = |v: f64| on(x.from, v).1;
    for span in &chart.spans {
        let a = px(value(chart.x.scale, span.from, units));
        let b = px(value(chart.x.scale, span.to, units)).max(a + 3);
        root.draw(&Rectangle::new([(a, frame.top), (b, frame.bottom)], BAND.filled()))?;
    }
    axes(root, (x, y), &frame, &px, &py)?;
    for (row, label, at) in &frame.rows {
        let high = frame.top - 8 - 26 * i32::try_from(*row).unwrap_or(0);
        #[expect(clippy::cast_possible_truncation, reason = "a pixel of the picture")]
        let at = *at as i32;
        let text = style(11, SOFT, HPos::Center, VPos::Bottom);
        root.draw(&Text::new(label.clone(), (at, high), text))?;
    }
    for (n, s) in chart.series.iter().enumerate() {
        series(&area, chart, s, n, units)?;
    }
    for m in &chart.marks {
        mark(root, px(value(chart.x.scale, m.at, units)), &frame, mark_kind(&m.what))?;
    }
    levels(root, chart, &frame, &py, units)
}

fn axes(
    root: &Area<'_>,
    (x, y): (&Ruler, &Ruler),
    frame: &Frame,
    px: &dyn Fn(f64) -> i32,
    py: &dyn Fn(f64) -> i32,
) -> Result<(), Failed> {
    for (at, label) in &y.ticks {
        let at = py(*at);
        root.draw(&PathElement::new(
            vec![(frame.left, at), (frame.right, at)],
            GRID.stroke_width(2),
        ))?;
        let text = style(11, SOFT, HPos::Right, VPos::Center);
        root.draw(&Text::new(label.clone(), (frame.left - 10, at), text))?;
    }
    for (at, label) in &x.ticks {
        let at = px(*at);
        let tick = vec![(at, frame.bottom), (at, frame.bottom + 8)];
        root.draw(&PathElement::new(tick, SOFT.stroke_width(2)))?;
        let half = wide(label) / 2;
        let at = at.clamp(half, frame.right + 38 - half);
        let text = style(11, SOFT, HPos::Center, VPos::Top);
        root.draw(&Text::new(label.clone(), (at, frame.bottom + 12), text))?;
    }
    let line = vec![(frame.left, frame.bottom), (frame.right, frame.bottom)];
    root.draw(&PathElement::new(line, SOFT.stroke_width(2)))?;
    if !x.title.is_empty() {
        let text = style(11, INK, HPos::Center, VPos::Top);
        let at = (i32::midpoint(frame.left, frame.right), frame.bottom + 44);
        root.draw(&Text::new(x.title.clone(), at, text))?;
    }
    if !y.title.is_empty() {
        let text = style(11, INK, HPos::Center, VPos::Top).transform(FontTransform::Rotate270);
        root.draw(&Text::new(y.title.clone(), (4, i32::midpoint(frame.top, frame.bottom)), text))?;
    }
    Ok(())
}

fn series(
    area: &DrawingArea<SVGBackend<'_>, Plane>,
    chart: &Chart,
    s: &Series,
    n: usize,
    units: UnitSystem,
) -> Result<(), Failed> {
    let colour = series_colour(n);
    let at = |x: i64, y: i64| (value(chart.x.scale, x, units), value(chart.y.scale, y, units));
    let points: Vec<(f64, f64)> = s.points.iter().map(|p| at(p.x, p.y)).collect();
    match s.look {
        Look::Line => area.draw(&PathElement::new(points, colour.stroke_width(4))),
        Look::LinePoints => {
            area.draw(&PathElement::new(points.clone(), colour.stroke_width(4)))?;
            points.into_iter().try_for_each(|p| sign(area, p, n))
        }
        Look::Points => points.into_iter().try_for_each(|p| sign(area, p, n)),
        Look::Bars => {
            let gap = s.points.windows(2).map(|w| w[1].x.abs_diff(w[0].x)).filter(|g| *g > 0).min();
            let scale = area.get_pixel_range().0;
            let (from, to) = chart.reach_x().unwrap_or((0, 1));
            let all = to.abs_diff(from).max(1) as f64;
            let room = f64::from(scale.end - scale.start - 80) * gap.unwrap_or(1) as f64 / all;
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "pixels, clamped to a few"
            )]
            let width = (room * 0.8).clamp(3.0, 56.0) as u32;
            for p in &s.points {
                let line = vec![at(p.x, p.base), at(p.x, p.y)];
                area.draw(&PathElement::new(line, colour.stroke_width(width)))?;
            }
            Ok(())
        }
    }
}

/// The sign of a series at a point.
fn sign(area: &DrawingArea<SVGBackend<'_>, Plane>, at: (f64, f64), n: usize) -> Result<(), Failed> {
    let colour = series_colour(n);
    match n % SIGNS.len() {
        0 => area.draw(&Circle::new(at, 7, colour.filled())),
        1 => area.draw(&TriangleMarker::new(at, 9, colour.filled())),
        _ => area.draw(&Cross::new(at, 7, colour.stroke_width(4))),
    }
}

/// A broken line down the plot, with a sign at its head that is told apart without colour.
fn mark(root: &Area<'_>, at: i32, frame: &Frame, kind: usize) -> Result<(), Failed> {
    let (on, off) = [(10, 8), (3, 6), (18, 5)][kind];
    let mut y = frame.top;
    while y < frame.bottom {
        let end = (y + on).min(frame.bottom);
        root.draw(&PathElement::new(vec![(at, y), (at, end)], INK.stroke_width(2)))?;
        y = end + off;
    }
    let top = frame.top;
    let shape = match kind {
        0 => vec![(at - 8, top - 4), (at + 8, top - 4), (at, top + 10)],
        1 => vec![(at, top - 8), (at + 9, top + 1), (at, top + 10), (at - 9, top + 1)],
        _ => vec![(at - 7, top - 6), (at + 7, top - 6), (at + 7, top + 8), (at - 7, top + 8)],
    };
    root.draw(&Polygon::new(shape, INK))
}

/// Limits, each with its name at the left, below the line where two would meet.
fn levels(
    root: &Area<'_>,
    chart: &Chart,
    frame: &Frame,
    py: &dyn Fn(f64) -> i32,
    units: UnitSystem,
) -> Result<(), Failed> {
    let mut levels: Vec<(i32, &str)> = chart
        .levels
        .iter()
        .map(|l| (py(value(chart.y.scale, l.at, units)), l.label.as_str()))
        .collect();
    levels.sort_unstable();
    let mut last = i32::MIN / 2;
    for (at, label) in levels {
        let mut x = frame.left;
        while x < frame.right {
            let end = (x + 16).min(frame.right);
            root.draw(&PathElement::new(vec![(x, at), (end, at)], LIMIT.stroke_width(3)))?;
            x = end + 8;
        }
        let below = at - last < 28;
        let (y, v) = if below { (at + 4, VPos::Top) } else { (at - 2, VPos::Bottom) };
        last = if below { at + 26 } else { at };
        let text = style(11, LIMIT, HPos::Left, v);
        root.draw(&Text::new(for_screen(label).into_owned(), (frame.left + 8, y), text))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::chart::{Axis, Mark, Point, Span};
    use crate::units::Measure;

    fn sample() -> Chart {
        let mut c = Chart::new(
            "c",
            "damage <b>",
            Axis::time(crate::model::Clock::UTC),
            Axis::of("damage", Measure::Damage),
        );
        let day = crate::model::DAY_MS;
        c.add(
            "\"><script>",
            Look::LinePoints,
            (0..5).map(|i| Point::at(i * 40 * day, i * 4_000_000_000_000)).collect(),
        );
        c.spans.push(Span { from: 0, to: 9 * day, label: "<script>R1</script>".to_owned() });
        c.marks.push(Mark { at: 50 * day, what: "inspection".to_owned() });
        c.says = "rises\" onload=\"alert(1)".to_owned();
        c
    }

    #[test]
    fn strange_names_stay_text() {
        let drawn = draw(&sample(), UnitSystem::Us).unwrap();
        assert!(!drawn.svg.contains("<script"), "{}", drawn.svg);
        assert!(!drawn.svg.contains("\" onload="), "{}", drawn.svg);
        assert!(drawn.svg.contains("&lt;script&gt;R1"), "{}", drawn.svg);
        assert!(roxmltree::Document::parse(&drawn.svg).is_ok());
    }

    #[test]
    fn colours_are_names_and_the_picture_says_what_it_shows() {
        let svg = draw(&sample(), UnitSystem::Us).unwrap().svg;
        assert!(!svg.contains("#01"), "{svg}");
        assert!(svg.contains("stroke=\"var(--s0)\"") && svg.contains("role=\"img\""));
        assert!(svg.contains("aria-label=\"damage &lt;b&gt;."));
    }

    #[test]
    fn nothing_to_draw_is_no_picture() {
        let c = Chart::new(
            "c",
            "t",
            Axis::time(crate::model::Clock::UTC),
            Axis::of("y", Measure::Damage),
        );
        assert!(draw(&c, UnitSystem::Us).is_none());
    }
}
