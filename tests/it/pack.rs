//! The whole pack: names that try to be markup, what each paper tells, a firm's own templates.

use crate::demos::{boathouse, boathouse_pack, input, pack, school, school_pack};
use crate::support::unmarked;
use std::collections::BTreeMap;
use std::path::Path;
use wayover::document::{self, Dress, HELD, Pack, logo, template::Faults};
use wayover::model::{Mode, TaskKind};
use wayover::plan::Act;

fn content<'a>(pack: &'a Pack, stem: &str) -> &'a str {
    let file = format!("{stem}.html");
    &pack.papers.iter().find(|p| p.file == file).expect("a paper").content
}

/// Rows of the text, with what is between tags taken out.
fn words(html: &str) -> String {
    let html = unmarked(html);
    let body = html.split_once("<body").expect("a body").1;
    let mut out = String::new();
    for part in body.split('<') {
        out.push_str(part.split_once('>').map_or("", |(_, text)| text));
        out.push(' ');
    }
    out
}

#[test]
fn every_name_that_tries_to_be_markup_stays_text() {
    let long = "é".repeat(200);
    let (job, sound) = boathouse();
    let mut job = job.clone();
    let bad =
        ["<script>alert(1)</script>", "R&D \"sockets\"", "</td></tr><img src=x>", &long, "", "'"];
    for (i, label) in job.site.circuits.iter_mut().enumerate() {
        let name = bad[i % bad.len()].to_owned();
        label.serves.clone_from(&name);
        label.remarks.clone_from(&name);
        label.cable.clone_from(&name);
        label.device.clone_from(&name);
        label.terminal.clone_from(&name);
        label.number = format!("{name}{i}");
    }
    job.site.paper.company = "A & B </div></html>".to_owned();
    job.site.paper.scope = bad[2].to_owned();
    job.site.boards[0].place = "<b>cellar</b>".to_owned();
    let pack = pack(&job, sound);
    let all = pack.papers.iter().map(|p| &p.content).chain([&pack.index, &pack.whole]);
    for text in all {
        for tag in ["<script", "<img", "<b>cellar"] {
            assert!(!text.contains(tag), "{tag}");
        }
        assert_eq!(text.matches("</html>").count(), 1);
        assert_eq!(text.matches("</style>").count(), 1);
    }
    assert!(content(&pack, "circuit-chart").contains("&lt;script&gt;"));
    assert!(unmarked(content(&pack, "circuit-chart")).contains(&long));
}

#[test]
fn the_chart_tells_every_circuit_both_ways_and_sorted() {
    let (job, _) = school();
    let pack = school_pack();
    let text = words(content(pack, "circuit-chart")).replace("&#x2F;", "/");
    let (old, rest) = text.split_once("New reference to old").expect("both ways");
    let (new, order) = rest.split_once("Working order").expect("an order");
    for label in &job.site.circuits {
        for part in [old, new] {
            assert!(part.contains(&format!(" {} ", label.number)), "{}", label.number);
        }
    }
    let places: Vec<usize> = ["DB-K/1L1", "DB-K/1L2", "DB-K/2L1", "DB-K/4L3", "DB-K/5"]
        .iter()
        .map(|way| old.find(way).expect("a way"))
        .collect();
    assert!(places.is_sorted(), "{places:?}");
    assert!(!text.contains("STAYS MP"));
    assert!(old.contains("stays"));
    assert!(order.contains("K1"));
}

/// What the door of a board says is what the replay says, circuit by circuit.
#[test]
fn a_door_chart_tells_what_the_replay_tells() {
    let (job, sound) = school();
    let pack = school_pack();
    let html = unmarked(content(pack, "dated-charts"));
    let sheets: Vec<&str> = html.split("<h1>Door of ").skip(1).collect();
    assert!(sheets.len() >= 3, "{} sheets", sheets.len());
    let (mut here, mut elsewhere) = (0, 0);
    for sheet in sheets.iter().filter(|s| s.starts_with("OLD DB-K")) {
        let clock = &job.site.clock;
        let from =
            |v: &&wayover::units::Period| sheet.contains(&format!("<b>{}</b>", clock.full(v.to)));
        let left = sound.replay().visits().iter().find(from).expect("its visit").to;
        for c in sound.job().circuits.ids() {
            let label = &job.site.circuits[wayover::model::Id::index(c)];
            let Some(old) = label.old.as_ref().filter(|w| w.reference.starts_with("DB-K/")) else {
                continue;
            };
            let row = sheet.split("<tr").find(|r| r.contains(&format!(">{}<", old.reference)));
            let row = row.expect("a row for each way");
            let on = |place| {
                let joint = sound.job().joints.iter().find(|(_, j)| j.of == Some((c, place)));
                joint.is_some_and(|(j, _)| *sound.replay().joint(j).at(left))
            };
            let live = *sound.replay().in_service(c).at(left);
            if live && on(wayover::model::Place::Old) {
                here += 1;
                assert!(row.contains(">HERE<"), "{row}");
            } else if live && on(wayover::model::Place::New) {
                elsewhere += 1;
                assert!(row.contains(">NEW DB-K2/"), "{row}");
            } else if !live {
                assert!(row.contains(">OFF<"), "{row}");
            }
        }
    }
    assert!(here > 0 && elsewhere > 0, "{here} {elsewhere}");
}

