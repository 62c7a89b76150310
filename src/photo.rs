//! Pictures of adapters: whatever a camera or phone wrote becomes a plain JPEG of a bounded size
//! that says nothing of where, when and by whom it was taken.
//!
//! A picture is a stranger's bytes. Its dimensions are read before it is decoded, so that a small
//! file that unfolds into gigabytes costs nothing; what is kept is encoded anew from the pixels
//! alone. The same bytes give the same JPEG. Knows neither files nor the database.

use crate::quantity::words::hex;
use image::codecs::{jpeg, png, webp};
use image::error::LimitErrorKind;
use image::imageops::{self, FilterType};
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageError, ImageFormat, Limits, Rgb, RgbImage};
use sha2::{Digest, Sha256};
use std::io::Cursor;

/// Largest file that is looked at, in bytes.
pub const LARGEST_FILE_BYTES: u64 = 20_000_000;
/// Most pixels of a picture that is decoded.
pub const MOST_PIXELS: u64 = 50_000_000;
/// Longer side of a picture as it is kept, in pixels.
pub const LONG_SIDE_PX: u32 = 2048;
/// Longer side of a thumbnail, in pixels.
pub const THUMBNAIL_PX: u32 = 480;

/// Bytes that decoding may take at once: 50 megapixels of red, green, blue and opacity. Pictures of
/// 16 bits a channel take twice as much, so they may have half as many pixels.
const MOST_DECODED_BYTES: u64 = 4 * MOST_PIXELS + (16 << 20);

/// A JPEG that is plain and small enough already stays as it is up to this size.
const LARGEST_KEPT_BYTES: usize = 4_000_000;

const QUALITY: u8 = 85;
const THUMBNAIL_QUALITY: u8 = 80;

const WANTED: &str = "a JPEG, PNG or WebP picture";

/// A picture as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// A baseline JPEG without any metadata; at most [`LONG_SIDE_PX`] wide and high.
    pub jpeg: Vec<u8>,
    /// The same at most [`THUMBNAIL_PX`] wide and high, see [`thumbnail_size`].
    pub thumbnail: Vec<u8>,
    pub width_px: u32,
    pub height_px: u32,
}

impl Kept {
    /// SHA-256 of the JPEG, in lower-case hexadecimal: what a record names it by.
    pub fn sha256(&self) -> String {
        sha256(&self.jpeg)
    }
}

/// In lower-case hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    hex(Sha256::digest(bytes))
}

/// Why a picture is not taken: what was found, and what was expected instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{found}; expected {expected}")]
pub struct Refused {
    pub found: String,
    pub expected: String,
}

fn refused<T>(found: impl Into<String>, expected: impl Into<String>) -> Result<T, Refused> {
    Err(Refused {
        found: found.into(),
        expected: expected.into(),
    })
}

/// Takes a picture in: turned upright as its EXIF orientation says, transparent parts laid on
/// white, scaled down, encoded anew without metadata. Colours are taken as sRGB. A picture that
/// came out of here before goes through unchanged, so that it keeps its SHA-256 on the way to
/// another database.
///
/// # Errors
/// It is no JPEG, PNG or WebP, is animated, is cut short, or exceeds [`LARGEST_FILE_BYTES`] or
/// [`MOST_PIXELS`].
pub fn take_in(bytes: &[u8]) -> Result<Kept, Refused> {
    let upright = decoded(bytes)?;
    if is_plain_jpeg(bytes)
        && bytes.len() <= LARGEST_KEPT_BYTES
        && upright.width().max(upright.height()) <= LONG_SIDE_PX
    {
        return Ok(Kept {
            thumbnail: encoded(&scaled(&upright, THUMBNAIL_PX), THUMBNAIL_QUALITY),
            width_px: upright.width(),
            height_px: upright.height(),
            jpeg: bytes.to_vec(),
        });
    }
    Ok(kept(&scaled(&upright, LONG_SIDE_PX)))
}

/// A picture that the program drew itself, given as rows of red, green and blue.
///
/// # Panics
/// The picture has no pixel, or `rgb` does not have three bytes for each.
pub fn drawn(width_px: u32, height_px: u32, rgb: Vec<u8>) -> Kept {
    assert!(width_px > 0 && height_px > 0, "a drawing has pixels");
    let drawing = RgbImage::from_raw(width_px, height_px, rgb).expect("three bytes for each pixel");
    kept(&scaled(&drawing, LONG_SIDE_PX))
}

