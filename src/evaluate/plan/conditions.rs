//! On which supplies and under which 100 % conditions a unit is tested, and why.

use super::{Choice, End, PlannedRun, Preparation, Reason};
use crate::bench::record::{Category, Line, RatedOutput, Run, Unit};
use crate::evaluate::Method;
use crate::evaluate::loading::{self, full_power_in_range, port_voltages, rated_current_a};
use crate::evaluate::runs::within;
use crate::standards::{Regime, Standards};

/// A line supply in volts and hertz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Supply {
    pub voltage_v: f64,
    pub frequency_hz: f64,
}

impl Supply {
    pub fn line(self) -> Line {
        Line {
            voltage_v: self.voltage_v,
            frequency_hz: self.frequency_hz,
        }
    }
}

impl std::fmt::Display for Supply {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} V {} Hz", self.voltage_v, self.frequency_hz)
    }
}

/// A supply of the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedSupply {
    pub supply: Supply,
    /// Who asks for it: short names of regimes, "the score", "you".
    pub asked_by: Vec<String>,
    /// Why it is left out after all.
    pub left_out: Option<String>,
}

/// A field without which no run can be planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Hindrance {
    pub path: String,
    pub message: String,
}

/// For a category, which does not depend on the supply.
pub(super) const ANY_LINE: Line = Line {
    voltage_v: 0.0,
    frequency_hz: 0.0,
};

/// One 100 % condition of a unit.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::evaluate) struct Condition {
    pub end: End,
    pub outputs: Vec<RatedOutput>,
    /// Ports that the 2 A rule for USB PD units loads.
    pub two_ampere_ports: Vec<String>,
    /// Ports loaded inside a programmable range, because no fixed voltage gives their power.
    pub range_ports: Vec<String>,
}

impl Condition {
    /// As the run that a record would hold.
    pub fn run(&self, line: Line) -> Run {
        Run {
            name: self.name(line),
            tested_on: None,
            ambient_c: None,
            line,
            rated_outputs: self.outputs.clone(),
            points: Vec::new(),
            no_load: None,
            waveforms: Vec::new(),
        }
    }

    /// V·I of all outputs, watts.
    pub fn together_w(&self) -> f64 {
        self.outputs.iter().map(|o| o.voltage_v * o.current_a).sum()
    }

    /// "20 V on 115 V 60 Hz", "all ports, lowest voltage, on 115 V 60 Hz".
    pub fn name(&self, line: Line) -> String {
        let supply = Supply {
            voltage_v: line.voltage_v,
            frequency_hz: line.frequency_hz,
        };
        match (self.outputs.as_slice(), self.end) {
            // Told apart from the label's own rating at this voltage.
            ([only], _) if !self.two_ampere_ports.is_empty() => {
                format!("{} V {} A on {supply}", only.voltage_v, only.current_a)
            }
            ([only], _) => format!("{} V on {supply}", only.voltage_v),
            (_, End::Only) => format!("all ports on {supply}"),
            (_, End::Highest) => format!("all ports, highest voltage, on {supply}"),
            (_, End::Lowest) => format!("all ports, lowest voltage, on {supply}"),
        }
    }
}

/// What the label lacks.
pub(super) fn hindrances(unit: &Unit) -> Vec<Hindrance> {
    let mut found = Vec::new();
    let mut lacks = |path: String, message: String| found.push(Hindrance { path, message });
    if unit.ports.is_empty() {
        lacks(
            "unit.ports".into(),
            "No port is given: each port needs its label, its connector and the voltages and currents printed on the adapter.".into(),
        );
    }
    for (i, port) in unit.ports.iter().enumerate() {
        if port_voltages(port).is_none() {
            lacks(
                format!("unit.ports[{i}].modes"),
                format!(
                    "Port {} has no voltage and current: without them nobody can say what 100 % load is.",
                    port.label
                ),
            );
        } else if port.connector.is_none() && port.negotiates() {
            lacks(
                format!("unit.ports[{i}].connector"),
                format!(
                    "Port {} changes its voltage, but its connector is not given: a USB-C port is loaded by a rule of its own at the lowest voltage.",
                    port.label
                ),
            );
        }
    }
    found
}