#[test]
fn the_brief_has_every_lock_of_the_second_and_words_at_each_proof() {
    let (_, sound) = boathouse();
    let pack = boathouse_pack();
    let text = words(content(pack, "second-brief"));
    assert!(text.contains("Birch, with Ash"));
    let birch = sound.job().people.ids().find(|p| sound.job().people.name(*p) == "Birch");
    let birch = wayover::model::Who::Person(birch.expect("Birch"));
    let mut proofs = 0;
    for event in &sound.plan().events {
        match &event.act {
            Act::Lock(by, _, lock, _) if by.who == birch => {
                assert!(text.contains(sound.plan().locks.name(*lock)));
            }
            Act::Prove(..) => proofs += 1,
            _ => {}
        }
    }
    assert!(proofs > 0);
    assert!(text.contains("proved dead,") && text.contains("Not as drawn? STOP."));
}

#[test]
fn the_brief_names_a_circuit_by_where_it_is_found() {
    let (job, sound) = school();
    let pack = school_pack();
    let text = words(content(pack, "second-brief"));
    let mut told = 0;
    for (_, task) in sound.plan().tasks.iter() {
        let Some(c) = task.circuit else { continue };
        let label = &job.site.circuits[wayover::model::Id::index(c)];
        let (Some(old), Some(new)) = (&label.old, &label.new) else { continue };
        let wanted = match task.kind {
            TaskKind::Identify => {
                format!("{} (OLD {}, later NEW {})", label.number, old.reference, new.reference)
            }
            TaskKind::HookUp => format!("{} (off OLD {}:", label.number, old.reference),
            TaskKind::Unhook => format!("{} (to go on NEW {}:", label.number, new.reference),
            _ => continue,
        };
        assert!(text.contains(&wanted), "{wanted}");
        told += 1;
    }
    assert!(told > 0);
}

#[test]
fn the_method_statement_has_the_timeline_and_every_stage_drawing() {
    let pack = boathouse_pack();
    let method = content(pack, "method-statement");
    for (stem, paper) in [("time", "timeline"), ("stage-", "stage-diagrams")] {
        let own = content(pack, paper).matches(&format!("<title id=\"{stem}")).count();
        let here = method.matches(&format!("<title id=\"method-{stem}")).count();
        assert!(own > 0 && own == here, "{paper}: {own} of its own, {here} in the statement");
    }
    // No two elements of all papers in one have a name in common.
    let mut names: Vec<&str> =
        pack.whole.split(" id=\"").skip(1).filter_map(|r| r.split('"').next()).collect();
    names.sort_unstable();
    assert!(names.windows(2).all(|pair| pair[0] != pair[1]));
}

/// Times and lengths as the replay has them, as many as it has.
#[test]
fn the_method_statement_tells_every_outage() {
    for (job, sound) in [boathouse(), school()] {
        let html = unmarked(content(&pack(job, sound), "method-statement"));
        let off = html.split("7 What is off").nth(1).and_then(|r| r.split("8 Emergency").next());
        let rows: Vec<&str> = off.expect("the part").split("<tr>").collect();
        let mut told = 0;
        for load in sound.job().loads.ids() {
            let name = format!("<div>{}: ", sound.job().loads.name(load));
            let of = rows.iter().filter(|row| row.contains(&name));
            let of: String = of.copied().collect();
            let outages = sound.replay().outages(load);
            assert_eq!(of.matches("<div class=\"nb\">").count(), outages.len(), "{name}");
            for outage in outages {
                let clock = &job.site.clock;
                for time in [outage.whole.from, outage.whole.to].map(|t| clock.time(t)) {
                    assert!(of.contains(&time), "{name}: {time} in {of}");
                }
                told += 1;
            }
        }
        assert!(told > 5);
    }
}

