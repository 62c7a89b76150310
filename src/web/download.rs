//! Tables as files: CSV (RFC 4180) and JSON, with units of measurement in the header.
//!
//! CSV has no comments. What a table is, where it comes from and under which terms it may be used
//! therefore stands in columns of its own, in every row: a row that is copied elsewhere keeps it,
//! and any reader of CSV reads the file.

use super::{cache::Storable, extract::Visit};
use axum::{
    http::{HeaderName, HeaderValue, header},
    response::{IntoResponse, Response},
};
use serde_json::{Map, Value, json};

/// One value of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    Text(String),
    Number(f64),
    Flag(bool),
    /// Not measured or not known: an empty field, null in JSON.
    Unknown,
}

impl From<Option<f64>> for Cell {
    fn from(value: Option<f64>) -> Cell {
        value
            .filter(|v| v.is_finite())
            .map_or(Cell::Unknown, Cell::Number)
    }
}

impl From<f64> for Cell {
    fn from(value: f64) -> Cell {
        Cell::from(Some(value))
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Cell {
        Cell::Text(text.to_owned())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Cell {
        Cell::Text(text)
    }
}

impl From<Option<String>> for Cell {
    fn from(text: Option<String>) -> Cell {
        text.map_or(Cell::Unknown, Cell::Text)
    }
}

impl From<bool> for Cell {
    fn from(flag: bool) -> Cell {
        Cell::Flag(flag)
    }
}

/// A column: its name in the file and its unit, empty for text and bare numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    pub name: &'static str,
    pub unit: String,
}

/// A table that can be downloaded.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    pub title: String,
    /// Name of the file without its ending.
    pub file: &'static str,
    /// Address of the page with the same table, from the root.
    pub page: String,
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<Cell>>,
}

impl Table {
    pub fn new(title: impl Into<String>, file: &'static str, page: String) -> Table {
        Table {
            title: title.into(),
            file,
            page,
            columns: Vec::new(),
            rows: Vec::new(),
        }
    }

    /// Adds columns of (name, unit).
    pub fn with(mut self, columns: &[(&'static str, &str)]) -> Table {
        self.columns
            .extend(columns.iter().map(|(name, unit)| Column {
                name,
                unit: (*unit).to_owned(),
            }));
        self
    }

    /// As CSV: a header `name [unit]`, CRLF at the end of each line.
    pub fn csv(&self, visit: &Visit) -> String {
        let licence = visit.site.config.licence.as_deref();
        let source = visit.absolute(&self.page);
        let about = |name| {
            [Some(name), licence.map(|_| "licence")]
                .into_iter()
                .flatten()
        };
        let mut out = String::new();
        let header = self
            .columns
            .iter()
            .map(|column| match column.unit.as_str() {
                "" => column.name.to_owned(),
                unit => format!("{} [{unit}]", column.name),
            });
        line(&mut out, header.chain(about("source").map(str::to_owned)));
        for row in &self.rows {
            let cells = row.iter().map(|cell| match cell {
                Cell::Text(text) => text.clone(),
                Cell::Number(number) => number.to_string(),
                Cell::Flag(flag) => if *flag { "yes" } else { "no" }.to_owned(),
                Cell::Unknown => String::new(),
            });
            let about = [Some(source.clone()), licence.map(str::to_owned)];
            line(&mut out, cells.chain(about.into_iter().flatten()));
        }
        out
    }

    pub fn json(&self, visit: &Visit) -> Value {
        let value = |cell: &Cell| match cell {
            Cell::Text(text) => json!(text),
            Cell::Number(number) => json!(number),
            Cell::Flag(flag) => json!(flag),
            Cell::Unknown => Value::Null,
        };
        let rows: Vec<Map<String, Value>> = self
            .rows
            .iter()
            .map(|row| {
                self.columns
                    .iter()
                    .zip(row)
                    .map(|(column, cell)| (column.name.to_owned(), value(cell)))
                    .collect()
            })
            .collect();
        let columns: Vec<Value> = self
            .columns
            .iter()
            .map(|column| {
                let unit = (!column.unit.is_empty()).then_some(&column.unit);
                json!({"name": column.name, "unit": unit})
            })
            .collect();
        json!({
            "title": self.title,
            "source": visit.absolute(&self.page),
            "licence": visit.site.config.licence,
            "demonstration": visit.site.is_demo(),
            "columns": columns,
            "rows": rows,
        })
    }

    /// The file in the form that its address ends with: `csv`, else JSON. Any site's scripts may
    /// read it.
    pub fn response(&self, visit: &Visit, extension: &str) -> Response {
        let (kind, body) = if extension == "csv" {
            ("text/csv; charset=utf-8; header=present", self.csv(visit))
        } else {
            ("application/json", self.json(visit).to_string())
        };
        let file = format!("attachment; filename=\"{}.{extension}\"", self.file);
        let mut response = body.into_response();
        let headers = response.headers_mut();
        headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
        if let Ok(file) = HeaderValue::from_str(&file) {
            headers.insert(header::CONTENT_DISPOSITION, file);
        }
        open_to_others(&mut response);
        response.extensions_mut().insert(Storable);
        response
    }
}

/// Lets pages of other sites show or read this.
pub fn open_to_others(response: &mut Response) {
    let headers = response.headers_mut();
    headers.insert(
        header::ACCESS_CONTROL_ALLOW_ORIGIN,
        HeaderValue::from_static("*"),
    );
    headers.insert(
        HeaderName::from_static("cross-origin-resource-policy"),
        HeaderValue::from_static("cross-origin"),
    );
}

/// One record. A field with a comma, quote or line break is quoted, quotes in it doubled.
fn line(out: &mut String, fields: impl Iterator<Item = String>) {
    for (i, field) in fields.enumerate() {
        if i > 0 {
            out.push(',');
        }
        if field.contains([',', '"', '\r', '\n']) {
            out.push('"');
            out.push_str(&field.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(&field);
        }
    }
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_with_commas_quotes_or_line_breaks_is_one_field_again() {
        let mut text = String::new();
        let fields = ["a,b", "say \"so\"", "two\r\nlines", "plain", ""];
        line(&mut text, fields.iter().map(|f| (*f).to_owned()));
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .from_reader(text.as_bytes());
        let read = reader.records().next().unwrap().unwrap();
        assert_eq!(read.iter().collect::<Vec<_>>(), fields);
    }
}
