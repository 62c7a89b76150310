//! The bench form as a page shows it: every field with its label, unit, text and problem; every
//! list with its rows and the buttons that add and remove them.
//!
//! The order is that of the bench: label, ports, instruments, then run by run. A field's name is
//! its path in the record, so that the plain form is the whole protocol.

use super::bench_ports;
use crate::{
    bench::schema::{Field, Kind},
    evaluate::loading,
    intake::form::{self, Fields},
    quantity::written::{self, Unit},
    storage::photos::Photo,
    web::{pages::photos::within, urls},
};
use std::{
    cell::RefCell,
    collections::{BTreeMap, BTreeSet},
};

/// Problems by the path of their field.
pub type Problems = BTreeMap<String, String>;

/// One field, ready to show.
pub struct Input {
    pub path: String,
    pub id: String,
    pub label: String,
    /// Unit symbol; may be empty.
    pub unit: &'static str,
    pub hint: String,
    pub value: String,
    pub problem: String,
    pub control: Control,
    pub required: bool,
    pub focus: bool,
}

pub enum Control {
    Line {
        numeric: bool,
    },
    Date,
    /// (word, shown, chosen)
    Choice(Vec<(String, String, bool)>),
    Area {
        rows: u8,
    },
}

impl Input {
    /// Id of the list of words to choose from, where there is one.
    pub fn suggestions(&self) -> Option<&'static str> {
        if self.path.ends_with(".port") || self.path.ends_with(".attached") {
            Some("ports")
        } else if self.path.ends_with(".log") {
            Some("logs")
        } else {
            None
        }
    }

    /// Ids of what describes the field to a screen reader.
    pub fn described_by(&self) -> String {
        if self.hint.is_empty() {
            format!("{}-problem", self.id)
        } else {
            format!("{0}-hint {0}-problem", self.id)
        }
    }
}

/// Name and value of a button that changes the form's rows.
pub struct Button {
    pub action: String,
    pub label: String,
    /// Told to screen readers where the label alone does not say which row.
    pub full_label: String,
    /// Typing goes on here, because a row of its list was removed.
    pub focus: bool,
}

pub struct Row {
    pub id: String,
    pub inputs: Vec<Input>,
    pub remove: Button,
}

/// A list whose rows are all alike, as a table.
pub struct Table {
    pub id: String,
    pub caption: String,
    /// With units.
    pub columns: Vec<String>,
    pub rows: Vec<Row>,
    pub add: Button,
}

pub struct PortView {
    pub id: String,
    pub legend: String,
    pub inputs: Vec<Input>,
    /// A capability list that waits to be read.
    pub pasted: Input,
    pub read: Button,
    pub read_with_modes: Button,
    pub modes: Table,
    /// Put in the usual voltages of a rating.
    pub usual: Vec<Button>,
    pub remove: Button,
}

pub struct RunView {
    pub id: String,
    pub legend: String,
    pub inputs: Vec<Input>,
    pub rated: Table,
    /// "100 % is 5.000 A at C1" or what is needed to say so.
    pub target_note: String,
    pub points: PointTable,
    pub pasted: Input,
    /// What the columns of a pasted block without a heading mean, in order.
    pub paste_order: String,
    pub fill: Button,
    pub no_load: Vec<Input>,
    /// The section of the log that the no-load figure comes from.
    pub no_load_section: Option<SectionLink>,
    /// Load points whose readings come from logs.
    pub cuts: Vec<CutRow>,
    pub waveforms: Table,
    pub copy: Button,
    pub remove: Button,
}

/// A raw log that the record names. Its layout travels along unseen.
pub struct LogRow {
    pub id: String,
    pub name: String,
    pub size: String,
    /// Begin of the SHA-256.
    pub sha256: String,
    pub url: String,
    pub problem: String,
    pub remove: Button,
}

/// Room for a photo in its row, in pixels.
pub const IN_A_ROW: (u32, u32) = (144, 144);

/// A photo of the record. What it is travels along unseen.
pub struct PhotoRow {
    pub id: String,
    /// Of the row, such as `photos[0]`.
    pub path: String,
    pub sha256: String,
    pub width_px: String,
    pub height_px: String,
    /// "Photo 1"
    pub alt: String,
    pub full: String,
    pub thumbnail: String,
    /// Size that the thumbnail is shown in.
    pub width: u32,
    pub height: u32,
    pub at_hand: bool,
    pub caption: Input,
    pub problem: String,
    pub up: Move,
    pub down: Move,
    pub remove: Button,
}

impl PhotoRow {
    pub fn short_sha256(&self) -> String {
        self.sha256.chars().take(12).collect()
    }
}

/// A button that moves a row by one place.
pub struct Move {
    pub button: Button,
    /// The row stands at that end already.
    pub at_end: bool,
}

/// Where a section of a log is seen and cut anew; more can be added to the address's query.
pub struct SectionLink {
    pub url: String,
    pub label: String,
}

/// A load point whose readings come from a log.
pub struct CutRow {
    pub id: String,
    /// "100 %"
    pub load: String,
    pub inputs: Vec<Input>,
    pub link: Option<SectionLink>,
    pub detach: Button,
}

pub struct PointTable {
    pub id: String,
    pub caption: String,
    /// Headings of the columns for each output: its port, or its place.
    pub outputs: Vec<String>,
    pub rows: Vec<PointRow>,
    pub add: Button,
}

pub struct PointRow {
    pub id: String,
    pub name: String,
    pub load: Input,
    pub targets: Vec<Target>,
    pub inputs: Vec<Input>,
    pub outputs: Vec<OutputCells>,
    pub remove: Button,
}

/// The current to set the load to.
pub struct Target {
    pub id: String,
    pub port: String,
    pub text: String,
}

pub struct OutputCells {
    /// Shown only where the reading names another port than the column.
    pub port: Option<Input>,
    pub readings: Vec<Input>,
}

/// A box for cells of a spreadsheet and the button that puts them into a table.
pub struct Paste {
    pub input: Input,
    /// What the columns of a block without a heading mean, in order.
    pub order: String,
    pub fill: Button,
}

/// One overload test with its steps.
pub struct OverloadView {
    pub id: String,
    pub legend: String,
    pub inputs: Vec<Input>,
    pub steps: Table,
    pub paste: Paste,
    pub remove: Button,
}

pub struct SharingView {
    pub id: String,
    pub legend: String,
    pub inputs: Vec<Input>,
    pub offers: Table,
    pub remove: Button,
}

/// The whole form.
pub struct BenchForm {
    pub identity: Vec<Input>,
    pub nameplate: Vec<Input>,
    pub body: Vec<Input>,
    pub category: Vec<Input>,
    pub harmonic_class: Vec<Input>,
    pub logs: Vec<LogRow>,
    /// The keyboard goes on at the logs, because one was taken out.
    pub logs_focus: bool,
    pub ports: Vec<PortView>,
    pub add_port: Button,
    pub instruments: Table,
    pub runs: Vec<RunView>,
    pub add_run: Button,
    pub overloads: Vec<OverloadView>,
    pub add_overload: Button,
    pub sharing: Vec<SharingView>,
    pub add_sharing: Button,
    pub temperatures: Table,
    pub paste_temperatures: Paste,
    pub measurements: Table,
    pub cord: Vec<Input>,
    pub photos: Vec<PhotoRow>,
    /// The keyboard goes on at the photos, because one was taken out.
    pub photos_focus: bool,
    pub notes: Input,
    /// Stored texts that have no place of their own on the page travel along unseen.
    pub unseen: Vec<(String, String)>,
    /// Labels to choose from where a port is asked for.
    pub port_labels: Vec<String>,
    /// Names to choose from where a log is asked for.
    pub log_names: Vec<String>,
}

