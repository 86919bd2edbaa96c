//! The cheapest sets of locks that secure some places.
//!
//! One lock cuts every conductor that its device breaks, so this is a weighted hitting set: each
//! path from a conductor of a place to a source has to be hit. Branch and bound, exact: take a
//! path that is not hit yet, and for each device on it either lock it or never do. Every set that
//! is minimal (no lock can be left out) is met once, so the next best sets come with the best.
//!
//! Bound: each device's price is shared out over its lanes in the section; a maximum flow with
//! these capacities is no more than the price of any set that cuts, since such a set pays at
//! least its cut lanes (max-flow min-cut, and every set of locks that secures is a cut).
//! Invariant: the sets and their order depend on ids and prices only.

use super::flow::{Flow, UNCUT};
use super::graph::{Link, Network};
use super::locks::{Cost, LockSet, LockSets, Price, Unbreakable};
use super::upstream::Section;
use super::walk::Hop;
use crate::model::DeviceId;
use std::collections::{BTreeMap, VecDeque};

/// Steps of the search before it settles for the best found.
const STEPS: usize = 200_000;

/// The best `count` sets for the starts of a section.
pub(super) fn search(
    network: &Network,
    section: &Section,
    price: &dyn Price,
    forbidden: &[DeviceId],
    forced: &[DeviceId],
    count: usize,
) -> Result<LockSets, Unbreakable> {
    let mut search = Search::new(network, section, price, forbidden, count.max(1));
    if let Err(path) = search.path() {
        return Err(search.unbreakable(&path));
    }
    search.force(forced);
    search.run();
    search.best.sort_by(|a, b| (a.cost, &a.devices).cmp(&(b.cost, &b.devices)));
    Ok(LockSets { sets: search.best, exact: search.steps <= STEPS })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Choice {
    Open,
    Locked,
    Forced,
    Never,
}

struct Search<'a> {
    network: &'a Network,
    section: &'a Section,
    price: &'a dyn Price,
    count: usize,
    /// Devices that may be locked, in order.
    devices: Vec<DeviceId>,
    /// By edge of the section: the device that cuts it, as an index into `devices`.
    cutter: Vec<Option<usize>>,
    /// By device: its price alone, for order; what it adds at least, a lane.
    alone: Vec<Cost>,
    share: Vec<u128>,
    distance: Vec<u64>,
    goal: Vec<bool>,
    choice: Vec<Choice>,
    best: Vec<LockSet>,
    steps: usize,
}

/// Edges from a start to a source.
type Way = Vec<usize>;

impl<'a> Search<'a> {
    fn new(
        network: &'a Network,
        section: &'a Section,
        price: &'a dyn Price,
        forbidden: &[DeviceId],
        count: usize,
    ) -> Self {
        let usable = |edge: usize| {
            let lane = &network.graph[section.edges[edge].0];
            match lane.link {
                Link::Device(d) => {
                    (lane.isolates && network.lockable.has(d) && !forbidden.contains(&d))
                        .then_some(d)
                }
                Link::Joint(_) => None,
            }
        };
        let mut lanes: BTreeMap<DeviceId, (u128, u64)> = BTreeMap::new();
        let hops = hops(section);
        for edge in 0..section.edges.len() {
            if let Some(device) = usable(edge) {
                let (_, a, b) = section.edges[edge];
                let far = hops[a].min(hops[b]);
                let entry = lanes.entry(device).or_insert((0, far));
                *entry = (entry.0 + 1, entry.1.min(far));
            }
        }
        let devices: Vec<DeviceId> = lanes.keys().copied().collect();
        let cost = |outage, distance| Cost { outage, locks: 1, distance };
        let of = |d: &DeviceId| lanes[d];
        Search {
            cutter: (0..section.edges.len())
                .map(|e| usable(e).and_then(|d| devices.binary_search(&d).ok()))
                .collect(),
            alone: devices.iter().map(|d| cost(price.whole(&[*d]), of(d).1)).collect(),
            share: devices
                .iter()
                .map(|d| cost(price.share(*d), of(d).1).scalar() / of(d).0)
                .collect(),
            distance: devices.iter().map(|d| of(d).1).collect(),
            goal: section.vertices.iter().map(|v| network.threat[v.index()]).collect(),
            choice: vec![Choice::Open; devices.len()],
            best: Vec::new(),
            steps: 0,
            network,
            section,
            price,
            count,
            devices,
        }
    }