/// Going back, a circuit comes off its new way: that is the way to be told.
#[test]
fn what_comes_off_on_the_way_back_is_named_by_its_new_way() {
    let html = unmarked(content(school_pack(), "method-statement"));
    let rows: Vec<&str> = html.split("Take off the new way: ").skip(1).collect();
    assert!(!rows.is_empty());
    for row in rows {
        let row = row.split("</div>").next().expect("its end");
        assert!(row.contains("(NEW DB-K2/") && !row.contains("OLD"), "{row}");
    }
}

/// A step of the method statement and of the checklist, in its pieces: none has more than fits.
#[test]
fn a_long_step_is_several_numbered_parts_and_loses_nothing() {
    let pack = school_pack();
    for stem in ["method-statement", "lock-off-checklist"] {
        let html = content(pack, stem);
        assert!(!html.contains("class=\"step long"), "{stem}");
        for step in html.split("<article class=\"step").skip(1) {
            let step = step.split("</article>").next().expect("its end");
            assert!(step.matches("<tr>").count() <= 17, "{step}");
        }
    }
    let text = words(content(pack, "lock-off-checklist"));
    let parts: Vec<usize> =
        (2..5).map(|n| text.matches(&format!("(part 1 of {n})")).count()).collect();
    assert!(parts.iter().sum::<usize>() > 0);
    for n in 2..5 {
        for part in 1..=n {
            let printed = text.matches(&format!("(part {part} of {n})")).count();
            assert_eq!(printed, parts[n - 2], "part {part} of {n}");
        }
    }
    let proofs = school().1.plan().events.iter().filter(|e| matches!(e.act, Act::Prove(..)));
    let tables = content(pack, "lock-off-checklist").matches("detector proved BEFORE").count();
    assert_eq!(tables, proofs.count());
}

/// Every source once for each way in which it is live, with all its places.
#[test]
fn the_checklist_tells_a_live_source_once() {
    for pack in [boathouse_pack(), school_pack()] {
        let html = unmarked(content(pack, "lock-off-checklist"));
        let boxes: Vec<&str> = html.split("STILL LIVE IN THIS ENCLOSURE").skip(1).collect();
        assert!(boxes.len() > 2);
        for told in boxes {
            let list = told.split("</div>").next().expect("its end");
            let mut rows: Vec<&str> =
                list.split("<li>").skip(1).filter_map(|r| r.split(". At ").next()).collect();
            let all = rows.len();
            rows.sort_unstable();
            rows.dedup();
            assert_eq!(rows.len(), all, "{list}");
        }
    }
}

/// Terminals behind a shroud that stay live while the rest of their board is worked at.
#[test]
fn papers_tell_of_terminals_that_are_live_behind_their_shroud() {
    let (_, sound) = school();
    let (job, plan, replay) = (sound.job(), sound.plan(), sound.replay());
    let mut boards = Vec::new();
    for (task, facts) in plan.tasks.iter().filter(|(_, t)| t.kind.mode() == Mode::Dead) {
        let (Some(p), Some(run)) = (facts.position, replay.task(task)) else { continue };
        let Some(b) = job.positions[p].board.filter(|b| p == job.boards[*b].ways) else { continue };
        let incoming = &job.positions[job.boards[b].incoming].points;
        let line = incoming
            .iter()
            .any(|n| replay.live(*n).at(run.start).iter().any(|(wire, _)| wire.is_line()));
        if line && facts.kind != TaskKind::FitCovers {
            boards.push(job.boards.name(b));
        }
    }
    boards.dedup();
    assert_eq!(boards, ["MP"]);
    let pack = school_pack();
    let told = |stem, words: &str| unmarked(content(pack, stem)).contains(words);
    assert!(told("method-statement", "STILL LIVE HERE:</b> incoming terminals of MP, shrouded"));
    assert!(told(
        "lock-off-checklist",
        "incoming terminals of MP</b>: behind its shroud, LIVE now"
    ));
}

