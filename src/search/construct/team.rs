//! Who attends a visit.

use super::ahead::lead_first;
use crate::model::*;
use crate::search::ground::Ground;
use crate::search::pins;
use crate::units::{Minutes, Period};
use crate::work::Project;

/// So many people who are there in a window, and the stretch of it for which all of them are.
pub(super) fn team(
    g: &Ground,
    project: &Project,
    window: WindowId,
    count: usize,
) -> Option<(Vec<PersonId>, Period)> {
    let whole = g.job.windows[window].period;
    let mut period = whole;
    let mut people = Vec::new();
    for p in pins::team(g, project, lead_first(g)) {
        let spans = &g.job.people[p].present;
        let longest = spans
            .iter()
            .map(|s| Period { from: s.from.max(whole.from), to: s.to.min(whole.to) })
            .filter(|s| s.length() > Minutes::ZERO)
            .max_by_key(|s| s.length());
        if let Some(there) = longest
            && people.len() < count
        {
            let both = Period { from: period.from.max(there.from), to: period.to.min(there.to) };
            if both.length().0 * 2 >= whole.length().0 {
                period = both;
                people.push(p);
            }
        }
    }
    if people.len() != count || count == 0 {
        return None;
    }
    if count == 1 && g.job.policy.alone.is_none() {
        period =
            accompanied(g, people[0], period).filter(|p| p.length().0 * 2 >= whole.length().0)?;
    }
    Some((people, period))
}

/// The longest stretch of a period in which another person is on site too, with a task or without
/// (W14).
fn accompanied(g: &Ground, person: PersonId, period: Period) -> Option<Period> {
    let others = g.job.people.iter().filter(|(other, _)| *other != person);
    others
        .flat_map(|(_, other)| &other.present)
        .map(|s| Period { from: s.from.max(period.from), to: s.to.min(period.to) })
        .max_by_key(|s| s.length())
}
