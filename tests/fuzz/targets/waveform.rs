//! Any samples of a line's voltage and current: refused with words, or finite figures within what
//! their definitions allow.

#![no_main]

use brickbook_fuzz::evaluate::waveform::{WaveformFindings, analyse};
use brickbook_fuzz::standards::HarmonicLimits;
use libfuzzer_sys::fuzz_target;
use std::f64::consts::TAU;
use std::sync::LazyLock;

static LIMITS: LazyLock<HarmonicLimits> = LazyLock::new(HarmonicLimits::embedded);

fuzz_target!(|bytes: &[u8]| {
    let Some((head, shape)) = bytes.split_first_chunk::<12>() else {
        return;
    };
    let nominal_hz = if head[0] & 1 > 0 { 50.0 } else { 60.0 };
    let rate_hz = f64::from(u16::from_le_bytes([head[1], head[2]])) + 0.5;
    let count = usize::from(u16::from_le_bytes([head[3], head[4]]) % 16_384);
    let frequency_hz = nominal_hz * (1.0 + f64::from(head[5] as i8) / 400.0);
    let volts = f64::from(head[6]) * 2.0;
    let amperes = f64::from(head[7]) / 64.0;
    // Numbers that no instrument writes may come as well.
    let odd = match head[8] % 16 {
        1 => f64::NAN,
        2 => f64::INFINITY,
        3 => 1e300,
        4 => -1e-300,
        _ => 0.0,
    };
    let jitter = f64::from(head[9] % 8) / 64.0;
    let noise = f64::from(head[10]) / 255.0;
    let byte = |i: usize| {
        let of = shape.get(i % shape.len().max(1)).copied().unwrap_or(0);
        f64::from(of as i8) / 128.0
    };
    let (mut t, mut v, mut i) = (Vec::new(), Vec::new(), Vec::new());
    for n in 0..count {
        let at = n as f64 / rate_hz;
        let phase = TAU * frequency_hz * at;
        // Harmonics of the current by the first bytes of the shape.
        let current: f64 = (0..12)
            .map(|k| byte(k) * (phase * (2 * k + 1) as f64).sin())
            .sum();
        t.push(at + jitter * byte(n) / rate_hz);
        v.push(volts * 1.414 * phase.sin() + noise * 20.0 * byte(n + 1));
        i.push(amperes * (current + noise * byte(n + 2)));
    }
    if odd != 0.0 && count > 0 {
        i[usize::from(head[11]) % count] = odd;
    }
    match analyse(&t, &v, &i, nominal_hz, &LIMITS) {
        Ok(findings) => {
            let text = serde_json::to_string(&findings).expect("findings are JSON");
            let back: WaveformFindings = serde_json::from_str(&text).expect("every number is finite");
            assert_eq!(back, findings);
            for window in &findings.windows {
                assert!(window.length_s > 0.0);
                assert!(window.current_group_a.iter().all(|a| *a >= 0.0));
            }
        }
        Err(words) => assert!(words.len() > 10, "{words}"),
    }
});
