//! The tasks of a plan of the class, from the task templates, once it is decided who rides.

use crate::generator::Family;
use std::collections::BTreeSet;
use wayover::model::*;
use wayover::units::Minutes;

/// What a task does, as far as cost and order hang on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    Isolate,
    ProveOld,
    Disconnect(usize),
    ProveBox,
    HookUp(usize),
    SupplyOn,
    OldTails,
    StripOut,
    ProveNew,
    Mount,
    NewTails,
    FitSurge,
    SupplyOff,
    ProveBoxAgain,
    Unhook(usize),
    Connect(usize),
    DeadTest(usize),
    TestBoard,
    Energise,
    LiveTest(usize),
    FunctionTest(usize),
}

/// Who a task is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Crew {
    /// So many, whoever they are.
    Any(usize),
    /// This one: the keeper of the key of a temporary supply.
    Keeper(usize),
}

/// One task.
#[derive(Clone, Debug)]
pub struct Work {
    pub what: What,
    pub minutes: i64,
    pub crew: Crew,
    /// Takes the only instrument.
    pub instrument: bool,
    /// Done at the hook-up box, where one person can work.
    pub at_box: bool,
    /// Dead work at the new board, which stands still while the board is tested.
    pub at_new: bool,
    /// Tasks that end before it starts, as bits.
    pub after: u64,
}

/// Who rides, and who keeps the key on the way on and on the way off.
#[derive(Clone, Debug, Default)]
pub struct Riders {
    pub circuits: BTreeSet<usize>,
    pub keepers: [usize; 2],
}

