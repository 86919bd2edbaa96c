//! The facts of a fault, one variant a kind.

use super::Code;

/// What is wrong in the job's files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    /// A file that the job needs is not there or cannot be read.
    FileMissing {
        /// Its name.
        file: String,
        /// What the system says.
        why: String,
    },
    /// A file is larger than any job needs.
    FileTooLarge {
        /// Its name.
        file: String,
        /// Largest size taken, in MB.
        limit_mb: u64,
    },
    /// A file is not UTF-8.
    Encoding {
        /// Its name.
        file: String,
        /// What it looks like.
        looks_like: &'static str,
    },
    /// A file has NUL bytes.
    NulByte {
        /// Its name.
        file: String,
    },
    /// A file says nothing.
    EmptyFile {
        /// Its name.
        file: String,
    },
    /// It is no TOML or no CSV.
    Syntax {
        /// What the parser says.
        why: String,
    },
    /// A key or column that does not exist.
    UnknownKey {
        /// As written.
        key: String,
        /// Where it was looked for.
        table: String,
    },
    /// A key that has to be there is not.
    MissingKey {
        /// The key.
        key: String,
        /// Its table.
        table: String,
        /// What it says.
        about: String,
    },
    /// A value of the wrong kind, or out of range.
    Value {
        /// What is expected, with unit and range.
        want: String,
        /// What is there.
        found: String,
    },
    /// A value that is not one of a few words.
    NotOneOf {
        /// As written.
        found: String,
        /// The words.
        words: Vec<&'static str>,
    },
    /// Two things with one name.
    Doubled {
        /// What they are.
        what: &'static str,
        /// The name.
        name: String,
    },
    /// A name that nothing has.
    Unknown {
        /// What it should name.
        what: &'static str,
        /// As written.
        name: String,
    },
    /// A reference to a way that a board does not have.
    NoSuchWay {
        /// As written.
        reference: String,
        /// The board.
        board: String,
        /// What the board has.
        has: String,
    },
    /// Not a date or a time.
    NotATime {
        /// As written.
        found: String,
        /// What is expected.
        want: &'static str,
    },
    /// A local time that clocks skip.
    TimeSkipped {
        /// The time.
        time: String,
        /// The zone.
        zone: String,
    },
    /// A local time that comes twice, without its offset.
    TimeTwice {
        /// The time.
        time: String,
        /// The zone.
        zone: String,
        /// The two offsets.
        offsets: [String; 2],
    },
    /// An offset that the zone does not have at that time.
    WrongOffset {
        /// As written.
        found: String,
        /// The time.
        time: String,
        /// What the zone has then.
        has: Vec<String>,
    },
    /// An unknown time zone.
    UnknownZone {
        /// As written.
        zone: String,
    },
    /// An end that is not after its beginning.
    EndsBeforeItStarts {
        /// What it is.
        what: &'static str,
    },
    /// A path that leads out of the job's folder.
    OutsideFolder {
        /// As written.
        path: String,
    },
    /// A row with more or fewer cells than the header.
    RowLength {
        /// Cells in the row.
        found: usize,
        /// Cells in the header.
        want: usize,
    },
    /// A circuit with neither a new way nor a stated end.
    NoNewWay {
        /// The circuit.
        circuit: String,
    },
    /// Several circuits on one way without saying so.
    WayShared {
        /// The way.
        way: String,
        /// The first circuit there.
        first: String,
        /// The second.
        second: String,
    },
    /// An end, or a left-off circuit, without its reason.
    ReasonMissing {
        /// What wants a reason.
        what: String,
    },
    /// Lines that do not fit.
    Lines {
        /// What does not fit, in words.
        why: String,
    },
    /// An enclosure of which nobody said what in it is fed from elsewhere.
    FedFromElsewhereUnstated {
        /// The board or position.
        place: String,
    },
    /// An emergency feed and the lighting that it watches, on different devices.
    EmergencySplit {
        /// The group.
        group: String,
        /// What parts: its feed, or the coil of a contactor.
        part: String,
        /// That circuit and its new way.
        feed: (String, String),
        /// The lighting and its new way.
        watched: (String, String),
    },
    /// An emergency group without its feed or its lighting.
    EmergencyIncomplete {
        /// The group.
        group: String,
        /// What is missing.
        missing: &'static str,
    },
    /// Lighting of an area with emergency groups that no group watches.
    LightingUnwatched {
        /// The circuit.
        circuit: String,
        /// The area.
        area: String,
    },
    /// Circuits with a shared neutral that part on the new board.
    NeutralSplit {
        /// One.
        first: (String, String),
        /// The other.
        second: (String, String),
    },
    /// Durations that are not in order.
    DurationOrder {
        /// As written.
        found: String,
    },
    /// Two statements of which only one can hold.
    Conflict {
        /// What they are, in words.
        why: String,
    },
    /// A job with none of something that it needs.
    NoneOf {
        /// What is missing.
        what: &'static str,
    },
    /// A name in a place where it cannot stand.
    WrongPlace {
        /// What is named, and why not there.
        why: String,
    },
    /// A board that no lockable, suitable device can part from its supply.
    NoLockAbove {
        /// The board.
        board: String,
        /// The path, device by device.
        path: String,
    },
    /// More of something than the program takes.
    TooMany {
        /// What.
        what: &'static str,
        /// How many.
        found: usize,
        /// The limit.
        limit: usize,
    },
}

impl Fault {
    /// Its code.
    pub fn code(&self) -> Code {
        match self {
            Fault::FileMissing { .. } => Code::J001,
            Fault::FileTooLarge { .. } => Code::J002,
            Fault::Encoding { .. } => Code::J003,
            Fault::NulByte { .. } => Code::J004,
            Fault::EmptyFile { .. } => Code::J005,
            Fault::Syntax { .. } => Code::J006,
            Fault::UnknownKey { .. } => Code::J007,
            Fault::MissingKey { .. } => Code::J008,
            Fault::Value { .. } => Code::J009,
            Fault::NotOneOf { .. } => Code::J010,
            Fault::Doubled { .. } => Code::J011,
            Fault::Unknown { .. } => Code::J012,
            Fault::NoSuchWay { .. } => Code::J013,
            Fault::NotATime { .. } => Code::J014,
            Fault::TimeSkipped { .. } => Code::J015,
            Fault::TimeTwice { .. } => Code::J016,
            Fault::WrongOffset { .. } => Code::J017,
            Fault::UnknownZone { .. } => Code::J018,
            Fault::EndsBeforeItStarts { .. } => Code::J019,
            Fault::OutsideFolder { .. } => Code::J020,
            Fault::RowLength { .. } => Code::J021,
            Fault::NoNewWay { .. } => Code::J022,
            Fault::WayShared { .. } => Code::J023,
            Fault::ReasonMissing { .. } => Code::J024,
            Fault::Lines { .. } => Code::J025,
            Fault::FedFromElsewhereUnstated { .. } => Code::J026,
            Fault::EmergencySplit { .. } => Code::J027,
            Fault::EmergencyIncomplete { .. } => Code::J028,
            Fault::LightingUnwatched { .. } => Code::J029,
            Fault::NeutralSplit { .. } => Code::J030,
            Fault::DurationOrder { .. } => Code::J031,
            Fault::Conflict { .. } => Code::J032,
            Fault::NoneOf { .. } => Code::J033,
            Fault::WrongPlace { .. } => Code::J034,
            Fault::NoLockAbove { .. } => Code::J035,
            Fault::TooMany { .. } => Code::J036,
        }
    }
}
