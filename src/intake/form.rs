//! The bench form: text by path (`runs[0].points[1].input.power_w` → "143 mW") becomes a record
//! document, and a record document becomes text again.
//!
//! The record's schema decides how a text is read. Nothing typed is judged here beyond that: what
//! cannot be read is left out of the document and named in a [`Problem`] at its path; bounds and
//! contradictions are left to [`crate::bench::decode`]. Rows and sections that hold nothing but what
//! a new form puts there by itself are left out of the document.

use crate::bench::problem::Problem;
use crate::bench::record::FORMAT;
use crate::bench::schema::{self, Field, Kind, Number};
use crate::quantity::written::{self, Unit};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// Everything typed into a form, by path, exactly as typed. A path with an empty text says that
/// its row is on the form.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Fields(BTreeMap<String, String>);

/// What a form amounts to as a document.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    pub value: Value,
    /// Texts that could not be read, by the path of their field. They are not in `value`.
    pub unreadable: Vec<Problem>,
    /// Position on the form of list items that moved because a blank row above them was left out:
    /// path in the document → index on the form.
    moved: BTreeMap<String, usize>,
}

/// Last part of the path of a mark that keeps a row or section although it says nothing of its own,
/// so that revising a record that holds such a one loses nothing.
const KEPT: &str = "#";

/// Last part of the path of a text that waits to be read: cells for the rows of a table, or a
/// port's capability list.
pub const PASTED: &str = "pasted";

/// Last part of the path, below a run, of the key of the planned run that its rows were made for.
pub const PLANNED: &str = "planned";

/// First part of the paths of what belongs to the plan of a draft and to no document: ticks
/// (`plan.tick.warm-up`), and what the plan is made for (`plan.regime.us_doe_level_vi`).
pub const PLAN: &str = "plan";

/// What a new form fills in by itself: an item of this list (or this object) that holds nothing
/// else is blank.
const FILLED_IN: [(&str, &[&str]); 8] = [
    ("runs[]", &["name", "line"]),
    ("runs[].points[]", &["load_percent"]),
    ("runs[].points[].outputs[]", &["port"]),
    ("instruments[]", &["quantity"]),
    ("unit.ports[].modes[]", &["kind"]),
    ("unit.price", &["currency"]),
    ("overloads[]", &["port", "voltage_v", "rated_current_a"]),
    ("temperatures[]", &["load_w", "minutes"]),
];

/// No list of the record is longer; a higher index is no field of ours.
const MOST_ROWS: usize = 200;

impl Fields {
    pub fn new() -> Fields {
        Fields::default()
    }

    /// The text at a path; empty if there is none.
    pub fn text(&self, path: &str) -> &str {
        self.0.get(path).map_or("", String::as_str)
    }

    pub fn has(&self, path: &str) -> bool {
        self.0.contains_key(path)
    }

    pub fn set(&mut self, path: impl Into<String>, text: impl Into<String>) {
        self.0.insert(path.into(), text.into());
    }

    pub fn remove(&mut self, path: &str) {
        self.0.remove(path);
    }

    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0
            .iter()
            .map(|(path, text)| (path.as_str(), text.as_str()))
    }

    pub fn len(&self) -> usize {
        self.0.len()
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Rows of a list that are on the form: one more than the highest index.
    pub fn rows(&self, list: &str) -> usize {
        self.under(list)
            .map(|(index, _, _)| index + 1)
            .max()
            .unwrap_or(0)
    }

    /// Takes row `index` out and moves the rows after it up.
    pub fn remove_row(&mut self, list: &str, index: usize) {
        self.renumber(list, |row| match row {
            row if row == index => None,
            row if row > index => Some(row - 1),
            row => Some(row),
        });
    }

    /// Moves the rows from `index` on down by one, to make room there.
    pub fn make_room(&mut self, list: &str, index: usize) {
        self.renumber(list, |row| Some(if row >= index { row + 1 } else { row }));
    }

    /// The fields of one row, by what follows the index in their path (`.name`, `.line.voltage_v`).
    pub fn row(&self, list: &str, index: usize) -> Vec<(String, String)> {
        self.under(list)
            .filter(|(row, _, _)| *row == index)
            .map(|(_, rest, text)| (rest.to_owned(), text.to_owned()))
            .collect()
    }

    fn renumber(&mut self, list: &str, to: impl Fn(usize) -> Option<usize>) {
        let moved: Vec<(String, Option<usize>, String, String)> = self
            .0
            .iter()
            .filter_map(|(path, text)| {
                let (row, rest) = row_of(path, list)?;
                Some((path.clone(), to(row), rest.to_owned(), text.clone()))
            })
            .collect();
        for (path, ..) in &moved {
            self.0.remove(path);
        }
        for (_, row, rest, text) in moved {
            if let Some(row) = row {
                self.0.insert(format!("{list}[{row}]{rest}"), text);
            }
        }
    }

    fn under<'a>(&'a self, list: &'a str) -> impl Iterator<Item = (usize, &'a str, &'a str)> {
        // All paths of a list stand together in the map: '[' sorts after '.' and letters sort after it.
        let start = format!("{list}[");
        self.0
            .range(start.clone()..)
            .take_while(move |(path, _)| path.starts_with(&start))
            .filter_map(move |(path, text)| {
                let (row, rest) = row_of(path, list)?;
                Some((row, rest, text.as_str()))
            })
    }
}

