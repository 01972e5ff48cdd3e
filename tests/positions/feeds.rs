//! Feeds: from UDP, TCP and a file, and what is believed of them.

use std::io::Write;
use std::net::{TcpListener, UdpSocket};
use std::time::{Duration, Instant as Clock};

use abeam::live::What;
use abeam::live::event::Position;
use abeam::live::positions::{Feed, Heard, Said, Source};
use abeam::position::nmea::checksum;
use abeam::position::{Fix, Ground, Place, Spot};
use abeam::show::Name;
use abeam::units::{Angle, Instant, Length, Speed};
use jiff::Timestamp;

const BEARING: Angle = Angle::from_deg(64.0);

fn ground() -> Ground {
    Ground::new(Place::from_deg(61.0, 9.5).expect("a place"), BEARING)
}

fn heard() -> Heard {
    Heard::new(Name::from("solo"), ground(), BEARING, 1.0)
}

/// A fix `t` seconds on at a place of the site, moving along the line at `mps`.
fn fix(t: f64, along: f64, mps: f64) -> Fix {
    let spot = Spot {
        along: Length::from_m(along),
        across: Length::from_m(230.0),
    };
    let at = Timestamp::from_microsecond(1_783_252_800_000_000 + (t * 1e6) as i64);
    Fix {
        ground_speed: Some(Speed::from_mps(mps)),
        track: Some(BEARING),
        ..Fix::new(
            at.expect("an instant"),
            ground().place(spot).expect("a place"),
        )
    }
}

fn positions(happened: &[What]) -> Vec<&Position> {
    happened
        .iter()
        .filter_map(|what| match what {
            What::Position(position) => Some(position),
            _ => None,
        })
        .collect()
}

fn says(happened: &[What]) -> Vec<&str> {
    happened
        .iter()
        .filter_map(|what| match what {
            What::Feed { says } => Some(says.as_str()),
            _ => None,
        })
        .collect()
}

fn rmc(second: u32) -> String {
    let minutes = 30.0 + 0.1 * f64::from(second);
    let body = format!("GPRMC,1200{second:02},A,6100.000,N,009{minutes:06.3},E,180,090,050726,,,A");
    format!("${body}*{:02X}\r\n", checksum(&body))
}

/// What a feed says until `count` fixes have come.
fn fixes(feed: &Feed, count: usize) -> Vec<Said> {
    let begun = Clock::now();
    let mut said = Vec::new();
    let fixes = |said: &[Said]| {
        said.iter()
            .filter(|said| matches!(said, Said::Fix(_)))
            .count()
    };
    while fixes(&said) < count && begun.elapsed() < Duration::from_secs(20) {
        said.extend(feed.take().map(|received| received.said));
        std::thread::sleep(Duration::from_millis(5));
    }
    assert_eq!(fixes(&said), count, "{said:?}");
    said
}

#[test]
fn sentences_are_heard_over_udp() {
    let free = UdpSocket::bind("127.0.0.1:0")
        .expect("a port")
        .local_addr()
        .expect("its number");
    let feed = Feed::open(Source::Udp(free.to_string()), 1.0).expect("a feed");
    let sender = UdpSocket::bind("127.0.0.1:0").expect("a port");
    // Two sentences in one datagram, and one with a wrong checksum.
    let damaged = rmc(3).replace("6100", "6101");
    for datagram in [format!("{}{}", rmc(1), rmc(2)), damaged, rmc(4)] {
        sender.send_to(datagram.as_bytes(), free).expect("sent");
    }
    let said = fixes(&feed, 3);
    assert!(
        said.contains(&Said::Useless("checksums are missing or wrong")),
        "{said:?}"
    );
    let taken = Feed::open(Source::Udp(free.to_string()), 1.0);
    assert!(taken.is_err(), "two feeds at one address");
}

#[test]
fn a_tcp_feed_that_ends_is_said_and_connected_again() {
    let server = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = server.local_addr().expect("its number").to_string();
    let feed = Feed::open(Source::Tcp(address), 1.0).expect("a feed");
    for second in [1, 2] {
        let (mut stream, _) = server.accept().expect("a connection");
        let text = rmc(second);
        // A sentence may come in pieces.
        let (first, rest) = text.split_at(20);
        stream.write_all(first.as_bytes()).expect("sent");
        std::thread::sleep(Duration::from_millis(300));
        stream.write_all(rest.as_bytes()).expect("sent");
        let said = fixes(&feed, 1);
        assert_eq!(
            said.iter().any(|said| matches!(said, Said::Broken(_))),
            second == 2,
            "{said:?}"
        );
    }
}

