//! How the ports of a unit share power, as its page shows it: the matrix of combinations, what
//! attaching does to the others, the groups and how sure they are, and what was not tried.

use crate::{
    evaluate::sharing::{CombinationResult, PortGroup, SharingResult},
    text::{t, word},
    web::format,
};

pub struct SharingView {
    /// Labels of the columns.
    pub ports: Vec<String>,
    pub rows: Vec<CombinationView>,
    /// The groups in a sentence.
    pub statement: String,
    pub settled: bool,
    pub groups: Vec<GroupView>,
    /// "At most 95 W are offered together …"
    pub power: Vec<String>,
    pub contradictions: Vec<ContradictionView>,
    /// Combinations that could still change the groups.
    pub open: Vec<UntestedView>,
    /// Those that would only confirm them.
    pub confirming: Vec<String>,
    pub delivers: bool,
    pub disturbs: bool,
}

/// What does not fit together, in the words of the evaluation document.
pub struct ContradictionView {
    pub message: String,
    /// "observations 2 and 5"
    pub seen: Option<String>,
}

impl std::fmt::Display for ContradictionView {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.seen {
            Some(seen) => write!(to, "{} ({seen})", self.message),
            None => to.write_str(&self.message),
        }
    }
}

pub struct CombinationView {
    /// Counted from 1, as observations are referred to.
    pub number: u64,
    pub name: String,
    pub cells: Vec<Cell>,
    pub total: Option<String>,
    pub delivered: Option<String>,
    /// What attaching and detaching did to the others.
    pub effects: Vec<String>,
    pub note: Option<String>,
}

pub enum Cell {
    NotInUse,
    /// In use, and what it offered was not read.
    NotRead,
    Offered {
        power: String,
        voltage: Option<String>,
        /// `−20 W` against the port alone; none where it is the same or was not tried.
        change: Option<String>,
    },
}

pub struct GroupView {
    pub name: String,
    /// What shows that they share, or that one does not.
    pub lines: Vec<String>,
}

pub struct UntestedView {
    pub ports: String,
    pub why: String,
    pub needed: bool,
}

/// `C1, C2 and A`
pub fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => t("listed")
            .with("first", first.join(", "))
            .with("last", last)
            .to_string(),
    }
}

/// What the ports in use did when one was attached or detached.
fn did(what: &str) -> &str {
    match what {
        "held" => word("sharing-held"),
        "reset" => word("sharing-reset"),
        "lost" => word("sharing-lost"),
        "not-applicable" => word("sharing-no-other"),
        other => other,
    }
}

impl SharingView {
    /// `ports` are the labels of the unit in its order.
    pub fn of(result: &SharingResult, ports: &[String], nameplate_w: f64) -> SharingView {
        let place = |label: &String| ports.iter().position(|p| p == label).unwrap_or(ports.len());
        let mut combinations: Vec<&CombinationResult> = result.combinations.iter().collect();
        combinations.sort_by_key(|c| {
            let mut places: Vec<usize> = c.ports.iter().map(place).collect();
            places.sort_unstable();
            (places.len(), places, c.observation)
        });
        let rows: Vec<CombinationView> = combinations
            .into_iter()
            .map(|c| combination(c, ports))
            .collect();
        SharingView {
            delivers: rows.iter().any(|r| r.delivered.is_some()),
            disturbs: rows
                .iter()
                .any(|r| !r.effects.is_empty() || r.note.is_some()),
            rows,
            ports: ports.to_vec(),
            statement: result.statement.clone(),
            settled: result.settled,
            // One port alone has nobody to share with.
            groups: result
                .groups
                .iter()
                .filter(|_| ports.len() > 1)
                .map(|g| group(g, result))
                .collect(),
            power: power(result, ports.len(), nameplate_w),
            contradictions: result
                .contradictions
                .iter()
                .map(|c| ContradictionView {
                    message: c.message.clone(),
                    seen: (!c.observations.is_empty()).then(|| observations(&c.observations)),
                })
                .collect(),
            open: result
                .untested
                .iter()
                .filter(|u| u.informative)
                .map(|u| UntestedView {
                    ports: u.ports.join(" + "),
                    why: u.why.clone(),
                    needed: u.needed,
                })
                .collect(),
            confirming: result
                .untested
                .iter()
                .filter(|u| !u.informative)
                .map(|u| u.ports.join(" + "))
                .collect(),
        }
    }
}

/// `observations 2 and 5`, counted from 1.
fn observations(places: &[u64]) -> String {
    let mut places = places.to_vec();
    places.sort_unstable();
    places.dedup();
    let numbers: Vec<String> = places.iter().map(|at| (at + 1).to_string()).collect();
    t("sharing-observations")
        .with("count", numbers.len())
        .with("numbers", listed(&numbers))
        .to_string()
}

