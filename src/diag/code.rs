//! The codes of faults, each with its cause and its cure. README's table is made from these.

use std::fmt;

/// What README says about a code.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// The code.
    pub code: Code,
    /// What earns it.
    pub cause: &'static str,
    /// What mends it.
    pub cure: &'static str,
}

macro_rules! codes {
    ($($code:ident $cause:literal $cure:literal;)*) => {
        /// The code of a kind of fault.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {$(
            #[doc = $cause]
            $code,
        )*}

        impl Code {
            /// All codes with their cause and cure, in order.
            pub const ALL: &'static [Entry] =
                &[$(Entry { code: Code::$code, cause: $cause, cure: $cure },)*];

            /// As printed.
            pub fn name(self) -> &'static str {
                match self {$(Code::$code => stringify!($code),)*}
            }
        }
    };
}

codes! {
    J001 "A file that the job names, or its `job.toml`, is not there or cannot be read." "Check the name and the folder.";
    J002 "A file is larger than any job needs." "Check that it is the right file.";
    J003 "A file is not written in UTF-8." "Save it as UTF-8; a byte order mark is fine.";
    J004 "A file holds NUL bytes." "Save it as plain text.";
    J005 "A file is empty." "Fill it, or start from `wayover new`.";
    J006 "The text is no TOML, or the schedule is no CSV." "Mend the spot shown; text stands in double quotes.";
    J007 "A key or a column that does not exist." "Use the key suggested, or strike it out.";
    J008 "A key that has to be there is missing." "Add it.";
    J009 "A value is of the wrong kind or out of range." "Write it as the message says; mind the unit in the key.";
    J010 "A value is not one of the words allowed." "Use one of them.";
    J011 "Two things have the same name, or a circuit number stands twice." "Rename one of them.";
    J012 "A name that nothing has." "Mend the spelling, or add what it names.";
    J013 "A reference to a way that the board does not have." "Mend the reference, or the board's `ways`.";
    J014 "Not a date, a time or a rule for times." "Write dates as 2027-03-29, times as 22:00, rules as `mon-fri 07:00-21:30`.";
    J015 "A local time that the clocks skip when they go forward." "Choose a time before or after the change.";
    J016 "A local time that comes twice when the clocks go back." "Add its offset: `2026-10-25 01:30 +01:00`; give that day a rule of its own.";
    J017 "An offset that the zone does not have at that time." "Use one of the offsets shown.";
    J018 "An unknown time zone." "Use an IANA name such as `Europe/London`.";
    J019 "A time that ends before it starts." "Swap the two, or write the right year.";
    J020 "A path that leads out of the folder of the job." "Copy the file into the folder.";
    J021 "A row of the schedule with more or fewer cells than the header." "Quote cells that hold commas; count the commas.";
    J022 "A circuit with neither a new way nor a stated end." "Fill `new` with a way, or with `removed`, `left off`, `found off` or `stays`.";
    J023 "Several circuits stand on one way and the job does not say so." "Name the other circuit in `with`, or mend the reference.";
    J024 "An end, or a statement that relaxes a rule, lacks its reason." "Write the reason in `why`.";
    J025 "Lines that do not fit the way, the board or the cable." "Mend `lines` or the reference.";
    J026 "Nobody said what in an enclosure is fed from elsewhere." "List it under `fed_from_elsewhere`, or state `none_found = true`.";
    J027 "An emergency feed and the lighting that it watches get different devices. A feed from another board or a central battery system is refused with it, sensing relay or not." "Give both the same new way.";
    J028 "An emergency group lacks its feed or its lighting." "Write `GROUP`, `GROUP feed` or `GROUP lighting` in the column `emergency`.";
    J029 "A lighting circuit of an area with emergency groups is watched by none." "Give it a group, or name it in the `relays` of one.";
    J030 "Circuits that share a neutral part on the new board." "Put both on one new device: the same new way, or ways of one multi-pole device.";
    J031 "Durations that are not in order." "Write shortest, likely, longest.";
    J032 "Two statements of which only one can hold." "Strike one out.";
    J033 "The job lacks something that no job can do without." "Add it.";
    J034 "A name in a place where it cannot stand." "Mend it as the message says.";
    J035 "No lockable device suitable for isolation stands between a board and its supply." "State `lockable = true` where that is so, or have a device fitted.";
    J036 "More of something than the program takes." "Split the job.";
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
