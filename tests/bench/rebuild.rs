//! How fast a book is loaded and derived anew, by number of joints, and the memory that it takes.
//!
//! `cargo bench --bench rebuild -- [JOINTS] [RUNS OF EACH]`

#![allow(
    missing_docs,
    unreachable_pub,
    dead_code,
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::panic,
    reason = "a measurement for people"
)]

#[path = "../it/world.rs"]
mod world;

use std::time::Instant as Clock;

use pipelore::model::{Body, Draft, JointRef, MoveBody, RunBody, RunGrade};
use pipelore::units::Measure;
use world::{World, day, draft, inspection, joint, joint_ref, qty, run, survey};

/// Joints of a string.
const STRING: usize = 200;

/// Most memory that the process held so far, MiB, where the system tells.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:")).unwrap_or_default();
    line.trim().trim_end_matches(" kB").parse::<u64>().unwrap_or(0) / 1024
}

/// A run of a string as a summary: hours and depths, and the path of the hole.
fn short_run(name: &str, start: &str, joints: &[JointRef]) -> Body {
    let Body::Run(body) = run(name, "Larkfield 1H", start, joints) else { panic!() };
    Body::Run(Box::new(RunBody {
        grade: RunGrade::Summary,
        segments: Vec::new(),
        hours: qty("100 h", Measure::Hours),
        rotary_speed: qty("120 rpm", Measure::RotarySpeed),
        depth_in: qty("800 m", Measure::Depth),
        depth_out: qty("1000 m", Measure::Depth),
        ..*body
    }))
}

fn main() {
    let mut args = std::env::args().skip(1).filter_map(|a| a.parse::<usize>().ok());
    let joints = args.next().unwrap_or(4_000);
    let runs = args.next().unwrap_or(4);
    let logged = std::env::var_os("LOGGED").is_some();
    let world = World::new();
    let mut book = world.book("a.pipelore");
    let mut entries = 0usize;
    let begun = Clock::now();
    world.append(&mut book, &[draft("2025-01-01", survey("Larkfield 1H"))]);
    for string in 0..joints.div_ceil(STRING) {
        let serials: Vec<String> = (0..STRING).map(|n| format!("K{}-{n:04}", string + 1)).collect();
        let drafts: Vec<Draft> =
            serials.iter().map(|s| draft("2025-01-10", joint(s, true))).collect();
        let done = world.append(&mut book, &drafts);
        let fleet: Vec<JointRef> =
            serials.iter().zip(&done.entries).map(|(s, id)| joint_ref(s, id)).collect();
        let mut drafts = Vec::new();
        for n in 0..runs {
            let month = n % 10 + 1;
            let name = format!("R{}-{n}", string + 1);
            let (start, end) = (format!("2025-{month:02}-01"), format!("2025-{month:02}-06"));
            let body = if logged {
                run(&name, "Larkfield 1H", &start, &fleet)
            } else {
                short_run(&name, &start, &fleet)
            };
            drafts.push(draft(&end, body));
            let looked = format!("2025-{month:02}-20");
            drafts.extend(fleet.iter().map(|j| draft(&looked, inspection(j, "0.340 in"))));
        }
        drafts.push(Draft {
            effective: day("2025-12-01"),
            evidence: None,
            body: Body::Move(MoveBody {
                joints: fleet.clone(),
                location: Some("Harrow Yard".to_owned()),
                string: None,
                status: None,
                remark: None,
            }),
        });
        entries += serials.len() + drafts.len();
        world.append(&mut book, &drafts);
    }
    let seconds = begun.elapsed().as_secs_f64();
    println!(
        "{joints} joints, {} runs, {entries} entries: loaded in {seconds:.1} s, {:.0} entries/s",
        runs * joints.div_ceil(STRING),
        entries as f64 / seconds
    );
    println!("most memory while loading: {} MiB", peak());
    let begun = Clock::now();
    book.rebuild().unwrap();
    let seconds = begun.elapsed().as_secs_f64();
    println!(
        "derived anew in {seconds:.2} s: {:.0} joints/s, {:.0} joint runs/s",
        joints as f64 / seconds,
        (joints * runs) as f64 / seconds
    );
    let size = std::fs::metadata(book.path()).unwrap().len() / (1 << 20);
    println!("most memory: {} MiB, file {size} MiB", peak());
    let begun = Clock::now();
    let verified = book.verify(None, None).unwrap();
    assert!(verified.sound(), "{verified:#?}");
    println!("verified in {:.2} s, most memory {} MiB", begun.elapsed().as_secs_f64(), peak());
}