/// The 100 % conditions of a unit whose label is complete: one, or for an adaptive unit the
/// highest and the lowest voltage of every port together.
pub(in crate::evaluate) fn conditions(unit: &Unit, standards: &Standards) -> Vec<Condition> {
    let highest = loaded(unit, End::Highest, standards);
    if !unit.is_adaptive() {
        return vec![Condition {
            end: End::Only,
            ..highest
        }];
    }
    let lowest = loaded(unit, End::Lowest, standards);
    if lowest.outputs == highest.outputs {
        // Its other voltages are ranges beside one fixed voltage: no rating of their own.
        return vec![Condition {
            end: End::Only,
            ..highest
        }];
    }
    vec![highest, lowest]
}

fn loaded(unit: &Unit, end: End, standards: &Standards) -> Condition {
    let rule = &standards.procedure.usb_pd_lowest_voltage;
    let is_pd_unit = matches!(loading::usb_pd_unit(unit, standards), Some(Ok(())));
    let mut two_ampere_ports = Vec::new();
    let mut range_ports = Vec::new();
    let outputs = unit
        .ports
        .iter()
        .filter_map(|port| {
            let (lowest, highest) = port_voltages(port)?;
            if end == End::Highest
                && let Some((voltage_v, current_a)) = full_power_in_range(port, unit, standards)
            {
                range_ports.push(port.label.clone());
                return Some(RatedOutput {
                    port: port.label.clone(),
                    voltage_v,
                    current_a,
                });
            }
            let voltage_v = if end == End::Lowest { lowest } else { highest };
            let own = rated_current_a(port, voltage_v)?;
            let by_rule =
                end == End::Lowest && is_pd_unit && port.negotiates() && own >= rule.current_a;
            if by_rule {
                two_ampere_ports.push(port.label.clone());
            }
            Some(RatedOutput {
                port: port.label.clone(),
                voltage_v,
                current_a: if by_rule { rule.current_a } else { own },
            })
        })
        .collect();
    Condition {
        end,
        outputs,
        two_ampere_ports,
        range_ports,
    }
}

/// Supplies at which a regime judges this unit.
pub(super) fn lines(regime: &Regime, unit: &Unit) -> Vec<Supply> {
    let plate = &unit.nameplate;
    regime
        .lines(plate.input_voltage_min_v.zip(plate.input_voltage_max_v))
        .into_iter()
        .map(|(voltage_v, frequency_hz)| Supply {
            voltage_v,
            frequency_hz,
        })
        .collect()
}

/// The supplies of a plan, each with who asks for it and whether the nameplate allows it.
pub(super) fn supplies(
    unit: &Unit,
    regimes: &[&Regime],
    choice: &Choice,
    method: &Method,
) -> Vec<PlannedSupply> {
    let mut found: Vec<PlannedSupply> = Vec::new();
    let mut ask = |supply: Supply, who: &str| match found.iter_mut().find(|s| s.supply == supply) {
        Some(known) => known.asked_by.push(who.to_owned()),
        None => found.push(PlannedSupply {
            supply,
            asked_by: vec![who.to_owned()],
            left_out: left_out(supply, unit, &method.standards),
        }),
    };
    for regime in regimes {
        for supply in lines(regime, unit) {
            ask(supply, &regime.short);
        }
    }
    for supply in &choice.supplies {
        ask(*supply, "you");
    }
    if choice.score {
        let line = &method.formula.line;
        let counting = found
            .iter_mut()
            .filter(|s| line.holds(s.supply.voltage_v, s.supply.frequency_hz))
            .map(|s| s.asked_by.push("the score".to_owned()))
            .count();
        if counting == 0 {
            let supply = Supply {
                voltage_v: line.voltage_v,
                frequency_hz: line.frequency_hz,
            };
            found.push(PlannedSupply {
                supply,
                asked_by: vec!["the score".to_owned()],
                left_out: left_out(supply, unit, &method.standards),
            });
        }
    }
    found
}

/// Nobody is told to put an adapter on a supply that its nameplate does not cover.
fn left_out(supply: Supply, unit: &Unit, standards: &Standards) -> Option<String> {
    let rule = &standards.procedure.nameplate_supply;
    let margin = rule.margin_percent / 100.0;
    let plate = &unit.nameplate;
    let below = plate
        .input_voltage_min_v
        .filter(|min| supply.voltage_v < min * (1.0 - margin))
        .map(|min| format!("begins at {min} V"));
    let above = plate
        .input_voltage_max_v
        .filter(|max| supply.voltage_v > max * (1.0 + margin))
        .map(|max| format!("ends at {max} V"));
    let bound = below.or(above)?;
    Some(format!(
        "out of scope: {supply} is left out, because the nameplate's input {bound}"
    ))
}

