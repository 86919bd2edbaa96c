//! Risk assessment, contacts and keys: one sheet for whoever must reach somebody or something fast.

use super::Input;
use super::hazards;
use super::name;
use super::steps::Step;
use crate::model::*;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    emergency_number: String,
    first_aid: String,
    place: String,
    team: Vec<[String; 3]>,
    contacts: Vec<[String; 3]>,
    holds: Vec<[String; 3]>,
    decides: Vec<[String; 3]>,
    /// Who is in charge, with their number.
    charge: [String; 2],
    third_parties: Vec<[String; 2]>,
    keys: Vec<[String; 3]>,
    stated: Vec<Stated>,
    hazards: Vec<[String; 2]>,
}

/// A danger that the job states.
#[derive(Serialize)]
struct Stated {
    hazard: String,
    who: String,
    control: String,
    owner: String,
}

/// The role of one of the team of whom the job says none.
const ELECTRICIAN: &str = "electrician";

/// The sheet's view.
pub fn view(input: &Input, _: &[Step]) -> View {
    let (job, site) = (input.sound.job(), input.site);
    View {
        emergency_number: site.paper.emergency_number.clone(),
        first_aid: site.paper.first_aid.clone(),
        place: site.paper.place.clone(),
        team: job
            .people
            .ids()
            .filter(|p| !site.contacts.iter().any(|c| c.name == job.people.name(*p)))
            .map(|p| {
                let label = &site.people[p.index()];
                let role = if label.role.is_empty() { ELECTRICIAN } else { &label.role };
                [job.people.name(p).to_owned(), role.to_owned(), label.phone.clone()]
            })
            .collect(),
        contacts: site
            .contacts
            .iter()
            .map(|c| {
                let team = job.people.find(&c.name).is_some();
                let role = if team && c.role.is_empty() { ELECTRICIAN } else { &c.role };
                [c.name.clone(), role.to_owned(), c.phone.clone()]
            })
            .collect(),
        holds: holds(input),
        decides: decides(input),
        charge: charge(input),
        third_parties: third_parties(input),
        keys: keys(input),
        stated: site
            .risks
            .iter()
            .map(|r| Stated {
                hazard: r.hazard.clone(),
                who: r.who.clone(),
                control: r.control.clone(),
                owner: r.owner.clone(),
            })
            .collect(),
        hazards: hazards::hazards(input),
    }
}

/// What waits for a word from whom, with their number.
fn holds(input: &Input) -> Vec<[String; 3]> {
    let mut out: Vec<[String; 3]> = Vec::new();
    for hold in &input.labour.holds {
        let row = [hold.name.clone(), hold.who.clone(), phone(input, &hold.who)];
        if !out.contains(&row) {
            out.push(row);
        }
    }
    out
}

/// The number of somebody by name; blank where the job gives none.
fn phone(input: &Input, who: &str) -> String {
    let (job, site) = (input.sound.job(), input.site);
    let contact = site.contacts.iter().find(|c| c.name == who).map(|c| c.phone.clone());
    let person = || job.people.find(who).map(|p| site.people[p.index()].phone.clone());
    contact.or_else(person).unwrap_or_default()
}

/// Who decides for which circuits, if a test fails or a breaker is late.
fn decides(input: &Input) -> Vec<[String; 3]> {
    let mut out: Vec<(String, Vec<String>)> = Vec::new();
    for label in input.site.circuits.iter().filter(|c| !c.decides.is_empty()) {
        match out.iter_mut().find(|(who, _)| *who == label.decides) {
            Some((_, all)) => all.push(label.number.clone()),
            None => out.push((label.decides.clone(), vec![label.number.clone()])),
        }
    }
    let row = |(who, all): (String, Vec<String>)| {
        let circuits = if all.len() == 1 { "circuit" } else { "circuits" };
        let phone = phone(input, &who);
        [who, format!("{circuits} {}", name::list(&all)), phone]
    };
    out.into_iter().map(row).collect()
}

/// Whoever has charge in their role; blank where nobody has.
fn charge(input: &Input) -> [String; 2] {
    let (people, site) = (&input.sound.job().people, input.site);
    let found = people.ids().find(|p| site.people[p.index()].role.contains("charge"));
    let row = |p: PersonId| [people.name(p).to_owned(), site.people[p.index()].phone.clone()];
    found.map(row).unwrap_or_default()
}

fn third_parties(input: &Input) -> Vec<[String; 2]> {
    let job = input.sound.job();
    job.devices
        .iter()
        .filter_map(|(id, d)| {
            let party = d.third_party.as_ref()?;
            let times: Vec<String> =
                party.appointments.iter().map(|p| name::span(input, *p)).collect();
            let what = format!("{}: {}", name::device(input, id), times.join("; "));
            Some([name::who(input, party.owner), what])
        })
        .collect()
}

/// Keys and access of the job, then the key switches of emergency lighting.
fn keys(input: &Input) -> Vec<[String; 3]> {
    let (job, site) = (input.sound.job(), input.site);
    let mut out: Vec<[String; 3]> =
        site.access.iter().map(|a| [a.what.clone(), a.holder.clone(), a.how.clone()]).collect();
    for g in job.groups.ids().filter(|g| !site.groups[g.index()].key_switch.is_empty()) {
        let key = &site.groups[g.index()].key_switch;
        let what = format!("key switch {key}, emergency group {}", job.groups.name(g));
        out.push([what, String::new(), String::new()]);
    }
    out
}
