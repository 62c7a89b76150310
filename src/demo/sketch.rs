//! What somebody would sell and what is wrong with it, before physics: names, ports, label, flaws.

use super::capabilities::{Listing, pd_rules};
use crate::bench::record::{Connector, Mode, OtherPorts, Port, Recovery};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Technology {
    Silicon,
    GalliumNitride,
}

/// How the input current is shaped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Correction {
    /// Rectifier straight into a capacitor.
    None,
    /// Boost stage that rests below this input power.
    Active { off_below_w: f64 },
}

/// How much of the whole programme was done on the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Programme {
    Full,
    /// Only the highest voltage on 115 V, down to a quarter of the load, no idle reading, no
    /// temperature.
    Aborted,
}

pub(super) struct Overloaded {
    pub port: &'static str,
    /// Trip current over rated current.
    pub at: f64,
    pub recovery: Recovery,
    pub other_ports: OtherPorts,
}

/// A unit to invent. Starts ordinary; each method makes it more particular.
pub(super) struct Sketch {
    pub maker: String,
    pub model: String,
    pub sample: Option<String>,
    pub output_power_w: f64,
    pub technology: Technology,
    pub correction: Correction,
    pub ports: Vec<Port>,
    pub mark: Option<&'static str>,
    pub safety_marks: Vec<&'static str>,
    /// Loss over that of a typical unit of its technology and size.
    pub loss_factor: f64,
    /// Fixed loss (control, core, bias) over that of a typical unit.
    pub fixed_loss_factor: f64,
    /// Thermal resistance over that of a typical unit.
    pub heat_factor: f64,
    /// No-load power on 115 V and on 230 V; otherwise typical.
    pub no_load_w: Option<(f64, f64)>,
    /// A port that gives only this share of its current when 100 % is asked at the highest voltage.
    pub gives_up: Option<(&'static str, f64)>,
    /// Extra output resistance, such as a thin captive cord.
    pub extra_output_resistance_ohm: f64,
    /// The capability list of each USB PD port, where it was read.
    pub listing: Option<Listing>,
    pub instruments: bool,
    pub programme: Programme,
    /// Fixed voltages between lowest and highest that were tested too (single-port units).
    pub also_at_v: Vec<f64>,
    /// Ports that were tested alone too.
    pub also_alone: Vec<&'static str>,
    pub overloads: Vec<Overloaded>,
    pub on_attach: Option<OtherPorts>,
    pub sharing_note: Option<&'static str>,
    pub currency: &'static str,
    /// Days after 2025-11-03 on which the bench day falls.
    pub day: u16,
    pub remarks: String,
}

impl Sketch {
    pub(super) fn new(maker: &str, model: &str, output_power_w: f64) -> Sketch {
        Sketch {
            maker: maker.to_owned(),
            model: model.to_owned(),
            sample: None,
            output_power_w,
            technology: Technology::GalliumNitride,
            correction: if output_power_w > 75.0 {
                Correction::Active {
                    off_below_w: 0.12 * output_power_w,
                }
            } else {
                Correction::None
            },
            ports: Vec::new(),
            mark: Some("VI"),
            safety_marks: vec!["CE"],
            loss_factor: 1.0,
            fixed_loss_factor: 1.0,
            heat_factor: 1.0,
            no_load_w: None,
            gives_up: None,
            extra_output_resistance_ohm: 0.0,
            listing: None,
            instruments: true,
            programme: Programme::Full,
            also_at_v: Vec::new(),
            also_alone: Vec::new(),
            overloads: Vec::new(),
            on_attach: None,
            sharing_note: None,
            currency: "EUR",
            day: 0,
            remarks: String::new(),
        }
    }

    pub(super) fn sample(mut self, sample: &str) -> Sketch {
        self.sample = Some(sample.to_owned());
        self
    }

    pub(super) fn silicon(mut self) -> Sketch {
        self.technology = Technology::Silicon;
        self
    }

    pub(super) fn uncorrected(mut self) -> Sketch {
        self.correction = Correction::None;
        self
    }

    /// Adds a USB-C port with the voltages that a USB PD source of this power must offer.
    pub(super) fn c(mut self, label: &str, power_w: f64) -> Sketch {
        self.ports.push(usb_c(label, power_w));
        self
    }

    /// As [`Sketch::c`], with a programmable range to the port's highest voltage class.
    pub(super) fn c_pps(mut self, label: &str, power_w: f64) -> Sketch {
        let mut port = usb_c(label, power_w);
        port.modes.extend(programmable(power_w));
        self.ports.push(port);
        self
    }

    /// Adds a USB-A port that gives 5 V only.
    pub(super) fn a(mut self, label: &str, current_a: f64) -> Sketch {
        self.ports.push(Port {
            label: label.to_owned(),
            connector: Some(Connector::UsbA),
            power_w: Some(5.0 * current_a),
            share_group: None,
            source_capabilities: Vec::new(),
            modes: vec![Mode::Fixed {
                voltage_v: 5.0,
                current_a,
            }],
        });
        self
    }

    /// Adds an 18 W USB-A port that steps to 9 V and 12 V.
    pub(super) fn a_stepping(mut self, label: &str) -> Sketch {
        let steps = [(5.0, 3.0), (9.0, 2.0), (12.0, 1.5)];
        self.ports.push(Port {
            label: label.to_owned(),
            connector: Some(Connector::UsbA),
            power_w: Some(18.0),
            share_group: None,
            source_capabilities: Vec::new(),
            modes: steps
                .map(|(voltage_v, current_a)| Mode::Fixed {
                    voltage_v,
                    current_a,
                })
                .to_vec(),
        });
        self
    }

