//! From a job's folder to a plan that has been checked: what `plan`, `print` and `trace` share.

use super::Exit;
use super::wait::Wait;
use crate::jobfile::{self, Matrix, Resolved};
use crate::plan::{DecisionCost, Plan};
use crate::search::watch::{Progress, Watch};
use crate::search::{self, Options, Outcome};
use crate::verify::{self, SoundPlan};
use std::collections::BTreeSet;
use std::path::Path;

/// The job of a folder; its faults are printed.
pub fn job(folder: &Path) -> Result<Resolved, Exit> {
    survey(folder).1
}

/// The job of a folder, its faults printed, and its emergency lighting as far as it can be read.
pub fn survey(folder: &Path) -> (Matrix, Result<Resolved, Exit>) {
    let told = |faults: Vec<crate::diag::Diagnostic>| {
        eprint!("{}", crate::diag::render(&faults));
        let n = faults.len();
        eprintln!("\n{n} {} in the job's files", if n == 1 { "fault" } else { "faults" });
        Exit::Unusable
    };
    match jobfile::read(folder) {
        Ok(file) => {
            let (matrix, job) = jobfile::survey(file);
            (matrix, job.map_err(told))
        }
        Err(faults) => (Matrix::default(), Err(told(faults))),
    }
}

/// A checked plan with the record that was judged.
pub struct Checked {
    /// The plan, safe to issue.
    pub sound: SoundPlan,
    /// Its record.
    pub record: String,
    /// A short fingerprint of the record.
    pub fingerprint: String,
    /// What ended the search before its effort was spent, if anything did.
    pub early: Option<&'static str>,
    /// What each decision of the user costs, where that was asked for.
    pub costs: Vec<DecisionCost>,
}

/// Plans a job and judges the plan's record as it would be read back; what went wrong is printed.
pub fn plan(job: &Resolved, options: Options, wait: &Wait) -> Result<Checked, Exit> {
    let brake = || wait.brake();
    let tell = |p: &Progress| wait.tell(p);
    let watch = Watch::new(&brake, if wait.shows() { Some(&tell) } else { None });
    let outcome = search::answer(&job.job, &job.labour, options, &watch);
    wait.end();
    let early = watch.braked().then(|| wait.why());
    match outcome {
        Outcome::Plan(plan) => Ok(Checked { early, ..check(job, &plan)? }),
        Outcome::None { .. } if early.is_some() => {
            eprintln!("stopped early, {}, before any plan was found", wait.why());
            Err(Exit::Refused)
        }
        Outcome::None { misses, troubles } => {
            let refusal = search::refusal(&job.job, &job.labour, &misses, &troubles);
            eprint!("{}", super::say::refusal(job, &refusal));
            if let Some(dark) = search::dark::dark(&job.job, &job.labour, &troubles) {
                eprint!("{}", super::dark::words(job, &dark));
            }
            Err(Exit::Refused)
        }
    }
}

/// What each decision of the user costs in a checked plan: the job is planned once more without
/// each. Not asked where there is none, and not of a plan that was stopped early.
pub fn price_decisions(job: &Resolved, checked: &mut Checked, options: Options) {
    let decisions = job.labour.pins.iter().map(|p| p.decision).collect::<BTreeSet<_>>().len();
    if decisions == 0 || checked.early.is_some() {
        return;
    }
    eprintln!(
        "{}",
        super::say::labelled(
            "",
            &format!(
                "planning once more without each of your decisions ({decisions}), to tell what each \
                 costs; --skip-decision-costs leaves this out"
            )
        )
    );
    let plan = checked.sound.plan();
    checked.costs = search::pin_costs::costs(&job.job, &job.labour, plan, options);
}

fn check(job: &Resolved, plan: &Plan) -> Result<Checked, Exit> {
    let record = crate::record::write(&job.job, plan);
    let (read_job, read_plan) = match crate::record::read(&record) {
        Ok(back) => back,
        Err(faults) => {
            eprintln!(
                "error: the plan's own record cannot be read back; this is a fault of wayover"
            );
            for fault in faults {
                eprintln!("  {fault}");
            }
            return Err(Exit::Refused);
        }
    };
    let broken = search::pins::not_kept(&job.job, &job.labour, plan);
    if !broken.is_empty() {
        eprintln!("The plan that was found does not keep what you fixed, so it is not printed.");
        eprintln!("This is a fault of wayover: please report it with the job.\n");
        for pin in broken {
            eprintln!("{}", super::say::labelled("fixed: ", &super::say::fixed_words(job, pin)));
        }
        return Err(Exit::Refused);
    }
    match verify::check(&read_job, &read_plan) {
        Ok(sound) => {
            let fingerprint = fingerprint(&record);
            Ok(Checked { sound, record, fingerprint, early: None, costs: Vec::new() })
        }
        Err(breaches) => {
            eprintln!(
                "The plan that was found is not safe, so nothing is printed but its breaches."
            );
            eprintln!("This is a fault of wayover: please report it with the job.\n");
            for breach in breaches {
                eprintln!("{}", super::say::breach(&breach, &read_job, &read_plan));
            }
            Err(Exit::Refused)
        }
    }
}

/// A short fingerprint of a record, so that two people can see that they hold the same plan.
pub fn fingerprint(record: &str) -> String {
    use sha2::{Digest, Sha256};
    let hash = Sha256::digest(record.as_bytes());
    let hex: String = hash.iter().take(6).map(|b| format!("{b:02x}")).collect();
    format!("{}-{}-{}", &hex[0..4], &hex[4..8], &hex[8..12])
}
