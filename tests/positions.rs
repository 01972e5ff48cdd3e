//! Position logs: what is read of NMEA 0183, GPX 1.1 and CSV, geodesics, and when an aircraft was abeam.

use abeam::position::nmea::{self, Broken, Sentence};
use abeam::position::{
    DoubtKind, Fix, Ground, LONGEST_GAP, Log, LogError, Place, Spot, passes, read,
};
use abeam::show::Side;
use abeam::units::quantity::KNOT;
use abeam::units::{Angle, Length, Span};
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;

fn place(lat: f64, lon: f64) -> Place {
    Place::from_deg(lat, lon).expect("a place")
}

fn log(text: &str) -> Log {
    read(text.as_bytes(), "log", None).unwrap_or_else(|error| panic!("{error}\n{text}"))
}

fn fails(text: &str) -> LogError {
    read(text.as_bytes(), "log", None).expect_err(text)
}

fn times(log: &Log) -> Vec<String> {
    let fixes = log.tracks.iter().flat_map(|track| &track.fixes);
    fixes.map(|fix| fix.at.to_string()).collect()
}

fn doubts(log: &Log) -> Vec<String> {
    log.doubts.iter().map(ToString::to_string).collect()
}

/// A sentence with its checksum.
fn nmea(body: &str) -> String {
    format!("${body}*{:02X}\r\n", nmea::checksum(body))
}

// Geodesics

#[test]
fn geodesics_are_those_of_geographiclib_to_a_millimetre() {
    // PyPI's geographiclib 2.1 on 1,000 pairs of places: tests/reference/geodesics.py.
    let mut pairs = 0;
    for line in include_str!("reference/geodesics.csv").lines().skip(1) {
        let v: Vec<f64> = line.split(',').map(|n| n.parse().expect(line)).collect();
        let (from, to) = (place(v[0], v[1]), place(v[2], v[3]));
        // Any bearing will do; this one differs from pair to pair.
        let bearing = v[0] * 7.0;
        let ground = Ground::new(from, Angle::from_deg(bearing));
        let spot = ground.spot(to);
        let off_line = (v[5] - bearing).to_radians();
        assert!((spot.from_centre().m() - v[4]).abs() < 1e-3, "{line}");
        assert!(
            (spot.along.m() - v[4] * off_line.cos()).abs() < 1e-3,
            "{line}"
        );
        assert!(
            (spot.across.m() + v[4] * off_line.sin()).abs() < 1e-3,
            "{line}"
        );
        let back = ground.place(spot).expect(line);
        let missed = Ground::new(to, Angle::ZERO).spot(back).from_centre();
        assert!(missed.m() < 1e-3, "{line}: back to {missed} from there");
        pairs += 1;
    }
    assert_eq!(pairs, 1_000);
}

#[test]
fn the_site_lies_as_the_document_says() {
    // A crowd that looks north has east on its right.
    let centre = place(61.0, 9.5);
    let ground = Ground::new(centre, Angle::from_deg(90.0));
    let east = ground.spot(place(61.0, 9.51));
    assert!(
        east.along.m() > 500.0 && east.across.abs().m() < 1.0,
        "{east:?}"
    );
    let north = ground.spot(place(61.01, 9.5));
    assert!(
        north.across.m() > 1_000.0 && north.along.abs().m() < 1e-6,
        "{north:?}"
    );
}

// NMEA 0183