    fn force(&mut self, forced: &[DeviceId]) {
        for (i, device) in self.devices.iter().enumerate() {
            if forced.contains(device) {
                self.choice[i] = Choice::Forced;
            }
        }
    }

    fn locked(&self, i: usize) -> bool {
        matches!(self.choice[i], Choice::Locked | Choice::Forced)
    }

    /// A path that no lock hits, with as few devices as may be that could still be locked:
    /// these devices, or `None` if all paths are hit. An error is a path without any.
    fn path(&self) -> Result<Option<Vec<usize>>, Way> {
        let n = self.section.vertices.len();
        let mut met = vec![(usize::MAX, usize::MAX); n];
        let mut queue: VecDeque<(usize, usize)> = VecDeque::new();
        for start in &self.section.starts {
            met[*start].0 = 0;
            queue.push_back((0, *start));
        }
        while let Some((weight, v)) = queue.pop_front() {
            if weight > met[v].0 {
                continue;
            }
            if self.goal[v] {
                let (mut way, mut at) = (Vec::new(), v);
                while met[at].1 != usize::MAX {
                    let (_, a, b) = self.section.edges[met[at].1];
                    way.push(met[at].1);
                    at = if a == at { b } else { a };
                }
                way.reverse();
                let open = |e: &usize| self.cutter[*e].filter(|i| self.choice[*i] == Choice::Open);
                let mut devices: Vec<usize> = way.iter().filter_map(open).collect();
                devices.sort_by_key(|i| (self.alone[*i], *i));
                devices.dedup();
                return if devices.is_empty() { Err(way) } else { Ok(Some(devices)) };
            }
            for &(edge, next) in &self.section.next[v] {
                let step = match self.cutter[edge] {
                    Some(i) if self.locked(i) => continue,
                    Some(i) if self.choice[i] == Choice::Open => 1,
                    _ => 0,
                };
                if weight + step < met[next].0 {
                    met[next] = (weight + step, edge);
                    if step == 0 {
                        queue.push_front((weight, next));
                    } else {
                        queue.push_back((weight + step, next));
                    }
                }
            }
        }
        Ok(None)
    }

    fn run(&mut self) {
        self.steps += 1;
        let chosen: Vec<usize> = (0..self.devices.len()).filter(|i| self.locked(*i)).collect();
        if self.best.len() == self.count {
            let worst = self.best[self.count - 1].cost;
            // Cheap to ask first: a set costs no less than the dearest of its locks.
            let dearest = chosen.iter().map(|i| self.alone[*i].outage).max().unwrap_or(0);
            let least = Cost { outage: dearest, ..self.beside_outage(&chosen) };
            if least >= worst {
                return;
            }
            let cost = self.set(&chosen).cost;
            if cost >= worst || cost.scalar().saturating_add(self.bound()) >= worst.scalar() {
                return;
            }
        }
        match self.path() {
            Err(_) => (),
            Ok(None) => self.keep(chosen),
            Ok(Some(path)) => {
                for i in &path {
                    if self.steps > STEPS {
                        break;
                    }
                    self.choice[*i] = Choice::Locked;
                    self.run();
                    self.choice[*i] = Choice::Never;
                }
                for i in path {
                    self.choice[i] = Choice::Open;
                }
            }
        }
    }

    /// Keeps a set that secures. Where locks can be left out, the dearest go first; the minimal
    /// set that stays is met again in its own branch, and kept once.
    fn keep(&mut self, mut chosen: Vec<usize>) {
        let mut order: Vec<usize> =
            chosen.iter().copied().filter(|i| self.choice[*i] == Choice::Locked).collect();
        order.sort_by_key(|i| (std::cmp::Reverse(self.alone[*i]), *i));
        let mut left_out = Vec::new();
        for i in order {
            self.choice[i] = Choice::Open;
            if matches!(self.path(), Ok(None)) {
                left_out.push(i);
            } else {
                self.choice[i] = Choice::Locked;
            }
        }
        for i in &left_out {
            self.choice[*i] = Choice::Locked;
        }
        chosen.retain(|i| !left_out.contains(i));
        let set = self.set(&chosen);
        if !self.best.contains(&set) {
            let at = self.best.partition_point(|b| b.cost <= set.cost);
            self.best.insert(at, set);
            self.best.truncate(self.count);
        }
    }

