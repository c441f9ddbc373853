//! A sale in double entry, and sums that must balance. Double entry: every entry
//! debits and credits the same sum, in one currency.
//!
//! | what | debit | credit |
//! |---|---|---|
//! | quote accepted, car handed over | receivable: gross | revenue by tax class: net; tax payable by tax class: tax |
//! | amount approved by hand, car handed over | receivable: amount | revenue to be allocated: amount |
//! | the same taken back | the credits above | the debits above |
//!
//! A class whose net is negative, a discount, stands on the other side instead of
//! being a negative credit. Lines of zero are left out. The accounts' names are
//! common practice, no source; a shop maps them to its own chart.

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use crate::error::ExportError;

/// An account.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Account {
    /// What customers owe.
    Receivable,
    /// What was earned, before tax, of one tax class.
    Revenue,
    /// What is owed to the tax office, of one tax class.
    TaxPayable,
    /// What was earned without it being known how much of it is tax.
    RevenueToAllocate,
}

/// The side of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Debit.
    Debit,
    /// Credit.
    Credit,
}

/// An amount of money in minor units of its currency.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Amount {
    /// Minor units.
    pub minor_units: i64,
    /// ISO 4217 code.
    pub currency: String,
}

/// What one tax class of a sale comes to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Share {
    /// The class's name.
    pub tax_class: String,
    /// Sum of its lines, before tax.
    pub net: Amount,
    /// The tax on it.
    pub tax: Amount,
}

/// What was sold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sale {
    /// What it is, for messages: `jobs/blue-estate`.
    pub what: String,
    /// What the customer owes.
    pub gross: Amount,
    /// How it divides by tax class; none: that is not known.
    pub shares: Option<Vec<Share>>,
    /// Whether the sale is taken back.
    pub reversal: bool,
}

/// One line of an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// The account.
    pub account: Account,
    /// The tax class; empty where the account has none.
    pub tax_class: String,
    /// The side.
    pub side: Side,
    /// Minor units, above 0.
    pub minor_units: i64,
    /// ISO 4217 code.
    pub currency: String,
}

/// Sums by currency over many entries.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Totals {
    sums: BTreeMap<String, (Decimal, Decimal)>,
}

impl Account {
    /// Its name in files.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Receivable => "receivable",
            Self::Revenue => "revenue",
            Self::TaxPayable => "tax-payable",
            Self::RevenueToAllocate => "revenue-to-allocate",
        }
    }
}

impl Side {
    fn other(self) -> Self {
        match self {
            Self::Debit => Self::Credit,
            Self::Credit => Self::Debit,
        }
    }
}

impl Sale {
    /// The sale's entry, which balances.
    ///
    /// # Errors
    /// [`ExportError::Currencies`] when it has several,
    /// [`ExportError::Unbalanced`] when the shares do not make up the gross.
    pub fn entry(&self) -> Result<Vec<Line>, ExportError> {
        let mut lines = Vec::new();
        let mut post = |account, class: &str, side: Side, amount: &Amount| {
            if amount.currency != self.gross.currency {
                return Err(ExportError::Currencies {
                    what: self.what.clone(),
                    first: self.gross.currency.clone(),
                    second: amount.currency.clone(),
                });
            }
            let turned = (amount.minor_units < 0) != self.reversal;
            // i64::MIN, which no price comes near, has no opposite.
            let minor_units = amount.minor_units.checked_abs().unwrap_or(i64::MAX);
            if minor_units != 0 {
                lines.push(Line {
                    account,
                    tax_class: class.to_owned(),
                    side: if turned { side.other() } else { side },
                    minor_units,
                    currency: amount.currency.clone(),
                });
            }
            Ok(())
        };
        post(Account::Receivable, "", Side::Debit, &self.gross)?;
        match &self.shares {
            None => post(Account::RevenueToAllocate, "", Side::Credit, &self.gross)?,
            Some(shares) => {
                for share in shares {
                    let class = &share.tax_class;
                    post(Account::Revenue, class, Side::Credit, &share.net)?;
                    post(Account::TaxPayable, class, Side::Credit, &share.tax)?;
                }
            }
        }
        let mut totals = Totals::default();
        lines.iter().for_each(|line| totals.add(line));
        totals.check(&self.what)?;
        Ok(lines)
    }
}

impl Totals {
    /// Adds a line.
    pub fn add(&mut self, line: &Line) {
        let (debit, credit) = self.sums.entry(line.currency.clone()).or_default();
        let amount = Decimal::from(line.minor_units);
        match line.side {
            Side::Debit => *debit += amount,
            Side::Credit => *credit += amount,
        }
    }

