//! The panel across its thickness: paint on a sheet of one material, and how both faces cool.

use super::closed::effusivity;
use crate::gauge::Substrate;
use crate::violation::Checks;

/// A material's thermal properties near 20 C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    /// Conductivity through the thickness, W/(m K).
    pub k_w_per_m_k: f64,
    /// Density, kg/m3.
    pub rho_kg_per_m3: f64,
    /// Specific heat, J/(kg K).
    pub c_j_per_kg_k: f64,
    /// What it is and where the figures come from.
    pub standing: &'static str,
}

/// Carbon steel AISI 1010, for body sheet.
pub const STEEL: Material = Material {
    k_w_per_m_k: 63.9,
    rho_kg_per_m3: 7832.0,
    c_j_per_kg_k: 434.0,
    standing: "steel AISI 1010: Incropera, Example 5.4 data (secondary source)",
};
/// Aluminium alloy 6061-T6, for body sheet.
pub const ALUMINIUM: Material = Material {
    k_w_per_m_k: 167.0,
    rho_kg_per_m3: 2700.0,
    c_j_per_kg_k: 896.0,
    standing: "aluminium 6061-T6: Aluminum Association typical values (secondary source)",
};
/// Carbon-fibre laminate in epoxy, across the plies.
pub const COMPOSITE: Material = Material {
    k_w_per_m_k: 0.6,
    rho_kg_per_m3: 1600.0,
    c_j_per_kg_k: 900.0,
    standing: "carbon laminate: k within 0.39 to 1.31 of J. Nanomaterials 2019, 8928917, Table 2; \
               density and specific heat from memory",
};
/// Polypropylene, for bumper skins.
pub const PLASTIC: Material = Material {
    k_w_per_m_k: 0.22,
    rho_kg_per_m3: 905.0,
    c_j_per_kg_k: 1680.0,
    standing: "polypropylene: Martienssen and Warlimont, Springer Handbook, Table 3.3-6; density \
               from a materials table",
};
/// Acrylic, which stands in for all the layers of paint.
pub const PAINT: Material = Material {
    k_w_per_m_k: 0.19,
    rho_kg_per_m3: 1190.0,
    c_j_per_kg_k: 1466.0,
    standing: "acrylic as a stand-in for paint: from memory",
};

/// Paint on a panel where none was measured, um: the middle of a factory finish of 90 to 150 (from
/// memory).
pub const DEFAULT_PAINT_UM: f64 = 120.0;
/// Thinner paint than this is taken as none, um: it would hold 0.01 K at 2 kW/m2, and strips of
/// almost no thickness are more than numbers can hold.
pub const LEAST_PAINT_UM: f64 = 1.0;
/// Coefficient of the worked face where none is given, W/(m2 K): still air and radiation about 10,
/// some draught from the machine (common practice, no source).
pub const DEFAULT_FRONT_H_W_PER_M2_K: f64 = 15.0;
/// Coefficient of the hidden face where none is given, W/(m2 K): 0, insulated, which errs on the hot
/// side.
pub const DEFAULT_BACK_H_W_PER_M2_K: f64 = 0.0;

/// What is known of a panel; what is absent is filled in and echoed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PanelInput {
    /// What it is made of. Unknown: taken as a composite sheet, which heats most in a whole pass.
    pub substrate: Substrate,
    /// Thickness without paint, mm, 0.3 to 20; absent: [`default_thickness_mm`].
    pub thickness_mm: Option<f64>,
    /// Paint on it, um, 0 to 3000; absent: [`DEFAULT_PAINT_UM`], below [`LEAST_PAINT_UM`]: none.
    pub paint_um: Option<f64>,
    /// Coefficient of the worked face, W/(m2 K), 0 to 200; absent: [`DEFAULT_FRONT_H_W_PER_M2_K`].
    pub front_h_w_per_m2_k: Option<f64>,
    /// Coefficient of the hidden face, W/(m2 K), 0 to 200; absent: [`DEFAULT_BACK_H_W_PER_M2_K`].
    pub back_h_w_per_m2_k: Option<f64>,
}

/// A panel with every figure filled in. Its figures are taken to be within the ranges of
/// [`PanelInput`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Panel {
    /// What it is made of.
    pub substrate: Substrate,
    /// The properties that stand for it.
    pub material: Material,
    /// Thickness without paint, mm.
    pub thickness_mm: f64,
    /// Paint on it, um.
    pub paint_um: f64,
    /// Coefficient of the worked face, W/(m2 K).
    pub front_h_w_per_m2_k: f64,
    /// Coefficient of the hidden face, W/(m2 K).
    pub back_h_w_per_m2_k: f64,
}

