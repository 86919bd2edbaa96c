//! Limits that test sheets print beside the boxes for what is measured.
//!
//! Sources, as printed: BS 7671:2018+A2:2022, Table 41.1 (disconnection times), Table 41.3
//! (`Zs = 0.95 · U0 / Ia`, U0 = 230 V, `Ia` = 5, 10, 20 In for types B, C, D), appendix 3 (the
//! 0.8 rule for a reading taken cold), Table 64 (insulation), 643.8 (one residual-current test at
//! rated current). The figures were checked against public copies of the tables. Zs is rounded to
//! 0.01 Ω, halves up; the cold limit is 0.8 of the rounded value, rounded likewise.
//!
//! Nothing is printed where the schedule does not give the data: no type letter (a fuse, say) or
//! an earthing system that is not stated gives no limit of Zs, only a box to write it in.

use super::Input;
use crate::model::site::CircuitLabel;
use crate::model::*;
use crate::units::{Exact, decimal, fixed, plain, whole};

/// Where the limits come from, in the order in which sheets print them; those of earthing TT only
/// where it is met.
const SOURCES: &[&str] = &[
    "Zs, types B, C, D to EN 60898 and EN 61009: 0.95 × 230 V / Ia, with Ia = 5, 10, 20 × In. BS 7671:2018+A2:2022, Table 41.3.",
    "Zs “cold”: 0.8 × the rounded value, for a reading with the conductors at room temperature. The same, appendix 3.",
    TT_SOURCE,
    "Disconnection time: final circuits up to 63 A with sockets, up to 32 A with fixed loads only. The same, Table 41.1.",
    "Insulation: 500 V d.c., at least 1 MΩ; 250 V d.c. where something on the circuit could be harmed and cannot be taken out. The same, Table 64 and 643.3. Look into anything under 2 MΩ (common practice).",
    "Residual-current device: one test at rated current, general type within 300 ms; type S 130 to 500 ms. The same, 643.8.",
    "Ring: r1 and rn within 0.05 Ω of each other; r2 is 1.67 times r1 where the cable is 2.5/1.5 mm² (by calculation).",
];

const TT_SOURCE: &str =
    "Earthing TT: RA × IΔn up to 50 V, so 1667 Ω at 30 mA. The same, TT systems.";

/// The sources of the limits of these circuits.
pub fn sources(input: &Input, circuits: &[CircuitId]) -> Vec<&'static str> {
    let tt = circuits.iter().any(|c| earthing(input, *c) == Some(Earthing::Tt));
    SOURCES.iter().copied().filter(|s| tt || *s != TT_SOURCE).collect()
}

/// What a sheet prints as limits of one circuit; blank where the schedule gives no data.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Limits {
    /// Largest disconnection time, in seconds, as a cell of a spreadsheet.
    pub disconnect: String,
    /// The same with its unit.
    pub within: String,
    /// Largest Zs in Ω, in words.
    pub zs: String,
    /// The same for a reading taken cold.
    pub zs_cold: String,
    /// Residual-current test.
    pub rcd: String,
}

/// The limits of a circuit on its new way.
pub fn limits(input: &Input, c: CircuitId) -> Limits {
    let label = &input.site.circuits[c.index()];
    let system = earthing(input, c);
    let zs = zs(label, system);
    Limits {
        within: disconnect(label, system, " s"),
        disconnect: disconnect(label, system, ""),
        zs_cold: match (system, &zs) {
            (Some(Earthing::Tn), Some(z)) => {
                format!("{} cold", fixed(&(z * whole(4) / whole(5)), 2))
            }
            _ => String::new(),
        },
        zs: match (system, &zs) {
            (Some(Earthing::Tt), Some(z)) => format!("≤ {}", fixed(z, 0)),
            (_, Some(z)) => format!("≤ {}", fixed(z, 2)),
            (_, None) => String::new(),
        },
        rcd: match &label.rcd_ma {
            Some(_) => "≤ 300".to_owned(),
            None => String::new(),
        },
    }
}

/// The earthing of what feeds a circuit when the job is done; where it is off then, of all that runs
/// all the time. None unless the job states one and the same for all of that.
fn earthing(input: &Input, c: CircuitId) -> Option<Earthing> {
    let (job, replay) = (input.sound.job(), input.sound.replay());
    let live = job.circuits[c].nodes.iter().flat_map(|n| replay.live(*n).at(replay.finish()));
    let feeding: Vec<NodeId> =
        live.filter(|(wire, _)| wire.is_line()).map(|(_, source)| *source).collect();
    let mut systems = (job.nodes.iter())
        .filter(|(id, _)| feeding.is_empty() || feeding.contains(id))
        .filter_map(|(_, node)| node.source())
        .filter(|s| !feeding.is_empty() || s.watches.is_none())
        .map(|s| s.system);
    let first = systems.next()?;
    if systems.all(|s| s == first) { first } else { None }
}

/// The letter of a breaker's or RCBO's type in the device's words, `rcbo B32`: 5, 10 or 20.
fn multiple(device: &str) -> Option<i64> {
    device.split_whitespace().find_map(|word| {
        let multiple = match word.chars().next()? {
            'B' | 'b' => 5,
            'C' | 'c' => 10,
            'D' | 'd' => 20,
            _ => return None,
        };
        decimal(word.get(1..)?).map(|_| multiple)
    })
}

fn zs(label: &CircuitLabel, system: Option<Earthing>) -> Option<Exact> {
    match system? {
        Earthing::Tn => {
            let current = whole(multiple(&label.device)?) * label.rating.as_ref()?;
            (current > whole(0)).then(|| rounded(whole(2185) / whole(10) / current))
        }
        Earthing::Tt => {
            let rcd = label.rcd_ma.as_ref()?;
            (*rcd > whole(0)).then(|| whole(50_000) / rcd)
        }
        Earthing::It => None,
    }
}

/// To 0.01, halves up, exactly.
fn rounded(z: Exact) -> Exact {
    (z * whole(100) + whole(1) / whole(2)).floor() / whole(100)
}

fn disconnect(label: &CircuitLabel, system: Option<Earthing>, unit: &str) -> String {
    let Some(rating) = &label.rating else { return String::new() };
    let (short, long) = match system {
        Some(Earthing::Tn) => ("0.4", "5"),
        Some(Earthing::Tt) => ("0.2", "1"),
        _ => return String::new(),
    };
    if *rating <= whole(32) {
        format!("{short}{unit}")
    } else if *rating <= whole(63) {
        format!("{short}{unit} with sockets, {long}{unit} fixed loads only")
    } else {
        format!("{long}{unit}")
    }
}

/// `30 mA`, or blank.
pub fn rcd_text(label: &CircuitLabel) -> String {
    label.rcd_ma.as_ref().map(|r| format!("{} mA", plain(r))).unwrap_or_default()
}