/// Id of a field's element, from its path.
pub fn id_of(path: &str) -> String {
    let mut id = String::with_capacity(path.len() + 2);
    id.push_str("f-");
    for c in path.chars() {
        match c {
            '.' | '[' => id.push('-'),
            ']' => {}
            c => id.push(c),
        }
    }
    id
}

/// Builds the view. `focus` is the path of the field (or list) where typing goes on.
pub fn view(fields: &Fields, problems: &Problems, focus: Option<&str>) -> BenchForm {
    let builder = Builder {
        fields,
        problems,
        focus,
        shown: RefCell::default(),
    };
    let mut form = BenchForm {
        identity: builder.inputs(
            "unit",
            &[
                "maker",
                "model",
                "sample",
                "acquired_on",
                "price.amount",
                "price.currency",
                "buy_url",
                "write_up_url",
            ],
        ),
        nameplate: builder.inputs(
            "unit.nameplate",
            &[
                "output_power_w",
                "input_voltage_min_v",
                "input_voltage_max_v",
                "input_current_a",
                "efficiency_mark",
                "max_ambient_c",
            ],
        ),
        body: builder.inputs(
            "unit",
            &[
                "safety_marks",
                "mass_g.adapter",
                "mass_g.cord",
                "mass_g.packaging",
                "size_mm[0]",
                "size_mm[1]",
                "size_mm[2]",
            ],
        ),
        category: builder.inputs("unit.category", &["value", "reason"]),
        harmonic_class: builder.inputs("unit.harmonic_class", &["value", "reason"]),
        logs: (0..fields.rows("logs"))
            .map(|row| builder.log(row))
            .collect(),
        logs_focus: focus == Some("logs"),
        ports: (0..fields.rows("unit.ports"))
            .map(|row| builder.port(row))
            .collect(),
        add_port: builder.add("unit.ports", "Add a port"),
        instruments: builder.table(
            "instruments",
            "Accuracy of the instruments, as their makers print it",
            &[
                "name",
                "quantity",
                "reading_percent",
                "range_percent",
                "range",
                "fixed",
            ],
            "Add an instrument row",
        ),
        runs: (0..fields.rows("runs"))
            .map(|row| builder.run(row))
            .collect(),
        add_run: builder.add("runs", "Add a run"),
        overloads: (0..fields.rows("overloads"))
            .map(|row| builder.overload(row))
            .collect(),
        add_overload: builder.add("overloads", "Add an overload test"),
        sharing: (0..fields.rows("sharing"))
            .map(|row| builder.sharing(row))
            .collect(),
        add_sharing: builder.add("sharing", "Add an observation of sharing"),
        temperatures: builder.table(
            "temperatures",
            "Temperatures",
            &[
                "load_w",
                "minutes",
                "ambient_c",
                "surface_c",
                "hot_spot_c",
                "material",
                "where",
            ],
            "Add a temperature",
        ),
        paste_temperatures: builder.paste(
            "temperatures",
            super::pasted_rows::temperature_order(),
            "Fill the table of temperatures",
        ),
        measurements: builder.table(
            "measurements",
            "Other measurements",
            &[
                "quantity",
                "value",
                "accuracy",
                "port",
                "voltage_v",
                "load_percent",
                "line_voltage_v",
                "note",
            ],
            "Add a measurement",
        ),
        cord: builder.inputs("unit.cord", &["length_m", "fixing", "resistance_mohm"]),
        photos: (0..fields.rows("photos"))
            .map(|row| builder.photo(row))
            .collect(),
        photos_focus: focus == Some("photos"),
        notes: builder.input("notes"),
        unseen: Vec::new(),
        port_labels: builder.port_labels(),
        log_names: log_names(fields),
    };
    let shown = builder.shown.into_inner();
    form.unseen = fields
        .iter()
        .filter(|(path, _)| !shown.contains(*path))
        .map(|(path, text)| (path.to_owned(), text.to_owned()))
        .collect();
    form
}

/// One field by itself, for pages that show a part of the form.
pub fn input(fields: &Fields, problems: &Problems, path: &str) -> Input {
    let builder = Builder {
        fields,
        problems,
        focus: None,
        shown: RefCell::default(),
    };
    builder.input(path)
}

fn remove(row: &str, what: &str) -> Button {
    Button {
        action: format!("remove:{row}"),
        label: "Remove".to_owned(),
        full_label: format!("Remove {what}"),
        focus: false,
    }
}

struct Builder<'a> {
    fields: &'a Fields,
    problems: &'a Problems,
    focus: Option<&'a str>,
    shown: RefCell<BTreeSet<String>>,
}

