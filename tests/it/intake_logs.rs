//! Operating logs into segments: clean and dirty ones, by time and by depth.

use std::fmt::Write as _;

use pipelore::intake::{
    DateOrder, Diagnostics, LogOptions, LogRead, MemoryFiles, World, read_log, unwatched,
};
use pipelore::model::Activity::{
    NotRotating, ReamingDown, ReamingUp, RotatingOffBottom, RotatingOnBottom, Sliding,
};
use pipelore::model::Moment;

use crate::intake::{Corpus, book, errors, run_of, show_all, the_run};

fn log(name: &str, change: impl FnOnce(&mut LogOptions)) -> (Option<LogRead>, Diagnostics) {
    let book = book();
    let mut options = LogOptions::default();
    change(&mut options);
    let mut d = Diagnostics::default();
    let world = World { files: &Corpus, lookup: &book, progress: &unwatched };
    let read = read_log(name, &options, &world, &mut d);
    (read, d)
}

fn whole_log(name: &str) -> LogRead {
    let (read, d) = log(name, |_| {});
    read.unwrap_or_else(|| panic!("{name}:\n{}", show_all(&d)))
}

pub(crate) fn sums(l: &LogRead) -> (i64, i64, i64) {
    let rotating = |a| !matches!(a, Sliding | NotRotating);
    (
        l.segments.iter().map(|s| s.milli_turns).sum(),
        l.segments.iter().filter(|s| rotating(s.activity)).map(|s| s.duration_ms).sum(),
        l.segments.iter().map(|s| s.duration_ms).sum(),
    )
}

pub(crate) fn chained(l: &LogRead) -> bool {
    l.segments.windows(2).all(|w| {
        w[0].bit_to_mm == w[1].bit_from_mm && w[0].start_ms + w[0].duration_ms == w[1].start_ms
    })
}

#[test]
fn a_clean_log_becomes_a_handful_of_segments() {
    let l = whole_log("log_clean.csv");
    let acts: Vec<_> = l.segments.iter().map(|s| s.activity).collect();
    assert_eq!(
        acts,
        [
            RotatingOnBottom,
            Sliding,
            ReamingUp,
            ReamingDown,
            ReamingUp,
            RotatingOffBottom,
            NotRotating
        ],
        "{:#?}",
        l.segments
    );
    // 360 s at 60 rpm, 240 s at 90 rpm, 240 s at 30 rpm
    assert_eq!(sums(&l), (840_000, 840_000, 1_020_000));
    assert_eq!((l.milli_turns, l.rotating_ms), (840_000, 840_000));
    assert!(chained(&l));
    assert_eq!(l.segments[0].wob_n, Some(80_000));
    assert_eq!(l.segments[2].bit_to_mm, 490_040);
    assert!(l.error_mm <= 500);
    assert_eq!(l.source.rows, 103);
    assert!(l.source.left_out.is_empty(), "{:?}", l.source.left_out);
}

/// The same hour in revolutions a second, in feet and minutes, in days and clock times.
#[test]
fn units_and_clocks_do_not_change_a_log() {
    let clean = whole_log("log_clean.csv");
    let rps = whole_log("log_rps.csv");
    assert_eq!(sums(&rps), sums(&clean));
    assert_eq!(rps.segments[0].wob_n, Some(80_000));
    let elapsed = whole_log("log_elapsed.csv");
    assert_eq!(sums(&elapsed), sums(&clean));
    assert_eq!(elapsed.segments[2].bit_to_mm, 490_040);
    assert_eq!(elapsed.first_ms, None);
    // LAS, a row a line and wrapped
    for name in ["log_plain.las", "log_wrapped.las"] {
        let las = whole_log(name);
        assert_eq!(sums(&las), sums(&clean), "{name}");
        assert_eq!(las.segments[2].bit_to_mm, 490_040);
        assert_eq!(las.segments[0].wob_n, Some(80_000));
        assert!(las.notes.iter().any(|n| n.contains("'TQA' is in psi")), "{:?}", las.notes);
    }
    let day = whole_log("log_day_time.csv");
    assert_eq!(day.first_ms, clean.first_ms);
    assert_eq!(sums(&day).0, 360_000);
}

