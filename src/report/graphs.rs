//! Charts of a joint's life and of a run.

use std::fmt::Write as _;

use crate::condition::{ForClass, Part, Standards, Subject, thresholds};
use crate::mechanics::path::Path;
use crate::model::{BAND_WIDTH, BANDS, Clock, Histogram, Instant, ReadingKind, Vocabulary};
use crate::schema::{InspectionRow, JointRunRow, MakeupRow};
use crate::units::{Measure as M, UnitSystem};

use super::PLACES;
use super::chart::{Axis, Chart, Level, Look, Mark, Point, Span};
use super::life::{Life, SeenRun};
use super::trace::is_off;

/// Inspections and the failure, as marks on time.
fn happenings(life: &Life, chart: &mut Chart) {
    let mark = |at, what: &str| Mark { at, what: what.to_owned() };
    chart.marks.extend(life.inspections.iter().map(|i| mark(i.date, "inspection")));
    chart.marks.extend(life.failures.iter().map(|f| mark(f.date, "failure")));
    chart.marks.sort_by_key(|m| m.what != "inspection");
}

/// Damage against time at the three places, with runs, inspections and the failure.
pub(super) fn damage(life: &Life, units: UnitSystem, clock: Clock) -> Chart {
    let mut chart = Chart::new(
        "damage_by_time",
        "Damage against time",
        Axis::time(clock),
        Axis::of("damage", M::Damage),
    );
    let mut sums = [0i64; 3];
    let mut lines: [Vec<Point>; 3] = Default::default();
    for (run, r) in &life.runs {
        for ((line, sum), more) in lines.iter_mut().zip(&mut sums).zip(r.figures.damage()) {
            // A run of which nobody knows what it did is a gap in the line.
            let Some(more) = more else { continue };
            line.push(Point::at(r.start, *sum));
            *sum = sum.saturating_add(more);
            line.push(Point::at(r.finish, *sum));
        }
        chart.spans.push(Span { from: r.start, to: r.finish, label: run.row.name.clone() });
    }
    for ((name, line), look) in PLACES.iter().zip(lines).zip([Look::LinePoints; 3]) {
        chart.add(name, look, line);
    }
    let worst =
        life.runs.iter().filter_map(|r| Some((r.1.figures.worst_damage()?, &r.0.row.name))).max();
    if let Some((d, run)) = worst {
        let at = (0..3).max_by_key(|i| sums[*i]).unwrap_or(0);
        let known = life.runs.iter().filter(|r| r.1.figures.worst_damage().is_some()).count();
        chart.says = format!(
            "damage at the {} rises to {} in {known} runs; {run} alone added {}{}",
            PLACES[at],
            M::Damage.text(sums[at], units),
            M::Damage.text(d, units),
            match life.runs.len() - known {
                0 => String::new(),
                n => format!("; of {n} more it is not known"),
            },
        );
    }
    if !chart.is_empty() {
        happenings(life, &mut chart);
    }
    chart
}

/// Turns by dogleg, the bands as the units have them.
pub(super) fn turns(bytes: &[u8], units: UnitSystem) -> Chart {
    let mut chart = Chart::new(
        "turns_by_dogleg",
        "Turns by dogleg",
        Axis::of("dogleg", M::Dogleg),
        Axis::of("turns", M::Turns),
    );
    let Ok(histogram) = Histogram::decode(bytes) else { return chart };
    let last = (0..BANDS).rev().find(|b| histogram.band(*b).0 > 0);
    let Some(last) = last else { return chart };
    let points: Vec<Point> =
        (0..=last).map(|b| Point::at(Histogram::middle(b), histogram.band(b).0)).collect();
    let all: i64 = points.iter().map(|p| p.y).sum();
    let sharp = points.last().copied();
    chart.add("turns", Look::Bars, points);
    if let Some(p) = sharp {
        chart.says = format!(
            "{} turns in all, {} of them in the sharpest band, about {}; bands of {BAND_WIDTH} deg/30m",
            M::Turns.text(all, units),
            M::Turns.text(p.y, units),
            M::Dogleg.text(p.x, units),
        );
    }
    chart
}

