//! The record as written: one struct an object, every key required.

use serde::{Deserialize, Deserializer, Serialize};
use serde_json::{Number, Value};
use std::collections::BTreeMap;

/// A key that must be there though it may be null.
fn nullable<'de, D: Deserializer<'de>, T: Deserialize<'de>>(d: D) -> Result<Option<T>, D::Error> {
    Option::deserialize(d)
}

/// `[from, to)` in minutes.
pub type Span = [i64; 2];

#[derive(Deserialize, Serialize)]
pub struct Record {
    pub job: Job,
    pub plan: Plan,
}

#[derive(Deserialize, Serialize)]
pub struct Job {
    pub format: String,
    pub name: String,
    pub epoch: String,
    pub from: i64,
    pub to: i64,
    pub policy: Policy,
    pub earth: String,
    pub parallel: Vec<Vec<String>>,
    pub neutral_groups: Vec<Vec<String>>,
    pub walks: Vec<Walk>,
    pub standing_locks: Vec<StandingLock>,
    pub nodes: Vec<Node>,
    pub devices: Vec<Device>,
    pub joints: Vec<Joint>,
    pub boards: Vec<Board>,
    pub positions: Vec<Position>,
    pub circuits: Vec<Circuit>,
    pub loads: Vec<Load>,
    pub areas: Vec<Area>,
    pub emergency_groups: Vec<Group>,
    pub temporary_supplies: Vec<Supply>,
    pub surge_devices: Vec<Surge>,
    pub windows: Vec<Window>,
    pub people: Vec<Person>,
    pub instruments: Vec<Instrument>,
    pub deliveries: Vec<Delivery>,
    pub tasks: Vec<Task>,
}

#[derive(Deserialize, Serialize)]
pub struct Policy {
    pub f: Number,
    pub q: Number,
    pub v: Number,
    pub h: Number,
    pub margin: i64,
    pub dead_volts: Number,
    pub proof_life: i64,
    #[serde(deserialize_with = "nullable")]
    pub alone: Option<String>,
    pub longest_stretch: i64,
    #[serde(rename = "break")]
    pub break_length: i64,
}

#[derive(Deserialize, Serialize)]
pub struct Walk {
    pub a: String,
    pub b: String,
    pub minutes: i64,
}

#[derive(Deserialize, Serialize)]
pub struct StandingLock {
    pub device: String,
    pub owner: String,
    pub reason: String,
}

#[derive(Deserialize, Serialize)]
pub struct Node {
    pub id: String,
    pub kind: String,
    pub wires: Vec<String>,
    pub neutral_bar: bool,
    // The rest only a source has; `read` asks for it there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub self_start: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "given")]
    pub watches: Option<Option<String>>,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "given")]
    pub system: Option<Option<String>>,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "given")]
    pub neutral_earthed: Option<Option<String>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rating: Option<Number>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diversity: Option<Number>,
}

#[derive(Deserialize, Serialize)]
pub struct Device {
    pub id: String,
    pub a: String,
    pub b: String,
    pub wires: Vec<String>,
    pub breaks: Vec<String>,
    pub isolates: bool,
    pub lockable: bool,
    pub on_load: bool,
    pub overcurrent: bool,
    #[serde(deserialize_with = "nullable")]
    pub rcd_ma: Option<Number>,
    pub closed: bool,
    pub rating: Number,
    pub diversity: Number,
    #[serde(deserialize_with = "nullable")]
    pub enclosure: Option<String>,
    pub temporary: bool,
    #[serde(deserialize_with = "nullable")]
    pub self_acting: Option<SelfActing>,
    #[serde(deserialize_with = "nullable")]
    pub third_party: Option<ThirdParty>,
}

#[derive(Deserialize, Serialize)]
pub struct SelfActing {
    pub node: String,
    pub closed_while: String,
}

#[derive(Deserialize, Serialize)]
pub struct ThirdParty {
    pub owner: String,
    pub appointments: Vec<Span>,
}

#[derive(Deserialize, Serialize)]
pub struct Joint {
    pub id: String,
    pub a: String,
    pub b: String,
    pub wires: Vec<String>,
    pub made: bool,
    #[serde(deserialize_with = "nullable")]
    pub circuit: Option<String>,
    #[serde(deserialize_with = "nullable")]
    pub place: Option<String>,
}

