//! How invented ports share power: observations of combinations, as a tester with loads and an
//! analyser would write them down.
//!
//! The model: ports that hang on one budget get their own power while it lasts. When it does not,
//! USB-A ports keep theirs, since they cannot be told to take less, and the USB-C ports fall in
//! proportion to the next step that chargers use. Attaching a port never raises another's offer.

use super::capabilities::pd_rules;
use super::chance::Chance;
use super::measure::decimals;
use super::sketch::Sketch;
use crate::bench::record::{Connector, Mode, Offer, OtherPorts, Port, Sharing};

/// How many combinations were tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Tried {
    Every,
    /// Each port alone, then all together.
    AloneAndTogether,
    /// The first two together, then all.
    Few,
    Nothing,
}

fn tried(model: &str) -> Tried {
    match model {
        "TW-35CC" | "FW-30CA" | "BH-45CA" | "UF-24AA" | "TW-65CCA" | "UF-67CC" | "GS-60CA"
        | "TW-100CC" | "LF-100Q" | "QM-200CCAA" | "CT-200 Desk" | "UF-400 Bank" | "GS-45CC" => {
            Tried::Every
        }
        "LF-300 Desk" | "TW-280 Dock" | "UF-140CC" | "YB-140CCA" | "OD-260 Desk" => {
            Tried::AloneAndTogether
        }
        // Two converters, nothing shared, nothing tried.
        "DM-120 Desk" | "OD-70CA" | "FW-250 Desk" => Tried::Nothing,
        _ => Tried::Few,
    }
}

/// Ports on one budget, watts.
fn budgets(sketch: &Sketch) -> Vec<(Vec<usize>, f64)> {
    let total_w = sketch.output_power_w;
    match sketch.model.as_str() {
        "UF-400 Bank" => vec![(vec![0, 2], 200.0), (vec![1, 3], 200.0)],
        "QM-200CCAA" => vec![(vec![0, 2], 100.0), (vec![1, 3], 100.0)],
        "UF-24AA" => vec![(vec![0], 12.0), (vec![1], 12.0)],
        _ => vec![((0..sketch.ports.len()).collect(), total_w)],
    }
}

/// The combinations that were observed of a unit, as sets of port numbers.
fn combinations(tried: Tried, count: usize) -> Vec<Vec<usize>> {
    let all: Vec<usize> = (0..count).collect();
    match tried {
        Tried::Nothing => Vec::new(),
        Tried::Few if count == 2 => vec![all],
        Tried::Few => vec![vec![0, 1], all],
        Tried::AloneAndTogether => (0..count).map(|p| vec![p]).chain([all]).collect(),
        Tried::Every => {
            let mut sets: Vec<Vec<usize>> = (1u32..1 << count)
                .map(|bits| (0..count).filter(|p| bits >> p & 1 == 1).collect())
                .collect();
            sets.sort_by(|a: &Vec<usize>, b| a.len().cmp(&b.len()).then(a.cmp(b)));
            sets
        }
    }
}

/// What was seen of a unit with several ports.
pub(super) fn observed(sketch: &Sketch, chance: &mut Chance) -> Vec<Sharing> {
    let count = sketch.ports.len();
    if count < 2 {
        return Vec::new();
    }
    let how = tried(&sketch.model);
    let mut found: Vec<Sharing> = combinations(how, count)
        .into_iter()
        .map(|in_use| observation(sketch, &in_use, how, chance))
        .collect();
    if let Some(last) = found.last_mut() {
        last.note = sketch.sharing_note.map(str::to_owned);
    }
    if sketch.model == "YB-140CCA" {
        found.extend(again(&found));
    }
    found
}

/// The same ports once more, with another outcome: C2 had gone dark.
fn again(found: &[Sharing]) -> Option<Sharing> {
    let mut again = found.last()?.clone();
    let lost = again.offers.get_mut(1)?;
    let label = lost.port.clone();
    lost.power_w = 7.5;
    lost.voltage_max_v = Some(5.0);
    again.reset_ports = Some(vec![label]);
    again.delivered_power_w = None;
    again.interruption_ms = None;
    again.note =
        Some("Half an hour later, the same three plugs: C2 is offered 5 V only.".to_owned());
    Some(again)
}