/// Powers in lists are multiples of some tens of milliwatts.
fn watts(value: f64) -> String {
    format::rated_watts((value * 100.0).round() / 100.0)
}

fn combination(c: &CombinationResult, ports: &[String]) -> CombinationView {
    CombinationView {
        number: c.observation + 1,
        name: c.ports.join(" + "),
        cells: ports
            .iter()
            .map(|port| {
                if !c.ports.contains(port) {
                    return Cell::NotInUse;
                }
                match c.offers.iter().find(|o| &o.port == port) {
                    None => Cell::NotRead,
                    Some(offer) => Cell::Offered {
                        power: watts(offer.power_w),
                        voltage: offer
                            .voltage_max_v
                            .map(|v| format::with_unit(format::plain(v), "V")),
                        change: offer.change_w.filter(|change| change.abs() > 0.005).map(
                            |change| {
                                let plus = if change > 0.0 { "+" } else { "" };
                                let number = format::plain((change * 100.0).round() / 100.0);
                                format::with_unit(format!("{plus}{number}"), "W")
                            },
                        ),
                    },
                }
            })
            .collect(),
        total: c.total_w.map(watts),
        delivered: c.delivered_power_w.map(format::watts),
        effects: effects(c),
        note: c.note.clone(),
    }
}

fn effects(c: &CombinationResult) -> Vec<String> {
    let mut lines = Vec::new();
    let which = c.attached.as_deref();
    if let Some(what) = &c.on_attach {
        let text = match which {
            Some(port) => t("attached").with("port", port),
            None => t("attached-another"),
        };
        lines.push(text.with("effect", did(what)).to_string());
    } else if let Some(port) = which {
        lines.push(t("attached-last").with("port", port).to_string());
    }
    if let Some(what) = &c.on_detach {
        let text = match which {
            Some(port) => t("detached").with("port", port),
            None => t("detached-again"),
        };
        lines.push(text.with("effect", did(what)).to_string());
    }
    match c.reset_ports.as_deref() {
        Some([]) => lines.push(word("disturbed-none").to_owned()),
        Some(ports) => lines.push(t("disturbed").with("ports", listed(ports)).to_string()),
        None => {}
    }
    if let Some(ms) = c.interruption_ms {
        let time = format::with_unit(format::plain(ms), "ms");
        lines.push(t("interrupted").with("time", time).to_string());
    }
    if let Some(volts) = c.lowest_voltage_v {
        let voltage = format::with_unit(format::plain(volts), "V");
        lines.push(t("down-to").with("voltage", voltage).to_string());
    }
    lines
}

fn group(group: &PortGroup, result: &SharingResult) -> GroupView {
    let mut lines: Vec<String> = group
        .evidence
        .iter()
        .map(|e| {
            t("share-evidence")
                .with("port", &e.port)
                .with("before", watts(e.from_w))
                .with("other", &e.by)
                .with("after", watts(e.to_w))
                .with("seen", observations(&[e.without, e.with]))
                .to_string()
        })
        .collect();
    if group.ports.len() == 1 && group.unknown.is_empty() && !result.disputed {
        lines.push(word("share-none").to_owned());
    }
    if !group.unknown.is_empty() {
        lines.push(
            t("share-unknown")
                .with("ports", listed(&group.unknown))
                .with("count", group.unknown.len())
                .to_string(),
        );
    }
    GroupView {
        name: match (group.ports.as_slice(), result.settled) {
            ([one], true) => t("group-alone").with("port", one).to_string(),
            ([one], false) => t("group-not-seen").with("port", one).to_string(),
            (several, _) if result.disputed => {
                t("group-seems").with("ports", listed(several)).to_string()
            }
            (several, _) => t("group-shares").with("ports", listed(several)).to_string(),
        },
        lines,
    }
}

