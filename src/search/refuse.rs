//! Why there is no plan: what is proved to bind, by how many minutes, and what would mend it.
//!
//! Each [`Fact`] is a small theorem about every plan of the job, worked out from figures that the
//! job states; none of them rests on what the search happened to try. Mends are computed by runs
//! of their own on a changed job.

use super::construct::Miss;
use super::ground::Ground;
use super::judge::Trouble;
use super::minimal::Minimal;
use super::pins;
use super::{Options, Outcome};
use crate::model::*;
use crate::network::Unbreakable;
use crate::units::{Minutes, Period};

/// Windows are tried up to so many hours longer.
const MOST_HOURS: i64 = 6;

/// Why there is no plan.
#[derive(Clone, Debug)]
pub struct Refusal {
    /// What proves that there is none; empty if none was found but that is not proved.
    pub facts: Vec<Fact>,
    /// What stood in the way of the candidates, where nothing is proved.
    pub met: Vec<Met>,
    /// A smallest set of what the job asks for that leaves no plan.
    pub minimal: Option<Minimal>,
    /// Sets of changes with which a plan was found.
    pub mends: Vec<Vec<Mend>>,
}

impl Refusal {
    /// Whether it is proved that there is no plan.
    pub fn proved(&self) -> bool {
        !self.facts.is_empty()
    }
}

/// Something that no plan of the job can get round.
#[derive(Clone, Debug, PartialEq)]
pub enum Fact {
    /// All dead and live tests are done while their circuits are out, so in windows, and there
    /// are too few tester-minutes in them.
    Testers {
        /// Minutes of testing.
        work: Minutes,
        /// Minutes that the windows leave for it, for all testers together.
        room: Minutes,
        /// How many testers.
        testers: usize,
        /// How many windows.
        windows: usize,
    },
    /// The same for people, with disconnecting and connecting.
    People {
        /// Person-minutes of work.
        work: Minutes,
        /// Person-minutes of presence in windows.
        room: Minutes,
    },
    /// A board changed in the same place is out from stripping out to its last live test, and
    /// that fits no window.
    SamePlace {
        /// The old board.
        board: BoardId,
        /// How long that takes at least.
        least: Minutes,
        /// The longest window's minutes up to its margin.
        room: Minutes,
    },
    /// A tails changeover with the board's dead test fits no window.
    TailsChangeover {
        /// The new board.
        board: BoardId,
        /// How long all of the old board is out at least.
        least: Minutes,
        /// The longest window's minutes up to its margin.
        room: Minutes,
    },
    /// A load may be out for a shorter time than moving its circuit takes.
    LoadLimit {
        /// The load.
        load: LoadId,
        /// Its limit, or 0 for a life-safety load.
        limit: Minutes,
        /// How long moving its circuit takes at least, what its battery carries taken off.
        least: Minutes,
        /// A temporary supply would carry it, but none can be joined to it.
        unsupplied: bool,
    },
    /// Something that a circuit waits for comes when the last window is over, and the job says
    /// nothing of leaving it off.
    Late {
        /// The circuit.
        circuit: CircuitId,
        /// When it comes.
        at: Minutes,
        /// When the last window ends.
        last: Minutes,
    },
    /// A board cannot be isolated and locked off.
    NoIsolation {
        /// The board.
        board: BoardId,
        /// The path that nothing breaks.
        path: Unbreakable,
    },
    /// Decisions of the user that cannot all be kept, by their places in the labour's list.
    Fixed(Vec<usize>),
    /// No window is open for all areas that go dark together.
    NoWindow {
        /// Those areas.
        areas: Vec<AreaId>,
    },
}

/// What stood in the way of candidates.
#[derive(Clone, Debug, PartialEq)]
pub enum Met {
    /// A task found no time in a window.
    Task {
        /// Its name.
        task: String,
        /// The window.
        window: WindowId,
        /// Minutes over, if that was it.
        by: Option<i64>,
    },
    /// Too few people are there for long enough.
    Team(WindowId),
    /// A limit was passed.
    Limit(Trouble),
    /// A temporary supply would itself go dead.
    Supply(SupplyId, WindowId),
}

impl Met {
    /// Whether both tell of the same task, window, limit or supply.
    fn is_as(&self, other: &Met) -> bool {
        match (self, other) {
            (Met::Task { task: a, .. }, Met::Task { task: b, .. }) => a == b,
            _ => self == other,
        }
    }