/// All tasks, in an order in which none comes before what it waits for.
pub fn works(
    job: &Job,
    labour: &Labour,
    family: Family,
    riders: &Riders,
    tests: bool,
) -> Vec<Work> {
    let people = job.people.len();
    let mut all: Vec<Work> = Vec::new();
    let board = |role: fn(BoardRole) -> bool| {
        job.boards.ids().find(|b| role(labour.boards[b.index()].role)).expect("a board")
    };
    let old = board(|r| r == BoardRole::Old);
    let new = board(|r| r != BoardRole::Old);
    let same = family == Family::SamePlace;
    let (a, b) = (&labour.boards[old.index()], &labour.boards[new.index()]);
    let n = job.circuits.len();
    let rides = |c: usize| riders.circuits.contains(&c);
    let prove = |boards: &[BoardId]| -> i64 {
        let positions = boards.iter().flat_map(|b| [job.boards[*b].incoming, job.boards[*b].ways]);
        positions.map(|p| labour.positions[p.index()].prove.planned.0).sum()
    };
    let crew = |e: &Effort| Crew::Any(e.people.min(people));
    let mut add = |what, minutes: Minutes, crew, after: &[What]| {
        let bit = |w: &What| all.iter().position(|x: &Work| x.what == *w).map_or(0, |i| 1u64 << i);
        let after = after.iter().map(bit).fold(0, |x, y| x | y);
        let instrument = matches!(
            what,
            What::ProveOld
                | What::ProveNew
                | What::ProveBox
                | What::ProveBoxAgain
                | What::HookUp(_)
                | What::DeadTest(_)
                | What::TestBoard
                | What::LiveTest(_)
        );
        let at_box = matches!(what, What::HookUp(_) | What::Unhook(_));
        let at_new = matches!(
            what,
            What::Mount | What::NewTails | What::FitSurge | What::Connect(_) | What::DeadTest(_)
        );
        let minutes = minutes.0;
        all.push(Work { what, minutes, crew, instrument, at_box, at_new, after });
    };
    let circuit = |c: usize| &labour.circuits[c];
    if !riders.circuits.is_empty() {
        let box_ = labour.supplies[0].position;
        let minutes = labour.positions[box_.index()].prove.planned;
        add(What::ProveBox, minutes, Crew::Keeper(riders.keepers[0]), &[]);
    }
    add(What::Isolate, a.isolate.planned, crew(&a.isolate), &[]);
    let boards = if same { vec![old] } else { vec![old, new] };
    add(What::ProveOld, Minutes(prove(&boards)), Crew::Any(people), &[What::Isolate]);
    for c in 0..n {
        let e = &circuit(c).disconnect.prepared;
        add(What::Disconnect(c), e.planned, crew(e), &[What::ProveOld]);
    }
    let off: Vec<What> = (0..n).map(What::Disconnect).collect();
    for c in (0..n).filter(|c| rides(*c)) {
        let before = [What::ProveBox, What::Disconnect(c)];
        let keeper = Crew::Keeper(riders.keepers[0]);
        add(What::HookUp(c), circuit(c).hook_up.planned, keeper, &before);
    }
    let hooked: Vec<What> = (0..n).filter(|c| rides(*c)).map(What::HookUp).collect();
    if !hooked.is_empty() {
        let s = &labour.supplies[0];
        add(What::SupplyOn, s.energise.planned, Crew::Keeper(riders.keepers[0]), &hooked);
    }
    let tails = |at: BoardId| {
        let wanted = |t: &&Tails| t.stage == TailsStage::CutIn && t.board == at;
        &labour.tails.iter().find(wanted).expect("tails").effort
    };
    let mut strip = off.clone();
    if !same {
        add(What::OldTails, tails(old).planned, crew(tails(old)), &[What::ProveOld]);
        strip.push(What::OldTails);
    }
    add(What::StripOut, a.strip_out.planned, crew(&a.strip_out), &strip);
    if same {
        add(What::ProveNew, Minutes(prove(&[new])), Crew::Any(people), &[What::StripOut]);
        add(What::Mount, b.mount.planned, crew(&b.mount), &[What::ProveNew]);
        add(What::FitSurge, b.fit_surge.planned, crew(&b.fit_surge), &[What::Mount]);
    }
    let before = [What::Mount, What::OldTails, What::ProveOld];
    add(What::NewTails, tails(new).planned, crew(tails(new)), &before);
    if !hooked.is_empty() {
        let (s, keeper) = (&labour.supplies[0], Crew::Keeper(riders.keepers[1]));
        let again = labour.positions[s.position.index()].prove_again.planned;
        add(What::SupplyOff, s.isolate.planned, keeper, &[What::SupplyOn]);
        add(What::ProveBoxAgain, again, keeper, &[What::SupplyOff]);
        for c in (0..n).filter(|c| rides(*c)) {
            add(What::Unhook(c), circuit(c).unhook.planned, keeper, &[What::ProveBoxAgain]);
        }
    }
    for c in 0..n {
        let e = &circuit(c).connect.prepared;
        let before = [What::ProveOld, What::Mount, What::Disconnect(c), What::Unhook(c)];
        add(What::Connect(c), e.planned, crew(e), &before);
    }
    for c in 0..n {
        let e = &circuit(c).dead_test.prepared;
        add(What::DeadTest(c), e.planned, crew(e), &[What::Connect(c)]);
    }
    let ready = [What::Mount, What::FitSurge, What::NewTails];
    add(What::TestBoard, b.test_board.planned, crew(&b.test_board), &ready);
    let mut dead: Vec<What> = (0..n).map(What::DeadTest).collect();
    dead.extend([What::TestBoard, What::StripOut]);
    add(What::Energise, b.energise.planned, crew(&b.energise), &dead);
    for c in 0..n {
        let e = &circuit(c).live_test.prepared;
        add(What::LiveTest(c), e.planned, crew(e), &[What::Energise]);
    }
    for (g, group) in job.groups.iter().filter(|_| tests) {
        let e = &labour.groups[g.index()].function_test;
        let back = What::LiveTest(group.feed.index());
        add(What::FunctionTest(g.index()), e.planned, crew(e), &[back]);
    }
    all
}
