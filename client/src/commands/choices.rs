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
    /// When in a job a photo was taken.
    PhotoMoment {
        /// Before work began: the condition on arrival.
        Before,
        /// While work went on.
        During,
        /// After the work.
        After,
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
    /// How a panel looked when it was judged.
    PanelCondition {
        /// As new.
        Good,
        /// Light swirls or haze.
        Light,
        /// Marks that catch the light from any side.
        Moderate,
        /// Marks that a fingernail finds.
        Severe,
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
    /// Where a target strength holds when an injector dilutes once more.
    TargetPlace {
        /// Where it arrives: the bottle is made stronger.
        Panel,
        /// In the bottle: the answer says what arrives.
        Bottle,
    }
}

choice! {
    /// What an ingredient is classed as, by its safety data sheet.
    HazardCategory {
        /// Burns the skin (H314).
        SkinCorrosive1,
        /// Irritates the skin (H315).
        SkinIrritant2,
        /// Damages the eyes (H318).
        EyeDamaging1,
        /// Irritates the eyes (H319).
        EyeIrritant2,
        /// Irritates the airways (H335).
        AirwayIrritant3,
        /// Makes drowsy (H336).
        Narcotic3,
        /// Flammable liquid (H224, H225, H226).
        Flammable,
    }
}

choice! {
    /// How a paint gauge senses.
    GaugePrinciple {
        /// Steel.
        Magnetic,
        /// Aluminium.
        EddyCurrent,
        /// Composite and plastic as well.
        Ultrasonic,
    }
}

choice! {
    /// A layer of paint.
    PaintLayerKind {
        /// Electro-dipped primer.
        ECoat,
        /// Primer surfacer.
        Primer,
        /// Base coat, the colour.
        Base,
        /// Clear coat.
        Clear,
    }
}

choice! {
    /// What polishing passes are for.
    Goal {
        /// Take off clear coat until the defect is gone.
        RemoveDefect,
        /// Warm the panel so that its clear coat levels.
        WarmAndLevel,
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

choice! {
    /// One table of an export.
    ExportDataset {
        /// Jobs to which something happened, as they stood at the end.
        Jobs,
        /// Every step from stage to stage.
        #[value(alias = "stage_changes")]
        StageChanges,
        /// Time worked.
        Labour,
        /// Liquids mixed, with lots.
        Mixes,
        /// Film laid, with rolls and lots.
        Film,
        /// Coats applied, with lots.
        Coatings,
        /// Quotes made and accepted.
        Quotes,
        /// What was handed over, at its price.
        Takings,
        /// The takings in double entry.
        Journal,
    }
}

choice! {
    /// How a file is written.
    ExportFormat {
        /// For spreadsheets: RFC 4180, formulas neutralised.
        Csv,
        /// One JSON object to a line.
        #[value(name = "jsonl", alias = "json-lines")]
        JsonLines,
        /// Apache Parquet.
        Parquet,
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
        complete::<PanelCondition>(|n| v1::PanelCondition::try_from(n).is_ok());
        complete::<Substance>(|n| v1::Substance::try_from(n).is_ok());
        complete::<TargetPlace>(|n| v1::TargetPlace::try_from(n).is_ok());
        complete::<HazardCategory>(|n| v1::HazardCategory::try_from(n).is_ok());
        complete::<GaugePrinciple>(|n| v1::GaugePrinciple::try_from(n).is_ok());
        complete::<PaintLayerKind>(|n| v1::PaintLayerKind::try_from(n).is_ok());
        complete::<Goal>(|n| v1::Goal::try_from(n).is_ok());
        complete::<ExportDataset>(|n| v1::ExportDataset::try_from(n).is_ok());
        complete::<ExportFormat>(|n| v1::ExportFormat::try_from(n).is_ok());
        complete::<PassOutcome>(|n| v1::PassOutcome::try_from(n).is_ok());
    }
}