#[test]
fn nmea_sentences_of_the_published_description_are_read() {
    // The examples of gpsd's "NMEA Revealed" (gpsd.io/NMEA.html) for RMC and GGA.
    let rmc =
        nmea::sentence(b"$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100117,,,A*7B\r\n");
    let Ok(Sentence::Rmc(rmc)) = rmc else {
        panic!("{rmc:?}")
    };
    assert_eq!(rmc.time, Some(jiff::civil::time(0, 10, 31, 0)));
    assert_eq!(rmc.date, Some(jiff::civil::date(2017, 1, 10)));
    assert!(rmc.measured && rmc.track.is_none());
    assert!((rmc.ground_speed.expect("a speed").kt() - 0.146).abs() < 1e-12);
    let at = rmc.place.expect("a place");
    assert!((at.lat().deg() - (44.0 + 4.13993 / 60.0)).abs() < 1e-12);
    assert!((at.lon().deg() + (121.0 + 18.86023 / 60.0)).abs() < 1e-12);
    let gga = nmea::sentence(
        b"$GNGGA,001043.00,4404.14036,N,12118.85961,W,1,12,0.98,1113.0,M,-21.3,M*47",
    );
    let Ok(Sentence::Gga(gga)) = gga else {
        panic!("{gga:?}")
    };
    assert!(gga.measured);
    assert_eq!(gga.height, Some(Length::from_m(1113.0)));
}

#[test]
fn sentences_that_are_damaged_are_refused_and_others_passed_over() {
    // Sentences of our own, by the fields of the same description.
    let good = "GPRMC,120000,A,6100.000,N,00930.000,E,200.0,064.0,050726,,,A";
    let refused = |text: &str| nmea::sentence(text.as_bytes());
    let whole = nmea(good);
    let whole = whole.trim_end();
    assert!(matches!(refused(whole), Ok(Sentence::Rmc(_))));
    let tagged = format!("\\s:rcv1,c:1783252800*2C\\{whole}");
    assert!(matches!(refused(&tagged), Ok(Sentence::Rmc(_))));
    for other in [
        "",
        "\r\n",
        &nmea("GPVTG,064.0,T,,M,200.0,N,370.4,K,A"),
        &nmea("PXYZRMC,120000,A"),
        "!AIVDM,1,1,,A,14eG;o@034o8sd<L9i:a;WF>062D,0*7D",
    ] {
        assert_eq!(refused(other), Ok(Sentence::Other), "{other}");
    }
    let changed = whole.replace("200.0", "210.0");
    let bare = whole.split_once('*').expect("a checksum").0;
    for (damaged, why) in [
        (changed.as_str(), Broken::Checksum),
        (bare, Broken::Checksum),
        (&format!("{bare}*"), Broken::Checksum),
        (&format!("{bare}*+2"), Broken::Checksum),
        (&whole[..20], Broken::Checksum),
        (&whole[3..], Broken::NoSentence),
        ("\\s:rcv1", Broken::NoSentence),
    ] {
        assert_eq!(refused(damaged), Err(why), "{damaged}");
    }
    for (right, wrong) in [
        ("6100.000,N", "6160.000,N"),
        ("6100.000,N", "9100.000,N"),
        ("6100.000,N", "6100.000,X"),
        ("6100.000,N", "é100.000,N"),
        ("00930.000,E", "18100.000,E"),
        ("120000", "250000"),
        ("120000", "12"),
        ("120000", "120061"),
        ("050726", "310226"),
        ("050726", "5726"),
        ("200.0", "fast"),
        ("200.0", "NaN"),
    ] {
        let wrong = nmea(&good.replacen(right, wrong, 1));
        assert_eq!(refused(&wrong), Err(Broken::Field), "{wrong}");
    }
}

#[test]
fn what_the_receiver_does_not_vouch_for_is_not_taken() {
    let with = |status: &str, mode: &str| {
        nmea(&format!(
            "GPRMC,120001,{status},6100.100,N,00930.000,E,200,064,050726,,,{mode}"
        ))
    };
    let first = nmea("GPRMC,120000,A,6100.000,N,00930.000,E,200,064,050726,,");
    for unmeasured in [
        with("V", "N"),
        with("V", "A"),
        with("A", "E"),
        with("A", "S"),
    ] {
        let log = log(&format!("{first}{unmeasured}"));
        assert_eq!(times(&log), ["2026-07-05T12:00:00Z"], "{unmeasured}");
        assert_eq!(log.doubts.count(DoubtKind::Unmeasured), 1, "{unmeasured}");
    }
    let empty = nmea("GPRMC,120001,A,,,,,,,050726,,,A");
    let log = log(&format!("{first}{empty}"));
    assert_eq!(log.doubts.count(DoubtKind::Incomplete), 1);
}

