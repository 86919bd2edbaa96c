//! The work: what each piece takes, whom it waits for, and what the user has fixed.

use super::build::{Build, get, rows, text};
use super::decisions;
use super::durations::Three;
use super::pins;
use crate::diag::Fault;
use crate::jobfile::schema::{CircuitRow, Length, Prepared, Wiring};
use crate::jobfile::value::At;
use crate::model::*;

/// All task templates.
pub(super) fn labour(b: &mut Build, all: &[CircuitRow]) -> Labour {
    let ids: Vec<CircuitId> = b.job.circuits.ids().collect();
    let banks = banks(b);
    let circuits = ids.iter().map(|id| circuit(b, *id, all, &banks)).collect();
    let boards =
        b.job.boards.ids().collect::<Vec<_>>().into_iter().map(|id| board(b, id)).collect();
    let positions =
        b.job.positions.ids().collect::<Vec<_>>().into_iter().map(|id| position(b, id)).collect();
    let groups =
        b.job.groups.ids().collect::<Vec<_>>().into_iter().map(|id| group(b, id)).collect();
    let supplies =
        b.job.supplies.ids().collect::<Vec<_>>().into_iter().map(|id| supply(b, id)).collect();
    let holds = decisions::holds(b);
    let fixed = rows(&b.root.fixed);
    let pins = fixed.iter().enumerate().flat_map(|(n, row)| pins::pins(b, row, n)).collect();
    let lock_box = b.root.job.as_ref().and_then(|j| get(&j.value.lock_box));
    let lock_box = lock_box.unwrap_or_else(|| {
        b.default("name of the lock box", "lock box");
        "lock box".to_string()
    });
    let tails = std::mem::take(&mut b.tails);
    let neighbours = super::times::neighbours(b);
    Labour {
        circuits,
        boards,
        positions,
        groups,
        supplies,
        tails,
        banks,
        holds,
        pins,
        neighbours,
        lock_box,
    }
}

fn banks(b: &mut Build) -> Vec<Bank> {
    let mut banks = Vec::new();
    for id in b.job.boards.ids().collect::<Vec<_>>() {
        let row = b.board_row(id);
        for text in rows(&row.banks) {
            let (from, to) = text.value.split_once('-').unwrap_or((&text.value, &text.value));
            let range = from.trim().parse::<i64>().ok().zip(to.trim().parse::<i64>().ok());
            let ways = b.boards[id.index()].ways;
            let Some((from, to)) = range.filter(|(x, y)| 1 <= *x && x <= y && *y <= ways) else {
                let want = format!("a bank of ways such as `1-8`, within 1 to {ways}");
                let found = format!("`{}`", crate::jobfile::value::clip(&text.value));
                b.cx.fault(Fault::Value { want, found }, text.span);
                continue;
            };
            let mut inside: Vec<_> = b
                .ways
                .values()
                .filter(|w| w.board == id && from <= w.number && w.number <= to)
                .collect();
            inside.sort_by_key(|w| (w.number, w.line));
            let ways: Vec<NodeId> = inside.iter().map(|w| w.node).collect();
            let duration = b.duration("dress", |d| &d.dress);
            let effort = b.effort(duration, 1);
            banks.push(Bank { board: id, ways, effort });
        }
    }
    banks
}

