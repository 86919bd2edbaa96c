//! From a few decisions to a whole session: which boards are dead as one, which locks make them
//! safe, what has to be proved, what comes back.

mod locks;
mod sets;

use super::ground::Ground;
use crate::model::*;
use crate::network::{State, Unbreakable};
use crate::units::Period;
use crate::work::{DeadSet, Opening, Project, Ride, Session};

/// What is decided for one session of a project.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spec {
    /// Its window.
    pub window: WindowId,
    /// It lies in here.
    pub period: Period,
    /// Who takes part, the lead first.
    pub people: Vec<PersonId>,
    /// Units that move in it, as indices into the project's.
    pub units: Vec<usize>,
    /// The new boards take their tails over in it: the project's first, but for those before the cut-in.
    pub first: bool,
    /// It comes before the cut-in: what moves in it waits for that on the new board, or on a temporary
    /// supply.
    pub early: bool,
    /// Circuits that wait on the new board already.
    pub waited: Vec<CircuitId>,
    /// It is the project's last.
    pub last: bool,
    /// The old boards are stripped out in it: nothing is left on them after it.
    pub strip: bool,
    /// The old boards are out already.
    pub gone: bool,
    /// Circuits that go on a temporary supply in it.
    pub riders: Vec<Ride>,
    /// New boards that still have to be mounted in it.
    pub mount: Vec<BoardId>,
    /// The new boards have been tested and made live once already.
    pub tested: bool,
    /// Work on terminations that could not be done ahead.
    pub beforehand: Vec<usize>,
    /// How many connections are done before riders come off their supply.
    pub gate: usize,
}

/// Why a session cannot be made safe.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsafe {
    /// The board that cannot.
    pub board: BoardId,
    /// The path that cannot be broken.
    pub path: Unbreakable,
}

/// Everything of a session but its times.
///
/// # Errors
/// If some board cannot be made safe with the devices that there are.
pub fn session(
    g: &Ground,
    state: &State,
    project: &Project,
    spec: &Spec,
    known: &[BoardId],
) -> Result<Session, Unsafe> {
    let b = Build { g, state, project, spec };
    let units = || spec.units.iter().flat_map(|u| project.units[*u].iter().copied());
    let off: Vec<CircuitId> =
        units().filter(|c| g.routes[c.index()].old.iter().any(|j| state.made.has(*j))).collect();
    let waiting = |c: &CircuitId| spec.riders.iter().any(|r| r.circuit == *c && !r.comes_off);
    let on: Vec<CircuitId> = units()
        .filter(|c| !g.routes[c.index()].new.is_empty() && !waiting(c) && !b.stays_off(*c))
        .chain(spec.riders.iter().filter(|r| r.comes_off && !r.goes_on).map(|r| r.circuit))
        .collect();
    let tails = b.tails();
    let strip: Vec<BoardId> = if spec.strip { project.old.clone() } else { Vec::new() };
    let same_place = project.new.iter().any(|n| {
        g.labour.boards[n.index()].role == BoardRole::NewSamePlace && spec.mount.contains(n)
    });
    let dead = b.dead_sets(&off, &on, &tails)?;
    let late = |set: &DeadSet| !same_place && b.safe_without_supply(set, &strip, &off, &tails);
    let strip_late: Vec<BoardId> = (strip.iter().copied())
        .filter(|s| dead.iter().any(|set| set.boards.contains(s) && late(set)))
        .collect();
    let test = if spec.first && !spec.tested { project.new.clone() } else { Vec::new() };
    let has_surge =
        |n: &BoardId| g.job.surges.rows().iter().any(|s| s.board == Some(*n) && !s.fitted);
    let mut alive: Vec<BoardId> = b.stays(&tails);
    if !spec.early {
        alive.extend(&project.new);
    }
    if !spec.strip && !spec.gone {
        alive.extend(&project.old);
    }
    alive.retain(|a| dead.iter().any(|set| set.boards.contains(a)));
    let tested: Vec<CircuitId> =
        if spec.early { Vec::new() } else { on.iter().chain(&spec.waited).copied().collect() };
    let function_tests = b.function_tests(&tested);
    Ok(Session {
        window: Some(spec.window),
        period: spec.period,
        people: spec.people.clone(),
        identify: Vec::new(),
        rides: spec.riders.clone(),
        gate: spec.gate,
        strip_dead: strip.iter().copied().filter(|s| !strip_late.contains(s)).collect(),
        strip_late,
        mount: spec.mount.clone(),
        surge: spec.mount.iter().copied().filter(has_surge).collect(),
        test,
        alive,
        cover: if spec.last { project.new.clone() } else { Vec::new() },
        may_rest: Vec::new(),
        rest: Vec::new(),
        function_tests,
        known: known.to_vec(),
        opening: if known.is_empty() { Opening::FirstOfAll } else { Opening::Later },
        dead,
        off,
        waiting: if spec.early { on.clone() } else { Vec::new() },
        waited: if spec.early { Vec::new() } else { spec.waited.clone() },
        on,
        tails,
    })
}

struct Build<'a> {
    g: &'a Ground<'a>,
    state: &'a State,
    project: &'a Project,
    spec: &'a Spec,
}

