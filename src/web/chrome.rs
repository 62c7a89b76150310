//! The frame around every page: title, navigation, banner, metadata for search engines and for
//! links pasted elsewhere.

use super::urls;

/// What `base.html` needs. Made by [`super::extract::Visit::chrome`].
#[derive(Debug, Clone)]
pub struct Chrome {
    /// Name of the site.
    pub site_name: String,
    /// Without the site's name, which the template adds.
    pub title: String,
    /// One sentence about the page, for search results and pasted links.
    pub description: Option<String>,
    /// The page's own address, from the root; the one under which it should be known.
    pub canonical: Option<String>,
    /// Address of a preview picture (PNG, 1200 by 630), from the root.
    pub image: Option<String>,
    /// May search engines list it?
    pub indexed: bool,
    /// Which entry of the navigation is the present one.
    pub here: Here,
    /// Shows "Desk" in place of "Sign in".
    pub signed_in: bool,
    /// Name of the signed-in operator, where the page knows it (pages of the desk).
    pub operator: Option<String>,
    /// Token for the sign-out form, where the page knows the session.
    pub csrf: Option<String>,
    /// Shows that all data is invented.
    pub demo: bool,
    /// No program answers: nobody can sign in.
    pub as_files: bool,
    /// Files in `static/` besides `site.css`, each loaded deferred.
    pub scripts: Vec<&'static str>,
    pub styles: Vec<&'static str>,
    /// Scheme and host of this site.
    pub origin: String,
    /// What the page is about, for machines: JSON-LD that cannot end its element.
    pub structured_data: Option<String>,
}

/// The entries of the navigation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Here {
    Ranking,
    Choose,
    Compare,
    Regimes,
    Method,
    Coming,
    Desk,
    Elsewhere,
}

/// One entry of the navigation, ready to show.
pub struct Entry {
    pub label: &'static str,
    pub url: &'static str,
    pub current: bool,
}

impl Chrome {
    pub fn describe(mut self, sentence: impl Into<String>) -> Chrome {
        self.description = Some(sentence.into());
        self
    }

    pub fn canonical(mut self, path: impl Into<String>) -> Chrome {
        self.canonical = Some(path.into());
        self
    }

    pub fn image(mut self, path: impl Into<String>) -> Chrome {
        let path = path.into();
        self.image = Some(if self.as_files {
            urls::preview_file(&path)
        } else {
            path
        });
        self
    }

    /// On a page that these scripts, after the first, work out where no program answers.
    pub fn works_as_files(mut self, scripts: &[&'static str]) -> Chrome {
        if self.as_files {
            self.scripts.push("as_files.js");
            self.scripts.extend(scripts);
        }
        self
    }

    /// Does the page need the data that filters and comparisons work from?
    pub fn needs_data(&self) -> bool {
        self.scripts.contains(&"as_files.js")
    }

    /// Says what the page is about in the words of schema.org.
    pub fn about(mut self, thing: &serde_json::Value) -> Chrome {
        self.structured_data = Some(super::structured_data::script_text(thing));
        self
    }

    pub fn here(mut self, here: Here) -> Chrome {
        self.here = here;
        self
    }

    pub fn not_indexed(mut self) -> Chrome {
        self.indexed = false;
        self
    }

    pub fn script(mut self, file: &'static str) -> Chrome {
        self.scripts.push(file);
        self
    }

    pub fn style(mut self, file: &'static str) -> Chrome {
        self.styles.push(file);
        self
    }

    /// On a page that knows its operator.
    pub fn operator(mut self, name: impl Into<String>, csrf: impl Into<String>) -> Chrome {
        self.operator = Some(name.into());
        self.csrf = Some(csrf.into());
        self.signed_in = true;
        self
    }

    pub fn navigation(&self) -> Vec<Entry> {
        let entry = |label, url, here| Entry {
            label,
            url,
            current: self.here == here,
        };
        let mut all = vec![
            entry("Ranking", urls::HOME, Here::Ranking),
            entry("Choose", urls::USE, Here::Choose),
            entry("Compare", urls::COMPARE, Here::Compare),
            entry("Rules", urls::REGIMES, Here::Regimes),
            entry("Method", urls::METHOD, Here::Method),
            entry("Coming", urls::COMING, Here::Coming),
        ];
        if self.signed_in {
            all.push(entry("Desk", urls::DESK, Here::Desk));
        } else if !self.as_files {
            all.push(entry("Sign in", urls::SIGN_IN, Here::Desk));
        }
        all
    }

    pub fn absolute(&self, path: &str) -> String {
        format!("{}{path}", self.origin)
    }
}
