//! The job file as written: every table and key, with its places kept.
//!
//! One declaration a table gives the struct, its reading, and the reference of keys in README.

mod network;
mod site;
mod work;

pub use network::*;
pub use site::*;
pub use work::*;

use super::tables::{Key, tables};
use super::value::Num;

/// Amperes.
pub type Amps = Num<0, 630_000, 1>;
/// A factor from 0 to 1.
pub type Factor = Num<1, 100, 0>;
/// A price or a weight.
pub type Price = Num<0, 100_000_000, 0>;
/// Milliamperes.
pub type Milliamps = Num<100, 3_000_000, 7>;

tables! {
    /// The whole of `job.toml`.
    Root "job.toml" {
        job: JobRow, "required", "what the job is, and the time looked at";
        survey: SurveyRow, "required", "who surveyed it, and when";
        paper: PaperRow, "", "names and numbers for the papers";
        policy: PolicyRow, "", "prices of the downtime cost, and limits for the whole job";
        importance: ImportanceRow, "", "weights that the importance words stand for";
        durations: DurationsRow, "", "durations of work, in place of the defaults";
        people_needed: CrewRow, "", "how many people a piece of work takes, in place of the defaults";
        source: Vec<SourceRow>, "required", "what can put voltage on a conductor by itself";
        feed: Vec<FeedRow>, "", "isolators, switch-fuses and the like above the boards";
        transfer: Vec<TransferRow>, "", "transfer switches that act by themselves";
        board: Vec<BoardRow>, "required", "distribution boards, old, new and staying";
        link: Vec<LinkRow>, "", "temporary links that keep an old board alive from a new one";
        temporary_supply: Vec<SupplyRow>, "", "leads that carry circuits meanwhile";
        contactor: Vec<ContactorRow>, "", "contactors in circuits, with the circuit of their coil";
        circuit: Vec<CircuitRow>, "", "circuits, as in the schedule";
        load: Vec<LoadRow>, "", "what circuits serve, where more is to be said than in the schedule";
        area: Vec<AreaRow>, "required", "areas of the building";
        emergency_group: Vec<GroupRow>, "", "figures of the emergency-lighting groups";
        surge: Vec<SurgeRow>, "", "electronics to be taken out for insulation tests, and further surge protection";
        window: Vec<WindowRow>, "required", "when supplies may be cut";
        person: Vec<PersonRow>, "required", "the team";
        instrument: Vec<InstrumentRow>, "required", "instruments";
        delivery: Vec<DeliveryRow>, "", "deliveries that work waits for";
        hold: Vec<HoldRow>, "", "acts of outside people that work waits for";
        fixed: Vec<FixedRow>, "", "decisions that are not the planner's";
        standing_lock: Vec<StandingLockRow>, "", "locks that may stay at the end of a window";
        walk: Vec<WalkRow>, "", "minutes from one place to another";
        contact: Vec<ContactRow>, "", "people to ask and to call";
        access: Vec<AccessRow>, "", "keys and access";
        material: Vec<MaterialRow>, "", "materials";
        risk: Vec<RiskRow>, "", "dangers of this site beyond those of every plan, with what is done about them";
        defect: Vec<DefectRow>, "", "defects seen that belong to no one circuit";
        question: Vec<QuestionRow>, "", "open questions of the survey";
        node: Vec<NodeRow>, "", "further nodes of the network, or more about one made from the tables above";
        device: Vec<DeviceRow>, "", "further switchable connections, or more about one made from the tables above";
        joint: Vec<JointRow>, "", "further terminations, or more about one made from the tables above";
        position: Vec<PositionRow>, "", "further places with bare conductors, or more about one made from the tables above";
        tails: Vec<TailsRow>, "", "further work on terminations that belong to no circuit";
    }
}

/// Every table with its keys, in the order of README.
pub fn reference() -> Vec<(&'static str, Vec<Key>)> {
    macro_rules! all {
        ($($Row:ident)*) => { vec![$(($Row::NAME, $Row::keys()),)*] };
    }
    all!(
        Root JobRow SurveyRow PaperRow RevisionRow PolicyRow ImportanceRow DurationsRow CrewRow
        SourceRow FeedRow ThirdPartyRow TransferRow BoardRow MainRow FedRow LinkRow SupplyRow
        ContactorRow CircuitRow LoadRow AreaRow GroupRow SurgeRow WindowRow PersonRow
        InstrumentRow DeliveryRow HoldRow FixedRow StandingLockRow WalkRow ContactRow AccessRow
        MaterialRow RiskRow DefectRow QuestionRow NodeRow DeviceRow JointRow PositionRow TailsRow
    )
}
