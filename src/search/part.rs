//! A job cut down to what one project touches, so that planning a project of many costs no more
//! than planning it alone.
//!
//! What belongs to other projects alone is left out: their boards with their positions, circuits,
//! loads, emergency groups and temporary supplies, and the conductors there. People, windows,
//! instruments and deliveries stay what they are. A plan of the part is one of the job as long as
//! it cuts nothing that was left out, which [`Part::reaches`] answers; the whole plan is put
//! together, priced and judged on the whole job.

use super::ground::Ground;
use super::timing::Timed;
use crate::model::*;
use crate::units::Minutes;
use crate::work::{DeadSet, Piece, Ride, Role, Session};
use std::collections::BTreeSet;

/// One project's share of a job.
pub struct Part {
    /// The job with nothing of other projects in it.
    pub job: Job,
    /// Its task templates.
    pub labour: Labour,
    nth: usize,
    whole: Whole,
}

/// For each id in the part the one in the whole job.
struct Whole {
    boards: Vec<BoardId>,
    circuits: Vec<CircuitId>,
    devices: Vec<DeviceId>,
    groups: Vec<GroupId>,
    holds: Vec<usize>,
    banks: Vec<usize>,
    positions: Vec<PositionId>,
    supplies: Vec<SupplyId>,
    tails: Vec<usize>,
}

/// Which rows of a table stay, and as what.
struct Kept<K> {
    new: Vec<Option<K>>,
    old: Vec<K>,
}

impl<K: Id> Kept<K> {
    fn of<V>(table: &Table<K, V>, keep: impl Fn(K) -> bool) -> Kept<K> {
        let old: Vec<K> = table.ids().filter(|id| keep(*id)).collect();
        let mut new = vec![None; table.len()];
        for (n, id) in old.iter().enumerate() {
            new[id.index()] = Some(K::new(n));
        }
        Kept { new, old }
    }

    fn get(&self, id: K) -> Option<K> {
        self.new[id.index()]
    }

    fn has(&self, id: K) -> bool {
        self.get(id).is_some()
    }

    fn all(&self, ids: &[K]) -> Vec<K> {
        ids.iter().filter_map(|id| self.get(*id)).collect()
    }

    fn rows<T: Clone>(&self, rows: &[T]) -> Vec<T> {
        self.old.iter().map(|id| rows[id.index()].clone()).collect()
    }

    /// The table of what stays; nothing if a row that stays needs one that does not.
    fn table<V>(
        &self,
        table: &Table<K, V>,
        change: impl Fn(&V) -> Option<V>,
    ) -> Option<Table<K, V>> {
        let mut kept = Table::new();
        for id in &self.old {
            kept.add(table.name(*id), change(&table[*id])?)?;
        }
        Some(kept)
    }
}

