//! What is only printed: labels, people, clock, provenance. No plan depends on it.

use super::ids::*;
use crate::units::{Exact, Minutes};
use jiff::tz::{AmbiguousOffset, TimeZone};

/// Everything about the site that papers and summaries print.
#[derive(Clone, Debug)]
pub struct Site {
    /// The site's clock.
    pub clock: Clock,
    /// Names and numbers for the papers.
    pub paper: Paper,
    /// Who surveyed, and when.
    pub survey: Survey,
    /// Profile of the usual earthing, in words.
    pub profile: String,
    /// Which figure of a duration the plan uses, in words.
    pub figure: String,
    /// By circuit.
    pub circuits: Vec<CircuitLabel>,
    /// By board.
    pub boards: Vec<BoardLabel>,
    /// By node: what and where it is, for people.
    pub nodes: Vec<String>,
    /// By device: what and where it is, for people.
    pub devices: Vec<String>,
    /// By position: what and where it is, for people.
    pub positions: Vec<String>,
    /// By emergency group.
    pub groups: Vec<GroupLabel>,
    /// By temporary supply: what and where it is.
    pub supplies: Vec<String>,
    /// By person.
    pub people: Vec<PersonLabel>,
    /// By instrument: number and calibration.
    pub instruments: Vec<String>,
    /// By load: importance in words.
    pub loads: Vec<LoadLabel>,
    /// By area: who tells the people there.
    pub areas: Vec<String>,
    /// People to ask and to call.
    pub contacts: Vec<Contact>,
    /// Keys and access.
    pub access: Vec<Access>,
    /// Materials.
    pub materials: Vec<Material>,
    /// Dangers that the job states.
    pub risks: Vec<Risk>,
    /// Defects seen that belong to no one circuit.
    pub defects: Vec<Defect>,
    /// Circuits and cables with no new way: their stated ends.
    pub ends: Vec<StatedEnd>,
    /// Every default used.
    pub defaults_used: Vec<DefaultUsed>,
    /// Open questions, worst first.
    pub questions: Vec<OpenQuestion>,
}

impl Site {
    /// Whether an open question matters for safety, so that every page is a draft.
    pub fn draft(&self) -> bool {
        self.questions.iter().any(|q| q.severity == Severity::Safety)
    }
}

/// The site's clock.
#[derive(Clone, Debug)]
pub struct Clock {
    /// IANA name of its zone.
    pub zone: String,
    rules: TimeZone,
    epoch: i64,
}

impl Clock {
    /// A clock in the zone `rules`, whose minute 0 is `epoch` seconds after 1970 began in UTC.
    pub fn new(zone: impl Into<String>, rules: TimeZone, epoch: i64) -> Clock {
        Clock { zone: zone.into(), rules, epoch }
    }

    /// The instant, on the site's clock.
    pub fn at(&self, t: Minutes) -> jiff::ZonedDateTime {
        let seconds = self.epoch.saturating_add(t.0.saturating_mul(60));
        let stamp = jiff::Timestamp::from_second(seconds).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
        stamp.to_zoned_datetime(self.rules.clone())
    }

    /// `Sat 27 Mar 2027 22:00`, with the offset where that hour comes twice.
    pub fn full(&self, t: Minutes) -> String {
        let at = self.at(t);
        format!("{}{}", at.strftime("%a %-d %b %Y %H:%M"), self.twice(&at))
    }

    /// `Sat 27 Mar`.
    pub fn day(&self, t: Minutes) -> String {
        self.at(t).strftime("%a %-d %b").to_string()
    }

    /// `22:00`, with the offset where that hour comes twice.
    pub fn time(&self, t: Minutes) -> String {
        let at = self.at(t);
        format!("{}{}", at.strftime("%H:%M"), self.twice(&at))
    }

    /// `Sat 22:00`, with the offset where that hour comes twice.
    pub fn short(&self, t: Minutes) -> String {
        let at = self.at(t);
        format!("{}{}", at.strftime("%a %H:%M"), self.twice(&at))
    }

    fn twice(&self, at: &jiff::ZonedDateTime) -> String {
        match self.rules.to_ambiguous_timestamp(at.datetime()).offset() {
            AmbiguousOffset::Fold { .. } => at.strftime(" %:z").to_string(),
            _ => String::new(),
        }
    }
}

/// Names and numbers for the papers.
#[derive(Clone, Debug, Default)]
pub struct Paper {
    /// Address of the site.
    pub place: String,
    /// Who ordered the job.
    pub client: String,
    /// Whose papers they are.
    pub company: String,
    /// Picture file, a path inside the job's folder.
    pub logo: Option<std::path::PathBuf>,
    /// Document number.
    pub number: String,
    /// Who wrote the papers.
    pub author: String,
    /// Who approves them.
    pub approver: String,
    /// Revisions, oldest first.
    pub revisions: Vec<Revision>,
    /// Number to call in an emergency.
    pub emergency_number: String,
    /// Where first aid is.
    pub first_aid: String,
    /// What the job covers.
    pub scope: String,
}

/// A revision of the papers.
#[derive(Clone, Debug)]
pub struct Revision {
    /// Letter or number.
    pub mark: String,
    /// Date.
    pub on: String,
    /// What changed.
    pub what: String,
    /// Who made it.
    pub by: String,
}

/// The survey.
#[derive(Clone, Debug)]
pub struct Survey {
    /// Who.
    pub by: String,
    /// When.
    pub on: String,
}

