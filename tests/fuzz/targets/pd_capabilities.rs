//! Any text as pasted source capabilities: no panic; what is read comes back word by word, and what
//! is refused names its fault.

#![no_main]

use brickbook_fuzz::bench::usb_pd::{PowerDataObject, read};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let text = String::from_utf8_lossy(bytes);
    match read(&text) {
        Ok(list) => {
            assert!(!list.words.is_empty() && list.words.len() <= 11);
            for &word in &list.words {
                let object = PowerDataObject::decode(word).expect("read refuses wrong bits");
                if let Some(object) = object {
                    assert_eq!(object.encode(), Ok(word));
                    assert!(object.voltage_min_v() <= object.voltage_max_v());
                }
            }
            // Written as a record holds them, they are read as the same list, if they begin as one
            // must: else the order of the bytes is a guess.
            let first = PowerDataObject::decode(list.words[0]);
            if matches!(first, Ok(Some(PowerDataObject::Fixed { voltage_mv: 5_000, .. }))) {
                let again = read(&list.source_capabilities().join(" "));
                assert_eq!(again.map(|l| l.words), Ok(list.words));
            }
        }
        Err(faults) => {
            assert!(!faults.is_empty());
            assert!(faults.iter().all(|f| !f.expected.is_empty()));
        }
    }
});