impl Builder<'_> {
    fn add(&self, list: &str, label: &str) -> Button {
        Button {
            action: format!("add:{list}"),
            label: label.to_owned(),
            full_label: label.to_owned(),
            focus: self.focus == Some(list),
        }
    }

    fn inputs(&self, parent: &str, keys: &[&str]) -> Vec<Input> {
        keys.iter()
            .map(|key| self.input(&format!("{parent}.{key}")))
            .collect()
    }

    fn input(&self, path: &str) -> Input {
        self.shown.borrow_mut().insert(path.to_owned());
        let field = form::described(path);
        let value = self.fields.text(path).to_owned();
        let unit = form::unit_at(self.fields, path).map_or("", Unit::symbol);
        let control = match field.map(|field| &field.kind) {
            None if path.ends_with(".kind") => choice(&["fixed", "pps", "avs"], &value),
            None => Control::Area { rows: 4 },
            Some(Kind::Choice(words)) => choice(words, &value),
            Some(Kind::EfficiencyMark) => choice(
                &["I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X"],
                &value,
            ),
            Some(Kind::Date) => Control::Date,
            Some(Kind::LongText(most)) => Control::Area {
                rows: if *most > 10_000 { 10 } else { 2 },
            },
            // Eleven objects of ten characters do not fit on a line.
            Some(Kind::List(list)) if matches!(list.item, Kind::Word32) => {
                Control::Area { rows: 3 }
            }
            Some(Kind::List(list)) if !matches!(list.item, Kind::Number(_)) => {
                Control::Line { numeric: false }
            }
            Some(Kind::Number(_) | Kind::List(_) | Kind::Decimal) => {
                Control::Line { numeric: true }
            }
            Some(_) => Control::Line { numeric: false },
        };
        Input {
            id: id_of(path),
            label: label_of(path, field),
            unit,
            hint: hint_of(path, field),
            problem: self.problems.get(path).cloned().unwrap_or_default(),
            control,
            required: field.is_some_and(|field| field.required)
                && !path.contains('[')
                && !path.starts_with("unit.category")
                && !path.starts_with("unit.harmonic_class")
                && !path.starts_with("unit.price"),
            focus: self.focus == Some(path),
            path: path.to_owned(),
            value,
        }
    }

    fn table(&self, list: &str, caption: &str, keys: &[&str], add_label: &str) -> Table {
        let rows = (0..self.fields.rows(list))
            .map(|row| {
                let row_path = format!("{list}[{row}]");
                Row {
                    id: id_of(&row_path),
                    inputs: self.inputs(&row_path, keys),
                    remove: remove(&row_path, &place_words(&row_path)),
                }
            })
            .collect();
        let columns = keys
            .iter()
            .map(|key| {
                let path = format!("{list}[0].{key}");
                let label = label_of(&path, form::described(&path));
                match form::unit_at(&Fields::new(), &path).map_or("", Unit::symbol) {
                    "" => label,
                    unit => format!("{label} ({unit})"),
                }
            })
            .collect();
        Table {
            id: id_of(list),
            caption: caption.to_owned(),
            columns,
            rows,
            add: self.add(list, add_label),
        }
    }

    fn port(&self, row: usize) -> PortView {
        let path = format!("unit.ports[{row}]");
        let label = self.fields.text(&format!("{path}.label")).trim().to_owned();
        PortView {
            id: id_of(&path),
            legend: if label.is_empty() {
                format!("Port {}", row + 1)
            } else {
                format!("Port {}: {label}", row + 1)
            },
            inputs: self.inputs(
                &path,
                &[
                    "label",
                    "connector",
                    "power_w",
                    "share_group",
                    "source_capabilities",
                ],
            ),
            pasted: self.input(&format!("{path}.{}", form::PASTED)),
            read: Button {
                action: format!("fill:{path}"),
                label: "Read the list".to_owned(),
                full_label: format!("Read the list of port {}", row + 1),
                focus: false,
            },
            read_with_modes: Button {
                action: format!("fill-modes:{path}"),
                label: "Read the list and add its voltages".to_owned(),
                full_label: format!("Read the list of port {} and add its voltages", row + 1),
                focus: false,
            },
            usual: bench_ports::usual(self.fields, &path)
                .into_iter()
                .map(|(action, label)| Button {
                    full_label: format!("{label}, port {}", row + 1),
                    action,
                    label,
                    focus: false,
                })
                .collect(),
            modes: self.table(
                &format!("{path}.modes"),
                "Voltages it offers",
                &[
                    "kind",
                    "voltage_v",
                    "voltage_min_v",
                    "voltage_max_v",
                    "current_a",
                ],
                "Add a voltage",
            ),
            remove: remove(&path, &format!("port {}", row + 1)),
        }
    }

    fn run(&self, row: usize) -> RunView {
        let path = format!("runs[{row}]");
        let name = self.fields.text(&format!("{path}.name")).trim().to_owned();
        let legend = if name.is_empty() {
            format!("Run {}", row + 1)
        } else {
            format!("Run {}: {name}", row + 1)
        };
        let rated = rating(self.fields, &path);
        let outputs: Vec<String> = (0..output_columns(self.fields, &path))
            .map(
                |column| match rated.outputs.get(column).map(|o| o.port.as_str()) {
                    Some(port) if !port.is_empty() => port.to_owned(),
                    _ => self
                        .only_port()
                        .unwrap_or_else(|| format!("Output {}", column + 1)),
                },
            )
            .collect();
        let list = format!("{path}.points");
        let points = PointTable {
            id: id_of(&list),
            caption: format!("Load points of run {}", row + 1),
            rows: (0..self.fields.rows(&list))
                .map(|point| self.point(&path, point, &outputs, &rated))
                .collect(),
            outputs: outputs.clone(),
            add: self.add(&list, "Add a load point"),
        };
        RunView {
            id: id_of(&path),
            legend,
            inputs: self.inputs(
                &path,
                &[
                    "name",
                    "tested_on",
                    "ambient_c",
                    "line.voltage_v",
                    "line.frequency_hz",
                ],
            ),
            rated: self.table(
                &format!("{path}.rated_outputs"),
                "What 100 % load is: the outputs loaded together in this run",
                &["port", "voltage_v", "current_a"],
                "Add an output",
            ),
            target_note: rated.note(),
            points,
            pasted: self.input(&format!("{path}.{}", form::PASTED)),
            paste_order: super::pasted::order(&outputs).join(", "),
            fill: Button {
                action: format!("fill:{path}"),
                label: "Fill the table".to_owned(),
                full_label: format!("Fill the table of run {}", row + 1),
                focus: false,
            },
            no_load: self.inputs(
                &format!("{path}.no_load"),
                &[
                    "power_w",
                    "current_a",
                    "power_factor",
                    "current_peak_a",
                    "log",
                    "log_from_s",
                    "log_to_s",
                ],
            ),
            no_load_section: self.section_link(
                &format!("{path}.no_load"),
                &format!("{row}:no_load"),
                "no load",
            ),
            cuts: (0..self.fields.rows(&list))
                .filter_map(|point| self.cut(row, point))
                .collect(),
            waveforms: self.table(
                &format!("{path}.waveforms"),
                "Waveforms of line voltage and current",
                &["log", "load_percent", "log_from_s", "log_to_s"],
                "Add a waveform",
            ),
            copy: Button {
                action: format!("copy:{path}"),
                label: "Copy this run's set-up".to_owned(),
                full_label: format!(
                    "Copy the set-up of run {}, without readings, to a new run",
                    row + 1
                ),
                focus: false,
            },
            remove: remove(&path, &format!("run {}", row + 1)),
        }
    }

    fn point(&self, run: &str, row: usize, outputs: &[String], rated: &Rating) -> PointRow {
        let path = format!("{run}.points[{row}]");
        let load_path = format!("{path}.load_percent");
        let load = number_at(self.fields, &load_path);
        let mut inputs = self.inputs(
            &format!("{path}.input"),
            &[
                "voltage_v",
                "current_a",
                "power_w",
                "power_factor",
                "current_thd_percent",
                "current_peak_a",
            ],
        );
        let mut cells = Vec::new();
        for (column, name) in outputs.iter().enumerate() {
            let output = format!("{path}.outputs[{column}]");
            let port_path = format!("{output}.port");
            let port =
                (!self.fields.text(&port_path).trim().is_empty()).then(|| self.input(&port_path));
            let mut readings = self.inputs(&output, &["voltage_v", "current_a"]);
            for reading in &mut readings {
                reading.label = format!("{} {}", name, reading.label.to_lowercase());
            }
            cells.push(OutputCells { port, readings });
        }
        for input in inputs
            .iter_mut()
            .chain(cells.iter_mut().flat_map(|c| c.readings.iter_mut()))
        {
            input.hint = String::new();
        }
        let mut load_input = self.input(&load_path);
        load_input.hint = String::new();
        PointRow {
            id: id_of(&path),
            name: format!("point {}", row + 1),
            load: load_input,
            targets: outputs
                .iter()
                .enumerate()
                .map(|(column, port)| Target {
                    id: id_of(&format!("{path}.target[{column}]")),
                    port: port.clone(),
                    text: rated.target(column, load),
                })
                .collect(),
            inputs,
            outputs: cells,
            remove: remove(&path, &format!("point {}", row + 1)),
        }
    }

    fn log(&self, row: usize) -> LogRow {
        let path = format!("logs[{row}]");
        let text = |key: &str| self.fields.text(&format!("{path}.{key}")).trim().to_owned();
        let (name, sha256) = (text("name"), text("sha256"));
        LogRow {
            id: id_of(&path),
            size: text("size_bytes")
                .parse()
                .map_or_else(|_| text("size_bytes"), crate::web::format::bytes),
            url: urls::desk_log(&sha256),
            sha256: sha256.chars().take(12).collect(),
            problem: self.problems.get(&path).cloned().unwrap_or_default(),
            remove: remove(&path, &format!("the log {name}")),
            name,
        }
    }

    fn photo(&self, row: usize) -> PhotoRow {
        let path = format!("photos[{row}]");
        let text = |key: &str| {
            let path = format!("{path}.{key}");
            let text = self.fields.text(&path).trim().to_owned();
            self.shown.borrow_mut().insert(path);
            text
        };
        let (sha256, width_px, height_px) = (text("sha256"), text("width_px"), text("height_px"));
        let (width, height) = match (width_px.parse(), height_px.parse()) {
            (Ok(width), Ok(height)) => within(width, height, IN_A_ROW),
            _ => (1, 1),
        };
        let alt = format!("Photo {}", row + 1);
        let moved = |verb: &str, label: &str, at_end| Move {
            button: Button {
                action: format!("{verb}:{path}"),
                label: label.to_owned(),
                full_label: format!("{label}, photo {}", row + 1),
                focus: self.focus == Some(&format!("{path}.{verb}")),
            },
            at_end,
        };
        PhotoRow {
            id: id_of(&path),
            full: urls::desk_photo(&sha256),
            thumbnail: urls::desk_thumbnail(&sha256),
            width,
            height,
            at_hand: true,
            caption: self.input(&format!("{path}.caption")),
            problem: self.problems.get(&path).cloned().unwrap_or_default(),
            up: moved("up", "Up", row == 0),
            down: moved("down", "Down", row + 1 >= self.fields.rows("photos")),
            remove: remove(&path, &format!("photo {}", row + 1)),
            path,
            sha256,
            width_px,
            height_px,
            alt,
        }
    }

    /// Leads from a section to its log, if the record names it.
    fn section_link(&self, section: &str, place: &str, what: &str) -> Option<SectionLink> {
        let text = |key: &str| self.fields.text(&format!("{section}.{key}")).trim();
        let log = log_of_name(self.fields, text("log"))?;
        let sha256 = self.fields.text(&format!("logs[{log}].sha256")).trim();
        let mut query = urls::Query::new().with("place", place);
        for (name, key) in [("from", "log_from_s"), ("to", "log_to_s")] {
            if !text(key).is_empty() {
                query.push(name, text(key));
            }
        }
        Some(SectionLink {
            url: query.on(&urls::desk_log(sha256)),
            label: format!("See the section of {}, {what}", text("log")),
        })
    }

    fn cut(&self, run: usize, point: usize) -> Option<CutRow> {
        let path = format!("runs[{run}].points[{point}]");
        let keys = ["log", "log_from_s", "log_to_s"];
        keys.iter()
            .any(|key| !self.fields.text(&format!("{path}.{key}")).trim().is_empty())
            .then(|| {
                let load = self.fields.text(&format!("{path}.load_percent")).trim();
                CutRow {
                    id: id_of(&format!("{path}.log-row")),
                    load: format!("{} %", load.trim_end_matches('%').trim_end()),
                    inputs: self.inputs(&path, &keys),
                    link: self.section_link(
                        &path,
                        &format!("{run}:point:{point}"),
                        &format!("point {}", point + 1),
                    ),
                    detach: Button {
                        action: format!("detach:{path}"),
                        label: "Take away".to_owned(),
                        full_label: format!("Take the log away from point {}", point + 1),
                        focus: false,
                    },
                }
            })
    }

    fn paste(&self, path: &str, order: String, full_label: &str) -> Paste {
        Paste {
            input: self.input(&format!("{path}.{}", form::PASTED)),
            order,
            fill: Button {
                action: format!("fill:{path}"),
                label: "Fill the table".to_owned(),
                full_label: full_label.to_owned(),
                focus: false,
            },
        }
    }

    fn overload(&self, row: usize) -> OverloadView {
        let path = format!("overloads[{row}]");
        let text = |key: &str| self.fields.text(&format!("{path}.{key}")).trim().to_owned();
        let (port, voltage) = (text("port"), text("voltage_v"));
        let what = match (port.as_str(), voltage.trim_end_matches(['V', 'v', ' '])) {
            ("", "") => String::new(),
            (port, "") => format!(": {port}"),
            ("", volts) => format!(": {volts} V"),
            (port, volts) => format!(": {port} at {volts} V"),
        };
        OverloadView {
            id: id_of(&path),
            legend: format!("Overload test {}{what}", row + 1),
            inputs: self.inputs(
                &path,
                &[
                    "port",
                    "voltage_v",
                    "rated_current_a",
                    "trip_current_a",
                    "last_good_power_w",
                    "protection",
                    "recovery",
                    "recovery_s",
                    "other_ports",
                    "short_circuit_input_power_w",
                    "line_voltage_v",
                ],
            ),
            steps: self.table(
                &format!("{path}.steps"),
                "The load raised step by step",
                &["set_current_a", "current_a", "voltage_v", "state", "held_s"],
                "Add a step",
            ),
            paste: self.paste(
                &path,
                super::pasted_rows::step_order(),
                &format!("Fill the steps of overload test {}", row + 1),
            ),
            remove: remove(&path, &format!("overload test {}", row + 1)),
        }
    }

    fn sharing(&self, row: usize) -> SharingView {
        let path = format!("sharing[{row}]");
        SharingView {
            id: id_of(&path),
            legend: format!("Sharing, observation {}", row + 1),
            inputs: self.inputs(
                &path,
                &[
                    "ports_in_use",
                    "attached",
                    "on_attach",
                    "on_detach",
                    "reset_ports",
                    "interruption_ms",
                    "lowest_voltage_v",
                    "delivered_power_w",
                    "note",
                ],
            ),
            offers: self.table(
                &format!("{path}.offers"),
                "What each port then offers",
                &["port", "power_w", "voltage_max_v"],
                "Add an offer",
            ),
            remove: remove(&path, &format!("observation {}", row + 1)),
        }
    }

    fn port_labels(&self) -> Vec<String> {
        (0..self.fields.rows("unit.ports"))
            .map(|row| {
                self.fields
                    .text(&format!("unit.ports[{row}].label"))
                    .trim()
                    .to_owned()
            })
            .filter(|label| !label.is_empty())
            .collect()
    }

    fn only_port(&self) -> Option<String> {
        let mut labels = self.port_labels();
        if labels.len() == 1 {
            labels.pop()
        } else {
            None
        }
    }
}

