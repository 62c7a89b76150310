//! How the ports of one unit share power: the matrix of observed combinations, groups of ports that
//! the offers show to depend on each other, contradictions, and what to try next.
//!
//! A group is what the observations show, no more: ports belong together if one's offer changed
//! when nothing but the other was attached. A budget that never bites stays unseen. It is assumed
//! that attaching a port never raises what another is offered, so that an offer which stayed the
//! same from one combination to a larger one was changed by none of the ports between. Where an
//! offer does rise, one of the two observations is doubted: it shows no group, and nothing is
//! settled.

use super::ports::short;
use crate::bench::record::{Connector, OtherPorts, Record, Sharing, Unit};
use crate::standards::Standards;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SharingResult {
    /// Every observation, in the order of the record.
    pub combinations: Vec<CombinationResult>,
    /// Ports that share, by the observations; ports that were never offered anything are left out.
    pub groups: Vec<PortGroup>,
    /// The groups in a sentence.
    pub statement: String,
    /// Is it known of every two ports whether they share?
    pub settled: bool,
    /// Do observations contradict each other so that the groups may be wrong? Never beside
    /// `settled`.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub disputed: bool,
    /// Largest sum of offers in one combination, watts; null where none is whole.
    pub offered_max_w: Option<f64>,
    /// Largest power that all ports together delivered, measured.
    pub delivered_max_w: Option<f64>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub contradictions: Vec<SharingContradiction>,
    /// Combinations that were not observed, most informative first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub untested: Vec<UntestedCombination>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct CombinationResult {
    /// Place in the record's `sharing`, from 0.
    pub observation: u64,
    pub ports: Vec<String>,
    pub offers: Vec<OfferResult>,
    /// Sum of the offers, watts; null if a port in use has none on record.
    pub total_w: Option<f64>,
    pub delivered_power_w: Option<f64>,
    pub attached: Option<String>,
    /// `held`, `reset`, `lost` or `not-applicable`: what the ports in use did.
    pub on_attach: Option<String>,
    pub on_detach: Option<String>,
    /// Null: not noted which.
    pub reset_ports: Option<Vec<String>>,
    pub interruption_ms: Option<f64>,
    pub lowest_voltage_v: Option<f64>,
    pub note: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct OfferResult {
    pub port: String,
    pub power_w: f64,
    pub voltage_max_v: Option<f64>,
    /// The offer less that with this port alone, watts; null where that was not observed.
    pub change_w: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PortGroup {
    pub ports: Vec<String>,
    /// Observations that joined them, two each.
    pub evidence: Vec<GroupEvidence>,
    /// Ports of which it is not known whether they belong to this group.
    pub unknown: Vec<String>,
}

/// One offer that changed with one other port.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct GroupEvidence {
    /// Whose offer changed.
    pub port: String,
    /// The port that was attached besides.
    pub by: String,
    /// Observations without and with it.
    pub without: u64,
    pub with: u64,
    pub from_w: f64,
    pub to_w: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SharingContradiction {
    /// `groups`, `rise`, `repeat`, `nameplate`, `port-power`, `label`, `delivered`, `held`,
    /// `disturbance`, `least-offer`.
    pub kind: String,
    /// Places in the record's `sharing`.
    pub observations: Vec<u64>,
    pub ports: Vec<String>,
    pub message: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct UntestedCombination {
    pub ports: Vec<String>,
    /// Must it be seen before the groups are settled?
    pub needed: bool,
    /// Can it still change the groups? The others would only confirm them.
    pub informative: bool,
    pub why: String,
}

/// Offers that differ by less are the same: labels and analysers round.
const SAME_POWER_W: f64 = 0.5;
const SAME_VOLTAGE_V: f64 = 0.1;
/// vSafe0V, from memory: a port at no more than this has no output.
const NO_OUTPUT_V: f64 = 0.8;
/// More ports than this are not combined one by one: the matrix would have no end.
const MOST_PORTS: usize = 8;
/// Longest list of untested combinations in a document.
const MOST_UNTESTED: usize = 32;

/// What the observations of a record say; `None` without any.
pub fn result(record: &Record, standards: &Standards) -> Option<SharingResult> {
    if record.sharing.is_empty() {
        return None;
    }
    let matrix = Matrix::of(record);
    let findings = matrix.findings();
    let combinations = combinations(record, &matrix);
    let groups = groups(&matrix, &findings);
    let contradictions = contradictions(record, &matrix, &findings, &combinations, standards);
    Some(SharingResult {
        statement: statement(&matrix, &findings, &groups),
        settled: findings.settled(&matrix),
        disputed: findings.is_disputed(&matrix),
        offered_max_w: combinations
            .iter()
            .filter_map(|c| c.total_w)
            .reduce(f64::max),
        delivered_max_w: combinations
            .iter()
            .filter_map(|c| c.delivered_power_w)
            .reduce(f64::max),
        combinations,
        groups,
        contradictions,
        untested: matrix.untested(&findings),
    })
}

/// Combinations still worth an observation, most informative first; none for a unit with fewer
/// than two ports.
pub fn untested(record: &Record) -> Vec<UntestedCombination> {
    let matrix = Matrix::of(record);
    matrix.untested(&matrix.findings())
}

/// Offer of one port in one observation.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Offered {
    power_w: f64,
    voltage_max_v: Option<f64>,
}

impl Offered {
    fn is_same(&self, other: &Offered) -> bool {
        (self.power_w - other.power_w).abs() <= SAME_POWER_W
            && match (self.voltage_max_v, other.voltage_max_v) {
                (Some(a), Some(b)) => (a - b).abs() <= SAME_VOLTAGE_V,
                _ => true,
            }
    }

    /// More power, or a higher voltage at the same power.
    fn rises_to(&self, other: &Offered) -> bool {
        let more_w = other.power_w - self.power_w;
        more_w > SAME_POWER_W
            || more_w >= -SAME_POWER_W
                && matches!(
                    (self.voltage_max_v, other.voltage_max_v),
                    (Some(a), Some(b)) if b - a > SAME_VOLTAGE_V
                )
    }
}

/// A set of ports as bits, in the order of the unit.
type Ports = u32;

struct Observation {
    /// Place in the record.
    at: usize,
    in_use: Ports,
    offers: Vec<Option<Offered>>,
    attached: Option<usize>,
}

/// The observations with ports as numbers.
struct Matrix<'a> {
    unit: &'a Unit,
    observations: Vec<Observation>,
}

/// What is known of one port's influence on another's offer.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Influence {
    Unknown,
    /// Seen not to change it, in these observations (without, with).
    None {
        without: usize,
        with: usize,
        /// Was the port compared with itself alone? Then nothing can have hidden the influence,
        /// such as a least offer that was reached already.
        alone: bool,
        /// Was it compared with all ports in use? Then the influence does not come up with more
        /// load either.
        in_all: bool,
    },
    /// Seen to change it.
    Changes(usize, usize),
}

/// What a combination could still tell.
struct Worth {
    /// Questions that stand before the groups are settled.
    needed: u64,
    /// Influences that something else could have hidden so far.
    further: u64,
    why: String,
}

/// An offer that changed while several ports did: one of them is to blame.
struct Unexplained {
    port: usize,
    between: Ports,
    smaller: usize,
    larger: usize,
}