fn circuit(b: &mut Build, id: CircuitId, all: &[CircuitRow], banks: &[Bank]) -> CircuitLabour {
    let name = b.job.circuits.name(id).to_string();
    let blank = CircuitRow::default();
    let row = all.iter().find(|r| text(&r.circuit) == name).unwrap_or(&blank);
    let wires = b.job.nodes[b.job.circuits[id].nodes[0]].wires;
    let three = wires.iter().filter(|w| w.is_line()).count() > 1;
    let ring = get(&row.wiring) == Some(Wiring::Ring);
    let d = |b: &mut Build,
             one: (&str, super::durations::Pick),
             more: (&str, super::durations::Pick)| {
        let (name, pick) = if three { more } else { one };
        b.duration(name, pick)
    };
    let disconnect = Varied {
        fresh: {
            let t =
                d(b, ("disconnect", |d| &d.disconnect), ("disconnect_3ph", |d| &d.disconnect_3ph));
            b.effort(t, 1)
        },
        prepared: {
            let t = d(
                b,
                ("disconnect_prepared", |d| &d.disconnect_prepared),
                ("disconnect_prepared_3ph", |d| &d.disconnect_prepared_3ph),
            );
            b.effort(t, 1)
        },
    };
    let mut longer = [0; 3];
    if get(&row.length_left) == Some(Length::Short) {
        let each = b.duration("lengthen_core", |d| &d.lengthen_core);
        let cores = i64::try_from(wires.len()).unwrap_or(0);
        longer = each.map(|m| m * cores);
    }
    let sum = |t: Three| [t[0] + longer[0], t[1] + longer[1], t[2] + longer[2]];
    let connect = Varied {
        fresh: {
            let t = d(b, ("connect", |d| &d.connect), ("connect_3ph", |d| &d.connect_3ph));
            b.effort(sum(t), 1)
        },
        prepared: {
            let t = d(
                b,
                ("connect_prepared", |d| &d.connect_prepared),
                ("connect_prepared_3ph", |d| &d.connect_prepared_3ph),
            );
            b.effort(sum(t), 1)
        },
    };
    let fresh = if ring {
        b.duration("dead_test_ring", |d| &d.dead_test_ring)
    } else {
        d(b, ("dead_test", |d| &d.dead_test), ("dead_test_3ph", |d| &d.dead_test_3ph))
    };
    let dead_test = Varied {
        fresh: b.effort(fresh, 1),
        prepared: {
            let t = d(
                b,
                ("dead_test_prepared", |d| &d.dead_test_prepared),
                ("dead_test_prepared_3ph", |d| &d.dead_test_prepared_3ph),
            );
            b.effort(t, 1)
        },
    };
    let fresh = if ring {
        b.duration("live_test_ring", |d| &d.live_test_ring)
    } else {
        d(b, ("live_test", |d| &d.live_test), ("live_test_3ph", |d| &d.live_test_3ph))
    };
    let live_test = Varied {
        fresh: b.effort(fresh, 1),
        prepared: {
            let t = d(
                b,
                ("live_test_prepared", |d| &d.live_test_prepared),
                ("live_test_prepared_3ph", |d| &d.live_test_prepared_3ph),
            );
            b.effort(t, 1)
        },
    };
    let rides =
        b.job.joints.rows().iter().any(|j| matches!(j.of, Some((c, Place::On(_))) if c == id));
    let (up, down) = if rides {
        (b.duration("hook_up", |d| &d.hook_up), b.duration("unhook", |d| &d.unhook))
    } else {
        ([6, 12, 30], [3, 6, 15])
    };
    let identify = b.duration("identify", |d| &d.identify);
    let way = b.job.joints.rows().iter().find(|j| j.of == Some((id, Place::New))).map(|j| j.a);
    let dressing_rank = way.and_then(|way| {
        let bank = banks.iter().find(|bank| bank.ways.contains(&way))?;
        u32::try_from(bank.ways.iter().position(|w| *w == way)?).ok()
    });
    let readiness = match get(&row.prepared) {
        Some(Prepared::Yes) => Readiness::Prepared,
        Some(Prepared::CanBe) => Readiness::CanPrepare,
        Some(Prepared::No) => Readiness::Unprepared,
        None => {
            b.default("a circuit is identified, marked and pre-tested", "no");
            Readiness::Unprepared
        }
    };
    CircuitLabour {
        readiness,
        identify: b.effort(identify, 1),
        disconnect,
        connect,
        dead_test,
        live_test,
        hook_up: b.effort(up, 1),
        unhook: b.effort(down, 1),
        delivery: b.delivery(&row.waits_for),
        dressing_rank,
        fallback: fallback(b, row),
    }
}

fn fallback(b: &mut Build, row: &CircuitRow) -> Option<Fallback> {
    let at = row.fallback.as_ref()?;
    match at.value.to_lowercase().as_str() {
        "left off" => Some(Fallback::LeftOff),
        "stand-in breaker" => Some(Fallback::StandIn),
        _ => match b.job.supplies.find(&at.value) {
            Some(supply) => Some(Fallback::TemporarySupply(supply)),
            None => {
                let known: Vec<String> = b
                    .job
                    .supplies
                    .names()
                    .map(String::from)
                    .chain(["left off".to_string(), "stand-in breaker".to_string()])
                    .collect();
                b.cx.unknown("fallback", at, known.iter().map(String::as_str));
                None
            }
        },
    }
}