#[test]
fn rmc_and_gga_of_an_epoch_are_one_fix_over_midnight_and_the_date_line() {
    let text = [
        // The first place before any date is known.
        "GPGGA,235958.00,0000.000,S,17959.866,E,1,08,1.0,100.0,M,0.0,M,,",
        "GPRMC,235959.00,A,0000.000,S,17959.920,E,194.4,090.0,311226,,,A",
        "GPGGA,235959.00,0000.000,S,17959.920,E,1,08,1.0,120.0,M,0.0,M,,",
        // Height alone, on the next day.
        "GPGGA,000000.00,0000.000,S,17959.974,E,1,08,1.0,140.0,M,0.0,M,,",
        "GPGGA,000001.00,0000.000,S,17959.972,W,1,08,1.0,160.0,M,0.0,M,,",
        "GPRMC,000001.00,A,0000.000,S,17959.972,W,194.4,090.0,010127,,,A",
    ]
    .map(nmea)
    .concat();
    let log = log(&text);
    assert_eq!(
        times(&log),
        [
            "2026-12-31T23:59:59Z",
            "2027-01-01T00:00:00Z",
            "2027-01-01T00:00:01Z"
        ]
    );
    assert_eq!(doubts(&log), ["1 fix has no date (line 1)"]);
    let fixes = &log.tracks[0].fixes;
    assert!(fixes.iter().all(|fix| fix.height.is_some()));
    assert!(fixes[0].ground_speed.is_some() && fixes[1].ground_speed.is_none());
    // With the date of the day given, the first is dated too.
    let day = jiff::civil::date(2026, 12, 31);
    let dated = read(text.as_bytes(), "log", Some(day)).expect("a log");
    assert_eq!(dated.tracks[0].fixes.len(), 4);
    // A pass over the date line, centre on it.
    let ground = Ground::new(place(0.0, 180.0), Angle::from_deg(90.0));
    let passed = passes(&ground, fixes, LONGEST_GAP).passes;
    assert_eq!(passed.len(), 1);
    assert!(
        (passed[0].ground_speed.kt() - 194.4).abs() < 1.0,
        "{passed:?}"
    );
    assert_eq!(passed[0].from, Side::Left);
}

#[test]
fn time_running_backwards_is_put_in_order_and_said() {
    let at = |second: u32, minutes: f64| {
        nmea(&format!(
            "GPRMC,1200{second:02},A,6100.000,N,009{minutes:06.3},E,60,090,050726,,,A"
        ))
    };
    // 60 kt at 61 degrees north are about 0.034 minutes of longitude a second.
    let lines = [
        at(0, 30.000),
        at(1, 30.034),
        at(3, 30.102),
        at(2, 30.068),
        at(3, 30.102),
        at(4, 30.136),
    ];
    let log = log(&lines.concat());
    let seconds: Vec<String> = (0..5).map(|s| format!("2026-07-05T12:00:0{s}Z")).collect();
    assert_eq!(times(&log), seconds);
    assert_eq!(
        doubts(&log),
        [
            "1 time runs backwards once: put in order (line 4)",
            "1 fix is at the instant of another (line 5)"
        ]
    );
}

#[test]
fn a_fix_no_aircraft_can_reach_is_left_out_and_said() {
    let ground = Ground::new(place(61.0, 9.5), Angle::from_deg(64.0));
    let mut fixes = flown(&ground, 20.0, 1.0, |t| (100.0 * t - 1_000.0, 230.0));
    let aside = Spot {
        along: Length::from_m(-500.0),
        across: Length::from_m(900.0),
    };
    fixes[5].place = ground.place(aside).expect("a place");
    let log = log(&as_gpx(&fixes));
    assert_eq!(log.tracks[0].fixes.len(), fixes.len() - 1);
    assert_eq!(log.doubts.count(DoubtKind::Impossible), 1);
    // A first fix of long ago and far away does not take the rest with it.
    let mut fixes = flown(&ground, 20.0, 1.0, |t| (100.0 * t - 1_000.0, 230.0));
    fixes[0].place = place(48.0, 2.0);
    let log = self::log(&as_gpx(&fixes));
    assert!(log.tracks[0].fixes.len() >= fixes.len() - 5);
}

