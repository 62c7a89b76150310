//! Pages of a list: which one is asked for, and links to its neighbours (RFC 8288).

use super::problem::Problem;
use crate::web::urls::Query;
use axum::http::HeaderValue;

/// Units on a page where nothing else is asked for.
pub const USUAL: usize = 50;
/// Most units on a page.
pub const MOST: usize = 200;

/// Which page of which size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Paging {
    /// From 1.
    pub page: usize,
    /// 1 to [`MOST`].
    pub per_page: usize,
}

impl Paging {
    /// Reads `page` and `per_page`; what is left are the other parameters.
    ///
    /// # Errors
    /// A value that is no number within bounds.
    pub fn split(pairs: Vec<(String, String)>) -> Result<(Paging, Vec<(String, String)>), Problem> {
        let mut paging = Paging {
            page: 1,
            per_page: USUAL,
        };
        let mut others = Vec::new();
        for (name, value) in pairs {
            let number = || value.parse::<usize>().ok();
            match name.as_str() {
                "page" => {
                    paging.page = number()
                        .filter(|page| (1..=1_000_000).contains(page))
                        .ok_or_else(|| {
                            Problem::bad_query("page", &value, "a number from 1 to 1000000")
                        })?;
                }
                "per_page" => {
                    paging.per_page = number()
                        .filter(|per_page| (1..=MOST).contains(per_page))
                        .ok_or_else(|| {
                            Problem::bad_query("per_page", &value, "a number from 1 to 200")
                        })?;
                }
                _ => others.push((name, value)),
            }
        }
        Ok((paging, others))
    }

    /// How many pages `total` units fill; 1 for none.
    pub fn pages(self, total: usize) -> usize {
        total.div_ceil(self.per_page).max(1)
    }

    /// The `Link` header: first and last page, and the neighbours that exist.
    pub fn links(self, path: &str, others: &[(String, String)], total: usize) -> HeaderValue {
        let last = self.pages(total);
        let mut links = Vec::new();
        let mut link = |page: usize, relation: &str| {
            let mut query = Query::new();
            for (name, value) in others {
                query.push(name, value);
            }
            query.push("page", &page.to_string());
            query.push("per_page", &self.per_page.to_string());
            links.push(format!("<{}>; rel=\"{relation}\"", query.on(path)));
        };
        link(1, "first");
        if self.page > 1 {
            link((self.page - 1).min(last), "prev");
        }
        if self.page < last {
            link(self.page + 1, "next");
        }
        link(last, "last");
        HeaderValue::from_str(&links.join(", "))
            .expect("a percent-encoded address is a header value")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(text: &[(&str, &str)]) -> Vec<(String, String)> {
        text.iter()
            .map(|(a, b)| ((*a).into(), (*b).into()))
            .collect()
    }

    #[test]
    fn the_middle_page_links_both_neighbours_and_keeps_the_filter() {
        let (paging, others) = Paging::split(pairs(&[
            ("class", "w 1"),
            ("page", "2"),
            ("per_page", "10"),
        ]))
        .unwrap();
        assert_eq!(
            paging.links("/api/v1/units", &others, 25).to_str().unwrap(),
            "</api/v1/units?class=w%201&page=1&per_page=10>; rel=\"first\", \
             </api/v1/units?class=w%201&page=1&per_page=10>; rel=\"prev\", \
             </api/v1/units?class=w%201&page=3&per_page=10>; rel=\"next\", \
             </api/v1/units?class=w%201&page=3&per_page=10>; rel=\"last\""
        );
    }

    #[test]
    fn an_empty_list_has_one_page_and_a_page_past_the_end_leads_back() {
        let (paging, others) = Paging::split(pairs(&[("page", "9")])).unwrap();
        assert_eq!(paging.pages(0), 1);
        let links = paging.links("/u", &others, 0);
        let links = links.to_str().unwrap();
        assert!(
            links.contains("page=1&per_page=50>; rel=\"prev\""),
            "{links}"
        );
        assert!(!links.contains("next"), "{links}");
    }

    #[test]
    fn pages_outside_the_bounds_are_refused_by_name() {
        for (name, value) in [
            ("page", "0"),
            ("page", "-1"),
            ("page", "two"),
            ("per_page", "0"),
            ("per_page", "201"),
            ("per_page", "99999999999999999999"),
        ] {
            let problem = Paging::split(pairs(&[(name, value)])).unwrap_err();
            assert!(problem.detail.contains(name) && problem.detail.contains(value));
        }
    }
}
