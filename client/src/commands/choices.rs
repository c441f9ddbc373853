//! The API's enums as words on the command line.

use lamella_proto::v1;

macro_rules! choice {
    ($(#[$about:meta])* $name:ident { $($(#[$value_about:meta])* $value:ident),* $(,)? }) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
        pub(crate) enum $name {
            $($(#[$value_about])* $value),*
        }

        impl From<$name> for v1::$name {
            fn from(choice: $name) -> Self {
                match choice {
                    $($name::$value => Self::$value),*
                }
            }
        }

        impl From<$name> for i32 {
            fn from(choice: $name) -> Self {
                v1::$name::from(choice).into()
            }
        }
    };
}

choice! {
    /// Where a job stands.
    Stage {
        /// Agreed; the car is not here yet.
        Booked,
        /// The car is here.
        Received,
        /// Paint judged.
        Assessed,
        /// The customer has said yes.
        Approved,
        /// Hands are on it.
        InWork,
        /// Waiting for film or coatings.
        Curing,
        /// May leave.
        Ready,
        /// Has left.
        HandedOver,
        /// Called off.
        Cancelled,
    }
}

choice! {
    /// What a panel is made of.
    Substrate { Steel, Aluminium, Composite, Plastic }
}

choice! {
    /// The outermost layer of a panel.
    Finish {
        /// Clear coat over base coat.
        ClearCoat,
        /// Single-stage paint.
        SingleStage,
        /// Matt or satin clear coat.
        Matt,
        /// Textured or unpainted.
        Unpainted,
    }
}

choice! {
    /// What kind of product it is, so that the right cautions come with it.
    Substance {
        /// 2-propanol, as in wipe-downs.
        IsopropylAlcohol,
        /// Ethanol.
        Ethanol,
        /// Alkaline cleaner.
        AlkalineCleaner,
        /// Acid cleaner.
        AcidCleaner,
        /// Neutral shampoo or pre-wash.
        Shampoo,
    }
}

choice! {
    /// What came of a pass.
    PassOutcome {
        /// The defect is gone.
        Cleared,
        /// Better, not gone.
        Improved,
        /// No visible change.
        Unchanged,
        /// Haze, holograms, marring, softening.
        Worse,
    }
}

#[cfg(test)]
mod tests {
    use clap::ValueEnum;

    use super::*;

    /// A word for each value of the API's enum but "unspecified", in its order.
    fn complete<C: ValueEnum + Into<i32> + Copy>(known: impl Fn(i32) -> bool) {
        let numbers: Vec<i32> = C::value_variants()
            .iter()
            .map(|&choice| choice.into())
            .collect();
        let expected: Vec<i32> = (1..1000).take_while(|&number| known(number)).collect();
        assert_eq!(numbers, expected);
    }

    #[test]
    fn there_is_a_word_for_every_value() {
        complete::<Stage>(|n| v1::Stage::try_from(n).is_ok());
        complete::<Substrate>(|n| v1::Substrate::try_from(n).is_ok());
        complete::<Finish>(|n| v1::Finish::try_from(n).is_ok());
        complete::<Substance>(|n| v1::Substance::try_from(n).is_ok());
        complete::<PassOutcome>(|n| v1::PassOutcome::try_from(n).is_ok());
    }
}
