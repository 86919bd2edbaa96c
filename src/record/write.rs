//! From a [`Job`] and a [`Plan`] to the record as written.

mod plan;

use super::raw;
use crate::model::*;
use crate::plan::*;
use crate::units::{Exact, Period, plain};
use serde_json::{Number, Value};

/// The record of `plan` for `job`, as JSON with one event a line.
///
/// The same job and plan give the same bytes.
pub fn write(job: &Job, plan: &Plan) -> String {
    let w = Writer { job, plan };
    let record = raw::Record { job: w.job(), plan: w.plan() };
    // Strings, numbers and lists of them always have a JSON form.
    let value = serde_json::to_value(&record).unwrap_or(Value::Null);
    let mut out = String::new();
    lines(&value, 0, &mut out);
    out.push('\n');
    out
}

/// Objects and lists down to the items of a list on lines of their own, the rest on one line:
/// people read and compare records by event.
fn lines(value: &Value, depth: usize, out: &mut String) {
    let nested = |v: &Value| matches!(v, Value::Array(_) | Value::Object(_));
    let (open, close, items): (char, char, Vec<(Option<&String>, &Value)>) = match value {
        Value::Object(map) if depth < 3 => {
            ('{', '}', map.iter().map(|(k, v)| (Some(k), v)).collect())
        }
        Value::Array(list) if depth < 4 && list.iter().any(nested) => {
            ('[', ']', list.iter().map(|v| (None, v)).collect())
        }
        _ => return out.push_str(&value.to_string()),
    };
    if items.is_empty() {
        out.extend([open, close]);
        return;
    }
    out.push(open);
    for (i, (key, item)) in items.iter().enumerate() {
        out.push_str(if i == 0 { "\n" } else { ",\n" });
        out.extend(std::iter::repeat_n(' ', depth + 1));
        if let Some(key) = key {
            out.push_str(&Value::from(key.as_str()).to_string());
            out.push_str(": ");
        }
        lines(item, if key.is_none() { 4 } else { depth + 1 }, out);
    }
    out.push('\n');
    out.extend(std::iter::repeat_n(' ', depth));
    out.push(close);
}

fn number(value: &Exact) -> Number {
    // `plain` writes digits with at most one point, which is a JSON number.
    plain(value).parse().unwrap_or_else(|_| Number::from(0))
}

fn span(p: &Period) -> raw::Span {
    [p.from.0, p.to.0]
}

fn spans(all: &[Period]) -> Vec<raw::Span> {
    all.iter().map(span).collect()
}

fn wires(set: WireSet) -> Vec<String> {
    set.iter().map(|w| w.to_string()).collect()
}

fn lanes(lanes: Lanes) -> Vec<String> {
    lanes.iter().map(|(a, b)| if a == b { a.to_string() } else { format!("{a}>{b}") }).collect()
}

fn all<K: Id, V>(table: &Table<K, V>, ids: &[K]) -> Vec<String> {
    ids.iter().map(|id| table.name(*id).to_owned()).collect()
}

fn some<K: Id, V>(table: &Table<K, V>, id: Option<K>) -> Option<String> {
    id.map(|id| table.name(id).to_owned())
}

fn rows<K: Id, V, R>(table: &Table<K, V>, row: impl Fn(String, &V) -> R) -> Vec<R> {
    table.iter().map(|(id, v)| row(table.name(id).to_owned(), v)).collect()
}

struct Writer<'a> {
    job: &'a Job,
    plan: &'a Plan,
}