    /// Takes what `other` says in its place if that missed by fewer minutes.
    fn keep_nearer(&mut self, other: Met) {
        let over = |met: &Met| match met {
            Met::Task { by, .. } => by.unwrap_or(i64::MAX),
            _ => i64::MAX,
        };
        if over(&other) < over(self) {
            *self = other;
        }
    }
}

/// A change of the job with which a plan was found.
#[derive(Clone, Debug, PartialEq)]
pub enum Mend {
    /// One more tester.
    Tester,
    /// One more person, present as the first is.
    Person,
    /// Every window longer by so much at its start.
    LongerWindows(Minutes),
}

/// Everything that can be proved against a job.
pub fn facts(g: &Ground, misses: &[Miss]) -> Vec<Fact> {
    let mut all = Vec::new();
    for miss in misses {
        if let Miss::Unsafe(no) = miss {
            let fact = Fact::NoIsolation { board: no.board, path: no.path.clone() };
            if !all.contains(&fact) {
                all.push(fact);
            }
        }
    }
    all.extend(pins::contradictions(g).into_iter().map(Fact::Fixed));
    late(g, &mut all);
    capacity(g, &mut all);
    boards(g, &mut all);
    limits(g, &mut all);
    all
}

/// The minutes of a window in which something may be out.
fn room(g: &Ground, window: &Window) -> Minutes {
    (window.period.length() - g.job.policy.margin).max(Minutes::ZERO)
}

fn longest_room(g: &Ground) -> Minutes {
    // Windows that overlap are still one window each for F1, so the longest counts.
    g.job.windows.rows().iter().map(|w| room(g, w)).max().unwrap_or_default()
}

/// Circuits that are moved in an outage which has to lie in one window: some load needs this
/// very circuit, and does not stay out into a later window.
fn bound_to_windows(g: &Ground, c: CircuitId) -> bool {
    let route = &g.routes[c.index()];
    let moves = !route.old.is_empty() && !route.new.is_empty();
    let needs = |l: &LoadId| {
        let load = &g.job.loads[*l];
        load.quorum() == load.circuits.len() && !load.may_stay_out
    };
    moves && g.job.circuits[c].left_off.is_none() && g.loads_of[c.index()].iter().any(needs)
}

/// The shorter of a piece of work's two durations.
fn least(v: &Varied) -> Minutes {
    v.prepared.planned.min(v.fresh.planned)
}

fn late(g: &Ground, all: &mut Vec<Fact>) {
    let last = g.job.windows.rows().iter().map(|w| w.period.to).max().unwrap_or_default();
    for c in g.job.circuits.ids().filter(|c| bound_to_windows(g, *c)) {
        let delivery = g.labour.circuits[c.index()].delivery.map(|d| g.job.deliveries[d]);
        if let Some(at) = delivery.filter(|at| *at >= last) {
            all.push(Fact::Late { circuit: c, at, last });
        }
    }
}

fn capacity(g: &Ground, all: &mut Vec<Fact>) {
    let circuits: Vec<CircuitId> =
        g.job.circuits.ids().filter(|c| bound_to_windows(g, *c)).collect();
    let labour = |c: &CircuitId| &g.labour.circuits[c.index()];
    let tests: i64 = circuits
        .iter()
        .map(|c| (least(&labour(c).dead_test) + least(&labour(c).live_test)).0)
        .sum();
    let hands: i64 =
        circuits.iter().map(|c| (least(&labour(c).disconnect) + least(&labour(c).connect)).0).sum();
    let testers =
        g.job.instruments.rows().iter().filter(|i| i.kinds.iter().any(|k| k == TESTER)).count();
    let rooms: i64 = visits(g).iter().map(|p| p.length().0).sum();
    let windows = g.job.windows.len();
    let tester_room = Minutes(rooms * testers as i64);
    if Minutes(tests) > tester_room {
        all.push(Fact::Testers { work: Minutes(tests), room: tester_room, testers, windows });
    }
    let people_room: i64 = g
        .job
        .people
        .rows()
        .iter()
        .flat_map(|p| &p.present)
        .map(|s| visits(g).iter().map(|v| overlap(*s, *v)).sum::<i64>())
        .sum();
    if tests + hands > people_room {
        all.push(Fact::People { work: Minutes(tests + hands), room: Minutes(people_room) });
    }
}

