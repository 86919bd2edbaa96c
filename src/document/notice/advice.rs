//! What people do before their supply goes off, by what a load is called.
//!
//! Common practice, not taken from a standard. What the job says of a load in `notice` goes first
//! and stands alone.

/// Words in a load's name, and what its users do.
const ADVICE: &[(&[&str], &str)] = &[
    (
        &["fridge", "freezer", "refriger", "cold room", "chiller", "ice"],
        "Fridges and freezers: keep the doors shut while they are off. Check the temperature \
         afterwards, and throw away what you would not eat.",
    ),
    (
        &["computer", "server", "office", "desk", "network", "till", "data", "recording"],
        "Computers: save your work and shut down before the time. Do not switch on again until the \
         supply has been back for five minutes.",
    ),
    (
        &["lift", "hoist", "elevator"],
        "Lift: nobody uses it from 15 minutes before the time until you are told that it runs again. \
         Tell everyone who cannot use the stairs.",
    ),
    (
        &["door", "gate", "shutter", "barrier", "access control", "turnstile"],
        "Electric doors and gates: find out now how they open by hand, and leave them open or shut \
         as they have to be while the supply is off.",
    ),
    (
        &["light"],
        "Lights: the rooms are dark. Nobody goes in without a torch. Emergency lights are for getting \
         out, not for working by.",
    ),
    (
        &["alarm", "cctv", "camera", "intruder"],
        "Alarms and cameras: whoever is in charge of them tells the alarm receiving centre \
         beforehand, and again when all is back.",
    ),
    (
        &["heat", "boiler", "hot water", "ventilation", "air handling", "fan", "pump", "humidity"],
        "Heating, water and air: note how the controls are set, and check them when the supply is \
         back.",
    ),
    (
        &["kitchen", "cooker", "oven", "kiln", "hob"],
        "Cookers and ovens: switch them off at the appliance before the time, so that none comes on \
         by itself.",
    ),
    (
        &["socket", "bench", "workshop", "machine", "winch", "tool", "charger"],
        "Sockets and machines: switch off and unplug before the time. A machine left on can start by \
         itself when the supply comes back.",
    ),
];

/// Advice for loads of these names, each piece once, in the order of the table.
pub fn of<'a>(names: impl Iterator<Item = &'a str>) -> Vec<&'static str> {
    let names: Vec<String> = names.map(str::to_lowercase).collect();
    let named = |word: &str| names.iter().any(|n| words_begin(n, word));
    ADVICE
        .iter()
        .filter(|(words, _)| words.iter().any(|w| named(w)))
        .map(|(_, text)| *text)
        .collect()
}

/// Whether a word of `text` begins with `start`.
fn words_begin(text: &str, start: &str) -> bool {
    text.match_indices(start)
        .any(|(i, _)| !text[..i].chars().next_back().is_some_and(char::is_alphanumeric))
}
