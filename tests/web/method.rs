//! The page that says how all of it is done.

use crate::app::TestApp;

#[tokio::test]
async fn the_method_page_prints_the_formula_that_is_in_use() {
    let app = TestApp::empty().await;
    let words = app.get("/method").await.words();
    let formula = &app.site.method.formula;
    for part in [
        format!("Score, version {}", formula.version),
        "active-loss".to_owned(),
        format!("{}", formula.active_loss.weight),
        "0.48432".to_owned(),
        "ILAC-G8:09/2019".to_owned(),
        "Mains voltage is dangerous.".to_owned(),
        app.site.method.digest().to_owned(),
        "more than 1 s and up to 10 s 60 / 70 °C 71 / 81 °C 77 / 87 °C 107 / 117 °C".to_owned(),
        "over 30 to 60 V 150 V / open-circuit voltage, 100 VA after 5 s".to_owned(),
        "A port that lets go inside its rating is a failed delivery".to_owned(),
    ] {
        assert!(words.contains(&part), "{part}");
    }
    for class in &app.site.method.classes {
        assert!(words.contains(&class.label), "{}", class.label);
    }
}