/// An offer that rose though ports were attached, which no sharing does.
struct Rise {
    port: usize,
    between: Ports,
    smaller: usize,
    larger: usize,
}

/// Comparisons of two observations, by the port whose offer is compared and the one attached.
struct Compared(Vec<Vec<Vec<Comparison>>>);

struct Comparison {
    /// Without the port attached.
    in_use: Ports,
    without: usize,
    with: usize,
}

impl Compared {
    fn new(ports: usize) -> Compared {
        Compared(
            (0..ports)
                .map(|_| (0..ports).map(|_| Vec::new()).collect())
                .collect(),
        )
    }

    fn of(&self, p: usize, q: usize) -> &[Comparison] {
        &self.0[p][q]
    }

    /// Adds a comparison unless one before it covers it.
    fn add(
        &mut self,
        p: usize,
        q: usize,
        (small, large): (&Observation, &Observation),
        covers: impl Fn(Ports, Ports) -> bool,
    ) {
        let known = &mut self.0[p][q];
        if !known.iter().any(|k| covers(k.in_use, small.in_use)) {
            known.push(Comparison {
                in_use: small.in_use,
                without: small.at,
                with: large.at,
            });
        }
    }
}

struct Findings {
    /// `influence[p][q]`: of q on p.
    influence: Vec<Vec<Influence>>,
    /// Number of the group of each port.
    group: Vec<usize>,
    unexplained: Vec<Unexplained>,
    /// The first of each port and what was attached.
    risen: Vec<Rise>,
    /// Influences that were not there with as little or less in use: (p, q, [without, with] where
    /// nothing changed, [without, with] where it did).
    only_with_more: Vec<(usize, usize, [usize; 4])>,
}

fn members(ports: Ports) -> impl Iterator<Item = usize> {
    (0..32).filter(move |i| ports >> i & 1 == 1)
}

impl<'a> Matrix<'a> {
    fn of(record: &'a Record) -> Matrix<'a> {
        let unit = &record.unit;
        let number = |label: &str| unit.ports.iter().position(|p| p.label == label);
        let observations = record
            .sharing
            .iter()
            .enumerate()
            .map(|(at, sharing)| {
                let mut offers = vec![None; unit.ports.len()];
                let mut in_use = 0;
                for label in &sharing.ports_in_use {
                    in_use |= number(label).map_or(0, |i| 1 << i);
                }
                for offer in &sharing.offers {
                    if let Some(i) = number(&offer.port) {
                        offers[i] = Some(Offered {
                            power_w: offer.power_w,
                            voltage_max_v: offer.voltage_max_v,
                        });
                    }
                }
                Observation {
                    at,
                    in_use,
                    offers,
                    attached: sharing.attached.as_deref().and_then(number),
                }
            })
            .collect();
        Matrix { unit, observations }
    }

    fn label(&self, port: usize) -> String {
        self.unit.ports[port].label.clone()
    }

    fn labels(&self, ports: Ports) -> Vec<String> {
        members(ports).map(|p| self.label(p)).collect()
    }

    fn all(&self) -> Ports {
        match self.unit.ports.len() {
            0 => 0,
            n => u32::MAX >> (32 - n.min(32)),
        }
    }

    /// Ports that were offered something at least once.
    fn seen(&self) -> Ports {
        self.observations
            .iter()
            .flat_map(|o| members(o.in_use).filter(|&p| o.offers[p].is_some()))
            .fold(0, |set, p| set | 1 << p)
    }

    fn is_observed(&self, ports: Ports) -> bool {
        self.observations
            .iter()
            .any(|o| o.in_use == ports && members(ports).all(|p| o.offers[p].is_some()))
    }

    /// The same combination twice with different offers, and to which ports.
    fn repeats(&self) -> impl Iterator<Item = (&Observation, &Observation, Vec<usize>)> {
        self.observations
            .iter()
            .enumerate()
            .flat_map(move |(i, b)| {
                self.observations[..i].iter().filter_map(move |a| {
                    if a.in_use != b.in_use {
                        return None;
                    }
                    let differing: Vec<usize> = members(a.in_use)
                    .filter(|&p| {
                        matches!((a.offers[p], b.offers[p]), (Some(x), Some(y)) if !x.is_same(&y))
                    })
                    .collect();
                    (!differing.is_empty()).then_some((a, b, differing))
                })
            })
    }

    /// Compares every two nested combinations, in the order in which the later one came.
    fn findings(&self) -> Findings {
        let n = self.unit.ports.len();
        let mut found = Findings {
            influence: vec![vec![Influence::Unknown; n]; n],
            group: (0..n).collect(),
            unexplained: Vec::new(),
            risen: Vec::new(),
            only_with_more: Vec::new(),
        };
        // Of each influence the comparisons that left the offer alone, and those that changed it,
        // by what was in use without it. Those that another covers are left out.
        let mut kept = Compared::new(n);
        let mut changed = Compared::new(n);
        for later in 0..self.observations.len() {
            for earlier in 0..later {
                let (a, b) = (&self.observations[earlier], &self.observations[later]);
                let (small, large) = if a.in_use & b.in_use == a.in_use {
                    (a, b)
                } else {
                    (b, a)
                };
                let between = large.in_use & !small.in_use;
                if small.in_use & large.in_use != small.in_use || between == 0 {
                    continue;
                }
                for p in members(small.in_use) {
                    let (Some(before), Some(after)) = (small.offers[p], large.offers[p]) else {
                        continue;
                    };
                    if before.is_same(&after) {
                        let (alone, in_all) = (small.in_use == 1 << p, large.in_use == self.all());
                        for q in members(between) {
                            kept.add(p, q, (small, large), |before, now| before & now == before);
                            match &mut found.influence[p][q] {
                                Influence::Changes(..) => {}
                                Influence::None {
                                    alone: was_alone,
                                    in_all: was_in_all,
                                    ..
                                } => {
                                    *was_alone |= alone;
                                    *was_in_all |= in_all;
                                }
                                unknown => {
                                    *unknown = Influence::None {
                                        without: small.at,
                                        with: large.at,
                                        alone,
                                        in_all,
                                    };
                                }
                            }
                        }
                    } else if before.rises_to(&after) {
                        let known = |r: &Rise| r.port == p && r.between == between;
                        if !found.risen.iter().any(known) {
                            found.risen.push(Rise {
                                port: p,
                                between,
                                smaller: small.at,
                                larger: large.at,
                            });
                        }
                    } else if between.count_ones() == 1 {
                        let q = between.trailing_zeros() as usize;
                        changed.add(p, q, (small, large), |before, now| before & now == now);
                        if !matches!(found.influence[p][q], Influence::Changes(..)) {
                            found.influence[p][q] = Influence::Changes(small.at, large.at);
                        }
                    } else {
                        found.unexplained.push(Unexplained {
                            port: p,
                            between,
                            smaller: small.at,
                            larger: large.at,
                        });
                    }
                }
            }
        }
        for p in 0..n {
            for q in 0..n {
                let pair = changed.of(p, q).iter().find_map(|change| {
                    let earlier = kept
                        .of(p, q)
                        .iter()
                        .find(|k| k.in_use & change.in_use == k.in_use)?;
                    Some([earlier.without, earlier.with, change.without, change.with])
                });
                found.only_with_more.extend(pair.map(|at| (p, q, at)));
            }
        }
        found.explain();
        found
    }

    /// Not observed combinations by what they tell.
    fn untested(&self, findings: &Findings) -> Vec<UntestedCombination> {
        let n = self.unit.ports.len();
        if !(2..=MOST_PORTS).contains(&n) {
            return Vec::new();
        }
        let all = self.all();
        let alone_missing = (0..n).any(|p| !self.is_observed(1 << p));
        let mut ranked: Vec<(Worth, u32, Ports)> = (1..=all)
            .filter(|&ports| !self.is_observed(ports))
            .map(|ports| {
                let size = ports.count_ones();
                let worth = if size == 1 {
                    Worth {
                        needed: 10_000,
                        further: 0,
                        why: "what the port offers alone is what everything else is compared with"
                            .to_owned(),
                    }
                } else if ports == all {
                    Worth {
                        needed: 9_000,
                        further: 0,
                        why: "all ports together show which of them change at all".to_owned(),
                    }
                } else if alone_missing || !self.is_observed(all) {
                    Worth {
                        needed: 0,
                        further: 0,
                        why: "after each port alone and all together, if they leave a question"
                            .to_owned(),
                    }
                } else {
                    self.worth(ports, findings)
                };
                (worth, size, ports)
            })
            .collect();
        ranked.sort_by(|a, b| {
            (b.0.needed, b.0.further)
                .cmp(&(a.0.needed, a.0.further))
                .then(a.1.cmp(&b.1))
                .then(self.order(a.2).cmp(&self.order(b.2)))
        });
        ranked
            .into_iter()
            .take(MOST_UNTESTED)
            .map(|(worth, _, ports)| UntestedCombination {
                ports: self.labels(ports),
                needed: worth.needed > 0,
                informative: worth.needed + worth.further > 0,
                why: worth.why,
            })
            .collect()
    }

    /// Combinations of one size in the order in which a person counts them.
    fn order(&self, ports: Ports) -> Vec<usize> {
        members(ports).collect()
    }

    /// How many questions a combination could answer, and which.
    fn worth(&self, ports: Ports, findings: &Findings) -> Worth {
        let mut answers = 0;
        let mut asked: Vec<(usize, usize)> = Vec::new();
        for p in members(ports) {
            for observed in &self.observations {
                let change = observed.in_use ^ ports;
                let nested =
                    observed.in_use & ports == ports || observed.in_use & ports == observed.in_use;
                if !nested || observed.in_use >> p & 1 == 0 || observed.offers[p].is_none() {
                    continue;
                }
                for q in members(change) {
                    // What is known but for all ports together only that comparison tells.
                    let tells = findings.influence[p][q] == Influence::Unknown
                        || observed.in_use == self.all();
                    if tells && findings.is_open(p, q) && !asked.contains(&(p, q)) {
                        asked.push((p, q));
                        // One other port gives a clear answer; several only if nothing changes.
                        answers += if change.count_ones() == 1 { 4 } else { 1 };
                    }
                }
            }
        }
        // A change that several ports may have caused is narrowed by a combination between.
        let narrowed: Vec<&Unexplained> = findings
            .unexplained
            .iter()
            .filter(|u| {
                let small = self.observations[u.smaller].in_use;
                let large = self.observations[u.larger].in_use;
                ports >> u.port & 1 == 1
                    && small & ports == small
                    && ports & large == ports
                    && ports != small
                    && ports != large
            })
            .collect();
        answers += 2 * narrowed.len() as u64;
        // Nothing of its own group beside it: what changes a port here comes from the others.
        let mut further = Vec::new();
        for p in members(ports) {
            if members(ports).any(|q| q != p && findings.group[q] == findings.group[p]) {
                continue;
            }
            further.extend(
                members(ports)
                    .filter(|&q| q != p && !findings.is_sure(p, q))
                    .map(|q| (p, q)),
            );
        }
        let why = match (asked.first(), narrowed.first()) {
            (Some(&(p, q)), _) if asked.len() == 1 => {
                format!(
                    "does {} change what {} is offered?",
                    self.label(q),
                    self.label(p)
                )
            }
            (Some(&(p, q)), _) => format!(
                "does {} change what {} is offered? and {} more such questions",
                self.label(q),
                self.label(p),
                asked.len() - 1
            ),
            (None, Some(u)) => format!(
                "{} is offered less with {}: with which of them?",
                self.label(u.port),
                self.labels(u.between).join(", ")
            ),
            (None, None) => match further.first() {
                Some(&(p, q)) => format!(
                    "does {} change what {} is offered when nothing else does?",
                    self.label(q),
                    self.label(p)
                ),
                None => "would only confirm the groups".to_owned(),
            },
        };
        Worth {
            needed: answers,
            further: further.len() as u64,
            why,
        }
    }
}

impl Findings {
    fn is_linked(&self, p: usize, q: usize) -> bool {
        matches!(self.influence[p][q], Influence::Changes(..))
            || matches!(self.influence[q][p], Influence::Changes(..))
    }