impl FromIterator<(String, String)> for Fields {
    fn from_iter<I: IntoIterator<Item = (String, String)>>(pairs: I) -> Fields {
        Fields(pairs.into_iter().collect())
    }
}

/// Row number and what follows it, for a path of `list`.
fn row_of<'a>(path: &'a str, list: &str) -> Option<(usize, &'a str)> {
    let (index, rest) = path
        .strip_prefix(list)?
        .strip_prefix('[')?
        .split_once(']')?;
    Some((index.parse().ok()?, rest))
}

/// Is there a field of this path on the form?
pub fn is_field(path: &str) -> bool {
    let Some(steps) = steps(path) else {
        return false;
    };
    match steps[..] {
        [
            Step::Key("runs"),
            Step::Index(index),
            Step::Key(PASTED | PLANNED),
        ]
        | [
            Step::Key("overloads"),
            Step::Index(index),
            Step::Key(PASTED),
        ]
        | [
            Step::Key("unit"),
            Step::Key("ports"),
            Step::Index(index),
            Step::Key(PASTED),
        ] => {
            return index < MOST_ROWS;
        }
        [Step::Key("temperatures"), Step::Key(PASTED)] => return true,
        _ => {}
    }
    if let [Step::Key(PLAN), rest @ ..] = &steps[..] {
        return match rest {
            [Step::Key("chosen" | "score" | "supplies")] => true,
            [Step::Key("tick" | "regime"), Step::Key(id)] => is_plan_id(id),
            _ => false,
        };
    }
    let mut kind = &ROOT;
    for (position, step) in steps.iter().enumerate() {
        let last = position + 1 == steps.len();
        let next = match (step, kind) {
            (Step::Key(key), Kind::Object(_) | Kind::Tagged { .. }) if *key == KEPT => return last,
            (Step::Key(key), Kind::Object(fields)) => child(fields, key),
            (Step::Key(key), Kind::Tagged { tag, variants }) => {
                if key == tag {
                    return last;
                }
                variants.iter().find_map(|(_, fields)| child(fields, key))
            }
            (Step::Index(index), Kind::List(list)) if *index < MOST_ROWS && !is_joined(list) => {
                Some(&list.item)
            }
            _ => None,
        };
        match next {
            Some(next) => kind = next,
            None => return false,
        }
    }
    match kind {
        Kind::Object(_) | Kind::Tagged { .. } | Kind::Exact(_) => false,
        Kind::List(list) => is_joined(list),
        _ => true,
    }
}

/// Names of ticks and regimes: short, and nothing but letters, digits, hyphens and underscores.
fn is_plan_id(id: &str) -> bool {
    id.len() <= 80
        && id
            .bytes()
            .all(|b| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_'))
}

/// The field of the schema that a path of the form leads to, indices ignored.
pub fn described(path: &str) -> Option<&'static Field> {
    let mut fields: Vec<&'static [Field]> = vec![schema::RECORD];
    let mut found = None;
    for step in steps(path)? {
        let Step::Key(key) = step else { continue };
        let field = fields
            .iter()
            .find_map(|f| f.iter().find(|f| f.key == key))?;
        found = Some(field);
        let mut kind = &field.kind;
        if let Kind::List(list) = kind {
            kind = &list.item;
        }
        fields = match kind {
            Kind::Object(inner) => vec![inner],
            Kind::Tagged { variants, .. } => variants.iter().map(|(_, inner)| *inner).collect(),
            _ => Vec::new(),
        };
    }
    found
}

/// The unit that a number at this path is kept in; `None` if the path is no number.
pub fn unit_at(fields: &Fields, path: &str) -> Option<Unit> {
    let number = match described(path)?.kind {
        Kind::Number(number) => number,
        Kind::List(schema::List {
            item: Kind::Number(number),
            ..
        }) => *number,
        _ => return None,
    };
    Some(unit_of(&number, path, &|quantity_path| {
        fields.text(quantity_path).to_owned()
    }))
}

const ROOT: Kind = Kind::Object(schema::RECORD);

fn child(fields: &'static [Field], key: &str) -> Option<&'static Kind> {
    fields
        .iter()
        .find(|field| field.key == key)
        .map(|field| &field.kind)
}

/// Lists of words stand in one field, separated by commas.
fn is_joined(list: &schema::List) -> bool {
    matches!(list.item, Kind::Text(_) | Kind::Word32)
}

#[derive(Clone, Copy)]
enum Step<'a> {
    Key(&'a str),
    Index(usize),
}

/// `a.b[2].c` in steps; `None` if it is no path.
fn steps(path: &str) -> Option<Vec<Step<'_>>> {
    let mut out = Vec::new();
    for part in path.split('.') {
        let (key, mut rest) = match part.find('[') {
            Some(at) => part.split_at(at),
            None => (part, ""),
        };
        if key.is_empty() {
            return None;
        }
        out.push(Step::Key(key));
        while !rest.is_empty() {
            let (index, after) = rest.strip_prefix('[')?.split_once(']')?;
            let canonical = index == "0" || !index.starts_with('0');
            if !canonical || !index.bytes().all(|b| b.is_ascii_digit()) {
                return None;
            }
            out.push(Step::Index(index.parse().ok()?));
            rest = after;
        }
    }
    Some(out)
}

// ---- form -> document ----

