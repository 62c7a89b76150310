//! The content that ISO/IEC 17025:2017, 7.8.2, asks of a report, item by item: where it stands, or
//! why it does not. The wording of the items is ours, from memory of the standard.

use super::{
    heading, paragraph,
    unit::{Identity, UnitReport},
    word_table,
};
use crate::paper::{Block, Row, Text};

const MET: &str = "met";
const OMITTED: &str = "omitted";

pub(super) fn unit(blocks: &mut Vec<Block>, report: &UnitReport, identity: &Identity) {
    let tester = &report.issuer.tester;
    let record = &report.record;
    let unset = |what: &str| {
        (
            OMITTED,
            format!("{what} has not been set by whoever runs this site"),
        )
    };
    let draft = "a draft has not been published";
    let dated = record.runs.iter().filter(|run| run.tested_on.is_some());
    let dated = dated.count();
    let items: Vec<(&str, &str, (&str, String))> = vec![
        (
            "7.8.2.1 a",
            "Title",
            (MET, "“Test report”, page 1 and head of every page".to_owned()),
        ),
        (
            "7.8.2.1 b",
            "Name and address of the laboratory",
            match (&tester.name, &tester.address) {
                (Some(_), Some(_)) => (MET, "Who tested".to_owned()),
                (Some(_), None) => unset("the address of the tester"),
                (None, Some(_)) => unset("the name of the tester"),
                (None, None) => unset("the tester’s name and address"),
            },
        ),
        (
            "7.8.2.1 c",
            "Where the work was done",
            match (&tester.test_place, &tester.address) {
                (Some(_), _) | (None, Some(_)) => (MET, "Who tested, Place of the tests".to_owned()),
                (None, None) => unset("the place of the tests"),
            },
        ),
        (
            "7.8.2.1 d",
            "Unique identification on every part, and a clear end",
            (
                MET,
                format!(
                    "“{}” and “page n of m” on every page; “End of the report” closes it; SHA-256 of the record under Identification",
                    identity.report
                ),
            ),
        ),
        (
            "7.8.2.1 e",
            "Name and contact of the customer",
            (
                OMITTED,
                "there is no customer: the report is addressed to the public".to_owned(),
            ),
        ),
        (
            "7.8.2.1 f",
            "Method used",
            (MET, "Methods, with citations; Decision rule".to_owned()),
        ),
        (
            "7.8.2.1 g",
            "Description and identification of the item, its condition where it matters",
            (
                MET,
                "Identification; The label and what we measured. Its condition on receipt is not a field of the record; what was odd stands in the notes".to_owned(),
            ),
        ),
        (
            "7.8.2.1 h",
            "Date of receipt, and of sampling where it matters",
            match &record.unit.acquired_on {
                Some(_) => (MET, "The label and what we measured, Acquired".to_owned()),
                None => (OMITTED, "the record holds no date of acquisition".to_owned()),
            },
        ),
        (
            "7.8.2.1 i",
            "Dates of the tests",
            match (dated, record.runs.len()) {
                (_, 0) => (OMITTED, "no run has been recorded".to_owned()),
                (0, _) => (OMITTED, "no run in the record has a date".to_owned()),
                (some, all) if some < all => (
                    OMITTED,
                    format!("in part: {some} of {all} runs have a date (Conditions)"),
                ),
                _ => (MET, "Conditions, Tested".to_owned()),
            },
        ),
        (
            "7.8.2.1 j",
            "Date of issue",
            match &report.publication {
                Some(_) => (MET, "Identification: the revision’s publication".to_owned()),
                None => (OMITTED, draft.to_owned()),
            },
        ),
        (
            "7.8.2.1 k",
            "Sampling plan and method, where results rest on them",
            (
                OMITTED,
                "no sampling was made: one item was tested, chosen by the tester".to_owned(),
            ),
        ),
        (
            "7.8.2.1 l",
            "Statement that results relate only to the items tested",
            (MET, "page 1 and foot of every page".to_owned()),
        ),
        (
            "7.8.2.1 m",
            "Results with units of measurement",
            (
                MET,
                "Readings, run by run, and the sections after it; uncertainty beside each figure where an instrument’s accuracy is recorded".to_owned(),
            ),
        ),
        (
            "7.8.2.1 n",
            "Additions to, deviations or exclusions from the method",
            (
                MET,
                "Warnings and deviations; Notes of the tester; what was not measured is marked where it would stand".to_owned(),
            ),
        ),
        (
            "7.8.2.1 o",
            "Person who authorises the report",
            match (&report.publication, &tester.authorised_by) {
                (None, _) => (OMITTED, format!("{draft} and is authorised by nobody")),
                (Some(_), Some(_)) => (MET, "Who tested, Authorised by".to_owned()),
                (Some(p), None) => (
                    OMITTED,
                    format!(
                        "the authorising person has not been set by whoever runs this site; the revision was published by {}",
                        p.author
                    ),
                ),
            },
        ),
        (
            "7.8.2.1 p",
            "Results of external providers marked",
            (
                OMITTED,
                "the record does not tell external results apart; it is meant for the tester’s own".to_owned(),
            ),
        ),
        (
            "7.8.2.2",
            "Responsibility; data from the customer marked; results hold for the sample as received",
            (
                MET,
                "the tester answers for everything but what the label claims, which stands apart in its own column; the sample was tested as it was acquired".to_owned(),
            ),
        ),
    ];
    blocks.push(heading("Contents by ISO/IEC 17025:2017, 7.8.2"));
    blocks.push(paragraph("Where this report holds what the clause asks for, or why it does not. The clause is rendered from memory, in our words; this report claims no accreditation."));
    let rows = items
        .into_iter()
        .map(|(clause, item, (state, where_or_why))| {
            let state = match state {
                MET => Text::from(state),
                _ => Text::new().bold(state),
            };
            Row::new([
                Text::from(clause.replace(' ', "\u{a0}")),
                Text::from(item),
                state,
                Text::from(where_or_why),
            ])
        });
    blocks.push(word_table(
        "",
        &["Item", "Asked for", "State", "Where, or why not"],
        rows.collect(),
    ));
}
