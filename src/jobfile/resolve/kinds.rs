//! What a kind of device is fit for, and how conductors and devices are written.

use super::build::Build;
use crate::diag::{Fault, Span};
use crate::jobfile::schema::DeviceKind;
use crate::jobfile::value::{At, Cx, clip};
use crate::model::{Lanes, Wire, WireSet};
use crate::units::{Amperes, Exact, decimal};

/// What a device is fit for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fit {
    pub isolates: bool,
    pub on_load: bool,
    pub overcurrent: bool,
}

/// The usual fitness of a kind (planning model, section 1; withdrawn fuses are off-load only).
pub(super) fn fit(kind: DeviceKind) -> Fit {
    let (isolates, on_load, overcurrent) = match kind {
        DeviceKind::Breaker | DeviceKind::Rcbo | DeviceKind::SwitchFuse => (true, true, true),
        DeviceKind::Fuse => (true, false, true),
        DeviceKind::SwitchDisconnector | DeviceKind::Rccb => (true, true, false),
        DeviceKind::Disconnector | DeviceKind::Link => (true, false, false),
        DeviceKind::Switch | DeviceKind::Contactor => (false, true, false),
    };
    Fit { isolates, on_load, overcurrent }
}

/// A device in words, such as `rcbo C16` or `fuse 30`: its kind and its rating.
pub(super) fn described(words: &str) -> (Option<DeviceKind>, Option<Amperes>) {
    let lower = words.to_lowercase();
    let kind = [
        ("rcbo", DeviceKind::Rcbo),
        ("switch-fuse", DeviceKind::SwitchFuse),
        ("fuse", DeviceKind::Fuse),
        ("switch-disconnector", DeviceKind::SwitchDisconnector),
        ("breaker", DeviceKind::Breaker),
        ("mcb", DeviceKind::Breaker),
    ]
    .into_iter()
    .find(|(name, _)| lower.contains(name))
    .map(|(_, kind)| kind);
    let rating = words.split_whitespace().rev().find_map(|word| {
        let digits =
            word.trim_start_matches(['B', 'C', 'D', 'b', 'c', 'd']).trim_end_matches(['A', 'a']);
        decimal(digits).filter(|_| digits.starts_with(|c: char| c.is_ascii_digit()))
    });
    (kind, rating.map(Amperes))
}

/// Words of the schedule as papers spell them: `RCBO B16`, `2.5 mm²`.
pub(super) fn spelled(words: &str) -> String {
    let part = |c: char| c.is_alphanumeric();
    let mut out = String::new();
    let mut rest = words;
    while let Some(start) = rest.find(part) {
        let end = rest[start..].find(|c| !part(c)).map_or(rest.len(), |n| start + n);
        let word = &rest[start..end];
        out.push_str(&rest[..start]);
        match word {
            "rcbo" | "mcb" | "mccb" | "rccb" | "rcd" | "afdd" => out.push_str(&word.to_uppercase()),
            // Also where no space is left before it.
            _ => match word.strip_suffix("mm2") {
                Some(size) => out.push_str(&format!("{size}mm²")),
                None => out.push_str(word),
            },
        }
        rest = &rest[end..];
    }
    out.push_str(rest);
    out
}

/// Lines as written: `L2`, `L1 L2 L3`.
pub(super) fn lines(at: &At<String>, cx: &mut Cx) -> Option<Vec<Wire>> {
    let mut found = Vec::new();
    for word in at.value.split([' ', ',']).filter(|w| !w.is_empty()) {
        match Wire::read(&word.to_uppercase()).filter(|w| w.is_line() && !found.contains(w)) {
            Some(line) => found.push(line),
            None => {
                let why = format!("`{}` are no lines: write `L2` or `L1 L2 L3`", clip(&at.value));
                cx.fault(Fault::Lines { why }, at.span);
                return None;
            }
        }
    }
    Some(found)
}

/// Conductors as written: `L1 L2 L3 N PE`.
pub(super) fn wires(at: &At<String>, cx: &mut Cx) -> Option<WireSet> {
    let mut found = WireSet::EMPTY;
    for word in at.value.split([' ', ',']).filter(|w| !w.is_empty()) {
        match Wire::read(&word.to_uppercase()) {
            Some(wire) => found = found.with(wire),
            None => {
                let why = format!("`{}` is no conductor: L1, L2, L3, N or PE", clip(word));
                cx.fault(Fault::Lines { why }, at.span);
                return None;
            }
        }
    }
    Some(found)
}

/// Conductors of a connection as written: `L1 N PE` or `L1>L2 N PE`.
pub(super) fn lanes(at: &At<String>, cx: &mut Cx) -> Option<Lanes> {
    let mut found = Lanes::default();
    for word in at.value.split([' ', ',']).filter(|w| !w.is_empty()) {
        let (a, b) = word.split_once('>').unwrap_or((word, word));
        let ends = (Wire::read(&a.to_uppercase()), Wire::read(&b.to_uppercase()));
        match ends {
            (Some(a), Some(b))
                if (a == b || (a.is_line() && b.is_line())) && found.back(b).is_none() =>
            {
                found.join(a, b);
            }
            _ => {
                let why = format!("`{}` joins no two conductors that may meet", clip(word));
                cx.fault(Fault::Lines { why }, at.span);
                return None;
            }
        }
    }
    Some(found)
}

impl Build {
    /// What a device opens: as written, or all but the protective conductor.
    pub fn breaks(
        &mut self,
        written: &Option<At<String>>,
        carried: WireSet,
        span: Span,
    ) -> WireSet {
        let all = carried.iter().filter(|w| *w != Wire::PE).collect();
        let Some(at) = written else { return all };
        let Some(set) = wires(at, &mut self.cx) else { return all };
        if set.has(Wire::PE) {
            let why = "a device never opens the protective conductor".to_string();
            self.cx.fault(
                Fault::Lines { why },
                if at.span == Span::default() { span } else { at.span },
            );
        }
        set.iter().filter(|w| carried.has(*w) && *w != Wire::PE).collect()
    }
}

/// The figure of an optional number.
pub(super) fn figure<const LO: i64, const HI: i64, const U: usize>(
    value: &Option<At<crate::jobfile::value::Num<LO, HI, U>>>,
) -> Option<Exact> {
    value.as_ref().map(|at| at.value.0.clone())
}

#[cfg(test)]
mod tests {
    use super::spelled;

    #[test]
    fn words_of_the_schedule_are_spelled_as_the_trade_does() {
        let case = |written, wanted: &str| assert_eq!(spelled(written), wanted);
        case("rcbo B16", "RCBO B16");
        case("mcb C32, rcd 30 mA", "MCB C32, RCD 30 mA");
        case("breaker B10", "breaker B10");
        case("fire-resisting 1.5 mm2", "fire-resisting 1.5 mm²");
        case("2.5mm2/1.5mm2 ring", "2.5mm²/1.5mm² ring");
        case("RCBO B6, armoured", "RCBO B6, armoured");
        case("<mm2> é", "<mm²> é");
    }
}