/// Names of the logs that the record lists.
pub fn log_names(fields: &Fields) -> Vec<String> {
    (0..fields.rows("logs"))
        .map(|row| fields.text(&format!("logs[{row}].name")).trim().to_owned())
        .filter(|name| !name.is_empty())
        .collect()
}

/// The row of the log of this name.
fn log_of_name(fields: &Fields, name: &str) -> Option<usize> {
    (0..fields.rows("logs"))
        .find(|row| !name.is_empty() && fields.text(&format!("logs[{row}].name")).trim() == name)
}

/// Outputs that the points table of a run has columns for.
pub fn output_columns(fields: &Fields, run: &str) -> usize {
    let points = format!("{run}.points");
    let most = (0..fields.rows(&points))
        .map(|point| fields.rows(&format!("{points}[{point}].outputs")))
        .max()
        .unwrap_or(0);
    most.max(fields.rows(&format!("{run}.rated_outputs")))
        .max(1)
}

struct RatedOutput {
    port: String,
    voltage_v: Option<f64>,
    current_a: Option<f64>,
}

/// The 100 % condition of a run as typed so far.
struct Rating {
    outputs: Vec<RatedOutput>,
    nameplate_w: Option<f64>,
}

fn rating(fields: &Fields, run: &str) -> Rating {
    let list = format!("{run}.rated_outputs");
    Rating {
        outputs: (0..fields.rows(&list))
            .map(|row| RatedOutput {
                port: fields
                    .text(&format!("{list}[{row}].port"))
                    .trim()
                    .to_owned(),
                voltage_v: number_at(fields, &format!("{list}[{row}].voltage_v")),
                current_a: number_at(fields, &format!("{list}[{row}].current_a")),
            })
            .collect(),
        nameplate_w: number_at(fields, "unit.nameplate.output_power_w"),
    }
}

impl Rating {
    /// D, the share of its rated current that each port is loaded with when all ports together are
    /// rated above the nameplate (10 CFR 430 Appendix Z, proportional allocation); 1 otherwise.
    fn allocation(&self) -> f64 {
        let together: f64 = self
            .outputs
            .iter()
            .filter_map(|o| Some(o.voltage_v? * o.current_a?))
            .sum();
        self.nameplate_w
            .map_or(1.0, |nameplate| loading::allocation(nameplate, together))
    }

