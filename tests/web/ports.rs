//! Ports and how they share, on a unit's page and in a comparison.

use crate::app::TestApp;

/// The document behind a unit's page.
async fn evaluation(app: &TestApp, slug: &str) -> serde_json::Value {
    let answer = app.get(&format!("/unit/{slug}/evaluation.json")).await;
    serde_json::from_slice(&answer.bytes).unwrap()
}

#[tokio::test]
async fn a_page_shows_every_port_with_its_findings_sources_and_raw_objects() {
    let app = TestApp::seeded(&["umbrefell-uf-140cc"]).await;
    let answer = app.get("/unit/umbrefell-uf-140cc").await;
    let words = answer.words();
    let known = evaluation(&app, "umbrefell-uf-140cc").await;
    let ports = known["ports"].as_array().unwrap();
    assert_eq!(ports.len(), 2);
    for port in ports {
        let label = port["port"].as_str().unwrap();
        assert!(words.contains(&format!(
            "Voltages of port {label}: asked for, claimed, advertised, measured"
        )));
        for finding in port["findings"].as_array().unwrap() {
            assert!(
                words.contains(finding["message"].as_str().unwrap()),
                "{finding}"
            );
            assert!(
                words.contains(finding["source"].as_str().unwrap()),
                "{finding}"
            );
        }
        for object in port["advertised"].as_array().unwrap() {
            assert!(words.contains(object["word"].as_str().unwrap()), "{object}");
        }
        assert!(words.contains(port["cable"]["name"].as_str().unwrap()));
    }
    assert!(words.contains("EPR AVS 15–28 V"));
    assert!(
        words.contains("19:10 voltage 0110010000 20 V"),
        "an object bit by bit"
    );
    assert_eq!(
        words.matches("offers what a 140 W source must").count(),
        1,
        "said by its port and not by the label once more"
    );
}

#[tokio::test]
async fn the_matrix_has_a_row_for_every_combination_and_what_contradicts_is_flagged() {
    let app = TestApp::seeded(&[
        "tessawick-tw-65cca",
        "yarrowby-yb-140cca",
        "larkfield-lf-20c",
    ])
    .await;
    for (slug, settled) in [("tessawick-tw-65cca", true), ("yarrowby-yb-140cca", false)] {
        let words = app.get(&format!("/unit/{slug}")).await.words();
        let known = evaluation(&app, slug).await;
        let sharing = &known["sharing"];
        assert_eq!(sharing["settled"], settled);
        assert!(words.contains(sharing["statement"].as_str().unwrap()));
        assert_eq!(words.contains("? not settled"), !settled);
        for (i, combination) in sharing["combinations"]
            .as_array()
            .unwrap()
            .iter()
            .enumerate()
        {
            let names: Vec<&str> = combination["ports"]
                .as_array()
                .unwrap()
                .iter()
                .map(|p| p.as_str().unwrap())
                .collect();
            let row = format!("{} observation {}", names.join(" + "), i + 1);
            assert!(words.contains(&row), "{row}");
        }
        for contradiction in sharing["contradictions"].as_array().into_iter().flatten() {
            assert!(words.contains(contradiction["message"].as_str().unwrap()));
        }
    }
    let alone = app.get("/unit/larkfield-lf-20c").await;
    assert!(!alone.words().contains("Sharing between ports"));
    assert!(!alone.text().contains("href=\"#sharing\""));
}

#[tokio::test]
async fn a_comparison_has_lines_about_ports_only_where_one_of_the_units_has_something_to_say() {
    let app = TestApp::seeded(&[
        "tessawick-tw-65cca",
        "larkfield-lf-20c",
        "castrelle-ct-100-nano",
    ])
    .await;
    let words = app
        .get("/compare?unit=tessawick-tw-65cca&unit=larkfield-lf-20c")
        .await
        .words();
    let statement = evaluation(&app, "tessawick-tw-65cca").await["sharing"]["statement"].clone();
    for part in [
        "Ports 2 × USB-C, 1 × USB-A 1 × USB-C",
        "Largest voltage offered 20 V 9 V",
        "Programmable supply (PPS) no",
        "All ports together",
        statement.as_str().unwrap(),
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
    let words = app
        .get("/compare?unit=castrelle-ct-100-nano&unit=larkfield-lf-20c")
        .await
        .words();
    assert!(!words.contains("All ports together") && !words.contains("Ports that share"));
}
