//! A PDF as other programs see it.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

pub struct Pdf {
    folder: tempfile::TempDir,
}

impl Pdf {
    /// Opens it, and holds it to what every reader must agree on.
    pub fn sound(bytes: &[u8]) -> Pdf {
        assert!(bytes.starts_with(b"%PDF-"), "it is no PDF");
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("report.pdf"), bytes).unwrap();
        let pdf = Pdf { folder };
        let checked = run("qpdf", &["--check"], &pdf.path());
        assert!(
            checked.contains("No syntax or stream encoding errors"),
            "{checked}"
        );
        assert_eq!(pdf.fact("Tagged"), "yes");
        pdf
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("report.pdf")
    }

    /// A line of `pdfinfo`.
    pub fn fact(&self, name: &str) -> String {
        let all = run("pdfinfo", &[], &self.path());
        all.lines()
            .find_map(|line| line.strip_prefix(&format!("{name}:")))
            .unwrap_or_else(|| panic!("no {name} in\n{all}"))
            .trim()
            .to_owned()
    }

    pub fn pages(&self) -> usize {
        self.fact("Pages").parse().unwrap()
    }

    /// The text of every page as it is laid out.
    pub fn text(&self) -> String {
        run("pdftotext", &["-layout"], &self.path())
    }

    /// The text in reading order, spaces made one: what a search would find.
    pub fn words(&self) -> String {
        let text = run("pdftotext", &[], &self.path());
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// Page by page.
    pub fn page_texts(&self) -> Vec<String> {
        let mut pages: Vec<String> = self.text().split('\u{c}').map(str::to_owned).collect();
        pages.pop();
        pages
    }

    /// Width and height of the JPEG pictures in it, in their order.
    pub fn jpegs(&self) -> Vec<(u32, u32)> {
        let list = run("pdfimages", &["-list"], &self.path());
        list.lines()
            .map(|line| line.split_whitespace().collect::<Vec<_>>())
            .filter(|columns| columns.get(8) == Some(&"jpeg"))
            .map(|columns| (columns[3].parse().unwrap(), columns[4].parse().unwrap()))
            .collect()
    }

    /// Share of each page that is not white, as painted at 40 dots an inch.
    pub fn painted(&self) -> Vec<f64> {
        let prefix = self.folder.path().join("page");
        let made = Command::new("pdftoppm")
            .args(["-r", "40", "-gray"])
            .arg(self.path())
            .arg(&prefix)
            .output()
            .unwrap();
        assert!(made.status.success());
        let mut files: Vec<_> = std::fs::read_dir(self.folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|e| e == "pgm"))
            .collect();
        files.sort();
        files
            .iter()
            .map(|file| {
                let bytes = std::fs::read(file).unwrap();
                let dark = bytes.iter().filter(|b| **b < 200).count();
                dark as f64 / bytes.len() as f64
            })
            .collect()
    }
}

/// Standard output of a program that must succeed without complaint.
fn run(program: &str, arguments: &[&str], file: &Path) -> String {
    let mut command = Command::new(program);
    command.args(arguments).arg(file);
    if program == "pdftotext" {
        command.arg("-");
    }
    let done = command
        .output()
        .unwrap_or_else(|cause| panic!("{program}: {cause}; bash tests/all.sh installs it"));
    let complaints = String::from_utf8_lossy(&done.stderr);
    // Poppler 22 complains of the entry that says that no tag is suspect; the entry is as ISO
    // 32000-1, table 321, asks for.
    let complaints: Vec<_> = complaints
        .lines()
        .filter(|line| !line.contains("Suspects object is wrong type (boolean)"))
        .collect();
    assert!(
        done.status.success() && complaints.is_empty(),
        "{program}: {complaints:?}"
    );
    String::from_utf8(done.stdout).unwrap()
}

/// The numbers of a text: digits with a point between them.
pub fn numbers(text: &str) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    let part = |c: char| c.is_ascii_digit() || c == '.';
    for word in text.split(|c| !part(c)) {
        let word = word.trim_matches('.');
        if !word.is_empty() {
            found.insert(word.to_owned());
        }
    }
    found
}

/// What stands in the cells of the tables of a page's sheet. What the unit costs to use and where
/// it stands follow from other things than its record, and power data objects stand in a report
/// as words with what they say, not bit by bit.
pub fn cells_of(html: &str) -> String {
    let mut cells = String::new();
    let sheet = html.split("<section aria-labelledby=\"standing\">").next();
    let mut parts = sheet.unwrap_or("").split("<details class=\"objects\">");
    let before = parts.next().unwrap_or("").to_owned();
    let html = parts.fold(before, |html, part| {
        let after = part.split_once("</details>").map_or("", |(_, after)| after);
        html + after
    });
    for tag in ["<td", "<th"] {
        for part in html.split(tag).skip(1) {
            let end = part.find(&format!("</{}>", &tag[1..])).unwrap_or(0);
            let inside = part[..end].split_once('>').map_or("", |(_, inside)| inside);
            // What is folded away explains a cell and is no cell.
            let shown = inside.split("<details").next().unwrap_or("");
            let mut in_tag = false;
            for c in shown.chars() {
                match c {
                    '<' => in_tag = true,
                    '>' => {
                        in_tag = false;
                        cells.push(' ');
                    }
                    c if !in_tag => cells.push(c),
                    _ => {}
                }
            }
            cells.push('\n');
        }
    }
    // Escapes hold digits of their own.
    cells
        .replace("&#8239;", " ")
        .replace("&#62;", ">")
        .replace("&#60;", "<")
        .replace("&#38;", "&")
        .replace("&#39;", "'")
        .replace("&#34;", "\"")
}
