//! A year's energy of the shipped use profiles against worked values.

use brickbook::evaluate::evaluation::LossModel;
use brickbook::evaluate::loss_model::LossCurve;
use brickbook::evaluate::yearly_energy::yearly_loss;
use brickbook::quantity::Measured;
use brickbook::standards::usage::profiles;

/// A unit whose efficiency at `at_w` is `efficiency`.
fn unit(efficiency: f64, at_w: f64) -> LossCurve {
    LossCurve {
        model: LossModel {
            a_w: at_w * (1.0 / efficiency - 1.0),
            b_v: 0.0,
            c_ohm: 0.0,
            rms_residual_w: 0.0,
            peak_efficiency: efficiency,
            peak_at_w: at_w,
            effective_voltage_v: 10.0,
            valid_to_w: at_w,
        },
        known_u: Vec::new(),
    }
}

/// Source: hours and charges of 10 CFR 430 Subpart B Appendix Y, Table 3.3.3 (from memory), worked
/// as energy per charge x (1 / efficiency - 1) x charges a day x 365, and no-load power x hours a
/// day x 365. By hand for class 2: 18 Wh x 0.176471 x 0.54 x 365 = 626.08 Wh; 0.05 W x 5.29 h x 365
/// = 96.543 Wh.
#[test]
fn worked_charging_years_come_out() {
    let worked = [
        ("us-charger-class-2", 0.85, 10.0, 0.05, 0.62608, 0.096543),
        ("us-charger-class-4", 0.90, 35.0, 0.06, 1.41944, 0.019929),
    ];
    for (id, efficiency, at_w, no_load_w, charging_kwh, no_load_kwh) in worked {
        let profile = profiles().into_iter().find(|p| p.id == id).unwrap();
        let no_load = Measured::new(no_load_w, None);
        let year = yearly_loss(Some(&unit(efficiency, at_w)), Some(no_load), &profile).unwrap();
        assert!((year.loaded.value - charging_kwh).abs() < 5e-6, "{id}");
        assert!((year.no_load.value - no_load_kwh).abs() < 1e-6, "{id}");
        assert_eq!(year.total.u, None, "an unknown uncertainty is not zero");
    }
}