#[test]
fn a_log_that_runs_backwards_is_put_in_order() {
    let log = whole_log("log_reversed.csv");
    assert!(chained(&log));
    assert!(log.notes.iter().any(|n| n.contains("put in order")), "{:?}", log.notes);
    assert_eq!(sums(&log), (290_000, 290_000, 290_000));
}

#[test]
fn a_dirty_log_counts_what_it_leaves_out() {
    let (read, d) = log("log_dirty.csv", |_| {});
    let l = read.unwrap_or_else(|| panic!("{}", show_all(&d)));
    let left = l.source.left_out.join("\n");
    for words in [
        "2 rows have too few cells (first: row 20)",
        "1 row have no readable time or depth (first: row 21)",
        "1 row have no bit depth (first: row 12)",
        "2 rows have no rotary speed (first: row 13)",
        "1 row repeat the time or depth of the row before (first: row 9)",
        "1 row go back in time (first: row 11)",
        "2 rows have a bit depth that no pipe can have moved to (first: row 4)",
        "1 row have a rotary speed above 500 rpm (first: row 16)",
        "1 row have a value stuck at the 16-bit ceiling, which is dropped (first: row 8)",
        "1 rows rotate with the bit above the rotary table",
        "1 gaps of 1.10 h in all",
    ] {
        assert!(left.contains(words), "no '{words}' in:\n{left}");
    }
    // 4000 to 4010, 4020, 4030, then 4070 for the rows without depth or speed, 4090, 4110; the
    // flag that says rotating at 4130 does not count, the speed does.
    assert_eq!(sums(&l).0, 110_000);
    assert_eq!(sums(&l).1, 110_000);
    assert!(chained(&l));
    assert!(l.segments.iter().all(|s| s.torque_nm.is_none_or(|t| t <= 9000)));
    let drilled: i64 = l
        .segments
        .iter()
        .filter(|s| s.activity == RotatingOnBottom)
        .map(|s| s.bit_to_mm - s.bit_from_mm)
        .sum();
    // the first 0.1 m after the gap was off bottom: no hole had grown yet
    assert_eq!(drilled, 1_100);
}

#[test]
fn rows_outside_the_run_belong_to_others() {
    let at = |t: &str| t.parse::<Moment>().unwrap().start(pipelore::model::Clock::UTC).0;
    let (read, _) = log("log_clean.csv", |o| {
        o.run = Some(at("2025-03-04T06:01:00Z")..=at("2025-03-04T06:03:00Z"));
    });
    let l = read.unwrap();
    assert_eq!(sums(&l), (120_000, 120_000, 120_000));
    assert_eq!(l.segments[0].start_ms, 0);
    assert!(l.source.left_out[0].contains("lie outside the run"));
    let (read, d) = log("log_clean.csv", |o| o.run = Some(0..=1));
    assert!(read.is_none() && show_all(&d).contains("of 103 rows 0 can be used"));
}

#[test]
fn a_log_by_depth_has_no_clock() {
    let (read, d) = log("log_depth.csv", |_| {});
    let l = read.unwrap_or_else(|| panic!("{}", show_all(&d)));
    // 6 min/m: a step of half a metre takes 3 min. 20 rows are 19 steps, one of them without
    // rotation; one repeat; 1489.5 to 1500 is a gap; a step back; 0.5 m again; a spike; no rate.
    assert_eq!(sums(&l), (18 * 300_000 + 300_000, 19 * 180_000, 20 * 180_000));
    let left = l.source.left_out.join("\n");
    for words in [
        "1 row repeat",
        "1 row have a rate of penetration above",
        "1 row have no rate",
        "1 gaps of 10.5 m",
        "1 steps back",
    ] {
        assert!(left.contains(words), "no '{words}' in:\n{left}");
    }
    assert!(chained(&l));
}

