//! What the ports of a unit give at the same time: observed, else by its label.

use crate::bench::record::{Connector, Mode, Port, Unit};
use crate::evaluate::evaluation::SharingResult;
use serde::{Deserialize, Serialize};

/// Offers and labels round: 64.9 W is an offer of 65 W.
pub const ROUNDING_W: f64 = 0.5;

/// What one port offers, or is labelled with.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PortPower {
    pub connector: Option<Connector>,
    pub power_w: f64,
}

/// Offers of each observed combination of ports, and what the label says of each port alone.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Together {
    /// One list a combination; ports whose offer was not noted are left out.
    pub observed: Vec<Vec<PortPower>>,
    pub labelled: Vec<PortPower>,
    /// All ports together, by the label.
    pub labelled_total_w: f64,
}

/// How it is known what ports give at the same time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// The offers were seen in one combination.
    Observed,
    /// No combination of so many ports was observed: their label powers, which together stay
    /// within the nameplate.
    Label,
}

impl Basis {
    /// The word in documents.
    pub fn id(self) -> &'static str {
        match self {
            Basis::Observed => "observed",
            Basis::Label => "label",
        }
    }
}

impl Together {
    pub fn of(unit: &Unit, sharing: Option<&SharingResult>) -> Together {
        let connector = |label: &str| {
            unit.ports
                .iter()
                .find(|p| p.label == label)
                .and_then(|p| p.connector)
        };
        let total = unit.nameplate.output_power_w;
        Together {
            observed: sharing
                .iter()
                .flat_map(|s| &s.combinations)
                .map(|combination| {
                    combination
                        .offers
                        .iter()
                        .map(|offer| PortPower {
                            connector: connector(&offer.port),
                            power_w: offer.power_w,
                        })
                        .collect()
                })
                .collect(),
            labelled: unit
                .ports
                .iter()
                .filter_map(|port| {
                    let alone = unit.ports.len() == 1;
                    Some(PortPower {
                        connector: port.connector,
                        power_w: label_power_w(port).or(alone.then_some(total))?,
                    })
                })
                .collect(),
            labelled_total_w: total,
        }
    }

    /// Do `count` ports (of this connector, or of any) give `each_w` watts each at the same time?
    ///
    /// Where a combination of so many such ports was observed, the observations decide: a label
    /// that promises more does not help. Combinations that were not tried may be better; that is
    /// not assumed.
    pub fn gives(&self, connector: Option<Connector>, count: u32, each_w: f64) -> Option<Basis> {
        let count = count.max(1) as usize;
        let powers = |ports: &[PortPower]| -> Vec<f64> {
            let mut powers: Vec<f64> = ports
                .iter()
                .filter(|p| connector.is_none() || p.connector == connector)
                .map(|p| p.power_w)
                .collect();
            powers.sort_by(|a, b| b.total_cmp(a));
            powers
        };
        let enough = |powers: &[f64]| {
            powers
                .get(count - 1)
                .is_some_and(|least| *least + ROUNDING_W >= each_w)
        };
        let observed: Vec<Vec<f64>> = self
            .observed
            .iter()
            .map(|ports| powers(ports))
            .filter(|powers| powers.len() >= count)
            .collect();
        if !observed.is_empty() {
            return observed
                .iter()
                .any(|powers| enough(powers))
                .then_some(Basis::Observed);
        }
        let within = count as f64 * each_w <= self.labelled_total_w + ROUNDING_W;
        (within && enough(&powers(&self.labelled))).then_some(Basis::Label)
    }
}

/// The port's rating, else the largest power among its printed modes.
fn label_power_w(port: &Port) -> Option<f64> {
    let of_mode = |mode: &Mode| match *mode {
        Mode::Fixed {
            voltage_v,
            current_a,
        } => voltage_v * current_a,
        Mode::Pps {
            voltage_max_v,
            current_a,
            ..
        }
        | Mode::Avs {
            voltage_max_v,
            current_a,
            ..
        } => voltage_max_v * current_a,
    };
    let modes = port
        .modes
        .iter()
        .filter(|m| matches!(m, Mode::Fixed { .. }));
    port.power_w.or(modes.map(of_mode).reduce(f64::max))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(connector: Connector, power_w: f64) -> PortPower {
        PortPower {
            connector: Some(connector),
            power_w,
        }
    }

    const C: Option<Connector> = Some(Connector::UsbC);

    fn labelled(ports: &[PortPower], total: f64) -> Together {
        Together {
            observed: Vec::new(),
            labelled: ports.to_vec(),
            labelled_total_w: total,
        }
    }

    #[test]
    fn two_ports_of_a_shared_budget_do_not_give_their_label_powers_together() {
        let ports = [port(Connector::UsbC, 65.0), port(Connector::UsbC, 65.0)];
        let shared = labelled(&ports, 65.0);
        assert_eq!(shared.gives(C, 1, 65.0), Some(Basis::Label));
        assert_eq!(shared.gives(C, 2, 65.0), None);
        assert_eq!(
            labelled(&ports, 130.0).gives(C, 2, 65.0),
            Some(Basis::Label)
        );
    }

    #[test]
    fn what_was_observed_outweighs_the_label() {
        let ports = [port(Connector::UsbC, 65.0), port(Connector::UsbC, 65.0)];
        let mut unit = labelled(&ports, 130.0);
        unit.observed = vec![vec![
            port(Connector::UsbC, 65.0),
            port(Connector::UsbC, 30.0),
        ]];
        assert_eq!(unit.gives(C, 2, 65.0), None);
        assert_eq!(unit.gives(C, 2, 30.0), Some(Basis::Observed));
        assert_eq!(unit.gives(C, 1, 65.0), Some(Basis::Observed));
        unit.observed.push(vec![
            port(Connector::UsbC, 64.8),
            port(Connector::UsbC, 64.8),
            port(Connector::UsbA, 12.0),
        ]);
        assert_eq!(unit.gives(C, 2, 65.0), Some(Basis::Observed));
        assert_eq!(unit.gives(None, 3, 12.0), Some(Basis::Observed));
    }

    #[test]
    fn ports_of_another_connector_do_not_count() {
        let ports = [port(Connector::UsbC, 65.0), port(Connector::UsbA, 65.0)];
        let unit = labelled(&ports, 130.0);
        assert_eq!(unit.gives(C, 2, 20.0), None);
        assert_eq!(unit.gives(None, 2, 20.0), Some(Basis::Label));
        assert_eq!(Together::default().gives(None, 1, 5.0), None);
    }
}