/// Times in which something may be out at all, merged where windows overlap.
fn visits(g: &Ground) -> Vec<Period> {
    let spans = (g.job.windows.rows().iter())
        .map(|w| Period { from: w.period.from, to: w.period.from + room(g, w) });
    Period::merged(spans)
}

fn overlap(a: Period, b: Period) -> i64 {
    (a.to.min(b.to) - a.from.max(b.from)).0.max(0)
}

/// The circuits of a board that no temporary supply can carry.
fn not_riding(g: &Ground, board: BoardId) -> Vec<CircuitId> {
    let rides = |c: CircuitId| {
        g.job.joints.rows().iter().any(|j| matches!(j.of, Some((x, Place::On(_))) if x == c))
    };
    g.job
        .circuits
        .ids()
        .filter(|c| g.routes[c.index()].from == Some(board))
        .filter(|c| bound_to_windows(g, *c) && !rides(*c))
        .collect()
}

fn boards(g: &Ground, all: &mut Vec<Fact>) {
    let room = longest_room(g);
    let testers =
        g.job.instruments.rows().iter().filter(|i| i.kinds.iter().any(|k| k == TESTER)).count();
    for new in g.job.boards.ids() {
        let l = &g.labour.boards[new.index()];
        let old = g.job.boards[new].replaces;
        if let (BoardRole::NewSamePlace, Some(old)) = (l.role, old) {
            let circuits = not_riding(g, old);
            let work = |of: &dyn Fn(&CircuitLabour) -> Minutes| -> i64 {
                circuits.iter().map(|c| of(&g.labour.circuits[c.index()]).0).sum()
            };
            let tests = work(&|c| least(&c.dead_test) + least(&c.live_test));
            let hands = work(&|c| least(&c.connect));
            let people = g.job.people.len().max(1) as i64;
            let after = (tests / testers.max(1) as i64).max((tests + hands) / people);
            let strip = g.labour.boards[old.index()].strip_out.planned;
            let least = strip + l.mount.planned + Minutes(after);
            if !circuits.is_empty() && least > room {
                all.push(Fact::SamePlace { board: old, least, room });
            }
        }
        let cut = cut_in(g, new);
        if l.role == BoardRole::NewBeside && cut > Minutes::ZERO {
            let least = cut + l.test_board.planned;
            let somebody = g.projects.iter().filter(|p| p.new.contains(&new)).flat_map(|p| &p.old);
            let somebody = somebody.copied().any(|old| !not_riding(g, old).is_empty());
            if somebody && least > room {
                all.push(Fact::TailsChangeover { board: new, least, room });
            }
        }
    }
}

/// What a tails changeover to the board takes at least, from the moment at which all that the old
/// board feeds is off: it is discharged where the first tails come off, and the cable comes off
/// before it goes on (the terminations are worked in the order listed). Proving is not counted,
/// since the model lets it stand within other work.
fn cut_in(g: &Ground, new: BoardId) -> Minutes {
    let joints = &g.job.joints;
    let ends = |of: &[JointId]| -> Vec<NodeId> {
        of.iter().flat_map(|j| [joints[*j].a, joints[*j].b]).collect()
    };
    let cut_in = |t: &&Tails| t.stage == TailsStage::CutIn;
    let on: Vec<&Tails> = (g.labour.tails.iter().filter(cut_in))
        .filter(|t| t.board == new && !t.makes.is_empty())
        .collect();
    let moved: Vec<NodeId> = on.iter().flat_map(|t| ends(&t.makes)).collect();
    let off: Vec<&Tails> = (g.labour.tails.iter().filter(cut_in))
        .filter(|t| t.makes.is_empty() && ends(&t.breaks).iter().any(|n| moved.contains(n)))
        .collect();
    let work: i64 = off.iter().chain(&on).map(|t| t.effort.planned.0).sum();
    let before = off.first().map_or(Minutes::ZERO, |t| g.job.positions[t.position].discharge);
    before + Minutes(work)
}

