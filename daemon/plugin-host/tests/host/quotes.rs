//! Answers that are wrong: money that does not add up, refusals, products out of range.

use crate::guest::{Guest, HONEST_PRICE, honest};
use crate::support::{fails, load, request, serves};
use lamella_plugin_host::{CallLimits, PluginError, QuoteFault, RefusalKind, TaxBasis, World};

#[test]
fn an_honest_quote_is_served() {
    let (quote, report) = serves(&honest());
    // 1.5, 2.5 and 3.5 h at 50.00: 75.00 + 125.00 + 175.00, and 19 % on it.
    assert_eq!(
        quote
            .lines
            .iter()
            .map(|line| line.amount)
            .collect::<Vec<_>>(),
        [7_500, 12_500, 17_500]
    );
    assert_eq!(
        (quote.net_total, quote.tax_total, quote.gross_total),
        (37_500, 7_125, 44_625)
    );
    assert_eq!(quote.lines[2].code, "step-3");
    assert_eq!(quote.lines[2].unit_price, HONEST_PRICE);
    assert!(report.fuel_used > 0);
}

#[test]
fn the_same_request_burns_the_same_fuel() {
    let plugin = load(&honest());
    let one = plugin.quote(&request(10), CallLimits::default()).unwrap();
    let other = plugin.quote(&request(10), CallLimits::default()).unwrap();
    assert_eq!(one.0, other.0);
    assert_eq!(one.1.fuel_used, other.1.fuel_used);
}

/// An honest guest with one instruction changed.
fn with(from: &str, to: &str) -> Guest {
    let mut guest = honest();
    assert!(guest.functions.contains(from), "{from}");
    guest.functions = guest.functions.replace(from, to);
    guest
}

/// The faults for which its quote is refused; `fails` has looked at the reason.
fn faults(guest: &Guest) -> Vec<QuoteFault> {
    match fails(guest, "QUOTE_DOES_NOT_ADD_UP").error {
        PluginError::QuoteDoesNotAddUp { faults } => faults,
        _ => Vec::new(),
    }
}

#[test]
fn a_gross_total_that_is_one_cent_off_is_refused() {
    let guest = with(
        "(i64.add (local.get $net) (local.get $tax)))",
        "(i64.add (i64.const 1) (i64.add (local.get $net) (local.get $tax))))",
    );
    assert_eq!(
        faults(&guest),
        [QuoteFault::WrongAmount {
            place: "gross_total".into(),
            expected: 44_625,
            found: 44_626,
        }]
    );
}

#[test]
fn negative_money_is_refused() {
    let guest = with(
        &format!("(i64.store offset=32 (local.get $line) (i64.const {HONEST_PRICE}))"),
        &format!("(i64.store offset=32 (local.get $line) (i64.const -{HONEST_PRICE}))"),
    );
    assert_eq!(faults(&guest).len(), 3);
    // All of it below zero, halves too: every sum is right, but no customer pays that.
    let mut guest = with(
        &format!("(i64.const {HONEST_PRICE})"),
        &format!("(i64.const -{HONEST_PRICE})"),
    );
    guest.functions = guest
        .functions
        .replace("(i64.const 500)", "(i64.const -500)")
        .replace("(i64.const 500000)", "(i64.const -500000)");
    assert_eq!(
        faults(&guest),
        [
            QuoteFault::NegativeTotal {
                place: "net_total".into(),
                found: -37_500
            },
            QuoteFault::NegativeTotal {
                place: "gross_total".into(),
                found: -44_625
            },
        ]
    );
}

#[test]
fn overflowing_money_is_refused() {
    let guest = with(
        &format!("(i64.store offset=32 (local.get $line) (i64.const {HONEST_PRICE}))"),
        "(i64.store offset=32 (local.get $line) (i64.const 0x7fffffffffffffff))",
    );
    let faults = faults(&guest);
    assert_eq!(
        faults
            .iter()
            .filter(|fault| matches!(fault, QuoteFault::Overflow { .. }))
            .count(),
        3,
        "{faults:?}"
    );
}

#[test]
fn the_wrong_basis_is_refused() {
    // 3 x 0.333 h at 50.00 = 16.65, tax 3.1635 each; together 9.4905. By line 9.48.
    let mut request = request(3);
    for measure in &mut request.measures {
        measure.quantity = 333;
    }
    let plugin = load(&honest());
    let (quote, _) = plugin.quote(&request, CallLimits::default()).unwrap();
    assert_eq!(quote.tax_total, 949);
    request.money.tax_basis = TaxBasis::Line;
    let failure = plugin.quote(&request, CallLimits::default()).unwrap_err();
    assert_eq!(
        failure.error,
        PluginError::QuoteDoesNotAddUp {
            faults: vec![QuoteFault::WrongAmount {
                place: "taxes[0].tax".into(),
                expected: 948,
                found: 949,
            }],
        }
    );
}

