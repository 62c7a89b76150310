//! Any bytes as a log whose layout is guessed: no panic, finite figures, every sample accounted for.

#![no_main]

use brickbook_fuzz::log::{Section, detect, look, read, samples};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok(seen) = detect(bytes) else { return };
    let again = look(bytes, &seen.layout).expect("a detected layout shows its rows");
    assert_eq!(again.layout, seen.layout);
    let Ok(reading) = read(bytes, &seen.layout, Section::default(), &mut |_| {}) else {
        return;
    };
    assert!(reading.duration_s.is_finite());
    for (_, _, trace) in &reading.columns {
        assert_eq!(trace.samples, reading.rows);
        assert!(trace.t_s.is_sorted());
        for list in [
            &trace.t_s,
            &trace.weight_s,
            &trace.mean,
            &trace.min,
            &trace.max,
        ] {
            assert!(list.iter().all(|x| x.is_finite()));
        }
    }
    let most = reading.rows as usize;
    let raw = samples(bytes, &seen.layout, Section::default(), most).expect("it was read before");
    assert_eq!((raw.t_s.len(), raw.more), (most, false));
});
