//! Invented candidates for the demonstration's queue. Their dates are fixed, after the last
//! tests of the invented records.

/// A unit that an invented tester wants to test.
#[derive(Debug, Clone, Copy)]
pub struct DemoCandidate {
    pub maker: &'static str,
    pub model: &'static str,
    /// As the queue of the desk calls it.
    pub state: &'static str,
    /// Amount and currency.
    pub price: Option<(&'static str, &'static str)>,
    /// ISO 8601 date.
    pub planned_on: Option<&'static str>,
    pub public: bool,
    pub note: &'static str,
    /// What is known of the label: path of the bench form, text.
    pub label: &'static [(&'static str, &'static str)],
}

const PLAIN: DemoCandidate = DemoCandidate {
    maker: "",
    model: "",
    state: "wanted",
    price: None,
    planned_on: None,
    public: true,
    note: "Invented.",
    label: &[],
};

/// A dozen candidates in their order.
pub const CANDIDATES: [DemoCandidate; 12] = [
    DemoCandidate {
        maker: "Larkfield",
        model: "LF-160Q",
        state: "here",
        price: Some(("89.00", "EUR")),
        planned_on: Some("2026-12-04"),
        note: "Invented. Successor of the LF-100Q; same case, says the shop.",
        label: &[
            ("unit.nameplate.output_power_w", "160"),
            ("unit.nameplate.input_voltage_min_v", "100"),
            ("unit.nameplate.input_voltage_max_v", "240"),
            ("unit.nameplate.input_current_a", "2.2"),
            ("unit.nameplate.efficiency_mark", "VI"),
            ("unit.ports[0].label", "C1"),
            ("unit.ports[0].connector", "usb-c"),
            ("unit.ports[0].power_w", "140"),
            ("unit.ports[1].label", "A1"),
            ("unit.ports[1].connector", "usb-a"),
            ("unit.ports[1].power_w", "18"),
        ],
        ..PLAIN
    },
    DemoCandidate {
        maker: "Castrelle",
        model: "CT-45 Nano",
        state: "here",
        price: Some(("34.90", "EUR")),
        planned_on: Some("2026-12-11"),
        label: &[("unit.nameplate.output_power_w", "45")],
        ..PLAIN
    },
    DemoCandidate {
        maker: "Tessawick",
        model: "TW-140CCA",
        state: "here",
        price: Some(("119.00", "EUR")),
        planned_on: Some("2026-12-18"),
        ..PLAIN
    },
    DemoCandidate {
        maker: "Pennifrost",
        model: "PF-65C",
        state: "ordered",
        price: Some(("29.50", "EUR")),
        planned_on: Some("2027-01-08"),
        ..PLAIN
    },
    DemoCandidate {
        maker: "Gildersow",
        model: "GS-100CC",
        state: "ordered",
        price: Some(("59.00", "USD")),
        planned_on: Some("2027-01-15"),
        ..PLAIN
    },
    DemoCandidate {
        maker: "Ferrowick",
        model: "FW-300 Desk",
        state: "ordered",
        price: Some(("179.00", "EUR")),
        public: false,
        note: "Invented. Lent by a reader; ask before it is announced.",
        ..PLAIN
    },
    DemoCandidate {
        maker: "Umbrefell",
        model: "UF-100CC",
        price: Some(("64.90", "EUR")),
        ..PLAIN
    },
    DemoCandidate {
        maker: "Orvendale",
        model: "OD-45C",
        ..PLAIN
    },
    DemoCandidate {
        maker: "Yarrowby",
        model: "YB-100CCA",
        price: Some(("74.00", "EUR")),
        ..PLAIN
    },
    DemoCandidate {
        maker: "Quillmere",
        model: "QM-140CCAA",
        ..PLAIN
    },
    DemoCandidate {
        maker: "Isembridge",
        model: "IB-140C",
        public: false,
        ..PLAIN
    },
    DemoCandidate {
        maker: "Wexmoor",
        model: "WX-20C",
        state: "skipped",
        price: Some(("4.99", "EUR")),
        public: false,
        note: "Invented. No longer sold.",
        ..PLAIN
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_candidate_is_in_the_collection_already() {
        let collection = crate::demo::collection();
        for one in CANDIDATES {
            assert!(
                !collection
                    .iter()
                    .any(|record| record.unit.maker == one.maker && record.unit.model == one.model),
                "{} {}",
                one.maker,
                one.model
            );
        }
    }
}