/// What is typed, as a record document.
pub fn document(fields: &Fields) -> Document {
    let mut tree = Node::default();
    for (path, text) in fields.iter() {
        if let Some(steps) = steps(path) {
            tree.insert(&steps, text);
        }
    }
    let mut builder = Builder {
        fields,
        unreadable: Vec::new(),
        moved: BTreeMap::new(),
    };
    let root = builder.object(&tree, schema::RECORD, &Place::default());
    let mut value = Map::new();
    value.insert("format".to_owned(), Value::from(FORMAT));
    value.extend(root);
    Document {
        value: Value::Object(value),
        unreadable: builder.unreadable,
        moved: builder.moved,
    }
}

impl Document {
    /// The field that a path of the document came from.
    pub fn field_path(&self, path: &str) -> String {
        let Some(steps) = steps(path) else {
            return path.to_owned();
        };
        let (mut there, mut here) = (String::new(), String::new());
        for step in steps {
            match step {
                Step::Key(key) => {
                    for path in [&mut there, &mut here] {
                        if !path.is_empty() {
                            path.push('.');
                        }
                        path.push_str(key);
                    }
                }
                Step::Index(index) => {
                    there.push_str(&format!("[{index}]"));
                    let row = self.moved.get(&there).copied().unwrap_or(index);
                    here.push_str(&format!("[{row}]"));
                }
            }
        }
        // A list of words has one field for all of them.
        if !is_field(&here)
            && let Some(list) = here
                .strip_suffix(']')
                .and_then(|h| h.rsplit_once('['))
                .map(|(list, _)| list)
            && is_field(list)
        {
            return list.to_owned();
        }
        here
    }

    /// The same problem at the field it came from.
    pub fn at_field(&self, problem: Problem) -> Problem {
        Problem {
            path: self.field_path(&problem.path),
            ..problem
        }
    }
}

#[derive(Debug, Default)]
struct Node<'a> {
    text: Option<&'a str>,
    keys: BTreeMap<&'a str, Node<'a>>,
    rows: BTreeMap<usize, Node<'a>>,
}

impl<'a> Node<'a> {
    fn insert(&mut self, steps: &[Step<'a>], text: &'a str) {
        match steps.split_first() {
            None => self.text = Some(text),
            Some((Step::Key(key), rest)) => self.keys.entry(key).or_default().insert(rest, text),
            Some((Step::Index(index), rest)) => {
                self.rows.entry(*index).or_default().insert(rest, text);
            }
        }
    }
}

/// Where the builder stands: on the form, in the document, and as a pattern without indices.
#[derive(Debug, Clone, Default)]
struct Place {
    form: String,
    document: String,
    pattern: String,
}

impl Place {
    fn key(&self, key: &str) -> Place {
        let join = |path: &str| {
            if path.is_empty() {
                key.to_owned()
            } else {
                format!("{path}.{key}")
            }
        };
        Place {
            form: join(&self.form),
            document: join(&self.document),
            pattern: join(&self.pattern),
        }
    }

    fn row(&self, form: usize, document: usize) -> Place {
        Place {
            form: format!("{}[{form}]", self.form),
            document: format!("{}[{document}]", self.document),
            pattern: format!("{}[]", self.pattern),
        }
    }
}

struct Builder<'a> {
    fields: &'a Fields,
    unreadable: Vec<Problem>,
    moved: BTreeMap<String, usize>,
}

