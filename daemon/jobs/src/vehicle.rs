//! A vehicle and its panels. A vehicle outlives its jobs.

use jiff::Timestamp;
use lamella_calc::gauge::Substrate;
use lamella_calc::violation::Checks;

use crate::check;

/// The fields of a vehicle that a person writes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct VehicleFields {
    /// Name for people, 1 to 200 characters.
    pub display_name: String,
    /// Registration plate, up to 32 characters. Kept out of logs.
    pub registration: String,
    /// Colour as the shop says it, up to 200 characters.
    pub color: String,
    /// Its panels, at most 200.
    pub panels: Vec<Panel>,
    /// Anything else, up to 4000 characters.
    pub note: String,
}

/// One panel of a vehicle.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// Id within the vehicle, for example `hood`.
    pub id: String,
    /// Name for people, up to 200 characters.
    pub display_name: String,
    /// What it is made of.
    pub substrate: Substrate,
    /// Its outermost layer.
    pub finish: Finish,
    /// Anything odd about it, up to 4000 characters.
    pub note: String,
    /// Its area, square metres, above 0 to 50.
    pub area_m2: Option<f64>,
    /// How it looked when it was judged.
    pub condition: Condition,
}

/// How a panel looked when it was judged.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Condition {
    /// Not judged.
    #[default]
    Unknown,
    /// As new.
    Good,
    /// Light swirls or haze.
    Light,
    /// Marks that catch the light from any side.
    Moderate,
    /// Marks that a fingernail finds.
    Severe,
}

/// The outermost layer of a panel.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Finish {
    /// Not known.
    #[default]
    Unknown,
    /// Clear coat over base coat.
    ClearCoat,
    /// Single-stage paint: the pigment itself is polished.
    SingleStage,
    /// Matt or satin clear coat: never polished.
    Matt,
    /// Textured or unpainted plastic trim.
    Unpainted,
}

/// A vehicle as the daemon keeps it.
#[derive(Debug, Clone, PartialEq)]
pub struct Vehicle {
    /// Its id, the last segment of `vehicles/{vehicle}`.
    pub id: String,
    /// What a person wrote.
    pub fields: VehicleFields,
    /// When it was created.
    pub create_time: Timestamp,
    /// When it last changed.
    pub update_time: Timestamp,
    /// When it was deleted.
    pub delete_time: Option<Timestamp>,
}

impl Vehicle {
    /// The panel with this id.
    pub fn panel(&self, id: &str) -> Option<&Panel> {
        self.fields.panels.iter().find(|panel| panel.id == id)
    }

    /// The panel ids in order, for a message; says so when there are none.
    pub fn panel_list(&self) -> String {
        let ids: Vec<&str> = self
            .fields
            .panels
            .iter()
            .map(|panel| panel.id.as_str())
            .collect();
        if ids.is_empty() {
            "none yet".to_owned()
        } else {
            ids.join(", ")
        }
    }
}

/// A field of a vehicle that an update may name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VehicleField {
    /// `display_name`
    DisplayName,
    /// `registration`
    Registration,
    /// `color`
    Color,
    /// `panels`
    Panels,
    /// `note`
    Note,
}

impl VehicleField {
    /// Every field that may be updated.
    pub const ALL: [Self; 5] = [
        Self::DisplayName,
        Self::Registration,
        Self::Color,
        Self::Panels,
        Self::Note,
    ];

    /// The field's name in the API.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::DisplayName => "display_name",
            Self::Registration => "registration",
            Self::Color => "color",
            Self::Panels => "panels",
            Self::Note => "note",
        }
    }

    /// Whether `fields` holds something for this field.
    pub fn is_set_in(self, fields: &VehicleFields) -> bool {
        match self {
            Self::DisplayName => !fields.display_name.is_empty(),
            Self::Registration => !fields.registration.is_empty(),
            Self::Color => !fields.color.is_empty(),
            Self::Panels => !fields.panels.is_empty(),
            Self::Note => !fields.note.is_empty(),
        }
    }
}

impl VehicleFields {
    /// These fields with those of `mask` taken from `from`.
    #[must_use]
    pub fn updated(&self, from: &Self, mask: &[VehicleField]) -> Self {
        let mut fields = self.clone();
        for field in mask {
            match field {
                VehicleField::DisplayName => fields.display_name.clone_from(&from.display_name),
                VehicleField::Registration => fields.registration.clone_from(&from.registration),
                VehicleField::Color => fields.color.clone_from(&from.color),
                VehicleField::Panels => fields.panels.clone_from(&from.panels),
                VehicleField::Note => fields.note.clone_from(&from.note),
            }
        }
        fields
    }

    /// Puts every violation of the stated ranges into `checks`, below `path`.
    pub fn check(&self, checks: &mut Checks, path: &str) {
        check::text(
            checks,
            &check::join(path, "display_name"),
            &self.display_name,
            1,
            200,
        );
        check::text(
            checks,
            &check::join(path, "registration"),
            &self.registration,
            0,
            32,
        );
        check::text(checks, &check::join(path, "color"), &self.color, 0, 200);
        check::text(checks, &check::join(path, "note"), &self.note, 0, 4000);
        check::count(
            checks,
            &check::join(path, "panels"),
            self.panels.len(),
            0,
            200,
        );
        for (index, panel) in self.panels.iter().enumerate() {
            let path = format!("{}[{index}]", check::join(path, "panels"));
            let field = check::join(&path, "panel_id");
            check::id(checks, &field, &panel.id);
            let twice = self.panels[..index]
                .iter()
                .any(|other| other.id == panel.id);
            checks.require(!twice, &field, || {
                format!("names {} a second time", check::quote(&panel.id))
            });
            check::text(
                checks,
                &check::join(&path, "display_name"),
                &panel.display_name,
                0,
                200,
            );
            check::text(checks, &check::join(&path, "note"), &panel.note, 0, 4000);
            if let Some(area) = panel.area_m2 {
                checks.above(check::join(&path, "area_m2"), area, 0.0, 50.0, "m2");
            }
        }
    }
}