fn board(b: &mut Build, id: BoardId) -> BoardLabour {
    let row = b.board_row(id);
    let made = b.boards[id.index()].clone();
    let crew = b.crew();
    let outlets = if made.phases == 3 { made.ways * 3 } else { made.ways };
    let stated = |b: &mut Build, own: &Option<At<Vec<crate::jobfile::value::Mins>>>| {
        own.as_ref().and_then(|at| b.three(at))
    };
    let strip = stated(b, &row.strip_out_min).unwrap_or_else(|| match outlets {
        _ if made.role != BoardRole::Old => [20, 35, 75],
        0..=24 => b.duration("strip_out_24", |d| &d.strip_out_24),
        25..=36 => b.duration("strip_out_36", |d| &d.strip_out_36),
        _ => larger(b.duration("strip_out_48", |d| &d.strip_out_48), outlets),
    });
    let new = matches!(made.role, BoardRole::NewBeside | BoardRole::NewSamePlace);
    let mount = stated(b, &row.mount_min).unwrap_or_else(|| match outlets {
        _ if !new => [30, 45, 100],
        0..=24 => b.duration("mount_24", |d| &d.mount_24),
        25..=36 => b.duration("mount_36", |d| &d.mount_36),
        _ => larger(b.duration("mount_48", |d| &d.mount_48), outlets),
    });
    let surge =
        stated(b, &row.surge_min).unwrap_or_else(|| b.duration("fit_surge", |d| &d.fit_surge));
    let test =
        stated(b, &row.test_min).unwrap_or_else(|| b.duration("test_board", |d| &d.test_board));
    let covers =
        stated(b, &row.covers_min).unwrap_or_else(|| b.duration("fit_covers", |d| &d.fit_covers));
    let isolate = b.duration("isolate", |d| &d.isolate);
    let again = b.duration("isolate_again", |d| &d.isolate_again);
    let energise = b.duration("energise", |d| &d.energise);
    let energise_again = b.duration("energise_again", |d| &d.energise_again);
    let covers_again = b.duration("covers_again", |d| &d.covers_again);
    BoardLabour {
        role: made.role,
        isolate: b.effort(isolate, crew.isolate),
        isolate_again: b.effort(again, crew.isolate),
        energise: b.effort(energise, crew.energise),
        energise_again: b.effort(energise_again, crew.energise_again),
        strip_out: b.effort(strip, crew.strip_out),
        mount: b.effort(mount, crew.mount),
        fit_surge: b.effort(surge, 1),
        test_board: b.effort(test, crew.test_board),
        fit_covers: b.effort(covers, 1),
        covers_again: b.effort(covers_again, 1),
        delivery: b.delivery(&row.delivery),
    }
}

/// A board of more than 48 outlets: in proportion, rounded up.
fn larger(three: Three, outlets: i64) -> Three {
    three.map(|m| (m * outlets.max(48) + 47).div_euclid(48))
}

fn position(b: &mut Build, id: PositionId) -> PositionLabour {
    let crew = b.crew();
    let first = b.duration("prove_dead", |d| &d.prove_dead);
    let again = b.duration("prove_again", |d| &d.prove_again);
    let each = b.duration("prove_point", |d| &d.prove_point);
    let place = &b.job.positions[id];
    let more = i64::try_from(place.points.len() + place.other_fed.len()).unwrap_or(1).max(1) - 1;
    let sum = |t: Three| [t[0] + each[0] * more, t[1] + each[1] * more, t[2] + each[2] * more];
    PositionLabour {
        area: b.position_areas.get(&id).copied(),
        prove: b.effort(sum(first), crew.prove),
        prove_again: b.effort(sum(again), crew.prove),
    }
}

fn group(b: &mut Build, id: GroupId) -> GroupLabour {
    let crew = b.crew();
    let name = b.job.groups.name(id).to_string();
    let row = rows(&b.root.emergency_group).into_iter().find(|r| text(&r.name) == name);
    let own = row.and_then(|r| r.test_min).and_then(|at| b.three(&at));
    let duration = own.unwrap_or_else(|| b.duration("function_test", |d| &d.function_test));
    GroupLabour { function_test: b.effort(duration, crew.function_test) }
}

fn supply(b: &mut Build, id: SupplyId) -> SupplyLabour {
    let off = b.duration("isolate_again", |d| &d.isolate_again);
    let on = b.duration("energise_again", |d| &d.energise_again);
    let position = b.supply_positions[id.index()];
    SupplyLabour { position, isolate: b.effort(off, 1), energise: b.effort(on, 1) }
}
