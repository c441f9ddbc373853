//! The shop's settings over the rule's own figures.
//!
//! A key is a name, or a name and what it is for: `film-per-m`, `film-per-m.matt-film`.

use lamella_plugin_sdk::{MoneyRules, Refusal, Setting};

/// The figures that a job is priced with.
#[derive(Debug)]
pub(crate) struct Prices<'a> {
    /// Some forty: looking them up one after the other is quicker than a map is made.
    numbers: Vec<(&'a str, u32)>,
    /// Tax class of labour and services.
    pub(crate) work_class: &'a str,
    /// Tax class of film and chemicals.
    pub(crate) material_class: &'a str,
}

/// What may follow a name.
#[derive(Clone, Copy, PartialEq)]
enum Suffix {
    Never,
    Perhaps,
    Always,
}

const PRICE: u32 = 1_000_000_000;

/// Every name of a number, what may follow it, and its range.
const NAMES: [(&str, Suffix, u32, u32); 15] = [
    ("small-up-to-cm2", Suffix::Never, 1, PRICE),
    ("medium-up-to-cm2", Suffix::Never, 1, PRICE),
    ("discount-per-mille", Suffix::Never, 0, 1_000),
    ("small-per-m2", Suffix::Always, 0, PRICE),
    ("medium-per-m2", Suffix::Always, 0, PRICE),
    ("large-per-m2", Suffix::Always, 0, PRICE),
    ("each", Suffix::Always, 0, PRICE),
    ("good-per-mille", Suffix::Perhaps, 0, 10_000),
    ("light-per-mille", Suffix::Perhaps, 0, 10_000),
    ("moderate-per-mille", Suffix::Perhaps, 0, 10_000),
    ("severe-per-mille", Suffix::Perhaps, 0, 10_000),
    ("unknown-per-mille", Suffix::Perhaps, 0, 10_000),
    ("film-per-m", Suffix::Perhaps, 0, PRICE),
    ("chemical-per-l", Suffix::Perhaps, 0, PRICE),
    ("labour-per-h", Suffix::Perhaps, 0, PRICE),
];

const CLASS_NAMES: [&str; 2] = ["work-tax-class", "material-tax-class"];

/// What holds where the shop has set nothing; invented figures, in minor units.
const DEFAULTS: [(&str, u32); 30] = [
    ("small-up-to-cm2", 5_000),
    ("medium-up-to-cm2", 12_000),
    ("discount-per-mille", 0),
    ("small-per-m2.correct", 9_000),
    ("medium-per-m2.correct", 7_500),
    ("large-per-m2.correct", 6_000),
    ("small-per-m2.coat", 6_000),
    ("medium-per-m2.coat", 5_000),
    ("large-per-m2.coat", 4_000),
    ("small-per-m2.film", 22_000),
    ("medium-per-m2.film", 18_000),
    ("large-per-m2.film", 15_000),
    ("each.wash", 4_500),
    ("good-per-mille", 800),
    ("light-per-mille", 1_000),
    ("moderate-per-mille", 1_300),
    ("severe-per-mille", 1_700),
    // How worn the paint is makes no difference to these two.
    ("good-per-mille.coat", 1_000),
    ("light-per-mille.coat", 1_000),
    ("moderate-per-mille.coat", 1_000),
    ("severe-per-mille.coat", 1_000),
    ("unknown-per-mille.coat", 1_000),
    ("good-per-mille.film", 1_000),
    ("light-per-mille.film", 1_000),
    ("moderate-per-mille.film", 1_000),
    ("severe-per-mille.film", 1_000),
    ("unknown-per-mille.film", 1_000),
    ("film-per-m", 5_500),
    ("chemical-per-l", 4_000),
    ("labour-per-h", 6_500),
];