impl Part {
    /// The share of a project. `None` if it cannot be told from that of others: a load or a group
    /// has circuits of both, or a source or device that stays watches a node that would not.
    pub fn of(g: &Ground, nth: usize) -> Option<Part> {
        let job = g.job;
        let others = || g.projects.iter().enumerate().filter(|(n, _)| *n != nth).map(|(_, p)| p);
        let away: BTreeSet<BoardId> = others().flat_map(|p| p.boards()).collect();
        let gone: BTreeSet<CircuitId> =
            others().flat_map(|p| p.units.iter().flatten().copied()).collect();
        let supplied = |s: SupplyId| {
            let on = |j: &&Joint| matches!(j.of, Some((_, Place::On(x))) if x == s);
            let mut users = job.joints.rows().iter().filter(on).filter_map(|j| j.of).peekable();
            users.peek().is_some() && users.all(|(c, _)| gone.contains(&c))
        };
        let circuits = Kept::of(&job.circuits, |c| !gone.contains(&c));
        let boards = Kept::of(&job.boards, |b| !away.contains(&b));
        let supplies = Kept::of(&job.supplies, |s| !supplied(s));
        let hook_ups: BTreeSet<PositionId> = (job.supplies.ids().filter(|s| !supplies.has(*s)))
            .map(|s| g.labour.supplies[s.index()].position)
            .filter(|p| {
                let there = |s: &SupplyId| g.labour.supplies[s.index()].position == *p;
                !supplies.old.iter().any(there)
            })
            .collect();
        let positions = Kept::of(&job.positions, |p| {
            job.positions[p].board.is_none_or(|b| boards.has(b)) && !hook_ups.contains(&p)
        });
        let at = |p: PositionId| {
            let p = &job.positions[p];
            [&p.bare, &p.points, &p.row, &p.other_fed, &p.enclosed].into_iter().flatten().copied()
        };
        let left = |c: &CircuitId| job.circuits[*c].nodes.iter().copied();
        let mut out: BTreeSet<NodeId> = gone.iter().flat_map(left).collect();
        out.extend(job.positions.ids().filter(|p| !positions.has(*p)).flat_map(at));
        out.extend(job.supplies.ids().filter(|s| !supplies.has(*s)).map(|s| job.supplies[s].node));
        let mut stays: BTreeSet<NodeId> = circuits.old.iter().flat_map(left).collect();
        stays.extend(positions.old.iter().flat_map(|p| at(*p)));
        stays.insert(job.earth);
        let nodes = Kept::of(&job.nodes, |n| {
            stays.contains(&n) || !out.contains(&n) || job.nodes[n].source().is_some()
        });
        let devices = Kept::of(&job.devices, |d| {
            let d = &job.devices[d];
            nodes.has(d.a) && nodes.has(d.b) && d.enclosure.is_none_or(|b| boards.has(b))
        });
        let joints = Kept::of(&job.joints, |j| {
            let j = &job.joints[j];
            let of = j.of.is_none_or(|(c, place)| {
                circuits.has(c) && !matches!(place, Place::On(s) if !supplies.has(s))
            });
            nodes.has(j.a) && nodes.has(j.b) && of
        });
        let loads =
            Kept::of(&job.loads, |l| job.loads[l].circuits.iter().any(|c| circuits.has(*c)));
        let groups = Kept::of(&job.groups, |x| circuits.has(job.groups[x].watches));
        let surges = Kept::of(&job.surges, |s| {
            let s = &job.surges[s];
            nodes.has(s.node) && s.board.is_none_or(|b| boards.has(b))
        });

        let mine = &g.projects[nth];
        let theirs: BTreeSet<usize> = others().flat_map(|p| p.tails.iter().copied()).collect();
        let tails: Vec<usize> = (0..g.labour.tails.len())
            .filter(|t| mine.tails.contains(t) || !theirs.contains(t))
            .collect();
        let holds: Vec<usize> = (0..g.labour.holds.len())
            .filter(|h| g.labour.holds[*h].board.is_none_or(|b| boards.has(b)))
            .collect();
        let banks: Vec<usize> =
            (0..g.labour.banks.len()).filter(|b| boards.has(g.labour.banks[*b].board)).collect();

        let whole_or_none = |ids: &[CircuitId]| {
            let kept = circuits.all(ids);
            (kept.len() == ids.len()).then_some(kept)
        };
        let part = Job {
            name: job.name.clone(),
            epoch: job.epoch.clone(),
            span: job.span,
            policy: job.policy.clone(),
            earth: nodes.get(job.earth)?,
            parallel: job.parallel.iter().map(|set| nodes.all(set)).collect(),
            neutral_groups: (job.neutral_groups.iter())
                .filter(|set| set.iter().any(|c| circuits.has(*c)))
                .map(|set| whole_or_none(set))
                .collect::<Option<_>>()?,
            walks: (job.walks.iter())
                .filter_map(|w| {
                    let (a, b) = (positions.get(w.a)?, positions.get(w.b)?);
                    Some(Walk { a, b, minutes: w.minutes })
                })
                .collect(),
            standing_locks: (job.standing_locks.iter())
                .filter_map(|s| Some(StandingLock { device: devices.get(s.device)?, ..s.clone() }))
                .collect(),
            nodes: nodes.table(&job.nodes, |n| {
                let mut n = n.clone();
                if let NodeKind::Source(source) = &mut n.kind
                    && let Some(watched) = &mut source.watches
                {
                    *watched = nodes.get(*watched)?;
                }
                Some(n)
            })?,
            devices: devices.table(&job.devices, |d| {
                let mut d = d.clone();
                (d.a, d.b) = (nodes.get(d.a)?, nodes.get(d.b)?);
                if let Some(enclosure) = &mut d.enclosure {
                    *enclosure = boards.get(*enclosure)?;
                }
                if let Some(own) = &mut d.self_acting {
                    own.node = nodes.get(own.node)?;
                }
                Some(d)
            })?,
            joints: joints.table(&job.joints, |j| {
                let mut j = j.clone();
                (j.a, j.b) = (nodes.get(j.a)?, nodes.get(j.b)?);
                if let Some((c, place)) = &mut j.of {
                    *c = circuits.get(*c)?;
                    if let Place::On(s) = place {
                        *s = supplies.get(*s)?;
                    }
                }
                Some(j)
            })?,
            boards: boards.table(&job.boards, |b| {
                let mut b = b.clone();
                (b.incoming, b.ways) = (positions.get(b.incoming)?, positions.get(b.ways)?);
                b.within_reach = boards.all(&b.within_reach);
                if let Some(old) = &mut b.replaces {
                    *old = boards.get(*old)?;
                }
                Some(b)
            })?,
            positions: positions.table(&job.positions, |p| {
                let mut p = p.clone();
                if let Some(board) = &mut p.board {
                    *board = boards.get(*board)?;
                }
                let lists =
                    [&mut p.bare, &mut p.points, &mut p.row, &mut p.other_fed, &mut p.enclosed];
                for list in lists {
                    *list = nodes.all(list);
                }
                Some(p)
            })?,
            circuits: circuits.table(&job.circuits, |c| {
                Some(Circuit { nodes: nodes.all(&c.nodes), ..c.clone() })
            })?,
            loads: loads.table(&job.loads, |l| {
                Some(Load { circuits: whole_or_none(&l.circuits)?, ..l.clone() })
            })?,
            areas: Kept::of(&job.areas, |_| true).table(&job.areas, |a| {
                Some(Area { lighting: circuits.all(&a.lighting), ..a.clone() })
            })?,
            groups: groups.table(&job.groups, |x| {
                let mut x = x.clone();
                (x.watches, x.feed) = (circuits.get(x.watches)?, circuits.get(x.feed)?);
                x.relays = whole_or_none(&x.relays)?;
                Some(x)
            })?,
            supplies: supplies.table(&job.supplies, |s| {
                let mut s = s.clone();
                (s.feed, s.node) = (nodes.get(s.feed)?, nodes.get(s.node)?);
                Some(s)
            })?,
            surges: surges.table(&job.surges, |s| {
                let mut s = s.clone();
                s.node = nodes.get(s.node)?;
                if let Some(board) = &mut s.board {
                    *board = boards.get(*board)?;
                }
                Some(s)
            })?,
            windows: job.windows.clone(),
            people: job.people.clone(),
            instruments: job.instruments.clone(),
            deliveries: job.deliveries.clone(),
            outsiders: job.outsiders.clone(),
        };
        let all_joints = |ids: &[JointId]| {
            let kept = joints.all(ids);
            (kept.len() == ids.len()).then_some(kept)
        };
        let labour = &g.labour;
        // Whoever works on a board of another part only does not work on those of this one.
        let elsewhere = labour.pins.iter().filter_map(|pin| match pin.what {
            PinKind::PersonOn(p, b) if boards.get(b).is_none() => Some((pin, p)),
            _ => None,
        });
        let elsewhere = elsewhere.flat_map(|(pin, p)| {
            let not = move |b: BoardId| Pin { what: PinKind::PersonNotOn(p, b), ..pin.clone() };
            boards.old.iter().filter_map(|b| boards.get(*b)).map(not)
        });
        let elsewhere: Vec<Pin> = elsewhere.collect();
        let labour = Labour {
            circuits: (circuits.rows(&labour.circuits).into_iter())
                .map(|mut c| {
                    if let Some(Fallback::TemporarySupply(s)) = &mut c.fallback {
                        *s = supplies.get(*s)?;
                    }
                    Some(c)
                })
                .collect::<Option<_>>()?,
            boards: boards.rows(&labour.boards),
            positions: positions.rows(&labour.positions),
            groups: groups.rows(&labour.groups),
            supplies: (supplies.rows(&labour.supplies).into_iter())
                .map(|s| Some(SupplyLabour { position: positions.get(s.position)?, ..s }))
                .collect::<Option<_>>()?,
            tails: (tails.iter().map(|t| &labour.tails[*t]))
                .map(|t| {
                    Some(Tails {
                        board: boards.get(t.board)?,
                        position: positions.get(t.position)?,
                        breaks: all_joints(&t.breaks)?,
                        makes: all_joints(&t.makes)?,
                        ..t.clone()
                    })
                })
                .collect::<Option<_>>()?,
            banks: (banks.iter().map(|b| &labour.banks[*b]))
                .map(|b| {
                    Some(Bank {
                        board: boards.get(b.board)?,
                        ways: nodes.all(&b.ways),
                        ..b.clone()
                    })
                })
                .collect::<Option<_>>()?,
            holds: (holds.iter().map(|h| &labour.holds[*h]))
                .map(|h| {
                    let board = h.board.and_then(|b| boards.get(b));
                    Hold { board, ..h.clone() }
                })
                .collect(),
            pins: (labour.pins.iter())
                .filter_map(|pin| {
                    let what = match &pin.what {
                        PinKind::CircuitIn(c, w) => PinKind::CircuitIn(circuits.get(*c)?, *w),
                        PinKind::CircuitNotIn(c, w) => PinKind::CircuitNotIn(circuits.get(*c)?, *w),
                        PinKind::NotBefore(c, t) => PinKind::NotBefore(circuits.get(*c)?, *t),
                        PinKind::Together(all) => PinKind::Together(circuits.all(all)),
                        PinKind::PersonOn(p, b) => PinKind::PersonOn(*p, boards.get(*b)?),
                        PinKind::PersonNotOn(p, b) => PinKind::PersonNotOn(*p, boards.get(*b)?),
                        PinKind::RidesNotOn(c, s) => {
                            PinKind::RidesNotOn(circuits.get(*c)?, supplies.get(*s)?)
                        }
                        PinKind::RidesOn(c, s) => {
                            PinKind::RidesOn(circuits.get(*c)?, supplies.get(*s)?)
                        }
                        PinKind::RidesOnNone(c) => PinKind::RidesOnNone(circuits.get(*c)?),
                        PinKind::LockAt(d) => PinKind::LockAt(devices.get(*d)?),
                        PinKind::NoLockAt(d) => PinKind::NoLockAt(devices.get(*d)?),
                        other @ (PinKind::AtMostVisits(_) | PinKind::WindowUnused(_)) => {
                            other.clone()
                        }
                    };
                    Some(Pin { what, ..pin.clone() })
                })
                .chain(elsewhere)
                .collect(),
            neighbours: labour.neighbours.clone(),
            lock_box: labour.lock_box.clone(),
        };
        let whole = Whole {
            boards: boards.old,
            circuits: circuits.old,
            devices: devices.old,
            groups: groups.old,
            holds,
            banks,
            positions: positions.old,
            supplies: supplies.old,
            tails,
        };
        Some(Part { job: part, labour, nth, whole })
    }

