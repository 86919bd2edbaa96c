//! What is idle in a stage, folded: a board on which nothing is isolated, worked or changed is one
//! box, and like boxes on the same busbars stand together.
//!
//! A branch is what hangs on one connection and reaches no source but through it, with at most one
//! board. It is idle while nothing in it is switched, locked, terminated, isolated or proved, no
//! task is at it, and neither the stage nor the change that leads into it makes it live or dead.

use super::super::Input;
use super::skeleton::{Edge, Link, Skeleton};
use super::stages::Stage;
use super::states::{Condition, Group, Moment, Presence};
use crate::model::*;
use crate::plan::Event;
use crate::units::Minutes;
use crate::verify::Track;
use std::collections::{BTreeMap, BTreeSet};

/// An idle branch.
#[derive(Clone, Debug)]
pub struct Branch {
    /// What it hangs on.
    pub link: Link,
    /// The board in it.
    pub board: Option<BoardId>,
    /// The temporary supplies in it.
    pub supplies: Vec<SupplyId>,
    /// The nodes behind that connection.
    pub nodes: Vec<NodeId>,
    /// What they are.
    pub condition: Condition,
    /// Its circuits.
    pub groups: Vec<Group>,
    /// A termination within it is not made.
    pub apart: bool,
}

/// Branches that are drawn as one.
#[derive(Clone, Debug)]
pub struct Fold {
    /// The net on which they hang.
    pub net: usize,
    /// At least one.
    pub branches: Vec<Branch>,
}

/// What is left to draw, and how.
pub struct Drawn {
    /// The network without what is folded.
    pub skeleton: Skeleton,
    /// Its circuits.
    pub groups: Vec<Group>,
    /// What is folded, by net.
    pub folds: Vec<Fold>,
}

/// All of it, nothing folded.
pub fn whole(skeleton: &Skeleton, moment: &Moment) -> Drawn {
    let groups = moment.groups(skeleton);
    Drawn { skeleton: skeleton.clone(), groups, folds: Vec::new() }
}

/// What is idle in the stage folded; `skeleton` has its nearer ends up.
pub fn folded(input: &Input, skeleton: &Skeleton, moment: &Moment, stage: &Stage) -> Drawn {
    let look = Look { input, skeleton, moment, from: stage.period.from, changes: &stage.changes };
    let groups = moment.groups(skeleton);
    let mut roots: Vec<(usize, Part)> = Vec::new();
    for edge in 0..skeleton.edges.len() {
        if let Some(part) = look.part(edge)
            && look.idle(&part)
        {
            roots.push((edge, part));
        }
    }
    // A branch within another is folded with it.
    let within =
        |edge: &usize| roots.iter().any(|(e, part)| e != edge && part.edges.contains(edge));
    let outer: Vec<&(usize, Part)> = roots.iter().filter(|(e, _)| !within(e)).collect();
    let mut folds: Vec<(Likeness, Fold)> = Vec::new();
    for (edge, part) in outer {
        let branch = look.branch(skeleton.edges[*edge], part, &groups);
        let net = skeleton.edges[*edge].up;
        let like = look.likeness(net, &branch);
        match folds.iter_mut().find(|(l, _)| *l == like) {
            Some((_, fold)) => fold.branches.push(branch),
            None => folds.push((like, Fold { net, branches: vec![branch] })),
        }
    }
    // One connection without a board is no shorter as a box.
    folds.retain(|(_, f)| f.branches.len() > 1 || f.branches[0].board.is_some());
    let links: BTreeSet<Link> =
        folds.iter().flat_map(|(_, f)| f.branches.iter().map(|b| b.link)).collect();
    let gone = roots.iter().filter(|(e, _)| links.contains(&skeleton.edges[*e].link));
    let (mut edges, mut nets) = (BTreeSet::new(), BTreeSet::new());
    for (_, part) in gone {
        edges.extend(part.edges.iter().copied());
        nets.extend(part.nets.iter().copied());
    }
    without(skeleton, groups, folds.into_iter().map(|(_, f)| f).collect(), &edges, &nets)
}