impl<'a> Prices<'a> {
    /// Reads the settings. An empty value takes a figure out.
    ///
    /// # Errors
    /// `BadSetting` with everything that is wrong; `Missing` where the shop has no tax class.
    pub(crate) fn read(settings: &'a [Setting], money: &'a MoneyRules) -> Result<Self, Refusal> {
        let Some(first) = money.tax_classes.first() else {
            return Err(Refusal::Missing(
                "a tax class in the shop's rules of money".into(),
            ));
        };
        let mut prices = Self {
            numbers: DEFAULTS.to_vec(),
            work_class: &first.name,
            material_class: &first.name,
        };
        let mut faults = Vec::new();
        for (index, setting) in settings.iter().enumerate() {
            let mut earlier = settings[..index].iter();
            if earlier.any(|earlier| earlier.key == setting.key) {
                faults.push(format!("`{}` is given twice", setting.key));
            } else if CLASS_NAMES.contains(&setting.key.as_str()) {
                faults.extend(prices.set_class(setting, money).err());
            } else {
                faults.extend(prices.set_number(setting).err());
            }
        }
        let (small, medium) = prices.limits_cm2();
        if small >= medium {
            faults.push(format!(
                "`small-up-to-cm2` {small} is not below `medium-up-to-cm2` {medium}"
            ));
        }
        if faults.is_empty() {
            Ok(prices)
        } else {
            Err(Refusal::BadSetting(faults.join("; ")))
        }
    }

    /// The figure for this one thing, else the general one.
    pub(crate) fn find(&self, name: &str, what: &str) -> Option<u32> {
        self.own(name, what).or_else(|| self.number(name))
    }

    /// The figure for this one thing.
    pub(crate) fn own(&self, name: &str, what: &str) -> Option<u32> {
        self.first(|key| {
            key.strip_prefix(name)
                .and_then(|rest| rest.strip_prefix('.'))
                == Some(what)
        })
    }

    /// Largest area of a small and of a medium panel, square centimetres.
    pub(crate) fn limits_cm2(&self) -> (u32, u32) {
        let limit = |name| self.number(name).unwrap_or(0);
        (limit("small-up-to-cm2"), limit("medium-up-to-cm2"))
    }

    /// Discount on all lines, per mille, 0 to 1 000.
    pub(crate) fn discount_per_mille(&self) -> u32 {
        self.number("discount-per-mille").unwrap_or(0)
    }

    fn number(&self, name: &str) -> Option<u32> {
        self.first(|key| key == name)
    }

    fn first(&self, is_it: impl Fn(&str) -> bool) -> Option<u32> {
        let mut numbers = self.numbers.iter();
        numbers.find(|(key, _)| is_it(key)).map(|(_, value)| *value)
    }

    fn set_class(&mut self, setting: &'a Setting, money: &MoneyRules) -> Result<(), String> {
        let Setting { key, value } = setting;
        if !money.tax_classes.iter().any(|class| class.name == *value) {
            return Err(format!(
                "`{key}` is `{value}`, which is not among the shop's tax classes"
            ));
        }
        if key == CLASS_NAMES[0] {
            self.work_class = value;
        } else {
            self.material_class = value;
        }
        Ok(())
    }

    fn set_number(&mut self, setting: &'a Setting) -> Result<(), String> {
        let Setting { key, value } = setting;
        let (name, what) = match key.split_once('.') {
            Some((name, what)) => (name, Some(what)),
            None => (key.as_str(), None),
        };
        let known = NAMES.iter().find(|(known, suffix, ..)| {
            *known == name
                && match suffix {
                    Suffix::Never => what.is_none(),
                    Suffix::Perhaps => what != Some(""),
                    Suffix::Always => what.is_some_and(|what| !what.is_empty()),
                }
        });
        let Some((_, suffix, least, most)) = known else {
            return Err(format!("`{key}` is not known"));
        };
        if value.is_empty() && *suffix != Suffix::Never {
            self.numbers.retain(|(held, _)| held != key);
            return Ok(());
        }
        let number = whole_number(value).filter(|number| (least..=most).contains(&number));
        let number = number.ok_or_else(|| {
            format!("`{key}` is `{value}`, not a whole number from {least} to {most}")
        })?;
        self.numbers.retain(|(held, _)| held != key);
        self.numbers.push((key, number));
        Ok(())
    }
}

/// 1 to 10 digits and nothing else: no sign, no spaces.
fn whole_number(text: &str) -> Option<u32> {
    let digits = (1..=10).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    digits.then(|| text.parse().ok()).flatten()
}
