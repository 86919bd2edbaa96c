//! The rules that a plan is judged by, and what each means in one line.

use std::fmt;

macro_rules! rules {
    ($($name:ident $meaning:literal;)*) => {
        /// A rule of the planning model.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Rule {$(
            #[doc = $meaning]
            $name,
        )*}

        impl Rule {
            /// All rules, in the order in which breaches are listed.
            pub const ALL: &'static [Rule] = &[$(Rule::$name,)*];

            /// Its name, as in `W1`.
            pub fn name(self) -> &'static str {
                match self {$(Rule::$name => stringify!($name),)*}
            }

            /// What it asks, in one line.
            pub fn meaning(self) -> &'static str {
                match self {$(Rule::$name => $meaning,)*}
            }
        }
    };
}

rules! {
    S1 "the survey is complete enough to plan";
    S2 "each event is possible in its state";
    S3 "order, durations, people, instruments, working space, deliveries and joints are kept, and all work is done";
    W1 "dead work only on conductors that are isolated and locked off, every pole and every source";
    W2 "every position is proved dead by the people at work there, and the proof still holds";
    W3 "each person at dead work holds the locks that protect them, and only the owner takes a lock off";
    W4 "nothing is energised that is incomplete, untested or worked on, and no line before its neutral";
    W5 "live work is live testing only, and nobody else is in its way";
    W6 "a device that must not be operated on load is not";
    W7 "a source that starts by itself is locked off before the supply that it watches goes";
    W8 "surge cartridges and listed electronics are out during insulation tests, and cartridges in before supply";
    W9 "one way at a time on a live board, only with shrouds, a written reason and nobody else at it";
    W10 "a circuit is live only with its protective conductor unbroken";
    W11 "sources and lines that may not run in parallel are never joined";
    W12 "circuits that share a neutral are live on one neutral bar and behind the same residual-current devices";
    W13 "bare live parts are behind a cover, or attended by one task alone";
    W14 "nobody proves, switches or tests live alone on site";
    E1 "an emergency-lighting group and the lighting that it watches live and die with the same overcurrent device";
    E2 "rest mode only while the group's supply is dead";
    E3 "occupied areas keep the emergency-lighting duration that the job requires";
    E4 "every area is handed back after its function tests, and every full-duration test has a date that holds";
    T1 "a temporary supply's own supply stays live";
    T2 "no way, device, lead or source is overloaded by a temporary supply";
    T3 "drop and loop impedance at the end of a temporary lead are within their limits";
    T4 "circuits that belong together go on a temporary supply together";
    F1 "each outage lies in a window, and ends in good time before it closes";
    F2 "no outage, and no total of outages, is longer than its load's limit";
    F3 "a life-safety load is not out unless the job names the measure taken instead";
    F4 "at a window's end every load needed before the next is in service";
    F5 "at a window's end and the plan's end covers, locks, cartridges and rest mode are as they must be left";
    B1 "every step has a way back or forward that keeps the limits";
    C1 "every figure that the plan states is what a replay gives";
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