#[derive(Deserialize, Serialize)]
pub struct Board {
    pub id: String,
    pub incoming: String,
    pub ways: String,
    pub incoming_shrouded: bool,
    pub ways_shrouded: bool,
    pub covers_on: bool,
    pub within_reach: Vec<String>,
    #[serde(deserialize_with = "nullable")]
    pub replaces: Option<String>,
    #[serde(deserialize_with = "nullable")]
    pub one_way: Option<OneWay>,
}

#[derive(Deserialize, Serialize)]
pub struct OneWay {
    pub justification: String,
}

#[derive(Deserialize, Serialize)]
pub struct Position {
    pub id: String,
    #[serde(deserialize_with = "nullable")]
    pub board: Option<String>,
    pub hands: i64,
    pub bare: Vec<String>,
    pub points: Vec<String>,
    pub row: Vec<String>,
    pub other_fed: Vec<String>,
    pub enclosed: Vec<String>,
    #[serde(deserialize_with = "nullable")]
    pub none_found: Option<NoneFound>,
    pub discharge: i64,
    pub live_before: bool,
}

#[derive(Deserialize, Serialize)]
pub struct NoneFound {
    pub by: String,
    pub when: String,
}

#[derive(Deserialize, Serialize)]
pub struct Circuit {
    pub id: String,
    pub nodes: Vec<String>,
    pub amps: BTreeMap<String, Number>,
    #[serde(deserialize_with = "nullable")]
    pub no_earth: Option<String>,
    #[serde(deserialize_with = "nullable")]
    pub left_off: Option<String>,
}

#[derive(Deserialize, Serialize)]
pub struct Load {
    pub id: String,
    pub circuits: Vec<String>,
    /// `"all"`, or the number that serves. (An untagged enum cannot hold a number that is kept
    /// to the digit, so this and `who` stay values until `read`.)
    pub needs: Value,
    pub areas: Vec<String>,
    pub weight: Number,
    pub needed: Vec<Span>,
    pub ride_through: i64,
    #[serde(deserialize_with = "nullable")]
    pub ride_recharge: Option<i64>,
    #[serde(deserialize_with = "nullable")]
    pub max_single: Option<i64>,
    #[serde(deserialize_with = "nullable")]
    pub max_total: Option<i64>,
    pub life_safety: bool,
    #[serde(deserialize_with = "nullable")]
    pub measure: Option<String>,
    pub may_stay_out: bool,
    pub any_order: bool,
}

#[derive(Deserialize, Serialize)]
pub struct Area {
    pub id: String,
    pub occupied: Vec<Span>,
    pub autonomy: i64,
    #[serde(deserialize_with = "nullable")]
    pub measure: Option<String>,
    #[serde(deserialize_with = "nullable")]
    pub task_lighting: Option<String>,
    pub lighting: Vec<String>,
}

#[derive(Deserialize, Serialize)]
pub struct Group {
    pub id: String,
    pub areas: Vec<String>,
    pub watches: String,
    pub relays: Vec<String>,
    pub feed: String,
    pub maintained: bool,
    pub rated: i64,
    pub recharge: i64,
    pub charge: Number,
    pub rest_mode: bool,
    #[serde(deserialize_with = "nullable")]
    pub old_state_exempt: Option<String>,
}

#[derive(Deserialize, Serialize)]
pub struct Loop {
    #[serde(rename = "N")]
    pub neutral: Number,
    #[serde(rename = "E")]
    pub earth: Number,
}

#[derive(Deserialize, Serialize)]
pub struct Supply {
    pub id: String,
    pub feed: String,
    pub node: String,
    pub ways: i64,
    pub rating: Number,
    pub diversity: Number,
    pub mv_per_a_m: Number,
    pub length_m: Number,
    pub drop_limit_v: Number,
    pub feed_loop_ohm: Loop,
    pub lead_ohm_per_m: Loop,
    pub loop_limit_ohm: Number,
    #[serde(deserialize_with = "nullable")]
    pub rcd_ma: Option<Number>,
}

#[derive(Deserialize, Serialize)]
pub struct Surge {
    pub id: String,
    #[serde(deserialize_with = "nullable")]
    pub board: Option<String>,
    pub node: String,
    pub kind: String,
    #[serde(rename = "in")]
    pub fitted: bool,
}

#[derive(Deserialize, Serialize)]
pub struct Window {
    pub id: String,
    pub from: i64,
    pub to: i64,
    pub areas: Vec<String>,
}