    /// Nothing begins before a time.
    pub fn begin(&mut self, from: Minutes) {
        self.job.span.from = self.job.span.from.max(from);
    }

    /// Whether all that goes dead by these devices of the whole job is in the part.
    pub fn reaches(&self, lost: &[CircuitId]) -> bool {
        lost.iter().all(|c| self.whole.circuits.binary_search(c).is_ok())
    }

    /// A session of the part as one of the whole job.
    pub fn in_whole(&self, timed: &Timed) -> Timed {
        let piece = |piece: &Piece| Piece {
            name: format!("{}.{}", self.nth + 1, piece.name),
            role: self.role(&piece.role),
            position: piece.position.map(|p| self.whole.positions[p.index()]),
            board: piece.board.map(|b| self.whole.boards[b.index()]),
            ..piece.clone()
        };
        Timed {
            session: self.session(&timed.session),
            pieces: timed.pieces.iter().map(piece).collect(),
            start: timed.start.clone(),
            crew: timed.crew.clone(),
        }
    }

    fn session(&self, s: &Session) -> Session {
        let w = &self.whole;
        let boards = |all: &[BoardId]| all.iter().map(|b| w.boards[b.index()]).collect();
        let circuits = |all: &[CircuitId]| all.iter().map(|c| w.circuits[c.index()]).collect();
        let groups = |all: &[GroupId]| all.iter().map(|x| w.groups[x.index()]).collect();
        let set = |set: &DeadSet| DeadSet {
            boards: boards(&set.boards),
            locks: set.locks.iter().map(|d| w.devices[d.index()]).collect(),
            prove: self.positions(&set.prove),
            prove_after_strip: self.positions(&set.prove_after_strip),
            apart: set.apart,
            cuts: set.cuts,
        };
        let ride = |ride: &Ride| Ride {
            circuit: w.circuits[ride.circuit.index()],
            supply: w.supplies[ride.supply.index()],
            ..*ride
        };
        Session {
            window: s.window,
            period: s.period,
            people: s.people.clone(),
            dead: s.dead.iter().map(set).collect(),
            identify: circuits(&s.identify),
            off: circuits(&s.off),
            on: circuits(&s.on),
            waiting: circuits(&s.waiting),
            waited: circuits(&s.waited),
            rides: s.rides.iter().map(ride).collect(),
            gate: s.gate,
            tails: s.tails.iter().map(|t| w.tails[*t]).collect(),
            strip_dead: boards(&s.strip_dead),
            strip_late: boards(&s.strip_late),
            mount: boards(&s.mount),
            surge: boards(&s.surge),
            test: boards(&s.test),
            alive: boards(&s.alive),
            cover: boards(&s.cover),
            may_rest: groups(&s.may_rest),
            rest: groups(&s.rest),
            function_tests: groups(&s.function_tests),
            known: boards(&s.known),
            opening: s.opening,
        }
    }