impl Builder<'_> {
    fn object(
        &mut self,
        node: &Node,
        fields: &'static [Field],
        place: &Place,
    ) -> Map<String, Value> {
        let mut object = Map::new();
        for field in fields {
            let inner = place.key(field.key);
            let value = match (node.keys.get(field.key), &field.kind) {
                // Asked for even if nothing of it is typed, so that what is missing is named.
                (child, Kind::Object(fields)) if field.required => {
                    let nothing = Node::default();
                    Some(Value::Object(self.object(
                        child.unwrap_or(&nothing),
                        fields,
                        &inner,
                    )))
                }
                (Some(child), kind) => self.value(child, kind, &inner),
                (None, _) => None,
            };
            let value = value.or_else(|| match field.key {
                // A column of a log need not belong to a port.
                "port" if field.required && !object_is_blank(node) => {
                    self.default_port(&inner.form).map(Value::from)
                }
                _ => None,
            });
            if let Some(value) = value {
                object.insert(field.key.to_owned(), value);
            }
        }
        object
    }

    fn value(&mut self, node: &Node, kind: &'static Kind, place: &Place) -> Option<Value> {
        match kind {
            Kind::Object(fields) => {
                let object = self.object(node, fields, place);
                self.unless_blank(object, node, place)
            }
            Kind::Tagged { tag, variants } => {
                let object = self.tagged(node, tag, variants, place);
                self.unless_blank(object, node, place)
            }
            Kind::List(list) if is_joined(list) => {
                let words = split_words(node.text?);
                (!words.is_empty()).then(|| Value::from(words))
            }
            Kind::List(list) => self.list(node, &list.item, place),
            Kind::Number(number) => self.number(node.text?, number, place),
            text => plain_text(node.text?, text).map(Value::from),
        }
    }

    fn unless_blank(
        &self,
        object: Map<String, Value>,
        node: &Node,
        place: &Place,
    ) -> Option<Value> {
        let filled_in = FILLED_IN
            .iter()
            .find(|(pattern, _)| *pattern == place.pattern)
            .map_or(&[] as &[&str], |(_, keys)| keys);
        // Of a run that a plan set up, the rated outputs are the plan's as well.
        let planned = node.keys.contains_key(PLANNED);
        let blank = object
            .keys()
            .all(|key| filled_in.contains(&key.as_str()) || planned && key == "rated_outputs");
        (!blank || node.keys.contains_key(KEPT)).then_some(Value::Object(object))
    }

    fn tagged(
        &mut self,
        node: &Node,
        tag: &'static str,
        variants: &'static [(&'static str, &'static [Field])],
        place: &Place,
    ) -> Map<String, Value> {
        let text = |key: &str| node.keys.get(key).and_then(|n| n.text).unwrap_or("").trim();
        let word = if text(tag).is_empty() {
            variants[0].0
        } else {
            text(tag)
        };
        let mut object = Map::new();
        object.insert(tag.to_owned(), Value::from(word));
        let Some((_, fields)) = variants.iter().find(|(name, _)| *name == word) else {
            return object;
        };
        object.extend(self.object(node, fields, place));
        for (key, other) in &node.keys {
            let typed = other.text.unwrap_or("").trim();
            if *key != tag && *key != KEPT && child(fields, key).is_none() && !typed.is_empty() {
                let keys: Vec<&str> = fields.iter().map(|f| f.label).collect();
                self.unreadable.push(Problem::new(
                    place.key(key).form,
                    quoted(typed),
                    format!(
                        "nothing here: a mode of kind {word} has {}",
                        keys.join(", ")
                    ),
                ));
            }
        }
        object
    }

    fn list(&mut self, node: &Node, item: &'static Kind, place: &Place) -> Option<Value> {
        let mut values = Vec::new();
        for (&index, row) in &node.rows {
            let inner = place.row(index, values.len());
            match self.value(row, item, &inner) {
                Some(value) => {
                    if index != values.len() {
                        self.moved.insert(inner.document, index);
                    }
                    values.push(value);
                }
                // The place of a number among its fellows tells what it is.
                None if matches!(item, Kind::Number(_)) => values.push(Value::Null),
                None => {}
            }
        }
        values
            .iter()
            .any(|value| !value.is_null())
            .then_some(Value::Array(values))
    }

    fn number(&mut self, text: &str, number: &Number, place: &Place) -> Option<Value> {
        if text.trim().is_empty() {
            return None;
        }
        let unit = unit_of(number, &place.form, &|path| {
            self.fields.text(path).to_owned()
        });
        match written::parse(text, unit, number.min..=number.max) {
            Ok(value) => Some(json_number(value)),
            Err(why) => {
                self.unreadable
                    .push(Problem::new(place.form.clone(), quoted(text), why.expected));
                None
            }
        }
    }

    /// The port that a row means when it names none: the one rated in the same place of its run, or
    /// the unit's only one.
    fn default_port(&self, path: &str) -> Option<String> {
        let rated = path.strip_suffix(".port").and_then(|row| {
            let (run, rest) = row.split_once(".points[")?;
            let (_, column) = rest.split_once(".outputs[")?;
            Some(
                self.fields
                    .text(&format!("{run}.rated_outputs[{column}.port"))
                    .trim()
                    .to_owned(),
            )
        });
        if let Some(rated) = rated.filter(|label| !label.is_empty()) {
            return Some(rated);
        }
        let labels: Vec<&str> = (0..self.fields.rows("unit.ports"))
            .map(|row| self.fields.text(&format!("unit.ports[{row}].label")).trim())
            .filter(|label| !label.is_empty())
            .collect();
        match labels[..] {
            [only] => Some(only.to_owned()),
            _ => None,
        }
    }
}

fn object_is_blank(node: &Node) -> bool {
    node.keys.iter().all(|(key, child)| {
        *key == "port"
            || (child.text.unwrap_or("").trim().is_empty()
                && child.rows.is_empty()
                && child.keys.is_empty())
    })
}

/// The unit of a number. Range and fixed part of an instrument, value and accuracy of a further
/// measurement are in the unit of the quantity that the row is about.
fn unit_of(number: &Number, path: &str, text: &dyn Fn(&str) -> String) -> Unit {
    if let Some(unit) = Unit::from_symbol(number.unit).filter(|unit| *unit != Unit::One) {
        return unit;
    }
    let of_its_quantity = match path.rsplit_once('.') {
        Some((row, "range" | "fixed")) if row.starts_with("instruments[") => row,
        Some((row, "value" | "accuracy")) if row.starts_with("measurements[") => row,
        _ => return Unit::One,
    };
    match text(&format!("{of_its_quantity}.quantity"))
        .trim()
        .rsplit_once('_')
    {
        Some((_, "mv")) => Unit::Millivolt,
        Some((_, "ms")) => Unit::Millisecond,
        Some((_, "ua")) => Unit::Microampere,
        Some((_, "percent")) => Unit::Percent,
        Some((_, "dba")) => Unit::DecibelA,
        Some((_, "w")) => Unit::Watt,
        Some((_, "v")) => Unit::Volt,
        Some((_, "a")) => Unit::Ampere,
        Some((_, "c")) => Unit::Celsius,
        _ => Unit::One,
    }
}