    fn join(&mut self, p: usize, q: usize) {
        let (keep, lose) = (
            self.group[p].min(self.group[q]),
            self.group[p].max(self.group[q]),
        );
        for group in &mut self.group {
            if *group == lose {
                *group = keep;
            }
        }
    }

    /// Groups from links; changes with several possible causes that a group explains are done with.
    fn explain(&mut self) {
        let n = self.group.len();
        for p in 0..n {
            for q in 0..p {
                if self.is_linked(p, q) {
                    self.join(p, q);
                }
            }
        }
        // That all but one seem not to change it does not blame the last: two may do it together.
        let group = &self.group;
        self.unexplained
            .retain(|u| !members(u.between).any(|q| group[q] == group[u.port]));
    }

    /// Is it open whether q changes p's offer, and would it matter?
    fn is_open(&self, p: usize, q: usize) -> bool {
        self.group[p] != self.group[q]
            && matches!(
                self.influence[p][q],
                Influence::Unknown | Influence::None { in_all: false, .. }
            )
    }

    /// Is q's influence on p seen, or seen to be none with nothing to hide it?
    fn is_sure(&self, p: usize, q: usize) -> bool {
        matches!(
            self.influence[p][q],
            Influence::Changes(..) | Influence::None { alone: true, .. }
        )
    }

    /// Is it known of these whether they share?
    fn is_known(&self, p: usize, q: usize) -> bool {
        self.group[p] == self.group[q] || !(self.is_open(p, q) || self.is_open(q, p))
    }

    /// Do observations contradict each other so that the groups may be wrong?
    fn is_disputed(&self, matrix: &Matrix) -> bool {
        let in_use = |at: usize| matrix.observations[at].in_use;
        !self.risen.is_empty()
            || self
                .only_with_more
                .iter()
                .any(|&(.., [without, _, more_without, _])| in_use(without) == in_use(more_without))
            || matrix.repeats().any(|(a, b, differing)| {
                // The order of attaching explains a difference between ports that share.
                let of_order = matches!((a.attached, b.attached), (Some(x), Some(y)) if x != y);
                let shares =
                    |p: usize| members(a.in_use).any(|q| q != p && self.group[q] == self.group[p]);
                !(of_order && differing.into_iter().all(shares))
            })
    }