// GPX 1.1

/// A file of our own, by the schema of GPX 1.1 (topografix.com/GPX/1/1/gpx.xsd).
const GPX: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="a test" xmlns="http://www.topografix.com/GPX/1/1">
  <metadata><name>not an aircraft</name><time>2026-07-05T11:00:00Z</time></metadata>
  <wpt lat="1" lon="2"><time>2026-07-05T11:00:00Z</time><name>a waypoint</name></wpt>
  <rte><rtept lat="3" lon="4"><time>2026-07-05T11:00:00Z</time></rtept></rte>
  <trk>
    <name>One &amp; &#x4f;nly</name>
    <trkseg>
      <trkpt lat="61.0" lon="9.5"><ele>200.5</ele><time>2026-07-05T12:00:00Z</time><fix>3d</fix></trkpt>
      <trkpt lon='9.501' lat='61.0'><time>2026-07-05T14:00:01.250+02:00</time>
        <extensions><tpx:TrackPointExtension xmlns:tpx="http://example.org/tpx">
          <tpx:speed>43.2</tpx:speed><tpx:course>90.0</tpx:course>
        </tpx:TrackPointExtension></extensions>
      </trkpt>
      <trkpt lat="61.0" lon="9.502"/>
      <trkpt lat="61.0" lon="nowhere"><time>2026-07-05T12:00:03Z</time></trkpt>
    </trkseg>
    <trkseg><trkpt lat="61.0" lon="9.503"><time>2026-07-05T12:00:04</time></trkpt></trkseg>
  </trk>
  <trk><trkseg><trkpt lat="61.1" lon="-170.5"><time>2026-07-05T12:00:00Z</time></trkpt></trkseg></trk>
  <trk><name>One &amp; Only</name>
    <trkseg><trkpt lat="61.0" lon="9.504"><time>2026-07-05T12:00:06Z</time></trkpt></trkseg></trk>
</gpx>"#;

#[test]
fn gpx_tracks_are_aircraft_and_nothing_else_is_taken_for_a_fix() {
    let log = log(GPX);
    let tracks: Vec<(&str, usize)> = log
        .tracks
        .iter()
        .map(|track| (track.name.as_str(), track.fixes.len()))
        .collect();
    assert_eq!(tracks, [("One & Only", 4), ("log", 1)]);
    let fixes = &log.tracks[0].fixes;
    assert_eq!(fixes[0].height, Some(Length::from_m(200.5)));
    assert_eq!(fixes[1].at.to_string(), "2026-07-05T12:00:01.25Z");
    assert_eq!(fixes[1].ground_speed.map(|v| v.mps()), Some(43.2));
    assert!((fixes[1].track.expect("a course").deg() - 90.0).abs() < 1e-12);
    assert_eq!(fixes[2].at.to_string(), "2026-07-05T12:00:04Z");
    assert_eq!(
        doubts(&log),
        ["2 fixes lack their time or place (the first on line 15)"]
    );
}

#[test]
fn a_gpx_file_that_breaks_off_keeps_what_it_has() {
    let cut = &GPX[..GPX.find("nowhere").expect("the place")];
    let log = log(cut);
    assert_eq!(log.tracks[0].fixes.len(), 2);
    assert_eq!(log.doubts.count(DoubtKind::BrokenOff), 1);
    let untimed = r#"<gpx><trk><trkseg><trkpt lat="1" lon="2"/></trkseg></trk></gpx>"#;
    let error = fails(untimed).to_string();
    assert!(
        error.contains("1 fix lacks its time or place (line 1)"),
        "{error}"
    );
    assert!(fails("<html></html>").to_string().contains("no positions"));
    assert!(fails("").to_string().contains("time, lat_deg, lon_deg"));
}

