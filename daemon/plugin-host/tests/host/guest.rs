//! Guests written in WebAssembly text, so that no compiler is needed and the worst of
//! them can do what no compiler would let it. A core module is laid out by hand, then
//! made a component of the real contract by `wit-component`.
//!
//! Sizes and offsets follow the component model's canonical ABI (CanonicalABI.md of the
//! component-model repository: strings and lists are pointer and length; fields are
//! aligned to their own size).

use std::fmt::Write as _;
use std::path::Path;
use wit_component::{ComponentEncoder, StringEncoding, embed_component_metadata};
use wit_parser::Resolve;

/// Price of a unit in [`honest`], minor units.
pub(crate) const HONEST_PRICE: i64 = 5_000;

/// Bytes of one line of a quote, and of a quote within its result.
pub(crate) const LINE_BYTES: i32 = 64;

/// A guest to be: what its module holds besides what each guest has.
#[derive(Clone)]
pub(crate) struct Guest {
    pub(crate) wit: String,
    pub(crate) world: &'static str,
    pub(crate) imports: String,
    pub(crate) memory: &'static str,
    pub(crate) data: String,
    pub(crate) name: &'static str,
    pub(crate) describe: String,
    pub(crate) functions: String,
}

impl Guest {
    /// Of world `pricing`; `body` is that of `quote-job`: it has local `$req`, the
    /// request's address, and leaves the address of a `result<quote, refusal>`.
    pub(crate) fn pricing(body: &str) -> Self {
        Self {
            wit: contract(),
            world: "pricing",
            imports: String::new(),
            memory: "2",
            data: String::new(),
            name: "test-guest",
            describe: "(i32.const 1024)".into(),
            functions: format!(
                "(func (export \"lamella:shop/price@1.0.0#quote-job\") (param $req i32) \
                 (result i32) {LOCALS} {body})"
            ),
        }
    }

    /// Of world `product-list`; `body` is that of `list-products`: it leaves the address
    /// of a `result<product-set, string>`.
    pub(crate) fn products(body: &str) -> Self {
        Self {
            world: "product-list",
            functions: format!(
                "(func (export \"lamella:shop/products@1.0.0#list-products\") \
                 (param $settings i32) (param $count i32) (result i32) {LOCALS} {body})"
            ),
            ..Self::pricing("")
        }
    }

    /// Lets it write to the log: `(call $log (level) (address) (length))`.
    pub(crate) fn with_log(mut self) -> Self {
        self.imports.push_str(
            "(import \"lamella:shop/log@1.0.0\" \"write\" \
             (func $log (param i32 i32 i32)))",
        );
        self
    }

    /// Puts bytes at an address.
    pub(crate) fn with_data(mut self, address: i32, bytes: &[u8]) -> Self {
        let mut text = String::new();
        for byte in bytes {
            write!(text, "\\{byte:02x}").unwrap();
        }
        write!(self.data, "(data (i32.const {address}) \"{text}\")").unwrap();
        self
    }

    /// The component.
    pub(crate) fn build(&self) -> Vec<u8> {
        let mut module = wat::parse_str(self.text()).unwrap();
        let mut resolve = Resolve::default();
        let package = resolve.push_str("shop.wit", &self.wit).unwrap();
        let world = resolve.select_world(&[package], Some(self.world)).unwrap();
        embed_component_metadata(&mut module, &resolve, world, StringEncoding::UTF8).unwrap();
        ComponentEncoder::default()
            .validate(true)
            .module(&module)
            .unwrap()
            .encode()
            .unwrap()
    }

    /// Bytes 1024 to 2047 hold what it says of itself, `$alloc` gives out what follows
    /// byte 65536, and the rest of the first page is free for the test.
    fn text(&self) -> String {
        let Self {
            imports,
            memory,
            data,
            name,
            describe,
            functions,
            ..
        } = self;
        let length = name.len();
        format!(
            r#"(module
                {imports}
                (memory (export "memory") {memory})
                (global $next (mut i32) (i32.const 65536))
                (data (i32.const 1024)
                    "\40\04\00\00\{length:02x}\00\00\00\80\04\00\00\05\00\00\00\90\04\00\00\04\00\00\00")
                (data (i32.const 1088) "{name}")
                (data (i32.const 1152) "1.2.3")
                (data (i32.const 1168) "Test")
                {data}
                (func $alloc (param $bytes i32) (result i32)
                    (local $at i32)
                    (local.set $at
                        (i32.and (i32.add (global.get $next) (i32.const 7)) (i32.const -8)))
                    (global.set $next (i32.add (local.get $at) (local.get $bytes)))
                    (if (i32.gt_u (global.get $next)
                            (i32.mul (memory.size) (i32.const 65536)))
                        (then (drop (memory.grow
                            (i32.add (i32.shr_u (local.get $bytes) (i32.const 16))
                                (i32.const 1))))))
                    (local.get $at))
                (func (export "cabi_realloc") (param i32 i32 i32 i32) (result i32)
                    (call $alloc (local.get 3)))
                (func (export "describe") (result i32) {describe})
                {functions})"#
        )
    }
}

