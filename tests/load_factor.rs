//! Load factors are those of the figure "angle of bank and load factor" that FAA knowledge test questions refer to
//! (looked up), and of the FAA Airplane Flying Handbook, chapter 9, steep turns: about 3 g at 70 degrees (looked up). The
//! stall under load is that of the FAA Pilot's Handbook of Aeronautical Knowledge (FAA-H-8083-25), chapter "Aerodynamics
//! of Flight"; its example is from memory.

use abeam::flight::{Flight, entries, fly};
use abeam::show::Severity;
use abeam::show::load::read;

/// Flies one leg after 2 km at a speed, 3,000 ft above the sea on a standard day without wind.
fn flown(speed: &str, leg: &str) -> Flight {
    let text = format!(
        "[show]\ntitle = \"Lake\"\n[profile.high]\norder = [\"figure\"]\n\
         [site]\nelevation = \"0 m\"\nline_bearing = 64\nline_distance = \"230 m\"\n\
         [day]\nqnh = \"1013.25 hPa\"\ntemperature = \"15 C\"\n\
         [aircraft.solo]\nstall = \"50 kt cas\"\nclimb_power = \"10 m/s\"\ninduced = \"0.1 m/s\"\n\
         [[figure]]\nid = \"figure\"\naircraft = \"solo\"\nfrom = \"left\"\nlegs = [\n  \
         {{ hold = \"4 km\", expect = \"60 s\", spread = \"10 s\" }},\n  \
         {{ run = \"for 2 km\", speed = \"{speed}\", height = \"3000 ft\" }},\n  {leg},\n]\n"
    );
    let (show, faults) = read("figure.toml", &text);
    let show = show.unwrap_or_else(|| panic!("{faults:#?}\n{text}"));
    fly(&show, &show.day, &entries(&show, &show.profile))
}

fn errors(flight: &Flight) -> Vec<&str> {
    let errors = flight
        .faults
        .iter()
        .filter(|fault| fault.severity == Severity::Error);
    errors.map(|fault| fault.message.as_str()).collect()
}

/// 30 degrees 1.154 g, 45 degrees 1.414 g, 60 degrees 2 g, 70 degrees 2.923 g, 80 degrees 5.747 g, 85 degrees 11.473 g.
#[test]
fn the_load_factors_of_level_turns() {
    let figure = [
        (30.0, 1.154),
        (45.0, 1.414),
        (60.0, 2.0),
        (70.0, 2.923),
        (80.0, 5.747),
        (85.0, 11.473),
    ];
    for (bank, load) in figure {
        let took = |by: String| {
            let flight = flown("250 kt cas", &format!("{{ turn = \"180 deg\", {by} }}"));
            assert_eq!(errors(&flight), Vec::<&str>::new());
            flight.figures[0].path().last().expect("a path").after.s()
        };
        let run_in = flown("250 kt cas", "{ run = \"for 1 m\" }");
        let run_in = run_in.figures[0].path().last().expect("a path").after.s();
        let by_bank = took(format!("bank = \"{bank} deg\"")) - run_in;
        let by_load = took(format!("g = {load}")) - run_in;
        assert!(
            (by_bank / by_load - 1.0).abs() < 5e-3,
            "{bank}: {by_bank} {by_load}"
        );
    }
}

/// The stalling speed grows with the root of the load factor; the handbook's example is of 50 and 100 knots.
#[test]
fn an_aircraft_that_stalls_at_50_kt_stalls_at_100_kt_when_it_pulls_4_g() {
    let pull = |speed: &str| flown(speed, "{ pull = \"2 deg\", g = 4 }");
    assert_eq!(errors(&pull("103 kt cas")), Vec::<&str>::new());
    let flight = pull("97 kt cas");
    let [fault] = errors(&flight)[..] else {
        panic!("one fault: {:?}", flight.faults)
    };
    assert!(fault.contains("stops flying"), "{fault}");
}