    /// Puts these ports into one share group.
    pub(super) fn shared(mut self, group: &str, labels: &[&str]) -> Sketch {
        for port in self
            .ports
            .iter_mut()
            .filter(|p| labels.contains(&p.label.as_str()))
        {
            port.share_group = Some(group.to_owned());
        }
        self
    }

    pub(super) fn mark(mut self, mark: Option<&'static str>) -> Sketch {
        self.mark = mark;
        self
    }

    pub(super) fn safety(mut self, marks: &[&'static str]) -> Sketch {
        self.safety_marks = marks.to_vec();
        self
    }

    pub(super) fn loss(mut self, factor: f64) -> Sketch {
        self.loss_factor = factor;
        self
    }

    pub(super) fn fixed_loss(mut self, factor: f64) -> Sketch {
        self.fixed_loss_factor = factor;
        self
    }

    pub(super) fn heat(mut self, factor: f64) -> Sketch {
        self.heat_factor = factor;
        self
    }

    pub(super) fn no_load(mut self, on_115_v_w: f64, on_230_v_w: f64) -> Sketch {
        self.no_load_w = Some((on_115_v_w, on_230_v_w));
        self
    }

    pub(super) fn gives_up(mut self, port: &'static str, at: f64) -> Sketch {
        self.gives_up = Some((port, at));
        self
    }

    pub(super) fn output_resistance(mut self, extra_ohm: f64) -> Sketch {
        self.extra_output_resistance_ohm = extra_ohm;
        self
    }

    /// Capability lists were read, and hold the label's modes.
    pub(super) fn words(self) -> Sketch {
        self.listing(Listing::AsLabelled)
    }

    /// Capability lists were read, and hold this.
    pub(super) fn listing(mut self, listing: Listing) -> Sketch {
        self.listing = Some(listing);
        self
    }

    pub(super) fn without_instruments(mut self) -> Sketch {
        self.instruments = false;
        self
    }

    pub(super) fn aborted(mut self) -> Sketch {
        self.programme = Programme::Aborted;
        self
    }

    /// Takes a fixed voltage off every port.
    pub(super) fn lacking(mut self, voltage_v: f64) -> Sketch {
        for port in &mut self.ports {
            port.modes.retain(
                |m| !matches!(m, Mode::Fixed { voltage_v: v, .. } if (v - voltage_v).abs() < 0.01),
            );
        }
        self
    }

    pub(super) fn also_at(mut self, voltages_v: &[f64]) -> Sketch {
        self.also_at_v = voltages_v.to_vec();
        self
    }

    pub(super) fn also_alone(mut self, ports: &[&'static str]) -> Sketch {
        self.also_alone = ports.to_vec();
        self
    }

    pub(super) fn overload(
        mut self,
        port: &'static str,
        at: f64,
        recovery: Recovery,
        other_ports: OtherPorts,
    ) -> Sketch {
        self.overloads.push(Overloaded {
            port,
            at,
            recovery,
            other_ports,
        });
        self
    }

    pub(super) fn on_attach(mut self, others: OtherPorts, note: Option<&'static str>) -> Sketch {
        self.on_attach = Some(others);
        self.sharing_note = note;
        self
    }

    pub(super) fn priced_in(mut self, currency: &'static str) -> Sketch {
        self.currency = currency;
        self
    }

    /// The bench day, days after 2025-11-03.
    pub(super) fn day(mut self, day: u16) -> Sketch {
        self.day = day;
        self
    }

    pub(super) fn remarks(mut self, markdown: &str) -> Sketch {
        self.remarks = markdown.to_owned();
        self
    }
}

fn usb_c(label: &str, power_w: f64) -> Port {
    Port {
        label: label.to_owned(),
        connector: Some(Connector::UsbC),
        power_w: Some(power_w),
        share_group: None,
        source_capabilities: Vec::new(),
        modes: fixed_modes(power_w),
    }
}

/// The fixed voltages that the source power rules ask of this power, currents to 10 mA; a 45 W
/// port offers 20 V as well, as most do, and an extended range port its adjustable supply.
fn fixed_modes(power_w: f64) -> Vec<Mode> {
    let mut modes: Vec<Mode> = pd_rules()
        .required(power_w)
        .unwrap_or_else(|| vec![(5.0, power_w / 5.0)])
        .into_iter()
        .map(|(voltage_v, current_a)| Mode::Fixed {
            voltage_v,
            current_a: (current_a * 100.0).round() / 100.0,
        })
        .collect();
    if (power_w - 45.0).abs() < 0.5 {
        modes.push(Mode::Fixed {
            voltage_v: 20.0,
            current_a: 2.25,
        });
    }
    if power_w > 100.0 {
        let voltage_max_v = modes.iter().map(Mode::voltage_max_v).fold(0.0, f64::max);
        modes.push(Mode::Avs {
            voltage_min_v: 15.0,
            voltage_max_v,
            current_a: 5.0,
        });
    }
    modes
}

/// The programmable range that goes with a port's power.
fn programmable(power_w: f64) -> Option<Mode> {
    let (nominal, voltage_max_v) = match power_w {
        w if w < 18.0 => return None,
        w if w <= 27.0 => (9.0, 11.0),
        w if w <= 45.0 => (15.0, 16.0),
        _ => (20.0, 21.0),
    };
    let current_a = ((power_w / nominal).min(5.0) * 20.0).floor() / 20.0;
    Some(Mode::Pps {
        voltage_min_v: 5.0,
        voltage_max_v,
        current_a,
    })
}
