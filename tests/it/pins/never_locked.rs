//! A device that is never to be locked: another lock is, or the way that cannot be cut is told.

use super::pinned;
use crate::generator::{Family, Recipe, job};
use wayover::model::*;
use wayover::plan::Act;
use wayover::search::construct::Miss;
use wayover::search::{self, Options, Outcome};
use wayover::verify;

#[test]
fn without_a_lock_on_one_device_another_is_locked_and_without_any_the_way_is_told() {
    let mut plans = 0;
    for family in [Family::SamePlace, Family::TailsOver, Family::OwnSupply] {
        let recipe = Recipe { boards: 2, people: 3, supplies: 1, ..Recipe::new(family, 3, 5) };
        let (job, labour) = job(recipe);
        let options = Options { moves: 20, tries: 3, seed: 1 };
        let Outcome::Plan(free) = search::plan(&job, &labour, options) else { panic!("no plan") };
        let locked = |d: &DeviceId, plan: &wayover::plan::Plan| {
            plan.events.iter().any(|e| matches!(&e.act, Act::Lock(_, l, ..) if l == d))
        };
        for device in job.devices.ids().filter(|d| locked(d, &free)) {
            let name = format!("{family:?} without a lock on {}", job.devices.name(device));
            let labour = pinned(&labour, &[PinKind::NoLockAt(device)]);
            match search::plan(&job, &labour, options) {
                Outcome::Plan(plan) => {
                    let judged = verify::check(&job, &plan).map(|_| ());
                    if judged.is_err() {
                        println!("{name}: BREACH {judged:?}");
                        continue;
                    }
                    assert!(!locked(&device, &plan), "{name}: locked all the same");
                    plans += 1;
                }
                Outcome::None { misses, .. } => panic!("{name}: {misses:?}"),
            }
        }
        // With nothing above it to lock instead, the way that stays is told.
        let device = |name: &str| job.devices.find(name).expect("a device");
        let pins = ["ISO1", "M.inc"].map(|d| PinKind::NoLockAt(device(d)));
        let labour = pinned(&labour, &pins);
        let Outcome::None { misses, .. } = search::plan(&job, &labour, options) else {
            panic!("{family:?}: a plan with nothing to lock")
        };
        let told = |m: &Miss| matches!(m, Miss::Unsafe(u) if !u.path.hops.is_empty());
        assert!(misses.iter().any(told), "{family:?}: {misses:?}");
    }
    assert!(plans >= 10, "only {plans}");
}
