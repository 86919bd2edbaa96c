//! The spreadsheets, read back by another library: types, and facts equal to the replay's.

use crate::demos::{boathouse, boathouse_pack, school, school_pack};
use calamine::{Data, Range, Reader, Xlsx};
use std::collections::BTreeMap;
use std::io::Cursor;
use wayover::document::Pack;
use wayover::jobfile::Resolved;
use wayover::model::{Id, TaskKind};
use wayover::verify::SoundPlan;

fn sheets(pack: &Pack, file: &str) -> BTreeMap<String, Range<Data>> {
    let book = pack.books.iter().find(|b| b.file == file).expect("the workbook");
    let mut read: Xlsx<_> = Xlsx::new(Cursor::new(book.content.clone())).expect("a workbook");
    read.worksheets().into_iter().collect()
}

/// The cells of a row by the header of their column.
fn rows(range: &Range<Data>) -> Vec<BTreeMap<String, Data>> {
    let mut all = range.rows();
    let header: Vec<String> = all.next().expect("a header").iter().map(Data::to_string).collect();
    all.map(|row| header.iter().cloned().zip(row.iter().cloned()).collect()).collect()
}

fn number(cell: &Data) -> Option<f64> {
    match cell {
        Data::Float(n) => Some(*n),
        Data::Int(n) => Some(*n as f64),
        _ => None,
    }
}

/// Minutes since 1970 of what the cell shows, without a zone.
fn minutes(cell: &Data) -> Option<i64> {
    let Data::DateTime(at) = cell else { return None };
    // Serial 25 569 is the first day of 1970.
    Some(((at.as_f64() - 25_569.0) * 1440.0).round() as i64)
}

#[track_caller]
fn chart_agrees(job: &Resolved, sound: &SoundPlan, pack: &Pack) {
    let chart = sheets(pack, "circuit-chart.xlsx").remove("Circuits").expect("the sheet");
    let rows = rows(&chart);
    let model = sound.job();
    assert_eq!(rows.len(), model.circuits.len());
    let shown = |t| {
        let at = job.site.clock.at(t);
        (at.timestamp().as_second() + i64::from(at.offset().seconds())) / 60
    };
    let mut timed = 0;
    for (c, row) in model.circuits.ids().zip(&rows) {
        let label = &job.site.circuits[c.index()];
        assert_eq!(row["No."], Data::String(label.number.clone()));
        assert_eq!(row["Serves"], Data::String(label.serves.clone()));
        let way = label.new.as_ref().map(|w| w.way as f64);
        assert_eq!(number(&row["NEW way"]), way, "{}", label.number);
        let rating = label.rating.as_ref().map(|r| r.to_string().parse::<f64>().expect("amperes"));
        assert_eq!(number(&row["Rating, A"]), rating, "{}", label.number);
        let taken = sound
            .plan()
            .tasks
            .iter()
            .find(|(_, t)| t.circuit == Some(c) && t.kind == TaskKind::Disconnect);
        let start = taken.and_then(|(t, _)| sound.replay().task(t)).map(|r| shown(r.start));
        assert_eq!(minutes(&row["Off its old way"]), start, "{}", label.number);
        timed += usize::from(start.is_some());
    }
    assert!(timed > 0);
}

#[test]
fn the_chart_as_a_spreadsheet_agrees_with_the_plan() {
    for ((job, sound), pack) in [(boathouse(), boathouse_pack()), (school(), school_pack())] {
        chart_agrees(job, sound, pack);
    }
}

#[test]
fn the_test_record_as_a_spreadsheet_has_limits_as_numbers_and_readings_blank() {
    let (job, _) = boathouse();
    let all = sheets(boathouse_pack(), "test-sheets.xlsx");
    let mut seen = 0;
    for row in all.values().flat_map(rows) {
        let label = job.site.circuits.iter().find(|l| Data::String(l.number.clone()) == row["No."]);
        let label = label.expect("a circuit");
        // BS 7671:2018+A2:2022, Table 41.3: 0.95 x 230 V over five times In of a type B.
        if let (Some(rating), true) = (&label.rating, label.device.contains(" B")) {
            let amperes: f64 = rating.to_string().parse().expect("amperes");
            let limit = number(&row["Zs at most, Ω"]).expect("a number");
            assert!((limit - 218.5 / (5.0 * amperes)).abs() <= 0.005 + 1e-9, "{limit}");
            seen += 1;
        }
        assert_eq!(number(&row["Insulation at least, MΩ"]), Some(1.0));
        for reading in ["r1, Ω", "R1+R2 or R2, Ω", "Live to earth, MΩ", "Zs, Ω", "RCD, ms"] {
            assert_eq!(row[reading], Data::Empty, "{reading}");
        }
    }
    assert!(seen > 0);
}

#[test]
fn a_text_like_a_formula_stays_a_text_and_headers_repeat() {
    let (job, sound) = boathouse();
    let mut job = job.clone();
    let evil = "=HYPERLINK(\"x\",\"y\") & <b>";
    job.site.circuits[0].serves = evil.to_owned();
    let input = crate::demos::input(&job, sound);
    let pack = wayover::document::pack(&input).expect("papers");
    let again = wayover::document::pack(&input).expect("papers");
    for (book, other) in pack.books.iter().zip(&again.books) {
        assert_eq!(book.content, other.content, "{}", book.file);
        let mut read: Xlsx<_> = Xlsx::new(Cursor::new(book.content.clone())).expect("a workbook");
        for name in read.sheet_names() {
            assert!(read.worksheet_formula(&name).expect("a sheet").is_empty(), "{name}");
        }
        // The repeated rows of a sheet are a name that the format itself defines.
        let titles = read.defined_names().iter().filter(|(n, _)| n.contains("Print_Titles"));
        assert_eq!(titles.count(), read.sheet_names().len(), "{}", book.file);
        let texts: Vec<Data> = read
            .worksheets()
            .iter()
            .flat_map(|(_, r)| rows(r))
            .map(|r| r["Serves"].clone())
            .collect();
        assert!(texts.contains(&Data::String(evil.to_owned())), "{}", book.file);
    }
}
