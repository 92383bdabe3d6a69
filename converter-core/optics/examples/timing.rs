use ringmark_optics::*;
fn marks(count: u32, cam: f64) -> Vec<(f64, f64)> {
    let law = FocusLaw { offset: 0.104, product: 0.0025 };
    let mark = |k: u32| {
        let y = 2.0 * f64::from(k) / f64::from(count - 1);
        let e = law.extension(y) / law.extension(2.0);
        let read = 0.001 * (f64::from(k) * 12.9898).sin();
        (1.0 - e + cam * (std::f64::consts::PI * e).sin() + read, if k == 0 { f64::INFINITY } else { 1.0 / y })
    };
    (0..count).map(mark).collect()
}
fn main(){ let cam: f64=std::env::args().nth(1).unwrap().parse().unwrap(); let m=marks(40,cam); let mut s=0.0; for _ in 0..1000 { s+=RingCurve::from_marks(ringmark_model::ScaleQuantity::FocusDistance,&m).unwrap().value_at(0.5);} println!("{s}"); }
