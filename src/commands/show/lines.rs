//! The line check: which loudspeaker is which, before the show.

use std::sync::Arc;
use std::thread::sleep;
use std::time::Duration;

use super::super::{Failure, print};
use crate::live::playout::{Bus, Monotonic, Order, Output, Playout, Start};
use crate::sound::{Line, LineCheck, line_check};
use crate::units::{Gain, Span};

/// The tones of programme and headphones, in hertz: told apart by ear.
const PROGRAMME: f64 = 1_000.0;
const HEADPHONES: f64 = 500.0;
/// How long a device that was just opened may take to find its feet.
const SETTLING: Duration = Duration::from_secs(3);
/// From the order until it is heard: enough for what is mixed ahead.
const LEAD: Span = Span::from_ms(300);
/// What is left to be heard when the last part is over by the clock.
const TAIL: Span = Span::from_ms(200);

/// Plays the signal on the programme, then on the headphones if there are any, and says what should be heard.
pub fn check_lines(output: Output) -> Result<(), Failure> {
    let (programme, headphones) = (output.programme, output.headphones);
    let playout = Playout::open(output);
    let health = playout.health();
    if health.silent {
        let why = health.fault.unwrap_or("no device answers".into());
        return Err(Failure::Outside(format!(
            "the lines cannot be checked: {why}"
        )));
    }
    print(&format!("on {}\n", health.device.unwrap_or_default()))?;
    sleep(SETTLING);
    let dry = playout.health().underruns;
    play(&playout, Bus::Programme, "programme", programme, PROGRAMME)?;
    match headphones {
        Some(sockets) => play(&playout, Bus::Headphones, "headphones", sockets, HEADPHONES)?,
        None => print("no headphones are set in machine.toml\n")?,
    }
    match playout.health() {
        health if health.silent => Err(Failure::Outside(format!(
            "the device was lost on the way: {}",
            health.fault.unwrap_or_default()
        ))),
        health if health.underruns > dry => print("sound ran dry on the way: check once more\n"),
        _ => Ok(()),
    }
}

fn play(
    playout: &Playout,
    bus: Bus,
    name: &str,
    (left, right): (u16, u16),
    hertz: f64,
) -> Result<(), Failure> {
    let LineCheck { pcm, parts } = line_check(playout.rate(), hertz);
    let lasts = pcm.duration();
    let at = Monotonic::now() + LEAD;
    playout.send(Order::Start(Start {
        voice: 1,
        sound: Arc::new(pcm).into(),
        from: Span::ZERO,
        begins: Span::ZERO,
        at,
        fade_in: Span::ZERO,
        gain: Gain::ZERO,
        duck: Gain::ZERO,
        bus,
    }));
    for (from, line) in parts {
        wait_until(at + from);
        let what = match line {
            Line::Both => format!("a tone on both, sockets {left} and {right}"),
            Line::Left => format!("one burst left, socket {left}"),
            Line::Right => format!("two bursts right, socket {right}"),
        };
        print(&format!("{name}: {what}\n"))?;
    }
    wait_until(at + lasts + TAIL);
    Ok(())
}

fn wait_until(at: Monotonic) {
    let left = at - Monotonic::now();
    sleep(Duration::from_micros(left.us().max(0).unsigned_abs()));
}
