#![allow(warnings, clippy::all, clippy::pedantic)]
#[path = "../tests/it/check_values.rs"]
mod check_values;
#[path = "../tests/it/exposure_run.rs"]
mod exposure_run;
use pipelore::mechanics::exposure::*;
fn main() {
    let (case, _) = exposure_run::run();
    let s = exposure_run::settings();
    let fine = Settings { points: 8, ..s.clone() };
    let n = case.string.parts().len();
    let b: Vec<_> = (0..n).map(|i| plain(&case, &fine, i).unwrap()).collect();
    for points in [2, 3, 4, 6, 8, 12] {
        let s = Settings { points, ..s.clone() };
        let t = std::time::Instant::now();
        let run = PreparedRun::new(&case, &s).unwrap();
        let prep = t.elapsed();
        let a = run.all().unwrap();
        let el = t.elapsed();
        let mut errs = vec![];
        for i in 0..n {
            for k in 0..3 {
                if b[i].damage[k] > 1e-9 {
                    errs.push(((a[i].damage[k] / b[i].damage[k] - 1.0).abs(), i, k));
                }
            }
        }
        errs.sort_by(|x, y| y.0.total_cmp(&x.0));
        println!(
            "points {points} prep {prep:?} total {el:?} worst {:?} median {:.1e}",
            &errs[..4],
            errs[errs.len() / 2].0
        );
    }
}