impl Build<'_> {
    /// A circuit that the job leaves off, because its breaker does not come in time.
    fn stays_off(&self, c: CircuitId) -> bool {
        let delivery = self.g.labour.circuits[c.index()].delivery;
        let late = delivery.is_some_and(|d| self.g.job.deliveries[d] >= self.spec.period.to);
        late && self.g.job.circuits[c].left_off.is_some()
    }

    fn tails(&self) -> Vec<usize> {
        let wanted = |stage| match stage {
            TailsStage::Beforehand | TailsStage::StripOut => false,
            TailsStage::SupplyEnd | TailsStage::CutIn => self.spec.first,
            TailsStage::LinkOn => self.spec.first && !self.spec.strip,
            TailsStage::LinkOff => self.spec.strip && !self.spec.first,
        };
        let stage = |t: &usize| self.g.labour.tails[*t].stage;
        let mut all: Vec<usize> =
            self.project.tails.iter().copied().filter(|t| wanted(stage(t))).collect();
        all.extend(&self.spec.beforehand);
        all.sort_by_key(|t| (stage(t), *t));
        all
    }

    /// The board that work on terminations lays open.
    fn board_worked(&self, tails: &Tails) -> Option<BoardId> {
        self.g.job.positions[tails.position].board
    }

    /// Boards that stay, but where the end of a cable is worked on.
    fn stays(&self, tails: &[usize]) -> Vec<BoardId> {
        let mut all: Vec<BoardId> = tails
            .iter()
            .filter_map(|t| self.board_worked(&self.g.labour.tails[*t]))
            .filter(|b| self.g.labour.boards[b.index()].role == BoardRole::Stays)
            .collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// Groups tested at the end of this session: those whose circuits come on here, and in the
    /// last one those that nothing else tests.
    fn function_tests(&self, on: &[CircuitId]) -> Vec<GroupId> {
        let job = self.g.job;
        let moves = |c: CircuitId| !self.g.routes[c.index()].new.is_empty();
        (job.groups.iter())
            .filter(|(_, group)| {
                let here = on.contains(&group.feed) || on.contains(&group.watches);
                here || (self.spec.last && !moves(group.feed) && !moves(group.watches))
            })
            .map(|(id, _)| id)
            .collect()
    }
}

/// Work ahead of any outage.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ahead {
    /// Circuits identified and marked.
    pub identify: Vec<CircuitId>,
    /// New boards mounted.
    pub mount: Vec<BoardId>,
    /// These boards are tested and made live, too.
    pub live: bool,
}

/// Work ahead of any outage: circuits identified, new boards beside the old ones mounted.
///
/// # Errors
/// If a new board cannot be kept safe meanwhile.
pub fn ahead(
    g: &Ground,
    state: &State,
    project: &Project,
    people: Vec<PersonId>,
    period: Period,
    work: Ahead,
) -> Result<Session, Unsafe> {
    let Ahead { identify, mount, live } = work;
    let spec = no_window(people, period, mount.clone());
    let only_new = Project { old: Vec::new(), new: mount.clone(), ..project.clone() };
    let b = Build { g, state, project: &only_new, spec: &spec };
    let beforehand: Vec<usize> = (project.tails.iter().copied())
        .filter(|t| {
            let tails = &g.labour.tails[*t];
            tails.stage == TailsStage::Beforehand && mount.contains(&tails.board)
        })
        .collect();
    let dead = if mount.is_empty() { Vec::new() } else { b.dead_sets(&[], &[], &beforehand)? };
    let has_surge =
        |n: &BoardId| g.job.surges.rows().iter().any(|s| s.board == Some(*n) && !s.fitted);
    Ok(Session {
        window: None,
        period: spec.period,
        people: spec.people.clone(),
        dead,
        identify,
        off: Vec::new(),
        on: Vec::new(),
        waiting: Vec::new(),
        waited: Vec::new(),
        rides: Vec::new(),
        gate: 0,
        tails: beforehand,
        strip_dead: Vec::new(),
        strip_late: Vec::new(),
        surge: mount.iter().copied().filter(has_surge).collect(),
        test: if live { mount.clone() } else { Vec::new() },
        alive: if live { mount.clone() } else { Vec::new() },
        mount,
        cover: Vec::new(),
        may_rest: Vec::new(),
        rest: Vec::new(),
        function_tests: Vec::new(),
        known: Vec::new(),
        opening: Opening::Ahead,
    })
}

/// What is decided for work outside the windows.
fn no_window(people: Vec<PersonId>, period: Period, mount: Vec<BoardId>) -> Spec {
    Spec {
        window: WindowId::new(0),
        period,
        people,
        units: Vec::new(),
        first: false,
        early: false,
        waited: Vec::new(),
        last: false,
        strip: false,
        gone: false,
        riders: Vec::new(),
        mount,
        tested: false,
        beforehand: Vec::new(),
        gate: 0,
    }
}

/// Old boards on which nothing is left, stripped out when the windows are over.
///
/// # Errors
/// If one cannot be made safe.
pub fn stripping(
    g: &Ground,
    state: &State,
    project: &Project,
    people: Vec<PersonId>,
    period: Period,
    known: &[BoardId],
) -> Result<Session, Unsafe> {
    let spec = no_window(people, period, Vec::new());
    let only_old = Project { new: Vec::new(), ..project.clone() };
    let b = Build { g, state, project: &only_old, spec: &spec };
    Ok(Session {
        window: None,
        period,
        people: spec.people.clone(),
        dead: b.dead_sets(&[], &[], &[])?,
        identify: Vec::new(),
        off: Vec::new(),
        on: Vec::new(),
        waiting: Vec::new(),
        waited: Vec::new(),
        rides: Vec::new(),
        gate: 0,
        tails: Vec::new(),
        strip_dead: project.old.clone(),
        strip_late: Vec::new(),
        mount: Vec::new(),
        surge: Vec::new(),
        test: Vec::new(),
        alive: Vec::new(),
        cover: Vec::new(),
        may_rest: Vec::new(),
        rest: Vec::new(),
        function_tests: Vec::new(),
        known: known.to_vec(),
        opening: Opening::Ahead,
    })
}