/// A kept picture smaller, for where it is shown small: a JPEG of at most `long_side_px` on its
/// longer side.
///
/// # Errors
/// As [`take_in`].
pub fn smaller(jpeg: &[u8], long_side_px: u32) -> Result<Vec<u8>, Refused> {
    Ok(encoded(
        &scaled(&decoded(jpeg)?, long_side_px.max(1)),
        THUMBNAIL_QUALITY,
    ))
}

/// Colour levels of 255 by which a thumbnail may differ on average from its photo made small: it
/// was made before the photo itself was compressed.
const THUMBNAIL_MAY_DIFFER: f64 = 8.0;

/// What is wrong with a kept photo; `None` if it is whole, of the size that is said of it, and its
/// thumbnail shows the same.
pub fn fault(kept: &Kept) -> Option<String> {
    let photo = match decoded(&kept.jpeg) {
        Ok(photo) => photo,
        Err(why) => return Some(format!("it cannot be read: {why}")),
    };
    if photo.dimensions() != (kept.width_px, kept.height_px) {
        return Some(format!(
            "it has {} by {} pixels, expected {} by {}",
            photo.width(),
            photo.height(),
            kept.width_px,
            kept.height_px
        ));
    }
    let thumbnail = match decoded(&kept.thumbnail) {
        Ok(thumbnail) => thumbnail,
        Err(why) => return Some(format!("its thumbnail cannot be read: {why}")),
    };
    let expected = scaled(&photo, THUMBNAIL_PX);
    if thumbnail.dimensions() != expected.dimensions() {
        return Some(format!(
            "its thumbnail has {} by {} pixels, expected {} by {}",
            thumbnail.width(),
            thumbnail.height(),
            expected.width(),
            expected.height()
        ));
    }
    let apart: u64 = thumbnail
        .as_raw()
        .iter()
        .zip(expected.as_raw())
        .map(|(a, b)| u64::from(a.abs_diff(*b)))
        .sum();
    let mean = apart as f64 / expected.as_raw().len() as f64;
    (mean > THUMBNAIL_MAY_DIFFER).then(|| "its thumbnail shows something else".to_owned())
}

/// Width and height of the thumbnail of a picture of this size, in pixels.
pub fn thumbnail_size(width_px: u32, height_px: u32) -> (u32, u32) {
    fitted(width_px, height_px, THUMBNAIL_PX)
}

fn kept(picture: &RgbImage) -> Kept {
    Kept {
        jpeg: encoded(picture, QUALITY),
        thumbnail: encoded(&scaled(picture, THUMBNAIL_PX), THUMBNAIL_QUALITY),
        width_px: picture.width(),
        height_px: picture.height(),
    }
}

/// The pixels of a file, upright and opaque.
fn decoded(bytes: &[u8]) -> Result<RgbImage, Refused> {
    if bytes.len() as u64 > LARGEST_FILE_BYTES {
        return refused(
            format!("a file of {:.1} MB", bytes.len() as f64 / 1e6),
            format!("at most {} MB", LARGEST_FILE_BYTES / 1_000_000),
        );
    }
    let source = || Cursor::new(bytes);
    match image::guess_format(bytes) {
        Ok(ImageFormat::Jpeg) => {
            if !jpeg_is_whole(bytes) {
                return refused("a JPEG that is cut short", "a whole file");
            }
            pixels(jpeg::JpegDecoder::new(source()).map_err(in_words)?)
        }
        Ok(ImageFormat::Png) => {
            let limits = limits();
            let decoder = png::PngDecoder::with_limits(source(), limits).map_err(in_words)?;
            if decoder.is_apng().map_err(in_words)? {
                return refused("an animated PNG", "a still picture");
            }
            pixels(decoder)
        }
        Ok(ImageFormat::WebP) => {
            let decoder = webp::WebPDecoder::new(source()).map_err(in_words)?;
            if decoder.has_animation() {
                return refused("an animated WebP", "a still picture");
            }
            pixels(decoder)
        }
        _ => refused(kind_in_words(bytes), WANTED),
    }
}

fn limits() -> Limits {
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(MOST_DECODED_BYTES);
    limits
}

