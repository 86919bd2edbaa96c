//! What is served and by whom: circuits, loads, areas, emergency groups, supplies, people.

use super::super::raw;
use super::{Names, Reader};
use crate::model::*;
use crate::units::{Metres, Minutes, Ohms, Volts};
use serde_json::Value;

impl Reader {
    pub(super) fn circuit(&mut self, r: &raw::Circuit, n: &Names) -> Circuit {
        let place = format!("job.circuits, `{}`", r.id);
        let mut amps = Vec::new();
        for (name, figure) in &r.amps {
            match Wire::read(name).filter(|w| w.is_line()) {
                Some(line) => amps.push((line, self.amperes(figure, &place))),
                None => self.fault(&place, format!("amps: `{name}` is no line")),
            }
        }
        Circuit {
            nodes: self.find_all(&n.nodes, &r.nodes, &place),
            amps,
            no_earth: r.no_earth.clone(),
            left_off: r.left_off.clone(),
        }
    }

    pub(super) fn load(&mut self, r: &raw::Load, n: &Names) -> Load {
        let place = format!("job.loads, `{}`", r.id);
        let needs = match (&r.needs, r.needs.as_u64()) {
            (Value::String(word), _) if word == "all" => None,
            (_, Some(k)) => usize::try_from(k).ok(),
            _ => {
                self.fault(&place, "needs is \"all\" or a number");
                None
            }
        };
        Load {
            circuits: self.find_all(&n.circuits, &r.circuits, &place),
            needs,
            areas: self.find_all(&n.areas, &r.areas, &place),
            weight: self.figure(&r.weight, &place),
            needed: self.spans(&r.needed, &place),
            ride_through: Minutes(r.ride_through),
            ride_recharge: r.ride_recharge.map(Minutes),
            max_single: r.max_single.map(Minutes),
            max_total: r.max_total.map(Minutes),
            life_safety: r.life_safety,
            measure: r.measure.clone(),
            may_stay_out: r.may_stay_out,
            any_order: r.any_order,
        }
    }

    pub(super) fn area(&mut self, r: &raw::Area, n: &Names) -> Area {
        let place = format!("job.areas, `{}`", r.id);
        Area {
            occupied: self.spans(&r.occupied, &place),
            autonomy: Minutes(r.autonomy),
            measure: r.measure.clone(),
            task_lighting: r.task_lighting.clone(),
            lighting: self.find_all(&n.circuits, &r.lighting, &place),
        }
    }

    pub(super) fn group(&mut self, r: &raw::Group, n: &Names) -> Group {
        let place = format!("job.emergency_groups, `{}`", r.id);
        if r.recharge <= 0 {
            self.fault(&place, "the recharge time must be more than 0");
        }
        Group {
            areas: self.find_all(&n.areas, &r.areas, &place),
            watches: self.find(&n.circuits, &r.watches, &place),
            relays: self.find_all(&n.circuits, &r.relays, &place),
            feed: self.find(&n.circuits, &r.feed, &place),
            maintained: r.maintained,
            rated: Minutes(r.rated),
            recharge: Minutes(r.recharge.max(1)),
            charge: self.figure(&r.charge, &place),
            rest_mode: r.rest_mode,
            old_state_exempt: r.old_state_exempt.clone(),
        }
    }

    pub(super) fn supply(&mut self, r: &raw::Supply, n: &Names) -> Supply {
        let place = format!("job.temporary_supplies, `{}`", r.id);
        Supply {
            feed: self.find(&n.nodes, &r.feed, &place),
            node: self.find(&n.nodes, &r.node, &place),
            ways: r.ways,
            rating: self.amperes(&r.rating, &place),
            diversity: self.figure(&r.diversity, &place),
            mv_per_a_m: self.figure(&r.mv_per_a_m, &place),
            length: Metres(self.figure(&r.length_m, &place)),
            drop_limit: Volts(self.figure(&r.drop_limit_v, &place)),
            feed_loop: Loop {
                neutral: Ohms(self.figure(&r.feed_loop_ohm.neutral, &place)),
                earth: Ohms(self.figure(&r.feed_loop_ohm.earth, &place)),
            },
            lead_per_m: Loop {
                neutral: self.figure(&r.lead_ohm_per_m.neutral, &place),
                earth: self.figure(&r.lead_ohm_per_m.earth, &place),
            },
            loop_limit: Ohms(self.figure(&r.loop_limit_ohm, &place)),
            rcd_ma: r.rcd_ma.as_ref().map(|x| self.figure(x, &place)),
        }
    }

    pub(super) fn surge(&mut self, r: &raw::Surge, n: &Names) -> Surge {
        let place = format!("job.surge_devices, `{}`", r.id);
        let kind = match r.kind.as_str() {
            "cartridge" => SurgeKind::Cartridge,
            "electronics" => SurgeKind::Electronics,
            other => {
                self.fault(&place, format!("`{other}` is neither `cartridge` nor `electronics`"));
                SurgeKind::Cartridge
            }
        };
        Surge {
            board: self.find_some(&n.boards, r.board.as_deref(), &place),
            node: self.find(&n.nodes, &r.node, &place),
            kind,
            fitted: r.fitted,
        }
    }

    pub(super) fn person(&mut self, r: &raw::Person) -> Person {
        let place = format!("job.people, `{}`", r.id);
        let mut may = Vec::new();
        for name in &r.may {
            match TaskKind::read(name) {
                Some(kind) => may.push(kind),
                None => self.fault(&place, format!("`{name}` is no kind of task")),
            }
        }
        Person { may, present: self.spans(&r.present, &place) }
    }
}
