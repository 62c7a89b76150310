//! Photos: read when they are drawn, made as small as paper needs.

use image::{
    DynamicImage, ImageDecoder, ImageReader, Limits, codecs::jpeg::JpegEncoder,
    imageops::FilterType,
};
use std::io::Cursor;

/// A photo that is read only when its page is drawn, so that one at a time is in memory.
pub struct Photo {
    /// Only their ratio counts.
    pub width_px: u32,
    pub height_px: u32,
    pub caption: String,
    /// What it shows, for those who cannot see it.
    pub alt: String,
    /// Gives a JPEG; called once.
    pub read: Box<dyn Fn() -> Result<Vec<u8>, String> + Send>,
}

/// Longest side that paper needs: at the width of a column some 370 dots an inch.
const LONGEST_PX: u32 = 1200;
const QUALITY: u8 = 75;
/// What a photo may take while it is decoded.
const MEMORY: u64 = 256 << 20;

/// A JPEG of the picture that is at most 1200 px long and takes at most `most_bytes`, or as near
/// to it as a still recognisable picture comes. A JPEG that is small enough is taken as it is.
///
/// # Errors
/// The bytes are no picture, or one too large to decode.
pub fn fitted_jpeg(bytes: &[u8], most_bytes: usize) -> Result<Vec<u8>, String> {
    let told = |cause: image::ImageError| cause.to_string();
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|cause| cause.to_string())?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(MEMORY);
    reader.limits(limits);
    let is_jpeg = reader.format() == Some(image::ImageFormat::Jpeg);
    let decoder = reader.into_decoder().map_err(told)?;
    let (width, height) = decoder.dimensions();
    if is_jpeg && width.max(height) <= LONGEST_PX && bytes.len() <= most_bytes {
        return Ok(bytes.to_vec());
    }
    let mut picture = DynamicImage::from_decoder(decoder).map_err(told)?;
    // Transparent parts stand on white paper.
    if picture.color().has_alpha() {
        let mut rgba = picture.into_rgba8();
        for pixel in rgba.pixels_mut() {
            let alpha = u32::from(pixel[3]);
            for channel in 0..3 {
                let over = u32::from(pixel[channel]) * alpha + 255 * (255 - alpha);
                pixel[channel] = (over / 255) as u8;
            }
            pixel[3] = 255;
        }
        picture = DynamicImage::ImageRgba8(rgba);
    }
    let mut rgb = picture.into_rgb8();
    let longest = rgb.width().max(rgb.height());
    if longest > LONGEST_PX {
        let part =
            |side: u32| (u64::from(side) * u64::from(LONGEST_PX) / u64::from(longest)).max(1);
        let (width, height) = (part(rgb.width()) as u32, part(rgb.height()) as u32);
        rgb = image::imageops::resize(&rgb, width, height, FilterType::Triangle);
    }
    let mut quality = QUALITY;
    loop {
        let mut jpeg = Vec::new();
        JpegEncoder::new_with_quality(&mut jpeg, quality)
            .encode_image(&rgb)
            .map_err(told)?;
        if jpeg.len() <= most_bytes || rgb.width().min(rgb.height()) < 200 {
            return Ok(jpeg);
        }
        if quality > 45 {
            quality -= 15;
        } else {
            let (width, height) = (rgb.width() * 3 / 4, rgb.height() * 3 / 4);
            rgb = image::imageops::resize(&rgb, width, height, FilterType::Triangle);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noise(width: u32, height: u32) -> Vec<u8> {
        let mut state = 1u32;
        let picture = image::RgbImage::from_fn(width, height, |_, _| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let [a, b, c, _] = state.to_be_bytes();
            image::Rgb([a, b, c])
        });
        let mut jpeg = Vec::new();
        JpegEncoder::new_with_quality(&mut jpeg, 90)
            .encode_image(&picture)
            .unwrap();
        jpeg
    }

    #[test]
    fn even_a_picture_of_noise_keeps_to_its_share() {
        let fitted = fitted_jpeg(&noise(2048, 1536), 250_000).unwrap();
        assert!(fitted.len() <= 250_000, "{}", fitted.len());
        let picture = image::load_from_memory(&fitted).unwrap();
        assert!(picture.width() <= 1200);
        let ratio = f64::from(picture.width()) / f64::from(picture.height());
        assert!((ratio - 2048.0 / 1536.0).abs() < 0.01);
    }

    #[test]
    fn a_small_jpeg_is_taken_as_it_is_and_no_picture_is_refused() {
        let small = noise(64, 48);
        assert_eq!(fitted_jpeg(&small, 100_000).unwrap(), small);
        assert!(fitted_jpeg(b"no picture", 100_000).is_err());
    }
}