fn power(result: &SharingResult, ports: usize, nameplate_w: f64) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(most) = result.offered_max_w {
        let with: Vec<String> = result
            .combinations
            .iter()
            .filter(|c| c.total_w == Some(most))
            .map(|c| c.ports.join(" + "))
            .take(1)
            .collect();
        lines.push(
            t("offered-most")
                .with("power", watts(most))
                .with("ports", with.concat())
                .with("nameplate", watts(nameplate_w))
                .to_string(),
        );
    }
    let whole = result
        .combinations
        .iter()
        .filter(|c| c.ports.len() == ports);
    if let Some(all) = whole.filter_map(|c| c.total_w).reduce(f64::max)
        && Some(all) != result.offered_max_w
    {
        lines.push(t("offered-all").with("power", watts(all)).to_string());
    }
    if let Some(most) = result.delivered_max_w {
        lines.push(
            t("delivered-most")
                .with("power", format::watts(most))
                .to_string(),
        );
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{bench::decode::decode, evaluate::Method};
    use serde_json::{Value, json};

    fn shown(sharing: Value) -> SharingView {
        let record = json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 65},
                "ports": [{"label": "C1"}, {"label": "C2"}, {"label": "A"}]},
            "sharing": sharing,
        });
        let record = decode(&record.to_string()).unwrap();
        let evaluation = crate::evaluate::evaluate(&record, &Method::standard());
        let labels: Vec<String> = record.unit.ports.iter().map(|p| p.label.clone()).collect();
        SharingView::of(evaluation.sharing.as_ref().unwrap(), &labels, 65.0)
    }

    fn offers(pairs: &[(&str, f64)]) -> Value {
        json!({"ports_in_use": pairs.iter().map(|p| p.0).collect::<Vec<_>>(),
            "offers": pairs.iter()
                .map(|p| json!({"port": p.0, "power_w": p.1}))
                .collect::<Vec<_>>()})
    }

    fn plain(text: &str) -> String {
        text.replace(['\u{202f}', '\u{a0}'], " ")
    }

    #[test]
    fn combinations_stand_by_size_with_a_cell_for_every_port() {
        let mut both = offers(&[("C1", 45.0), ("C2", 20.0)]);
        both["attached"] = json!("C2");
        both["on_attach"] = json!("reset");
        both["reset_ports"] = json!(["C1"]);
        both["interruption_ms"] = json!(850);
        both["lowest_voltage_v"] = json!(0.4);
        let view = shown(json!([
            both,
            offers(&[("C2", 30.0)]),
            offers(&[("C1", 65.0)])
        ]));
        let names: Vec<&str> = view.rows.iter().map(|r| r.name.as_str()).collect();
        assert_eq!(names, ["C1", "C2", "C1 + C2"]);
        let pair = &view.rows[2];
        assert_eq!(pair.number, 1);
        let Cell::Offered { power, change, .. } = &pair.cells[0] else {
            panic!("C1 was read");
        };
        assert_eq!(
            (plain(power), plain(change.as_deref().unwrap())),
            ("45 W".into(), "\u{2212}20 W".into())
        );
        assert!(matches!(pair.cells[2], Cell::NotInUse));
        assert_eq!(
            pair.effects.iter().map(|e| plain(e)).collect::<Vec<_>>(),
            [
                "C2 attached: the others were reset for a moment",
                "disturbed: C1",
                "without voltage for 850 ms",
                "down to 0.4 V"
            ]
        );
        assert!(!view.settled);
        assert!(
            plain(&view.groups[0].lines[0])
                .contains("65 W without C2 and 45 W with it (observations 1 and 3)")
        );
    }

    #[test]
    fn what_is_untested_is_told_apart_by_what_it_could_still_change() {
        let all = shown(json!([
            offers(&[("C1", 45.0)]),
            offers(&[("C2", 30.0)]),
            offers(&[("A", 12.0)]),
            offers(&[("C1", 30.0), ("C2", 18.0), ("A", 12.0)]),
            offers(&[("C1", 30.0), ("C2", 18.0)]),
        ]));
        assert!(all.settled, "{}", all.statement);
        assert!(all.open.iter().all(|u| !u.needed));
        assert_eq!(all.open.len() + all.confirming.len(), 2);
        assert!(
            plain(&all.power[0]).starts_with("At most 60 W are offered together, with C1 + C2 + A")
        );
    }

    #[test]
    fn a_port_in_use_whose_offer_was_not_read_is_not_shown_as_nothing() {
        let mut half = offers(&[("C1", 45.0)]);
        half["ports_in_use"] = json!(["C1", "A"]);
        let view = shown(json!([half]));
        assert!(matches!(view.rows[0].cells[2], Cell::NotRead));
        assert_eq!(view.rows[0].total, None);
    }

    #[test]
    fn one_port_alone_has_no_groups_and_contradicting_ones_only_seem_to_share() {
        let mut one = shown(json!([offers(&[("C1", 45.0)])]));
        assert!(!one.groups.is_empty());
        let record = json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 65},
                "ports": [{"label": "C1"}]},
            "sharing": [offers(&[("C1", 45.0)])],
        });
        let record = decode(&record.to_string()).unwrap();
        let evaluation = crate::evaluate::evaluate(&record, &Method::standard());
        one = SharingView::of(
            evaluation.sharing.as_ref().unwrap(),
            &["C1".to_owned()],
            65.0,
        );
        assert!(one.groups.is_empty());
        let view = shown(json!([
            offers(&[("C1", 45.0)]),
            offers(&[("C1", 45.0), ("C2", 20.0)]),
            offers(&[("C1", 30.0), ("C2", 20.0)]),
        ]));
        assert!(!view.settled);
        assert_eq!(view.groups[0].name, "C1 and C2 seem to share");
    }
}