/// The network without some connections and nets, numbered anew.
fn without(
    skeleton: &Skeleton,
    groups: Vec<Group>,
    folds: Vec<Fold>,
    edges: &BTreeSet<usize>,
    nets: &BTreeSet<usize>,
) -> Drawn {
    let kept = (0..skeleton.nets.len()).filter(|n| !nets.contains(n));
    let number: BTreeMap<usize, usize> = kept.enumerate().map(|(new, old)| (old, new)).collect();
    let edges = skeleton.edges.iter().enumerate().filter(|(i, _)| !edges.contains(i));
    let out = Skeleton {
        nets: number.keys().map(|n| skeleton.nets[*n].clone()).collect(),
        edges: edges
            .filter_map(|(_, e)| {
                let (up, down) = (*number.get(&e.up)?, *number.get(&e.down)?);
                Some(Edge { up, down, ..*e })
            })
            .collect(),
        ways: (skeleton.ways.iter())
            .filter_map(|w| Some(super::skeleton::Way { net: *number.get(&w.net)?, ..*w }))
            .collect(),
    };
    let groups = groups.into_iter().filter_map(|g| Some(Group { net: *number.get(&g.net)?, ..g }));
    let folds = folds.into_iter().filter_map(|f| Some(Fold { net: *number.get(&f.net)?, ..f }));
    Drawn { skeleton: out, groups: groups.collect(), folds: folds.collect() }
}

/// What makes branches alike: net, kind and state of the connection, what is behind it, and what
/// that is.
type Likeness = (usize, bool, &'static str, Condition, Option<&'static str>);

/// A branch in numbers of the skeleton.
struct Part {
    nets: BTreeSet<usize>,
    edges: BTreeSet<usize>,
}

struct Look<'a> {
    input: &'a Input<'a>,
    skeleton: &'a Skeleton,
    moment: &'a Moment<'a>,
    /// Where the stretch begins.
    from: Minutes,
    changes: &'a [&'a Event],
}

