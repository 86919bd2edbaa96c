//! Typed `Copy` ids and the tables that they index.

use std::collections::BTreeMap;
use std::marker::PhantomData;

/// An index into a [`Table`]; each table takes only its own kind.
pub trait Id: Copy + Eq + Ord {
    /// The id of the row `index`.
    fn new(index: usize) -> Self;
    /// The row that it names.
    fn index(self) -> usize;
}

/// Rows that are found by a typed id, each with the unique name that the job gives it.
#[derive(Clone, Debug, PartialEq)]
pub struct Table<K, V> {
    rows: Vec<V>,
    names: Vec<String>,
    lookup: BTreeMap<String, usize>,
    key: PhantomData<K>,
}

impl<K, V> Default for Table<K, V> {
    fn default() -> Self {
        Table { rows: Vec::new(), names: Vec::new(), lookup: BTreeMap::new(), key: PhantomData }
    }
}

impl<K: Id, V> Table<K, V> {
    /// An empty table.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a row and returns its id, or `None` if the name is taken.
    pub fn add(&mut self, name: impl Into<String>, row: V) -> Option<K> {
        let name = name.into();
        if self.lookup.contains_key(&name) {
            return None;
        }
        let id = K::new(self.rows.len());
        self.lookup.insert(name.clone(), self.rows.len());
        self.names.push(name);
        self.rows.push(row);
        Some(id)
    }

    /// The id of the row called `name`.
    pub fn find(&self, name: &str) -> Option<K> {
        self.lookup.get(name).copied().map(K::new)
    }

    /// The name of a row.
    pub fn name(&self, id: K) -> &str {
        &self.names[id.index()]
    }

    /// All names, in row order.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.names.iter().map(String::as_str)
    }

    /// All ids, in row order.
    pub fn ids(&self) -> impl DoubleEndedIterator<Item = K> + use<K, V> {
        (0..self.rows.len()).map(K::new)
    }

    /// All rows with their ids, in row order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (K, &V)> {
        self.rows.iter().enumerate().map(|(i, row)| (K::new(i), row))
    }

    /// All rows, in order.
    pub fn rows(&self) -> &[V] {
        &self.rows
    }

    /// How many rows there are.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }
}

impl<K: Id, V> std::ops::Index<K> for Table<K, V> {
    type Output = V;
    fn index(&self, id: K) -> &V {
        &self.rows[id.index()]
    }
}

impl<K: Id, V> std::ops::IndexMut<K> for Table<K, V> {
    fn index_mut(&mut self, id: K) -> &mut V {
        &mut self.rows[id.index()]
    }
}

macro_rules! ids {
    ($($name:ident $doc:literal;)*) => {$(
        #[doc = $doc]
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(u32);

        impl Id for $name {
            fn new(index: usize) -> Self {
                // Tables are read from files of bounded size, so an index always fits.
                $name(u32::try_from(index).unwrap_or(u32::MAX))
            }
            fn index(self) -> usize {
                self.0 as usize
            }
        }
    )*};
}

ids! {
    NodeId "A node of the network: a source, a bar or a load point.";
    DeviceId "A switchable connection.";
    JointId "A connection made or removed by hand.";
    BoardId "A distribution board.";
    PositionId "A place where conductors are bare while work goes on.";
    CircuitId "A circuit.";
    LoadId "A load: what the circuits serve.";
    AreaId "An area of the building.";
    GroupId "An emergency-lighting group.";
    SupplyId "A temporary supply.";
    SurgeId "A surge-protective cartridge, or electronics to be taken out likewise.";
    WindowId "A window in which supplies may be cut.";
    PersonId "A person of the team.";
    InstrumentId "An instrument.";
    DeliveryId "A delivery that work may wait for.";
    OutsiderId "Somebody outside the team who owns a lock or operates a device.";
    TaskId "A task of a plan.";
    LockId "A padlock, by the name stamped on it.";
    BoxId "A lock box.";
}