/// Every body may use these.
const LOCALS: &str = "(local $i i32) (local $n i32) (local $m i32) (local $out i32) \
     (local $line i32) (local $class i32) (local $net i64) (local $amount i64) (local $tax i64)";

/// The contract's text, all files as one package.
pub(crate) fn contract() -> String {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR"))
        .ancestors()
        .map(|dir| dir.join("plugins/wit/shop-1.0.0"))
        .find(|dir| dir.is_dir())
        .unwrap();
    let mut text = String::from("package lamella:shop@1.0.0;\n");
    for file in ["types.wit", "pricing.wit", "products.wit"] {
        let file = std::fs::read_to_string(dir.join(file)).unwrap();
        text.push_str(&file.replace("package lamella:shop@1.0.0;", ""));
    }
    text
}

/// A plugin that keeps to the contract: one line for each measure at [`HONEST_PRICE`] for
/// a unit, rounded half up, taxed in the request's first class, once for the class.
pub(crate) fn honest() -> Guest {
    Guest::pricing(&format!(
        r"
        (local.set $m (i32.load offset=68 (local.get $req)))
        (local.set $n (i32.load offset=72 (local.get $req)))
        (local.set $class (i32.load offset=88 (local.get $req)))
        (local.set $out (call $alloc (i32.mul (local.get $n) (i32.const {LINE_BYTES}))))
        (local.set $line (local.get $out))
        (block $done (loop $next_line
            (br_if $done (i32.ge_u (local.get $i) (local.get $n)))
            (local.set $amount (i64.div_s
                (i64.add (i64.mul (i64.load offset=16 (local.get $m)) (i64.const {HONEST_PRICE}))
                    (i64.const 500))
                (i64.const 1000)))
            (i64.store offset=0 (local.get $line) (i64.load offset=8 (local.get $m)))
            (i64.store offset=8 (local.get $line) (i64.load offset=0 (local.get $m)))
            (i64.store offset=16 (local.get $line) (i64.load offset=16 (local.get $m)))
            (i64.store offset=24 (local.get $line) (i64.load offset=24 (local.get $m)))
            (i64.store offset=32 (local.get $line) (i64.const {HONEST_PRICE}))
            (i64.store offset=40 (local.get $line) (local.get $amount))
            (i64.store offset=48 (local.get $line) (i64.load offset=0 (local.get $class)))
            (i64.store offset=56 (local.get $line) (i64.load offset=8 (local.get $m)))
            (local.set $net (i64.add (local.get $net) (local.get $amount)))
            (local.set $i (i32.add (local.get $i) (i32.const 1)))
            (local.set $m (i32.add (local.get $m) (i32.const 32)))
            (local.set $line (i32.add (local.get $line) (i32.const {LINE_BYTES})))
            (br $next_line)))
        (local.set $tax (i64.div_s
            (i64.add
                (i64.mul (local.get $net) (i64.load32_u offset=8 (local.get $class)))
                (i64.const 500000))
            (i64.const 1000000)))
        (local.set $line (call $alloc (i32.const 24)))
        (i64.store offset=0 (local.get $line) (i64.load offset=0 (local.get $class)))
        (i64.store offset=8 (local.get $line) (local.get $net))
        (i64.store offset=16 (local.get $line) (local.get $tax))
        {HONEST_RESULT}
        "
    ))
}

/// A `result<quote, refusal>` from `$out`, `$n` (lines), `$line` (the one tax), `$net`, `$tax`.
const HONEST_RESULT: &str = r"
    (local.set $m (call $alloc (i32.const 56)))
    (i32.store8 offset=0 (local.get $m) (i32.const 0))
    (i32.store offset=8 (local.get $m) (local.get $out))
    (i32.store offset=12 (local.get $m) (local.get $n))
    (i32.store offset=16 (local.get $m) (local.get $line))
    (i32.store offset=20 (local.get $m) (i32.const 1))
    (i64.store offset=24 (local.get $m) (local.get $net))
    (i64.store offset=32 (local.get $m) (local.get $tax))
    (i64.store offset=40 (local.get $m) (i64.add (local.get $net) (local.get $tax)))
    (i64.store offset=48 (local.get $m) (i64.const 0))
    (local.get $m)";

/// A plugin that does `act` and then answers as [`honest`] does.
pub(crate) fn honest_after(act: &str) -> Guest {
    let mut guest = honest();
    let begin = guest
        .functions
        .find("(local.set $m (i32.load offset=68")
        .unwrap();
    guest.functions.insert_str(begin, act);
    guest
}