    /// Current in amperes to the milliampere; empty where the rating or the load is not known.
    fn target(&self, column: usize, load_percent: Option<f64>) -> String {
        let current = self.outputs.get(column).and_then(|output| output.current_a);
        match (current, load_percent) {
            (Some(current), Some(load)) => {
                let current = loading::load_current_a(load, current, self.allocation());
                format!("{} A", loading::to_milliampere(current))
            }
            _ => String::new(),
        }
    }

    fn note(&self) -> String {
        let allocation = self.allocation();
        if self.outputs.iter().all(|o| o.current_a.is_none()) {
            "Give the rated outputs, and the current to set at each load is shown here.".to_owned()
        } else if allocation < 1.0 {
            format!(
                "The ports together are rated above the nameplate, so each is loaded with {:.2} % of its rated current (nameplate power / sum of the ports' V × I).",
                allocation * 100.0
            )
        } else {
            "Set the load to these currents.".to_owned()
        }
    }
}

/// Target currents by the id of the element that shows them.
pub fn targets(fields: &Fields) -> BTreeMap<String, String> {
    let mut out = BTreeMap::new();
    for run in 0..fields.rows("runs") {
        let run = format!("runs[{run}]");
        let rated = rating(fields, &run);
        for point in 0..fields.rows(&format!("{run}.points")) {
            let load = number_at(fields, &format!("{run}.points[{point}].load_percent"));
            for column in 0..output_columns(fields, &run) {
                let id = id_of(&format!("{run}.points[{point}].target[{column}]"));
                out.insert(id, rated.target(column, load));
            }
        }
    }
    out
}

/// The number typed at a path, in the field's unit; `None` if nothing readable stands there.
pub fn number_at(fields: &Fields, path: &str) -> Option<f64> {
    let unit = form::unit_at(fields, path)?;
    let allowed = match form::described(path)?.kind {
        Kind::Number(number) => number.min..=number.max,
        _ => f64::MIN..=f64::MAX,
    };
    written::parse(fields.text(path), unit, allowed).ok()
}

fn choice(words: &[&str], chosen: &str) -> Control {
    let mut options = vec![(String::new(), "—".to_owned(), chosen.is_empty())];
    options.extend(
        words
            .iter()
            .map(|word| ((*word).to_owned(), shown_word(word), *word == chosen)),
    );
    if !chosen.is_empty() && !words.contains(&chosen) {
        options.push((chosen.to_owned(), chosen.to_owned(), true));
    }
    Control::Choice(options)
}

/// A word of the format as people read it.
fn shown_word(word: &str) -> String {
    match word {
        "usb-c" => "USB-C".to_owned(),
        "usb-a" => "USB-A".to_owned(),
        "pps" => "PPS range".to_owned(),
        "avs" => "AVS range".to_owned(),
        "auto" => "by itself".to_owned(),
        "replug" => "after replugging the load".to_owned(),
        "mains" => "after switching the mains off and on".to_owned(),
        "none" => "none".to_owned(),
        "input_power_w" => "input power".to_owned(),
        "no_load_power_w" => "no-load power".to_owned(),
        "input_voltage_v" => "input voltage".to_owned(),
        "input_current_a" => "input current".to_owned(),
        "output_voltage_v" => "output voltage".to_owned(),
        "output_current_a" => "output current".to_owned(),
        "temperature_c" => "temperature".to_owned(),
        "ripple_mv" => "ripple and noise, mV".to_owned(),
        "load_regulation_percent" => "load regulation, %".to_owned(),
        "line_regulation_percent" => "line regulation, %".to_owned(),
        "turn_on_delay_ms" => "turn-on delay, ms".to_owned(),
        "hold_up_ms" => "hold-up time, ms".to_owned(),
        "inrush_a" => "inrush current, A".to_owned(),
        "touch_current_ua" => "leakage (touch) current, µA".to_owned(),
        "acoustic_noise_dba" => "acoustic noise, dB(A)".to_owned(),
        "cycling" => "off and on by itself".to_owned(),
        "shut-off" => "shut-off".to_owned(),
        word => word.replace('-', " "),
    }
}

fn label_of(path: &str, field: Option<&'static Field>) -> String {
    let label = match path {
        "unit.price.amount" => "price",
        "unit.mass_g.adapter" => "mass, adapter",
        "unit.mass_g.cord" => "mass, cord",
        "unit.mass_g.packaging" => "mass, packaging",
        "unit.size_mm[0]" => "size, first edge",
        "unit.size_mm[1]" => "second edge",
        "unit.size_mm[2]" => "third edge",
        "unit.cord.length_m" => "cord, length",
        "unit.cord.fixing" => "cord, fixing",
        "unit.cord.resistance_mohm" => "cord, resistance",
        path if path.ends_with(".kind") => "kind",
        path if path.starts_with("unit.ports") && path.ends_with(form::PASTED) => {
            "a capability list in hexadecimal digits"
        }
        path if path.ends_with(form::PASTED) => "cells from a spreadsheet",
        _ => field.map_or("", |field| field.label),
    };
    let mut letters = label.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

fn hint_of(path: &str, field: Option<&'static Field>) -> String {
    match path {
        "unit.safety_marks" => "as printed on the label, separated by commas".to_owned(),
        "unit.price.amount" => "what you paid, such as 59.00".to_owned(),
        "unit.size_mm[0]" => "three edges without the cord".to_owned(),
        "unit.size_mm[1]" | "unit.size_mm[2]" => String::new(),
        path if path.ends_with(".source_capabilities") => {
            "raw power data objects such as 0x0801912C, separated by commas".to_owned()
        }
        path if path.starts_with("unit.ports") && path.ends_with(form::PASTED) => {
            "power data objects such as 0x0801912C 0x0002D12C, or a whole message byte by byte, such as A1 71 2C 91 …; the chunks of an extended list one after the other".to_owned()
        }
        path if path.ends_with(".ports_in_use") => "port labels, separated by commas".to_owned(),
        path if path.ends_with(".reset_ports") => {
            "labels of the ports that were reset or lost, separated by commas".to_owned()
        }
        path if path.ends_with(".log") => "file name of the raw log".to_owned(),
        _ => field.map_or(String::new(), |field| field.help.to_owned()),
    }
}

/// A path as a person says it: "run 1, point 2, input power".
pub fn place_words(path: &str) -> String {
    let mut words: Vec<String> = Vec::new();
    let mut so_far = String::new();
    for part in path.split('.') {
        let (key, index) = match part.split_once('[') {
            Some((key, index)) => (key, index.trim_end_matches(']').parse::<usize>().ok()),
            None => (part, None),
        };
        if !so_far.is_empty() {
            so_far.push('.');
        }
        so_far.push_str(key);
        let field = form::described(&so_far);
        match (index, field.map(|field| &field.kind)) {
            (Some(index), Some(Kind::List(list))) => {
                words.push(format!("{} {}", list.noun, index + 1))
            }
            (Some(index), _) => words.push(format!("{key} {}", index + 1)),
            (None, Some(Kind::Object(_))) if !matches!(key, "nameplate" | "no_load") => {}
            (None, Some(_)) => words.push(field.map_or(key, |field| field.label).to_owned()),
            (None, None) => words.push(key.replace('_', " ")),
        }
        if let Some(index) = index {
            so_far.push_str(&format!("[{index}]"));
        }
    }
    words.join(", ")
}

// ---- what the buttons do ----

/// What came of a button.
#[derive(Debug)]
pub struct Pressed {
    /// Path of the field, or list, where typing goes on.
    pub focus: String,
    /// Something that the tester must know of it.
    pub said: Option<String>,
}

/// Changes the rows as a button says; `None` for a button that is none of the form's.
pub fn press(fields: &mut Fields, action: &str) -> Option<Result<Pressed, String>> {
    let (verb, path) = action.split_once(':')?;
    match verb {
        "add" => add_row(fields, path).map(|focus| Ok(Pressed { focus, said: None })),
        "remove" if path.starts_with("logs[") => remove_log(fields, path).map(Ok),
        "remove" if path.starts_with("photos[") => {
            remove_photo(fields, path).map(|focus| Ok(Pressed { focus, said: None }))
        }
        "up" | "down" => {
            move_photo(fields, path, verb).map(|focus| Ok(Pressed { focus, said: None }))
        }
        "remove" => remove_row(fields, path).map(|focus| Ok(Pressed { focus, said: None })),
        "detach" => detach(fields, path).map(|focus| Ok(Pressed { focus, said: None })),
        "copy" => copy_run(fields, path).map(|focus| Ok(Pressed { focus, said: None })),
        "fill" | "fill-modes" if path.starts_with("unit.ports[") => {
            Some(bench_ports::read(fields, path, verb == "fill-modes"))
        }
        "usual" => bench_ports::add_usual(fields, path).map(Ok),
        "fill" => Some(filled_from(fields, path).map(|filled| Pressed {
            focus: filled.at,
            said: (!filled.left_out.is_empty()).then(|| {
                format!(
                    "Filled, without the columns that have no place here: {}.",
                    filled.left_out.join(", ")
                )
            }),
        })),
        _ => None,
    }
}

fn filled_from(fields: &mut Fields, path: &str) -> Result<super::pasted::Filled, String> {
    if path.starts_with("runs[") {
        super::pasted::fill(fields, path)
    } else {
        super::pasted_rows::fill(fields, path)
    }
}

/// First field of a row, where typing begins.
fn first_key(list: &str) -> Option<&'static str> {
    let last = list.rsplit('.').next()?;
    Some(match last {
        "ports" => "label",
        "modes" => "kind",
        "instruments" | "runs" => "name",
        "rated_outputs" | "overloads" | "offers" => "port",
        "points" => "load_percent",
        "sharing" => "ports_in_use",
        "temperatures" => "load_w",
        "steps" => "set_current_a",
        "measurements" => "quantity",
        "waveforms" => "log",
        _ => return None,
    })
}

