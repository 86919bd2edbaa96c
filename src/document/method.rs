//! The method statement: what is done, when, by whom, and how one goes back.

mod assumed;
mod backout;
mod circuits;
mod defaults;
mod holds;
pub mod lighting;
mod means;
mod off;
mod scope;
mod sequence;
mod supplies;

use super::Input;
use super::diagram::{self, Stages};
use super::hazards;
use super::name;
use super::steps::{self, Step};
use super::timeline::{self, Timeline};
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    scope: Vec<String>,
    boards: Vec<scope::Board>,
    windows: Vec<[String; 2]>,
    work: Vec<[String; 2]>,
    areas: Vec<[String; 4]>,
    roles: Vec<[String; 4]>,
    contacts: Vec<[String; 3]>,
    access: Vec<[String; 3]>,
    emergency_number: String,
    first_aid: String,
    hazards: Vec<[String; 2]>,
    tools: Vec<String>,
    materials: Vec<[String; 2]>,
    circuits: Vec<circuits::Circuit>,
    ends: Vec<[String; 3]>,
    off: Vec<off::Off>,
    groups: Vec<lighting::Group>,
    lighting: Vec<[String; 3]>,
    holds: Vec<holds::Hold>,
    visits: Vec<sequence::Visit>,
    turning: Vec<backout::Turning>,
    back_out: Vec<backout::Step>,
    checkpoints: Vec<[String; 3]>,
    supplies: Vec<supplies::Supply>,
    fixed: Vec<String>,
    /// Durations taken by default, in minutes: what for, the figures, how often.
    durations: Vec<[String; 3]>,
    /// The other defaults.
    defaults: Vec<[String; 3]>,
    questions: Vec<[String; 3]>,
    revisions: Vec<[String; 4]>,
    timeline: Timeline,
    stages: Stages,
    team: Vec<String>,
}

/// The method statement's view.
pub fn view(input: &Input, all: &[Step]) -> View {
    let (job, site) = (input.sound.job(), input.site);
    let (durations, defaults) = defaults::defaults(site);
    View {
        scope: scope::scope(input),
        boards: scope::boards(input),
        windows: scope::windows(input),
        work: steps::chapters(input, all).iter().filter_map(|c| scope::at_work(input, c)).collect(),
        areas: scope::areas(input),
        roles: means::roles(input),
        contacts: site
            .contacts
            .iter()
            .filter(|c| job.people.find(&c.name).is_none())
            .map(|c| [c.name.clone(), c.role.clone(), c.phone.clone()])
            .collect(),
        access: site
            .access
            .iter()
            .map(|a| [a.what.clone(), a.holder.clone(), a.how.clone()])
            .collect(),
        emergency_number: site.paper.emergency_number.clone(),
        first_aid: site.paper.first_aid.clone(),
        hazards: hazards::hazards(input),
        tools: means::tools(input),
        materials: means::materials(input),
        circuits: circuits::circuits(input),
        ends: site
            .ends
            .iter()
            .filter(|e| !name::stays(input, e.circuit))
            .map(|e| [name::circuit_text(input, e.circuit), e.end.to_owned(), e.why.clone()])
            .collect(),
        off: off::off(input, all),
        groups: job.groups.ids().map(|g| lighting::group(input, all, g)).collect(),
        lighting: lighting::lighting(input),
        holds: holds::holds(input, all),
        visits: sequence::visits(input, all),
        turning: backout::turning(input),
        back_out: backout::steps(input, all),
        checkpoints: backout::checkpoints(input, all),
        supplies: supplies::supplies(input),
        fixed: assumed::fixed(input),
        durations,
        defaults,
        questions: assumed::questions(site),
        revisions: site
            .paper
            .revisions
            .iter()
            .map(|r| [r.mark.clone(), name::date(&r.on), r.what.clone(), r.by.clone()])
            .collect(),
        timeline: timeline::timeline(input, all, "method-time"),
        stages: diagram::stages(input, all, "method-stage"),
        team: job.people.names().map(str::to_owned).collect(),
    }
}
