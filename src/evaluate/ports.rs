//! Each port: what it advertises, what the label claims, what was measured, side by side; and what
//! the rules for USB outputs ask of a source of its rating.
//!
//! Measured voltages are within or outside a window; whether a port is fit for anything is not
//! said here.

use super::decision::{self, Judgement};
use super::evaluation::LabelOutcome;
use super::figure::AgainstFigure;
use super::uncertainty::Accuracy;
use crate::bench::record::{Connector, MeasuredQuantity as Q, Mode, Port, Record};
use crate::bench::usb_pd::{FixedFlags, PowerDataObject, written};
use crate::standards::{PdRules, Standards};
use serde::{Deserialize, Serialize};

/// All that is known of one port's outputs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PortResult {
    pub port: String,
    /// The power that the rules are applied to, watts; null where nothing tells it.
    pub rating_w: Option<f64>,
    /// `label` (the port's own power), `nameplate` (the only port) or `list` (advertised).
    pub rating_from: Option<String>,
    /// Largest voltage times current of the advertised fixed objects, or the power of an extended
    /// range adjustable one; null without a list.
    pub advertised_power_w: Option<f64>,
    /// The capability list, decoded; without padding.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub advertised: Vec<AdvertisedObject>,
    /// One row a voltage or range, by kind and rising voltage.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub voltages: Vec<PortVoltage>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<PortFinding>,
    /// The cable that everything on offer needs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cable: Option<CableNeed>,
    /// Measured voltages against the window of each nominal voltage.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub windows: Vec<WindowResult>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct AdvertisedObject {
    /// Counted from 1; extended range objects stand from 8.
    pub position: u64,
    /// The word as the record holds it.
    pub word: String,
    /// `fixed`, `battery`, `variable`, `pps`, `spr-avs` or `epr-avs`.
    pub kind: String,
    /// The object in words, such as `fixed 5 V 3 A [unconstrained]`.
    pub text: String,
    pub voltage_min_v: f64,
    pub voltage_max_v: f64,
    /// Null for a battery supply, which states a power.
    pub current_a: Option<f64>,
}

/// One voltage or range of a port: asked for, claimed, advertised, measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PortVoltage {
    /// `fixed`, `pps`, `spr-avs` or `epr-avs`.
    pub kind: String,
    /// Name of a programmable range, such as `9V Prog`.
    pub range: Option<String>,
    pub voltage_min_v: f64,
    pub voltage_max_v: f64,
    /// What a source of this rating must offer at least; null where it need not offer any.
    pub required_a: Option<f64>,
    /// By the label.
    pub claimed_a: Option<f64>,
    /// By the capability list.
    pub advertised_a: Option<f64>,
    pub measured: Option<MeasuredVoltage>,
    /// Null where no rule applies.
    pub result: Option<PortOutcome>,
}

/// The most heavily loaded measured point at a nominal voltage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct MeasuredVoltage {
    pub run: String,
    pub load_percent: f64,
    pub current_a: f64,
    pub voltage_v: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PortOutcome {
    /// Asked for and offered.
    Met,
    /// Asked for, and offered with too little current.
    TooLittle,
    /// Asked for and not offered.
    Missing,
    /// Offered, not asked for.
    Optional,
    /// Asked for; what is on record does not tell.
    Unknown,
}

/// Something that the rules or a comparison say of a port.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PortFinding {
    /// `power-rules`, `rating`, `label`, `current`, `twelve-volt`, `list`, `connector`, `pps`,
    /// `spr-avs`.
    pub subject: String,
    pub result: LabelOutcome,
    pub message: String,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct CableNeed {
    pub name: String,
    /// Largest current on offer.
    pub current_a: f64,
    /// Highest voltage on offer.
    pub voltage_v: f64,
    /// Must the cable name itself electronically?
    pub emarker: bool,
    pub source: String,
}

/// Measured voltages of one nominal voltage against its window.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct WindowResult {
    pub voltage_v: f64,
    pub low_v: f64,
    pub high_v: f64,
    pub name: String,
    pub source: String,
    pub points: u64,
    pub lowest: WindowReading,
    pub highest: WindowReading,
    /// Of the reading nearest to an edge or farthest outside: positive inside.
    pub margin_v: f64,
    /// U, k = 2, of that reading.
    pub expanded_uncertainty_v: Option<f64>,
    /// Probability that it is inside.
    pub risk: Option<f64>,
    pub result: AgainstFigure,
    pub message: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct WindowReading {
    pub run: String,
    pub load_percent: f64,
    /// Null where it was not read.
    pub current_a: Option<f64>,
    pub voltage_v: f64,
}

/// Every port of which there is something to say.
pub fn results(record: &Record, standards: &Standards) -> Vec<PortResult> {
    let alone = record.unit.ports.len() == 1;
    record
        .unit
        .ports
        .iter()
        .map(|port| {
            let nameplate = alone.then_some(record.unit.nameplate.output_power_w);
            Judge::of(port, nameplate, record, standards).result()
        })
        .filter(|r| {
            !(r.advertised.is_empty()
                && r.voltages.is_empty()
                && r.windows.is_empty()
                && r.findings.is_empty())
        })
        .collect()
}

/// Volts that are the same nominal voltage.
const SAME_V: f64 = 0.01;
/// Ends of ranges are stated to 0.1 V.
const SAME_END_V: f64 = 0.06;

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < SAME_V
}

/// At most two decimals, without needless zeros.
pub(super) fn short(x: f64) -> String {
    let text = format!("{x:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0" } else { text }.to_owned()
}

struct Judge<'a> {
    port: &'a Port,
    record: &'a Record,
    rules: &'a PdRules,
    /// Power printed on labels is rounded; more than this share beyond it counts.
    rounding: f64,
    objects: Vec<(usize, u32, PowerDataObject)>,
    rating: Option<(f64, &'static str)>,
    findings: Vec<PortFinding>,
}

/// Object of the extended power range: above 20 V, or its adjustable supply.
fn is_extended(object: &PowerDataObject) -> bool {
    match object {
        PowerDataObject::EprAvs { .. } => true,
        PowerDataObject::Fixed { voltage_mv, .. } => *voltage_mv > 21_000,
        _ => false,
    }
}

/// Power of a list: the largest V I of its fixed objects, or that of an extended adjustable one.
fn advertised_power_w(objects: &[(usize, u32, PowerDataObject)]) -> Option<f64> {
    objects
        .iter()
        .filter_map(|(.., object)| match *object {
            PowerDataObject::Fixed {
                voltage_mv,
                current_ma,
                ..
            } => Some(f64::from(voltage_mv) * f64::from(current_ma) / 1e6),
            PowerDataObject::EprAvs { power_w, .. } => Some(f64::from(power_w)),
            _ => None,
        })
        .reduce(f64::max)
}