/// Was a run made under the planned condition: the same supply, the same ports at the same voltage
/// and current?
pub fn is_same_condition(
    (line, outputs): (Line, &[RatedOutput]),
    (planned_line, planned): (Line, &[RatedOutput]),
    standards: &Standards,
) -> bool {
    let supply = standards.procedure.line.warning_tolerance_percent;
    within(line.voltage_v, planned_line.voltage_v, supply)
        && within(line.frequency_hz, planned_line.frequency_hz, supply)
        && are_same_outputs(outputs, planned, standards)
}

/// The same ports at the same voltage and current?
pub(in crate::evaluate) fn are_same_outputs(
    outputs: &[RatedOutput],
    planned: &[RatedOutput],
    standards: &Standards,
) -> bool {
    let rated = standards.procedure.cross_checks.label_power_percent;
    outputs.len() == planned.len()
        && planned.iter().all(|want| {
            outputs.iter().any(|is| {
                is.port == want.port
                    && within(is.voltage_v, want.voltage_v, rated)
                    && within(is.current_a, want.current_a, rated)
            })
        })
}

/// Why this condition on this supply.
pub(super) fn reasons(
    condition: &Condition,
    regimes: &[&Regime],
    scores: bool,
    standards: &Standards,
) -> Vec<Reason> {
    let procedure = &standards.procedure;
    let mut why: Vec<Reason> = regimes
        .iter()
        .map(|regime| {
            Reason::new(
                format!(
                    "{} is judged at {} V {} Hz",
                    regime.short, regime.line_voltage_v, regime.line_frequency_hz
                ),
                regime.citation.clone(),
            )
        })
        .collect();
    if scores {
        why.push(Reason::new(
            "Runs on this supply make the score",
            "score formula of this database",
        ));
    }
    let end = match condition.end {
        End::Only => None,
        End::Highest => Some("Every adaptive port at its highest voltage"),
        End::Lowest => Some("Every adaptive port at its lowest voltage"),
    };
    why.extend(end.map(|text| Reason::new(text, procedure.adaptive.source.clone())));
    if !condition.two_ampere_ports.is_empty() {
        let rule = &procedure.usb_pd_lowest_voltage;
        let loads: Vec<String> = rule.load_currents_a.iter().map(f64::to_string).collect();
        why.push(Reason::new(
            format!(
                "At the lowest voltage of a USB PD unit {} {} rated {} A whatever the label says: {} A",
                condition.two_ampere_ports.join(", "),
                if condition.two_ampere_ports.len() == 1 { "is" } else { "are" },
                rule.current_a,
                loads.join(", ")
            ),
            rule.source.clone(),
        ));
    }
    why
}