/// Whole numbers stay whole in the document.
fn json_number(value: f64) -> Value {
    const EXACT: f64 = 9_007_199_254_740_992.0;
    let negative_zero = value == 0.0 && value.is_sign_negative();
    if value.fract() == 0.0 && value.abs() < EXACT && !negative_zero {
        Value::from(value as i64)
    } else {
        Value::from(value)
    }
}

fn plain_text(text: &str, kind: &Kind) -> Option<String> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return None;
    }
    Some(match kind {
        Kind::LongText(_) => text.replace("\r\n", "\n"),
        Kind::Currency | Kind::EfficiencyMark => trimmed.to_uppercase(),
        Kind::Decimal => decimal_text(trimmed),
        _ => trimmed.to_owned(),
    })
}

/// "59,00" → "59.00"; whatever is not plainly a price stays as it is, for the decoder to refuse.
fn decimal_text(text: &str) -> String {
    match text.split_once(',') {
        Some((whole, cents)) if !text.contains('.') && (1..=2).contains(&cents.len()) => {
            format!("{whole}.{cents}")
        }
        _ => text.to_owned(),
    }
}

/// As JSON, the way problems quote what they found.
fn quoted(text: &str) -> String {
    Value::from(text).to_string()
}

/// Words separated by commas or line ends; one that holds such a character stands in double
/// quotes, in which a double quote is doubled.
fn split_words(text: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word = String::new();
    let mut in_quotes = false;
    let mut characters = text.chars().peekable();
    while let Some(c) = characters.next() {
        match c {
            '"' if in_quotes && characters.peek() == Some(&'"') => {
                characters.next();
                word.push('"');
            }
            '"' if in_quotes => in_quotes = false,
            '"' if word.trim().is_empty() => {
                word.clear();
                in_quotes = true;
            }
            ',' | '\n' | '\r' if !in_quotes => {
                words.push(std::mem::take(&mut word));
            }
            c => word.push(c),
        }
    }
    words.push(word);
    words
        .into_iter()
        .map(|word| word.trim().to_owned())
        .filter(|word| !word.is_empty())
        .collect()
}

fn join_words(words: &[&str]) -> String {
    words
        .iter()
        .map(|word| {
            if word.contains([',', '"', '\n', '\r']) {
                format!("\"{}\"", word.replace('"', "\"\""))
            } else {
                (*word).to_owned()
            }
        })
        .collect::<Vec<_>>()
        .join(", ")
}

// ---- document -> form ----

/// A record document as the texts of a form: [`document`] gives the same record back.
pub fn fields(document: &Value) -> Fields {
    let mut out = Fields::new();
    if let Value::Object(root) = document {
        for field in schema::RECORD {
            if let Some(value) = root.get(field.key) {
                spread(
                    value,
                    &field.kind,
                    &Place::default().key(field.key),
                    &mut out,
                );
            }
        }
    }
    drop_implied_ports(&mut out);
    out
}

fn spread(value: &Value, kind: &Kind, place: &Place, out: &mut Fields) {
    match (kind, value) {
        (Kind::Exact(_), _) | (_, Value::Null) => {}
        (Kind::Object(fields), Value::Object(object)) => {
            spread_object(object, fields, None, place, out);
        }
        (Kind::Tagged { tag, variants }, Value::Object(object)) => {
            let word = object.get(*tag).and_then(Value::as_str).unwrap_or("");
            let fields = variants
                .iter()
                .find(|(name, _)| *name == word)
                .map_or(&[] as &[Field], |(_, f)| f);
            spread_object(object, fields, Some((tag, word)), place, out);
        }
        (Kind::List(list), Value::Array(items)) if is_joined(list) => {
            let words: Vec<&str> = items.iter().filter_map(Value::as_str).collect();
            out.set(place.form.clone(), join_words(&words));
        }
        (Kind::List(list), Value::Array(items)) => {
            for (index, item) in items.iter().enumerate() {
                spread(item, &list.item, &place.row(index, index), out);
            }
        }
        (_, Value::String(text)) => out.set(place.form.clone(), text.clone()),
        (_, Value::Number(number)) => {
            let text = number
                .as_f64()
                .map_or_else(|| number.to_string(), written::editable);
            out.set(place.form.clone(), text);
        }
        _ => {}
    }
}

fn spread_object(
    object: &Map<String, Value>,
    fields: &[Field],
    tag: Option<(&str, &str)>,
    place: &Place,
    out: &mut Fields,
) {
    if let Some((tag, word)) = tag {
        out.set(place.key(tag).form, word);
    }
    for field in fields {
        if let Some(value) = object.get(field.key) {
            spread(value, &field.kind, &place.key(field.key), out);
        }
    }
    let filled_in = FILLED_IN
        .iter()
        .find(|(pattern, _)| *pattern == place.pattern)
        .map_or(&[] as &[&str], |(_, keys)| keys);
    let says_nothing = object.iter().all(|(key, value)| {
        value.is_null()
            || filled_in.contains(&key.as_str())
            || value.as_array().is_some_and(Vec::is_empty)
    });
    if says_nothing {
        out.set(place.key(KEPT).form, "1");
    }
}

