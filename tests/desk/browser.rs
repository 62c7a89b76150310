//! A browser without script: it keeps cookies, reads forms as they stand on a page, and sends them
//! with the button that is pressed.

use crate::app::{Answer, TestApp};
use axum::{
    body::Body,
    http::{Request, StatusCode, header},
};
use std::collections::BTreeMap;

pub const PASSWORD: &str = "a rather long password";

pub struct Browser<'a> {
    pub app: &'a TestApp,
    pub cookies: BTreeMap<String, String>,
    /// Where it is, as a proxy that the site trusts would say.
    pub address: Option<&'static str>,
}

/// A form as it stands on a page: where it goes, and its fields in order.
#[derive(Debug, Clone)]
pub struct PageForm {
    pub action: String,
    pub fields: Vec<(String, String)>,
}

impl PageForm {
    pub fn set(mut self, name: &str, value: &str) -> PageForm {
        match self.fields.iter_mut().find(|(known, _)| known == name) {
            Some((_, old)) => *old = value.to_owned(),
            None => panic!("there is no field {name} on this form"),
        }
        self
    }

    /// Chooses a radio button or box of this value, which must be on the page `html`.
    pub fn choose(mut self, html: &str, name: &str, value: &str) -> PageForm {
        let wanted = format!("name=\"{name}\" value=\"{value}\"");
        assert!(html.contains(&wanted), "there is no choice {wanted}");
        self.fields.push((name.to_owned(), value.to_owned()));
        self
    }

    pub fn value(&self, name: &str) -> &str {
        self.fields
            .iter()
            .find(|(known, _)| known == name)
            .map_or("", |(_, value)| value)
    }
}