    fn positions(&self, all: &[PositionId]) -> Vec<PositionId> {
        all.iter().map(|p| self.whole.positions[p.index()]).collect()
    }

    fn role(&self, role: &Role) -> Role {
        let w = &self.whole;
        let board = |b: &BoardId| w.boards[b.index()];
        let circuit = |c: &CircuitId| w.circuits[c.index()];
        let supply = |s: &SupplyId| w.supplies[s.index()];
        match role {
            Role::Hold(h) => Role::Hold(w.holds[*h]),
            Role::Isolate(k) => Role::Isolate(*k),
            Role::Prove(at) => Role::Prove(self.positions(at)),
            Role::Disconnect(c) => Role::Disconnect(circuit(c)),
            Role::HookUp(c, s) => Role::HookUp(circuit(c), supply(s)),
            Role::SupplyOn(s) => Role::SupplyOn(supply(s)),
            Role::SupplyOff(s) => Role::SupplyOff(supply(s)),
            Role::Unhook(c, s) => Role::Unhook(circuit(c), supply(s)),
            Role::Tails(t) => Role::Tails(w.tails[*t]),
            Role::StripOut(b) => Role::StripOut(board(b)),
            Role::Mount(b) => Role::Mount(board(b)),
            Role::Dress(b) => Role::Dress(w.banks[*b]),
            Role::FitSurge(b) => Role::FitSurge(board(b)),
            Role::Connect(c) => Role::Connect(circuit(c)),
            Role::DeadTest(c) => Role::DeadTest(circuit(c)),
            Role::TestBoard(b) => Role::TestBoard(board(b)),
            Role::Covers(b) => Role::Covers(board(b)),
            Role::Energise(b) => Role::Energise(board(b)),
            Role::LocksOff(k) => Role::LocksOff(*k),
            Role::LiveTest(c) => Role::LiveTest(circuit(c)),
            Role::FunctionTest(x) => Role::FunctionTest(w.groups[x.index()]),
            Role::Identify(c) => Role::Identify(circuit(c)),
        }
    }
}