fn limits(g: &Ground, all: &mut Vec<Fact>) {
    for (id, load) in g.job.loads.iter() {
        if load.quorum() < load.circuits.len() {
            continue;
        }
        let safety = (load.life_safety && load.measure.is_none()).then_some(Minutes::ZERO);
        let Some(limit) = safety.or(load.max_single) else { continue };
        for c in load.circuits.iter().filter(|c| bound_to_windows(g, **c)) {
            let l = &g.labour.circuits[c.index()];
            let rides = g.job.joints.rows().iter();
            let rides =
                rides.filter(|j| matches!(j.of, Some((x, Place::On(_))) if x == *c)).count() > 0;
            // On a supply it is out twice: while it is put on, and while it comes off, is
            // connected and tested; the longer of the two is one outage.
            let last = least(&l.connect) + least(&l.dead_test) + least(&l.live_test);
            let straight = if rides {
                (least(&l.disconnect) + l.hook_up.planned).max(l.unhook.planned + last)
            } else {
                least(&l.disconnect) + last
            };
            let counted = straight - load.ride_through;
            if counted > limit {
                let fact = Fact::LoadLimit { load: id, limit, least: counted, unsupplied: !rides };
                all.push(fact);
                break;
            }
        }
    }
}

/// What stood in the way, each once, at most so many; a task in the window that it missed by least.
pub fn met(misses: &[Miss], troubles: &[Trouble], most: usize) -> Vec<Met> {
    let mut all: Vec<Met> = troubles.iter().cloned().map(Met::Limit).collect();
    for miss in misses {
        let new = match miss {
            Miss::NoFit(no, window) => {
                let task = no.piece.as_ref().map_or_else(String::new, |p| p.name.clone());
                Met::Task { task, window: *window, by: super::construct::over_by(miss) }
            }
            Miss::NoTeam(window) => Met::Team(*window),
            Miss::Supply(supply, window) => Met::Supply(*supply, *window),
            _ => continue,
        };
        match all.iter_mut().find(|met| met.is_as(&new)) {
            Some(met) => met.keep_nearer(new),
            None => all.push(new),
        }
    }
    all.truncate(most);
    all
}

/// The job with a mend made.
pub(super) fn mended(job: &Job, mend: &Mend) -> Job {
    let mut job = job.clone();
    match mend {
        Mend::Tester => {
            let kinds = vec![DETECTOR.to_owned(), TESTER.to_owned()];
            job.instruments.add("one more tester", Instrument { kinds });
        }
        Mend::Person => {
            if let Some(first) = job.people.rows().first().cloned() {
                job.people.add("one more person", first);
            }
        }
        Mend::LongerWindows(by) => {
            for id in job.windows.ids().collect::<Vec<_>>() {
                job.windows[id].period.from = job.windows[id].period.from - *by;
            }
            // People who are there for the window are there for the longer one.
            for id in job.people.ids().collect::<Vec<_>>() {
                let longer = |span: &Period| Period { from: span.from - *by, to: span.to };
                job.people[id].present = Period::merged(job.people[id].present.iter().map(longer));
            }
        }
    }
    job
}

/// Whether a plan is found for the job with these mends. What is proved impossible is not tried.
fn helps(job: &Job, labour: &Labour, mends: &[Mend], options: Options) -> bool {
    let changed = mends.iter().fold(job.clone(), |j, m| mended(&j, m));
    let proved = !facts(&Ground::new(&changed, labour), &[]).is_empty();
    !proved && matches!(super::plan(&changed, labour, options), Outcome::Plan(_))
}

/// Changes with which a plan is found, each from a run of its own: more people or testers, with
/// windows as little longer as that takes. A set is told only if it spares something that the
/// sets before it ask for.
pub fn mends(job: &Job, labour: &Labour) -> Vec<Vec<Mend>> {
    let options = Options { moves: 200, tries: 6, seed: 1 };
    let more = [vec![], vec![Mend::Tester], vec![Mend::Person], vec![Mend::Tester, Mend::Person]];
    let mut found: Vec<Vec<Mend>> = Vec::new();
    let mut least = i64::MAX;
    for extra in more {
        for hours in 0..=MOST_HOURS {
            let longer = hours * 60;
            if longer >= least || (hours == 0 && extra.is_empty()) {
                continue;
            }
            let mut set = extra.clone();
            if hours > 0 {
                set.push(Mend::LongerWindows(Minutes(longer)));
            }
            if helps(job, labour, &set, options) {
                least = longer;
                found.push(set);
                break;
            }
        }
    }
    found
}
