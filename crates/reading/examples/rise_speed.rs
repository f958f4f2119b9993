//! How long a rise time takes from 3.6 million readings that lie in memory: ten hours at 100
//! readings a second, noisy, a block heated in the middle.
#![expect(clippy::disallowed_methods, reason = "a measurement looks at the clock")]
#![expect(clippy::print_stdout, reason = "its output is its purpose")]

use std::time::Instant;

use metrology::{Duration, Temperature};
use reading::{Circumstances, Point, SensorUncertainty, Trace, Window, rise_time};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let points = (0..3_600_000_u32).map(|number| {
        let at = f64::from(number) / 100.0;
        // A generator of little repute makes half a kelvin of noise.
        let noise = f64::from(number.wrapping_mul(2_654_435_761) >> 8) / f64::from(1 << 24) - 0.5;
        let heated = 27.0 * (at - 18_000.0).clamp(0.0, 30.0);
        let cooled = (at - 18_030.0).clamp(0.0, 260.0) * 3.0;
        let celsius = ((23.0 + heated - cooled + noise) * 100.0).round() / 100.0;
        Point { at: Duration::from_seconds(at), temperature: Temperature::from_celsius(celsius) }
    });
    let trace = Trace::new(points)?;
    let window = Window::new(Temperature::from_celsius(100.0), Temperature::from_celsius(700.0))?;
    let begun = Instant::now();
    let read = rise_time(&trace, window, SensorUncertainty::NONE, &Circumstances::default())?;
    let taken = begun.elapsed().as_secs_f64();
    println!("{{\"rise_s\": {:.6}, \"seconds\": {taken:.4}}}", read.value.value.seconds());
    Ok(())
}
