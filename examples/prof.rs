#![allow(warnings, clippy::all, clippy::pedantic)]
#[path = "../tests/bench/reference_run.rs"] mod reference_run;
use pipelore::mechanics::exposure::*;
use pipelore::mechanics::fatigue::*;
use std::time::Instant;
fn main(){
    let case=reference_run::run(reference_run::REFERENCE,1);
    let curve=CurveTable::shipped().unwrap().get("DNVGL-RP-C203 2016 air B1").unwrap();
    let curved=case.path.arcs().iter().filter(|a|a.curvature>0.0).count();
    println!("curved {curved} rotating {}",case.segments.iter().filter(|s|s.turns()>0.0).count());
    for points in [2,3]{
        let s=Settings{points,..Settings::with_curve(curve)};
        let mut best=1e9f64; let mut med=vec![];
        for _ in 0..std::env::args().nth(1).map_or(15,|x|x.parse().unwrap()){
            let t=Instant::now();
            let run=PreparedRun::new(&case,&s).unwrap();
            let a=run.all().unwrap();
            let el=t.elapsed().as_secs_f64()*1e3; best=best.min(el); med.push(el);
            std::hint::black_box(a);
        }
        med.sort_by(f64::total_cmp);
        println!("points {points}: best {best:.2} ms median {:.2}",med[med.len()/2]);
    }
}
