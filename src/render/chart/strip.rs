//! A chart on a terminal: what it says, and a strip of blocks for each series.

use crate::model::Clock;
use crate::report::chart::{Chart, Look, Scale, Series};
use crate::units::UnitSystem;

use super::super::text::Screen;
use super::scale::value;

const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// Lines for a terminal.
pub fn strip(chart: &Chart, screen: Screen) -> Vec<String> {
    let mut out = vec![chart.title.clone()];
    if let (Some(x), Some(y)) = (chart.reach_x(), chart.reach_y()) {
        let width = screen.width.unwrap_or(80).saturating_sub(24).clamp(20, 72);
        let low = if chart.y.from_zero { y.0.min(0) } else { y.0 };
        for series in chart.series.iter().filter(|s| s.points.len() > 2) {
            out.push(format!("{}  {}", blocks(series, x, (low, y.1), width), series.name));
        }
        let axis = [x.0, x.1].map(|n| tell(chart.x.scale, n, screen.units));
        let up = [low, y.1].map(|n| tell(chart.y.scale, n, screen.units));
        out.push(format!("{} to {}, blocks from {} to {}", axis[0], axis[1], up[0], up[1]));
    }
    if !chart.says.is_empty() {
        out.push(chart.says.clone());
    }
    out
}

fn tell(scale: Scale, n: i64, units: UnitSystem) -> String {
    match scale {
        Scale::Time(clock) => crate::model::Instant(n).day(clock).to_string(),
        Scale::Of(m) => m.text(n, units),
    }
}

/// The greatest value in each column; a line holds its value until the next point.
fn blocks(series: &Series, x: (i64, i64), y: (i64, i64), width: usize) -> String {
    let units = UnitSystem::Metric;
    let number = |n: i64| value(Scale::Time(Clock::UTC), n, units);
    let (x0, x1) = (number(x.0), number(x.1));
    let (y0, y1) = (y.0 as f64, y.1 as f64);
    let mut cells: Vec<Option<f64>> = vec![None; width];
    for p in &series.points {
        let share = if x1 > x0 { (number(p.x) - x0) / (x1 - x0) } else { 0.0 };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a column of the strip"
        )]
        let at = ((share * width as f64) as usize).min(width - 1);
        let top = cells[at].map_or(p.y as f64, |v: f64| v.max(p.y as f64));
        cells[at] = Some(top);
    }
    let holds = matches!(series.look, Look::Line | Look::LinePoints);
    let mut last = None;
    cells
        .into_iter()
        .map(|cell| {
            let shown = cell.or(if holds { last } else { None });
            last = shown;
            shown.map_or(' ', |v| {
                let share = if y1 > y0 { (v - y0) / (y1 - y0) } else { 1.0 };
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "one of eight blocks"
                )]
                let at = ((share.clamp(0.0, 1.0) * 7.0).round() as usize).min(7);
                BLOCKS[at]
            })
        })
        .collect()
}