impl Material {
    /// Diffusivity `k/(rho c)`, m2/s.
    #[must_use]
    pub fn alpha_m2_per_s(&self) -> f64 {
        self.k_w_per_m_k / (self.rho_kg_per_m3 * self.c_j_per_kg_k)
    }

    /// Effusivity `sqrt(k rho c)`, W s^0.5/(m2 K).
    #[must_use]
    pub fn effusivity(&self) -> f64 {
        effusivity(self.k_w_per_m_k, self.rho_kg_per_m3, self.c_j_per_kg_k)
    }

    /// Heat capacity of a layer, J/(m2 K), thickness in m.
    #[must_use]
    pub fn capacity_j_per_m2_k(&self, thickness_m: f64) -> f64 {
        self.rho_kg_per_m3 * self.c_j_per_kg_k * thickness_m
    }
}

/// The properties taken for a substrate; an unknown one is taken as composite.
#[must_use]
pub const fn material(substrate: Substrate) -> Material {
    match substrate {
        Substrate::Steel => STEEL,
        Substrate::Aluminium => ALUMINIUM,
        Substrate::Plastic => PLASTIC,
        Substrate::Composite | Substrate::Unknown => COMPOSITE,
    }
}

/// Thickness of a body panel where it was not measured, mm: steel 0.7, aluminium 1.0, composite 1.5,
/// plastic 3.0 (common practice, no source).
#[must_use]
pub const fn default_thickness_mm(substrate: Substrate) -> f64 {
    match substrate {
        Substrate::Steel => 0.7,
        Substrate::Aluminium => 1.0,
        Substrate::Plastic => 3.0,
        Substrate::Composite | Substrate::Unknown => 1.5,
    }
}

impl PanelInput {
    /// The panel with its defaults filled in. Ranges are for the caller to check.
    #[must_use]
    pub fn resolve(&self) -> Panel {
        let thickness_mm = self
            .thickness_mm
            .unwrap_or(default_thickness_mm(self.substrate));
        let paint_um = self.paint_um.unwrap_or(DEFAULT_PAINT_UM);
        Panel {
            substrate: self.substrate,
            material: material(self.substrate),
            thickness_mm,
            paint_um: if paint_um < LEAST_PAINT_UM {
                0.0
            } else {
                paint_um
            },
            front_h_w_per_m2_k: self
                .front_h_w_per_m2_k
                .unwrap_or(DEFAULT_FRONT_H_W_PER_M2_K),
            back_h_w_per_m2_k: self.back_h_w_per_m2_k.unwrap_or(DEFAULT_BACK_H_W_PER_M2_K),
        }
    }

    pub(crate) fn check(&self, checks: &mut Checks) {
        let mut given = |name: &str, value, low, high, unit| {
            checks.optional_in_range(format!("panel.{name}"), value, low, high, unit);
        };
        given("thickness_mm", self.thickness_mm, 0.3, 20.0, "mm");
        given("paint_um", self.paint_um, 0.0, 3000.0, "um");
        let coefficient = "W/(m2 K)";
        given(
            "front_h_w_per_m2_k",
            self.front_h_w_per_m2_k,
            0.0,
            200.0,
            coefficient,
        );
        given(
            "back_h_w_per_m2_k",
            self.back_h_w_per_m2_k,
            0.0,
            200.0,
            coefficient,
        );
    }
}

impl Panel {
    /// Heat capacity of sheet and paint, J/(m2 K).
    #[must_use]
    pub fn capacity_j_per_m2_k(&self) -> f64 {
        self.material.capacity_j_per_m2_k(self.thickness_mm * 1e-3)
            + PAINT.capacity_j_per_m2_k(self.paint_um * 1e-6)
    }

    /// Coefficients of both faces together, W/(m2 K).
    #[must_use]
    pub fn h_w_per_m2_k(&self) -> f64 {
        self.front_h_w_per_m2_k + self.back_h_w_per_m2_k
    }

    /// Biot number of sheet and paint: below 0.1 it warms through as one.
    #[must_use]
    pub fn biot(&self) -> f64 {
        self.h_w_per_m2_k() * self.resistance_m2_k_per_w()
    }

    /// Resistance of sheet and paint, m2 K/W.
    fn resistance_m2_k_per_w(&self) -> f64 {
        self.thickness_mm * 1e-3 / self.material.k_w_per_m_k
            + self.paint_um * 1e-6 / PAINT.k_w_per_m_k
    }
}
