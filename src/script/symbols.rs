//! What is written short and said in full: units, ranks, initials.

/// Units after a number: written, said of one, said of several.
const UNITS: [(&str, &str, &str); 74] = [
    ("kt", "knot", "knots"),
    ("kts", "knot", "knots"),
    ("kn", "knot", "knots"),
    ("ft", "foot", "feet"),
    ("m", "metre", "metres"),
    ("km", "kilometre", "kilometres"),
    ("cm", "centimetre", "centimetres"),
    ("mm", "millimetre", "millimetres"),
    ("nmi", "nautical mile", "nautical miles"),
    ("nm", "nautical mile", "nautical miles"),
    ("NM", "nautical mile", "nautical miles"),
    ("mi", "mile", "miles"),
    ("yd", "yard", "yards"),
    ("mph", "mile an hour", "miles an hour"),
    ("km/h", "kilometre an hour", "kilometres an hour"),
    ("kph", "kilometre an hour", "kilometres an hour"),
    ("m/s", "metre a second", "metres a second"),
    ("ft/min", "foot a minute", "feet a minute"),
    ("s", "second", "seconds"),
    ("sec", "second", "seconds"),
    ("ms", "millisecond", "milliseconds"),
    ("min", "minute", "minutes"),
    ("h", "hour", "hours"),
    ("hr", "hour", "hours"),
    ("hrs", "hour", "hours"),
    ("kg", "kilogram", "kilograms"),
    ("t", "tonne", "tonnes"),
    ("lb", "pound", "pounds"),
    ("lbs", "pound", "pounds"),
    ("l", "litre", "litres"),
    ("L", "litre", "litres"),
    ("hp", "horsepower", "horsepower"),
    ("bhp", "brake horsepower", "brake horsepower"),
    ("shp", "shaft horsepower", "shaft horsepower"),
    ("kW", "kilowatt", "kilowatts"),
    ("MW", "megawatt", "megawatts"),
    ("N", "newton", "newtons"),
    ("kN", "kilonewton", "kilonewtons"),
    ("lbf", "pound of thrust", "pounds of thrust"),
    ("g", "g", "g"),
    ("G", "g", "g"),
    ("hPa", "hectopascal", "hectopascals"),
    ("mb", "millibar", "millibars"),
    ("inHg", "inch of mercury", "inches of mercury"),
    ("dB", "decibel", "decibels"),
    ("Hz", "hertz", "hertz"),
    ("kHz", "kilohertz", "kilohertz"),
    ("MHz", "megahertz", "megahertz"),
    ("rpm", "revolution a minute", "revolutions a minute"),
    ("%", "percent", "percent"),
    ("deg", "degree", "degrees"),
    ("°", "degree", "degrees"),
    ("°C", "degree Celsius", "degrees Celsius"),
    ("°F", "degree Fahrenheit", "degrees Fahrenheit"),
    ("C", "degree Celsius", "degrees Celsius"),
    ("am", "a m", "a m"),
    ("pm", "p m", "p m"),
    ("KT", "knot", "knots"),
    ("KTS", "knot", "knots"),
    ("FT", "foot", "feet"),
    ("MPH", "mile an hour", "miles an hour"),
    ("RPM", "revolution a minute", "revolutions a minute"),
    ("KIAS", "knot indicated", "knots indicated"),
    ("KTAS", "knot true", "knots true"),
    ("fpm", "foot a minute", "feet a minute"),
    ("ft/s", "foot a second", "feet a second"),
    ("deg/s", "degree a second", "degrees a second"),
    ("°/s", "degree a second", "degrees a second"),
    ("m²", "square metre", "square metres"),
    ("km²", "square kilometre", "square kilometres"),
    ("m³", "cubic metre", "cubic metres"),
    ("gal", "gallon", "gallons"),
    ("cc", "c c", "c c"),
    ("psi", "pound a square inch", "pounds a square inch"),
];