impl Writer<'_> {
    fn who(&self, who: Who) -> String {
        match who {
            Who::Person(id) => self.job.people.name(id).to_owned(),
            Who::Outsider(id) => self.job.outsiders.name(id).to_owned(),
        }
    }

    fn job(&self) -> raw::Job {
        let j = self.job;
        let p = &j.policy;
        let node = |id: NodeId| j.nodes.name(id).to_owned();
        raw::Job {
            format: super::FORMAT.to_owned(),
            name: j.name.clone(),
            epoch: j.epoch.clone(),
            from: j.span.from.0,
            to: j.span.to.0,
            policy: raw::Policy {
                f: number(&p.f),
                q: number(&p.q),
                v: number(&p.v),
                h: number(&p.h),
                margin: p.margin.0,
                dead_volts: number(&p.dead_volts.0),
                proof_life: p.proof_life.0,
                alone: p.alone.clone(),
                longest_stretch: p.longest_stretch.0,
                break_length: p.break_length.0,
            },
            earth: node(j.earth),
            parallel: j.parallel.iter().map(|set| all(&j.nodes, set)).collect(),
            neutral_groups: j.neutral_groups.iter().map(|set| all(&j.circuits, set)).collect(),
            walks: (j.walks.iter())
                .map(|w| raw::Walk {
                    a: j.positions.name(w.a).to_owned(),
                    b: j.positions.name(w.b).to_owned(),
                    minutes: w.minutes.0,
                })
                .collect(),
            standing_locks: (j.standing_locks.iter())
                .map(|l| raw::StandingLock {
                    device: j.devices.name(l.device).to_owned(),
                    owner: self.who(l.owner),
                    reason: l.reason.clone(),
                })
                .collect(),
            nodes: rows(&j.nodes, |id, n| self.node(id, n)),
            devices: rows(&j.devices, |id, d| self.device(id, d)),
            joints: rows(&j.joints, |id, joint| raw::Joint {
                id,
                a: node(joint.a),
                b: node(joint.b),
                wires: lanes(joint.wires),
                made: joint.made,
                circuit: joint.of.map(|(c, _)| j.circuits.name(c).to_owned()),
                place: joint.of.map(|(_, place)| match place {
                    Place::Old => "old".to_owned(),
                    Place::New => "new".to_owned(),
                    Place::On(supply) => j.supplies.name(supply).to_owned(),
                }),
            }),
            boards: rows(&j.boards, |id, b| raw::Board {
                id,
                incoming: j.positions.name(b.incoming).to_owned(),
                ways: j.positions.name(b.ways).to_owned(),
                incoming_shrouded: b.incoming_shrouded,
                ways_shrouded: b.ways_shrouded,
                covers_on: b.covers_on,
                within_reach: all(&j.boards, &b.within_reach),
                replaces: some(&j.boards, b.replaces),
                one_way: b.one_way.as_ref().map(|text| raw::OneWay { justification: text.clone() }),
            }),
            positions: rows(&j.positions, |id, p| raw::Position {
                id,
                board: some(&j.boards, p.board),
                hands: p.hands,
                bare: all(&j.nodes, &p.bare),
                points: all(&j.nodes, &p.points),
                row: all(&j.nodes, &p.row),
                other_fed: all(&j.nodes, &p.other_fed),
                enclosed: all(&j.nodes, &p.enclosed),
                none_found: p
                    .none_found
                    .as_ref()
                    .map(|f| raw::NoneFound { by: f.by.clone(), when: f.when.clone() }),
                discharge: p.discharge.0,
                live_before: p.live_before,
            }),
            circuits: rows(&j.circuits, |id, c| raw::Circuit {
                id,
                nodes: all(&j.nodes, &c.nodes),
                amps: c.amps.iter().map(|(w, a)| (w.to_string(), number(&a.0))).collect(),
                no_earth: c.no_earth.clone(),
                left_off: c.left_off.clone(),
            }),
            loads: rows(&j.loads, |id, l| self.load(id, l)),
            areas: rows(&j.areas, |id, a| raw::Area {
                id,
                occupied: spans(&a.occupied),
                autonomy: a.autonomy.0,
                measure: a.measure.clone(),
                task_lighting: a.task_lighting.clone(),
                lighting: all(&j.circuits, &a.lighting),
            }),
            emergency_groups: rows(&j.groups, |id, g| raw::Group {
                id,
                areas: all(&j.areas, &g.areas),
                watches: j.circuits.name(g.watches).to_owned(),
                relays: all(&j.circuits, &g.relays),
                feed: j.circuits.name(g.feed).to_owned(),
                maintained: g.maintained,
                rated: g.rated.0,
                recharge: g.recharge.0,
                charge: number(&g.charge),
                rest_mode: g.rest_mode,
                old_state_exempt: g.old_state_exempt.clone(),
            }),
            temporary_supplies: rows(&j.supplies, |id, s| self.supply(id, s)),
            surge_devices: rows(&j.surges, |id, s| raw::Surge {
                id,
                board: some(&j.boards, s.board),
                node: node(s.node),
                kind: match s.kind {
                    SurgeKind::Cartridge => "cartridge",
                    SurgeKind::Electronics => "electronics",
                }
                .to_owned(),
                fitted: s.fitted,
            }),
            windows: rows(&j.windows, |id, w| raw::Window {
                id,
                from: w.period.from.0,
                to: w.period.to.0,
                areas: all(&j.areas, &w.areas),
            }),
            people: rows(&j.people, |id, p| raw::Person {
                id,
                may: p.may.iter().map(|k| k.name().to_owned()).collect(),
                present: spans(&p.present),
            }),
            instruments: rows(&j.instruments, |id, i| raw::Instrument {
                id,
                kinds: i.kinds.clone(),
            }),
            deliveries: rows(&j.deliveries, |id, at| raw::Delivery { id, at: at.0 }),
            tasks: rows(&self.plan.tasks, |id, t| self.task(id, t)),
        }
    }

    fn node(&self, id: String, n: &Node) -> raw::Node {
        let (kind, source) = match &n.kind {
            NodeKind::Source(source) => ("source", Some(source)),
            NodeKind::Bar => ("bar", None),
            NodeKind::Load => ("load", None),
        };
        let name = |node| self.job.nodes.name(node).to_owned();
        raw::Node {
            id,
            kind: kind.to_owned(),
            wires: wires(n.wires),
            neutral_bar: n.neutral_bar,
            self_start: source.map(|s| s.watches.is_some()),
            watches: source.map(|s| s.watches.map(name)),
            system: source.map(|s| {
                s.system.map(|e| {
                    match e {
                        Earthing::Tn => "TN",
                        Earthing::Tt => "TT",
                        Earthing::It => "IT",
                    }
                    .to_owned()
                })
            }),
            neutral_earthed: source.map(|s| s.neutral_earthed.clone()),
            rating: source.map(|s| number(&s.rating.0)),
            diversity: source.map(|s| number(&s.diversity)),
        }
    }

    fn device(&self, id: String, d: &Device) -> raw::Device {
        let j = self.job;
        raw::Device {
            id,
            a: j.nodes.name(d.a).to_owned(),
            b: j.nodes.name(d.b).to_owned(),
            wires: lanes(d.wires),
            breaks: wires(d.breaks),
            isolates: d.isolates,
            lockable: d.lockable,
            on_load: d.on_load,
            overcurrent: d.overcurrent,
            rcd_ma: d.rcd_ma.as_ref().map(number),
            closed: d.closed,
            rating: number(&d.rating.0),
            diversity: number(&d.diversity),
            enclosure: some(&j.boards, d.enclosure),
            temporary: d.temporary,
            self_acting: d.self_acting.map(|s| raw::SelfActing {
                node: j.nodes.name(s.node).to_owned(),
                closed_while: if s.closed_while_live { "live" } else { "dead" }.to_owned(),
            }),
            third_party: d.third_party.as_ref().map(|t| raw::ThirdParty {
                owner: self.who(t.owner),
                appointments: spans(&t.appointments),
            }),
        }
    }

    fn load(&self, id: String, l: &Load) -> raw::Load {
        raw::Load {
            id,
            circuits: all(&self.job.circuits, &l.circuits),
            needs: l.needs.map_or_else(|| Value::from("all"), Value::from),
            areas: all(&self.job.areas, &l.areas),
            weight: number(&l.weight),
            needed: spans(&l.needed),
            ride_through: l.ride_through.0,
            ride_recharge: l.ride_recharge.map(|m| m.0),
            max_single: l.max_single.map(|m| m.0),
            max_total: l.max_total.map(|m| m.0),
            life_safety: l.life_safety,
            measure: l.measure.clone(),
            may_stay_out: l.may_stay_out,
            any_order: l.any_order,
        }
    }

    fn supply(&self, id: String, s: &Supply) -> raw::Supply {
        raw::Supply {
            id,
            feed: self.job.nodes.name(s.feed).to_owned(),
            node: self.job.nodes.name(s.node).to_owned(),
            ways: s.ways,
            rating: number(&s.rating.0),
            diversity: number(&s.diversity),
            mv_per_a_m: number(&s.mv_per_a_m),
            length_m: number(&s.length.0),
            drop_limit_v: number(&s.drop_limit.0),
            feed_loop_ohm: raw::Loop {
                neutral: number(&s.feed_loop.neutral.0),
                earth: number(&s.feed_loop.earth.0),
            },
            lead_ohm_per_m: raw::Loop {
                neutral: number(&s.lead_per_m.neutral),
                earth: number(&s.lead_per_m.earth),
            },
            loop_limit_ohm: number(&s.loop_limit.0),
            rcd_ma: s.rcd_ma.as_ref().map(number),
        }
    }
}
