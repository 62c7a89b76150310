//! Any bytes as a photo: no panic; whatever is taken is a plain JPEG of a bounded size that goes
//! through again unchanged.

#![no_main]

use brickbook_fuzz::photo::{LONG_SIDE_PX, THUMBNAIL_PX, take_in, thumbnail_size};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok(kept) = take_in(bytes) else { return };
    assert!((1..=LONG_SIDE_PX).contains(&kept.width_px));
    assert!((1..=LONG_SIDE_PX).contains(&kept.height_px));
    let (width, height) = thumbnail_size(kept.width_px, kept.height_px);
    assert!(width.max(height) <= THUMBNAIL_PX);
    let again = take_in(&kept.jpeg).expect("what was kept is a picture");
    assert_eq!(again.jpeg, kept.jpeg);
    let small = take_in(&kept.thumbnail).expect("a thumbnail is a picture");
    assert_eq!((small.width_px, small.height_px), (width, height));
});
