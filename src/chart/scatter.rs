//! Two figures of many units against each other, with what no other beats in both.

use super::figures::{fixed, plain, shortened};
use super::frame::{Anchor, FONT, Ink, LINE, Plot, Spec, nothing, plot, value_axis};
use super::labels::text_width;
use super::{Chart, ChartTable, Size, ticks};
use crate::text::{t, word};

/// Points of the crowd beyond this cannot be seen apart; an even sample stands for them.
const MOST_POINTS: usize = 1_500;
/// Up to here a point of the crowd tells its name on hover.
const MOST_NAMED: usize = 250;
/// Space kept free between labels.
const AIR: f64 = 2.0;

#[derive(Debug, Clone, PartialEq)]
pub struct ScatterPoint {
    pub name: String,
    pub x: f64,
    pub y: f64,
    /// No other is at least as good in both figures and better in one.
    pub front: bool,
}

/// What an axis shows.
#[derive(Debug, Clone, PartialEq)]
pub struct ScatterAxis {
    /// "Price"
    pub name: String,
    /// "EUR", or empty.
    pub unit: String,
    pub more_is_better: bool,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    /// "Price against score: class over 45 to 70 W"
    pub title: String,
    pub x: ScatterAxis,
    pub y: ScatterAxis,
    pub points: Vec<ScatterPoint>,
}

impl ScatterAxis {
    fn title(&self) -> String {
        let text = if self.more_is_better {
            t("axis-better-more")
        } else {
            t("axis-better-less")
        };
        let figure = match self.unit.as_str() {
            "" => self.name.clone(),
            unit => format!("{}, {unit}", self.name),
        };
        text.with("figure", figure).to_string()
    }

    fn words(&self, value: f64) -> String {
        match self.unit.as_str() {
            "" => plain(value),
            unit => format!("{} {unit}", plain(value)),
        }
    }
}

impl Scatter {
    fn known(&self) -> Vec<&ScatterPoint> {
        self.points
            .iter()
            .filter(|p| p.x.is_finite() && p.y.is_finite())
            .collect()
    }

    fn words(&self, point: &ScatterPoint) -> String {
        format!(
            "{}: {}, {}",
            point.name,
            self.x.words(point.x),
            self.y.words(point.y)
        )
    }

    fn desc(&self, drawn: usize, known: &[&ScatterPoint], unnamed: usize) -> String {
        let front: Vec<&&ScatterPoint> = known.iter().filter(|p| p.front).collect();
        let units = |count: usize| t("units").with("count", count);
        let mut words = t("scatter")
            .with("units", units(known.len()))
            .with("x", self.x.title())
            .with("y", self.y.title())
            .to_string();
        if drawn < known.len() {
            words.push_str(&format!(" {}", t("scatter-drawn").with("count", drawn)));
        }
        let beaten_by_none = t("scatter-front").with("units", units(front.len()));
        words.push_str(&format!(" {beaten_by_none}"));
        for point in front.iter().take(20) {
            words.push_str(&format!("; {}", self.words(point)));
        }
        words.push('.');
        if unnamed > 0 {
            words.push_str(&format!(" {}", t("scatter-unnamed").with("count", unnamed)));
        }
        words
    }
}

/// A box in units of the drawing: left, top, right, bottom.
type Area = (f64, f64, f64, f64);

fn overlap(a: Area, b: Area) -> bool {
    a.0 < b.2 && b.0 < a.2 && a.1 < b.3 && b.1 < a.3
}

/// A name with its place: baseline start, and where its leader begins.
struct Placed {
    text: String,
    area: Area,
    leader: Option<[(f64, f64); 2]>,
}

