//! The frame around every page: title, navigation, banner, metadata for search engines and for
//! links pasted elsewhere.

use super::urls;
use crate::text::{Language, word};

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
    /// The language that the page is written in.
    pub language: Language,
    /// All languages that this site speaks.
    pub languages: Vec<Language>,
    /// Path and query as asked for.
    pub target: String,
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
    pub url: String,
    pub current: bool,
}

/// The page in one language.
pub struct Translation {
    pub language: Language,
    pub path: String,
    pub current: bool,
}

impl Chrome {
    pub fn describe(mut self, sentence: impl Into<String>) -> Chrome {
        self.description = Some(sentence.into());
        self
    }

    /// The page's one address, in whatever language it is given.
    pub fn canonical(mut self, path: impl AsRef<str>) -> Chrome {
        self.canonical = Some(urls::in_language(path.as_ref(), self.language));
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
        let entry = |label, url: &str, here| Entry {
            label,
            url: url.to_owned(),
            current: self.here == here,
        };
        let page = |label, path, here| entry(label, &urls::page(path), here);
        let mut all = vec![
            page(word("nav-ranking"), urls::HOME, Here::Ranking),
            page(word("nav-choose"), urls::USE, Here::Choose),
            page(word("nav-compare"), urls::COMPARE, Here::Compare),
            page(word("nav-rules"), urls::REGIMES, Here::Regimes),
            page(word("nav-method"), urls::METHOD, Here::Method),
            page(word("nav-coming"), urls::COMING, Here::Coming),
        ];
        if self.signed_in {
            all.push(entry(word("nav-desk"), urls::DESK, Here::Desk));
        } else if !self.as_files {
            all.push(entry(word("nav-sign-in"), urls::SIGN_IN, Here::Desk));
        }
        all
    }

    /// This very page in every language, where there are several: as it was asked for.
    pub fn translations(&self) -> Vec<Translation> {
        // The one file for addresses that are not there has none of its own.
        if self.as_files && !self.indexed {
            return Vec::new();
        }
        self.in_every_language(&self.target)
    }

    /// The page's one address in every language, where there are several.
    pub fn alternates(&self) -> Vec<Translation> {
        let canonical = self.canonical.as_deref();
        canonical.map_or(Vec::new(), |path| self.in_every_language(path))
    }

    fn in_every_language(&self, address: &str) -> Vec<Translation> {
        let (_, plain) = urls::language_of(address);
        if self.languages.len() < 2 || !urls::has_languages(plain) {
            return Vec::new();
        }
        let languages = self.languages.iter();
        languages
            .map(|language| Translation {
                language: *language,
                path: urls::in_language(plain, *language),
                current: *language == self.language,
            })
            .collect()
    }

    pub fn absolute(&self, path: &str) -> String {
        format!("{}{path}", self.origin)
    }
}