/// A reading whose port is the one rated in the same column need not name it.
fn drop_implied_ports(fields: &mut Fields) {
    let implied: Vec<String> = fields
        .iter()
        .filter_map(|(path, text)| {
            let row = path.strip_suffix(".port")?;
            let (run, rest) = row.split_once(".points[")?;
            let (_, column) = rest.split_once(".outputs[")?;
            let rated = fields.text(&format!("{run}.rated_outputs[{column}.port"));
            (rated == text && !fields.has(&format!("{row}.{KEPT}"))).then(|| path.to_owned())
        })
        .collect();
    for path in implied {
        fields.remove(&path);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::decode::decode;
    use crate::bench::record::Record;
    use serde_json::json;

    fn form(pairs: &[(&str, &str)]) -> Fields {
        pairs
            .iter()
            .map(|(path, text)| (path.to_string(), text.to_string()))
            .collect()
    }

    /// A small unit with one port, to be extended.
    fn small(more: &[(&str, &str)]) -> Fields {
        let mut fields = form(&[
            ("unit.maker", "Larkfield"),
            ("unit.model", "LF-20"),
            ("unit.nameplate.output_power_w", "20 W"),
            ("unit.ports[0].label", "C1"),
        ]);
        for (path, text) in more {
            fields.set(*path, *text);
        }
        fields
    }

    fn record(fields: &Fields) -> Record {
        let document = document(fields);
        assert_eq!(document.unreadable, []);
        decode(&document.value.to_string()).unwrap_or_else(|problems| panic!("{problems:?}"))
    }

    /// A record that uses every part of the format.
    fn everything() -> Value {
        json!({
            "format": FORMAT,
            "unit": {
                "maker": "Larkfield", "model": "LF-100Q", "sample": "A", "acquired_on": "2026-08-14",
                "price": {"amount": "59.00", "currency": "EUR"},
                "buy_url": "https://shop.example/lf", "write_up_url": "https://bench.example/lf",
                "nameplate": {"output_power_w": 100, "input_voltage_min_v": 100, "input_voltage_max_v": 240,
                    "input_current_a": 1.5, "efficiency_mark": "VI", "max_ambient_c": 40},
                "safety_marks": ["ETL", "a, b", "say \"hm\""],
                "mass_g": {"adapter": 171, "packaging": 0.5}, "size_mm": [66, 66.25, 30],
                "category": {"value": "multiple", "reason": "two lines\nof reason"},
                "harmonic_class": {"value": "D", "reason": "sold for a computer"},
                "ports": [
                    {"label": "C1", "connector": "usb-c", "power_w": 100, "share_group": "upper",
                     "source_capabilities": ["0x0801912C", "0x0002D12C"],
                     "modes": [{"kind": "fixed", "voltage_v": 5, "current_a": 3},
                               {"kind": "pps", "voltage_min_v": 5, "voltage_max_v": 21, "current_a": 5}]},
                    {"label": "A1", "connector": "usb-a"}]},
            "instruments": [
                {"name": "analyser", "quantity": "input_power_w", "reading_percent": 0.1, "range_percent": 0.05, "range": 150, "fixed": 0},
                {"quantity": "no_load_power_w", "reading_percent": 0.0, "range_percent": 0.0, "fixed": 0.0}],
            "logs": [
                {"name": "noload, 115.csv", "sha256": "a".repeat(64), "size_bytes": 1_073_741_824_i64,
                 "layout": {"encoding": "utf-8", "delimiter": "semicolon", "decimal": "comma", "first_line": 12,
                    "time": {"form": "clock", "column": 2, "date_column": 1, "date_order": "day-first"},
                    "columns": [{"column": 3, "quantity": "input_power_w", "factor": 0.001},
                                {"column": 4, "quantity": "output_voltage_v", "port": "C1"}]}},
                {"name": "wave.tsv", "sha256": "0".repeat(64), "size_bytes": 0,
                 "layout": {"encoding": "latin-1", "delimiter": "tab", "decimal": "point", "first_line": 1,
                    "time": {"form": "index", "interval_s": 0.00002},
                    "columns": [{"column": 1, "quantity": "line_voltage_sample_v", "factor": -200},
                                {"column": 2, "quantity": "line_current_sample_a", "factor": 1e-9}]}}],
            "runs": [
                {"name": "20 V on 115 V", "tested_on": "2026-09-01", "ambient_c": 23.4,
                 "line": {"voltage_v": 115, "frequency_hz": 60},
                 "rated_outputs": [{"port": "C1", "voltage_v": 20, "current_a": 5}, {"port": "A1", "voltage_v": 5, "current_a": 2.4}],
                 "points": [
                    {"load_percent": 100,
                     "input": {"voltage_v": 115.02, "current_a": 0.98, "power_w": 129.9, "power_factor": 0.975, "current_thd_percent": 9.8, "current_peak_a": 1.46},
                     "outputs": [{"port": "C1", "voltage_v": 20.05, "current_a": 4.998}, {"port": "A1", "voltage_v": 5.01, "current_a": 2.4}]},
                    {"load_percent": 50, "outputs": [{"port": "A1", "voltage_v": 5.01}]},
                    {"load_percent": 25, "log": "noload, 115.csv", "log_from_s": 12.5, "log_to_s": 400},
                    {"load_percent": 10, "input": {}, "outputs": [{"port": "C1"}]}],
                 "no_load": {"power_w": 0.118, "current_a": 0.031, "power_factor": 0.033, "current_peak_a": 0.11, "log": "noload, 115.csv", "log_from_s": 600, "log_to_s": 4200.25},
                 "waveforms": [{"log": "wave.tsv", "load_percent": 0}, {"log": "wave.tsv", "load_percent": 100, "log_from_s": 0.4, "log_to_s": 0.9}]},
                {"name": "planned", "line": {"voltage_v": 230, "frequency_hz": 50}, "no_load": {}}],
            "overloads": [{"port": "C1", "voltage_v": 20, "rated_current_a": 5, "trip_current_a": 5.74, "last_good_power_w": 113.6, "recovery": "auto", "other_ports": "held"}],
            "sharing": [{"ports_in_use": ["C1", "A1"], "offers": [{"port": "C1", "power_w": 65}, {"port": "A1", "power_w": 30}], "on_attach": "reset", "note": "a note"}],
            "temperatures": [{"load_w": 100, "minutes": 45, "ambient_c": 22.5, "surface_c": 47.8, "hot_spot_c": 52.9, "material": "plastic", "where": "top face"}, {}],
            "notes": "Line one\n\n- line two"
        })
    }

    #[test]
    fn a_record_goes_to_the_form_and_back_unchanged() {
        let document_in = everything();
        let before = decode(&document_in.to_string()).expect("the example is a valid record");
        let fields = fields(&document_in);
        for (path, _) in fields.iter() {
            assert!(is_field(path), "{path}");
        }
        assert_eq!(record(&fields), before);
    }

    #[test]
    fn a_column_of_a_log_gets_no_port_that_it_does_not_name() {
        let mut document_in = everything();
        document_in["unit"]["ports"] = json!([{"label": "C1"}]);
        let fields = fields(&document_in);
        let columns = &document(&fields).value["logs"][0]["layout"]["columns"];
        assert_eq!(*columns, document_in["logs"][0]["layout"]["columns"]);
    }

    #[test]
    fn texts_with_units_become_numbers_in_si() {
        let fields = small(&[
            ("runs[0].name", "115 V"),
            ("runs[0].line.voltage_v", "115 V"),
            ("runs[0].line.frequency_hz", "60 Hz"),
            ("runs[0].no_load.power_w", "143 mW"),
            ("unit.price.amount", "59,00"),
            ("unit.price.currency", "eur"),
        ]);
        let record = record(&fields);
        assert_eq!(
            record.runs[0].no_load.as_ref().unwrap().power_w,
            Some(0.143)
        );
        let price = record.unit.price.unwrap();
        assert_eq!(
            (price.amount.as_str(), price.currency.as_str()),
            ("59.00", "EUR")
        );
    }

    #[test]
    fn what_cannot_be_read_is_left_out_and_named_at_its_field() {
        let fields = small(&[("unit.mass_g.adapter", "5 W"), ("unit.mass_g.cord", "12 g")]);
        let document = document(&fields);
        assert_eq!(document.unreadable.len(), 1);
        assert_eq!(document.unreadable[0].path, "unit.mass_g.adapter");
        assert_eq!(document.unreadable[0].value, "\"5 W\"");
        assert_eq!(document.value["unit"]["mass_g"], json!({"cord": 12}));
    }

    #[test]
    fn a_form_as_it_is_offered_makes_no_runs_and_no_rows() {
        let fields = small(&[
            ("runs[0].name", "115 V 60 Hz"),
            ("runs[0].line.voltage_v", "115"),
            ("runs[0].line.frequency_hz", "60"),
            ("runs[0].points[0].load_percent", "100"),
            ("runs[0].points[0].input.power_w", ""),
            ("runs[0].points[0].outputs[0].voltage_v", " "),
            ("instruments[0].quantity", "input_power_w"),
            ("unit.ports[0].modes[0].kind", "fixed"),
            ("unit.price.currency", "EUR"),
            ("overloads[0].port", ""),
        ]);
        let document = document(&fields);
        assert_eq!(
            document.value,
            json!({
                "format": FORMAT,
                "unit": {"maker": "Larkfield", "model": "LF-20", "nameplate": {"output_power_w": 20}, "ports": [{"label": "C1"}]}
            })
        );
    }

    #[test]
    fn a_problem_below_a_blank_row_is_shown_at_the_row_it_was_typed_in() {
        let fields = small(&[
            ("runs[0].name", "115"),
            ("runs[0].line.voltage_v", "115"),
            ("runs[0].line.frequency_hz", "60"),
            ("runs[0].points[0].load_percent", "100"),
            ("runs[0].points[1].load_percent", "75"),
            ("runs[0].points[1].input.power_w", "2000"),
        ]);
        let document = document(&fields);
        let problems = decode(&document.value.to_string()).expect_err("2000 W is out of bounds");
        assert_eq!(problems[0].path, "runs[0].points[0].input.power_w");
        assert_eq!(
            document.at_field(problems[0].clone()).path,
            "runs[0].points[1].input.power_w"
        );
        assert_eq!(
            document.field_path("unit.safety_marks[3]"),
            "unit.safety_marks"
        );
    }

    #[test]
    fn a_reading_without_a_port_belongs_to_the_port_rated_in_its_column() {
        let fields = small(&[
            ("unit.ports[1].label", "A1"),
            ("runs[0].name", "115"),
            ("runs[0].line.voltage_v", "115"),
            ("runs[0].line.frequency_hz", "60"),
            ("runs[0].rated_outputs[0].port", "C1"),
            ("runs[0].rated_outputs[0].voltage_v", "9"),
            ("runs[0].rated_outputs[0].current_a", "2"),
            ("runs[0].rated_outputs[1].port", "A1"),
            ("runs[0].rated_outputs[1].voltage_v", "5"),
            ("runs[0].rated_outputs[1].current_a", "1"),
            ("runs[0].points[0].load_percent", "100"),
            ("runs[0].points[0].outputs[1].voltage_v", "5.01"),
        ]);
        assert_eq!(record(&fields).runs[0].points[0].outputs[0].port, "A1");
    }

    #[test]
    fn with_one_port_no_row_needs_to_name_it() {
        let fields = small(&[("overloads[0].trip_current_a", "3.1 A")]);
        assert_eq!(record(&fields).overloads[0].port, "C1");
    }

    #[test]
    fn a_further_measurement_is_in_the_unit_of_its_quantity() {
        let value = |quantity: &str, text: &str| {
            let made = document(&small(&[
                ("measurements[0].quantity", quantity),
                ("measurements[0].value", text),
                ("measurements[0].accuracy", "1"),
            ]));
            (
                made.value["measurements"][0]["value"].clone(),
                made.unreadable,
            )
        };
        assert_eq!(value("ripple_mv", "0,074 V").0, Value::from(74));
        assert_eq!(value("touch_current_ua", "0.062 mA").0, Value::from(62));
        assert_eq!(value("hold_up_ms", "18 ms").0, Value::from(18));
        assert_eq!(value("inrush_a", "31").0, Value::from(31));
        assert_eq!(
            value("load_regulation_percent", "-1.5 %").0,
            Value::from(-1.5)
        );
        let (kept, unreadable) = value("ripple_mv", "74 ms");
        assert_eq!(kept, Value::Null);
        assert_eq!(unreadable[0].path, "measurements[0].value");
        assert!(unreadable[0].expected.contains("millivolts"));
        let unit = unit_at(
            &[("measurements[0].quantity".to_owned(), "inrush_a".to_owned())]
                .into_iter()
                .collect(),
            "measurements[0].accuracy",
        );
        assert_eq!(unit, Some(Unit::Ampere));
    }

    #[test]
    fn the_range_of_an_instrument_is_in_the_unit_of_its_quantity() {
        let row = |quantity, range| {
            document(&small(&[
                ("instruments[0].quantity", quantity),
                ("instruments[0].reading_percent", "0,1 %"),
                ("instruments[0].range", range),
            ]))
        };
        assert_eq!(row("input_power_w", "3 W").unreadable, []);
        assert_eq!(
            row("output_current_a", "3 W").unreadable[0].path,
            "instruments[0].range"
        );
    }

    #[test]
    fn a_text_for_another_kind_of_mode_is_said_not_lost() {
        let document = document(&small(&[
            ("unit.ports[0].modes[0].kind", "fixed"),
            ("unit.ports[0].modes[0].voltage_v", "5"),
            ("unit.ports[0].modes[0].current_a", "3"),
            ("unit.ports[0].modes[0].voltage_max_v", "21"),
        ]));
        assert_eq!(
            document.unreadable[0].path,
            "unit.ports[0].modes[0].voltage_max_v"
        );
    }

    #[test]
    fn only_fields_of_the_record_are_fields() {
        for path in [
            "unit.maker",
            "unit.size_mm[2]",
            "unit.safety_marks",
            "sharing[3].ports_in_use",
            "runs[0].pasted",
            "runs[12].points[3].outputs[1].voltage_v",
            "unit.ports[0].modes[1].kind",
            "unit.ports[0].modes[1].voltage_min_v",
            "temperatures[0].where",
            "runs[0].no_load.#",
            "notes",
        ] {
            assert!(is_field(path), "{path}");
        }
        for path in [
            "",
            "unit",
            "format",
            "unit.colour",
            "runs",
            "runs[0]",
            "runs[01].name",
            "runs[-1].name",
            "runs[999999999999].name",
            "unit.safety_marks[0]",
            "unit.maker.x",
            "csrf",
            "runs[0].points[0].pasted",
            "unit..maker",
            "runs[0]name",
        ] {
            assert!(!is_field(path), "{path}");
        }
    }

    #[test]
    fn rows_are_removed_and_inserted_with_all_that_is_under_them() {
        let mut fields = form(&[
            ("runs[0].name", "a"),
            ("runs[1].name", "b"),
            ("runs[1].points[0].load_percent", "100"),
            ("runs[2].name", "c"),
            ("runs[10].name", "k"),
        ]);
        assert_eq!(fields.rows("runs"), 11);
        fields.remove_row("runs", 0);
        assert_eq!(fields.text("runs[0].name"), "b");
        assert_eq!(fields.text("runs[0].points[0].load_percent"), "100");
        assert_eq!(fields.text("runs[9].name"), "k");
        fields.make_room("runs", 1);
        assert_eq!(fields.text("runs[2].name"), "c");
        assert!(!fields.has("runs[1].name"));
        assert_eq!(fields.rows("runs[0].points"), 1);
    }

    #[test]
    fn words_survive_being_joined() {
        for words in [
            vec!["a"],
            vec!["a, b", "c"],
            vec!["say \"hm\"", "two\nlines"],
            vec!["\""],
        ] {
            assert_eq!(split_words(&join_words(&words)), words);
        }
        assert_eq!(split_words(" ETL , CE\nUL "), ["ETL", "CE", "UL"]);
    }
}
