//! What axe-core says of a page. Serious and critical faults fail a test.

use crate::driver::Browser;
use serde_json::Value;
use std::path::PathBuf;

/// Serious and critical faults of the page as it stands, each as a readable sentence.
pub async fn faults(browser: &Browser) -> Vec<String> {
    let mut answer = look(browser).await;
    // A page that shows a log being read is replaced once it has been read, and axe-core with it:
    // then the new page is the one to look at.
    for _ in 0..5 {
        if answer.is_ok() {
            break;
        }
        answer = look(browser).await;
    }
    let found = answer.expect("axe-core answers");
    assert!(
        found["error"].is_null(),
        "axe-core failed: {}",
        found["error"]
    );
    assert!(
        found["checked"].as_u64() > Some(0),
        "axe-core checked nothing"
    );
    found["violations"]
        .as_array()
        .expect("violations are a list")
        .iter()
        .filter(|v| matches!(v["impact"].as_str(), Some("serious" | "critical")))
        .flat_map(|v| {
            let nodes = v["nodes"].as_array().cloned().unwrap_or_default();
            nodes.into_iter().take(4).map(|node| {
                format!(
                    "{} ({}): {} {}",
                    v["id"].as_str().unwrap_or_default(),
                    v["impact"].as_str().unwrap_or_default(),
                    node["html"].as_str().unwrap_or_default(),
                    first_line_of_advice(&node),
                )
            })
        })
        .collect()
}

/// What axe-core answers; an error if the page was replaced meanwhile.
async fn look(browser: &Browser) -> Result<Value, fantoccini::error::CmdError> {
    browser.client.execute(axe_source(), vec![]).await?;
    browser
        .client
        .execute_async(
            "const done = arguments[0];
             axe.run(document, {resultTypes: ['violations']})
                .then(r => done({violations: r.violations, checked: r.passes.length}))
                .catch(e => done({error: String(e)}));",
            vec![],
        )
        .await
}

fn first_line_of_advice(node: &Value) -> String {
    let advice = node["failureSummary"].as_str().unwrap_or_default();
    advice
        .lines()
        .skip(1)
        .map(str::trim)
        .collect::<Vec<_>>()
        .join("; ")
}

fn axe_source() -> &'static str {
    static SOURCE: std::sync::LazyLock<String> = std::sync::LazyLock::new(|| {
        let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
            .join("target/test-tools/node_modules/axe-core/axe.min.js");
        std::fs::read_to_string(&path).unwrap_or_else(|e| {
            panic!(
                "{}: {e}; `bash tests/all.sh` fetches axe-core",
                path.display()
            )
        })
    });
    &SOURCE
}

#[tokio::test(flavor = "multi_thread")]
async fn a_field_without_a_label_and_grey_text_on_grey_are_found() {
    let browser = Browser::start().await;
    browser
        .open(
            "data:text/html,<!doctype html><html lang=en><title>t</title><main><h1>t</h1>\
             <input name=a><p style='color:%23aaa;background:%23999'>grey</p></main></html>",
        )
        .await;
    let faults = faults(&browser).await;
    assert!(faults.iter().any(|f| f.starts_with("label")), "{faults:?}");
    assert!(
        faults.iter().any(|f| f.starts_with("color-contrast")),
        "{faults:?}"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_plain_labelled_form_has_no_fault() {
    let browser = Browser::start().await;
    browser
        .open(
            "data:text/html,<!doctype html><html lang=en><title>t</title><main><h1>t</h1>\
             <label>A <input name=a></label></main></html>",
        )
        .await;
    assert_eq!(faults(&browser).await, Vec::<String>::new());
}
