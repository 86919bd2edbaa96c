//! What `check` says of each group before anything is planned.

use super::*;

/// A small job of two boards; what a test changes is the schedule and what it adds to the job.
const SHOP: &str = include_str!("../../faults/J027/job.toml");
const HEAD: &str = "circuit,old,new,serves,device,identified,emergency,with,lights";

fn check(label: &str, toml: &str, rows: &[&str]) -> (Option<i32>, String, String) {
    let csv = std::iter::once(&HEAD).chain(rows).copied().collect::<Vec<_>>().join("\n");
    let job = Scratch::new(label, toml, &csv);
    said(&wayover(&["check", &job.0.to_string_lossy()]))
}

/// Text with every run of blanks and line ends as one blank.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn fine(label: &str, toml: &str, rows: &[&str], wanted: &[&str]) {
    let (code, out, err) = check(label, toml, rows);
    assert_eq!((code, err.as_str()), (Some(0), ""), "{out}");
    assert!(out.lines().all(|l| l.chars().count() <= 80), "{out}");
    for part in wanted {
        assert!(flat(&out).contains(part), "`{part}` is not in\n{out}");
    }
}

#[track_caller]
fn refused(label: &str, toml: &str, rows: &[&str], wanted: &[&str]) {
    let (code, out, err) = check(label, toml, rows);
    assert_eq!(code, Some(2), "{out}{err}");
    for part in wanted {
        assert!(flat(&format!("{out}{err}")).contains(part), "`{part}` is not in\n{out}{err}");
    }
}

const ONE: &str = "C1,DB-1/1L1,DB-2/1L1,lighting,rcbo B10,traced,EM-1,,";
const LIGHTING: &str = "C1,DB-1/1L1,DB-2/1L1,lighting,rcbo B10,traced,EM-1 lighting,C2,";
const FEED: &str = "C2,DB-1/1L1,DB-2/1L1,emergency luminaires,rcbo B10,traced,EM-1 feed,,";

#[test]
fn a_group_on_its_own_lighting_circuit_is_kept() {
    let toml = format!("{SHOP}key_switch = \"KS-1\"\nluminaires = 5\nmaintained = true\n");
    let wanted = [
        "EM-1 in shop",
        "emergency feed C1 OLD DB-1/1L1 NEW DB-2/1L1",
        "lighting watched C1 OLD DB-1/1L1 NEW DB-2/1L1",
        "test key switch KS-1; 5 luminaires, maintained; no rest mode",
        "rated 180 min, recharge 1440 min, 90 min at the start",
        "kept: one circuit",
    ];
    fine("one", &toml, &[ONE], &wanted);
}

#[test]
fn two_circuits_on_one_way_are_kept_by_moving_together() {
    fine("two", SHOP, &[LIGHTING, FEED], &["kept by moving together"]);
}

#[test]
fn an_old_state_that_parts_them_needs_its_reason_and_is_mended() {
    let feed = with(FEED, "DB-1/1L1", "DB-1/2L1");
    let rows = [LIGHTING, &feed];
    refused("unexplained", SHOP, &rows, &["J024", "`DB-1/2L1` while its lighting is on"]);
    let toml = format!("{SHOP}old_state = \"found on a way of its own on survey\"\n");
    let wanted = ["changed on purpose", "found on a way of its own on survey", "OLD DB-1/2L1"];
    fine("mended", &toml, &rows, &wanted);
}

#[test]
fn an_old_state_that_stays_is_carried_with_its_reason() {
    let toml = format!("{SHOP}old_state = \"landlord's board, not part of this job\"\n");
    let toml = with(
        &toml,
        "ways = 4\nfed_from = \"Q1\"\nnone_found",
        "ways = 5\nfed_from = \"Q1\"\nnone_found",
    );
    let toml = with(
        &toml,
        "[[emergency_group]]",
        "[[board]]\nname = \"LB\"\nrole = \"stays\"\nways = 4\nfed_from = \"Q1\"\n\
         none_found = true\nway_device = \"breaker\"\n\n[[emergency_group]]",
    );
    let rows = [
        "C1,LB/1L1,stays,lighting,,traced,EM-1 lighting,,",
        "C2,LB/2L1,stays,emergency luminaires,,traced,EM-1 feed,,",
        "C3,DB-1/1L1,DB-2/1L1,sockets,rcbo B16,traced,,,",
    ];
    let wanted = ["NOT MENDED, stays as it is: landlord's board, not part of this job"];
    fine("carried", &toml, &rows, &wanted);
}