// CSV

#[test]
fn csv_columns_are_found_by_name_and_unit() {
    let comma = "# a logger\n\
        Time (UTC),Latitude,Longitude,Altitude (ft),Speed [km/h],Course,Callsign\n\
        2026-07-05T12:00:00.500Z,61.0,9.5,1000,360,64,Tarn 1\n\
        2026-07-05 12:00:00,61.1,9.5,,360,64,\"Tarn, 2\"\n\
        2026-07-05T12:00:01.500Z,61.0005,9.5015,1010,,,Tarn 1\n";
    let log = log(&comma.replace("Time (UTC)", "Time UTC"));
    let names: Vec<&str> = log.tracks.iter().map(|track| track.name.as_str()).collect();
    assert_eq!(names, ["Tarn 1", "Tarn, 2"]);
    let first = &log.tracks[0].fixes[0];
    assert_eq!(first.height, Some(Length::from_m(304.8)));
    assert!((first.ground_speed.expect("a speed").mps() - 100.0).abs() < 1e-9);
    assert_eq!(log.tracks[0].fixes[1].ground_speed, None);
    assert_eq!(
        log.tracks[1].fixes[0].at.to_string(),
        "2026-07-05T12:00:00Z"
    );

    let semicolon = "date;time;lat_deg;lon_deg;speed_kt\n\
        2026-07-05;23:59:59,5;61,0;9,5;100,0\n\
        2026-07-06;00:00:00,5;61,0;9,5009;100,0\n";
    let log = self::log(semicolon);
    assert_eq!(
        times(&log),
        ["2026-07-05T23:59:59.5Z", "2026-07-06T00:00:00.5Z"]
    );
    assert!(
        (log.tracks[0].fixes[0].ground_speed.expect("a speed").mps() - 100.0 * KNOT).abs() < 1e-9
    );

    let unix = "unix_s\tlat\tlon\n1783252800.25\t61.0\t9.5\n";
    assert_eq!(times(&self::log(unix)), ["2026-07-05T12:00:00.25Z"]);
}

#[test]
fn a_damaged_csv_says_what_to_write() {
    for (text, said) in [
        ("time,lon\n1,2\n", "log:1:1: no column has the latitude"),
        ("time,lat,x\n1,2,3\n", "name the one that has it `lon_deg`"),
        ("lat,lon\n1,2\n", "no column has the time"),
        (
            "time,lat,lon,altitude\n2026-07-05T12:00:00Z,1,2,3\n",
            "log:1:4: column 4 is `altitude`, with no unit",
        ),
        ("time,lat,lon\n12:00:00,1,2\n", "1 fix has no date (line 2)"),
        (
            "time,lat,lon\nnoon,1,2\n",
            "1 fix lacks its time or place (line 2)",
        ),
        (
            "time,lat,lon\n2026-07-05T12:00:00Z,91,2\n",
            "1 fix lacks its time or place",
        ),
        ("time,lat,lon\n", "has no positions with a time"),
        ("once upon a time", "no column has the"),
    ] {
        let error = fails(text).to_string();
        assert!(error.contains(said), "{text}\n{error}");
    }
    let log = log("time,lat,lon\n2026-07-05T12:00:00Z,1,2\n\n2026-07-05T12:00:01Z,1\n\u{0},,,,\n");
    assert_eq!(log.tracks[0].fixes.len(), 1);
    assert_eq!(log.doubts.count(DoubtKind::Incomplete), 2);
}

// Abeam