fn add_row(fields: &mut Fields, list: &str) -> Option<String> {
    let key = first_key(list)?;
    let row = fields.rows(list);
    let path = format!("{list}[{row}].{key}");
    if !form::is_field(&path) {
        return None;
    }
    fields.set(path.clone(), if key == "kind" { "fixed" } else { "" });
    match list {
        "runs" => offer_points(fields, row),
        "unit.ports" => fields.set(format!("{list}[{row}].modes[0].kind"), "fixed"),
        _ => {}
    }
    Some(path)
}

/// Gives a new run the load points of the method and an output row.
pub fn offer_points(fields: &mut Fields, run: usize) {
    for (row, load) in ["100", "75", "50", "25", "10"].iter().enumerate() {
        fields.set(format!("runs[{run}].points[{row}].load_percent"), *load);
    }
    fields.set(format!("runs[{run}].rated_outputs[0].port"), "");
}

fn split_row(path: &str) -> Option<(&str, usize)> {
    let (list, index) = path.strip_suffix(']')?.rsplit_once('[')?;
    Some((list, index.parse().ok()?))
}

fn remove_row(fields: &mut Fields, path: &str) -> Option<String> {
    let (list, row) = split_row(path)?;
    first_key(list)?;
    let rows = fields.rows(list);
    if row < rows {
        // The readings of a rated output stand in the same column of the points.
        if let Some(run) = list.strip_suffix(".rated_outputs") {
            for point in 0..fields.rows(&format!("{run}.points")) {
                fields.remove_row(&format!("{run}.points[{point}].outputs"), row);
            }
        }
        fields.remove_row(list, row);
    }
    Some(list.to_owned())
}

/// Takes a log out of the record, with every section that was cut from it.
fn remove_log(fields: &mut Fields, path: &str) -> Option<Pressed> {
    let (list, row) = split_row(path)?;
    if list != "logs" || row >= fields.rows("logs") {
        return None;
    }
    let name = fields.text(&format!("{path}.name")).trim().to_owned();
    fields.remove_row("logs", row);
    let mut sections = 0;
    if !name.is_empty() {
        for run in 0..fields.rows("runs") {
            let points = (0..fields.rows(&format!("runs[{run}].points")))
                .map(|point| format!("runs[{run}].points[{point}]"));
            let places: Vec<String> = points
                .chain([format!("runs[{run}].no_load")])
                .filter(|place| fields.text(&format!("{place}.log")).trim() == name)
                .collect();
            for place in places {
                clear_section(fields, &place);
                sections += 1;
            }
            let waveforms = format!("runs[{run}].waveforms");
            for row in (0..fields.rows(&waveforms)).rev() {
                if fields.text(&format!("{waveforms}[{row}].log")).trim() == name {
                    fields.remove_row(&waveforms, row);
                    sections += 1;
                }
            }
        }
    }
    Some(Pressed {
        focus: "logs".to_owned(),
        said: (sections > 0).then(|| {
            format!(
                "Took {name} out of this record, with {} cut from it. The file itself is kept under Logs.",
                crate::web::format::counted(sections, "section", "sections")
            )
        }),
    })
}

/// The row of one photo alone, for the script that has uploaded it.
pub fn photo_row(fields: &Fields, row: usize) -> PhotoRow {
    let builder = Builder {
        fields,
        problems: &Problems::new(),
        focus: None,
        shown: RefCell::default(),
    };
    builder.photo(row)
}

/// Writes what a kept photo is into a row.
pub fn put_photo(fields: &mut Fields, row: usize, photo: &Photo) {
    let path = format!("photos[{row}]");
    fields.set(format!("{path}.sha256"), photo.sha256.as_str());
    fields.set(format!("{path}.width_px"), photo.width_px.to_string());
    fields.set(format!("{path}.height_px"), photo.height_px.to_string());
    fields.set(format!("{path}.caption"), "");
}

/// Appends photos that were uploaded; those that were refused are told.
///
/// # Errors
/// None was chosen, or none could be taken.
pub fn add_photos(
    fields: &mut Fields,
    taken: &[Photo],
    refused: &[String],
) -> Result<Pressed, String> {
    let first = fields.rows("photos");
    for (row, photo) in (first..).zip(taken) {
        put_photo(fields, row, photo);
    }
    match (taken, refused) {
        ([], []) => Err("No photo was chosen, so none was uploaded.".to_owned()),
        ([], refused) => Err(refused.join(" ")),
        (_, refused) => Ok(Pressed {
            focus: format!("photos[{first}].caption"),
            said: (!refused.is_empty()).then(|| refused.join(" ")),
        }),
    }
}

/// Takes a photo out of the record; the picture itself stays until it is deleted at the desk.
fn remove_photo(fields: &mut Fields, path: &str) -> Option<String> {
    let (list, row) = split_row(path)?;
    if list != "photos" || row >= fields.rows("photos") {
        return None;
    }
    fields.remove_row("photos", row);
    Some("photos".to_owned())
}

/// Exchanges a photo with the one before or after it. The keyboard stays on the button as long as
/// the photo can go on that way.
fn move_photo(fields: &mut Fields, path: &str, verb: &str) -> Option<String> {
    let (list, row) = split_row(path)?;
    let rows = fields.rows("photos");
    let to = match verb {
        "up" => row.checked_sub(1)?,
        _ => row + 1,
    };
    if list != "photos" || row >= rows || to >= rows {
        return None;
    }
    let moved = [
        (row, to, fields.row("photos", row)),
        (to, row, fields.row("photos", to)),
    ];
    for (from, _, texts) in &moved {
        for (rest, _) in texts {
            fields.remove(&format!("photos[{from}]{rest}"));
        }
    }
    for (_, to, texts) in moved {
        for (rest, text) in texts {
            fields.set(format!("photos[{to}]{rest}"), text);
        }
    }
    let goes_on = match to {
        0 => "down",
        to if to + 1 == rows => "up",
        _ => verb,
    };
    Some(format!("photos[{to}].{goes_on}"))
}