/// What the tester must know of a run.
pub(super) fn remarks(
    unit: &Unit,
    condition: &Condition,
    allocation: f64,
    category: Category,
    standards: &Standards,
) -> Vec<Reason> {
    let procedure = &standards.procedure;
    let several = &procedure.several_outputs;
    let mut remarks = Vec::new();
    let mut remark = |text: String, source: &str| remarks.push(Reason::new(text, source));
    if allocation < 1.0 {
        let together = condition.together_w();
        remark(
            format!(
                "The ports together are rated {together:.2} W, the nameplate {} W: every current is multiplied by D = {allocation:.6}.",
                unit.nameplate.output_power_w
            ),
            &several.allocation_source,
        );
    }
    for port in &condition.range_ports {
        let Some(rated) = condition.outputs.iter().find(|o| o.port == *port) else {
            continue;
        };
        remark(
            format!(
                "No fixed voltage of {port} gives its power, the programmable range does: set it to {} V, rated {} A. The method does not say where a range is loaded; this is how it is read here.",
                rated.voltage_v, rated.current_a
            ),
            &procedure.usb_pd_unit.source,
        );
    }
    let together_w = condition.together_w();
    let least_w =
        unit.nameplate.output_power_w * (1.0 - procedure.cross_checks.label_power_percent / 100.0);
    if condition.end != End::Lowest && together_w < least_w {
        remark(
            format!(
                "At its highest voltage the label gives {together_w:.2} W, less than the nameplate's {} W: these runs do not load it to its full power.",
                unit.nameplate.output_power_w
            ),
            &procedure.adaptive.source,
        );
    }
    if condition.end == End::Lowest {
        if let Some(Err(why)) = loading::usb_pd_unit(unit, standards) {
            remark(
                format!("Loaded as any adaptive unit, not by the 2 A rule: {why}."),
                &procedure.usb_pd_unit.source,
            );
        }
        let fixed_beside = !condition.two_ampere_ports.is_empty()
            && unit.ports.iter().any(|port| !port.negotiates());
        if fixed_beside {
            remark(
                "The watts of the fixed ports count in the rated power of this run.".into(),
                &several.fixed_beside_pd_source,
            );
        }
    }
    let mut groups: Vec<&str> = unit
        .ports
        .iter()
        .filter_map(|p| p.share_group.as_deref())
        .collect();
    groups.sort_unstable();
    groups.dedup();
    let shared: Vec<String> = groups
        .into_iter()
        .map(|group| {
            unit.ports
                .iter()
                .filter(|p| p.share_group.as_deref() == Some(group))
                .map(|p| p.label.as_str())
                .collect::<Vec<_>>()
        })
        .filter(|ports| ports.len() > 1)
        .map(|ports| format!("{} share", ports.join(", ")))
        .collect();
    if !shared.is_empty() {
        remark(
            format!(
                "{}. Attach all ports first; where one then offers less than this run asks for, correct its rated output to what it offers, and the currents follow.",
                shared.join("; ")
            ),
            &several.shared_source,
        );
    }
    if category == Category::Multiple {
        remark(
            format!(
                "An output that needs a minimum current gets that minimum at {} % load; record what flowed. Set points within {} %.",
                several.minimum_current_percent, procedure.set_current.multiple_percent
            ),
            &format!(
                "{}; {}",
                several.minimum_current_source, procedure.set_current.source
            ),
        );
    }
    remarks
}

/// What comes before the first reading.
pub(super) fn preparations(
    unit: &Unit,
    runs: &[PlannedRun],
    standards: &Standards,
) -> Vec<Preparation> {
    let procedure = &standards.procedure;
    let set_up = &procedure.set_up;
    let input_w = unit
        .nameplate
        .input_current_a
        .zip(unit.nameplate.input_voltage_max_v)
        .map(|(amps, volts)| amps * volts);
    let source_power = match input_w {
        Some(watts) => format!(
            "at least {:.0} VA ({} times the nameplate input)",
            watts * set_up.least_source_power,
            set_up.least_source_power
        ),
        None => format!(
            "at least {} times the nameplate input power",
            set_up.least_source_power
        ),
    };
    let mut steps = vec![Preparation {
        id: "set-up",
        what: format!(
            "Source: {source_power}, THD at most {} % up to the {}th harmonic, crest factor {} to {}. Air still (at most {} m/s), no fan, a surface that does not conduct. Measure the outputs at the end of the cord.",
            set_up.supply_thd_percent,
            set_up.supply_thd_up_to_order,
            set_up.crest_factor_min,
            set_up.crest_factor_max,
            set_up.air_m_per_s
        ),
        why: Reason::new(
            "Otherwise the readings are not those of the method",
            set_up.source.clone(),
        ),
    }];
    if let Some(first) = runs.first() {
        let warm_up = &procedure.warm_up;
        let currents: Vec<String> = first
            .rated_outputs
            .iter()
            .map(|o| {
                let current =
                    loading::load_current_a(warm_up.load_percent, o.current_a, first.allocation);
                let current = loading::to_milliampere(current);
                format!("{} {current} A at {} V", o.port, o.voltage_v)
            })
            .collect();
        steps.push(Preparation {
            id: "warm-up",
            what: format!(
                "Warm up for {} minutes on {} V {} Hz with {}. Once per unit.",
                warm_up.minutes,
                first.line.voltage_v,
                first.line.frequency_hz,
                currents.join(", ")
            ),
            why: Reason::new(
                "Losses change until the unit is warm",
                warm_up.source.clone(),
            ),
        });
    }
    steps
}
