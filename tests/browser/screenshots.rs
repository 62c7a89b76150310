//! The pictures of the README. Run by `tests/screenshots.sh`, not with the other tests.

use crate::desk::{self, begin_record};
use crate::driver::{Browser, Scheme, Width};
use crate::pages::slugs;
use crate::server::Server;
use std::path::Path;

#[tokio::test(flavor = "multi_thread")]
#[ignore = "writes into the source tree; tests/screenshots.sh runs it"]
async fn take_the_pictures_of_the_readme() {
    let server = Server::demo();
    let browser = Browser::start().await;
    let slugs = slugs(&server).await;
    let compared: Vec<_> = slugs
        .iter()
        .take(3)
        .map(|slug| format!("unit={slug}"))
        .collect();
    browser.show_at(Width::Desk).await;
    browser.prefer(Scheme::Light).await;
    browser.open(&server.url("/")).await;
    take(&browser, "leaderboard").await;
    browser
        .open(&server.url(&format!("/unit/{}", slugs[0])))
        .await;
    take(&browser, "unit").await;
    browser.prefer(Scheme::Dark).await;
    browser
        .open(&server.url(&format!("/compare?{}&at_w=10", compared.join("&"))))
        .await;
    take(&browser, "compare").await;
    browser.prefer(Scheme::Light).await;
    desk::set_up(&browser, &server).await;
    begin_record(&browser).await;
    desk::put_in_readings(&browser).await;
    browser
        .ask("document.getElementById('f-runs').scrollIntoView()")
        .await;
    take(&browser, "draft").await;
}

async fn take(browser: &Browser, name: &str) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/screenshots");
    std::fs::create_dir_all(&folder).expect("the folder can be made");
    let picture = browser.screenshot().await;
    std::fs::write(folder.join(format!("{name}.png")), picture).expect("the picture is written");
}