impl<'a> Judge<'a> {
    fn of(
        port: &'a Port,
        nameplate: Option<f64>,
        record: &'a Record,
        standards: &'a Standards,
    ) -> Judge<'a> {
        let objects = port.capabilities();
        let rating = port
            .power_w
            .map(|w| (w, "label"))
            .or(nameplate.map(|w| (w, "nameplate")))
            .or(advertised_power_w(&objects).map(|w| (w, "list")))
            .filter(|&(w, _)| w > 0.0);
        Judge {
            port,
            record,
            rules: &standards.pd_rules,
            rounding: 1.0 + standards.procedure.cross_checks.label_power_percent / 100.0,
            objects,
            rating,
            findings: Vec::new(),
        }
    }

    fn result(mut self) -> PortResult {
        let mut voltages = self.offered();
        if self.is_pd() {
            self.required_fixed(&mut voltages);
            self.programmable(&mut voltages);
            self.standard_adjustable(&mut voltages);
            self.extended_adjustable(&mut voltages);
        }
        self.measured(&mut voltages);
        if self.is_pd() {
            self.summary(&voltages);
            self.currents(&voltages);
        }
        if !self.objects.is_empty() {
            self.connector();
            self.rating_against_list();
            self.label_against_list(&voltages);
            self.list();
            self.extended_capable();
            self.repeated();
        } else if !self.port.source_capabilities.is_empty() {
            let source = self.rules.list.source.clone();
            let message = "the list holds no object".to_owned();
            self.find("list", LabelOutcome::Contradicts, message, &source);
        }
        let order = |kind: &str| match kind {
            "fixed" => 0,
            "pps" => 1,
            "spr-avs" => 2,
            _ => 3,
        };
        voltages.sort_by(|a, b| {
            order(&a.kind)
                .cmp(&order(&b.kind))
                .then(a.voltage_max_v.total_cmp(&b.voltage_max_v))
                .then(a.voltage_min_v.total_cmp(&b.voltage_min_v))
        });
        PortResult {
            port: self.port.label.clone(),
            rating_w: self.rating.map(|(w, _)| w),
            rating_from: self.rating.map(|(_, from)| from.to_owned()),
            advertised_power_w: advertised_power_w(&self.objects),
            advertised: self
                .objects
                .iter()
                .map(|(position, word, object)| AdvertisedObject {
                    position: *position as u64,
                    word: written(*word),
                    kind: object.kind().to_owned(),
                    text: object.to_string(),
                    voltage_min_v: object.voltage_min_v(),
                    voltage_max_v: object.voltage_max_v(),
                    current_a: object.current_a(),
                })
                .collect(),
            cable: self.cable(&voltages),
            windows: self.windows(),
            voltages,
            findings: self.findings,
        }
    }

    fn find(&mut self, subject: &str, result: LabelOutcome, message: String, source: &str) {
        self.findings.push(PortFinding {
            subject: subject.to_owned(),
            result,
            message,
            source: source.to_owned(),
        });
    }

    /// Does the port speak Power Delivery, by its list or by the voltages of its label?
    fn is_pd(&self) -> bool {
        !self.objects.is_empty() && !self.is_on_usb_a()
            || self.port.connector == Some(Connector::UsbC) && self.port.negotiates()
    }

    /// Power Delivery and its rules belong to USB-C, whatever such a port sends.
    fn is_on_usb_a(&self) -> bool {
        self.port.connector == Some(Connector::UsbA)
    }

    /// Is the extended part of the capability list on record?
    fn has_extended_list(&self) -> bool {
        self.objects.iter().any(|(.., object)| is_extended(object))
    }

    /// Could the unit offer more than its list shows, because only the standard part is on record?
    fn lacks_extended_list(&self) -> bool {
        !self.objects.is_empty() && !self.has_extended_list()
    }

    /// What the label claims and the list advertises, each voltage once.
    fn offered(&self) -> Vec<PortVoltage> {
        let mut rows = Vec::new();
        for mode in &self.port.modes {
            let row = row_of(&mut rows, mode, self.rules);
            row.claimed_a = larger(row.claimed_a, mode.current_a());
        }
        for (.., object) in &self.objects {
            for mode in object.modes() {
                let row = row_of(&mut rows, &mode, self.rules);
                row.advertised_a = larger(row.advertised_a, mode.current_a());
                // The list knows the ends of a range better than the label.
                row.voltage_min_v = mode.voltage_min_v();
                row.voltage_max_v = mode.voltage_max_v();
            }
        }
        rows
    }

    /// The list where there is one, else the label.
    fn offer(&self, row: &PortVoltage) -> Option<f64> {
        if self.objects.is_empty() {
            row.claimed_a
        } else {
            row.advertised_a
        }
    }

    fn judged(&self, row: &PortVoltage, tolerance_a: f64) -> Option<PortOutcome> {
        match (row.required_a, self.offer(row)) {
            (Some(_), None) if row.voltage_max_v > 21.0 && self.lacks_extended_list() => {
                Some(PortOutcome::Unknown)
            }
            (Some(_), None) => Some(PortOutcome::Missing),
            (Some(asked), Some(offered)) if offered < asked - tolerance_a - 1e-9 => {
                Some(PortOutcome::TooLittle)
            }
            (Some(_), Some(_)) => Some(PortOutcome::Met),
            (None, Some(_)) => Some(PortOutcome::Optional),
            (None, None) => None,
        }
    }

    fn required_fixed(&mut self, rows: &mut Vec<PortVoltage>) {
        let required = self.rating.and_then(|(w, _)| self.rules.required(w));
        for &(voltage_v, current_a) in required.iter().flatten() {
            let mode = Mode::Fixed {
                voltage_v,
                current_a,
            };
            row_of(rows, &mode, self.rules).required_a = Some(current_a);
        }
        // Beyond the tables nothing is known to be optional either.
        if required.is_some() {
            for row in rows.iter_mut().filter(|r| r.kind == "fixed") {
                row.result = self.judged(row, self.rules.current_tolerance_a);
            }
        }
    }

    fn programmable(&mut self, rows: &mut Vec<PortVoltage>) {
        if !rows
            .iter()
            .any(|r| r.kind == "pps" && self.offer(r).is_some())
        {
            return;
        }
        let rules = &self.rules.pps;
        let source = rules.source.clone();
        let step = rules.current_step_a;
        // The rules stop where the extended range begins: its standard part is rated 100 W.
        let rating = self.rating.map(|(w, _)| w.min(100.0));
        for (range, current_a) in rating.map(|w| rules.required(w)).unwrap_or_default() {
            // A range that reaches higher covers this one.
            let covers = |r: &PortVoltage| {
                r.kind == "pps"
                    && r.voltage_max_v > range.voltage_max_v - SAME_END_V
                    && self
                        .offer(r)
                        .is_some_and(|offered| offered >= current_a - step - 1e-9)
            };
            let covered = rows.iter().any(covers);
            let mode = Mode::Pps {
                voltage_min_v: rules.minima.last().map_or(5.0, |m| m.voltage_v),
                voltage_max_v: range.voltage_max_v,
                current_a,
            };
            let listed = rows.iter().any(|r| r.range.as_ref() == Some(&range.name));
            if !listed && covered {
                continue;
            }
            let row = row_of(rows, &mode, self.rules);
            row.required_a = Some(current_a);
        }
        for row in rows.iter_mut().filter(|r| r.kind == "pps") {
            row.result = self.judged(row, step);
        }
        let mut notes: Vec<(LabelOutcome, String)> = Vec::new();
        for row in rows
            .iter()
            .filter(|r| r.result == Some(PortOutcome::Missing))
        {
            if let Some(name) = row.range.as_ref().filter(|_| row.kind == "pps") {
                notes.push((
                    LabelOutcome::Note,
                    format!(
                        "programmable ranges are offered, but not {name} ({} A), which R3.0 asks for beside them",
                        short(row.required_a.unwrap_or_default())
                    ),
                ));
            }
        }
        for (position, _, object) in &self.objects {
            let PowerDataObject::Pps {
                power_limited,
                voltage_min_mv,
                voltage_max_mv,
                current_ma,
            } = *object
            else {
                continue;
            };
            let (min, max) = (
                f64::from(voltage_min_mv) / 1e3,
                f64::from(voltage_max_mv) / 1e3,
            );
            let amperes = f64::from(current_ma) / 1e3;
            match (rules.range_to(max), rules.generation(min)) {
                (Some(range), Some(generation)) => {
                    notes.push((
                        LabelOutcome::Note,
                        format!(
                            "object {position} is {} from {} V: {generation}",
                            range.name,
                            short(min)
                        ),
                    ));
                    if let Some(watts) = self.rating.map(|(w, _)| w)
                        && !power_limited
                        && amperes > watts * self.rounding / range.nominal_v + step
                    {
                        notes.push((
                            LabelOutcome::Contradicts,
                            format!(
                                "object {position} offers {} A at {} V, more than {} W, without the power limited bit",
                                short(amperes),
                                short(range.nominal_v),
                                short(watts)
                            ),
                        ));
                    }
                }
                _ => notes.push((
                    LabelOutcome::Note,
                    format!(
                        "object {position}, {} to {} V, is none of the standard programmable ranges",
                        short(min),
                        short(max)
                    ),
                )),
            }
        }
        for (result, message) in notes {
            self.find("pps", result, message, &source);
        }
    }

    fn standard_adjustable(&mut self, rows: &mut [PortVoltage]) {
        let Some((watts, _)) = self.rating else {
            return;
        };
        let rules = &self.rules.spr_avs;
        let Some(asked) = rules
            .rows
            .iter()
            .find(|r| watts > r.over_w && watts <= r.up_to_w)
            .copied()
        else {
            return;
        };
        let source = rules.source.clone();
        let mut offered = false;
        for row in rows.iter_mut().filter(|r| r.kind == "spr-avs") {
            offered = true;
            row.required_a = if row.voltage_max_v <= 15.0 + SAME_V {
                Some(asked.to_15v_a.unwrap_or(watts / 15.0))
            } else {
                (asked.to_v >= row.voltage_max_v - SAME_V).then_some(watts / 20.0)
            };
            row.result = self.judged(row, self.rules.current_tolerance_a);
        }
        if !offered && !self.objects.is_empty() {
            self.find(
                "spr-avs",
                LabelOutcome::Note,
                "no adjustable voltage supply is offered: R3.2 asks for one at this rating, earlier revisions do not".to_owned(),
                &source,
            );
        }
    }

    fn extended_adjustable(&mut self, rows: &mut Vec<PortVoltage>) {
        let Some((watts, _)) = self.rating else {
            return;
        };
        let rules = &self.rules.epr_avs;
        let asked = rules
            .rows
            .iter()
            .find(|r| watts > r.over_w && watts <= r.up_to_w);
        let Some(asked) = asked else { return };
        let current_a = (watts / asked.to_v).min(5.0);
        let mode = Mode::Avs {
            voltage_min_v: rules.voltage_min_v,
            voltage_max_v: asked.to_v,
            current_a,
        };
        row_of(rows, &mode, self.rules).required_a = Some(current_a);
        // A label need not print it: only a list can show that it is missing.
        let label_only = self.objects.is_empty();
        for row in rows.iter_mut().filter(|r| r.kind == "epr-avs") {
            row.result = match self.judged(row, 1.0 / row.voltage_max_v) {
                Some(PortOutcome::Missing) if label_only => Some(PortOutcome::Unknown),
                other => other,
            };
        }
    }

    /// The most heavily loaded point of each nominal voltage.
    fn measured(&self, rows: &mut Vec<PortVoltage>) {
        for (nominal_v, reading) in self.readings() {
            let Some(current_a) = reading.current_a else {
                continue;
            };
            let at = rows
                .iter()
                .position(|r| r.kind == "fixed" && same(r.voltage_max_v, nominal_v))
                .or_else(|| {
                    rows.iter().position(|r| {
                        r.voltage_min_v <= nominal_v + SAME_V
                            && r.voltage_max_v >= nominal_v - SAME_V
                    })
                });
            let row = match at {
                Some(at) => &mut rows[at],
                None => row_of(
                    rows,
                    &Mode::Fixed {
                        voltage_v: nominal_v,
                        current_a,
                    },
                    self.rules,
                ),
            };
            if row
                .measured
                .as_ref()
                .is_none_or(|m| m.current_a < current_a)
            {
                row.measured = Some(MeasuredVoltage {
                    run: reading.run,
                    load_percent: reading.load_percent,
                    current_a,
                    voltage_v: reading.voltage_v,
                });
            }
        }
    }

    /// (nominal voltage, reading) of every point that loads this port with a voltage read.
    fn readings(&self) -> Vec<(f64, WindowReading)> {
        let mut found = Vec::new();
        for run in &self.record.runs {
            let rated = run.rated_outputs.iter().find(|r| r.port == self.port.label);
            let Some(rated) = rated else { continue };
            for point in &run.points {
                let output = point.outputs.iter().find(|o| o.port == self.port.label);
                let Some((output, voltage_v)) = output.and_then(|o| Some((o, o.voltage_v?))) else {
                    continue;
                };
                found.push((
                    rated.voltage_v,
                    WindowReading {
                        run: run.name.clone(),
                        load_percent: point.load_percent,
                        current_a: output.current_a,
                        voltage_v,
                    },
                ));
            }
        }
        found
    }

    fn summary(&mut self, rows: &[PortVoltage]) {
        let citation = self.rules.citation.clone();
        let Some((watts, _)) = self.rating else {
            self.find(
                "power-rules",
                LabelOutcome::Unknown,
                "neither the label nor a capability list tells the port's power".to_owned(),
                &citation,
            );
            return;
        };
        let who = format!("a {} W source", short(watts));
        if self.rules.required(watts).is_none() {
            let message = format!("no power rules for {who} on file");
            self.find("power-rules", LabelOutcome::Unknown, message, &citation);
            return;
        }
        let place = |r: &PortVoltage| {
            let volts = if same(r.voltage_min_v, r.voltage_max_v) {
                format!("{} V", short(r.voltage_max_v))
            } else {
                format!("{} to {} V", short(r.voltage_min_v), short(r.voltage_max_v))
            };
            match r.kind.as_str() {
                "epr-avs" => format!("adjustable {volts}"),
                _ => volts,
            }
        };
        let needed: Vec<&PortVoltage> = rows
            .iter()
            .filter(|r| matches!(r.kind.as_str(), "fixed" | "epr-avs"))
            .collect();
        let faults: Vec<String> = needed
            .iter()
            .filter_map(|r| {
                let asked = short(r.required_a?);
                match r.result? {
                    PortOutcome::Missing => Some(format!("{} is missing ({asked} A)", place(r))),
                    PortOutcome::TooLittle => Some(format!(
                        "{} with {} A, at least {asked} A is asked for",
                        place(r),
                        short(self.offer(r)?)
                    )),
                    _ => None,
                }
            })
            .collect();
        let unknown: Vec<String> = needed
            .iter()
            .filter(|r| r.result == Some(PortOutcome::Unknown))
            .map(|r| place(r))
            .collect();
        let (result, message) = if !faults.is_empty() {
            (
                LabelOutcome::Contradicts,
                format!("{who} must offer more: {}", faults.join("; ")),
            )
        } else if !unknown.is_empty() {
            let why = if self.objects.is_empty() {
                "the label does not tell"
            } else {
                "only the standard part of the list is on record"
            };
            (
                LabelOutcome::Unknown,
                format!(
                    "offers what {who} must as far as known; {why} of {}",
                    unknown.join(", ")
                ),
            )
        } else {
            (LabelOutcome::Agrees, format!("offers what {who} must"))
        };
        self.find("power-rules", result, message, &citation);
    }

    /// Currents beyond the required ones, and 12 V.
    fn currents(&mut self, rows: &[PortVoltage]) {
        let Some((watts, _)) = self.rating else {
            return;
        };
        let rules = self.rules;
        for row in rows.iter().filter(|r| r.kind == "fixed") {
            let Some(offered) = self.offer(row) else {
                continue;
            };
            let volts = row.voltage_max_v;
            let twelve = same(volts, rules.twelve_volt.voltage_v);
            let (subject, most_a, source) = if twelve {
                (
                    "twelve-volt",
                    rules.twelve_volt.up_to_a,
                    &rules.twelve_volt.source,
                )
            } else {
                (
                    "current",
                    rules.more_current.up_to_a,
                    &rules.more_current.source,
                )
            };
            let most = (watts * self.rounding / volts).min(most_a) + rules.current_tolerance_a;
            let offer = format!("{} A at {} V", short(offered), short(volts));
            if offered > most + 1e-9 {
                let message = format!(
                    "{offer} is more than the smaller of {} A and {} W",
                    short(most_a),
                    short(watts)
                );
                self.find(subject, LabelOutcome::Contradicts, message, source);
            } else if twelve {
                let cable = if offered > rules.twelve_volt.standard_cable_a + 1e-9 {
                    ", and above 3 A needs a 5 A cable"
                } else {
                    ""
                };
                let message = format!("{offer} is optional{cable}");
                self.find(subject, LabelOutcome::Note, message, source);
            } else if let Some(asked) = row.required_a
                && offered > asked + rules.current_tolerance_a + 1e-9
            {
                let cable = if offered > 3.0 + 1e-9 {
                    ", and above 3 A only with a 5 A cable"
                } else {
                    ""
                };
                let message = format!(
                    "{offer} is more than the {} A asked for: optional{cable}",
                    short(asked)
                );
                self.find(subject, LabelOutcome::Note, message, source);
            }
        }
    }

    fn rating_against_list(&mut self) {
        let (Some((watts, from)), Some(listed)) = (self.rating, advertised_power_w(&self.objects))
        else {
            return;
        };
        if from == "list" {
            return;
        }
        let (listed_text, watts_text) = (short(listed), short(watts));
        let (result, message) = if watts > 100.0 && self.lacks_extended_list() {
            (
                LabelOutcome::Unknown,
                format!(
                    "the list on record holds the standard range alone, up to {listed_text} W; the label says {watts_text} W"
                ),
            )
        } else if listed * self.rounding < watts {
            (
                LabelOutcome::Contradicts,
                format!("the list offers at most {listed_text} W; the label says {watts_text} W"),
            )
        } else if listed > watts * self.rounding {
            (
                LabelOutcome::Note,
                format!(
                    "the list offers {listed_text} W, more than the {watts_text} W of the label"
                ),
            )
        } else {
            (
                LabelOutcome::Agrees,
                format!("the list offers the {watts_text} W of the label"),
            )
        };
        self.find(
            "rating",
            result,
            message,
            "arithmetic: power of a list = largest voltage x current of its fixed objects",
        );
    }

    fn label_against_list(&mut self, rows: &[PortVoltage]) {
        if self.port.modes.is_empty() {
            return;
        }
        let mut differ = Vec::new();
        for row in rows {
            let volts = short(row.voltage_max_v);
            let to = if same(row.voltage_min_v, row.voltage_max_v) {
                ""
            } else {
                "up to "
            };
            match (row.claimed_a, row.advertised_a) {
                (Some(_), None) if row.voltage_max_v > 21.0 && self.lacks_extended_list() => {}
                (Some(a), None) => differ.push(format!(
                    "{to}{volts} V {} A is on the label and not in the list",
                    short(a)
                )),
                // Labels round, and programmable currents come in steps of 50 mA.
                (Some(a), Some(b)) if a > b + 0.05 + 1e-9 => differ.push(format!(
                    "{to}{volts} V: {} A by the label, {} A by the list",
                    short(a),
                    short(b)
                )),
                _ => {}
            }
        }
        let (result, message) = if differ.is_empty() {
            (
                LabelOutcome::Agrees,
                "the list offers all that the label claims".to_owned(),
            )
        } else {
            (LabelOutcome::Contradicts, differ.join("; "))
        };
        self.find(
            "label",
            result,
            message,
            "comparison of the record's own entries",
        );
    }

    /// Order and number of the objects.
    fn list(&mut self) {
        let rules = &self.rules.list;
        let source = rules.source.clone();
        let standard = rules.standard_objects;
        let mut faults = Vec::new();
        match self.objects.first() {
            Some((
                1,
                _,
                PowerDataObject::Fixed {
                    voltage_mv: 5_000, ..
                },
            )) => {}
            _ => faults.push("the first object is not 5 V fixed".to_owned()),
        }
        for (position, _, object) in &self.objects {
            let extended = is_extended(object);
            if extended && *position <= standard {
                faults.push(format!(
                    "object {position} is of the extended range, which begins at position {}",
                    standard + 1
                ));
            } else if !extended && *position > standard {
                faults.push(format!(
                    "object {position} is of the standard range, which ends at position {standard}"
                ));
            }
            if *position > rules.objects {
                faults.push(format!(
                    "object {position} is beyond the {} of a list",
                    rules.objects
                ));
            }
        }
        let rank = |o: &PowerDataObject| match o {
            PowerDataObject::Fixed { .. } => 0,
            PowerDataObject::Battery { .. } => 1,
            PowerDataObject::Variable { .. } => 2,
            _ => 3,
        };
        for pair in self.objects.windows(2) {
            let ((a_at, _, a), (b_at, _, b)) = (&pair[0], &pair[1]);
            // The extended part begins anew.
            if *a_at <= standard && *b_at > standard {
                continue;
            }
            if rank(a) > rank(b) || a.kind() == b.kind() && a.voltage_max_v() > b.voltage_max_v() {
                faults.push(format!("object {b_at} should stand before object {a_at}"));
            }
            if b_at - a_at > 1 {
                faults.push(format!("zeros between objects {a_at} and {b_at}"));
            }
        }
        if !faults.is_empty() {
            self.find(
                "list",
                LabelOutcome::Contradicts,
                faults.join("; "),
                &source,
            );
        }
    }

    /// Objects on a connector that has no Power Delivery.
    fn connector(&mut self) {
        if self.is_on_usb_a() {
            let source = self.rules.list.connector_source.clone();
            let message = "power data objects on a USB-A connector are not foreseen by the \
                           standard: Power Delivery needs USB-C"
                .to_owned();
            self.find("connector", LabelOutcome::Note, message, &source);
        }
    }

    /// Extended objects of a source that says it is not capable of them.
    fn extended_capable(&mut self) {
        let Some((1, _, PowerDataObject::Fixed { flags, .. })) = self.objects.first() else {
            return;
        };
        let extended: Vec<String> = self
            .objects
            .iter()
            .filter(|(.., object)| is_extended(object))
            .map(|(position, ..)| position.to_string())
            .collect();
        if flags.epr_capable || extended.is_empty() {
            return;
        }
        let which = match extended.as_slice() {
            [one] => format!("object {one} is"),
            several => format!("objects {} are", several.join(", ")),
        };
        let source = self.rules.list.extended_capable_source.clone();
        let message = format!(
            "{which} of the extended range, yet object 1 says that the source is not capable of \
             it (bit 23, EPR capable, is 0)"
        );
        self.find("list", LabelOutcome::Contradicts, message, &source);
    }

    /// Objects that offer just what one before them does.
    fn repeated(&mut self) {
        // Only the first object's flags mean anything.
        let offer = |object: &PowerDataObject| match *object {
            PowerDataObject::Fixed {
                peak_current,
                voltage_mv,
                current_ma,
                ..
            } => PowerDataObject::Fixed {
                flags: FixedFlags::default(),
                peak_current,
                voltage_mv,
                current_ma,
            },
            other => other,
        };
        let mut same = Vec::new();
        for (i, (position, _, object)) in self.objects.iter().enumerate() {
            let first = self.objects[..i]
                .iter()
                .find(|(.., earlier)| offer(earlier) == offer(object));
            if let Some((earlier, ..)) = first {
                same.push(format!(
                    "object {position} offers the same as object {earlier}"
                ));
            }
        }
        if !same.is_empty() {
            let source = self.rules.list.repeat_source.clone();
            self.find("list", LabelOutcome::Note, same.join("; "), &source);
        }
    }

    /// What everything on offer needs; by the rules where what is on record does not tell. What
    /// is missing needs none.
    fn cable(&self, rows: &[PortVoltage]) -> Option<CableNeed> {
        if !self.is_pd() {
            return None;
        }
        let offered: Vec<(f64, f64)> = rows
            .iter()
            .filter_map(|r| {
                let expected = r
                    .required_a
                    .filter(|_| r.result == Some(PortOutcome::Unknown));
                Some((r.voltage_max_v, self.offer(r).or(expected)?))
            })
            .collect();
        let voltage_v = offered.iter().map(|o| o.0).reduce(f64::max)?;
        let current_a = offered.iter().map(|o| o.1).reduce(f64::max)?;
        let cable = self.rules.cable(voltage_v, current_a)?;
        Some(CableNeed {
            name: cable.name.clone(),
            current_a,
            voltage_v,
            emarker: cable.emarker,
            source: self.rules.cable_rule.source.clone(),
        })
    }

    fn windows(&self) -> Vec<WindowResult> {
        let connector = match self.port.connector {
            Some(Connector::UsbC) => "usb-c",
            Some(Connector::UsbA) => "usb-a",
            Some(Connector::Barrel) => "barrel",
            None if self.is_pd() => "usb-c",
            Some(Connector::Other) | None => return Vec::new(),
        };
        let readings = self.readings();
        let mut nominals: Vec<f64> = readings.iter().map(|(v, _)| *v).collect();
        nominals.sort_by(f64::total_cmp);
        nominals.dedup_by(|a, b| same(*a, *b));
        nominals
            .into_iter()
            .filter_map(|nominal| {
                let these: Vec<&WindowReading> = readings
                    .iter()
                    .filter(|(v, _)| same(*v, nominal))
                    .map(|(_, reading)| reading)
                    .collect();
                self.window(connector, nominal, &these)
            })
            .collect()
    }

    fn window(
        &self,
        connector: &str,
        nominal_v: f64,
        readings: &[&WindowReading],
    ) -> Option<WindowResult> {
        let (low_v, high_v, window) = self.rules.window(connector, nominal_v)?;
        let accuracy = Accuracy::of(&self.record.instruments);
        let judge = |r: &WindowReading| -> Judgement {
            let u = accuracy.standard(Q::OutputVoltageV, r.voltage_v).ok();
            let low = decision::judge(r.voltage_v, u, low_v, true);
            let high = decision::judge(r.voltage_v, u, high_v, false);
            if low.margin <= high.margin { low } else { high }
        };
        let by_voltage =
            |a: &&&WindowReading, b: &&&WindowReading| a.voltage_v.total_cmp(&b.voltage_v);
        let lowest = *readings.iter().min_by(by_voltage)?;
        // Of equal ones the first, as with the lowest.
        let highest = *readings.iter().rev().max_by(by_voltage)?;
        let worst = [lowest, highest]
            .into_iter()
            .map(judge)
            .min_by(|a, b| a.margin.total_cmp(&b.margin))?;
        let result = AgainstFigure::of(worst.result);
        let droop = &self.rules.charging_port_droop;
        let may_droop = connector == "usb-a"
            && same(nominal_v, 5.0)
            && lowest.voltage_v < low_v
            && lowest.voltage_v >= droop.floor_v
            && lowest
                .current_a
                .is_some_and(|i| i >= droop.from_a && i <= droop.to_a);
        let mut message = format!(
            "{:.3} to {:.3} V measured, {} ({})",
            lowest.voltage_v,
            highest.voltage_v,
            result.words(&format!(
                "window of {} to {} V",
                short(low_v),
                short(high_v)
            )),
            window.name
        );
        if may_droop {
            message.push_str(&format!(
                "; a dedicated charging port may fall to {} V from {} to {} A ({})",
                short(droop.floor_v),
                short(droop.from_a),
                short(droop.to_a),
                droop.source
            ));
        }
        Some(WindowResult {
            voltage_v: nominal_v,
            low_v,
            high_v,
            name: window.name.clone(),
            source: window.source.clone(),
            points: readings.len() as u64,
            lowest: lowest.clone(),
            highest: highest.clone(),
            margin_v: worst.margin,
            expanded_uncertainty_v: worst.expanded_uncertainty,
            risk: worst.risk,
            result,
            message,
        })
    }
}