fn observation(sketch: &Sketch, in_use: &[usize], how: Tried, chance: &mut Chance) -> Sharing {
    let ports = &sketch.ports;
    let label = |p: usize| ports[p].label.clone();
    let offers = offers_of(sketch, in_use, how != Tried::Few);
    let total_w: f64 = offers.iter().map(|o| o.power_w).sum();
    let attached = in_use.last().copied().filter(|_| in_use.len() > 1);
    // What was offered just before; an offer that is another one now cannot have gone on unbroken.
    let before: Vec<Offer> = attached.map_or_else(Vec::new, |new| {
        let others: Vec<usize> = in_use.iter().copied().filter(|&p| p != new).collect();
        offers_of(sketch, &others, how != Tried::Few)
    });
    let renegotiated = |p: usize| {
        let of = |all: &[Offer]| {
            all.iter()
                .find(|o| o.port == ports[p].label)
                .map(|o| (o.power_w, o.voltage_max_v))
        };
        of(&before) != of(&offers)
    };
    // Ports of another budget, or of another group of the label, notice nothing.
    let disturbed: Vec<usize> = attached.map_or_else(Vec::new, |new| {
        in_use
            .iter()
            .copied()
            .filter(|&p| {
                p != new
                    && (renegotiated(p)
                        || ports[p].share_group == ports[new].share_group
                            && budgets(sketch)
                                .iter()
                                .any(|(on, _)| on.contains(&p) && on.contains(&new)))
            })
            .collect()
    });
    let on_attach = attached.map(|_| match sketch.on_attach {
        Some(OtherPorts::Lost) if !disturbed.is_empty() => OtherPorts::Lost,
        Some(OtherPorts::Reset) if !disturbed.is_empty() => OtherPorts::Reset,
        _ if disturbed.iter().any(|&p| renegotiated(p)) => OtherPorts::Reset,
        _ => OtherPorts::Held,
    });
    // The lowest voltage that a port beside the new one was at.
    let contract_v = before
        .iter()
        .filter_map(|o| o.voltage_max_v)
        .fold(f64::INFINITY, f64::min);
    let mut seen = Sharing {
        ports_in_use: in_use.iter().map(|&p| label(p)).collect(),
        offers,
        on_attach,
        attached: attached.map(label),
        on_detach: None,
        reset_ports: None,
        interruption_ms: None,
        lowest_voltage_v: None,
        delivered_power_w: None,
        note: None,
    };
    match on_attach {
        Some(OtherPorts::Reset) => {
            seen.reset_ports = Some(disturbed.iter().map(|&p| label(p)).collect());
            seen.interruption_ms = Some((chance.between(65.0, 240.0)).round() * 10.0);
            seen.lowest_voltage_v = Some(decimals(chance.between(0.0, 0.8), 2));
            // Some chargers offer more again at once, others wait for the next plug.
            seen.on_detach = Some(if chance.says(0.6) {
                OtherPorts::Reset
            } else {
                OtherPorts::Held
            });
        }
        Some(OtherPorts::Lost) => {
            seen.reset_ports = Some(disturbed.iter().map(|&p| label(p)).collect());
            seen.lowest_voltage_v = Some(0.0);
        }
        Some(OtherPorts::Held) if chance.says(0.4) => {
            seen.on_detach = Some(OtherPorts::Held);
            // A load step on a neighbour shows on the shared rail.
            let dip = chance.between(0.968, 0.994);
            seen.lowest_voltage_v = contract_v
                .is_finite()
                .then(|| decimals(contract_v * dip, 2));
        }
        _ => {}
    }
    if in_use.len() == ports.len() && chance.says(0.75) {
        let most_w = total_w.min(sketch.output_power_w);
        seen.delivered_power_w = Some(decimals(most_w * chance.between(0.982, 0.997), 1));
    }
    seen
}

fn offers_of(sketch: &Sketch, in_use: &[usize], with_voltage: bool) -> Vec<Offer> {
    let budgets = budgets(sketch);
    in_use
        .iter()
        .map(|&p| {
            let port = &sketch.ports[p];
            let (on, budget_w) = budgets
                .iter()
                .find(|(on, _)| on.contains(&p))
                .expect("every port hangs on a budget");
            let together: Vec<&Port> = in_use
                .iter()
                .filter(|q| on.contains(q))
                .map(|&q| &sketch.ports[q])
                .collect();
            let power_w = offer_w(port, &together, *budget_w);
            Offer {
                port: port.label.clone(),
                power_w,
                voltage_max_v: with_voltage.then(|| highest_v(port, power_w)),
            }
        })
        .collect()
}

fn own_w(port: &Port) -> f64 {
    port.power_w.unwrap_or(0.0)
}

fn is_usb_c(port: &Port) -> bool {
    port.connector == Some(Connector::UsbC)
}

/// What a port is offered beside these, itself among them.
fn offer_w(port: &Port, together: &[&Port], budget_w: f64) -> f64 {
    const STEPS_W: [f64; 10] = [7.5, 15.0, 18.0, 20.0, 27.0, 30.0, 45.0, 65.0, 100.0, 140.0];
    let wanted = |usb_c: bool| -> f64 {
        together
            .iter()
            .filter(|p| is_usb_c(p) == usb_c)
            .map(|p| own_w(p))
            .sum()
    };
    let left_w = budget_w - wanted(false);
    // Alone it is offered what its label says.
    if together.len() == 1 || !is_usb_c(port) || wanted(true) <= left_w {
        return own_w(port);
    }
    let part_w = own_w(port) * left_w / wanted(true);
    STEPS_W
        .into_iter()
        .rev()
        .find(|&step| step <= part_w + 1e-9)
        .unwrap_or(7.5)
}

/// The highest fixed voltage that comes with an offer.
fn highest_v(port: &Port, power_w: f64) -> f64 {
    let own_v = port
        .modes
        .iter()
        .filter(|m| matches!(m, Mode::Fixed { .. }))
        .map(Mode::voltage_max_v)
        .fold(0.0, f64::max);
    if (power_w - own_w(port)).abs() < 0.5 || !is_usb_c(port) {
        return own_v;
    }
    let required = pd_rules().required(power_w);
    required
        .and_then(|r| r.iter().map(|x| x.0).reduce(f64::max))
        .map_or(own_v, |v| v.min(own_v))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_usb_a_port_keeps_its_power_and_the_usb_c_ports_step_down() {
        let sketch = Sketch::new("Tessawick", "T", 65.0)
            .c("C1", 65.0)
            .c("C2", 65.0)
            .a("A1", 2.4);
        let watts = |in_use: &[usize]| -> Vec<f64> {
            offers_of(&sketch, in_use, false)
                .iter()
                .map(|o| o.power_w)
                .collect()
        };
        assert_eq!(watts(&[0]), [65.0]);
        // 53 W left for one port of 65 W: the step below is 45 W. For two: 26.5 W each, so 20 W.
        assert_eq!(watts(&[0, 2]), [45.0, 12.0]);
        assert_eq!(watts(&[0, 1, 2]), [20.0, 20.0, 12.0]);
    }
}