#[test]
fn the_index_and_the_whole_hold_every_paper() {
    let pack = school_pack();
    for paper in &pack.papers {
        assert!(pack.index.contains(&format!("href=\"{}\"", paper.file)), "{}", paper.file);
        let stem = paper.file.trim_end_matches(".html");
        let within =
            pack.whole.contains(&format!("<section class=\"paper {stem}\" id=\"paper-{stem}\">"));
        assert_eq!(within, !HELD.contains(&paper.file.as_str()), "{stem}");
        if !within {
            continue;
        }
        assert!(!paper.purpose.is_empty() && !paper.reader.is_empty());
        // A rule of one paper names its scope, never the class of the scope itself.
        let scope = pack.whole.split(&format!("@scope (.paper.{stem}) {{")).nth(1);
        let rules = scope.and_then(|r| r.split("@page").next()).expect("its rules");
        let own = rules.split(&format!(".paper.{stem} {{ page:")).next().expect("its rules");
        for ending in [" ", "{", ",", "."] {
            assert!(!own.contains(&format!(".{stem}{ending}")), "{stem}");
        }
    }
    let files: Vec<&str> = (pack.papers.iter().map(|p| p.file.as_str()))
        .chain(pack.extras.iter().map(|e| e.file.as_str()))
        .chain(pack.books.iter().map(|b| b.file.as_str()))
        .chain(["all-papers.html", "plan.json", "index.html"])
        .collect();
    for link in pack.index.split("href=\"").skip(1).filter_map(|r| r.split('"').next()) {
        assert!(files.contains(&link), "{link}");
    }
}

#[test]
fn a_blank_side_stands_after_each_paper_that_ends_on_a_front_and_nowhere_else() {
    let whole = &boathouse_pack().whole;
    // Only the list then shows its column of sides.
    let unpadded = document::for_both_sides(whole, &[]);
    assert_eq!(unpadded.matches("<section").count(), whole.matches("<section").count());
    assert!(!unpadded.contains("This side is left blank"));
    let lengths = [
        ("all-papers.html", 2),
        ("method-statement.html", 17),
        ("lock-off-checklist.html", 6),
        ("test-sheets.html", 3),
    ];
    let odd = ["method-statement.html", "test-sheets.html"];
    let padded = document::for_both_sides(whole, &lengths);
    // The list says where: after its own two sides 18, 6 and 4.
    let list = padded.split("<section class=\"paper ").nth(1).expect("the list");
    for (stem, sides) in [
        ("method-statement", "3 to 20"),
        ("lock-off-checklist", "21 to 26"),
        ("test-sheets", "27 to 30"),
    ] {
        let row = list.split(&format!("href=\"#paper-{stem}\"")).nth(1).expect("its row");
        assert!(row.split("</tr>").next().is_some_and(|r| r.contains(sides)), "{stem}: {row}");
        let count = padded.split(&format!("@page {stem} {{ counter-increment")).nth(1);
        let own = sides.split(" to ").filter_map(|n| n.parse::<i64>().ok()).collect::<Vec<_>>();
        let of = format!(" of {}\"", own[1] - own[0] + 1);
        assert!(
            count.is_some_and(|c| c.split('}').next().is_some_and(|c| c.contains(&of))),
            "{stem}"
        );
    }
    let blank = "This side is left blank";
    let mut met = 0;
    for section in padded.split("<section class=\"paper ").skip(1) {
        let stem = section.split('"').next().expect("its stem");
        let wanted = odd.contains(&format!("{stem}.html").as_str());
        assert_eq!(section.matches(blank).count(), usize::from(wanted), "{stem}");
        if wanted {
            let after = section.split(blank).nth(1).expect("what follows");
            assert!(!after.contains("<h2") && !after.contains("<table"), "{stem}");
            met += 1;
        }
    }
    assert_eq!(met, odd.len());
}

/// What is hung up or cut out has nothing on its back: each of its sides is a front.
#[test]
fn what_is_hung_up_or_cut_out_has_a_blank_back() {
    let whole = &school_pack().whole;
    let parts = |html: &str, stem: &str| -> String {
        let begins = format!("<section class=\"paper {stem}\"");
        let rest = html.split(&begins).nth(1).expect("the paper");
        rest.split("<section class=\"paper ").next().unwrap_or_default().to_owned()
    };
    for (stem, front) in [
        ("dated-charts", "<h1>Door of"),
        ("board-chart", "<section class=\"door"),
        ("outage-notice", "<section class=\"notice"),
        ("label-sheet", "<h2>Labels for"),
    ] {
        let fronts = parts(whole, stem).matches(front).count();
        assert!(fronts > 0, "{stem}");
        // The label sheet begins with a page that is no label.
        let first = usize::from(stem == "label-sheet");
        let file = format!("{stem}.html");
        let padded = document::for_both_sides(whole, &[(&file, first + fronts)]);
        let paper = parts(&padded, stem);
        let mut sides: Vec<bool> = Vec::new();
        let mut rest = paper.as_str();
        while let Some(at) = [front, "This side is left blank", "<h2>Notices on"]
            .iter()
            .filter_map(|begin| rest.find(begin))
            .min()
        {
            sides.push(rest[at..].starts_with(front));
            rest = &rest[at + 1..];
        }
        assert_eq!(sides.len(), 2 * (first + fronts), "{stem}: {sides:?}");
        assert!(sides.iter().skip(1).step_by(2).all(|front| !front), "{stem}: {sides:?}");
        // One that is longer than its page: nothing is known of fronts, and only the end is evened.
        let odd = document::for_both_sides(whole, &[(&file, 2 * (first + fronts) + 1)]);
        assert_eq!(parts(&odd, stem).matches("This side is left blank").count(), 1, "{stem}");
    }
}