fn pixels(mut decoder: impl ImageDecoder) -> Result<RgbImage, Refused> {
    let (width, height) = decoder.dimensions();
    if width == 0 || height == 0 {
        return refused(format!("a picture of {width} by {height} pixels"), WANTED);
    }
    let count = u64::from(width) * u64::from(height);
    if count > MOST_PIXELS {
        return refused(
            format!(
                "a picture of {width} by {height} pixels, {:.1} megapixels",
                count as f64 / 1e6
            ),
            format!("at most {} megapixels", MOST_PIXELS / 1_000_000),
        );
    }
    if decoder.total_bytes() > MOST_DECODED_BYTES {
        return refused(
            format!("a picture of {width} by {height} pixels with 16 bits a channel"),
            format!(
                "8 bits a channel, or at most {} megapixels",
                MOST_PIXELS / 2_000_000
            ),
        );
    }
    // A file whose EXIF block is broken is shown as it lies.
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    decoder.set_limits(limits()).map_err(in_words)?;
    let picture = DynamicImage::from_decoder(decoder).map_err(in_words)?;
    let picture = if picture.color().has_alpha() {
        on_white(picture)
    } else {
        picture.into_rgb8()
    };
    if orientation == Orientation::NoTransforms {
        return Ok(picture);
    }
    let mut picture = DynamicImage::from(picture);
    picture.apply_orientation(orientation);
    Ok(picture.into_rgb8())
}

/// Lays transparent parts on white paper.
fn on_white(picture: DynamicImage) -> RgbImage {
    let picture = picture.into_rgba8();
    let (width, height) = picture.dimensions();
    let mut opaque = RgbImage::new(width, height);
    for (from, to) in picture.pixels().zip(opaque.pixels_mut()) {
        let [red, green, blue, opacity] = from.0.map(u32::from);
        let laid = |colour: u32| {
            u8::try_from((colour * opacity + 255 * (255 - opacity) + 127) / 255)
                .expect("a mean of bytes is a byte")
        };
        *to = Rgb([laid(red), laid(green), laid(blue)]);
    }
    opaque
}

/// Width and height within a square, never enlarged, at least one pixel.
fn fitted(width: u32, height: u32, long_side: u32) -> (u32, u32) {
    let longer = width.max(height);
    if longer <= long_side {
        return (width, height);
    }
    let part = |side: u32| {
        let scaled =
            (u64::from(side) * u64::from(long_side) + u64::from(longer) / 2) / u64::from(longer);
        u32::try_from(scaled).map_or(long_side, |scaled| scaled.clamp(1, long_side))
    };
    (part(width), part(height))
}

fn scaled(picture: &RgbImage, long_side: u32) -> RgbImage {
    let (width, height) = fitted(picture.width(), picture.height(), long_side);
    if (width, height) == picture.dimensions() {
        return picture.clone();
    }
    // A filter of floating-point numbers over 50 megapixels would take hundreds of megabytes:
    // averages of whole pixels come first, down to twice the size.
    let (near_width, near_height) = (width * 2, height * 2);
    if picture.width() > near_width * 2 && picture.height() > near_height * 2 {
        let near = imageops::thumbnail(picture, near_width, near_height);
        return imageops::resize(&near, width, height, FilterType::CatmullRom);
    }
    imageops::resize(picture, width, height, FilterType::CatmullRom)
}

fn encoded(picture: &RgbImage, quality: u8) -> Vec<u8> {
    let mut bytes = Vec::new();
    jpeg::JpegEncoder::new_with_quality(&mut bytes, quality)
        .encode_image(picture)
        .expect("a Vec takes any bytes, and no side is longer than a JPEG can tell");
    bytes
}

fn in_words(cause: ImageError) -> Refused {
    let (found, expected) = match cause {
        ImageError::Limits(limit) if limit.kind() == LimitErrorKind::InsufficientMemory => (
            format!(
                "a picture that takes more than {} MB to decode",
                MOST_DECODED_BYTES / 1_000_000
            ),
            format!("at most {} megapixels", MOST_PIXELS / 1_000_000),
        ),
        ImageError::Unsupported(cause) => (
            format!("a picture of a rare kind ({cause})"),
            WANTED.to_owned(),
        ),
        cause => (
            format!("a picture that cannot be read ({cause})"),
            format!("{WANTED}, whole and undamaged"),
        ),
    };
    Refused { found, expected }
}

