//! Where a circuit is fed from at a moment, by the replay; and in which order circuits move.

use super::Input;
use crate::model::*;
use crate::units::Minutes;

/// Where a circuit is fed from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feed {
    /// From its way on this board.
    Board(BoardId),
    /// From a temporary supply.
    Temporary(SupplyId),
    /// From nowhere: it is off.
    Off,
}

/// Where `c` is fed from after everything that happens up to `t`.
pub fn at(input: &Input, c: CircuitId, t: Minutes) -> Feed {
    let (job, replay) = (input.sound.job(), input.sound.replay());
    let label = &input.site.circuits[c.index()];
    if !*replay.in_service(c).at(t) {
        return Feed::Off;
    }
    if let Some(s) = replay.riding(c).at(t) {
        return Feed::Temporary(*s);
    }
    let made = |place: Place| {
        job.joints.iter().any(|(j, facts)| facts.of == Some((c, place)) && *replay.joint(j).at(t))
    };
    let way = match (made(Place::New), &label.new) {
        (true, Some(new)) => Some(new),
        _ => label.old.as_ref(),
    };
    way.map_or(Feed::Off, |w| Feed::Board(w.board))
}

/// When a circuit is taken off its old way and when it has passed its live test.
#[derive(Clone, Copy, Debug)]
pub struct Move {
    /// The circuit.
    pub circuit: CircuitId,
    /// Taken off its old way.
    pub off: Minutes,
    /// Live-tested on its new way, if it comes to that.
    pub back: Option<Minutes>,
}

/// The circuits that are taken off their old ways, in the order in which that is done.
pub fn moves(input: &Input) -> Vec<Move> {
    let (plan, replay) = (input.sound.plan(), input.sound.replay());
    let mut out: Vec<Move> = Vec::new();
    for (t, task) in plan.tasks.iter() {
        let (Some(circuit), TaskKind::Disconnect) = (task.circuit, task.kind) else { continue };
        if let Some(run) = replay.task(t) {
            out.push(Move { circuit, off: run.start, back: None });
        }
    }
    for (t, task) in plan.tasks.iter().filter(|(_, t)| t.kind == TaskKind::LiveTest) {
        let end = replay.task(t).and_then(|r| r.end).map(|(end, _)| end);
        for m in out.iter_mut().filter(|m| Some(m.circuit) == task.circuit) {
            m.back = m.back.max(end);
        }
    }
    out.sort_by_key(|m| (m.off, m.circuit));
    out
}

/// The spans in which a temporary supply carries `c`; the end is none while it still does.
pub fn rides(input: &Input, c: CircuitId) -> Vec<(SupplyId, Minutes, Option<Minutes>)> {
    let mut out: Vec<(SupplyId, Minutes, Option<Minutes>)> = Vec::new();
    for (t, on) in input.sound.replay().riding(c).changes() {
        if let Some(last) = out.last_mut().filter(|r| r.2.is_none()) {
            last.2 = Some(t);
        }
        if let Some(s) = on {
            out.push((*s, t, None));
        }
    }
    out
}
