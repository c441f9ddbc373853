//! The stated ranges of every record, checked all at once.

use jiff::{SignedDuration, Timestamp};
use lamella_calc::violation::Checks;

use crate::check::{self, join};
use crate::record::{
    BayAir, CoatLayer, Entry, FilmPiece, GaugeReadings, Labour, Mix, Pass, PassSetup, RankedItem,
    Record,
};

impl Record {
    /// Puts every violation of the stated ranges into `checks`, below `path`.
    pub fn check(&self, now: Timestamp, checks: &mut Checks, path: &str) {
        check::text(checks, &join(path, "author"), &self.author, 0, 200);
        let latest = now
            .saturating_add(SignedDuration::from_hours(24))
            .unwrap_or(Timestamp::MAX);
        checks.require(
            self.record_time <= latest,
            join(path, "record_time"),
            || {
                format!(
                    "must be at most a day in the future, got {}",
                    self.record_time
                )
            },
        );
        let path = join(path, self.entry.field());
        match &self.entry {
            Entry::GaugeReadings(readings) => readings.check(checks, &path),
            Entry::Pass(pass) => pass.check(checks, &path),
            Entry::Mix(mix) => mix.check(checks, &path),
            Entry::FilmPiece(film) => film.check(checks, &path),
            Entry::CoatLayer(coat) => coat.check(checks, &path),
            Entry::BayAir(air) => air.check(checks, &path),
            Entry::Labour(labour) => labour.check(checks, &path),
            Entry::PartOff(part) => {
                check::text(checks, &join(&path, "part"), &part.part, 1, 200);
                check::text(checks, &join(&path, "fasteners"), &part.fasteners, 0, 1000);
                check::text(checks, &join(&path, "kept_at"), &part.kept_at, 1, 200);
            }
            Entry::PartRefit(part) => {
                check::text(checks, &join(&path, "part"), &part.part, 1, 200);
                check::text(checks, &join(&path, "note"), &part.note, 0, 1000);
            }
            Entry::Note(note) => {
                check::text(checks, &join(&path, "text"), &note.text, 1, 4000);
                if let Some(panel) = &note.panel {
                    check::id(checks, &join(&path, "panel"), panel);
                }
            }
        }
    }
}

impl GaugeReadings {
    fn check(&self, checks: &mut Checks, path: &str) {
        check::id(checks, &join(path, "panel"), &self.panel);
        check::text(checks, &join(path, "spot"), &self.spot, 0, 200);
        check::text(checks, &join(path, "gauge"), &self.gauge, 0, 200);
        check::count(
            checks,
            &join(path, "readings_um"),
            self.readings_um.len(),
            1,
            500,
        );
        for (index, reading) in self.readings_um.iter().enumerate() {
            let field = format!("{}[{index}]", join(path, "readings_um"));
            checks.above(&field, *reading, 0.0, 5000.0, "um");
        }
    }
}

impl Pass {
    fn check(&self, checks: &mut Checks, path: &str) {
        check::id(checks, &join(path, "panel"), &self.panel);
        if !checks.has(&join(path, "setup")) {
            self.setup.check(checks, &join(path, "setup"));
        }
        checks.optional_in_range(join(path, "panel_c"), self.panel_c, -20.0, 150.0, "C");
        checks.optional_in_range(join(path, "removal_um"), self.removal_um, 0.0, 500.0, "um");
        check::text(
            checks,
            &join(path, "override_reason"),
            &self.override_reason,
            0,
            1000,
        );
    }
}

impl PassSetup {
    fn check(&self, checks: &mut Checks, path: &str) {
        self.machine.check(checks, &join(path, "machine"));
        self.pad.check(checks, &join(path, "pad"));
        self.liquid.check(checks, &join(path, "liquid"));
        checks.require((1..=10).contains(&self.speed), join(path, "speed"), || {
            format!("must be a setting of 1 to 10, got {}", self.speed)
        });
        checks.above(
            join(path, "pressure_kpa"),
            self.pressure_kpa,
            0.0,
            100.0,
            "kPa",
        );
        checks.above(join(path, "seconds"), self.seconds, 0.0, 600.0, "s");
    }
}

impl RankedItem {
    fn check(&self, checks: &mut Checks, path: &str) {
        check::text(checks, &join(path, "name"), &self.name, 1, 200);
        checks.require((1..=20).contains(&self.rank), join(path, "rank"), || {
            format!("must be 1 (the gentlest) to 20, got {}", self.rank)
        });
    }
}

impl Mix {
    fn check(&self, checks: &mut Checks, path: &str) {
        check::text(checks, &join(path, "product"), &self.product, 1, 200);
        checks.above(
            join(path, "concentrate_ml"),
            self.concentrate_ml,
            0.0,
            1e6,
            "ml",
        );
        checks.in_range(join(path, "diluent_ml"), self.diluent_ml, 0.0, 1e6, "ml");
        if let Some(strength) = self.strength_percent {
            checks.above(
                join(path, "strength_percent"),
                strength,
                0.0,
                100.0,
                "percent",
            );
        }
        check::text(checks, &join(path, "lot"), &self.lot, 0, 200);
        check::panel_ids(checks, &join(path, "panels"), &self.panels, 0);
    }
}

impl FilmPiece {
    fn check(&self, checks: &mut Checks, path: &str) {
        check::id(checks, &join(path, "panel"), &self.panel);
        check::text(checks, &join(path, "film"), &self.film, 1, 200);
        check::text(checks, &join(path, "roll"), &self.roll, 0, 200);
        check::text(checks, &join(path, "lot"), &self.lot, 0, 200);
        checks.above(join(path, "width_mm"), self.width_mm, 0.0, 1e5, "mm");
        checks.above(join(path, "length_mm"), self.length_mm, 0.0, 1e5, "mm");
        checks.optional_in_range(
            join(path, "settle_hours"),
            self.settle_hours,
            0.0,
            1000.0,
            "h",
        );
    }
}

impl CoatLayer {
    /// The coating, the panel temperature and the air are checked by the cure
    /// calculator, which computes the milestones from them.
    fn check(&self, checks: &mut Checks, path: &str) {
        check::panel_ids(checks, &join(path, "panels"), &self.panels, 1);
        check::text(
            checks,
            &join(path, "coating.product"),
            &self.coating.name,
            1,
            200,
        );
        check::text(checks, &join(path, "lot"), &self.lot, 0, 200);
        checks.require((1..=20).contains(&self.layer), join(path, "layer"), || {
            format!("must be 1 to 20, got {}", self.layer)
        });
    }
}

impl BayAir {
    /// The air is checked by the dew-point calculator.
    fn check(&self, checks: &mut Checks, path: &str) {
        checks.optional_in_range(join(path, "panel_c"), self.panel_c, -20.0, 150.0, "C");
    }
}

impl Labour {
    fn check(&self, checks: &mut Checks, path: &str) {
        check::text(checks, &join(path, "worker"), &self.worker, 1, 200);
        check::text(checks, &join(path, "activity"), &self.activity, 1, 200);
        if checks.has(&join(path, "from_time")) {
            return;
        }
        let worked = self.to_time.duration_since(self.from_time);
        checks.require(worked > SignedDuration::ZERO, join(path, "to_time"), || {
            format!(
                "must be after from_time {}, got {}",
                self.from_time, self.to_time
            )
        });
        checks.require(
            worked <= SignedDuration::from_hours(24),
            join(path, "to_time"),
            || {
                format!(
                    "must be at most 24 hours after from_time, got {:.1} hours",
                    worked.as_secs_f64() / 3600.0
                )
            },
        );
    }
}