/// Refuses with case `case` and the text "no rule" at 4096.
fn refuses(case: i32) -> Guest {
    Guest::pricing(&format!(
        "(i32.store8 offset=2048 (i32.const 0) (i32.const 1)) \
         (i32.store8 offset=2056 (i32.const 0) (i32.const {case})) \
         (i32.store offset=2060 (i32.const 0) (i32.const 4096)) \
         (i32.store offset=2064 (i32.const 0) (i32.const 7)) \
         (i32.const 2048)"
    ))
    .with_data(4096, b"no rule")
}

#[test]
fn refusals_keep_their_kind_and_words() {
    let kinds = [
        RefusalKind::NotCovered,
        RefusalKind::Missing,
        RefusalKind::BadSetting,
    ];
    for (case, kind) in (0..).zip(kinds) {
        let failure = fails(&refuses(case), "REFUSED");
        assert_eq!(
            failure.error,
            PluginError::Refused {
                kind,
                text: "no rule".into()
            }
        );
    }
}

#[test]
fn a_refusal_of_no_known_kind_is_a_trap() {
    fails(&refuses(3), "TRAPPED");
}

/// Bytes of a film within a list.
const FILM_BYTES: i32 = 80;

/// Lists one film, `id` at 4096, so many millimetres wide.
fn lists_film(id: &str, width_mm: &str) -> Guest {
    let length = id.len();
    Guest::products(&format!(
        "(local.set $m (call $alloc (i32.const {FILM_BYTES}))) \
         (i32.store (local.get $m) (i32.const 4096)) \
         (i32.store offset=4 (local.get $m) (i32.const {length})) \
         (i32.store offset=8 (local.get $m) (i32.const 4096)) \
         (i32.store offset=12 (local.get $m) (i32.const {length})) \
         (f64.store offset=16 (local.get $m) (f64.const {width_mm})) \
         (i32.store offset=2060 (i32.const 0) (local.get $m)) \
         (i32.store offset=2064 (i32.const 0) (i32.const 1)) \
         (i32.const 2048)"
    ))
    .with_data(4096, id.as_bytes())
}

#[test]
fn products_are_listed() {
    let plugin = load(&lists_film("clear-1524", "1524"));
    assert_eq!(plugin.world(), World::ProductList);
    let (products, _) = plugin.list_products(&[], CallLimits::default()).unwrap();
    assert_eq!(products.films.len(), 1);
    assert_eq!(products.films[0].id, "clear-1524");
    assert!((products.films[0].width_mm - 1_524.0).abs() < f64::EPSILON);
    assert_eq!(products.films[0].length_mm, None);
}

#[test]
fn products_out_of_range_are_refused() {
    for (id, width_mm, fault) in [
        ("clear", "0", "films[0].width_mm 0 is not above 0"),
        ("clear", "nan", "films[0].width_mm NaN is not above 0"),
        ("clear", "inf", "films[0].width_mm inf is not above 0"),
        (
            "Clear",
            "1524",
            "films[0].id `Clear` is not 1 to 64 lower-case letters, digits and hyphens",
        ),
    ] {
        let plugin = load(&lists_film(id, width_mm));
        let failure = plugin
            .list_products(&[], CallLimits::default())
            .unwrap_err();
        assert_eq!(failure.reason(), "PRODUCTS_NOT_VALID");
        assert_eq!(
            failure.to_string(),
            format!("product list is not valid: {fault}")
        );
    }
}

#[test]
fn a_product_list_that_fails_says_why() {
    let guest = Guest::products(
        "(i32.store8 offset=2048 (i32.const 0) (i32.const 1)) \
         (i32.store offset=2052 (i32.const 0) (i32.const 1152)) \
         (i32.store offset=2056 (i32.const 0) (i32.const 5)) (i32.const 2048)",
    );
    let failure = load(&guest)
        .list_products(&[], CallLimits::default())
        .unwrap_err();
    assert_eq!(
        failure.error,
        PluginError::Refused {
            kind: RefusalKind::NotListed,
            text: "1.2.3".into(),
        }
    );
}

#[test]
fn a_plugin_is_asked_only_for_what_its_world_has() {
    let pricing = load(&honest())
        .list_products(&[], CallLimits::default())
        .unwrap_err();
    assert_eq!(pricing.reason(), "WRONG_WORLD");
    let products = load(&lists_film("clear", "1524"))
        .quote(&request(1), CallLimits::default())
        .unwrap_err();
    assert_eq!(
        products.to_string(),
        "component does not fit world pricing: this plugin is of world product-list"
    );
}