/// Fixes `every_s` along a path in metres of the site.
fn flown(
    ground: &Ground,
    lasts_s: f64,
    every_s: f64,
    path: impl Fn(f64) -> (f64, f64),
) -> Vec<Fix> {
    let starts: Timestamp = "2026-07-05T17:40:00Z".parse().expect("an instant");
    (0..=(lasts_s / every_s) as usize)
        .map(|i| {
            let t = i as f64 * every_s;
            let (x, y) = path(t);
            let spot = Spot {
                along: Length::from_m(x),
                across: Length::from_m(y),
            };
            let after = SignedDuration::from_micros((t * 1e6).round() as i64);
            Fix::new(starts + after, ground.place(spot).expect("a place"))
        })
        .collect()
}

fn as_gpx(fixes: &[Fix]) -> String {
    let mut text = String::from("<gpx><trk><trkseg>\n");
    for fix in fixes {
        let (lat, lon) = (fix.place.lat().deg(), fix.place.lon().deg());
        let at = fix.at;
        text += &format!("<trkpt lat=\"{lat:.7}\" lon=\"{lon:.7}\"><time>{at}</time></trkpt>\n");
    }
    text + "</trkseg></trk></gpx>"
}

fn seconds_into(at: Timestamp) -> f64 {
    let starts: Timestamp = "2026-07-05T17:40:00Z".parse().expect("an instant");
    at.duration_since(starts).as_secs_f64()
}

#[test]
fn abeam_is_found_to_ten_milliseconds_where_speed_and_path_change() {
    let ground = Ground::new(place(61.0, 9.5), Angle::from_deg(64.0));
    // Slowing from 120 m/s by 3 m/s a second; and a level turn of 4 g around a point 800 m out. Both have
    // closed forms.
    let slowing = |t: f64| (-1_500.0 + 120.0 * t - 1.5 * t * t, 230.0);
    let radius = 150.0_f64.powi(2) / (9.80665 * 15.0_f64.sqrt());
    let rate = 150.0 / radius;
    let turning = |t: f64| {
        let angle = rate * (t - 10.137);
        (radius * angle.sin(), 800.0 - radius * angle.cos())
    };
    let abeam_slowing = (120.0 - (120.0_f64.powi(2) - 4.0 * 1.5 * 1_500.0).sqrt()) / 3.0;
    let fixes = flown(&ground, 20.0, 1.0, slowing);
    let found = &log(&as_gpx(&fixes)).tracks[0].fixes;
    let pass = &passes(&ground, found, LONGEST_GAP).passes[0];
    assert!(
        (seconds_into(pass.abeam) - abeam_slowing).abs() < 0.010,
        "{pass:?}"
    );
    assert!(
        (pass.ground_speed.mps() - (120.0 - 3.0 * abeam_slowing)).abs() < 0.2,
        "{pass:?}"
    );
    assert!((pass.distance.m() - 230.0).abs() < 0.1 && pass.in_gap.is_none());

    let fixes = flown(&ground, 20.0, 1.0, turning);
    let found = passes(&ground, &fixes, LONGEST_GAP);
    let near = found
        .passes
        .iter()
        .min_by(|a, b| a.distance.m().total_cmp(&b.distance.m()))
        .expect("a pass");
    assert!(
        (seconds_into(near.abeam) - 10.137).abs() < 0.010,
        "{near:?}"
    );
    assert!((near.ground_speed.mps() - 150.0).abs() < 1.0, "{near:?}");
    assert!(
        (near.nearest_to_line.distance.m() - (800.0 - radius)).abs() < 0.5,
        "{near:?}"
    );
    assert!(
        (near.nearest_to_centre.distance.m() - (800.0 - radius)).abs() < 0.5,
        "{near:?}"
    );
    assert!((seconds_into(near.nearest_to_centre.at) - 10.137).abs() < 0.05);
}