fn clear_section(fields: &mut Fields, place: &str) {
    for key in ["log", "log_from_s", "log_to_s"] {
        fields.remove(&format!("{place}.{key}"));
    }
}

/// A load point is typed again instead of coming from a log.
fn detach(fields: &mut Fields, path: &str) -> Option<String> {
    let (list, row) = split_row(path)?;
    let run = list.strip_suffix(".points")?;
    let (runs, _) = split_row(run)?;
    if runs != "runs" || row >= fields.rows(list) {
        return None;
    }
    clear_section(fields, path);
    Some(format!("{path}.load_percent"))
}

/// A new run after this one with its line, outputs and load points, but without readings: what was
/// not measured is not there.
fn copy_run(fields: &mut Fields, path: &str) -> Option<String> {
    let (list, row) = split_row(path)?;
    if list != "runs" || row >= fields.rows("runs") {
        return None;
    }
    let copied: Vec<(String, String)> = fields
        .row("runs", row)
        .into_iter()
        .filter(|(rest, _)| {
            rest.starts_with(".line.")
                || rest.starts_with(".rated_outputs")
                || rest.ends_with(".load_percent")
                || rest == ".tested_on"
        })
        .collect();
    fields.make_room("runs", row + 1);
    for (rest, text) in copied {
        fields.set(format!("runs[{}]{rest}", row + 1), text);
    }
    let name = format!("runs[{}].name", row + 1);
    fields.set(name.clone(), "");
    Some(name)
}

