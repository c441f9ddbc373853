//! A price rule: labour by the hour, film by the metre. Make it the shop's own.

use lamella_plugin_sdk::{
    About, Draft, Pricing, PricingRequest, Refusal, Settings, about, export_pricing, line,
};

struct Rule;

impl Pricing for Rule {
    fn describe() -> About {
        about!("Charges labour by the hour and film by the metre")
    }

    fn quote(request: &PricingRequest) -> Result<Draft, Refusal> {
        let settings = Settings::new(&request.settings);
        let hour_minor = settings.integer("per-hour", 6_500, 0..=1_000_000);
        let metre_minor = settings.integer("film-per-metre", 5_500, 0..=1_000_000);
        settings.finish()?;
        let mut draft = Draft::new();
        for measure in &request.measures {
            let price_minor = match (measure.kind.as_str(), measure.unit.as_str()) {
                ("labour", "h") => hour_minor,
                ("film", "m") => metre_minor,
                (kind, unit) => {
                    draft.note(format!(
                        "{kind} `{}` in {unit} is not charged",
                        measure.item
                    ));
                    continue;
                }
            };
            let what = format!("{}, {}", measure.kind, measure.item);
            draft.push(line(
                &measure.kind,
                what,
                measure.quantity,
                &measure.unit,
                price_minor,
            ));
        }
        Ok(draft)
    }
}

export_pricing!(Rule);

#[cfg(test)]
mod tests;
