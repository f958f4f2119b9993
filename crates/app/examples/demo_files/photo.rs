//! The camera's files: drawings of the three specimens after the flame, in place of photographs.

/// Width and height of a drawing, in pixels.
const SIZE: (u32, u32) = (960, 640);

/// The files by name.
pub(crate) fn all() -> Vec<(&'static str, Vec<u8>)> {
    vec![
        ("specimen-1-after.png", drawing(300.0)),
        ("specimen-2-after.png", drawing(130.0)),
        ("specimen-3-after.png", drawing(105.0)),
    ]
}

/// A grey part on a pale ground, scorched from its lower edge as far as `reach` pixels.
fn drawing(reach: f64) -> Vec<u8> {
    let (width, height) = SIZE;
    let mut pixels = Vec::with_capacity((width * height) as usize);
    for y in 0..height {
        for x in 0..width {
            pixels.push(shade(f64::from(x), f64::from(y), reach));
        }
    }
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    let words = "MADE-UP: drawn for the demo of Cinderbook; no photograph";
    let written = encoder
        .add_text_chunk("Description".to_owned(), words.to_owned())
        .and_then(|()| encoder.write_header())
        .and_then(|mut writer| writer.write_image_data(&pixels));
    // A picture in memory can be written; were it not, the empty file would show.
    if written.is_ok() { bytes } else { Vec::new() }
}

/// The grey of one pixel.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to a byte")]
fn shade(x: f64, y: f64, reach: f64) -> u8 {
    let inside = (180.0..780.0).contains(&x) && (120.0..520.0).contains(&y);
    let slot = (300.0..660.0).contains(&x) && (200.0..260.0).contains(&y);
    if !inside || slot {
        let shadow = (192.0..800.0).contains(&x) && (132.0..540.0).contains(&y) && !slot;
        return if shadow { 205 } else { 232 };
    }
    let edge = !(186.0..774.0).contains(&x) || !(126.0..514.0).contains(&y);
    let (across, up) = (x - 480.0, (520.0 - y) / 1.35);
    let distance = (across * across + up * up).sqrt();
    let scorch = (1.0 - distance / reach).clamp(0.0, 1.0);
    let body = if edge { 110.0 } else { 150.0 };
    let streak = if (x as u32 / 7 + y as u32 / 11).is_multiple_of(5) { 6.0 } else { 0.0 };
    (body - 125.0 * scorch.sqrt() - streak * scorch).clamp(12.0, 255.0) as u8
}
