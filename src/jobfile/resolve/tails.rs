//! Work on terminations that belong to no circuit: tails, submains, links, and what comes off
//! with an old board.

use super::boards::temporary_link;
use super::build::{Build, rows, text};
use crate::model::*;

/// Work on terminations that the boards call for.
pub(super) fn tails(b: &mut Build) {
    let ids: Vec<BoardId> = b.job.boards.ids().collect();
    for &id in &ids {
        let made = b.boards[id.index()].clone();
        let Some(fed) = made.fed else { continue };
        let name = b.job.boards.name(id).to_string();
        let board = b.job.boards[id].clone();
        match made.role {
            BoardRole::Old => {
                let taken = moves_beside(b, fed.above);
                let (stage, position) = if taken {
                    (TailsStage::CutIn, board.incoming)
                } else {
                    (TailsStage::StripOut, board.ways)
                };
                push(
                    b,
                    format!("incoming tails off {name}"),
                    stage,
                    id,
                    position,
                    vec![fed.tails],
                    vec![],
                );
            }
            BoardRole::NewBeside | BoardRole::NewSamePlace => {
                let stage =
                    if shares_feed(b, id) { TailsStage::CutIn } else { TailsStage::Beforehand };
                let words = format!("incoming tails on {name}");
                push(b, words, stage, id, board.incoming, vec![], vec![fed.tails]);
                if let Some((upstream, joint)) = fed.supply_end {
                    let position = b.job.boards[upstream].ways;
                    let words = format!(
                        "supply end of the submain of {name}, at {}",
                        b.job.boards.name(upstream)
                    );
                    push(b, words, TailsStage::SupplyEnd, id, position, vec![], vec![joint]);
                }
            }
            BoardRole::Stays => {}
        }
    }
    for (_, joint, new, old, index) in b.links.clone() {
        let _ = new;
        let name = rows(&b.root.link).get(index).map_or(String::new(), |r| text(&r.name));
        let position = b.job.boards[old].ways;
        push(
            b,
            format!("{} on", temporary_link(&name)),
            TailsStage::LinkOn,
            old,
            position,
            vec![],
            vec![joint],
        );
        push(
            b,
            format!("{} off", temporary_link(&name)),
            TailsStage::LinkOff,
            old,
            position,
            vec![joint],
            vec![],
        );
    }
    super::refine::tails(b);
    // What else ends at an old board comes off with it.
    for &id in ids.iter().filter(|i| b.boards[i.index()].role == BoardRole::Old).collect::<Vec<_>>()
    {
        let board = b.job.boards[id].clone();
        let bare: Vec<NodeId> = [board.incoming, board.ways]
            .iter()
            .flat_map(|p| b.job.positions[*p].bare.clone())
            .collect();
        let loose: Vec<JointId> = b
            .job
            .joints
            .iter()
            .filter(|(j, joint)| {
                joint.made
                    && joint.of.is_none()
                    && (bare.contains(&joint.a) || bare.contains(&joint.b))
                    && joint.a != b.job.earth
                    && joint.b != b.job.earth
                    && !b.boards.iter().any(|m| {
                        m.fed.as_ref().is_some_and(|f| f.supply_end.is_some_and(|(_, e)| e == *j))
                    })
                    && !b.tails.iter().any(|t| t.breaks.contains(j))
            })
            .map(|(j, _)| j)
            .collect();
        if !loose.is_empty() {
            let words = format!("what else ends at {}", b.job.boards.name(id));
            push(b, words, TailsStage::StripOut, id, board.ways, loose, vec![]);
        }
    }
}

fn push(
    b: &mut Build,
    name: String,
    stage: TailsStage,
    board: BoardId,
    position: PositionId,
    breaks: Vec<JointId>,
    makes: Vec<JointId>,
) {
    let effort = b.tails_effort(stage, board);
    b.tails.push(Tails { name, stage, board, position, breaks, makes, effort });
}

/// Whether a new board gets the incoming cable of an old one.
pub(super) fn shares_feed(b: &Build, id: BoardId) -> bool {
    let Some(fed) = &b.boards[id.index()].fed else { return false };
    fed.supply_end.is_none()
        && b.boards.iter().any(|o| {
            o.role == BoardRole::Old && o.fed.as_ref().is_some_and(|f| f.above == fed.above)
        })
}

/// Whether the cable at `above` ends at a new board that comes beside an old one.
pub(super) fn moves_beside(b: &Build, above: NodeId) -> bool {
    b.boards
        .iter()
        .any(|n| n.role == BoardRole::NewBeside && n.fed.as_ref().is_some_and(|f| f.above == above))
}