/// What a file is that is none of the wanted, as far as its first bytes tell.
fn kind_in_words(bytes: &[u8]) -> &'static str {
    match bytes {
        [] => "an empty file",
        [b'G', b'I', b'F', b'8', ..] => "a GIF",
        [
            _,
            _,
            _,
            _,
            b'f',
            b't',
            b'y',
            b'p',
            b'a',
            b'v',
            b'i',
            b'f' | b's',
            ..,
        ] => "an AVIF picture",
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => "a HEIC picture or a video",
        [b'I', b'I', 42, 0, ..] | [b'M', b'M', 0, 42, ..] => "a TIFF or raw picture",
        [b'B', b'M', ..] => "a BMP picture",
        [b'%', b'P', b'D', b'F', ..] => "a PDF document",
        [b'<', ..] => "a text, perhaps an SVG drawing",
        _ => "a file of another kind",
    }
}

/// A marker segment of a JPEG: its marker and content.
type Segment<'a> = (u8, &'a [u8]);

/// The marker segments of a JPEG up to its first scan, and what follows the header of that scan.
/// `None` where it is no such thing.
fn segments(bytes: &[u8]) -> Option<(Vec<Segment<'_>>, &[u8])> {
    const START_OF_SCAN: u8 = 0xda;
    let mut rest = bytes.strip_prefix(&[0xff, 0xd8])?;
    let mut found = Vec::new();
    loop {
        let [0xff, marker, after @ ..] = rest else {
            return None;
        };
        // Any number of fill bytes may stand before a marker.
        if *marker == 0xff {
            rest = &rest[1..];
            continue;
        }
        let length = usize::from(u16::from_be_bytes([*after.first()?, *after.get(1)?]));
        let content = after.get(2..length)?;
        found.push((*marker, content));
        rest = &after[length..];
        if *marker == START_OF_SCAN {
            return Some((found, rest));
        }
    }
}

/// Does the end of the picture follow its beginning? A decoder would fill the rest with grey.
fn jpeg_is_whole(bytes: &[u8]) -> bool {
    segments(bytes).is_some_and(|(_, scan)| scan.windows(2).any(|pair| pair == [0xff, 0xd9]))
}