#[test]
fn a_slanting_pass_is_nearest_where_geometry_says() {
    let ground = Ground::new(place(-35.0, 149.0), Angle::from_deg(200.0));
    // From the right, closing in at 10 degrees: abeam at 300 m.
    let (along, across) = (
        -100.0 * 10_f64.to_radians().cos(),
        -100.0 * 10_f64.to_radians().sin(),
    );
    let fixes = flown(&ground, 40.0, 1.0, |t| {
        (along * (t - 20.4), 300.0 + across * (t - 20.4))
    });
    let pass = &passes(&ground, &fixes, LONGEST_GAP).passes[0];
    assert_eq!(pass.from, Side::Right);
    let nearest = 300.0 * 10_f64.to_radians().cos();
    assert!(
        (pass.nearest_to_centre.distance.m() - nearest).abs() < 0.01,
        "{pass:?}"
    );
    let at_the_end = 300.0 - 1_000.0 * 10_f64.to_radians().tan();
    assert!(
        pass.nearest_to_line.distance.m() - at_the_end < 20.0,
        "{pass:?}"
    );
    assert!(
        pass.nearest_to_line.distance.m() >= at_the_end - 0.01,
        "{pass:?}"
    );
}

#[test]
fn gaps_are_named_and_a_pass_in_one_says_so() {
    let ground = Ground::new(place(61.0, 9.5), Angle::from_deg(64.0));
    let mut fixes = flown(&ground, 40.0, 1.0, |t| (100.0 * t - 2_050.0, 230.0));
    fixes.drain(18..27);
    let found = passes(&ground, &fixes, LONGEST_GAP);
    assert_eq!(found.gaps.len(), 1);
    let gap = found.gaps[0];
    assert_eq!((seconds_into(gap.from), seconds_into(gap.to)), (17.0, 27.0));
    assert_eq!(found.passes[0].in_gap, Some(Span::from_s(10.0)));
    assert!((seconds_into(found.passes[0].abeam) - 20.5).abs() < 0.01);
    let wide = passes(&ground, &fixes, Span::from_s(15.0));
    assert!(wide.gaps.is_empty() && wide.passes[0].in_gap.is_none());
    // What stands at centre passes nothing.
    let standing = flown(&ground, 40.0, 1.0, |t| (0.4 * (t * 2.3).sin(), 20.0));
    assert!(passes(&ground, &standing, LONGEST_GAP).passes.is_empty());
}

proptest! {
    #[test]
    fn no_bytes_make_the_reader_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = read(bytes.as_slice(), "log", None);
    }

    #[test]
    fn no_sentence_makes_the_reader_panic(body in "(GP|GN|P)?(RMC|GGA),[0-9.,ANSEWMV\\-+é]{0,80}") {
        let _ = read(nmea(&body).as_bytes(), "log", Some(jiff::civil::date(2026, 7, 5)));
    }

    #[test]
    fn no_damage_makes_the_reader_panic(at in 0..GPX.len(), byte in any::<u8>(), csv in any::<bool>()) {
        let csv_text = "time,lat,lon,altitude_m\n2026-07-05T12:00:00Z,61.0,9.5,\"1\"\n".repeat(3);
        let mut bytes = if csv { csv_text.into_bytes() } else { GPX.as_bytes().to_vec() };
        let at = at % bytes.len();
        bytes[at] = byte;
        let _ = read(bytes.as_slice(), "log", None);
        bytes.truncate(at);
        let _ = read(bytes.as_slice(), "log", None);
    }

    #[test]
    fn any_fixes_have_their_passes_looked_for(
        spots in proptest::collection::vec((0i64..100_000, -5e3..5e3, -5e3..5e3), 0..30)
    ) {
        let ground = Ground::new(place(61.0, 9.5), Angle::from_deg(64.0));
        let mut spots = spots;
        spots.sort_by_key(|spot| spot.0);
        spots.dedup_by_key(|spot| spot.0);
        let fixes: Vec<Fix> = spots.iter().map(|&(ms, x, y)| {
            let spot = Spot { along: Length::from_m(x), across: Length::from_m(y) };
            let at = Timestamp::from_millisecond(ms).expect("an instant");
            Fix::new(at, ground.place(spot).expect("a place"))
        }).collect();
        let found = passes(&ground, &fixes, LONGEST_GAP);
        for pass in &found.passes {
            prop_assert!(pass.nearest_to_centre.distance <= pass.distance.abs() + Length::from_m(1e-3));
        }
    }
}