/// Places names near their points: never over another name or a point of the front, rather not
/// over the crowd. A name that finds no place is left out.
fn place(points: &[((f64, f64), &str)], crowd: &[(f64, f64)], frame: Area) -> Vec<Placed> {
    let mut placed: Vec<Placed> = Vec::new();
    let around = |(x, y): (f64, f64), r: f64| (x - r, y - r, x + r, y + r);
    for &(at, name) in points {
        let text = shortened(name, 40);
        let (width, height) = (text_width(&text, FONT), LINE);
        let mut best: Option<(f64, Area, f64)> = None;
        for ring in [9.0, 16.0, 26.0, 40.0, 58.0, 80.0, 108.0, 140.0] {
            for step in 0..16 {
                let angle = std::f64::consts::TAU * f64::from(step) / 16.0;
                // The point of the box that is nearest to the marker lies on the ring.
                let (cx, cy) = (at.0 + ring * angle.cos(), at.1 + ring * angle.sin());
                let left = cx - width * (1.0 - angle.cos()) / 2.0;
                let top = cy - height * (1.0 - angle.sin()) / 2.0;
                let area = (left, top, left + width, top + height);
                let outside =
                    area.0 < frame.0 || area.1 < frame.1 || area.2 > frame.2 || area.3 > frame.3;
                let wide = (area.0 - AIR, area.1 - AIR, area.2 + AIR, area.3 + AIR);
                let taken = placed.iter().any(|p| overlap(wide, p.area))
                    || points.iter().any(|(p, _)| overlap(area, around(*p, 6.0)));
                if outside || taken {
                    continue;
                }
                // Near counts more than an unhidden crowd, whose points are small.
                let hidden = crowd
                    .iter()
                    .filter(|p| overlap(area, around(**p, 3.0)))
                    .count();
                let cost = ring + 14.0 * hidden as f64;
                if best.as_ref().is_none_or(|(least, ..)| cost < *least) {
                    best = Some((cost, area, ring));
                }
            }
        }
        if let Some((_, area, ring)) = best {
            let near = (at.0.clamp(area.0, area.2), at.1.clamp(area.1, area.3));
            placed.push(Placed {
                text,
                area,
                leader: (ring > 12.0).then_some([at, near]),
            });
        }
    }
    placed
}

impl Chart for Scatter {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let known = self.known();
        if known.is_empty() {
            return nothing(size, prefix, &self.title, word("scatter-none"));
        }
        let crowd: Vec<&&ScatterPoint> = known.iter().filter(|p| !p.front).collect();
        let every = crowd.len().div_ceil(MOST_POINTS).max(1);
        let crowd: Vec<&ScatterPoint> = crowd.iter().step_by(every).map(|p| **p).collect();
        let mut front: Vec<&ScatterPoint> = known.iter().filter(|p| p.front).copied().collect();
        front.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        let (wide, height) = match size {
            Size::Wide => (true, 460.0),
            Size::Narrow => (false, 400.0),
        };
        let bounds = (f64::MIN / 4.0, f64::MAX / 4.0);
        let least = |values: &mut dyn Iterator<Item = f64>| {
            values.map(f64::abs).fold(0.0, f64::max).max(1e-6) * 0.02
        };
        let xs = || known.iter().map(|p| p.x);
        let ys = || known.iter().map(|p| p.y);
        let (x, x_marks) = value_axis(xs(), bounds, least(&mut xs()), if wide { 9 } else { 5 });
        let (y, y_marks) = value_axis(ys(), bounds, least(&mut ys()), 7);
        let step = |marks: &[f64]| match marks {
            [a, b, ..] => ticks::decimals(b - a),
            _ => 0,
        };
        let (x_decimals, y_decimals) = (step(&x_marks), step(&y_marks));
        let y_label = |v: f64| fixed(v, y_decimals);
        let left = y_marks
            .iter()
            .map(|m| text_width(&y_label(*m), FONT))
            .fold(20.0, f64::max)
            + 12.0;
        // Where the names stand depends on the drawing, and the description says how many found
        // room: drawn twice, the first time to count.
        let draw = |desc: &str, unnamed: &mut usize| {
            let spec = Spec {
                size,
                height,
                prefix,
                title: &self.title,
                desc,
                margins: (left, 28.0, 16.0, 46.0),
                x,
                y,
            };
            plot(&spec, |p| {
                p.y_axis(&self.y.title(), &y_marks, y_label);
                p.x_axis(&self.x.title(), &x_marks, |v| fixed(v, x_decimals));
                *unnamed = self.marks(p, &crowd, &front);
            })
        };
        let mut unnamed = 0;
        draw("", &mut unnamed);
        let desc = self.desc(crowd.len() + front.len(), &known, unnamed);
        draw(&desc, &mut unnamed)
    }

    fn table(&self) -> ChartTable {
        ChartTable {
            caption: self.title.clone(),
            columns: vec![
                word("board-unit").to_owned(),
                self.x.title(),
                self.y.title(),
                word("scatter-unbeaten").to_owned(),
            ],
            rows: self
                .points
                .iter()
                .map(|p| {
                    vec![
                        p.name.clone(),
                        self.x.words(p.x),
                        self.y.words(p.y),
                        word(if p.front { "yes" } else { "no" }).to_owned(),
                    ]
                })
                .collect(),
        }
    }
}

