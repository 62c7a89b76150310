//! The steps of a stepped load: found in the log, each offered to a load point of a run, and
//! written into the draft together once they are confirmed.

use super::cut::{self, Place};
use crate::{
    bench::record::{Category, Layout, LogQuantity},
    evaluate::steps::{self, Step},
    intake::form::{self, Fields},
    log::Section,
    quantity::written,
    storage::logs::LogFile,
    web::{
        Site,
        auth::Editor,
        entry::{bench_form, live, on_to},
        error::Error,
        extract::{Form, Pairs, Path, Visit},
        format,
        log_readings::{self, Answer, Wanted},
        urls,
    },
};
use axum::{Router, response::Response, routing::post};

pub fn routes() -> Router<Site> {
    Router::new().route("/desk/logs/{sha256}/steps", post(confirm))
}

pub enum StepsView {
    Reading(u64),
    Unreadable(String),
    Found(Box<StepsFound>),
}

pub struct StepsFound {
    pub run: usize,
    pub run_label: String,
    /// Why no load point is offered, where none is.
    pub note: Option<String>,
    pub steps: Vec<StepLine>,
}

pub struct StepLine {
    /// Counted from 1.
    pub number: usize,
    pub lasts: String,
    pub window: String,
    pub from: String,
    pub to: String,
    /// "input power 24.4 W", …
    pub means: Vec<String>,
    pub stable: bool,
    pub stability: String,
    pub no_load: bool,
    /// (word, shown, chosen)
    pub places: Vec<(String, String, bool)>,
    /// By what a load point is offered.
    pub by: Option<String>,
}

/// Finds the steps of a section and offers them to the load points of a run of the draft.
pub async fn view(
    site: &Site,
    file: &LogFile,
    layout: &Layout,
    section: Section,
    fields: &Fields,
    run: usize,
) -> Result<StepsView, Error> {
    let wanted = Wanted {
        sha256: file.sha256.clone(),
        layout: layout.clone(),
        section,
    };
    let finding = match log_readings::read(site, wanted, file.size_bytes).await? {
        Answer::UnderWay(progress) => return Ok(StepsView::Reading(progress.percent())),
        Answer::Found(Err(why)) => return Ok(StepsView::Unreadable(why)),
        Answer::Found(Ok(finding)) => finding,
    };
    let path = format!("runs[{run}]");
    // A run that a plan set up has no reading yet, but its rated outputs count here.
    let mut rated = fields.clone();
    rated.remove(&format!("{path}.{}", form::PLANNED));
    let judgement = live::judge(site, &rated).await?;
    let judged = judgement.judged.as_ref().and_then(|judged| {
        let runs = judged.evaluation.runs.iter().zip(&judged.record.runs);
        runs.enumerate()
            .find(|(index, _)| judgement.document.field_path(&format!("runs[{index}]")) == path)
            .map(|(_, found)| found)
    });
    let multiple = judged.is_some_and(|(result, _)| result.category == Category::Multiple);
    let found = if multiple {
        &finding.steps_multiple
    } else {
        &finding.steps
    };
    let (assigned, note) = match judged {
        Some((result, run)) => {
            let assigned = steps::assign(found, run, result.allocation);
            let note = (assigned.is_empty() && !found.is_empty()).then(|| {
                "No step is near a load of this run. Check its rated outputs, or choose by hand."
                    .to_owned()
            });
            (assigned, note)
        }
        None => (
            Vec::new(),
            Some(
                "Give the run's rated outputs in the draft, and each step is offered to a load point. Until then choose by hand."
                    .to_owned(),
            ),
        ),
    };
    let name = fields.text(&format!("{path}.name")).trim();
    Ok(StepsView::Found(Box::new(StepsFound {
        run,
        run_label: if name.is_empty() {
            format!("run {}", run + 1)
        } else {
            format!("run {}, {name}", run + 1)
        },
        note,
        steps: found
            .iter()
            .enumerate()
            .map(|(index, step)| {
                let assignment = assigned.iter().find(|a| a.step == index);
                let load = assignment.map(|a| a.load_percent);
                let by = assignment.map(|a| match a.reached_percent {
                    Some(reached) => format!(
                        "by {}, which reaches {} %",
                        a.by,
                        format::significant(reached, 3)
                    ),
                    None => format!("by {}", a.by),
                });
                line(index, step, places(fields, run, load), by)
            })
            .collect(),
    })))
}

/// Seconds to the millisecond: finer than any log of a load is sampled.
fn to_the_millisecond(seconds: f64) -> f64 {
    (seconds * 1000.0).round() / 1000.0
}

fn line(
    index: usize,
    step: &Step,
    places: Vec<(String, String, bool)>,
    by: Option<String>,
) -> StepLine {
    let (from, to) = (
        to_the_millisecond(step.window_from_s.max(0.0)),
        to_the_millisecond(step.window_to_s),
    );
    let mut means: Vec<String> = step
        .quantities
        .iter()
        .filter(|a| !matches!(a.quantity, LogQuantity::AmbientC | LogQuantity::SurfaceC))
        .map(|average| {
            let (_, unit) = format::log_quantity(average.quantity);
            format!(
                "{} {}",
                super::log::quantity_name(average.quantity, average.port.as_deref()),
                format::with_prefix(average.mean, unit, 5)
            )
        })
        .collect();
    if let (Some(output_w), None) = (step.output_power_w(), step.sum(LogQuantity::OutputPowerW)) {
        means.push(format!(
            "output power {}",
            format::with_prefix(output_w, "W", 5)
        ));
    }
    StepLine {
        number: index + 1,
        lasts: format!(
            "{} to {} s",
            format::plain(to_the_millisecond(step.from_s.max(0.0))),
            format::plain(to_the_millisecond(step.to_s))
        ),
        window: format!("{} to {} s", format::plain(from), format::plain(to)),
        from: written::editable(from),
        to: written::editable(to),
        means,
        stable: step.stable,
        stability: step.stability.clone(),
        no_load: step.no_load,
        places,
        by,
    }
}