/// Is it a baseline JPEG that holds nothing but the picture, as [`encoded`] writes it: no EXIF, no
/// profile, no comment, nothing behind its end?
fn is_plain_jpeg(bytes: &[u8]) -> bool {
    const PLAIN: [u8; 6] = [0xe0, 0xdb, 0xc0, 0xc4, 0xdd, 0xda];
    const JFIF_HEADER: usize = 14;
    let Some((segments, scan)) = segments(bytes) else {
        return false;
    };
    let plain = segments.iter().all(|(marker, content)| {
        PLAIN.contains(marker)
            && (*marker != 0xe0 || (content.starts_with(b"JFIF\0") && content.len() == JFIF_HEADER))
    });
    // Inside a scan 0xff is followed by 0 or a restart; the first other marker must be the end.
    let end = scan
        .windows(2)
        .position(|pair| pair[0] == 0xff && !matches!(pair[1], 0 | 0xd0..=0xd7 | 0xff));
    plain && end.is_some_and(|at| scan[at..] == [0xff, 0xd9])
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{ExtendedColorType, ImageEncoder, Rgba, RgbaImage};

    /// Left half red, right half blue, and a white corner at the upper left: every turn shows.
    fn scene(width: u32, height: u32) -> RgbImage {
        RgbImage::from_fn(width, height, |x, y| {
            if x < width / 4 && y < height / 4 {
                Rgb([255, 255, 255])
            } else if x < width / 2 {
                Rgb([220, 20, 20])
            } else {
                Rgb([20, 20, 220])
            }
        })
    }

    fn as_jpeg(picture: &RgbImage) -> Vec<u8> {
        encoded(picture, 95)
    }

    fn as_png(picture: &RgbImage) -> Vec<u8> {
        let mut bytes = Vec::new();
        png::PngEncoder::new(&mut bytes)
            .write_image(
                picture.as_raw(),
                picture.width(),
                picture.height(),
                ExtendedColorType::Rgb8,
            )
            .unwrap();
        bytes
    }

    fn as_webp(picture: &RgbImage) -> Vec<u8> {
        let mut bytes = Vec::new();
        webp::WebPEncoder::new_lossless(&mut bytes)
            .write_image(
                picture.as_raw(),
                picture.width(),
                picture.height(),
                ExtendedColorType::Rgb8,
            )
            .unwrap();
        bytes
    }

    /// An EXIF block (little-endian TIFF) with an orientation, a maker's name and a place on earth.
    fn exif(orientation: u16) -> Vec<u8> {
        let mut tiff = b"II*\0\x08\0\0\0".to_vec();
        let entry = |tiff: &mut Vec<u8>, tag: u16, kind: u16, count: u32, value: u32| {
            tiff.extend(tag.to_le_bytes());
            tiff.extend(kind.to_le_bytes());
            tiff.extend(count.to_le_bytes());
            tiff.extend(value.to_le_bytes());
        };
        // The first directory ends at 8 + 2 + 3 * 12 + 4 = 50; 8 bytes of text follow, then GPS.
        tiff.extend(3u16.to_le_bytes());
        entry(&mut tiff, 0x010f, 2, 8, 50);
        entry(&mut tiff, 0x0112, 3, 1, u32::from(orientation));
        entry(&mut tiff, 0x8825, 4, 1, 58);
        tiff.extend(0u32.to_le_bytes());
        tiff.extend(b"Secret!\0");
        tiff.extend(2u16.to_le_bytes());
        // GPSLatitudeRef "N", GPSLatitude as three fractions.
        entry(&mut tiff, 1, 2, 2, u32::from(b'N'));
        entry(&mut tiff, 2, 5, 3, 88);
        tiff.extend(0u32.to_le_bytes());
        for part in [48u32, 1, 51, 1, 30, 1] {
            tiff.extend(part.to_le_bytes());
        }
        tiff
    }

    fn jpeg_with(segments: &[(u8, Vec<u8>)], picture: &RgbImage) -> Vec<u8> {
        let plain = as_jpeg(picture);
        let mut bytes = plain[..2].to_vec();
        for (marker, content) in segments {
            bytes.extend([0xff, *marker]);
            bytes.extend(u16::try_from(content.len() + 2).unwrap().to_be_bytes());
            bytes.extend(content);
        }
        bytes.extend(&plain[2..]);
        bytes
    }

    fn with_exif(orientation: u16, picture: &RgbImage) -> Vec<u8> {
        let mut app1 = b"Exif\0\0".to_vec();
        app1.extend(exif(orientation));
        jpeg_with(&[(0xe1, app1)], picture)
    }

    fn holds(bytes: &[u8], part: &[u8]) -> bool {
        bytes.windows(part.len()).any(|window| window == part)
    }

    /// Mean colour about a place given in parts of width and height.
    fn colour_at(jpeg: &[u8], x: f64, y: f64) -> [u8; 3] {
        let picture = decoded(jpeg).unwrap();
        let at = |part: f64, side: u32| ((part * f64::from(side)) as u32).min(side - 1);
        picture
            .get_pixel(at(x, picture.width()), at(y, picture.height()))
            .0
    }

    fn is_near(found: [u8; 3], wanted: [u8; 3]) -> bool {
        found.iter().zip(wanted).all(|(a, b)| a.abs_diff(b) < 24)
    }

    const WHITE: [u8; 3] = [255, 255, 255];
    const RED: [u8; 3] = [220, 20, 20];
    const BLUE: [u8; 3] = [20, 20, 220];

    #[test]
    fn every_wanted_format_becomes_a_plain_jpeg_with_the_same_picture() {
        let picture = scene(320, 200);
        for bytes in [as_jpeg(&picture), as_png(&picture), as_webp(&picture)] {
            let kept = take_in(&bytes).unwrap();
            assert_eq!((kept.width_px, kept.height_px), (320, 200));
            assert!(is_plain_jpeg(&kept.jpeg) && is_plain_jpeg(&kept.thumbnail));
            assert!(is_near(colour_at(&kept.jpeg, 0.1, 0.1), WHITE));
            assert!(is_near(colour_at(&kept.jpeg, 0.3, 0.8), RED));
            assert!(is_near(colour_at(&kept.jpeg, 0.8, 0.5), BLUE));
        }
    }

    #[test]
    fn a_large_picture_is_scaled_down_and_a_small_one_is_not_enlarged() {
        let kept = take_in(&as_png(&scene(5000, 2500))).unwrap();
        assert_eq!((kept.width_px, kept.height_px), (2048, 1024));
        let thumbnail = decoded(&kept.thumbnail).unwrap();
        assert_eq!(thumbnail.dimensions(), thumbnail_size(2048, 1024));
        assert_eq!(thumbnail.dimensions(), (480, 240));
        assert!(is_near(colour_at(&kept.thumbnail, 0.9, 0.5), BLUE));

        let small = take_in(&as_png(&scene(40, 30))).unwrap();
        assert_eq!((small.width_px, small.height_px), (40, 30));
        assert_eq!(decoded(&small.thumbnail).unwrap().dimensions(), (40, 30));
    }

    #[test]
    fn a_picture_of_one_pixel_or_one_line_is_a_picture() {
        assert_eq!(take_in(&as_png(&scene(1, 1))).unwrap().width_px, 1);
        let line = take_in(&as_png(&scene(9000, 1))).unwrap();
        assert_eq!((line.width_px, line.height_px), (2048, 1));
    }

    #[test]
    fn the_place_the_camera_and_every_comment_are_gone() {
        let picture = scene(64, 48);
        let bytes = jpeg_with(
            &[
                (0xe1, [b"Exif\0\0".as_slice(), &exif(1)].concat()),
                (0xe1, b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta/>".to_vec()),
                (0xe2, b"ICC_PROFILE\0\x01\x01profile".to_vec()),
                (0xed, b"Photoshop 3.0\0Secret!".to_vec()),
                (0xfe, b"Secret! comment".to_vec()),
            ],
            &picture,
        );
        assert!(holds(&bytes, b"Secret!") && holds(&bytes, b"Exif"));
        let kept = take_in(&bytes).unwrap();
        for made in [&kept.jpeg, &kept.thumbnail] {
            for word in ["Secret!", "Exif", "ICC_PROFILE", "xmpmeta", "Photoshop"] {
                assert!(!holds(made, word.as_bytes()), "{word}");
            }
            let (segments, _) = segments(made).unwrap();
            let markers: Vec<u8> = segments.iter().map(|(marker, _)| *marker).collect();
            assert!(
                markers
                    .iter()
                    .all(|m| matches!(m, 0xe0 | 0xdb | 0xc0 | 0xc4 | 0xda)),
                "{markers:x?}"
            );
        }
    }

    #[test]
    fn what_follows_the_end_of_a_picture_is_gone() {
        let mut bytes = as_jpeg(&scene(64, 48));
        bytes.extend(b"Secret! behind the end");
        assert!(!holds(&take_in(&bytes).unwrap().jpeg, b"Secret!"));
    }

    #[test]
    fn each_of_the_eight_orientations_stands_upright() {
        // Where the white corner of a picture that a camera marked so belongs.
        let corners = [
            (1, (0.1, 0.1)),
            (2, (0.9, 0.1)),
            (3, (0.9, 0.9)),
            (4, (0.1, 0.9)),
            (5, (0.1, 0.1)),
            (6, (0.9, 0.1)),
            (7, (0.9, 0.9)),
            (8, (0.1, 0.9)),
        ];
        for (orientation, (x, y)) in corners {
            let kept = take_in(&with_exif(orientation, &scene(160, 80))).unwrap();
            let wanted = if orientation < 5 {
                (160, 80)
            } else {
                (80, 160)
            };
            assert_eq!((kept.width_px, kept.height_px), wanted, "{orientation}");
            assert!(is_near(colour_at(&kept.jpeg, x, y), WHITE), "{orientation}");
            assert!(
                is_near(colour_at(&kept.thumbnail, x, y), WHITE),
                "{orientation}"
            );
        }
    }

    #[test]
    fn transparent_parts_lie_on_white() {
        let mut picture = RgbaImage::from_pixel(60, 40, Rgba([0, 0, 0, 0]));
        for (x, _, pixel) in picture.enumerate_pixels_mut() {
            if x >= 40 {
                *pixel = Rgba([20, 20, 220, 255]);
            } else if x >= 20 {
                *pixel = Rgba([0, 0, 0, 128]);
            }
        }
        let mut bytes = Vec::new();
        png::PngEncoder::new(&mut bytes)
            .write_image(picture.as_raw(), 60, 40, ExtendedColorType::Rgba8)
            .unwrap();
        let kept = take_in(&bytes).unwrap();
        assert!(is_near(colour_at(&kept.jpeg, 0.1, 0.5), WHITE));
        assert!(is_near(colour_at(&kept.jpeg, 0.5, 0.5), [127, 127, 127]));
        assert!(is_near(colour_at(&kept.jpeg, 0.9, 0.5), BLUE));
    }

    #[test]
    fn the_same_bytes_give_the_same_photo_and_a_kept_photo_stays_as_it_is() {
        let bytes = as_webp(&scene(700, 500));
        let kept = take_in(&bytes).unwrap();
        assert_eq!(take_in(&bytes).unwrap(), kept);
        let again = take_in(&kept.jpeg).unwrap();
        assert_eq!(again.jpeg, kept.jpeg);
        assert_eq!(again.sha256(), kept.sha256());
        assert_eq!((again.width_px, again.height_px), (700, 500));
        assert_eq!(take_in(&kept.jpeg).unwrap(), again);
    }

    #[test]
    fn a_picture_smaller_than_kept_is_made_for_where_it_is_shown_small() {
        let kept = take_in(&as_png(&scene(1600, 800))).unwrap();
        let small = decoded(&smaller(&kept.jpeg, 900).unwrap()).unwrap();
        assert_eq!(small.dimensions(), (900, 450));
    }

    /// A PNG of this size whose data are a few bytes only: its header is all that is read.
    fn bomb(width: u32, height: u32) -> Vec<u8> {
        fn chunk(kind: &[u8; 4], content: &[u8]) -> Vec<u8> {
            let mut body = kind.to_vec();
            body.extend(content);
            let mut crc = flate2::Crc::new();
            crc.update(&body);
            let mut bytes = u32::try_from(content.len()).unwrap().to_be_bytes().to_vec();
            bytes.extend(body);
            bytes.extend(crc.sum().to_be_bytes());
            bytes
        }
        let mut header = width.to_be_bytes().to_vec();
        header.extend(height.to_be_bytes());
        header.extend([8, 2, 0, 0, 0]);
        let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
        bytes.extend(chunk(b"IHDR", &header));
        bytes.extend(chunk(b"IDAT", &[0x78, 0x9c, 3, 0, 0, 0, 0, 1]));
        bytes.extend(chunk(b"IEND", &[]));
        bytes
    }

    #[test]
    fn a_small_file_that_unfolds_into_gigabytes_is_refused_by_its_header() {
        let words = take_in(&bomb(60_000, 60_000)).unwrap_err().to_string();
        assert_eq!(
            words,
            "a picture of 60000 by 60000 pixels, 3600.0 megapixels; expected at most 50 megapixels"
        );
        assert!(take_in(&bomb(u32::MAX, u32::MAX)).is_err());

        // A JPEG tells its size in the header of its frame.
        let mut jpeg = as_jpeg(&scene(16, 16));
        let frame = jpeg
            .windows(2)
            .position(|pair| pair == [0xff, 0xc0])
            .unwrap();
        jpeg[frame + 5..frame + 9].copy_from_slice(&[0xff, 0xff, 0xff, 0xff]);
        let words = take_in(&jpeg).unwrap_err().to_string();
        assert!(words.contains("65535 by 65535 pixels"), "{words}");
        assert!(words.contains("expected at most 50 megapixels"), "{words}");
    }

    #[test]
    fn deep_colours_may_have_half_as_many_pixels() {
        let mut bytes = Vec::new();
        png::PngEncoder::new(&mut bytes)
            .write_image(&vec![0x80; 8 * 30 * 20], 30, 20, ExtendedColorType::Rgba16)
            .unwrap();
        assert_eq!(take_in(&bytes).unwrap().width_px, 30);
        // The same header with 7,000 by 7,000 pixels of eight bytes.
        bytes[16..24].copy_from_slice(&[0, 0, 0x1b, 0x58, 0, 0, 0x1b, 0x58]);
        let mut crc = flate2::Crc::new();
        crc.update(&bytes[12..29]);
        bytes[29..33].copy_from_slice(&crc.sum().to_be_bytes());
        let words = take_in(&bytes).unwrap_err().to_string();
        assert!(words.contains("expected"), "{words}");
        assert!(
            words.contains("16 bits a channel") || words.contains("megapixels"),
            "{words}"
        );
    }

    #[test]
    fn a_file_that_is_too_large_is_not_looked_at() {
        let mut bytes = as_png(&scene(10, 10));
        bytes.resize(20_000_001, 0);
        assert_eq!(
            take_in(&bytes).unwrap_err().to_string(),
            "a file of 20.0 MB; expected at most 20 MB"
        );
    }

    #[test]
    fn other_formats_are_refused_by_name() {
        for (bytes, name) in [
            (b"".as_slice(), "an empty file"),
            (b"GIF89a\x01\0\x01\0\0\0\0;", "a GIF"),
            (b"\0\0\0\x18ftypheic\0\0\0\0", "a HEIC picture"),
            (b"\0\0\0\x18ftypavif\0\0\0\0", "an AVIF"),
            (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "an SVG"),
            (b"%PDF-1.7", "a PDF"),
            (b"MZ\x90\0", "another kind"),
        ] {
            let words = take_in(bytes).unwrap_err().to_string();
            assert!(words.contains(name), "{words}");
            assert!(
                words.contains("expected a JPEG, PNG or WebP picture"),
                "{words}"
            );
        }
    }

    #[test]
    fn moving_pictures_are_refused() {
        // A PNG becomes an animated one by an acTL chunk before its data.
        let still = bomb(10, 10);
        let mut control = b"acTL".to_vec();
        control.extend([0, 0, 0, 2, 0, 0, 0, 0]);
        let mut crc = flate2::Crc::new();
        crc.update(&control);
        let mut moving = still[..33].to_vec();
        moving.extend(8u32.to_be_bytes());
        moving.extend(&control);
        moving.extend(crc.sum().to_be_bytes());
        moving.extend(&still[33..]);
        let words = take_in(&moving).unwrap_err().to_string();
        assert_eq!(words, "an animated PNG; expected a still picture");

        // An extended WebP with the flag of an animation, its parameters and one frame.
        let mut body = b"WEBPVP8X\x0a\0\0\0\x02\0\0\0\x09\0\0\x09\0\0".to_vec();
        body.extend(b"ANIM\x06\0\0\0\0\0\0\0\0\0");
        let lossless = &as_webp(&scene(10, 10))[12..];
        let mut frame = vec![0, 0, 0, 0, 0, 0, 9, 0, 0, 9, 0, 0, 100, 0, 0, 0];
        frame.extend(lossless);
        body.extend(b"ANMF");
        body.extend(u32::try_from(frame.len()).unwrap().to_le_bytes());
        body.extend(frame);
        let mut moving = b"RIFF".to_vec();
        moving.extend(u32::try_from(body.len()).unwrap().to_le_bytes());
        moving.extend(body);
        let words = take_in(&moving).unwrap_err().to_string();
        assert_eq!(words, "an animated WebP; expected a still picture");
    }

    #[test]
    fn a_picture_that_is_cut_short_is_refused_wherever_it_ends() {
        let picture = scene(48, 40);
        for bytes in [as_jpeg(&picture), as_png(&picture), as_webp(&picture)] {
            for end in 0..bytes.len() - 1 {
                // The last bytes of a PNG are its end mark alone: the pixels are there before.
                if let Ok(kept) = take_in(&bytes[..end]) {
                    assert!(
                        bytes.starts_with(b"\x89PNG") && end >= bytes.len() - 16,
                        "{end}"
                    );
                    assert!(is_near(colour_at(&kept.jpeg, 0.9, 0.9), BLUE));
                }
            }
        }
    }

    #[test]
    fn changed_and_random_bytes_are_refused_or_taken_but_never_panic() {
        let picture = scene(48, 40);
        let mut state = 0x2545_f491_4f6c_dd1du64;
        let mut chance = || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            state
        };
        for bytes in [
            as_jpeg(&picture),
            with_exif(6, &picture),
            as_png(&picture),
            as_webp(&picture),
        ] {
            for _ in 0..400 {
                let mut changed = bytes.clone();
                for _ in 0..1 + chance() % 6 {
                    let at = chance() as usize % changed.len();
                    changed[at] = chance() as u8;
                }
                if let Ok(kept) = take_in(&changed) {
                    assert!(is_plain_jpeg(&kept.jpeg));
                    assert!(kept.width_px <= LONG_SIDE_PX && kept.height_px <= LONG_SIDE_PX);
                }
            }
        }
        for magic in [
            b"\xff\xd8\xff\xe0".as_slice(),
            b"\x89PNG\r\n\x1a\n",
            b"RIFF\0\0\0\0WEBP",
        ] {
            for length in 0..300 {
                let mut bytes = magic.to_vec();
                bytes.extend((0..length).map(|_| chance() as u8));
                let _ = take_in(&bytes);
            }
        }
    }
}
