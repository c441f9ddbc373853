//! Warnings that travel with a result as data. They never replace a safety
//! data sheet, a product's own instructions, local codes or licensed practice.

/// A warning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caution {
    /// What it is about, for programs.
    pub code: CautionCode,
    /// How much attention it asks for.
    pub severity: Severity,
    /// One or two plain sentences for a person.
    pub text: String,
    /// A standard, or "common practice, no source".
    pub basis: &'static str,
}

/// How much attention a caution asks for, rising.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Worth knowing.
    Info,
    /// Look before going on.
    Caution,
    /// Likely to hurt someone or ruin paint if ignored.
    Warning,
    /// Do not go on without an explicit, recorded override.
    Stop,
}

/// Basis of trade knowledge that no source was found for.
pub const COMMON_PRACTICE: &str = "common practice, no source";

macro_rules! codes {
    ($($(#[$doc:meta])+ $variant:ident = $text:literal,)+) => {
        /// What a caution is about. The text form is stable.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum CautionCode {
            $($(#[$doc])+ $variant,)+
        }

        impl CautionCode {
            /// Every code.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The stable text form, in UPPER_SNAKE_CASE.
            pub const fn as_str(self) -> &'static str {
                match self {
                    $(Self::$variant => $text,)+
                }
            }

            /// The code with this text form.
            pub fn parse(text: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|code| code.as_str() == text)
            }
        }
    };
}

codes! {
    /// The panel is at or above its ceiling.
    PanelHot = "PANEL_HOT",
    /// It is hotter for a moment just under the pad than a reading shows.
    HotterUnderPad = "HOTTER_UNDER_PAD",
    /// Clear coat softens near its glass transition.
    ClearCoatSoftens = "CLEAR_COAT_SOFTENS",
    /// The panel's thickness was not given.
    PanelThicknessAssumed = "PANEL_THICKNESS_ASSUMED",
    /// How much heat the pad makes was assumed, not observed.
    HeatFactorAssumed = "HEAT_FACTOR_ASSUMED",
    /// The readings ask for more heat than a pad makes.
    HeatFactorImplausible = "HEAT_FACTOR_IMPLAUSIBLE",
    /// Readings scatter more than their stated deviation.
    ReadingsScatter = "READINGS_SCATTER",
    /// Nothing is known of the clear coat's thickness here.
    ThicknessUnknown = "THICKNESS_UNKNOWN",
    /// A matt finish is never polished.
    FinishMatt = "FINISH_MATT",
    /// The next layer came too early or too late.
    RecoatWindowMissed = "RECOAT_WINDOW_MISSED",
    /// A part is still off the car.
    PartOff = "PART_OFF",
    /// A coat or film has not dried or settled.
    CureWindowOpen = "CURE_WINDOW_OPEN",
    /// The panel is close to the dew point.
    DewPointNear = "DEW_POINT_NEAR",
    /// The air is too humid for coating.
    HumidityHigh = "HUMIDITY_HIGH",
    /// The panel is colder or hotter than the product allows.
    PanelOutOfProductRange = "PANEL_OUT_OF_PRODUCT_RANGE",
    /// The air is more humid than the product allows.
    HumidityOutOfProductRange = "HUMIDITY_OUT_OF_PRODUCT_RANGE",
    /// Times are shown as stated, for want of data on temperature.
    CureNotScaled = "CURE_NOT_SCALED",
    /// Full cure is the earliest, not the expected, time.
    FullCureIsEarliest = "FULL_CURE_IS_EARLIEST",
    /// The panel is far from the temperature that the product's times hold at.
    CureScaledFar = "CURE_SCALED_FAR",
    /// The wipe window is judged by the look of the film.
    WipeByEye = "WIPE_BY_EYE",
    /// The product data give no recoat window.
    RecoatWindowUnknown = "RECOAT_WINDOW_UNKNOWN",
    /// What to do when the recoat window has closed.
    RecoatWindowCloses = "RECOAT_WINDOW_CLOSES",
    /// A moisture cure is not scaled, for want of the air's humidity.
    HumidityNotScaled = "HUMIDITY_NOT_SCALED",
    /// Times rest on forecast conditions, or on the last sample being held.
    RestsOnForecast = "RESTS_ON_FORECAST",
    /// No start within the samples keeps the promise.
    ReleaseOutOfReach = "RELEASE_OUT_OF_REACH",
    /// The promise is missed, or may be.
    ReleaseMissed = "RELEASE_MISSED",
    /// A lamp heats the panel.
    LampHeat = "LAMP_HEAT",
    /// The bay's air was not measured, so the dew point is not known.
    AirUnknown = "AIR_UNKNOWN",
    /// How to treat a coating in its first days.
    AftercareCoating = "AFTERCARE_COATING",
    /// How to treat film in its first days.
    AftercareFilm = "AFTERCARE_FILM",
    /// The safety data sheet comes first.
    SafetyDataSheet = "SAFETY_DATA_SHEET",
    /// A stop rule was passed over on purpose.
    StopOverridden = "STOP_OVERRIDDEN",
    /// Measure the panel and fit the piece dry before film is cut.
    MeasureBeforeCutting = "MEASURE_BEFORE_CUTTING",
    /// A curved panel takes more film than its flat size.
    CurvedPanelNeedsMore = "CURVED_PANEL_NEEDS_MORE",
    /// A blade on the panel can score paint and hand.
    BladeOnPaint = "BLADE_ON_PAINT",
    /// A piece lies turned on the roll; the film's direction may show.
    FilmDirectionTurned = "FILM_DIRECTION_TURNED",
    /// A notch is closed by its overwrap and is cut on the panel.
    NotchCutAcross = "NOTCH_CUT_ACROSS",
    /// The ceiling given is above the default for the substrate.
    CeilingAboveDefault = "CEILING_ABOVE_DEFAULT",
    /// The next pass is predicted to bring the panel to its ceiling.
    PredictedOverCeiling = "PREDICTED_OVER_CEILING",
    /// No panel temperature was measured, so the ceiling cannot be watched.
    PanelTemperatureUnknown = "PANEL_TEMPERATURE_UNKNOWN",
    /// Paint is thin at edges and body lines.
    EdgeThinPaint = "EDGE_THIN_PAINT",
    /// Heat stays where it is made, as in composites and plastics.
    HeatStaysInPanel = "HEAT_STAYS_IN_PANEL",
    /// What the panel is made of was not stated.
    SubstrateUnknown = "SUBSTRATE_UNKNOWN",
    /// A recorded pass jumped over a rung of the ladder.
    RungSkipped = "RUNG_SKIPPED",
    /// A recorded pass used a setup that is not on the ladder.
    PassOffLadder = "PASS_OFF_LADDER",
    /// Removal was assumed for passes without a reading.
    RemovalAssumed = "REMOVAL_ASSUMED",
    /// What the goal needs to take off is more than may come off.
    GoalBeyondBudget = "GOAL_BEYOND_BUDGET",
    /// The uncertainty of the clear coat's thickness was assumed, not given.
    ClearUncertaintyAssumed = "CLEAR_UNCERTAINTY_ASSUMED",
    /// Prove a setup on a small spot first.
    TestSpotFirst = "TEST_SPOT_FIRST",
    /// Machine polishing throws dust and liquid.
    EyeAndDustProtection = "EYE_AND_DUST_PROTECTION",
    /// The liquid burns.
    FlammableLiquid = "FLAMMABLE_LIQUID",
    /// Volumes were taken to add, which alcohols and water do not quite.
    VolumesAssumedToAdd = "VOLUMES_ASSUMED_TO_ADD",
    /// A splash burns skin and eyes.
    CorrosiveSplash = "CORROSIVE_SPLASH",
    /// Acid goes into water, never water into acid.
    AcidIntoWater = "ACID_INTO_WATER",
    /// Only the same product may be topped up with.
    TopUpSameProduct = "TOP_UP_SAME_PRODUCT",
    /// A label could have been read another way.
    LabelReadOneWay = "LABEL_READ_ONE_WAY",
    /// The diluted mix still is in a hazard class.
    MixClassified = "MIX_CLASSIFIED",
    /// The ratio moves with water pressure and flow.
    InjectorRatioDrifts = "INJECTOR_RATIO_DRIFTS",
    /// No gauge at hand reads what this panel is made of.
    GaugeCannotRead = "GAUGE_CANNOT_READ",
    /// Only an ultrasonic gauge reads this panel.
    UltrasonicOnly = "ULTRASONIC_ONLY",
    /// A reading lies far from the rest of its spot.
    ReadingOdd = "READING_ODD",
    /// A spot has too few readings.
    FewReadings = "FEW_READINGS",
    /// A panel or a place on it has likely been painted again.
    RefinishLikely = "REFINISH_LIKELY",
    /// There is likely filler under the paint.
    FillerLikely = "FILLER_LIKELY",
    /// The paint is thinner than paint as made.
    PaintThin = "PAINT_THIN",
    /// The layers assumed do not explain a reading.
    ReadingUnexplained = "READING_UNEXPLAINED",
    /// Nothing may be removed if the floor is to stay.
    ClearCoatSpent = "CLEAR_COAT_SPENT",
    /// There is no clear coat here to reckon with.
    NoClearCoat = "NO_CLEAR_COAT",
    /// A removal is inside the noise of the readings.
    RemovalWithinNoise = "REMOVAL_WITHIN_NOISE",
    /// A panel reads thicker than before.
    ThickerThanBefore = "THICKER_THAN_BEFORE",
    /// A reading shows removal that was not written down.
    RemovalUnrecorded = "REMOVAL_UNRECORDED",
    /// A reading was taken over film.
    ReadingOverFilm = "READING_OVER_FILM",
    /// What happened before the records begin is not known.
    HistoryBegins = "HISTORY_BEGINS",
}
