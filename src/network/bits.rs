//! A set of ids as bits: cheap to clone, compare and walk in order.

use crate::model::Id;
use std::marker::PhantomData;

/// A set of ids of one kind. Two sets with the same members are equal, however they came about.
#[derive(Debug)]
pub struct IdSet<K> {
    words: Vec<u64>,
    key: PhantomData<K>,
}

impl<K> Clone for IdSet<K> {
    fn clone(&self) -> Self {
        IdSet { words: self.words.clone(), key: PhantomData }
    }
}

impl<K> Default for IdSet<K> {
    fn default() -> Self {
        IdSet { words: Vec::new(), key: PhantomData }
    }
}

impl<K: Id> IdSet<K> {
    /// The empty set, with room for ids below `len`.
    pub fn new(len: usize) -> Self {
        IdSet { words: vec![0; len.div_ceil(64)], key: PhantomData }
    }

    /// Whether `id` is in it.
    pub fn has(&self, id: K) -> bool {
        self.words.get(id.index() / 64).is_some_and(|w| w >> (id.index() % 64) & 1 != 0)
    }

    /// Adds `id`; whether it was not there before.
    pub fn insert(&mut self, id: K) -> bool {
        let (word, bit) = (id.index() / 64, 1u64 << (id.index() % 64));
        if word >= self.words.len() {
            self.words.resize(word + 1, 0);
        }
        let fresh = self.words[word] & bit == 0;
        self.words[word] |= bit;
        fresh
    }

    /// Takes `id` out; whether it was there.
    pub fn remove(&mut self, id: K) -> bool {
        let bit = 1u64 << (id.index() % 64);
        match self.words.get_mut(id.index() / 64) {
            Some(word) if *word & bit != 0 => {
                *word &= !bit;
                true
            }
            _ => false,
        }
    }

    /// Puts `id` in or takes it out.
    pub fn set(&mut self, id: K, member: bool) {
        if member {
            self.insert(id);
        } else {
            self.remove(id);
        }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.words.iter().map(|w| w.count_ones() as usize).sum()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.words.iter().all(|w| *w == 0)
    }

    /// All members, in the order of their table.
    pub fn iter(&self) -> impl Iterator<Item = K> {
        self.words.iter().enumerate().flat_map(|(i, &word)| {
            let mut rest = word;
            std::iter::from_fn(move || {
                (rest != 0).then(|| {
                    let bit = rest.trailing_zeros() as usize;
                    rest &= rest - 1;
                    K::new(i * 64 + bit)
                })
            })
        })
    }

    /// The words up to the last one that holds a member.
    fn significant(&self) -> &[u64] {
        let len = self.words.iter().rposition(|w| *w != 0).map_or(0, |i| i + 1);
        &self.words[..len]
    }
}

impl<K: Id> PartialEq for IdSet<K> {
    fn eq(&self, other: &Self) -> bool {
        self.significant() == other.significant()
    }
}

impl<K: Id> Eq for IdSet<K> {}

impl<K: Id> std::hash::Hash for IdSet<K> {
    fn hash<H: std::hash::Hasher>(&self, hasher: &mut H) {
        self.significant().hash(hasher);
    }
}

impl<K: Id> FromIterator<K> for IdSet<K> {
    fn from_iter<T: IntoIterator<Item = K>>(ids: T) -> Self {
        let mut set = IdSet::default();
        for id in ids {
            set.insert(id);
        }
        set
    }
}
