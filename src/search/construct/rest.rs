//! Rest mode for emergency groups, where a candidate leaves them too little.

use super::Candidate;
use crate::search::ground::Ground;
use crate::search::judge::{self, Trouble};
use crate::search::timing::Timed;
use crate::search::{acts, claims, pins};

/// The candidate of these sessions, with rest mode for each group that would run too low
/// without: it is decided here because it moves no task.
pub fn rested(g: &Ground, mut sessions: Vec<Timed>, mut script: acts::Script) -> Candidate {
    loop {
        let history = claims::history(g, &script.tasks, &script.events);
        let mut troubles = judge::troubles(g, &sessions, &history);
        let broken = pins::broken(g, &script.tasks, &script.events, &history.out);
        troubles.extend(broken.into_iter().map(Trouble::Fixed));
        let low = troubles.iter().find_map(|t| match t {
            Trouble::Autonomy { group, .. } => Some(*group),
            _ => None,
        });
        let mut added = false;
        if let Some(group) = low.filter(|group| g.job.groups[*group].rest_mode) {
            for timed in &mut sessions {
                if timed.session.may_rest.contains(&group) && !timed.session.rest.contains(&group) {
                    timed.session.rest.push(group);
                    added = true;
                }
            }
        }
        if !added {
            return Candidate { sessions, history, troubles };
        }
        script = acts::script(g, &sessions);
    }
}