#[test]
fn a_log_is_played_back_in_its_own_time() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("log.nmea");
    std::fs::write(&path, [rmc(0), rmc(1), rmc(4)].concat()).expect("written");
    let feed = Feed::open(Source::File(path.clone()), 10.0).expect("a feed");
    std::thread::sleep(Duration::from_millis(300));
    let begun = Clock::now();
    fixes(&feed, 3);
    // It begins when somebody takes it, and four seconds at ten times the speed are 0.4 s.
    assert!(
        begun.elapsed() >= Duration::from_millis(390),
        "{:?}",
        begun.elapsed()
    );
    assert!(Feed::open(Source::File(folder.path().join("none")), 1.0).is_err());
}

#[test]
fn a_feed_ten_times_a_second_gives_one_position_a_second_with_its_speed_along_the_line() {
    let mut heard = heard();
    let mut happened = Vec::new();
    for i in 0..100 {
        let t = f64::from(i) / 10.0;
        // It takes 80 to 280 ms to arrive.
        let late = 0.08 + 0.2 * f64::from(i % 3) / 2.0;
        let arrived = Instant::from_s(500.0 + t + late);
        happened.extend(heard.take(&Said::Fix(fix(t, -3_000.0 + 100.0 * t, 100.0)), arrived));
    }
    let positions = positions(&happened);
    assert_eq!(positions.len(), 10, "{positions:?}");
    for position in positions {
        assert!((position.along_mps.expect("a speed") - 100.0).abs() < 1e-6);
        let flown = -3_000.0 + 100.0 * (position.observed.s() - 500.08);
        assert!((position.along_m - flown).abs() < 0.1, "{position:?}");
        assert!((position.across_m - 230.0).abs() < 0.1, "{position:?}");
    }
    assert!(says(&happened).is_empty());
}

#[test]
fn a_feed_that_stops_is_said_once_and_when_it_comes_again() {
    let mut heard = heard();
    let mut happened = heard.look(Instant::from_s(0.0));
    happened.extend(heard.take(&Said::Fix(fix(0.0, 0.0, 100.0)), Instant::from_s(1.0)));
    happened.extend(heard.take(
        &Said::Useless("the receiver has no position"),
        Instant::from_s(2.0),
    ));
    for t in 2..20 {
        happened.extend(heard.look(Instant::from_s(f64::from(t))));
    }
    assert_eq!(
        says(&happened),
        ["nothing of solo for 5 s, the receiver has no position"]
    );
    let again = heard.take(&Said::Fix(fix(20.0, 2_000.0, 100.0)), Instant::from_s(21.0));
    assert_eq!(says(&again), ["solo is seen again"]);
    assert_eq!(positions(&again).len(), 1);
}

#[test]
fn a_feed_that_jumps_lies_or_runs_backwards_is_said_and_not_used() {
    let lies = [
        (fix(4.0, 20_000.0, 100.0), "it jumps"),
        (fix(4.0, -1_600.0, 300.0), "the speed it states"),
        (fix(2.5, -1_750.0, 100.0), "its time runs backwards"),
        (fix(4.0, -1_100.0, 100.0), "it jumps off its path"),
    ];
    for (lie, said) in lies {
        let mut heard = heard();
        let mut happened = Vec::new();
        for t in 0..4 {
            let t = f64::from(t);
            let good = fix(t, -2_000.0 + 100.0 * t, 100.0);
            happened.extend(heard.take(&Said::Fix(good), Instant::from_s(t)));
        }
        assert!(says(&happened).is_empty(), "{happened:?}");
        let lied = heard.take(&Said::Fix(lie), Instant::from_s(4.0));
        assert!(positions(&lied).is_empty(), "{lied:?}");
        assert!(
            says(&lied).iter().any(|text| text.contains(said)),
            "{said}: {lied:?}"
        );
        // What comes after it is taken.
        let after = heard.take(&Said::Fix(fix(5.0, -1_500.0, 100.0)), Instant::from_s(5.0));
        assert_eq!(positions(&after).len(), 1, "{said}: {after:?}");
    }
}

#[test]
fn old_news_and_another_country_are_not_used() {
    let mut heard = heard();
    for t in 0..3 {
        let t = f64::from(t);
        heard.take(&Said::Fix(fix(t, 100.0 * t, 100.0)), Instant::from_s(t));
    }
    let late = heard.take(&Said::Fix(fix(3.0, 300.0, 100.0)), Instant::from_s(8.0));
    assert_eq!(says(&late), ["fixes come late and are not used"]);
    assert!(positions(&late).is_empty());
    let mut heard = self::heard();
    let far = heard.take(&Said::Fix(fix(0.0, 900_000.0, 100.0)), Instant::from_s(0.0));
    assert_eq!(
        says(&far),
        ["solo is 900 km from crowd centre: is this the right feed and site?"]
    );
    assert!(positions(&far).is_empty());
}