impl Look<'_> {
    /// What hangs on an edge, if it is a branch.
    fn part(&self, edge: usize) -> Option<Part> {
        let s = self.skeleton;
        let e = s.edges[edge];
        let mut part = Part { nets: BTreeSet::from([e.down]), edges: BTreeSet::from([edge]) };
        let mut queue = vec![e.down];
        let mut boards = 0;
        while let Some(at) = queue.pop() {
            let net = &s.nets[at];
            boards += usize::from(net.bus_of.is_some());
            if at == e.up || net.source.is_some() || !net.elsewhere.is_empty() || boards > 1 {
                return None;
            }
            for (i, f) in s.edges.iter().enumerate() {
                let to = match (f.up == at, f.down == at) {
                    (true, _) => f.down,
                    (_, true) => f.up,
                    _ => continue,
                };
                if part.edges.insert(i) && part.nets.insert(to) {
                    queue.push(to);
                }
            }
        }
        Some(part)
    }

    fn devices(&self, part: &Part) -> impl Iterator<Item = DeviceId> {
        let edges = part.edges.iter().filter_map(|e| match self.skeleton.edges[*e].link {
            Link::Device(d) => Some(d),
            Link::Joint(_) => None,
        });
        let ways = self.skeleton.ways.iter().filter(|w| part.nets.contains(&w.net));
        edges.chain(ways.filter_map(|w| w.device))
    }

    fn joints(&self, part: &Part) -> impl Iterator<Item = JointId> {
        let edges = part.edges.iter().filter_map(|e| match self.skeleton.edges[*e].link {
            Link::Joint(j) => Some(j),
            Link::Device(_) => None,
        });
        let ways = self.skeleton.ways.iter().filter(|w| part.nets.contains(&w.net));
        edges.chain(ways.map(|w| w.joint))
    }

    fn boards(&self, part: &Part) -> Vec<BoardId> {
        part.nets.iter().filter_map(|n| self.skeleton.nets[*n].bus_of).collect()
    }

    fn supplies(&self, part: &Part) -> Vec<SupplyId> {
        part.nets.iter().filter_map(|n| self.skeleton.nets[*n].supply).collect()
    }

    /// Everywhere that somebody may be at work on it.
    fn positions(&self, part: &Part) -> BTreeSet<PositionId> {
        let job = self.input.sound.job();
        let boards = self.boards(part).into_iter();
        let mut out: BTreeSet<PositionId> =
            boards.flat_map(|b| [job.boards[b].incoming, job.boards[b].ways]).collect();
        let nodes: BTreeSet<NodeId> =
            part.nets.iter().flat_map(|n| self.skeleton.nets[*n].nodes.iter().copied()).collect();
        for (id, p) in job.positions.iter().filter(|(_, p)| p.board.is_none()) {
            if p.bare.iter().any(|n| nodes.contains(n)) {
                out.insert(id);
            }
        }
        out
    }

    fn still<T: PartialEq + Clone>(&self, track: &Track<T>) -> bool {
        !track.changes().any(|(t, _)| self.from < t && t < self.moment.until)
    }

    fn idle(&self, part: &Part) -> bool {
        let replay = self.input.sound.replay();
        let plan = self.input.sound.plan();
        let at = self.moment.at;
        let before = self.changes.first().map_or(at, |e| e.at - Minutes(1));
        let devices: BTreeSet<DeviceId> = self.devices(part).collect();
        let switched = self
            .changes
            .iter()
            .any(|e| super::stages::device(&e.act).is_some_and(|d| devices.contains(&d)));
        let lit = |n: &NodeId| {
            let live = replay.live(*n);
            !self.still(live) || live.at(before).is_empty() != live.at(at).is_empty()
        };
        let positions = self.positions(part);
        let boards = self.boards(part);
        let busy = plan.tasks.iter().any(|(id, t)| {
            let here = t.position.is_some_and(|p| positions.contains(&p))
                || t.board.is_some_and(|b| boards.contains(&b));
            let run = replay.task(id).filter(|_| here);
            run.is_some_and(|r| {
                let end = r.end.map_or(self.moment.until, |(end, _)| end);
                r.start < self.moment.until && self.from < end
            })
        });
        // A board that is not there, or no more, is off for want of a connection, not for work.
        let there = |b: &BoardId| self.moment.presence(*b) == Presence::There;
        let away = !boards.is_empty() && !boards.iter().any(there);
        let covered = |b: &BoardId| {
            let there = there(b);
            self.still(replay.cover_on(*b)) && (*replay.cover_on(*b).at(at) || !there)
        };
        !switched
            && !busy
            && devices.iter().all(|d| {
                let track = replay.device(*d);
                self.still(track) && track.at(at).locks.is_empty()
            })
            && self.joints(part).all(|j| self.still(replay.joint(j)))
            && positions.iter().all(|p| {
                let (secured, proved) = (replay.secured(*p), replay.proved(*p));
                let none = (!secured.at(at) || away) && !proved.at(at);
                none && self.still(secured) && self.still(proved)
            })
            && boards.iter().all(covered)
            && !part.nets.iter().flat_map(|n| &self.skeleton.nets[*n].nodes).any(lit)
    }

    fn branch(&self, edge: Edge, part: &Part, groups: &[Group]) -> Branch {
        let net = &self.skeleton.nets[edge.down];
        let mut joints = part.edges.iter().filter_map(|e| match self.skeleton.edges[*e].link {
            Link::Joint(j) => Some(j),
            Link::Device(_) => None,
        });
        Branch {
            link: edge.link,
            board: self.boards(part).first().copied(),
            supplies: self.supplies(part),
            nodes: net.nodes.clone(),
            condition: self.moment.net(net),
            groups: groups.iter().filter(|g| part.nets.contains(&g.net)).cloned().collect(),
            apart: joints.any(|j| !self.moment.joint(j)),
        }
    }

    fn likeness(&self, net: usize, branch: &Branch) -> Likeness {
        let board = branch.board.map(|b| match self.moment.presence(b) {
            Presence::ToCome => "to come",
            Presence::There => "there",
            Presence::TakenOut => "taken out",
        });
        let device = matches!(branch.link, Link::Device(_));
        (net, device, self.moment.link(branch.link), branch.condition, board)
    }
}
