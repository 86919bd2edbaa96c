//! Durations: the job's own, else the firm's, else the table of defaults; and the figure that
//! plans use.

use super::build::{Build, get};
use crate::diag::Fault;
use crate::jobfile::schema::{DurationsRow, Figure};
use crate::jobfile::value::{At, Mins};
use crate::model::*;
use crate::units::Minutes;

/// Shortest, likely, longest, in minutes.
pub(super) type Three = [i64; 3];

/// Picks one key of the table of durations.
pub(super) type Pick = fn(&DurationsRow) -> &Option<At<Vec<Mins>>>;

impl Build {
    /// Three figures as written; tells what is wrong with them.
    pub fn three(&mut self, at: &At<Vec<Mins>>) -> Option<Three> {
        let all: Vec<i64> = at.value.iter().map(|m| m.0).collect();
        match all[..] {
            [a, m, z] if a <= m && m <= z && z > 0 => Some([a, m, z]),
            _ => {
                self.cx.fault(Fault::DurationOrder { found: format!("{all:?}") }, at.span);
                None
            }
        }
    }

    /// The durations of a kind of work, called `name` in the table.
    pub fn duration(&mut self, name: &str, pick: Pick) -> Three {
        let own = self.root.durations.as_ref().and_then(|d| pick(&d.value).clone());
        let firm = self.firm.as_ref().and_then(|d| pick(d).clone());
        if let Some(three) = own.or(firm).and_then(|at| self.three(&at)) {
            return three;
        }
        let three = usual(name);
        self.default(
            format!("duration of `{name}` (an estimate)"),
            format!("{} / {} / {} min", three[0], three[1], three[2]),
        );
        three
    }

    /// An effort, with the figure that plans use.
    pub fn effort(&self, duration: Three, people: usize) -> Effort {
        let planned = planned(duration, self.frame.figure, self.frame.percentile);
        Effort { duration: duration.map(Minutes), planned: Minutes(planned), people }
    }

    /// What tails of a board take.
    pub fn tails_effort(&mut self, stage: TailsStage, board: BoardId) -> Effort {
        let row = self.board_row(board);
        let crew = self.crew();
        let (own, people) = match stage {
            TailsStage::LinkOn | TailsStage::LinkOff => (None, crew.link),
            TailsStage::SupplyEnd => (row.supply_end_min.clone(), crew.tails),
            _ => (row.tails_min.clone(), crew.tails),
        };
        let large = row.tails_mm2.as_ref().is_some_and(|m| m.value.0 > 35);
        let stated = own.and_then(|at| self.three(&at));
        let duration = stated.unwrap_or_else(|| match stage {
            TailsStage::LinkOn | TailsStage::LinkOff => {
                let link = get(&self.root.link).unwrap_or_default();
                let row = link.into_iter().find(|l| {
                    l.to.as_ref().is_some_and(|t| t.value == self.job.boards.name(board))
                });
                let on = stage == TailsStage::LinkOn;
                let own = row.and_then(|r| if on { r.on_min } else { r.off_min });
                own.and_then(|at| self.three(&at))
                    .unwrap_or_else(|| self.duration("link", |d| &d.link))
            }
            _ if large => self.duration("tails_large", |d| &d.tails_large),
            _ => self.duration("tails", |d| &d.tails),
        });
        self.effort(duration, people)
    }

    /// How many people each kind of work takes.
    pub fn crew(&mut self) -> Crew {
        let row = get(&self.root.people_needed).unwrap_or_default();
        let team = self.job.people.len().max(1);
        let pair = team.min(2);
        let n = |value: &Option<At<crate::jobfile::value::Int<1, 20>>>, default: usize| {
            value.as_ref().map_or(default, |n| usize::try_from(n.value.0).unwrap_or(default))
        };
        Crew {
            isolate: n(&row.isolate, 1),
            prove: n(&row.prove_dead, pair),
            energise: n(&row.energise, pair),
            energise_again: n(&row.energise_again, 1),
            strip_out: n(&row.strip_out, pair),
            mount: n(&row.mount, pair),
            tails: n(&row.tails, pair),
            link: n(&row.link, 1),
            test_board: n(&row.test_board, 1),
            function_test: n(&row.function_test, 1),
        }
    }
}

