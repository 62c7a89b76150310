//! Temperatures of surfaces that people touch: `touch_temperature.toml` as types.

use crate::bench::record::Material;
use serde::{Deserialize, Serialize};

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct TouchTemperature {
    pub citation: String,
    pub reference_ambient_c: f64,
    pub ambient_from_c: f64,
    pub ambient_to_c: f64,
    pub steady_k: f64,
    pub steady_min: f64,
    pub reference_source: String,
    pub usual_row: String,
    pub comfort_row: String,
    pub default_material: TouchMaterial,
    pub cautions: Vec<String>,
    pub rows: Vec<TouchRow>,
}

/// Materials that the table tells apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TouchMaterial {
    Metal,
    GlassPorcelain,
    PlasticRubber,
    Wood,
}

impl From<Material> for TouchMaterial {
    fn from(material: Material) -> TouchMaterial {
        match material {
            Material::Metal => TouchMaterial::Metal,
            Material::Glass => TouchMaterial::GlassPorcelain,
            Material::Plastic | Material::Rubber => TouchMaterial::PlasticRubber,
            Material::Wood => TouchMaterial::Wood,
        }
    }
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct TouchRow {
    pub id: String,
    pub duration: String,
    pub metal: TouchLimits,
    pub glass_porcelain: TouchLimits,
    pub plastic_rubber: TouchLimits,
    pub wood: TouchLimits,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct TouchLimits {
    pub ts1_c: f64,
    pub ts2_c: f64,
    pub confidence: String,
}

impl TouchLimits {
    /// `TS1`, `TS2` or `TS3`.
    pub fn class_of(&self, celsius: f64) -> &'static str {
        if celsius <= self.ts1_c {
            "TS1"
        } else if celsius <= self.ts2_c {
            "TS2"
        } else {
            "TS3"
        }
    }
}

impl TouchRow {
    pub fn limits(&self, material: TouchMaterial) -> &TouchLimits {
        match material {
            TouchMaterial::Metal => &self.metal,
            TouchMaterial::GlassPorcelain => &self.glass_porcelain,
            TouchMaterial::PlasticRubber => &self.plastic_rubber,
            TouchMaterial::Wood => &self.wood,
        }
    }
}

impl TouchTemperature {
    /// A surface temperature shifted to another ambient by its rise (valid for small shifts).
    pub fn shifted(surface_c: f64, ambient_c: f64, to_ambient_c: f64) -> f64 {
        surface_c - ambient_c + to_ambient_c
    }

    /// Is the linear shift to the reference ambient taken for good from here?
    pub fn may_shift_from(&self, ambient_c: f64) -> bool {
        (self.ambient_from_c..=self.ambient_to_c).contains(&ambient_c)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::Standards;

    #[test]
    fn limits_rise_with_shorter_touch_and_the_named_rows_exist() {
        let table = Standards::embedded().touch_temperature;
        for id in [&table.usual_row, &table.comfort_row] {
            assert!(table.rows.iter().any(|r| &r.id == id));
        }
        for material in [
            TouchMaterial::Metal,
            TouchMaterial::GlassPorcelain,
            TouchMaterial::PlasticRubber,
            TouchMaterial::Wood,
        ] {
            let limits: Vec<f64> = table
                .rows
                .iter()
                .map(|r| r.limits(material).ts1_c)
                .collect();
            assert!(limits.windows(2).all(|w| w[0] <= w[1]), "{limits:?}");
            for row in &table.rows {
                let limits = row.limits(material);
                assert_eq!(limits.ts2_c, limits.ts1_c + 10.0, "{}", row.id);
            }
        }
    }
}