#[derive(Deserialize, Serialize)]
pub struct Person {
    pub id: String,
    pub may: Vec<String>,
    pub present: Vec<Span>,
}

#[derive(Deserialize, Serialize)]
pub struct Instrument {
    pub id: String,
    pub kinds: Vec<String>,
}

#[derive(Deserialize, Serialize)]
pub struct Delivery {
    pub id: String,
    pub at: i64,
}

#[derive(Deserialize, Serialize)]
pub struct Task {
    pub id: String,
    pub kind: String,
    pub duration: [i64; 3],
    pub planned: i64,
    pub people: usize,
    pub after: Vec<String>,
    #[serde(deserialize_with = "nullable")]
    pub position: Option<String>,
    #[serde(deserialize_with = "nullable")]
    pub area: Option<String>,
    #[serde(deserialize_with = "nullable")]
    pub circuit: Option<String>,
    #[serde(deserialize_with = "nullable")]
    pub board: Option<String>,
    #[serde(deserialize_with = "nullable")]
    pub group: Option<String>,
    #[serde(deserialize_with = "nullable")]
    pub instrument: Option<String>,
    #[serde(deserialize_with = "nullable")]
    pub delivery: Option<String>,
}

#[derive(Deserialize, Serialize)]
pub struct Plan {
    pub events: Vec<Event>,
    pub claims: Claims,
    pub back_out: BackOut,
}

/// An event; which of the keys it has depends on `do`, and `read` asks for them.
#[derive(Default, Deserialize, Serialize)]
pub struct Event {
    pub t: i64,
    #[serde(rename = "do")]
    pub act: String,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "given")]
    pub task: Option<Option<String>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub who: Option<Value>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pass: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lock: Option<String>,
    #[serde(
        default,
        rename = "box",
        skip_serializing_if = "Option::is_none",
        deserialize_with = "given"
    )]
    pub lock_box: Option<Option<String>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub joint: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "given")]
    pub circuit: Option<Option<String>>,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "given")]
    pub instrument: Option<Option<String>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tester_before: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tester_after: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub readings: Option<BTreeMap<String, BTreeMap<String, Option<Number>>>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surge: Option<String>,
    #[serde(default, rename = "in", skip_serializing_if = "Option::is_none")]
    pub fitted: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub group: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub area: Option<String>,
}

/// Tells a key that is null (`Some(None)`) from one that is missing (`None`).
fn given<'de, D: Deserializer<'de>>(d: D) -> Result<Option<Option<String>>, D::Error> {
    Option::deserialize(d).map(Some)
}

#[derive(Deserialize, Serialize)]
pub struct Claims {
    pub outages: BTreeMap<String, Vec<Span>>,
    #[serde(rename = "J")]
    pub j: Number,
    pub parts: Parts,
    pub lower_bound: Number,
    pub gap: Number,
    pub finish: i64,
    pub lock_operations: i64,
    pub walking: i64,
    pub full_duration_tests: BTreeMap<String, i64>,
    pub still_live: BTreeMap<String, Vec<String>>,
}

#[derive(Deserialize, Serialize)]
pub struct Parts {
    pub needed: Number,
    pub other: Number,
    pub counted: Number,
    pub visits: Number,
    pub riding: Number,
}

#[derive(Deserialize, Serialize)]
pub struct BackOut {
    pub steps: Vec<Step>,
    pub points_of_no_return: Vec<NoReturn>,
    pub checkpoints: Vec<Checkpoint>,
}

#[derive(Deserialize, Serialize)]
pub struct Step {
    pub task: String,
    pub to: String,
    pub tasks: Vec<StepTask>,
    pub minutes: i64,
}

#[derive(Deserialize, Serialize)]
pub struct StepTask {
    pub kind: String,
    #[serde(deserialize_with = "nullable")]
    pub of: Option<String>,
    pub at: i64,
    pub minutes: i64,
}

#[derive(Deserialize, Serialize)]
pub struct NoReturn {
    pub from: i64,
    pub to: i64,
    #[serde(deserialize_with = "nullable")]
    pub t: Option<i64>,
}

#[derive(Deserialize, Serialize)]
pub struct Checkpoint {
    pub task: String,
    pub latest: i64,
    #[serde(rename = "else")]
    pub otherwise: String,
}