/// The load points of a run to choose from; one that the run does not have yet is made.
fn places(fields: &Fields, run: usize, load: Option<f64>) -> Vec<(String, String, bool)> {
    let list = format!("runs[{run}].points");
    let mut places = vec![(String::new(), "leave out".to_owned(), load.is_none())];
    let mut there = false;
    for point in 0..fields.rows(&list) {
        let path = format!("{list}[{point}].load_percent");
        let percent = bench_form::number_at(fields, &path);
        let chosen = percent.is_some() && percent == load && !there;
        there |= chosen;
        let shown = match percent {
            Some(percent) => format!("load point {} %", format::plain(percent)),
            None => format!("load point {}, load not given", point + 1),
        };
        places.push((format!("point:{point}"), shown, chosen));
    }
    if let Some(load) = load.filter(|_| !there) {
        places.push((
            format!("new:{}", written::editable(load)),
            format!("a new load point {} %", format::plain(load)),
            true,
        ));
    }
    places
}

/// The load point that a choice means; makes it if it is a new one.
fn place_of(fields: &mut Fields, run: usize, word: &str) -> Option<Place> {
    if let Some(point) = word.strip_prefix("point:") {
        return Some(Place::Point(run, point.parse().ok()?));
    }
    let load: f64 = word.strip_prefix("new:")?.parse().ok()?;
    let list = format!("runs[{run}].points");
    let row = fields.rows(&list);
    if !(0.0..=150.0).contains(&load) || run >= fields.rows("runs") {
        return None;
    }
    fields.set(
        format!("{list}[{row}].load_percent"),
        written::editable(load),
    );
    Some(Place::Point(run, row))
}

/// All chosen steps go into the draft at once, or none.
async fn confirm(
    visit: Visit,
    signed: Editor,
    Path(sha256): Path<String>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    let pairs = Pairs(pairs);
    signed.check(pairs.last("csrf").unwrap_or(""))?;
    let site = &visit.site;
    let file = super::find(site, &sha256).await?;
    let layout = cut::usable(&file)?;
    let number = |name: &str| pairs.last(name).and_then(|text| text.parse::<i64>().ok());
    let refused = |why: &str| Error::Invalid(format!("{why} Nothing was changed in the draft."));
    let draft = number("draft").ok_or_else(|| refused("Choose a draft."))?;
    let run = number("run")
        .and_then(|run| usize::try_from(run).ok())
        .ok_or_else(|| refused("Choose a run."))?;
    let mut chosen = Vec::new();
    for step in 1.. {
        let text = |name: &str| pairs.last(&format!("{name}-{step}")).map(str::to_owned);
        let Some(from) = text("from") else {
            break;
        };
        let to = text("to").unwrap_or_default();
        let Some(place) = text("place") else {
            continue;
        };
        let (Ok(from_s), Ok(to_s)) = (from.parse::<f64>(), to.parse::<f64>()) else {
            return Err(refused("The steps cannot be read."));
        };
        let section = Section {
            from_s: Some(from_s),
            to_s: Some(to_s),
        };
        chosen.push((place, section));
    }
    if chosen.is_empty() {
        return Err(refused("Every step is left out."));
    }
    let focus = cut::use_in_draft(site, &signed, draft, number("version"), |fields| {
        let mut taken: Vec<Place> = Vec::new();
        let mut first = None;
        for (word, section) in &chosen {
            let place = place_of(fields, run, word)
                .ok_or("This load point is not in the draft any more.")?;
            if taken.contains(&place) {
                return Err("Two steps are chosen for one load point.".to_owned());
            }
            taken.push(place);
            let at = cut::apply(fields, &file, &layout, place, *section, "")?;
            first.get_or_insert(at);
        }
        Ok(first.unwrap_or_default())
    })
    .await?;
    on_to(
        &urls::Query::new()
            .with("focus", &focus)
            .on(&urls::desk_draft(draft)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_load_that_the_run_does_not_have_is_offered_as_a_new_point() {
        let mut fields: Fields = [("runs[0].points[0].load_percent", "100 %")]
            .iter()
            .map(|(path, text)| (path.to_string(), text.to_string()))
            .collect();
        let words = |places: Vec<(String, String, bool)>| -> Vec<(String, bool)> {
            places.into_iter().map(|(word, _, on)| (word, on)).collect()
        };
        assert_eq!(
            words(places(&fields, 0, Some(100.0))),
            [(String::new(), false), ("point:0".to_owned(), true)]
        );
        let offered = words(places(&fields, 0, Some(12.5)));
        assert_eq!(offered.last(), Some(&("new:12.5".to_owned(), true)));
        assert_eq!(
            place_of(&mut fields, 0, "new:12.5"),
            Some(Place::Point(0, 1))
        );
        assert_eq!(fields.text("runs[0].points[1].load_percent"), "12.5");
        for word in ["", "new:", "new:1e9", "point:x", "no_load"] {
            assert_eq!(place_of(&mut fields, 0, word), None, "{word}");
        }
    }
}