impl Scatter {
    /// Draws the points; answers how many names of the front found no room.
    fn marks(&self, p: &mut Plot<'_>, crowd: &[&ScatterPoint], front: &[&ScatterPoint]) -> usize {
        let line: Vec<(f64, f64)> = front.iter().map(|f| (f.x, f.y)).collect();
        if line.len() > 1 {
            p.line(Ink::Model(1), &line);
        }
        for point in crowd {
            p.marker(0, point.x, point.y, 3.0);
        }
        for point in front {
            p.marker(3, point.x, point.y, 5.0);
        }
        let place_of = |p: &Plot<'_>, point: &ScatterPoint| p.at(point.x, point.y);
        let crowd_places: Vec<(f64, f64)> = crowd.iter().filter_map(|c| place_of(p, c)).collect();
        let front_places: Vec<((f64, f64), &str)> = front
            .iter()
            .filter_map(|f| Some((place_of(p, f)?, f.name.as_str())))
            .collect();
        let frame = (p.left + 2.0, p.top, p.size.width() - 2.0, p.bottom - 2.0);
        let names = place(&front_places, &crowd_places, frame);
        for name in &names {
            if let Some(leader) = name.leader {
                p.segments("c-leader", &[leader]);
            }
        }
        for name in &names {
            let (x, y) = (name.area.0, name.area.3 - 3.0);
            p.text("c-text c-halo", x, y, Anchor::Start, &name.text);
        }
        if crowd.len() <= MOST_NAMED {
            for point in crowd {
                if let Some(at) = place_of(p, point) {
                    p.hit(at, 6.0, &self.words(point));
                }
            }
        }
        for point in front {
            if let Some(at) = place_of(p, point) {
                p.hit(at, 8.0, &self.words(point));
            }
        }
        front_places.len() - names.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn names_never_overlap_nor_leave_the_frame(
            points in prop::collection::vec((20.0..700.0f64, 20.0..400.0f64), 0..40),
        ) {
            let frame = (10.0, 10.0, 740.0, 420.0);
            let named: Vec<((f64, f64), &str)> =
                points.iter().map(|p| (*p, "Larkfield LF-100Q")).collect();
            let placed = place(&named, &[], frame);
            for (i, a) in placed.iter().enumerate() {
                prop_assert!(a.area.0 >= frame.0 && a.area.2 <= frame.2);
                prop_assert!(a.area.1 >= frame.1 && a.area.3 <= frame.3);
                for b in &placed[i + 1..] {
                    prop_assert!(!overlap(a.area, b.area));
                }
            }
        }
    }

    fn scatter(count: usize) -> Scatter {
        Scatter {
            title: "Price against score".into(),
            x: ScatterAxis {
                name: "Price".into(),
                unit: "EUR".into(),
                more_is_better: false,
            },
            y: ScatterAxis {
                name: "Score".into(),
                unit: String::new(),
                more_is_better: true,
            },
            points: (0..count)
                .map(|i| ScatterPoint {
                    name: format!("Larkfield <LF-{i}>"),
                    x: 10.0 + i as f64,
                    y: 50.0 + (i % 7) as f64,
                    front: i < 7,
                })
                .collect(),
        }
    }

    #[test]
    fn every_unit_of_the_front_is_named_in_both_sizes() {
        for size in [Size::Wide, Size::Narrow] {
            let svg = scatter(30).svg(size, "s");
            for i in 0..7 {
                assert!(
                    svg.contains(&format!(">Larkfield &lt;LF-{i}&gt;</text>")),
                    "{size:?} {i}"
                );
            }
            assert!(!svg.contains("found no room"));
        }
    }

    #[test]
    fn thousands_of_units_stay_a_small_drawing_and_none_is_said_in_words() {
        assert!(scatter(10_000).svg(Size::Wide, "s").len() < 400_000);
        assert!(
            scatter(0)
                .svg(Size::Wide, "s")
                .contains("No unit has both figures")
        );
    }
}
