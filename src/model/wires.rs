//! Conductors, sets of them, and which meets which across a connection.

use std::fmt;

/// A conductor, named for what it carries where it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Wire {
    /// Line 1.
    L1,
    /// Line 2.
    L2,
    /// Line 3.
    L3,
    /// Neutral.
    N,
    /// Protective conductor.
    PE,
}

impl Wire {
    /// All five, lines first.
    pub const ALL: [Wire; 5] = [Wire::L1, Wire::L2, Wire::L3, Wire::N, Wire::PE];
    /// The three lines.
    pub const LINES: [Wire; 3] = [Wire::L1, Wire::L2, Wire::L3];

    /// Whether it is a line.
    pub fn is_line(self) -> bool {
        self <= Wire::L3
    }

    /// 0 to 4, lines first.
    pub fn index(self) -> usize {
        self as usize
    }

    /// The name that the trade gives it.
    pub fn name(self) -> &'static str {
        ["L1", "L2", "L3", "N", "PE"][self.index()]
    }

    /// The conductor with this name.
    pub fn read(text: &str) -> Option<Wire> {
        Wire::ALL.into_iter().find(|w| w.name() == text)
    }
}

impl fmt::Display for Wire {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A set of conductors.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WireSet(u8);

impl WireSet {
    /// None of them.
    pub const EMPTY: WireSet = WireSet(0);

    /// Whether `wire` is in it.
    pub fn has(self, wire: Wire) -> bool {
        self.0 & (1 << wire.index()) != 0
    }

    /// With `wire` as well.
    pub fn with(self, wire: Wire) -> WireSet {
        WireSet(self.0 | 1 << wire.index())
    }

    /// The conductors in order, lines first.
    pub fn iter(self) -> impl Iterator<Item = Wire> {
        Wire::ALL.into_iter().filter(move |w| self.has(*w))
    }

    /// How many.
    pub fn len(self) -> usize {
        self.0.count_ones() as usize
    }

    /// Whether it has none.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }
}

impl FromIterator<Wire> for WireSet {
    fn from_iter<T: IntoIterator<Item = Wire>>(wires: T) -> Self {
        wires.into_iter().fold(WireSet::EMPTY, WireSet::with)
    }
}

/// Which conductor at `a` meets which at `b`, across a device or a joint. Only lines change
/// their name on the way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Lanes([Option<Wire>; 5]);

impl Lanes {
    /// Every conductor of `wires` meets its own name.
    pub fn straight(wires: WireSet) -> Lanes {
        let mut lanes = Lanes::default();
        for wire in wires.iter() {
            lanes.0[wire.index()] = Some(wire);
        }
        lanes
    }

    /// Adds a lane, from `at_a` to `at_b`.
    pub fn join(&mut self, at_a: Wire, at_b: Wire) {
        self.0[at_a.index()] = Some(at_b);
    }

    /// What `at_a` meets at `b`.
    pub fn across(self, at_a: Wire) -> Option<Wire> {
        self.0[at_a.index()]
    }

    /// What `at_b` meets at `a`.
    pub fn back(self, at_b: Wire) -> Option<Wire> {
        Wire::ALL.into_iter().find(|w| self.across(*w) == Some(at_b))
    }

    /// All lanes, as named at `a` and at `b`.
    pub fn iter(self) -> impl Iterator<Item = (Wire, Wire)> {
        Wire::ALL.into_iter().filter_map(move |w| self.across(w).map(|b| (w, b)))
    }

    /// The conductors that it carries, as named at `a`.
    pub fn at_a(self) -> WireSet {
        self.iter().map(|(a, _)| a).collect()
    }

    /// The conductors that it carries, as named at `b`.
    pub fn at_b(self) -> WireSet {
        self.iter().map(|(_, b)| b).collect()
    }

    /// Whether some line changes its name.
    pub fn changes_lines(self) -> bool {
        self.iter().any(|(a, b)| a != b)
    }
}