/// Limits of the classes on a reading of a part, each once.
fn class_limits(
    subject: &Subject,
    standards: &Standards,
    what: ReadingKind,
    part: Part,
) -> Vec<(String, i64)> {
    let mut out: Vec<(String, i64)> = Vec::new();
    for t in thresholds(subject, standards) {
        if t.reading != what || t.part != part {
            continue;
        }
        let name = match t.limit.class {
            ForClass::Class(c) => c.word().replace('_', " "),
            ForClass::Any => "any class".to_owned(),
            ForClass::New => continue,
        };
        // Of several limits for one class the one that bites first is shown.
        match out.iter_mut().find(|l| l.0 == name) {
            Some(line) => line.1 = line.1.max(t.at),
            None => out.push((name, t.at)),
        }
    }
    out
}

/// Limits closer than this, a hundredth of a per cent or a micrometre, are one line in a picture.
const CLOSE_RATIO: i64 = 100_000;
const CLOSE_LENGTH: i64 = 1_000;

fn readings(life: &Life, get: fn(&InspectionRow) -> Option<i64>, first: Option<i64>) -> Vec<Point> {
    let mut out: Vec<Point> = first.map(|v| Point::at(life.row.entered, v)).into_iter().collect();
    out.extend(life.inspections.iter().filter_map(|i| Some(Point::at(i.date, get(i)?))));
    out
}

/// Wall against time, with the limits of the classes.
pub(super) fn wall(
    life: &Life,
    judged: Option<(&Subject, &Standards)>,
    units: UnitSystem,
    clock: Clock,
) -> Chart {
    let mut chart = Chart::new(
        "wall_by_time",
        "Wall against time",
        Axis::time(clock),
        Axis::of("wall left", M::Ratio).close(),
    );
    let points = readings(life, |i| i.wall, None);
    if let (Some(a), Some(b)) = (points.first(), points.last()) {
        chart.says = format!(
            "from {} on {} to {} on {}, percentages of nominal",
            M::Ratio.text(a.y, units),
            Instant(a.x).day(clock),
            M::Ratio.text(b.y, units),
            Instant(b.x).day(clock)
        );
    }
    chart.add("lowest reading", Look::LinePoints, points);
    if let (Some((subject, standards)), Some(nominal)) = (judged, life.row.nominal_wall)
        && !chart.is_empty()
        && nominal > 0
    {
        for (label, at) in class_limits(subject, standards, ReadingKind::Wall, Part::Tube) {
            let share =
                i128::from(at) * i128::from(M::Ratio.quanta_per_base()) / i128::from(nominal);
            let Ok(at) = i64::try_from(share) else { continue };
            match chart.levels.iter_mut().find(|l| (l.at - at).abs() < CLOSE_RATIO) {
                Some(level) => {
                    let _ = write!(level.label, " and {label}");
                }
                None => chart.levels.push(Level { at, label }),
            }
        }
    }
    failed(life, &mut chart);
    chart
}

fn failed(life: &Life, chart: &mut Chart) {
    if !chart.is_empty() {
        let marks = life.failures.iter().map(|f| Mark { at: f.date, what: "failure".to_owned() });
        chart.marks.extend(marks);
    }
}

/// Tool joint diameters against time, with the limits of the classes.
pub(super) fn diameters(
    life: &Life,
    judged: Option<(&Subject, &Standards)>,
    units: UnitSystem,
    clock: Clock,
) -> Chart {
    let mut chart = Chart::new(
        "tool_joint_by_time",
        "Tool joint OD against time",
        Axis::time(clock),
        Axis::of("outside diameter", M::Wall).close(),
    );
    let new = life.row.tool_joint_od.filter(|_| life.row.entered_new);
    let lines =
        [("box", readings(life, |i| i.box_od, new)), ("pin", readings(life, |i| i.pin_od, new))];
    let mut says = Vec::new();
    for (name, points) in lines {
        if points.len() > usize::from(new.is_some()) {
            if let (Some(a), Some(b)) = (points.first(), points.last()) {
                let (from, to) = (M::Wall.text(a.y, units), M::Wall.text(b.y, units));
                says.push(format!("{name} from {from} to {to}"));
            }
            chart.add(name, Look::LinePoints, points);
        }
    }
    chart.says = says.join("; ");
    if let Some((subject, standards)) = judged
        && !chart.is_empty()
    {
        for part in [Part::Box, Part::Pin] {
            for (class, at) in class_limits(subject, standards, ReadingKind::JointOd, part) {
                match chart.levels.iter_mut().find(|l| (l.at - at).abs() < CLOSE_LENGTH) {
                    Some(level) if level.label.starts_with(&format!("{class},")) => {
                        level.label = format!("{class}, box and pin");
                    }
                    _ => chart.levels.push(Level { at, label: format!("{class}, {part}") }),
                }
            }
        }
    }
    failed(life, &mut chart);
    chart
}