#[test]
fn different_new_ways_are_broken_and_the_mend_names_both() {
    let feed = with(FEED, "DB-2/1L1", "DB-2/2L1");
    let wanted = [
        "error[J027]",
        "BROKEN: emergency feed C2 ends on DB-2/2L1, lighting watched C1 on DB-2/1L1; DB-2/2L1 \
         and DB-2/1L1 have to share a device",
    ];
    refused("broken", SHOP, &[LIGHTING, &feed], &wanted);
}

#[test]
fn the_coil_of_a_contactor_before_the_lamps_is_watched_too() {
    let toml = format!("{SHOP}\n[[contactor]]\nname = \"K1\"\ncircuit = \"C1\"\ncoil = \"C3\"\n");
    let near = "C3,DB-1/1L1,DB-2/1L1,coil of K1,rcbo B10,traced,,C1,";
    let wanted = ["coil of K1 C3 OLD DB-1/1L1 NEW DB-2/1L1", "kept by moving together"];
    fine("coil", &toml, &[LIGHTING, FEED, near], &wanted);
    let far = with(near, "DB-2/1L1", "DB-2/3L1");
    let broken = ["error[J027]", "BROKEN", "coil of K1 C3 on DB-2/3L1"];
    refused("coil-far", &toml, &[LIGHTING, FEED, &far], &broken);
    // A declared sensing relay on the lighting behind the contactor sees the coil fail.
    let relay = toml.replace("rated_min = 180", "rated_min = 180\nrelays = [\"C1\"]");
    fine("coil-relay", &relay, &[LIGHTING, FEED, &far], &["sensing relay covers C1"]);
}

#[test]
fn an_area_lit_by_several_circuits_has_several_groups_or_a_relay() {
    let second = "C3,DB-1/1L2,DB-2/1L2,lighting west,rcbo B10,traced,,,yes";
    refused("west", SHOP, &[ONE, second], &["J029", "`C3` lights area `shop`"]);
    let relay = format!("{SHOP}relays = [\"C3\"]\n");
    fine("west-relay", &relay, &[ONE, second], &["sensing relay covers C3"]);
    let own = "C3,DB-1/1L2,DB-2/1L2,lighting west,rcbo B10,traced,EM-2,,";
    let toml = format!("{SHOP}\n[[emergency_group]]\nname = \"EM-2\"\nrated_min = 60\n");
    fine("west-group", &toml, &[ONE, own], &["EM-2 in shop", "rated 60 min"]);
}

/// A board that stays, fed from somewhere of its own, on which the emergency luminaires are.
fn elsewhere(feed: &str, more: &str) -> String {
    let toml = with(SHOP, "feed = [", &format!("feed = [{feed}, "));
    let board = "[[board]]\nname = \"CB\"\nrole = \"stays\"\nways = 4\nfed_from = \"QB\"\n\
         none_found = true\nway_device = \"breaker\"\n\n[[emergency_group]]";
    let toml = with(&toml, "[[emergency_group]]", board);
    format!("{toml}old_state = \"found so on survey\"\n{more}")
}

/// The same from a battery of its own while the mains are out.
fn central(more: &str) -> String {
    let change = "transfer = [{ name = \"changeover\", normal = \"QN\", standby = \"QS\", \
                  rating_a = 32 }]\n";
    let ways = "{ name = \"QN\", from = \"mains\", kind = \"breaker\", rating_a = 32, \
                lockable = true }, { name = \"QS\", from = \"central battery\", \
                kind = \"breaker\", rating_a = 32, lockable = true }, { name = \"QB\", \
                from = \"changeover\", kind = \"breaker\", rating_a = 32, lockable = true }";
    let toml = format!("{change}{}", elsewhere(ways, more));
    let mains = "{ name = \"mains\", kind = \"incoming\", rating_a = 100 }";
    let battery = "{ name = \"central battery\", kind = \"battery\", rating_a = 32 }";
    with(&toml, mains, &format!("{mains}, {battery}"))
}

const OTHER_FEED: &str = "C2,CB/1L1,stays,emergency luminaires,,traced,EM-1 feed,,";