    fn set(&self, chosen: &[usize]) -> LockSet {
        let devices: Vec<DeviceId> = chosen.iter().map(|i| self.devices[*i]).collect();
        let cost = Cost { outage: self.price.whole(&devices), ..self.beside_outage(chosen) };
        LockSet { devices, cost }
    }

    /// The cost of a set but for its outage.
    fn beside_outage(&self, chosen: &[usize]) -> Cost {
        let distance = chosen.iter().map(|i| self.distance[*i]).sum();
        Cost { outage: 0, locks: chosen.len() as u64, distance }
    }

    /// What has to be paid at least on top of what is chosen.
    fn bound(&self) -> u128 {
        let price = |edge: usize| match self.cutter[edge] {
            Some(i) if self.locked(i) => 0,
            Some(i) if self.choice[i] == Choice::Open => self.share[i],
            _ => UNCUT,
        };
        self.flow(price).maximum()
    }

    fn flow(&self, price: impl Fn(usize) -> u128) -> Flow {
        let mut flow = Flow::new(self.section.vertices.len());
        for start in &self.section.starts {
            flow.join(0, start + 2, UNCUT);
        }
        for (at, _) in self.goal.iter().enumerate().filter(|(_, goal)| **goal) {
            flow.join(at + 2, 1, UNCUT);
        }
        for (edge, (_, a, b)) in self.section.edges.iter().enumerate() {
            flow.join(a + 2, b + 2, price(edge));
        }
        flow
    }

    fn unbreakable(&self, way: &[usize]) -> Unbreakable {
        let link = |edge: usize| self.network.graph[self.section.edges[edge].0].link;
        let spot = |at: usize| self.network.graph[self.section.vertices[at]];
        let starts = &self.section.starts;
        let first = way.first().map(|e| self.section.edges[*e]);
        let start = match first {
            Some((_, a, _)) if starts.contains(&a) => a,
            Some((_, _, b)) => b,
            None => starts.iter().copied().find(|s| self.goal[*s]).unwrap_or(0),
        };
        let (mut at, mut hops_on) = (start, Vec::new());
        for edge in way {
            let (_, a, b) = self.section.edges[*edge];
            at = if a == at { b } else { a };
            hops_on.push(Hop { link: link(*edge), to: spot(at) });
        }
        let far = hops(self.section);
        let added = |edge: usize| match self.cutter[edge] {
            Some(_) => 0,
            None => {
                let (_, a, b) = self.section.edges[edge];
                (1 << 40) + u128::from(far[a].min(far[b]))
            }
        };
        let mut flow = self.flow(added);
        let mut add_at = Vec::new();
        if flow.maximum() < UNCUT {
            let near = flow.near();
            add_at = (0..self.section.edges.len())
                .filter(|e| {
                    let (_, a, b) = self.section.edges[*e];
                    self.cutter[*e].is_none() && near[a + 2] != near[b + 2]
                })
                .map(link)
                .collect();
            add_at.sort();
            add_at.dedup();
        }
        Unbreakable { from: spot(start), hops: hops_on, add_at }
    }
}

/// By vertex of a section: links from the nearest start.
fn hops(section: &Section) -> Vec<u64> {
    let mut hops = vec![u64::MAX; section.vertices.len()];
    let mut queue: VecDeque<usize> = section.starts.iter().copied().collect();
    for start in &section.starts {
        hops[*start] = 0;
    }
    while let Some(v) = queue.pop_front() {
        for &(_, next) in &section.next[v] {
            if hops[next] == u64::MAX {
                hops[next] = hops[v] + 1;
                queue.push_back(next);
            }
        }
    }
    hops
}