/// Make-up torque against its target.
pub(super) fn torque(life: &Life, units: UnitSystem, clock: Clock) -> Chart {
    let mut chart = Chart::new(
        "torque_by_time",
        "Make-up torque against target",
        Axis::time(clock),
        Axis::of("torque", M::Torque).close(),
    );
    let read: Vec<&MakeupRow> = life.makeups.iter().filter(|m| m.torque.is_some()).collect();
    let points = |get: fn(&MakeupRow) -> Option<i64>, keep: &dyn Fn(&MakeupRow) -> bool| {
        read.iter()
            .filter(|m| keep(m))
            .filter_map(|m| Some(Point::at(m.date, get(m)?)))
            .collect::<Vec<_>>()
    };
    chart.add(
        "torque, on target or target unknown",
        Look::Points,
        points(|m| m.torque, &|m| !is_off(m)),
    );
    chart.add("torque, off target", Look::Points, points(|m| m.torque, &is_off));
    chart.add("target", Look::LinePoints, points(|m| m.target_torque, &|_| true));
    let off = read.iter().filter(|m| is_off(m)).count();
    let without: i64 = life.makeups.iter().filter(|m| m.torque.is_none()).map(|m| m.times).sum();
    let bad = read.iter().filter(|m| m.instrument_doubtful).count();
    chart.says = format!(
        "{} make-ups with a torque, {off} off target, {bad} with a gauge in doubt; {without} more \
         were recorded without a torque",
        read.len()
    );
    let spread = read.iter().filter_map(|m| m.torque).collect::<Vec<_>>();
    if let (Some(lo), Some(hi)) = (spread.iter().min(), spread.iter().max()) {
        let (lo, hi) = (M::Torque.text(*lo, units), M::Torque.text(*hi, units));
        let _ = write!(chart.says, "; read {lo} to {hi}");
    }
    chart
}

/// The run that took most of a joint.
pub(super) fn worst_run(life: &Life) -> Option<&(std::rc::Rc<SeenRun>, JointRunRow)> {
    life.runs
        .iter()
        .filter(|r| r.1.figures.worst_damage() > Some(0))
        .max_by_key(|r| r.1.figures.worst_damage())
}

/// Damage along the string of a run; one joint of it told apart.
pub(super) fn along(run: &SeenRun, joint: Option<(&str, i64)>, units: UnitSystem) -> Chart {
    let title = format!("Damage along the string in {}", run.row.name);
    let mut chart = Chart::new(
        "damage_along_string",
        &title,
        Axis::of("place from the bit", M::Count),
        Axis::of("damage", M::Damage),
    );
    let points = |keep: &dyn Fn(i64) -> bool| -> Vec<Point> {
        run.joints
            .iter()
            .filter(|r| keep(r.joint))
            .filter_map(|r| Some(Point::at(r.position, r.figures.worst_damage()?)))
            .collect()
    };
    let own = joint.map(|j| j.1);
    chart.add("joints of the string", Look::Bars, points(&|j| Some(j) != own));
    if let Some((serial, own)) = joint {
        chart.add(serial, Look::Bars, points(&|j| j == own));
    }
    let mut order: Vec<&JointRunRow> = run.joints.iter().collect();
    order.sort_by_key(|r| std::cmp::Reverse(r.figures.worst_damage()));
    if let Some(top) = order.first() {
        chart.says = format!(
            "the most is {} at place {}",
            top.figures.worst_damage().map_or_else(String::new, |d| M::Damage.text(d, units)),
            top.position
        );
    }
    if let Some((serial, own)) = joint
        && let Some(at) = order.iter().position(|r| r.joint == own)
    {
        let _ = write!(
            chart.says,
            "; {serial} at place {} is number {} of {}",
            order[at].position,
            at + 1,
            order.len()
        );
    }
    chart
}

