//! Photos by the API: uploaded, named by a record, and public from then on.

use crate::served::{Api, TOKEN, body, problem, record};
use brickbook::photo;
use serde_json::{Value, json};

/// A plain picture, as the program itself would keep it.
fn picture() -> Vec<u8> {
    photo::drawn(300, 200, vec![90; 300 * 200 * 3]).jpeg
}

async fn send(api: &Api, query: &str, bytes: Vec<u8>) -> reqwest::Response {
    api.ask("POST", &format!("/photos{query}"))
        .bearer_auth(TOKEN)
        .body(bytes)
        .send()
        .await
        .unwrap()
}

#[tokio::test]
async fn a_photo_is_uploaded_named_by_a_record_and_then_public() {
    let api = Api::start().await;
    let answer = send(&api, "?name=front.jpg", picture()).await;
    assert_eq!(answer.status(), 201);
    let kept = body(answer).await;
    assert_eq!(
        kept["sha256"],
        photo::sha256(&picture()),
        "it stays as it is"
    );
    assert_eq!(
        (&kept["width_px"], &kept["height_px"]),
        (&json!(300), &json!(200))
    );
    let again = send(&api, "?name=again.jpg", picture()).await;
    assert_eq!(again.status(), 200);
    assert_eq!(body(again).await["sha256"], kept["sha256"]);

    let mut record = record("Larkfield", "LF-65", 65.0);
    record["photos"] = json!([{
        "sha256": kept["sha256"], "width_px": 300, "height_px": 200, "caption": "Front"
    }]);
    let published: Value = body(api.publish(&record.to_string()).await).await;
    assert_eq!(published["change"], "published", "{published:#}");
    assert_eq!(published["missing_photos"], json!([]));
    let page = published["links"]["page"].as_str().unwrap();
    let sha256 = kept["sha256"].as_str().unwrap();
    let shown = api.follow(&format!("{page}/photo/{sha256}.jpg"));
    let shown = shown.send().await.unwrap();
    assert_eq!(shown.status(), 200);
    assert_eq!(shown.bytes().await.unwrap(), picture());
}

#[tokio::test]
async fn a_record_whose_photo_is_not_at_hand_is_published_and_the_answer_names_the_photo() {
    let api = Api::start().await;
    let mut record = record("Larkfield", "LF-65", 65.0);
    let sha256 = photo::sha256(&picture());
    record["photos"] = json!([{"sha256": sha256, "width_px": 300, "height_px": 200}]);
    let published: Value = body(api.publish(&record.to_string()).await).await;
    assert_eq!(published["missing_photos"], json!([sha256]));
}

#[tokio::test]
async fn what_is_no_photo_is_refused_in_words_and_nothing_is_kept() {
    let api = Api::start().await;
    let refused = problem(send(&api, "?name=a.gif", b"GIF89a".to_vec()).await, 422).await;
    let detail = refused["detail"].as_str().unwrap();
    assert!(
        detail.contains("a GIF; expected a JPEG, PNG or WebP"),
        "{detail}"
    );
    let large = send(&api, "?name=a.jpg", vec![0; 20_000_001]).await;
    let refused = problem(large, 413).await;
    assert!(refused["detail"].as_str().unwrap().contains("20 MB"));
    for query in ["", "?name=", "?name=a%2Fb.jpg"] {
        problem(send(&api, query, picture()).await, 400).await;
    }
    let unnamed = api.ask("POST", "/photos?name=a.jpg").body(picture());
    problem(unnamed.send().await.unwrap(), 401).await;
}