/// What a new record starts with: two runs, and the instruments of the tester's last record.
pub fn offered(last_record: Option<&serde_json::Value>) -> Fields {
    let mut fields = Fields::new();
    fields.set("unit.maker", "");
    fields.set("unit.ports[0].label", "");
    fields.set("unit.ports[0].modes[0].kind", "fixed");
    for (run, (name, voltage, frequency)) in
        [("115 V 60 Hz", "115", "60"), ("230 V 50 Hz", "230", "50")]
            .into_iter()
            .enumerate()
    {
        fields.set(format!("runs[{run}].name"), name);
        fields.set(format!("runs[{run}].line.voltage_v"), voltage);
        fields.set(format!("runs[{run}].line.frequency_hz"), frequency);
        offer_points(&mut fields, run);
    }
    if let Some(last) = last_record {
        let kept = form::fields(&serde_json::json!({
            "instruments": last.get("instruments"),
            "unit": {"price": {"currency": last.pointer("/unit/price/currency")}}
        }));
        for (path, text) in kept.iter() {
            if !path.ends_with('#') {
                fields.set(path, text);
            }
        }
    }
    if fields.rows("instruments") == 0 {
        for (row, quantity) in [
            "input_power_w",
            "no_load_power_w",
            "output_voltage_v",
            "output_current_a",
        ]
        .iter()
        .enumerate()
        {
            fields.set(format!("instruments[{row}].quantity"), *quantity);
        }
    }
    fields
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form(pairs: &[(&str, &str)]) -> Fields {
        pairs
            .iter()
            .map(|(path, text)| (path.to_string(), text.to_string()))
            .collect()
    }

    fn all_shown(fields: &Fields) -> BTreeMap<String, String> {
        let mut shown = BTreeMap::new();
        let form = view(fields, &Problems::new(), None);
        let mut take = |input: &Input| {
            shown.insert(input.path.clone(), input.value.clone());
        };
        for list in [
            &form.identity,
            &form.nameplate,
            &form.body,
            &form.category,
            &form.harmonic_class,
            &form.cord,
        ] {
            list.iter().for_each(&mut take);
        }
        for port in &form.ports {
            port.inputs.iter().for_each(&mut take);
            take(&port.pasted);
            port.modes
                .rows
                .iter()
                .flat_map(|row| &row.inputs)
                .for_each(&mut take);
        }
        for overload in &form.overloads {
            overload.inputs.iter().for_each(&mut take);
            take(&overload.paste.input);
            overload
                .steps
                .rows
                .iter()
                .flat_map(|row| &row.inputs)
                .for_each(&mut take);
        }
        take(&form.paste_temperatures.input);
        for table in [&form.instruments, &form.temperatures, &form.measurements] {
            table
                .rows
                .iter()
                .flat_map(|row| &row.inputs)
                .for_each(&mut take);
        }
        for run in &form.runs {
            run.inputs.iter().chain(&run.no_load).for_each(&mut take);
            run.cuts
                .iter()
                .flat_map(|cut| &cut.inputs)
                .chain(run.waveforms.rows.iter().flat_map(|row| &row.inputs))
                .for_each(&mut take);
            take(&run.pasted);
            run.rated
                .rows
                .iter()
                .flat_map(|row| &row.inputs)
                .for_each(&mut take);
            for point in &run.points.rows {
                take(&point.load);
                point.inputs.iter().for_each(&mut take);
                point
                    .outputs
                    .iter()
                    .flat_map(|o| o.port.iter().chain(&o.readings))
                    .for_each(&mut take);
            }
        }
        for sharing in &form.sharing {
            sharing.inputs.iter().for_each(&mut take);
            sharing
                .offers
                .rows
                .iter()
                .flat_map(|row| &row.inputs)
                .for_each(&mut take);
        }
        for photo in &form.photos {
            take(&photo.caption);
        }
        take(&form.notes);
        for photo in &form.photos {
            for (key, text) in [
                ("sha256", &photo.sha256),
                ("width_px", &photo.width_px),
                ("height_px", &photo.height_px),
            ] {
                shown.insert(format!("{}.{key}", photo.path), text.clone());
            }
        }
        shown.extend(form.unseen);
        shown
    }

    #[test]
    fn whatever_is_stored_is_somewhere_on_the_page_so_that_the_next_save_keeps_it() {
        let mut fields = offered(None);
        fields.set("runs[0].points[2].outputs[1].port", "A1");
        fields.set("runs[0].points[2].outputs[1].voltage_v", "5.1");
        fields.set("runs[1].no_load.#", "1");
        fields.set("unit.size_mm[1]", "6,6 cm");
        fields.set("sharing[0].offers[0].power_w", "65");
        fields.set("logs[0].name", "noload.csv");
        fields.set("logs[0].layout.columns[1].quantity", "input_power_w");
        fields.set("runs[0].no_load.log", "noload.csv");
        fields.set("runs[0].points[3].log_to_s", "0:10:00");
        fields.set("runs[1].points[1].log", "");
        fields.set("runs[1].waveforms[2].load_percent", "0");
        fields.set("overloads[0].recovery_s", "2 s");
        fields.set("overloads[0].steps[1].state", "cycling");
        fields.set("overloads[0].pasted", "3\t3");
        fields.set("temperatures.pasted", "0,24,24");
        fields.set("measurements[0].quantity", "ripple_mv");
        fields.set("unit.cord.fixing", "captive");
        fields.set("photos[0].sha256", "ab");
        fields.set("photos[1].height_px", "600");
        fields.set("photos[1].caption", "Front");
        let shown = all_shown(&fields);
        for (path, text) in fields.iter() {
            assert_eq!(shown.get(path).map(String::as_str), Some(text), "{path}");
        }
        assert!(
            shown.keys().all(|path| form::is_field(path)),
            "{:?}",
            shown.keys().find(|p| !form::is_field(p))
        );
    }

    #[test]
    fn the_current_to_set_follows_from_the_rating() {
        let fields = form(&[
            ("unit.nameplate.output_power_w", "100 W"),
            ("runs[0].rated_outputs[0].port", "C1"),
            ("runs[0].rated_outputs[0].voltage_v", "20 V"),
            ("runs[0].rated_outputs[0].current_a", "5"),
            ("runs[0].points[0].load_percent", "75"),
            ("runs[0].points[1].load_percent", "?"),
        ]);
        let targets = targets(&fields);
        assert_eq!(targets["f-runs-0-points-0-target-0"], "3.750 A");
        assert_eq!(targets["f-runs-0-points-1-target-0"], "");
    }

    #[test]
    fn ports_rated_above_the_nameplate_are_loaded_in_proportion() {
        let fields = form(&[
            ("unit.nameplate.output_power_w", "100"),
            ("runs[0].rated_outputs[0].voltage_v", "20"),
            ("runs[0].rated_outputs[0].current_a", "5"),
            ("runs[0].rated_outputs[1].voltage_v", "5"),
            ("runs[0].rated_outputs[1].current_a", "5"),
            ("runs[0].points[0].load_percent", "100"),
        ]);
        // D = 100 W / (100 W + 25 W) = 0.8.
        let targets = targets(&fields);
        assert_eq!(targets["f-runs-0-points-0-target-0"], "4.000 A");
        assert_eq!(targets["f-runs-0-points-0-target-1"], "4.000 A");
    }

    #[test]
    fn a_copied_run_has_the_set_up_and_no_reading() {
        let mut fields = form(&[
            ("runs[0].name", "a"),
            ("runs[0].line.voltage_v", "115"),
            ("runs[0].rated_outputs[0].current_a", "5"),
            ("runs[0].points[0].load_percent", "100"),
            ("runs[0].points[0].input.power_w", "109"),
            ("runs[0].no_load.power_w", "0.1"),
            ("runs[1].name", "b"),
        ]);
        let pressed = press(&mut fields, "copy:runs[0]").unwrap().unwrap();
        assert_eq!(pressed.focus, "runs[1].name");
        assert_eq!(fields.text("runs[1].rated_outputs[0].current_a"), "5");
        assert_eq!(fields.text("runs[1].points[0].load_percent"), "100");
        assert!(
            !fields.has("runs[1].points[0].input.power_w")
                && !fields.has("runs[1].no_load.power_w")
        );
        assert_eq!(fields.text("runs[2].name"), "b");
    }

    #[test]
    fn a_log_leaves_with_every_section_that_was_cut_from_it() {
        let mut fields = form(&[
            ("logs[0].name", "a.csv"),
            ("logs[0].layout.encoding", "utf-8"),
            ("logs[1].name", "b.csv"),
            ("runs[0].no_load.log", "a.csv"),
            ("runs[0].no_load.log_from_s", "60"),
            ("runs[0].no_load.power_w", "0.1"),
            ("runs[0].points[0].log", "b.csv"),
            ("runs[0].points[1].log", "a.csv"),
            ("runs[0].waveforms[0].log", "a.csv"),
            ("runs[0].waveforms[1].log", "b.csv"),
        ]);
        let pressed = press(&mut fields, "remove:logs[0]").unwrap().unwrap();
        assert!(pressed.said.unwrap().contains("3 sections"));
        let left = form(&[
            ("logs[0].name", "b.csv"),
            ("runs[0].no_load.power_w", "0.1"),
            ("runs[0].points[0].log", "b.csv"),
            ("runs[0].waveforms[0].log", "b.csv"),
        ]);
        assert_eq!(fields, left);
        let pressed = press(&mut fields, "detach:runs[0].points[0]")
            .unwrap()
            .unwrap();
        assert_eq!(pressed.focus, "runs[0].points[0].load_percent");
        assert!(!fields.has("runs[0].points[0].log"));
    }

    #[test]
    fn a_photo_moves_with_all_that_belongs_to_it_and_the_keyboard_moves_along() {
        let mut fields = form(&[
            ("photos[0].sha256", "a"),
            ("photos[0].caption", "front"),
            ("photos[1].sha256", "b"),
            ("photos[2].sha256", "c"),
            ("photos[2].caption", "label"),
        ]);
        let mut focus = |action: &str| press(&mut fields, action).unwrap().unwrap().focus;
        assert_eq!(focus("down:photos[0]"), "photos[1].down");
        assert_eq!(focus("down:photos[1]"), "photos[2].up", "it is last");
        assert_eq!(focus("up:photos[2]"), "photos[1].up");
        assert_eq!(focus("remove:photos[0]"), "photos");
        let left = form(&[
            ("photos[0].sha256", "a"),
            ("photos[0].caption", "front"),
            ("photos[1].sha256", "c"),
            ("photos[1].caption", "label"),
        ]);
        assert_eq!(fields, left);
        assert!(press(&mut fields, "up:photos[0]").is_none());
        assert!(press(&mut fields, "down:photos[1]").is_none());
    }

    #[test]
    fn a_section_leads_to_its_log_with_its_place_and_times() {
        let fields = form(&[
            ("logs[0].name", "a.csv"),
            ("logs[0].sha256", "0abc"),
            ("runs[0].no_load.log", "a.csv"),
            ("runs[0].no_load.log_from_s", "0:01:00"),
            ("runs[1].no_load.log", "kept elsewhere.csv"),
        ]);
        let form = view(&fields, &Problems::new(), None);
        let link = form.runs[0].no_load_section.as_ref().expect("it is named");
        assert_eq!(
            link.url,
            "/desk/logs/0abc?place=0%3Ano_load&from=0%3A01%3A00"
        );
        assert!(form.runs[1].no_load_section.is_none());
    }

    #[test]
    fn buttons_that_are_not_on_the_form_do_nothing() {
        let mut fields = form(&[("unit.maker", "Larkfield")]);
        for action in [
            "add:unit",
            "add:evil",
            "remove:unit.maker",
            "remove:runs",
            "copy:runs[7]",
            "save",
            "add:unit.ports[999].modes",
            "fill:runs[3]",
            "fill:unit.ports[3]",
            "fill-modes:runs[0]",
            "usual:unit.ports[3]=fixed:65",
            "add:logs",
            "remove:logs[0]",
            "detach:runs[0]",
            "detach:runs[0].points[0]",
            "add:photos",
            "up:photos[0]",
            "down:photos[0]",
            "down:unit.ports[0]",
            "remove:photos[0]",
        ] {
            assert!(
                !matches!(press(&mut fields, action), Some(Ok(_))),
                "{action}"
            );
        }
        assert_eq!(fields, form(&[("unit.maker", "Larkfield")]));
    }

    #[test]
    fn removing_a_rated_output_removes_its_column_of_readings() {
        let mut fields = form(&[
            ("runs[0].rated_outputs[0].port", "C1"),
            ("runs[0].rated_outputs[1].port", "A1"),
            ("runs[0].points[0].outputs[0].voltage_v", "20"),
            ("runs[0].points[0].outputs[1].voltage_v", "5"),
        ]);
        press(&mut fields, "remove:runs[0].rated_outputs[0]")
            .unwrap()
            .unwrap();
        assert_eq!(fields.text("runs[0].rated_outputs[0].port"), "A1");
        assert_eq!(fields.text("runs[0].points[0].outputs[0].voltage_v"), "5");
    }

    #[test]
    fn a_path_is_said_in_words() {
        assert_eq!(
            place_words("runs[0].points[1].input.power_w"),
            "run 1, point 2, input power"
        );
        assert_eq!(
            place_words("unit.nameplate.output_power_w"),
            "nameplate, output power"
        );
        assert_eq!(
            place_words("runs[1].no_load.power_w"),
            "run 2, no load, no-load power"
        );
        assert_eq!(place_words("unit.maker"), "maker");
    }
}