    fn settled(&self, matrix: &Matrix) -> bool {
        let n = self.group.len();
        matrix.seen() != 0
            && matrix.seen() == matrix.all()
            && !self.is_disputed(matrix)
            && self.unexplained.is_empty()
            && (0..n).all(|p| (0..p).all(|q| self.is_known(p, q)))
    }
}

fn combinations(record: &Record, matrix: &Matrix) -> Vec<CombinationResult> {
    let word = |o: OtherPorts| {
        match o {
            OtherPorts::Held => "held",
            OtherPorts::Reset => "reset",
            OtherPorts::Lost => "lost",
            OtherPorts::NotApplicable => "not-applicable",
        }
        .to_owned()
    };
    let alone = |port: usize| {
        matrix
            .observations
            .iter()
            .find(|o| o.in_use == 1 << port)
            .and_then(|o| o.offers[port])
    };
    record
        .sharing
        .iter()
        .zip(&matrix.observations)
        .map(|(sharing, observed)| CombinationResult {
            observation: observed.at as u64,
            ports: sharing.ports_in_use.clone(),
            offers: members(observed.in_use)
                .filter_map(|p| {
                    let offer = observed.offers[p]?;
                    Some(OfferResult {
                        port: matrix.label(p),
                        power_w: offer.power_w,
                        voltage_max_v: offer.voltage_max_v,
                        change_w: alone(p).map(|a| offer.power_w - a.power_w),
                    })
                })
                .collect(),
            total_w: members(observed.in_use)
                .map(|p| observed.offers[p].map(|o| o.power_w))
                .sum::<Option<f64>>()
                .filter(|_| observed.in_use != 0),
            delivered_power_w: sharing.delivered_power_w,
            attached: sharing.attached.clone(),
            on_attach: sharing.on_attach.map(word),
            on_detach: sharing.on_detach.map(word),
            reset_ports: sharing.reset_ports.clone(),
            interruption_ms: sharing.interruption_ms,
            lowest_voltage_v: sharing.lowest_voltage_v,
            note: sharing.note.clone(),
        })
        .collect()
}

fn groups(matrix: &Matrix, findings: &Findings) -> Vec<PortGroup> {
    let seen = matrix.seen();
    let mut ports_of: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for p in members(seen) {
        ports_of.entry(findings.group[p]).or_default().push(p);
    }
    let power = |at: usize, p: usize| matrix.observations[at].offers[p].map(|o| o.power_w);
    ports_of
        .values()
        .map(|ports| {
            let mut evidence = Vec::new();
            for &p in ports {
                for &q in ports {
                    if let Influence::Changes(without, with) = findings.influence[p][q]
                        && let (Some(from_w), Some(to_w)) = (power(without, p), power(with, p))
                    {
                        evidence.push(GroupEvidence {
                            port: matrix.label(p),
                            by: matrix.label(q),
                            without: without as u64,
                            with: with as u64,
                            from_w,
                            to_w,
                        });
                    }
                }
            }
            let unknown = (0..findings.group.len())
                .filter(|q| !ports.contains(q))
                .filter(|&q| ports.iter().any(|&p| !findings.is_known(p, q)))
                .map(|q| matrix.label(q))
                .collect();
            PortGroup {
                ports: ports.iter().map(|&p| matrix.label(p)).collect(),
                evidence,
                unknown,
            }
        })
        .collect()
}

/// "A, B and C".
fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

fn statement(matrix: &Matrix, findings: &Findings, groups: &[PortGroup]) -> String {
    let sharing: Vec<&PortGroup> = groups.iter().filter(|g| g.ports.len() > 1).collect();
    let single: Vec<String> = groups
        .iter()
        .filter(|g| g.ports.len() == 1)
        .map(|g| g.ports[0].clone())
        .collect();
    let mut parts: Vec<String> = Vec::new();
    if matrix.unit.ports.len() == 1 && !groups.is_empty() {
        return format!("{} is the only port: it shares with none", single.concat());
    }
    let disputed = findings.is_disputed(matrix);
    for (i, group) in sharing.iter().enumerate() {
        let names = listed(&group.ports);
        parts.push(if i == 0 && disputed {
            format!("{names} seem to form one group")
        } else if i == 0 {
            format!("{names} form one group")
        } else {
            format!("{names} another")
        });
    }
    let settled = findings.settled(matrix);
    match (single.as_slice(), settled) {
        ([], _) => {}
        ([one], true) => parts.push(format!("{one} keeps its power whatever the others do")),
        (many, true) => parts.push(format!(
            "{} keep their power whatever the others do",
            listed(many)
        )),
        ([one], false) => parts.push(format!("{one} was not seen to share so far")),
        (many, false) => parts.push(format!("{} were not seen to share so far", listed(many))),
    }
    if groups.is_empty() {
        return "no offers on record".to_owned();
    }
    let mut text = parts.join(", ");
    if disputed {
        text.push_str("; observations contradict each other: repeat them to be sure");
    } else if !settled {
        text.push_str("; more combinations are needed to be sure");
    }
    text
}

fn contradictions(
    record: &Record,
    matrix: &Matrix,
    findings: &Findings,
    combinations: &[CombinationResult],
    standards: &Standards,
) -> Vec<SharingContradiction> {
    let mut found = Vec::new();
    let mut add = |kind: &str, observations: Vec<usize>, ports: Vec<String>, message: String| {
        found.push(SharingContradiction {
            kind: kind.to_owned(),
            observations: observations.into_iter().map(|o| o as u64).collect(),
            ports,
            message,
        });
    };
    let rounding = 1.0 + standards.procedure.cross_checks.label_power_percent / 100.0;
    let in_words = |at: usize| listed(&matrix.labels(matrix.observations[at].in_use));

    for &(p, q, at) in &findings.only_with_more {
        let [without, with, more_without, more_with] = at;
        let (p, q) = (matrix.label(p), matrix.label(q));
        let in_use = |at: usize| matrix.observations[at].in_use;
        // With the same in use at first, another port would have raised the offer again.
        let meaning = if in_use(without) == in_use(more_without) {
            "one of these is wrong, or the order of attaching decides"
        } else {
            "they share only when more is asked for"
        };
        add(
            "groups",
            at.to_vec(),
            vec![p.clone(), q.clone()],
            format!(
                "{q} did not change what {p} is offered from {} to {}, yet it does from {} to {}: {meaning}",
                in_words(without),
                in_words(with),
                in_words(more_without),
                in_words(more_with)
            ),
        );
    }
    for rise in &findings.risen {
        let port = matrix.label(rise.port);
        let offered = |at: usize| {
            let offer = matrix.observations[at].offers[rise.port];
            let power = offer.map_or(String::new(), |o| format!("{} W", short(o.power_w)));
            match offer.and_then(|o| o.voltage_max_v) {
                Some(volts) => format!("{power} up to {} V", short(volts)),
                None => power,
            }
        };
        let message = format!(
            "{port} is offered {} with {} in use, yet {} with {}: attaching a port should raise no \
             offer, so one of these is wrong, or the order of attaching decides",
            offered(rise.smaller),
            in_words(rise.smaller),
            offered(rise.larger),
            in_words(rise.larger)
        );
        let mut ports = vec![port];
        ports.extend(matrix.labels(rise.between));
        add("rise", vec![rise.smaller, rise.larger], ports, message);
    }
    for (a, b, differing) in matrix.repeats() {
        let differing: Vec<String> = differing.into_iter().map(|p| matrix.label(p)).collect();
        let order = match (a.attached, b.attached) {
            (Some(x), Some(y)) if x != y => {
                ": the port attached last differs, so the order may decide"
            }
            _ => "",
        };
        let message = format!(
            "{} in use twice with different offers to {}{order}",
            in_words(b.at),
            listed(&differing)
        );
        add("repeat", vec![a.at, b.at], differing, message);
    }
    let plate_w = record.unit.nameplate.output_power_w;
    for (combination, sharing) in combinations.iter().zip(&record.sharing) {
        let at = combination.observation as usize;
        let ports = &combination.ports;
        if let Some(total) = combination.total_w.filter(|t| *t > plate_w * rounding) {
            add(
                "nameplate",
                vec![at],
                ports.clone(),
                format!(
                    "{} offered {} W{}, more than the {} W of the nameplate",
                    match ports.as_slice() {
                        [one] => format!("{one} alone is"),
                        several => format!("{} are", listed(several)),
                    },
                    short(total),
                    if ports.len() > 1 { " together" } else { "" },
                    short(plate_w)
                ),
            );
        }
        for offer in &combination.offers {
            let port = record.unit.ports.iter().find(|p| p.label == offer.port);
            let Some(port) = port else { continue };
            if let Some(power_w) = port.power_w
                && offer.power_w > power_w * rounding
            {
                add(
                    "port-power",
                    vec![at],
                    vec![offer.port.clone()],
                    format!(
                        "{} is offered {} W, more than the {} W of its label",
                        offer.port,
                        short(offer.power_w),
                        short(power_w)
                    ),
                );
            }
            let rule = &standards.pd_rules.sharing;
            if port.connector == Some(Connector::UsbC) && offer.power_w < rule.least_w - 1e-9 {
                add(
                    "least-offer",
                    vec![at],
                    vec![offer.port.clone()],
                    format!(
                        "{} is offered {} W, less than {} W ({})",
                        offer.port,
                        short(offer.power_w),
                        short(rule.least_w),
                        rule.source
                    ),
                );
            }
        }
        if let Some((delivered, total)) = sharing.delivered_power_w.zip(combination.total_w)
            && delivered > total * rounding
        {
            add(
                "delivered",
                vec![at],
                ports.clone(),
                format!(
                    "{} W were delivered, though only {} W are offered",
                    short(delivered),
                    short(total)
                ),
            );
        }
        if let Some(delivered) = sharing
            .delivered_power_w
            .filter(|w| *w > plate_w * rounding)
        {
            let message = format!(
                "{} W were delivered, more than the {} W of the nameplate",
                short(delivered),
                short(plate_w)
            );
            add("nameplate", vec![at], ports.clone(), message);
        }
        held(sharing, at, &mut add);
        disturbance(sharing, at, matrix, findings, &mut add);
    }
    labels(matrix, findings, &mut add);
    found
}

/// Signs of a disturbance though the others are said to have held.
fn held(sharing: &Sharing, at: usize, add: &mut impl FnMut(&str, Vec<usize>, Vec<String>, String)) {
    let noted = [sharing.on_attach, sharing.on_detach];
    // What is noted may belong to the one of attaching and detaching that did disturb.
    let disturbs =
        |did: &Option<OtherPorts>| matches!(did, Some(OtherPorts::Reset | OtherPorts::Lost));
    if !noted.contains(&Some(OtherPorts::Held)) || noted.iter().any(disturbs) {
        return;
    }
    let others: Vec<String> = sharing
        .reset_ports
        .iter()
        .flatten()
        .filter(|port| Some(*port) != sharing.attached.as_ref())
        .cloned()
        .collect();
    let mut signs = Vec::new();
    if !others.is_empty() {
        signs.push(format!("{} as disturbed", listed(&others)));
    }
    if let Some(ms) = sharing.interruption_ms.filter(|ms| *ms > 0.0) {
        signs.push(format!("{} ms without voltage", short(ms)));
    }
    if let Some(volts) = sharing.lowest_voltage_v.filter(|v| *v <= NO_OUTPUT_V) {
        signs.push(format!("{} V at the lowest", short(volts)));
    }
    if signs.is_empty() {
        return;
    }
    let ports = if others.is_empty() {
        sharing.ports_in_use.clone()
    } else {
        others
    };
    let message = format!(
        "the others are noted to have kept their output, yet also {}",
        listed(&signs)
    );
    add("held", vec![at], ports, message);
}

/// A reset of a port that by the offers has nothing to do with the one attached.
fn disturbance(
    sharing: &Sharing,
    at: usize,
    matrix: &Matrix,
    findings: &Findings,
    add: &mut impl FnMut(&str, Vec<usize>, Vec<String>, String),
) {
    let Some(attached) = matrix.observations[at].attached else {
        return;
    };
    for label in sharing.reset_ports.iter().flatten() {
        let port = matrix.unit.ports.iter().position(|p| &p.label == label);
        let Some(port) = port.filter(|&p| p != attached) else {
            continue;
        };
        let apart = findings.group[port] != findings.group[attached];
        if apart && findings.is_known(port, attached) {
            let by = matrix.label(attached);
            add(
                "disturbance",
                vec![at],
                vec![label.clone(), by.clone()],
                format!(
                    "{label} was disturbed by {by}, though their offers do not depend on each other"
                ),
            );
        }
    }
}

/// Groups of the label against what was seen.
fn labels(
    matrix: &Matrix,
    findings: &Findings,
    add: &mut impl FnMut(&str, Vec<usize>, Vec<String>, String),
) {
    let ports = &matrix.unit.ports;
    for q in 0..ports.len() {
        for p in 0..q {
            let (Some(a), Some(b)) = (&ports[p].share_group, &ports[q].share_group) else {
                continue;
            };
            let shared = findings.group[p] == findings.group[q];
            let (x, y) = (matrix.label(p), matrix.label(q));
            let names = vec![x.clone(), y.clone()];
            if a == b && !shared && findings.is_known(p, q) && findings.settled(matrix) {
                let message = format!(
                    "the label puts {x} and {y} into one group, {a}, yet neither changes what the other is offered"
                );
                add("label", Vec::new(), names, message);
            } else if a != b && shared {
                let message = format!(
                    "the label puts {x} into group {a} and {y} into {b}, yet they share by the observations"
                );
                add("label", Vec::new(), names, message);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::record::{FORMAT, Nameplate, Offer, Port};
    use rand::seq::SliceRandom;
    use rand::{RngExt, SeedableRng, rngs::SmallRng};
    use std::collections::BTreeSet;

    fn port(label: &str) -> Port {
        Port {
            label: label.to_owned(),
            connector: None,
            power_w: None,
            share_group: None,
            source_capabilities: Vec::new(),
            modes: Vec::new(),
        }
    }

    fn record(labels: &[&str], plate_w: f64) -> Record {
        Record {
            format: FORMAT.to_owned(),
            unit: Unit {
                maker: "Larkfield".to_owned(),
                model: "LF".to_owned(),
                sample: None,
                acquired_on: None,
                price: None,
                buy_url: None,
                write_up_url: None,
                nameplate: Nameplate {
                    output_power_w: plate_w,
                    input_voltage_min_v: None,
                    input_voltage_max_v: None,
                    input_current_a: None,
                    efficiency_mark: None,
                    max_ambient_c: None,
                },
                safety_marks: Vec::new(),
                mass_g: None,
                size_mm: None,
                cord: None,
                category: None,
                harmonic_class: None,
                ports: labels.iter().map(|l| port(l)).collect(),
            },
            instruments: Vec::new(),
            logs: Vec::new(),
            runs: Vec::new(),
            overloads: Vec::new(),
            sharing: Vec::new(),
            temperatures: Vec::new(),
            measurements: Vec::new(),
            photos: Vec::new(),
            notes: None,
        }
    }

    fn record_of_one_port_above_the_total() -> Record {
        let mut record = record(&["C1", "A1"], 60.0);
        record.sharing = vec![observed(&[("C1", 65.0)])];
        record
    }

    fn observed(offers: &[(&str, f64)]) -> Sharing {
        Sharing {
            ports_in_use: offers.iter().map(|o| o.0.to_owned()).collect(),
            offers: offers
                .iter()
                .map(|&(port, power_w)| Offer {
                    port: port.to_owned(),
                    power_w,
                    voltage_max_v: None,
                })
                .collect(),
            on_attach: None,
            attached: None,
            on_detach: None,
            reset_ports: None,
            interruption_ms: None,
            lowest_voltage_v: None,
            delivered_power_w: None,
            note: None,
        }
    }

    fn judged(record: &Record) -> SharingResult {
        result(record, &Standards::embedded()).unwrap()
    }

    fn four_ports() -> Record {
        let mut record = record(&["C1", "C2", "C3", "A"], 100.0);
        record.sharing = [
            &[("C1", 65.0)][..],
            &[("C2", 65.0)],
            &[("C3", 30.0)],
            &[("A", 18.0)],
            &[("C1", 45.0), ("C2", 20.0), ("C3", 15.0), ("A", 15.0)],
            &[("C1", 45.0), ("C2", 20.0)],
            &[("C3", 15.0), ("A", 15.0)],
        ]
        .iter()
        .map(|offers| observed(offers))
        .collect();
        record
    }

    #[test]
    fn two_groups_of_two_are_found_from_seven_observations() {
        let found = judged(&four_ports());
        assert_eq!(
            found.statement,
            "C1 and C2 form one group, C3 and A another"
        );
        assert!(found.settled);
        assert!(
            found.contradictions.is_empty(),
            "{:?}",
            found.contradictions
        );
        assert!(found.untested.iter().all(|u| !u.needed));
        // A pair across the groups could still show what the least offers hide.
        assert_eq!(found.untested[0].ports, ["C1", "C3"]);
        assert!(found.untested[0].informative);
        assert_eq!(found.untested.len(), 15 - 7);
        assert_eq!(found.offered_max_w, Some(95.0));
        assert_eq!(found.combinations[4].total_w, Some(95.0));
        assert_eq!(found.combinations[4].offers[1].change_w, Some(-45.0));
        let evidence = &found.groups[0].evidence[0];
        assert_eq!(
            (evidence.port.as_str(), evidence.by.as_str(), evidence.with),
            ("C1", "C2", 5)
        );
    }

    #[test]
    fn nothing_is_said_to_be_independent_before_it_was_tried() {
        let mut record = four_ports();
        record.sharing.truncate(4);
        let found = judged(&record);
        assert!(!found.settled);
        assert_eq!(
            found.statement,
            "C1, C2, C3 and A were not seen to share so far; more combinations are needed to be sure"
        );
        assert_eq!(found.untested[0].ports, ["C1", "C2", "C3", "A"]);
        record.sharing.clear();
        assert!(result(&record, &Standards::embedded()).is_none());
        let first: Vec<_> = untested(&record).into_iter().take(5).collect();
        assert_eq!(first[0].ports, ["C1"]);
        assert_eq!(first[4].ports, ["C1", "C2", "C3", "A"]);
    }

    #[test]
    fn what_contradicts_itself_does_not_depend_on_the_order_of_the_observations() {
        // A budget that bites with three ports only, and one that is spent with two.
        let forwards = [
            observed(&[("C1", 45.0)]),
            observed(&[("C2", 30.0)]),
            observed(&[("C3", 20.0)]),
            observed(&[("C1", 45.0), ("C2", 30.0)]),
            observed(&[("C1", 30.0), ("C3", 20.0)]),
            observed(&[("C2", 30.0), ("C3", 20.0)]),
            observed(&[("C1", 30.0), ("C2", 15.0), ("C3", 20.0)]),
        ];
        let flagged = |sharing: Vec<Sharing>| -> BTreeSet<(String, Vec<String>)> {
            let mut record = record(&["C1", "C2", "C3"], 100.0);
            record.sharing = sharing;
            let found = judged(&record).contradictions;
            found.into_iter().map(|c| (c.kind, c.ports)).collect()
        };
        let pairs = |pairs: &[[&str; 2]]| -> BTreeSet<(String, Vec<String>)> {
            pairs
                .iter()
                .map(|p| ("groups".to_owned(), p.map(str::to_owned).to_vec()))
                .collect()
        };
        // C1 and C3 change C2 only beside each other. That C2 leaves C1 alone where C3 has
        // lowered it already is none.
        let expected = pairs(&[["C2", "C1"], ["C2", "C3"]]);
        assert_eq!(flagged(forwards.to_vec()), expected);
        assert_eq!(flagged(forwards.iter().rev().cloned().collect()), expected);
    }

    fn two_ports(sharing: Vec<Sharing>) -> SharingResult {
        let mut record = record(&["C1", "C2"], 100.0);
        record.sharing = sharing;
        judged(&record)
    }

    fn flagged(found: &SharingResult) -> Vec<(&str, &[u64])> {
        found
            .contradictions
            .iter()
            .map(|c| (c.kind.as_str(), c.observations.as_slice()))
            .collect()
    }

    #[test]
    fn an_offer_that_rises_with_another_port_joins_no_group_and_leaves_nothing_settled() {
        let found = two_ports(vec![
            observed(&[("C1", 30.0)]),
            observed(&[("C2", 30.0)]),
            observed(&[("C1", 65.0), ("C2", 30.0)]),
        ]);
        assert_eq!(flagged(&found), [("rise", &[0, 2][..])]);
        assert!(found.groups.iter().all(|g| g.ports.len() == 1));
        assert!(found.disputed && !found.settled);
        assert_eq!(
            found.statement,
            "C1 and C2 were not seen to share so far; observations contradict each other: repeat them to be sure"
        );
        // A higher voltage of the same power rises as well, a lower one with more power too.
        let volts = |alone_w: f64, alone_v: f64, both_w: f64, both_v: f64| {
            let mut seen = vec![
                observed(&[("C1", alone_w)]),
                observed(&[("C2", 30.0)]),
                observed(&[("C1", both_w), ("C2", 30.0)]),
            ];
            seen[0].offers[0].voltage_max_v = Some(alone_v);
            seen[2].offers[0].voltage_max_v = Some(both_v);
            two_ports(seen)
        };
        assert!(volts(45.0, 15.0, 45.0, 20.0).disputed);
        assert!(volts(45.0, 20.0, 60.0, 15.0).disputed);
        assert!(volts(45.0, 20.0, 45.0, 15.0).settled);
        assert!(volts(45.0, 15.0, 30.0, 20.0).settled);
    }

    #[test]
    fn groups_that_a_repeated_combination_contradicts_are_not_settled() {
        let mut seen = vec![
            observed(&[("C1", 65.0)]),
            observed(&[("C2", 65.0)]),
            observed(&[("C1", 65.0), ("C2", 65.0)]),
            observed(&[("C1", 45.0), ("C2", 20.0)]),
        ];
        let found = two_ports(seen.clone());
        assert!(flagged(&found).contains(&("repeat", &[2, 3])));
        assert!(found.disputed && !found.settled);
        assert!(
            found
                .statement
                .starts_with("C1 and C2 seem to form one group;")
        );
        // In another order of attaching ports that share may well be offered something else.
        seen[2].offers[0].power_w = 20.0;
        seen[2].offers[1].power_w = 45.0;
        seen[2].attached = Some("C1".to_owned());
        seen[3].attached = Some("C2".to_owned());
        let found = two_ports(seen);
        assert_eq!(flagged(&found), [("repeat", &[2, 3][..])]);
        assert!(found.settled && !found.disputed);
    }

    #[test]
    fn ports_that_held_were_neither_reset_nor_without_voltage() {
        let kinds = |change: &dyn Fn(&mut Sharing)| -> Vec<String> {
            let mut both = observed(&[("C1", 65.0), ("C2", 30.0)]);
            both.attached = Some("C2".to_owned());
            both.on_attach = Some(OtherPorts::Held);
            change(&mut both);
            let found = two_ports(vec![both]);
            found
                .contradictions
                .into_iter()
                .map(|c| c.message)
                .collect()
        };
        assert_eq!(
            kinds(&|s| {
                s.reset_ports = Some(vec!["C1".to_owned()]);
                s.interruption_ms = Some(500.0);
                s.lowest_voltage_v = Some(0.0);
            }),
            [
                "the others are noted to have kept their output, yet also C1 as disturbed, 500 ms without voltage and 0 V at the lowest"
            ]
        );
        assert_eq!(kinds(&|s| s.interruption_ms = Some(20.0)).len(), 1);
        // A dip is no loss, and the port attached is none of the others.
        assert!(
            kinds(&|s| {
                s.reset_ports = Some(vec!["C2".to_owned()]);
                s.interruption_ms = Some(0.0);
                s.lowest_voltage_v = Some(4.6);
            })
            .is_empty()
        );
        // It was detaching that disturbed.
        assert!(
            kinds(&|s| {
                s.on_detach = Some(OtherPorts::Reset);
                s.interruption_ms = Some(500.0);
            })
            .is_empty()
        );
    }

    #[test]
    fn more_than_the_nameplate_is_flagged_where_nothing_but_the_delivered_power_is_known() {
        let delivered = |watts: f64| {
            let mut both = observed(&[]);
            both.ports_in_use = vec!["C1".to_owned(), "C2".to_owned()];
            both.delivered_power_w = Some(watts);
            two_ports(vec![both])
        };
        let found = delivered(180.0);
        assert_eq!(flagged(&found), [("nameplate", &[0][..])]);
        assert_eq!(
            found.contradictions[0].message,
            "180 W were delivered, more than the 100 W of the nameplate"
        );
        assert!(delivered(102.0).contradictions.is_empty());
    }

    #[test]
    fn of_one_port_alone_nothing_is_said_about_others() {
        let mut record = record(&["C1"], 65.0);
        record.sharing = vec![observed(&[("C1", 65.0)])];
        assert_eq!(
            judged(&record).statement,
            "C1 is the only port: it shares with none"
        );
    }

    #[test]
    fn a_combination_without_offers_tells_nothing() {
        let mut record = four_ports();
        record.sharing[6].offers.clear();
        let found = judged(&record);
        assert_eq!(found.combinations[6].total_w, None);
        assert!(!found.settled);
        assert!(found.groups.iter().all(|g| g.ports != ["C3", "A"]));
    }

    #[test]
    fn what_contradicts_itself_is_flagged_with_its_observations() {
        let kinds = |record: &Record| -> Vec<(String, Vec<u64>)> {
            judged(record)
                .contradictions
                .into_iter()
                .map(|c| (c.kind, c.observations))
                .collect()
        };
        let mut record = four_ports();
        // C3 changes C1 after all, though it did not from C1 and C2 to all.
        record
            .sharing
            .push(observed(&[("C1", 30.0), ("C2", 20.0), ("C3", 15.0)]));
        assert!(kinds(&record).contains(&("groups".to_owned(), vec![5, 4, 5, 7])));

        let mut record = four_ports();
        record.sharing.push(observed(&[("C1", 30.0), ("C2", 30.0)]));
        record.sharing[5].attached = Some("C2".to_owned());
        record.sharing[7].attached = Some("C1".to_owned());
        let repeat = judged(&record);
        let repeat = repeat
            .contradictions
            .iter()
            .find(|c| c.kind == "repeat")
            .unwrap();
        assert_eq!(repeat.observations, [5, 7]);
        assert!(repeat.message.contains("order may decide"));

        let mut record = four_ports();
        record.unit.nameplate.output_power_w = 80.0;
        assert_eq!(kinds(&record), [("nameplate".to_owned(), vec![4])]);

        let mut record = record_of_one_port_above_the_total();
        let alone = judged(&record).contradictions.remove(0);
        assert_eq!(
            alone.message,
            "C1 alone is offered 65 W, more than the 60 W of the nameplate"
        );
        record.unit.nameplate.output_power_w = 65.0;
        assert!(kinds(&record).is_empty());

        let mut record = four_ports();
        record.unit.ports[1].power_w = Some(60.0);
        record.unit.ports[1].connector = Some(Connector::UsbC);
        record.sharing[4].offers[1].power_w = 5.0;
        record.sharing[5].offers[1].power_w = 5.0;
        record.sharing[4].delivered_power_w = Some(92.0);
        assert_eq!(
            kinds(&record),
            [
                ("port-power".to_owned(), vec![1]),
                ("least-offer".to_owned(), vec![4]),
                ("delivered".to_owned(), vec![4]),
                ("least-offer".to_owned(), vec![5]),
            ]
        );

        let mut record = four_ports();
        record.sharing[6].attached = Some("A".to_owned());
        record.sharing[6].reset_ports = Some(vec!["C3".to_owned()]);
        assert!(kinds(&record).is_empty(), "within one group");
        record.sharing[4].attached = Some("A".to_owned());
        record.sharing[4].reset_ports = Some(vec!["C1".to_owned()]);
        assert_eq!(kinds(&record), [("disturbance".to_owned(), vec![4])]);

        let mut record = four_ports();
        for (port, group) in record.unit.ports.iter_mut().zip(["a", "b", "b", "b"]) {
            port.share_group = Some(group.to_owned());
        }
        // C1 and C2 share against the label; C2 shares with neither C3 nor A.
        assert_eq!(kinds(&record).len(), 3);
    }

    /// How the members of a group share, in the manners that occur.
    #[derive(Clone, Copy)]
    enum Manner {
        /// Each in proportion to what it could have.
        Proportional,
        /// The first in order keeps what it can, the rest goes on.
        Priority,
        /// All get the same, by how many they are.
        Equal,
        /// Only steps that label makers like.
        Steps,
    }

    struct Simulated {
        alone_w: Vec<f64>,
        groups: Vec<(Ports, f64, Manner)>,
    }

    impl Simulated {
        fn random(rng: &mut SmallRng) -> Simulated {
            let n = rng.random_range(2..=6);
            let alone_w: Vec<f64> = (0..n)
                .map(|_| [12.0, 15.0, 18.0, 20.0, 30.0, 45.0, 65.0, 100.0][rng.random_range(0..8)])
                .collect();
            let of: Vec<usize> = (0..n).map(|_| rng.random_range(0..n)).collect();
            let groups = (0..n)
                .map(|g| {
                    let ports = (0..n).filter(|&p| of[p] == g).fold(0, |s, p| s | 1 << p);
                    let most = members(ports).map(|p| alone_w[p]).fold(0.0, f64::max);
                    let sum: f64 = members(ports).map(|p| alone_w[p]).sum();
                    let budget = most + (sum - most) * rng.random::<f64>() * 0.9;
                    let manner = [
                        Manner::Proportional,
                        Manner::Priority,
                        Manner::Equal,
                        Manner::Steps,
                    ][rng.random_range(0..4)];
                    (ports, budget, manner)
                })
                .filter(|(ports, ..)| *ports != 0)
                .collect();
            Simulated { alone_w, groups }
        }

        fn offer(&self, port: usize, in_use: Ports) -> f64 {
            let &(group, budget, manner) = self
                .groups
                .iter()
                .find(|(ports, ..)| ports >> port & 1 == 1)
                .unwrap();
            let active: Vec<usize> = members(group & in_use).collect();
            let sum: f64 = active.iter().map(|&p| self.alone_w[p]).sum();
            let alone = self.alone_w[port];
            let proportional = (alone * (budget / sum).min(1.0)).floor();
            match manner {
                Manner::Proportional => proportional,
                Manner::Equal => alone.min((budget / active.len() as f64).floor()),
                Manner::Steps => [100.0, 65.0, 45.0, 30.0, 20.0, 15.0, 12.0]
                    .into_iter()
                    .find(|&step| step <= proportional)
                    .unwrap_or(7.5),
                Manner::Priority => {
                    let mut left = budget;
                    for &p in &active {
                        let gets = self.alone_w[p].min(left.floor()).max(7.5);
                        if p == port {
                            return gets;
                        }
                        left = (left - gets).max(0.0);
                    }
                    unreachable!("the port is in use")
                }
            }
        }

        fn observe(&self, in_use: Ports) -> Sharing {
            let names: Vec<(String, f64)> = members(in_use)
                .map(|p| (format!("P{p}"), self.offer(p, in_use)))
                .collect();
            let offers: Vec<(&str, f64)> = names.iter().map(|(n, w)| (n.as_str(), *w)).collect();
            observed(&offers)
        }

        fn record(&self) -> Record {
            let names: Vec<String> = (0..self.alone_w.len()).map(|p| format!("P{p}")).collect();
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            record(&names, self.alone_w.iter().sum())
        }

        /// Ports one of which changes the other's offer in some combination, and what hangs
        /// together by that: by trying all combinations, without any of the code above.
        fn truth(&self) -> BTreeSet<BTreeSet<String>> {
            let n = self.alone_w.len();
            let mut groups: Vec<BTreeSet<usize>> = (0..n).map(|p| BTreeSet::from([p])).collect();
            for p in 0..n {
                for q in (0..n).filter(|&q| q != p) {
                    let depends = (0u32..1 << n)
                        .filter(|s| s >> p & 1 == 1 && s >> q & 1 == 0)
                        .any(|s| (self.offer(p, s) - self.offer(p, s | 1 << q)).abs() > 0.5);
                    if depends {
                        let (a, b): (Vec<_>, Vec<_>) = groups
                            .into_iter()
                            .partition(|g| g.contains(&p) || g.contains(&q));
                        groups = b;
                        groups.push(a.into_iter().flatten().collect());
                    }
                }
            }
            groups
                .into_iter()
                .map(|g| g.into_iter().map(|p| format!("P{p}")).collect())
                .collect()
        }
    }

    fn groups_of(found: &SharingResult) -> BTreeSet<BTreeSet<String>> {
        found
            .groups
            .iter()
            .map(|g| g.ports.iter().cloned().collect())
            .collect()
    }

    #[test]
    fn the_groups_of_200_random_adapters_are_right_from_all_combinations_in_any_order() {
        let mut rng = SmallRng::seed_from_u64(4_242);
        let mut shared = 0;
        for i in 0..200 {
            let simulated = Simulated::random(&mut rng);
            let mut record = simulated.record();
            let mut all: Vec<Ports> = (1..1 << simulated.alone_w.len()).collect();
            all.shuffle(&mut rng);
            record.sharing = all.iter().map(|&s| simulated.observe(s)).collect();
            let found = judged(&record);
            let truth = simulated.truth();
            assert_eq!(groups_of(&found), truth, "adapter {i}");
            assert!(found.settled, "adapter {i}");
            assert!(found.untested.is_empty(), "adapter {i}");
            shared += usize::from(truth.iter().any(|g| g.len() > 1));
        }
        assert!(shared > 100, "only {shared} share anything");
    }

    #[test]
    fn following_the_suggestions_finds_the_groups_of_200_random_adapters_in_fewer_observations() {
        let mut rng = SmallRng::seed_from_u64(99);
        let (mut made, mut possible) = (0, 0);
        for i in 0..200 {
            let simulated = Simulated::random(&mut rng);
            let mut record = simulated.record();
            while let Some(next) = untested(&record).into_iter().find(|u| u.informative) {
                let in_use = next
                    .ports
                    .iter()
                    .map(|p| 1 << p[1..].parse::<u32>().unwrap())
                    .fold(0, |s, bit: Ports| s | bit);
                record.sharing.push(simulated.observe(in_use));
                assert!(record.sharing.len() < 64, "adapter {i}: no end");
            }
            let found = judged(&record);
            assert!(found.settled, "adapter {i}");
            assert_eq!(
                groups_of(&found),
                simulated.truth(),
                "adapter {i}: {:?}",
                record.sharing
            );
            made += record.sharing.len();
            possible += (1 << simulated.alone_w.len()) - 1;
        }
        assert!(made * 3 < possible * 2, "{made} of {possible}");
    }

    #[test]
    fn a_unit_with_many_ports_and_many_observations_is_judged_at_once() {
        let labels: Vec<String> = (0..16).map(|i| format!("P{i}")).collect();
        let names: Vec<&str> = labels.iter().map(String::as_str).collect();
        let mut record = record(&names, 500.0);
        let mut rng = SmallRng::seed_from_u64(1);
        record.sharing = (0..200)
            .map(|_| {
                let offers: Vec<(&str, f64)> = names
                    .iter()
                    .filter(|_| rng.random::<bool>())
                    .map(|n| (*n, 20.0))
                    .collect();
                observed(&offers)
            })
            .collect();
        let found = judged(&record);
        assert!(found.untested.is_empty());
        assert_eq!(found.groups.len(), 16);
    }
}