/// Short forms that are said in full, written with or without their full stop.
const SHORT_FORMS: [(&str, &str); 50] = [
    ("Mr", "mister"),
    ("Mrs", "missis"),
    ("Ms", "miz"),
    ("Dr", "doctor"),
    ("Prof", "professor"),
    ("Revd", "reverend"),
    ("Flt", "flight"),
    ("Lt", "lieutenant"),
    ("Sqn", "squadron"),
    ("Ldr", "leader"),
    ("Wg", "wing"),
    ("Cdr", "commander"),
    ("Gp", "group"),
    ("Capt", "captain"),
    ("Plt", "pilot"),
    ("Fg", "flying"),
    ("Offr", "officer"),
    ("Sgt", "sergeant"),
    ("Cpl", "corporal"),
    ("Col", "colonel"),
    ("Gen", "general"),
    ("Maj", "major"),
    ("approx", "approximately"),
    ("etc", "et cetera"),
    ("vs", "versus"),
    ("Mk", "mark"),
    ("Rev", "reverend"),
    ("Hon", "honourable"),
    ("Jr", "junior"),
    ("Sr", "senior"),
    ("Bros", "brothers"),
    ("Ltd", "limited"),
    ("Co", "company"),
    ("Mt", "mount"),
    ("Rd", "road"),
    ("Ave", "avenue"),
    ("Dept", "department"),
    ("Est", "established"),
    ("Retd", "retired"),
    ("Ret'd", "retired"),
    ("Sqdn", "squadron"),
    ("Lieut", "lieutenant"),
    ("Cmdr", "commander"),
    ("Cdre", "commodore"),
    ("Brig", "brigadier"),
    ("Adm", "admiral"),
    ("Pte", "private"),
    ("Stn", "station"),
    ("WWI", "world war one"),
    ("WWII", "world war two"),
];

/// Words of two and three letters that stay words when written in capitals.
const SHORT_WORDS: [&str; 84] = [
    "ALL", "AM", "AN", "AND", "ANY", "ARE", "AS", "AT", "BE", "BIG", "BUT", "BY", "CAN", "DAY",
    "DO", "END", "FAR", "FEW", "FLY", "FOR", "FUN", "GET", "GO", "HAS", "HE", "HER", "HIM", "HIS",
    "HOT", "HOW", "IF", "IN", "IS", "IT", "ITS", "JET", "LAY", "LET", "LOW", "MAN", "MAY", "ME",
    "MEN", "MR", "MY", "NEW", "NO", "NOT", "NOW", "OF", "OFF", "OLD", "ON", "ONE", "OR", "OUR",
    "OUT", "OWN", "RED", "RUN", "SAY", "SEA", "SEE", "SHE", "SIX", "SKY", "SO", "SUN", "TEN",
    "THE", "TO", "TOO", "TOP", "TWO", "UP", "WAR", "WAS", "WAY", "WE", "WHO", "WHY", "YES", "YET",
    "YOU",
];

/// A unit as said, of one or of several; one that is written in full stays as it is.
pub(super) fn unit(written: &str, one: bool) -> Option<&'static str> {
    let short = UNITS.iter().find(|(unit, ..)| *unit == written);
    if let Some((_, singular, plural)) = short {
        return Some(if one { singular } else { plural });
    }
    let names = UNITS.iter().flat_map(|(_, one, many)| [*one, *many]);
    names.into_iter().find(|name| *name == written)
}

/// A currency as said, of one or of several.
pub(super) fn currency(sign: char, one: bool) -> Option<&'static str> {
    Some(match (sign, one) {
        ('£', true) => "pound",
        ('£', false) => "pounds",
        ('$', true) => "dollar",
        ('$', false) => "dollars",
        ('€', true) => "euro",
        ('€', false) => "euros",
        _ => return None,
    })
}

/// What a short form stands for.
pub(super) fn short_form(written: &str) -> Option<&'static str> {
    let found = SHORT_FORMS.iter().find(|(short, _)| *short == written);
    found.map(|(_, full)| *full)
}

/// The letters of initials one by one: `RAF`, `R.A.F`, `BBC`; `None` if it is a word.
/// Two or three capitals are initials, four or five only if no vowel makes them sayable.
pub(super) fn initials(written: &str) -> Option<String> {
    let dotted = written.contains('.')
        && written
            .split('.')
            .all(|part| part.chars().count() <= 1 && part.chars().all(char::is_alphabetic));
    let letters: Vec<char> = written.chars().filter(|c| *c != '.').collect();
    let capitals = !letters.is_empty() && letters.iter().all(|c| c.is_uppercase());
    let sayable = letters
        .iter()
        .any(|c| matches!(c, 'A' | 'E' | 'I' | 'O' | 'U' | 'Y'));
    let spelt = match letters.len() {
        2 | 3 => capitals && !SHORT_WORDS.contains(&written),
        4 | 5 => capitals && !sayable,
        _ => false,
    };
    (dotted || (spelt && !written.contains('.'))).then(|| {
        let letters: Vec<String> = letters.iter().map(char::to_string).collect();
        letters.join(" ")
    })
}
