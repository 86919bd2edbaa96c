//! How everything drawn stands at one minute, read from the checker's replay and nothing else.

use super::super::Input;
use super::skeleton::{Link, Net, Skeleton, Way};
use crate::model::*;
use crate::units::{Minutes, Period};
use crate::verify::{Padlock, Replay};
use std::collections::BTreeSet;

/// What a conductor, a net or a place is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Condition {
    /// Some conductor of it is live.
    Live,
    /// Not live, but not known to be isolated.
    Dead,
    /// Isolated: every way to a supply is locked off, or parted with its ends insulated and apart.
    LockedOff,
}

impl Condition {
    /// As printed.
    pub fn words(self) -> &'static str {
        match self {
            Condition::Live => "LIVE",
            Condition::Dead => "dead, NOT isolated",
            Condition::LockedOff => "isolated",
        }
    }

    /// As written into the drawing for those who check it.
    pub fn key(self) -> &'static str {
        match self {
            Condition::Live => "live",
            Condition::Dead => "dead",
            Condition::LockedOff => "locked-off",
        }
    }
}

/// How a device stands.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Closed.
    Closed,
    /// Open, and nothing holds it open.
    Open,
    /// Held open by padlocks, each as printed.
    Locked(Vec<String>),
}

impl Standing {
    /// As written into the drawing.
    pub fn key(&self) -> &'static str {
        match self {
            Standing::Closed => "closed",
            Standing::Open => "open",
            Standing::Locked(_) => "locked",
        }
    }
}

/// What a board is at a minute.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// A new board whose mounting has not begun.
    ToCome,
    /// There.
    There,
    /// Stripped out.
    TakenOut,
}

/// A position at a minute.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// What is bare there.
    pub condition: Condition,
    /// A proof of it holds at the minute.
    pub proved: bool,
    /// The first change of that before the stage ends.
    pub changes: Option<Minutes>,
}

/// Circuits that stand alike at one net.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// The net that feeds their ways.
    pub net: usize,
    /// Their ways there, in order.
    pub ways: Vec<Way>,
    /// Their terminations are made.
    pub connected: bool,
    /// How the devices of their ways stand; none at a temporary supply.
    pub device: Option<Standing>,
    /// What their ways are.
    pub condition: Condition,
}

impl PartialEq for Way {
    fn eq(&self, other: &Way) -> bool {
        self.joint == other.joint
    }
}

impl Eq for Way {}

/// Reads states at one minute, after all its events.
pub struct Moment<'a> {
    input: &'a Input<'a>,
    /// The minute.
    pub at: Minutes,
    /// The end of the stretch that is drawn.
    pub until: Minutes,
}

