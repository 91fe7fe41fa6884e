#![allow(warnings, clippy::all, clippy::pedantic)]
#[path = "../tests/bench/reference_run.rs"] mod reference_run;
fn main(){
    let case=reference_run::run(reference_run::REFERENCE,1);
    let d=case.string.distances(); let p=case.string.parts();
    let (mut curved, mut all)=(0,0);
    for i in 0..p.len(){ for k in 0..3 {
        let x=d[i]+[0.6,p[i].length/2.0,p[i].length-0.9][k];
        for s in case.segments.iter().filter(|s|s.turns()>0.0){
            let (lo,hi)=s.reach(); let (lo,hi)=((lo-x).max(0.0),hi-x);
            if hi<=0.0 {continue}
            let (a,b)=(case.path.arc_index(lo),case.path.arc_index(hi));
            for j in a..=b { if k==1 {all+=1} if case.path.arcs()[j].curvature>0.0 {curved+=1} }
        }
    }}
    println!("curved {curved} middle all {all}");
}