#[test]
fn no_units_in_a_log_is_an_error_that_says_how() {
    let book = book();
    let files = MemoryFiles::default()
        .with("l.csv", "time,bit depth,hole depth [m],rpm\n2025-03-04T06:00:00Z,1,1,1\n")
        .with("m.csv", "time,bit depth [m],hole depth [m],SURF_RPM\n2025-03-04T06:00:00Z,1,1,1\n")
        .with("n.csv", "time,hole depth [m],rpm\n2025-03-04T06:00:00Z,1,1\n")
        .with("o.csv", "time,bit depth [m],BIT_RPM [rpm]\n2025-03-04T06:00:00Z,1,1\n");
    let world = World { files: &files, lookup: &book, progress: &unwatched };
    for (name, words) in [
        ("l.csv", "the unit of 'bit depth' is not stated"),
        ("m.csv", "the unit of 'SURF_RPM' is not stated"),
        ("n.csv", "the log has no bit depth"),
        ("o.csv", "the log has no rotary speed of the pipe"),
    ] {
        let mut d = Diagnostics::default();
        assert!(read_log(name, &LogOptions::default(), &world, &mut d).is_none());
        let text = show_all(&d);
        assert!(text.contains(words) && text.contains("--columns"), "{name}: {text}");
    }
}

#[test]
fn a_watcher_can_stop_a_long_read() {
    use std::ops::ControlFlow;
    let mut text = String::from("elapsed [s],bit depth [m],hole depth [m],rpm\n");
    for i in 0..150_000 {
        writeln!(text, "{i},500,500,60").unwrap();
    }
    let files = MemoryFiles::default().with("l.csv", text);
    let book = book();
    let seen = std::cell::RefCell::new(Vec::new());
    let stop = |p: &pipelore::intake::Progress| {
        seen.borrow_mut().push((p.rows, p.of.unwrap() > p.bytes));
        if p.rows > 100_000 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    };
    let world = World { files: &files, lookup: &book, progress: &stop };
    let mut d = Diagnostics::default();
    assert!(read_log("l.csv", &LogOptions::default(), &world, &mut d).is_none());
    assert!(show_all(&d).contains("reading was stopped"));
    assert_eq!(seen.borrow().len(), 2);
}

#[test]
fn a_summary_of_operations_becomes_segments_as_it_stands() {
    let book = book();
    let out = run_of("tally.csv", Some("operations.csv"), &Corpus, &book);
    let s = &the_run(&out).segments;
    assert_eq!(s.len(), 5);
    assert_eq!((s[0].milli_turns, s[0].duration_ms), (8_147_700, 4_444_200));
    assert_eq!(s[2].activity, ReamingUp);
    // 1.2345 + 0.75 + 0.1111 + 0.1 + 0.33333 h
    assert_eq!(s.iter().map(|s| s.duration_ms).sum::<i64>(), 9_104_148);
    // 8147.7 + 399.96 + 600 + 1599.984 turns
    assert_eq!(s.iter().map(|s| s.milli_turns).sum::<i64>(), 10_747_644);
    let said = errors(&run_of("tally.csv", Some("operations_bad.csv"), &Corpus, &book));
    for (row, words) in [
        (2, "-1 h is no duration"),
        (3, "700 rpm is no rotary speed of a rig"),
        (4, "sliding with a rotary speed"),
        (5, "rotating on bottom without a rotary speed"),
        (6, "rotating on bottom from 1020 m to 1010 m"),
        (7, "'juggling' is not an activity"),
        (8, "0 hours for a row in which something happened"),
    ] {
        assert!(
            said.iter().any(|(r, m)| *r == row && m.contains(words)),
            "{row} {words}: {said:?}"
        );
    }
    assert_eq!(said.len(), 7);
}

#[test]
fn a_log_whose_days_read_two_ways_is_told_so() {
    let book = book();
    let mut text = String::from("time,bit depth [m],hole depth [m],rpm\n");
    for s in 0..9 {
        writeln!(text, "04/03/2025 06:00:0{s},500,500,60").unwrap();
    }
    let files = MemoryFiles::default().with("l.csv", text);
    let world = World { files: &files, lookup: &book, progress: &unwatched };
    let mut d = Diagnostics::default();
    assert!(read_log("l.csv", &LogOptions::default(), &world, &mut d).is_none());
    let shown = show_all(&d);
    assert!(
        shown.contains("'04/03/2025 06:00:00' does not say which number is the day"),
        "{shown}"
    );
    let mut options = LogOptions::default();
    options.times.order = Some(DateOrder::DayFirst);
    let l = read_log("l.csv", &options, &world, &mut Diagnostics::default()).unwrap();
    assert_eq!(sums(&l).0, 8_000);
}