impl<'a> Browser<'a> {
    pub fn new(app: &'a TestApp) -> Browser<'a> {
        Browser {
            app,
            cookies: BTreeMap::new(),
            address: None,
        }
    }

    /// A browser whose operator has just been made by the set-up.
    pub async fn set_up(app: &'a TestApp) -> Browser<'a> {
        let mut browser = Browser::new(app);
        let secret = app
            .site
            .auth
            .set_up_secret()
            .expect("nobody is operator yet")
            .to_owned();
        let page = browser.get("/set-up").await;
        let form = form(&page, "/set-up")
            .set("secret", &secret)
            .set("name", "Ada")
            .set("password", PASSWORD)
            .set("again", PASSWORD);
        let answer = browser.send(&form, None).await;
        assert_eq!(
            (answer.status, answer.header("location")),
            (StatusCode::SEE_OTHER, "/desk")
        );
        browser
    }

    pub async fn sign_in(&mut self, name: &str, password: &str) -> Answer {
        let page = self.get("/sign-in").await;
        let form = form(&page, "/sign-in")
            .set("name", name)
            .set("password", password);
        self.send(&form, None).await
    }

    pub async fn get(&mut self, path: &str) -> Answer {
        let request = Request::get(path)
            .body(Body::empty())
            .expect("a valid request");
        self.ask(request).await
    }

    /// Sends a form, with the button that was pressed.
    pub async fn send(&mut self, form: &PageForm, button: Option<&str>) -> Answer {
        let mut fields = form.fields.clone();
        if let Some(value) = button {
            fields.push(("action".to_owned(), value.to_owned()));
        }
        self.post(&form.action, &fields, &[]).await
    }

    pub async fn post(
        &mut self,
        path: &str,
        fields: &[(String, String)],
        headers: &[(&str, &str)],
    ) -> Answer {
        let mut query = brickbook::web::urls::Query::new();
        for (name, value) in fields {
            query.push(name, value);
        }
        let mut request =
            Request::post(path).header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        self.ask(
            request
                .body(Body::from(query.as_str().to_owned()))
                .expect("a valid request"),
        )
        .await
    }

    /// Sends JSON, as a script of a page does.
    pub async fn post_json(&mut self, path: &str, body: &serde_json::Value) -> Answer {
        let request = Request::post(path)
            .header(header::CONTENT_TYPE, "application/json")
            .body(Body::from(body.to_string()))
            .expect("a valid request");
        self.ask(request).await
    }

    async fn ask(&mut self, mut request: Request<Body>) -> Answer {
        let headers = request.headers_mut();
        headers.insert(header::HOST, "bench.example".parse().unwrap());
        if let Some(address) = self.address {
            headers.insert("x-forwarded-for", address.parse().unwrap());
        }
        if !self.cookies.is_empty() {
            let cookies: Vec<String> = self
                .cookies
                .iter()
                .map(|(name, value)| format!("{name}={value}"))
                .collect();
            headers.insert(header::COOKIE, cookies.join("; ").parse().unwrap());
        }
        let answer = self.app.ask(request).await;
        for cookie in answer.headers.get_all(header::SET_COOKIE) {
            let text = cookie.to_str().unwrap();
            let (name, value) = text.split(';').next().unwrap().split_once('=').unwrap();
            if value.is_empty() {
                self.cookies.remove(name);
            } else {
                self.cookies.insert(name.to_owned(), value.to_owned());
            }
        }
        answer
    }

    /// Begins a record and gives the path of its draft.
    pub async fn new_draft(&mut self) -> String {
        let desk = self.get("/desk").await;
        let begun = self.send(&form(&desk, "/desk/draft"), None).await;
        assert_eq!(begun.status, StatusCode::SEE_OTHER);
        begun
            .header("location")
            .split('?')
            .next()
            .unwrap()
            .to_owned()
    }

    /// Begins a revision of a published unit.
    pub async fn revise(&mut self, slug: &str) -> String {
        let page = self.get(&format!("/desk/unit/{slug}")).await;
        let begun = self
            .send(&form(&page, &format!("/desk/unit/{slug}")), None)
            .await;
        assert_eq!(begun.status, StatusCode::SEE_OTHER);
        begun.header("location").to_owned()
    }

    /// The bench form of a draft as it stands on its page.
    pub async fn bench_form(&mut self, draft: &str) -> PageForm {
        form(&self.get(draft).await, draft)
    }
}

/// The form of a page that goes to `action`, with what a browser would send of it.
pub fn form(page: &Answer, action: &str) -> PageForm {
    assert_eq!(page.status, StatusCode::OK, "{}", page.words());
    form_in(&page.text(), action)
}

pub fn form_in(html: &str, action: &str) -> PageForm {
    let start = html
        .match_indices("<form")
        .map(|(at, _)| at)
        .find(|at| {
            let tag = &html[*at..*at + html[*at..].find('>').unwrap()];
            attribute(tag, "action").as_deref() == Some(action) && tag.contains("post")
        })
        .unwrap_or_else(|| panic!("no form goes to {action}"));
    let html = &html[start..start + html[start..].find("</form>").unwrap()];
    let mut fields = Vec::new();
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        rest = &rest[at..];
        let end = rest.find('>').unwrap();
        let tag = &rest[..end];
        let name = attribute(tag, "name");
        let unchosen = matches!(
            attribute(tag, "type").as_deref(),
            Some("radio" | "checkbox")
        ) && !tag.contains(" checked");
        if tag.starts_with("<input") && unchosen {
            // Not sent.
        } else if tag.starts_with("<input") {
            fields.push((
                name.expect("every input has a name"),
                attribute(tag, "value").unwrap_or_default(),
            ));
        } else if tag.starts_with("<select") {
            let options = &rest[..rest.find("</select>").unwrap()];
            let chosen = options
                .split("<option")
                .find(|option| option.contains(" selected"));
            fields.push((
                name.unwrap(),
                chosen
                    .and_then(|option| attribute(option, "value"))
                    .unwrap_or_default(),
            ));
        } else if tag.starts_with("<textarea") {
            let text = &rest[end + 1..rest.find("</textarea>").unwrap()];
            // A browser drops the line end right after the tag and sends the others as CRLF.
            let text = decoded(text.strip_prefix('\n').unwrap_or(text)).replace('\n', "\r\n");
            fields.push((name.unwrap(), text));
        }
        rest = &rest[end..];
    }
    PageForm {
        action: action.to_owned(),
        fields,
    }
}

fn attribute(tag: &str, name: &str) -> Option<String> {
    let start = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    let value = &tag[start..];
    Some(decoded(&value[..value.find('"')?]))
}

fn decoded(text: &str) -> String {
    text.replace("&#60;", "<")
        .replace("&#62;", ">")
        .replace("&#34;", "\"")
        .replace("&#39;", "'")
        .replace("&#38;", "&")
}