    /// Whether debit and credit are the same in every currency.
    ///
    /// # Errors
    /// [`ExportError::Unbalanced`] with the first currency where they differ.
    pub fn check(&self, what: &str) -> Result<(), ExportError> {
        for (currency, (debit, credit)) in &self.sums {
            if debit != credit {
                return Err(ExportError::Unbalanced {
                    what: what.to_owned(),
                    currency: currency.clone(),
                    debit: *debit,
                    credit: *credit,
                });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn eur(minor_units: i64) -> Amount {
        let currency = "EUR".to_owned();
        Amount {
            minor_units,
            currency,
        }
    }

    fn share(class: &str, net: i64, tax: i64) -> Share {
        Share {
            tax_class: class.to_owned(),
            net: eur(net),
            tax: eur(tax),
        }
    }

    fn sale(gross: i64, shares: Option<Vec<Share>>) -> Sale {
        Sale {
            what: "jobs/a".to_owned(),
            gross: eur(gross),
            shares,
            reversal: false,
        }
    }

    fn shown(sale: &Sale) -> Vec<String> {
        let lines = sale.entry().unwrap();
        let show = |line: &Line| {
            let Line {
                account,
                tax_class,
                side,
                minor_units,
                ..
            } = line;
            format!("{side:?} {} {tax_class} {minor_units}", account.as_str())
        };
        lines.iter().map(show).collect()
    }

    // Double entry by hand: 100.00 + 20 % and 50.00 + 10 % less a discount of
    // 5.00 + 10 %; 120.00 + 55.00 - 5.50 = 169.50.
    #[test]
    fn a_sale_is_receivable_against_revenue_and_tax() {
        let shares = vec![
            share("standard", 10_000, 2_000),
            share("reduced", 5_000, 500),
            share("discount", -500, -50),
        ];
        let mut sale = sale(16_950, Some(shares));
        assert_eq!(
            shown(&sale),
            [
                "Debit receivable  16950",
                "Credit revenue standard 10000",
                "Credit tax-payable standard 2000",
                "Credit revenue reduced 5000",
                "Credit tax-payable reduced 500",
                "Debit revenue discount 500",
                "Debit tax-payable discount 50",
            ]
        );
        sale.reversal = true;
        assert_eq!(shown(&sale)[0], "Credit receivable  16950");
        assert_eq!(shown(&sale)[5], "Credit revenue discount 500");
    }

    #[test]
    fn what_was_approved_by_hand_is_left_to_allocate() {
        assert_eq!(
            shown(&sale(89_000, None)),
            [
                "Debit receivable  89000",
                "Credit revenue-to-allocate  89000"
            ]
        );
        assert!(shown(&sale(0, None)).is_empty());
    }

    #[test]
    fn what_does_not_balance_is_an_error() {
        let wrong = sale(12_001, Some(vec![share("standard", 10_000, 2_000)]));
        assert_eq!(
            wrong.entry().unwrap_err().to_string(),
            "jobs/a does not balance: debit 12001 and credit 12000 EUR minor units"
        );
        let mut mixed = share("standard", 10_000, 2_000);
        mixed.tax.currency = "USD".to_owned();
        assert_eq!(
            sale(12_000, Some(vec![mixed]))
                .entry()
                .unwrap_err()
                .to_string(),
            "jobs/a mixes the currencies EUR and USD"
        );
    }

    proptest! {
        #[test]
        fn whatever_adds_up_balances_and_its_reversal_undoes_it(
            parts in prop::collection::vec((-1_000_000_000_i64..1_000_000_000, -1_000_000_i64..1_000_000), 0..6),
        ) {
            let gross = parts.iter().map(|(net, tax)| net + tax).sum();
            let shares = parts.iter().map(|(net, tax)| share("c", *net, *tax)).collect();
            let mut sale = sale(gross, Some(shares));
            let mut totals = Totals::default();
            let there = sale.entry().unwrap();
            sale.reversal = true;
            let back = sale.entry().unwrap();
            prop_assert_eq!(there.len(), back.len());
            for (line, undone) in there.iter().zip(&back) {
                prop_assert_eq!(line.side, undone.side.other());
                prop_assert!(line.minor_units == undone.minor_units && line.minor_units > 0);
                totals.add(line);
                totals.add(undone);
            }
            prop_assert!(totals.check("both").is_ok());
        }

        #[test]
        fn a_cent_too_many_is_found(net in 1_i64..1_000_000, tax in 0_i64..100_000, off in prop::sample::select(vec![-1_i64, 1])) {
            let wrong = sale(net + tax + off, Some(vec![share("c", net, tax)]));
            prop_assert!(wrong.entry().is_err());
        }
    }
}