/// Where a circuit is on a board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WayLabel {
    /// The board.
    pub board: BoardId,
    /// Number of the way.
    pub way: i64,
    /// Its lines there, in the order of the circuit's own: `L2`, or `L1 L2 L3`.
    pub lines: String,
    /// The reference as painted: `DB-1/7L2`.
    pub reference: String,
}

/// How a circuit was identified on survey.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IdentifiedBy {
    /// Followed to its end.
    Traced,
    /// Known from the board chart only.
    ChartOnly,
    /// Not known.
    Unknown,
}

/// What is printed about a circuit.
#[derive(Clone, Debug)]
pub struct CircuitLabel {
    /// Working number: the ferrule on the cable.
    pub number: String,
    /// Old reference.
    pub old: Option<WayLabel>,
    /// New reference.
    pub new: Option<WayLabel>,
    /// What it serves.
    pub serves: String,
    /// Cable.
    pub cable: String,
    /// Length of the cable, as written.
    pub length: String,
    /// Device on its new way, in words.
    pub device: String,
    /// Device on its old way, in words.
    pub old_device: String,
    /// Rating of its device in amperes.
    pub rating: Option<Exact>,
    /// Residual-current rating in mA.
    pub rcd_ma: Option<Exact>,
    /// Whether it is a ring.
    pub ring: bool,
    /// Importance, in words.
    pub importance: String,
    /// How it was identified.
    pub identified: IdentifiedBy,
    /// Found on at the survey.
    pub found_on: bool,
    /// Its conductors have to be lengthened.
    pub short: bool,
    /// Side of entry.
    pub entry: String,
    /// What is done if its test fails or its breaker is late.
    pub fallback: String,
    /// Who decides that.
    pub decides: String,
    /// Number of its neutral and earth terminals.
    pub terminal: String,
    /// Defects seen.
    pub defects: String,
    /// Remarks.
    pub remarks: String,
}

/// What is printed about a board.
#[derive(Clone, Debug)]
pub struct BoardLabel {
    /// Number of ways.
    pub ways: i64,
    /// Outlets: three a way on a three-phase board.
    pub outlets: i64,
    /// Three-phase.
    pub three_phase: bool,
    /// Where it is.
    pub place: String,
    /// What feeds it.
    pub fed_from: String,
    /// `OLD`, `NEW` or `STAYS`.
    pub role: &'static str,
    /// Outlets used at the start and at the end, by line.
    pub used: [LineUse; 3],
}

/// Outlets of a board in use on one line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LineUse {
    /// At the start.
    pub before: i64,
    /// At the end.
    pub after: i64,
}

/// What is printed about an emergency group.
#[derive(Clone, Debug)]
pub struct GroupLabel {
    /// Test key switch.
    pub key_switch: String,
    /// How many luminaires, if counted.
    pub luminaires: Option<i64>,
    /// Last full-duration test, or blank.
    pub full_test: String,
}

/// What is printed about a person.
#[derive(Clone, Debug)]
pub struct PersonLabel {
    /// Role.
    pub role: String,
    /// Phone.
    pub phone: String,
}

/// What is printed about a load.
#[derive(Clone, Debug)]
pub struct LoadLabel {
    /// Importance, in words.
    pub importance: String,
    /// What its users do before the outage.
    pub notice: String,
}

/// Somebody to ask.
#[derive(Clone, Debug)]
pub struct Contact {
    /// Who.
    pub name: String,
    /// What they decide or know.
    pub role: String,
    /// Phone.
    pub phone: String,
}

/// A key, a panel, a room.
#[derive(Clone, Debug)]
pub struct Access {
    /// What.
    pub what: String,
    /// Who has it.
    pub holder: String,
    /// How it is got.
    pub how: String,
}

/// Material.
#[derive(Clone, Debug)]
pub struct Material {
    /// What.
    pub what: String,
    /// How many.
    pub number: i64,
    /// Of what.
    pub unit: String,
    /// The delivery that it comes with.
    pub delivery: Option<DeliveryId>,
}

/// A danger of this site.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Risk {
    /// What, and where.
    pub hazard: String,
    /// Who can be harmed.
    pub who: String,
    /// What is done about it.
    pub control: String,
    /// Who sees to that.
    pub owner: String,
}

/// A defect that belongs to no one circuit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Defect {
    /// What is wrong.
    pub what: String,
    /// Where.
    pub at: String,
    /// What is done about it.
    pub action: String,
}

/// A circuit with no new way.
#[derive(Clone, Debug)]
pub struct StatedEnd {
    /// The circuit.
    pub circuit: CircuitId,
    /// `removed`, `left off`, `found off` or `stays`.
    pub end: &'static str,
    /// Why.
    pub why: String,
}

/// A default that the job uses.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct DefaultUsed {
    /// What it is about.
    pub what: String,
    /// The value.
    pub value: String,
    /// For how many things it was used.
    pub times: usize,
}

/// How much an open question matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Every page stays a draft until it is answered.
    Safety,
    /// The plan may change with the answer.
    Plan,
    /// To be cleared up on the way.
    Note,
}

/// Something that the survey did not answer.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct OpenQuestion {
    /// How much it matters.
    pub severity: Severity,
    /// The question.
    pub what: String,
    /// Who can answer it, or blank.
    pub who: String,
}