/// Lighting moved while its luminaires are fed from elsewhere: refused, relay or not, by `check`,
/// `plan` and `print` in the same words, and nothing is written.
#[test]
fn a_feed_from_another_board_or_a_central_battery_is_refused_with_the_reason() {
    let board = "{ name = \"QB\", from = \"mains\", kind = \"breaker\", rating_a = 32, \
                 lockable = true }";
    let relay = "relays = [\"C1\"]\n";
    let words = "error[J027]: emergency group `EM-1`: its feed, `C2`, goes to `CB/1L1`, the lighting \
                 `C1` that it watches to `DB-2/1L1`; they have to share one device";
    let hint = "hint: give `C2` and `C1` the same new way; a feed from another board or a central \
                battery system is refused, sensing relay or not: both have to go out with one \
                device (rule E1), and a relay stands in only for a contactor's coil or a further \
                lighting circuit";
    for (label, toml) in [
        ("other-board", elsewhere(board, "")),
        ("other-board-relay", elsewhere(board, relay)),
        ("central", central("")),
        ("central-relay", central(relay)),
    ] {
        let csv = [HEAD, LIGHTING, OTHER_FEED].join("\n");
        let job = Scratch::new(label, &toml, &csv);
        let path = job.0.to_string_lossy().into_owned();
        let to = job.0.join("papers").to_string_lossy().into_owned();
        for args in [vec!["check", &path], vec!["plan", &path], vec!["print", &path, "--out", &to]]
        {
            let (code, out, err) = said(&wayover(&args));
            assert_eq!(code, Some(2), "{label} {args:?}: {out}{err}");
            for part in [words, hint] {
                assert!(flat(&err).contains(part), "{label}: `{part}` is not in\n{err}");
            }
            assert_eq!(err.matches("error[").count(), 1, "{err}");
            assert_eq!(out.contains("BROKEN"), args[0] == "check", "{out}");
        }
        assert_eq!(std::fs::read_dir(&job.0).expect("readable").count(), 2, "something is written");
    }
}

/// Not touched by the job, a central battery is carried with its reason: checked, and planned.
#[test]
fn a_central_battery_that_the_job_does_not_touch_is_carried_with_its_reason() {
    let board = "[[board]]\nname = \"LB\"\nrole = \"stays\"\nways = 4\nfed_from = \"Q1\"\n\
         none_found = true\nway_device = \"breaker\"\n\n[[emergency_group]]";
    let toml = with(&central(""), "[[emergency_group]]", board);
    let toml = with(&toml, "[{ name = \"Ash\" }]", "[{ name = \"Ash\" }, { name = \"Birch\" }]");
    let lighting = "C1,LB/1L1,stays,lighting,,traced,EM-1 lighting,,";
    let rows = [lighting, OTHER_FEED, "C3,DB-1/1L1,DB-2/1L1,sockets,rcbo B16,traced,,,"];
    fine("untouched", &toml, &rows, &["NOT MENDED, stays as it is: found so on survey"]);
    let csv = std::iter::once(&HEAD).chain(&rows).copied().collect::<Vec<_>>().join("\n");
    let job = Scratch::new("untouched-plan", &toml, &csv);
    let (code, out, err) = said(&wayover(&["plan", &job.0.to_string_lossy(), "--effort", "quick"]));
    assert_eq!((code, err.as_str()), (Some(0), ""), "{out}");
    assert!(flat(&out).contains("found so on survey"), "{out}");
}

#[test]
fn a_schedule_that_parts_the_corridor_never_yields_a_paper() {
    let toml = demo("b-library", "job.toml");
    let row = "C5,DB-1/1L2,DB-2/1L2,,corridor emergency luminaires";
    let csv = demo("b-library", "circuits.csv");
    let parted = with(&csv, row, &row.replace("DB-2/1L2", "DB-2/23L2"));
    let job = Scratch::new("corridor", &toml, &parted);
    let path = job.0.to_string_lossy().into_owned();
    let papers = job.0.join("papers");
    let to = papers.to_string_lossy().into_owned();
    for args in [vec!["check", &path], vec!["plan", &path], vec!["print", &path, "--out", &to]] {
        let (code, out, err) = said(&wayover(&args));
        assert_eq!(code, Some(2), "{args:?}: {out}{err}");
        assert!(err.starts_with("error[J027]: emergency group `EM-2`"), "{err}");
        assert_eq!(err.matches("error[").count(), 1, "{err}");
        let shown = out.contains("BROKEN: emergency feed C5 ends on DB-2/23L2");
        assert_eq!(shown, args[0] == "check", "{out}");
    }
    let left: Vec<_> = std::fs::read_dir(&job.0).expect("readable").flatten().collect();
    assert_eq!(left.len(), 2, "something was written: {left:?}");
}
