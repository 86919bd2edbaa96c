//! The command line: reads files and the clock, prints, picks the exit code. No room imports it.

mod browser;
mod check;
mod dark;
mod load;
mod new;
mod plan;
mod print;
mod say;
mod trace;
mod verify;
mod wait;
mod why;

use crate::model::Job;
use crate::search::Options;
use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;
use std::process::ExitCode;

/// What a run came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Safe to issue.
    Safe,
    /// Refused, none found, or unsound.
    Refused,
    /// Input that cannot be used.
    Unusable,
    /// Sound, but a draft because of open questions.
    Draft,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(match exit {
            Exit::Safe => 0,
            Exit::Refused => 1,
            Exit::Unusable => 2,
            Exit::Draft => 3,
        })
    }
}

/// Plans the changeover of distribution boards in buildings that stay in use.
#[derive(Parser)]
#[command(name = "wayover", version, max_term_width = 80)]
#[command(
    about = "Plans, checks and prints the changeover of distribution boards in buildings that stay in use."
)]
#[command(after_help = "\
A job is a folder with job.toml (boards, supplies, people, windows) and circuits.csv (one row a \
circuit). The usual way: `wayover new`, fill in what you surveyed, `wayover check` until nothing is \
left to mend, `wayover plan` to see what it comes to, `wayover print` for the papers.

Ctrl-C and --at-most end the search early with the best plan found so far, which is checked like \
any other; pressed twice, or with none found, there is no plan.

Exit codes: 0 safe to issue; 1 refused, no plan found (also when stopped early), or not sound; \
2 input that cannot be used; 3 sound, but DRAFT because questions of the survey are open.

For competent persons only. Prove dead at the point of work, whatever any paper says.")]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

/// How hard to look for a better plan.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum Effort {
    /// The first plan that is any good.
    Quick,
    /// A good plan in seconds.
    Normal,
    /// A better one in minutes.
    Thorough,
}

impl Effort {
    fn options(self, job: &Job, seed: u64) -> Options {
        match self {
            Effort::Quick => Options { moves: 300, tries: 6, seed },
            Effort::Normal => Options { seed, ..Options::usual(job) },
            Effort::Thorough => Options { moves: 60_000, tries: 400, seed },
        }
    }
}

/// How a plan is printed on the terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// A summary to read.
    Text,
    /// The complete record.
    Json,
}

#[derive(clap::Args)]
struct Search {
    /// How hard to look for a better plan.
    #[arg(long, value_enum, default_value = "normal")]
    effort: Effort,
    /// Seed of the search: the same seed gives the same plan.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Keep the best plan found when this time is over, such as 30s, 5m or 1h; while there is
    /// none, look on for as long again.
    #[arg(long, value_name = "TIME", value_parser = wait::duration)]
    at_most: Option<std::time::Duration>,
    /// Show progress also where the error output is no terminal.
    #[arg(long)]
    progress: bool,
    /// Do not plan again without each of your decisions (`[[fixed]]`) to tell what each costs.
    #[arg(long)]
    skip_decision_costs: bool,
}

impl Search {
    fn options(&self, job: &Job) -> Options {
        self.effort.options(job, self.seed)
    }

    fn wait(&self) -> wait::Wait {
        wait::Wait::begin(self.at_most, self.progress)
    }
}

#[derive(Subcommand)]
enum Command {
    /// Make a folder with a commented starter job.
    New {
        /// The folder to make.
        folder: PathBuf,
    },
    /// Read a job, tell every fault at once, and say what was understood.
    Check {
        /// The job's folder.
        job: PathBuf,
    },
    /// Plan a job, and say when, who, what is off for how long, and what is locked.
    Plan {
        /// The job's folder.
        job: PathBuf,
        /// Also the downtime cost, the best possible, and how close the plan is to it.
        #[arg(long)]
        details: bool,
        /// A summary to read, or the complete record.
        #[arg(long, value_enum, default_value = "text")]
        format: Format,
        #[command(flatten)]
        search: Search,
    },
    /// Judge a record of a plan, whoever made it.
    Verify {
        /// The record, a JSON file.
        record: PathBuf,
    },
    /// Plan a job, check the plan, and write the papers.
    Print {
        /// The job's folder.
        job: PathBuf,
        /// The folder for the papers.
        #[arg(long)]
        out: PathBuf,
        /// Also as PDF, by a Chromium, Chrome or Edge found on this machine.
        #[arg(long)]
        pdf: bool,
        /// A folder with templates of your own, each in place of ours of the same name.
        #[arg(long, value_name = "FOLDER")]
        templates: Option<PathBuf>,
        #[command(flatten)]
        search: Search,
    },
    /// Say why something is out when it is, what would shorten it, and what would help most.
    Why {
        /// The job's folder.
        job: PathBuf,
        /// A circuit or a load; without one, the plan as a whole.
        name: Option<String>,
        #[command(flatten)]
        search: Search,
    },
    /// Show what can make a place live, by which way, and which locks make it safe.
    Trace {
        /// The job's folder.
        job: PathBuf,
        /// A position, a way, a circuit or a node.
        place: String,
        /// As if this device had no lock.
        #[arg(long, value_name = "DEVICE")]
        without: Option<String>,
        /// At a moment of the plan: a number of minutes, or a task's name.
        #[arg(long, value_name = "STEP")]
        at: Option<String>,
    },
}

/// Runs the command line of this process.
pub fn run() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(e) => {
            // A closed pipe is nobody's fault; there is nothing left to tell.
            let _ = e.print();
            let told = !e.use_stderr();
            return if told { ExitCode::SUCCESS } else { Exit::Unusable.into() };
        }
    };
    let result = match cli.command {
        Command::New { folder } => new::run(&folder),
        Command::Check { job } => check::run(&job),
        Command::Plan { job, details, format, search } => {
            plan::run(&job, details, format == Format::Json, &search)
        }
        Command::Verify { record } => verify::run(&record),
        Command::Print { job, out, pdf, templates, search } => {
            let to = print::To { out: &out, pdf, templates: templates.as_deref() };
            print::run(&job, &to, &search)
        }
        Command::Why { job, name, search } => why::run(&job, name.as_deref(), &search),
        Command::Trace { job, place, without, at } => {
            trace::run(&job, &place, without.as_deref(), at.as_deref())
        }
    };
    match result {
        Ok(exit) => exit.into(),
        Err(e) => {
            eprintln!("error: {e:#}");
            Exit::Unusable.into()
        }
    }
}

/// Writes to standard output; a closed pipe ends the program quietly, as `head` expects.
fn out(text: &str) {
    use std::io::Write;
    let mut stdout = std::io::stdout().lock();
    if stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()).is_err() {
        std::process::exit(0);
    }
}