fn larger(a: Option<f64>, b: f64) -> Option<f64> {
    Some(a.map_or(b, |a| a.max(b)))
}

/// The row that a mode belongs to, made where there is none. Ranges of one kind are told apart by
/// their upper end: labels and lists often differ in the lower one.
fn row_of<'r>(rows: &'r mut Vec<PortVoltage>, mode: &Mode, rules: &PdRules) -> &'r mut PortVoltage {
    let max = mode.voltage_max_v();
    let (kind, near) = match mode {
        Mode::Fixed { .. } => ("fixed", SAME_V),
        Mode::Pps { .. } => ("pps", SAME_END_V),
        // The standard range's adjustable supply ends at 15 V or 20 V.
        Mode::Avs { .. } if max <= 20.0 + SAME_END_V => ("spr-avs", SAME_END_V),
        Mode::Avs { .. } => ("epr-avs", SAME_END_V),
    };
    let found = rows
        .iter()
        .position(|r| r.kind == kind && (r.voltage_max_v - max).abs() < near);
    let at = found.unwrap_or_else(|| {
        rows.push(PortVoltage {
            kind: kind.to_owned(),
            range: (kind == "pps")
                .then(|| rules.pps.range_to(max).map(|r| r.name.clone()))
                .flatten(),
            voltage_min_v: mode.voltage_min_v(),
            voltage_max_v: max,
            required_a: None,
            claimed_a: None,
            advertised_a: None,
            measured: None,
            result: None,
        });
        rows.len() - 1
    });
    &mut rows[at]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::decode::decode;
    use crate::bench::usb_pd;
    use serde_json::{Value, json};

    fn unit(watts: f64, ports: Value) -> Value {
        json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF",
                "nameplate": {"output_power_w": watts}, "ports": ports},
        })
    }

    fn judged(document: &Value) -> PortResult {
        let record = decode(&document.to_string()).unwrap();
        results(&record, &Standards::embedded()).remove(0)
    }

    fn pasted(text: &str) -> Vec<String> {
        usb_pd::read(text).unwrap().source_capabilities()
    }

    fn row<'p>(port: &'p PortResult, kind: &str, to_v: f64) -> &'p PortVoltage {
        port.voltages
            .iter()
            .find(|r| r.kind == kind && same(r.voltage_max_v, to_v))
            .unwrap_or_else(|| panic!("{kind} to {to_v} V in {:?}", port.voltages))
    }

    fn said<'p>(port: &'p PortResult, subject: &str) -> Vec<(LabelOutcome, &'p str)> {
        port.findings
            .iter()
            .filter(|f| f.subject == subject)
            .map(|f| (f.result, f.message.as_str()))
            .collect()
    }

    /// The captured 45 W list of the standards notes: fixed rules pass.
    const CAPTURED_45_W: &str = "A1712C9101082CD102002CB10400E14006006421DCC83C2140C92D21A4C9";
    /// The captured extended list in two chunks of the standards notes.
    const CAPTURED_240_W: &str = "B1FD28802C91910A2CD112002CC113002CB11400F44116006432A4C90000\nB1CF28880000F4C11800F4411B00F4011F00";

    #[test]
    fn a_voltage_that_is_missing_asks_for_no_cable() {
        let cable = |words: &[&str], rating: f64| {
            let port = json!([{"label": "C1", "connector": "usb-c", "power_w": rating,
                "source_capabilities": words}]);
            judged(&unit(rating, port))
                .cable
                .expect("something is on offer")
        };
        // A 65 W source without its 20 V 3.25 A: 15 V 3 A at most.
        let without = cable(&["0x0801912C", "0x0002D12C", "0x0004B12C"], 65.0);
        assert_eq!((without.voltage_v, without.current_a), (15.0, 3.0));
        assert!(!without.emarker);
        // What only the standard part of a list leaves open is still expected.
        let open = cable(
            &["0x0A91912C", "0x0002D12C", "0x0004B12C", "0x000641F4"],
            140.0,
        );
        assert_eq!(open.voltage_v, 28.0);
    }

    #[test]
    fn of_equal_readings_the_first_is_named() {
        let mut document = unit(15.0, json!([{"label": "A1", "connector": "usb-a"}]));
        let run = |name: &str| {
            json!({"name": name, "line": {"voltage_v": 115, "frequency_hz": 60},
                "rated_outputs": [{"port": "A1", "voltage_v": 5, "current_a": 3}],
                "points": [{"load_percent": 100,
                    "outputs": [{"port": "A1", "voltage_v": 5.1, "current_a": 3}]}]})
        };
        document["runs"] = json!([run("first"), run("second")]);
        let window = &judged(&document).windows[0];
        assert_eq!(
            (window.lowest.run.as_str(), window.highest.run.as_str()),
            ("first", "first")
        );
    }

    #[test]
    fn a_captured_45_w_list_offers_what_its_rating_asks_for() {
        let port = judged(&unit(
            45.0,
            json!([{"label": "C1", "connector": "usb-c", "power_w": 45,
                "source_capabilities": pasted(CAPTURED_45_W)}]),
        ));
        assert_eq!(port.advertised_power_w, Some(45.0));
        assert_eq!(
            said(&port, "power-rules"),
            [(LabelOutcome::Agrees, "offers what a 45 W source must")]
        );
        assert_eq!(said(&port, "rating")[0].0, LabelOutcome::Agrees);
        assert_eq!(
            row(&port, "fixed", 20.0).result,
            Some(PortOutcome::Optional)
        );
        let asked = row(&port, "pps", 16.0);
        assert_eq!(asked.range.as_deref(), Some("15V Prog"));
        assert_eq!(
            (asked.required_a, asked.advertised_a, asked.result),
            (Some(3.0), Some(3.0), Some(PortOutcome::Met))
        );
        assert!(
            said(&port, "pps")
                .iter()
                .all(|(r, _)| *r == LabelOutcome::Note)
        );
        assert!(said(&port, "list").is_empty());
        // 5 A at up to 11 V, held to the power by the source
        let cable = port.cable.unwrap();
        assert_eq!((cable.current_a, cable.emarker), (5.0, true));
        assert_eq!(cable.voltage_v, 21.0);
    }

    #[test]
    fn an_extended_list_asks_for_an_extended_cable_and_its_adjustable_supply() {
        let words = pasted(CAPTURED_240_W);
        let ports = json!([{"label": "C1", "connector": "usb-c", "power_w": 240,
            "source_capabilities": words}]);
        let port = judged(&unit(240.0, ports));
        assert_eq!(port.advertised_power_w, Some(240.0));
        assert_eq!(port.advertised[6].position, 8);
        assert_eq!(row(&port, "fixed", 48.0).result, Some(PortOutcome::Met));
        assert_eq!(
            row(&port, "epr-avs", 48.0).result,
            Some(PortOutcome::Missing)
        );
        assert_eq!(
            said(&port, "power-rules"),
            [(
                LabelOutcome::Contradicts,
                "a 240 W source must offer more: adjustable 15 to 48 V is missing (5 A)"
            )]
        );
        assert_eq!(
            said(&port, "twelve-volt"),
            [(LabelOutcome::Note, "3 A at 12 V is optional")]
        );
        let cable = port.cable.unwrap();
        assert_eq!(cable.name, "EPR, 5 A 50 V, electronically marked");

        // With its standard part alone nothing is said to be missing.
        let ports = json!([{"label": "C1", "connector": "usb-c", "power_w": 240,
            "source_capabilities": words[..6]}]);
        let port = judged(&unit(240.0, ports));
        assert_eq!(row(&port, "fixed", 48.0).result, Some(PortOutcome::Unknown));
        assert_eq!(said(&port, "power-rules")[0].0, LabelOutcome::Unknown);
        assert_eq!(said(&port, "rating")[0].0, LabelOutcome::Unknown);
    }

    #[test]
    fn label_list_and_measurement_stand_side_by_side() {
        let mut document = unit(
            65.0,
            json!([{"label": "C1", "connector": "usb-c", "power_w": 65,
                "source_capabilities": ["0x0801912C", "0x0002D12C", "0x0004B12C", "0x00064145"],
                "modes": [
                    {"kind": "fixed", "voltage_v": 5, "current_a": 3},
                    {"kind": "fixed", "voltage_v": 9, "current_a": 3},
                    {"kind": "fixed", "voltage_v": 12, "current_a": 3},
                    {"kind": "fixed", "voltage_v": 20, "current_a": 3.4},
                    {"kind": "pps", "voltage_min_v": 3.3, "voltage_max_v": 21, "current_a": 3}]}]),
        );
        document["runs"] = json!([{"name": "20 V", "line": {"voltage_v": 230, "frequency_hz": 50},
            "rated_outputs": [{"port": "C1", "voltage_v": 20, "current_a": 3.25}],
            "points": [
                {"load_percent": 100, "outputs": [{"port": "C1", "voltage_v": 19.9, "current_a": 3.25}]},
                {"load_percent": 50, "outputs": [{"port": "C1", "voltage_v": 20.1, "current_a": 1.625}]}]}]);
        let port = judged(&document);
        let twenty = row(&port, "fixed", 20.0);
        assert_eq!(
            (twenty.required_a, twenty.claimed_a, twenty.advertised_a),
            (Some(3.25), Some(3.4), Some(3.25))
        );
        let measured = twenty.measured.as_ref().unwrap();
        assert_eq!((measured.current_a, measured.voltage_v), (3.25, 19.9));
        let (result, message) = said(&port, "label")[0];
        assert_eq!(result, LabelOutcome::Contradicts);
        assert_eq!(
            message,
            "12 V 3 A is on the label and not in the list; 20 V: 3.4 A by the label, 3.25 A by the list; \
             up to 21 V 3 A is on the label and not in the list"
        );
        let window = &port.windows[0];
        assert_eq!(
            (window.low_v, window.high_v, window.points),
            (19.0, 21.0, 2)
        );
        assert_eq!(window.lowest.voltage_v, 19.9);
        assert_eq!(window.result, AgainstFigure::Within);
        assert_eq!(window.expanded_uncertainty_v, None);
        let kinds: Vec<_> = port
            .voltages
            .iter()
            .map(|r| (r.kind.as_str(), r.voltage_max_v))
            .collect();
        assert_eq!(
            kinds,
            [
                ("fixed", 5.0),
                ("fixed", 9.0),
                ("fixed", 12.0),
                ("fixed", 15.0),
                ("fixed", 20.0),
                ("pps", 21.0)
            ]
        );
    }

    #[test]
    fn a_list_in_the_wrong_order_is_found_object_by_object() {
        let words = ["0x0801912C", "0x0004B12C", "0x0002D12C", "0x0018C1F4"];
        let ports = json!([{"label": "C1", "connector": "usb-c", "power_w": 140,
            "source_capabilities": words}]);
        let port = judged(&unit(140.0, ports));
        assert_eq!(
            said(&port, "list"),
            [
                (
                    LabelOutcome::Contradicts,
                    "object 4 is of the extended range, which begins at position 8; \
                     object 3 should stand before object 2"
                ),
                (
                    LabelOutcome::Contradicts,
                    "object 4 is of the extended range, yet object 1 says that the source is \
                     not capable of it (bit 23, EPR capable, is 0)"
                )
            ]
        );
    }

    fn with_list(connector: &str, watts: f64, words: &[&str]) -> PortResult {
        let ports = json!([{"label": "C1", "connector": connector, "power_w": watts,
            "source_capabilities": words}]);
        judged(&unit(watts, ports))
    }

    #[test]
    fn extended_objects_of_a_source_that_calls_itself_not_capable_are_found() {
        let words = |first| {
            [
                first,
                "0x0002D12C",
                "0x0004B12C",
                "0x000641F4",
                "0x00000000",
                "0x00000000",
                "0x00000000",
                "0x0008C1F4",
                "0xD230968C",
            ]
        };
        let odd = with_list("usb-c", 140.0, &words("0x0801912C"));
        assert_eq!(
            said(&odd, "list"),
            [(
                LabelOutcome::Contradicts,
                "objects 8, 9 are of the extended range, yet object 1 says that the source is not \
                 capable of it (bit 23, EPR capable, is 0)"
            )]
        );
        let right = with_list("usb-c", 140.0, &words("0x0881912C"));
        assert!(said(&right, "list").is_empty());
    }

    #[test]
    fn objects_that_offer_the_same_are_worth_knowing() {
        let port = with_list(
            "usb-c",
            27.0,
            &["0x0801912C", "0x0001912C", "0x0002D12C", "0x0002D12C"],
        );
        assert_eq!(
            said(&port, "list"),
            [(
                LabelOutcome::Note,
                "object 2 offers the same as object 1; object 4 offers the same as object 3"
            )]
        );
    }

    #[test]
    fn a_list_of_zeros_alone_holds_no_object() {
        let port = with_list("usb-c", 15.0, &["0x00000000", "0x00000000"]);
        assert_eq!(
            said(&port, "list"),
            [(LabelOutcome::Contradicts, "the list holds no object")]
        );
    }

    #[test]
    fn power_delivery_on_a_usb_a_port_is_not_judged_by_its_rules() {
        let port = with_list("usb-a", 15.0, &["0x0801912C"]);
        assert!(said(&port, "power-rules").is_empty());
        assert_eq!(
            said(&port, "connector"),
            [(
                LabelOutcome::Note,
                "power data objects on a USB-A connector are not foreseen by the standard: \
                 Power Delivery needs USB-C"
            )]
        );
        assert_eq!(port.advertised.len(), 1);
        assert_eq!(row(&port, "fixed", 5.0).result, None);
        assert!(port.cable.is_none());
        assert!(said(&with_list("usb-c", 15.0, &["0x0801912C"]), "connector").is_empty());
    }

    #[test]
    fn more_than_the_rating_is_not_optional() {
        // 5 A at 9 V from a 27 W source; 3.25 A at 20 V from a 65 W one is what is asked for.
        let words = ["0x0801912C", "0x0002D1F4"];
        let ports = json!([{"label": "C1", "connector": "usb-c", "power_w": 27,
            "source_capabilities": words}]);
        let port = judged(&unit(27.0, ports));
        assert_eq!(
            said(&port, "current"),
            [(
                LabelOutcome::Contradicts,
                "5 A at 9 V is more than the smaller of 5 A and 27 W"
            )]
        );
        assert_eq!(said(&port, "rating")[0].0, LabelOutcome::Note);
    }

    fn on_a_port(
        connector: &str,
        volts: f64,
        readings: &[(f64, f64)],
        instruments: Value,
    ) -> PortResult {
        let mut document = unit(
            12.0,
            json!([{"label": "A1", "connector": connector, "power_w": 12,
                "modes": [{"kind": "fixed", "voltage_v": volts, "current_a": 2.4}]}]),
        );
        document["instruments"] = instruments;
        document["runs"] = json!([{"name": "r", "line": {"voltage_v": 230, "frequency_hz": 50},
            "rated_outputs": [{"port": "A1", "voltage_v": volts, "current_a": 2.4}],
            "points": readings.iter().enumerate().map(|(i, (v, a))| json!({
                "load_percent": 10 * (i + 1),
                "outputs": [{"port": "A1", "voltage_v": v, "current_a": a}]})).collect::<Vec<_>>()}]);
        judged(&document)
    }

    #[test]
    fn a_usb_a_port_is_held_to_its_own_window_and_may_droop_while_charging() {
        let none = json!([]);
        let port = on_a_port("usb-a", 5.0, &[(5.1, 0.2), (4.6, 1.2)], none.clone());
        let window = &port.windows[0];
        assert_eq!((window.low_v, window.high_v), (4.75, 5.25));
        assert_eq!(window.result, AgainstFigure::Outside);
        assert!((window.margin_v + 0.15).abs() < 1e-12);
        assert!(window.message.contains("may fall to 2 V from 0.5 to 1.5 A"));
        assert!(
            port.findings.is_empty(),
            "no Power Delivery rules: {:?}",
            port.findings
        );
        assert!(port.cable.is_none());
        let high = on_a_port("usb-c", 5.0, &[(5.4, 0.2)], none.clone());
        assert_eq!(high.windows[0].result, AgainstFigure::Within, "up to 5.5 V");
        let barrel = on_a_port("barrel", 12.0, &[(12.1, 0.2)], none.clone());
        assert_eq!(barrel.windows[0].low_v, 12.0 * 0.95);
        assert!(
            on_a_port("other", 12.0, &[(12.1, 0.2)], none)
                .windows
                .is_empty()
        );
    }

    #[test]
    fn near_an_edge_the_uncertainty_decides_how_much_is_said() {
        let meter = json!([{"quantity": "output_voltage_v", "fixed": 0.05}]);
        let port = on_a_port("usb-a", 5.0, &[(4.78, 0.2), (5.1, 0.1)], meter);
        let window = &port.windows[0];
        assert_eq!(window.result, AgainstFigure::WithinByLessThanUncertainty);
        assert!((window.expanded_uncertainty_v.unwrap() - 0.1 / 3f64.sqrt()).abs() < 1e-12);
        assert_eq!(window.lowest.voltage_v, 4.78);
    }

    #[test]
    fn a_port_of_which_nothing_is_known_is_left_out() {
        let document = unit(12.0, json!([{"label": "A1", "connector": "usb-a"}]));
        let record = decode(&document.to_string()).unwrap();
        assert!(results(&record, &Standards::embedded()).is_empty());
    }
}