/// A figure of every joint of a run, by place.
fn by_place(
    run: &SeenRun,
    name: &'static str,
    title: &str,
    axis: Axis,
    get: impl Fn(&JointRunRow) -> Option<(i64, i64)>,
) -> Chart {
    let mut chart = Chart::new(name, title, Axis::of("place from the bit", M::Count), axis);
    let points = run.joints.iter().filter_map(|r| {
        let (base, y) = get(r)?;
        Some(Point { x: r.position, y, base })
    });
    chart.add(title, Look::Bars, points.collect());
    chart
}

/// Most pull of every joint of a run.
pub(super) fn tension(run: &SeenRun, units: UnitSystem) -> Chart {
    let axis = Axis::of("most pull while turning", M::Force);
    let mut chart = by_place(run, "tension_along_string", "Tension along the string", axis, |r| {
        r.figures.max_tension.map(|t| (0, t))
    });
    if let Some((_, hi)) = chart.reach_y() {
        chart.says = format!("up to {} while turning", M::Force.text(hi, units));
    }
    chart
}

/// Between which depths every joint of a run turned.
pub(super) fn places(run: &SeenRun, units: UnitSystem) -> Chart {
    let axis = Axis::of("depth of its middle", M::Depth).downwards();
    let mut chart = by_place(run, "depth_by_place", "Where each joint was", axis, |r| {
        Some((r.top_depth?, r.bottom_depth?))
    });
    if let Some((_, hi)) = chart.reach_y() {
        chart.says = format!(
            "each bar runs from the shallowest to the deepest place of a joint, down to {}",
            M::Depth.text(hi, units)
        );
    }
    chart
}

/// Steps of a drawn path, m.
const STEP: f64 = 15.0;

fn depths(to: f64) -> impl Iterator<Item = f64> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a few hundred steps"
    )]
    let n = (to / STEP).ceil().clamp(1.0, 4000.0) as u32;
    (0..=n).map(move |i| to * f64::from(i) / f64::from(n))
}

/// The hole from the side: distance along the horizontal against true vertical depth.
pub(super) fn section(path: &Path, to: f64, units: UnitSystem) -> Chart {
    let mut chart = Chart::new(
        "well_path",
        "Well path from the side",
        Axis::of("distance along the horizontal", M::Depth),
        Axis::of("true vertical depth", M::Depth).downwards(),
    );
    let (mut out, mut last): (f64, Option<(f64, f64)>) = (0.0, None);
    let mut points = Vec::new();
    for md in depths(to) {
        let p = path.point(md).position;
        if let Some((north, east)) = last {
            out += (p.north - north).hypot(p.east - east);
        }
        last = Some((p.north, p.east));
        if let (Some(x), Some(y)) = (M::Depth.store_f64(out), M::Depth.store_f64(p.down)) {
            points.push(Point::at(x, y));
        }
    }
    if let Some(p) = points.last() {
        chart.says = format!(
            "at {} along the hole it is {} deep and has gone {} along the horizontal",
            M::Depth.store_f64(to).map_or_else(String::new, |q| M::Depth.text(q, units)),
            M::Depth.text(p.y, units),
            M::Depth.text(p.x, units)
        );
    }
    chart.add("path", Look::Line, points);
    chart
}

/// Dogleg of the hole against depth.
pub(super) fn dogleg(path: &Path, to: f64, units: UnitSystem) -> Chart {
    let mut chart = Chart::new(
        "dogleg_by_depth",
        "Dogleg of the hole by depth",
        Axis::of("measured depth", M::Depth),
        Axis::of("dogleg", M::Dogleg),
    );
    let mut points = Vec::new();
    let mut sharpest = (0, 0);
    for arc in path.arcs() {
        let (from, end) = (arc.md, (arc.md + arc.length).min(to));
        if from >= to {
            break;
        }
        let stored = (
            M::Depth.store_f64(from),
            M::Depth.store_f64(end),
            M::Dogleg.store_f64(arc.curvature.to_degrees()),
        );
        let (Some(a), Some(b), Some(y)) = stored else { continue };
        points.extend([Point::at(a, y), Point::at(b, y)]);
        if y > sharpest.0 {
            sharpest = (y, a);
        }
    }
    chart.says = format!(
        "sharpest below {}: {}",
        M::Depth.text(sharpest.1, units),
        M::Dogleg.text(sharpest.0, units)
    );
    chart.add("dogleg", Look::Line, points);
    chart
}