/// The boathouse as a firm wants it.
fn dressed(dress: &Dress) -> anyhow::Result<Pack> {
    let (job, sound) = boathouse();
    document::dressed(&input(job, sound), dress)
}

fn faults(name: &str, text: &str) -> String {
    let templates = BTreeMap::from([(name.to_owned(), text.to_owned())]);
    let dress = Dress { templates, logo: String::new() };
    let error = dressed(&dress).err().expect("a fault");
    let faults = error.downcast_ref::<Faults>().expect("faults of templates");
    faults.to_string()
}

fn ours(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates").join(name);
    std::fs::read_to_string(path).expect("a template")
}

#[test]
fn a_fault_of_a_users_template_is_told_in_our_words() {
    let chart = ours("board-chart.html");
    let unknown = faults("board-chart.html", &chart.replace("r.serves", "r.servs"));
    assert!(unknown.contains("there is no field `view.boards[].rows[].servs`"), "{unknown}");
    assert!(unknown.contains("did you mean `serves`?"), "{unknown}");
    assert!(unknown.contains("leaves out") && unknown.contains("view.boards[].rows[].serves"));
    let row = chart.lines().position(|l| l.contains("r.serves")).expect("a row") + 1;
    assert!(unknown.contains(&format!("`board-chart.html`, row {row}:")), "{unknown}");
    let root = faults("board-chart.html", &chart.replace("in view.boards", "in vew.boards"));
    assert!(root.contains("there is no field `vew`; did you mean `view`?"), "{root}");
    let name = faults("bord-chart.html", &chart);
    assert!(name.contains("no paper is made from it; did you mean `board-chart.html`?"), "{name}");
    let broken = faults("board-chart.html", "one\n{% if %}");
    assert!(broken.contains("`board-chart.html`, row 2:"), "{broken}");
    let outside = faults("board-chart.html", "{% include \"/etc/hostname\" %}");
    assert!(outside.contains("/etc/hostname"), "{outside}");
}

#[test]
fn a_users_template_takes_the_place_of_ours() {
    let chart = ours("board-chart.html")
        .replace("Spare ways:", "Not used:")
        .replace("<td>{{ r.cable }}</td>", "{# leaves out: view.boards[].rows[].cable #}");
    let templates = BTreeMap::from([("board-chart.html".to_owned(), chart)]);
    let pack = dressed(&Dress { templates, logo: String::new() }).expect("a pack");
    let text = content(&pack, "board-chart");
    assert!(text.contains("Not used:") && !text.contains("Spare ways:"));
    assert!(!text.contains("twin and earth"));
}

#[test]
fn a_picture_is_carried_inside_and_is_what_its_name_says() {
    // The octets of RFC 4648, section 10, behind the eight that begin a PNG file.
    let png = [b"\x89PNG\r\n\x1a\n".as_slice(), b"foobar"].concat();
    let address = logo::address("firm.PNG", &png).expect("a picture");
    assert_eq!(address, "data:image/png;base64,iVBORw0KGgpmb29iYXI=");
    for (name, bytes) in [
        ("firm.png", b"GIF89a".as_slice()),
        ("firm.svg", b"<html></html>"),
        ("firm.jpg", &png),
        ("firm.gif", b"GIF89a"),
        ("firm.png", &[0; logo::MOST_BYTES + 1]),
    ] {
        assert!(logo::address(name, bytes).is_err(), "{name}");
    }
    let dress = Dress { templates: BTreeMap::new(), logo: address };
    let pack = dressed(&dress).expect("a pack");
    assert!(content(&pack, "method-statement").contains("<img class=\"logo\" src=\"data:image"));
}