impl<'a> Moment<'a> {
    /// A minute of a stretch.
    pub fn new(input: &'a Input<'a>, at: Minutes, stretch: Period) -> Moment<'a> {
        Moment { input, at, until: stretch.to }
    }

    fn job(&self) -> &'a Job {
        self.input.sound.job()
    }

    fn replay(&self) -> &'a Replay {
        self.input.sound.replay()
    }

    /// A node: live if any conductor of it is; isolated where a position is at
    /// which it is bare; else merely dead.
    pub fn node(&self, n: NodeId) -> Condition {
        if !self.replay().live(n).at(self.at).is_empty() {
            return Condition::Live;
        }
        let secured = self
            .job()
            .positions
            .iter()
            .any(|(id, p)| p.bare.contains(&n) && *self.replay().secured(id).at(self.at));
        if secured { Condition::LockedOff } else { Condition::Dead }
    }

    /// A net: live if a node of it is; isolated if one is known to be, since all
    /// are joined.
    pub fn net(&self, net: &Net) -> Condition {
        let all: BTreeSet<Condition> = net.nodes.iter().map(|n| self.node(*n)).collect();
        if all.contains(&Condition::Live) {
            Condition::Live
        } else if all.contains(&Condition::LockedOff) {
            Condition::LockedOff
        } else {
            Condition::Dead
        }
    }

    /// A device.
    pub fn device(&self, d: DeviceId) -> Standing {
        let state = self.replay().device(d).at(self.at);
        if !state.locks.is_empty() {
            let mut all: Vec<String> = state.locks.iter().map(|l| self.padlock(l)).collect();
            all.sort();
            return Standing::Locked(all);
        }
        if state.closed { Standing::Closed } else { Standing::Open }
    }

    fn padlock(&self, lock: &Padlock) -> String {
        let plan = self.input.sound.plan();
        let owner = super::super::name::who(self.input, lock.owner);
        format!("{} ({owner})", plan.locks.name(lock.lock))
    }

    /// Whether a termination is made.
    pub fn joint(&self, j: JointId) -> bool {
        *self.replay().joint(j).at(self.at)
    }

    /// A connection as data: what it is called and how it stands.
    pub fn link(&self, link: Link) -> &'static str {
        match link {
            Link::Device(d) => self.device(d).key(),
            Link::Joint(j) if self.joint(j) => "made",
            Link::Joint(_) => "apart",
        }
    }

    /// A position, and when its proof next changes.
    pub fn place(&self, p: PositionId) -> Place {
        let live = self.job().positions[p].bare.iter().any(|n| self.node(*n) == Condition::Live);
        let condition = match *self.replay().secured(p).at(self.at) {
            _ if live => Condition::Live,
            true => Condition::LockedOff,
            false => Condition::Dead,
        };
        let track = self.replay().proved(p);
        let proved = *track.at(self.at);
        let changes = track
            .changes()
            .find(|(t, v)| self.at < *t && *t < self.until && **v != proved)
            .map(|(t, _)| t);
        Place { condition, proved, changes }
    }

    /// What a board is.
    pub fn presence(&self, board: BoardId) -> Presence {
        let plan = self.input.sound.plan();
        let of = |kind: TaskKind| {
            let mut all = plan.tasks.iter().filter(move |(_, t)| t.kind == kind);
            all.find(|(_, t)| t.board == Some(board)).map(|(id, _)| self.replay().task(id))
        };
        if let Some(mount) = of(TaskKind::Mount)
            && mount.is_none_or(|run| self.at < run.start)
        {
            return Presence::ToCome;
        }
        let out = of(TaskKind::StripOut).flatten().and_then(|run| run.end);
        match out {
            Some((end, _)) if end <= self.at => Presence::TakenOut,
            _ => Presence::There,
        }
    }

    /// The circuits in groups that stand alike, by net and in a fixed order. A circuit with no
    /// termination made stands where it was taken off, or, once that is stripped out, where it
    /// goes.
    pub fn groups(&self, skeleton: &Skeleton) -> Vec<Group> {
        let mut out: Vec<Group> = Vec::new();
        let mut rest = skeleton.ways.as_slice();
        while let Some(first) = rest.first() {
            let of = rest.iter().take_while(|w| w.circuit == first.circuit).count();
            let (ways, after) = rest.split_at(of);
            rest = after;
            let made: Vec<&Way> = ways.iter().filter(|w| self.joint(w.joint)).collect();
            let connected = !made.is_empty();
            let gone = |w: &&Way| {
                let bus = skeleton.nets[w.net].bus_of;
                bus.is_some_and(|b| self.presence(b) == Presence::TakenOut)
            };
            let shown = match connected {
                true => made,
                false => ways.iter().find(|w| !gone(w)).into_iter().collect(),
            };
            for way in shown {
                let device = way.device.map(|d| self.device(d));
                let condition = self.node(way.node);
                let found = out.iter_mut().find(|g| {
                    g.net == way.net
                        && g.connected == connected
                        && g.device.as_ref().map(Standing::key)
                            == device.as_ref().map(Standing::key)
                        && g.condition == condition
                });
                match found {
                    Some(group) => {
                        group.ways.push(*way);
                        if let (Some(Standing::Locked(all)), Some(Standing::Locked(more))) =
                            (&mut group.device, device)
                        {
                            all.extend(more);
                        }
                    }
                    None => out.push(Group {
                        net: way.net,
                        ways: vec![*way],
                        connected,
                        device,
                        condition,
                    }),
                }
            }
        }
        out.sort_by(|a, b| {
            let key = |g: &Group| (g.net, !g.connected, g.device.clone(), g.condition);
            key(a).cmp(&key(b))
        });
        out
    }
}