/// How many people a kind of work takes.
#[derive(Clone, Copy)]
pub(super) struct Crew {
    pub isolate: usize,
    pub prove: usize,
    pub energise: usize,
    pub energise_again: usize,
    pub strip_out: usize,
    pub mount: usize,
    pub tails: usize,
    pub link: usize,
    pub test_board: usize,
    pub function_test: usize,
}

/// The default of a key of the table of durations, as its reference says.
fn usual(name: &str) -> Three {
    let key = DurationsRow::keys().into_iter().find(|k| k.name == name);
    let text = key.map_or("", |k| k.default);
    let mut figures = text.trim_matches(['[', ']']).split(", ").filter_map(|n| n.parse().ok());
    let mut next = || figures.next().unwrap_or(1);
    [next(), next(), next()]
}

/// The figure that plans use: the mean rounded up, the likely one, or a percentile of
/// PERT-beta rounded up; always between the outer two.
pub(crate) fn planned(three: Three, figure: Figure, percentile: i64) -> i64 {
    let [a, m, b] = three;
    let chosen = match figure {
        Figure::Mean => (a + 4 * m + b + 5).div_euclid(6),
        Figure::Likely => m,
        // Up by a hair less than the error of the search, so that 15 is not made 16.
        Figure::Percentile => (quantile(three, percentile as f64 / 100.0) - 1e-6).ceil() as i64,
    };
    chosen.clamp(a, b)
}

/// Quantile of PERT-beta: alpha = 1 + 4(m-a)/(b-a), beta = 1 + 4(b-m)/(b-a).
pub(crate) fn quantile([a, m, b]: Three, p: f64) -> f64 {
    if a == b {
        return a as f64;
    }
    let wide = (b - a) as f64;
    let (alpha, beta) = (1.0 + 4.0 * (m - a) as f64 / wide, 1.0 + 4.0 * (b - m) as f64 / wide);
    let (mut lo, mut hi) = (0.0, 1.0);
    for _ in 0..60 {
        let mid = (lo + hi) / 2.0;
        if share_below(mid, alpha, beta) < p { lo = mid } else { hi = mid }
    }
    a as f64 + wide * (lo + hi) / 2.0
}

/// The regularised incomplete beta function for alpha, beta >= 1, by Simpson's rule: the density
/// is smooth there, and 2,000 steps are good to far more digits than minutes need.
fn share_below(x: f64, alpha: f64, beta: f64) -> f64 {
    let density = |t: f64| t.powf(alpha - 1.0) * (1.0 - t).powf(beta - 1.0);
    let area = |to: f64| {
        let steps = 2000;
        let h = to / f64::from(steps);
        let inner: f64 = (1..steps)
            .map(|i| density(f64::from(i) * h) * if i % 2 == 1 { 4.0 } else { 2.0 })
            .sum();
        h / 3.0 * (density(0.0) + inner + density(to))
    };
    area(x) / area(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Trade facts, section 9: a, m, b; mean rounded up; P50 and P90.
    #[test]
    fn pert_beta_gives_the_published_figures() {
        #[track_caller]
        fn case(three: Three, mean: i64, p50: f64, p90: f64) {
            assert_eq!(planned(three, Figure::Mean, 80), mean);
            assert!(
                (quantile(three, 0.5) - p50).abs() < 6e-4,
                "{} is not {p50}",
                quantile(three, 0.5)
            );
            assert!(
                (quantile(three, 0.9) - p90).abs() < 6e-4,
                "{} is not {p90}",
                quantile(three, 0.9)
            );
            assert_eq!(planned(three, Figure::Percentile, 90), p90.ceil() as i64);
            assert_eq!(planned(three, Figure::Likely, 90), three[1]);
        }
        case([20, 30, 60], 34, 32.5524, 43.3556);
        case([10, 15, 20], 15, 15.0, 17.5336);
        case([5, 8, 20], 10, 9.1501, 13.1800);
        case([30, 45, 120], 55, 52.6759, 76.6741);
        case([10, 10, 40], 15, 13.8835, 21.0713);
        case([7, 7, 7], 7, 7.0, 7.0);
        assert_eq!(planned([10, 15, 20], Figure::Percentile, 50), 15);
    }
}
