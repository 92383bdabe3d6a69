//! Small plugins in text form: a skeleton that is a sound reader, of which each case replaces
//! a part.

use ringmark_host::{Host, Plugin};
use sha2::{Digest, Sha256};
use wit_component::{ComponentEncoder, StringEncoding, embed_component_metadata};
use wit_parser::Resolve;

const CONTRACT: &str = include_str!("../../../../plugins/contract/v1/ringmark-format.wit");

const MANIFEST: &str = r#"{"name":"NAME","version":"1.0.0","contract":"1.0","title":"Test","about":"A test.","reads":READS,"writes":WRITES,"files":{"extensions":["test"]},"carries":{}}"#;

/// Parts of a plugin, as text of a core module. The defaults make a sound reader that delivers
/// one take of two frames, read from the first bytes of its input.
pub struct Guest {
    pub name: &'static str,
    /// The contract's text, `None` for the one in use.
    pub contract: Option<String>,
    pub world: &'static str,
    pub memory: &'static str,
    /// The manifest, `None` for a fitting one.
    pub manifest: Option<&'static str>,
    /// Body of the function that finds room for what the host hands over.
    pub realloc: &'static str,
    /// Further fields of the module.
    pub fields: String,
    pub describe: &'static str,
    pub recognise: &'static str,
    pub open: &'static str,
    /// Body of `next`; `$call` counts its calls from 0, `$source` is the first input, `$at` is
    /// free.
    pub next: &'static str,
    pub put: &'static str,
    pub finish: &'static str,
}

impl Default for Guest {
    fn default() -> Self {
        Guest {
            name: "hostile",
            contract: None,
            world: "format-reader",
            memory: "(memory (export \"memory\") 4)",
            manifest: None,
            realloc: REALLOC,
            fields: String::new(),
            describe: "(i32.const 128)",
            recognise: "(i32.const 50)",
            open: "(call $opened)",
            next: SOUND,
            put: "(call $done)",
            finish: "(call $done)",
        }
    }
}

const REALLOC: &str = "
    (local.set $at (i32.and (i32.add (global.get $top) (i32.const 15)) (i32.const -16)))
    (global.set $top (i32.add (local.get $at) (local.get $new)))
    (if (i32.gt_u (global.get $top) (i32.mul (memory.size) (i32.const 65536))) (then
        (drop (memory.grow (i32.add (i32.const 1) (i32.shr_u (local.get $new) (i32.const 16)))))))
    (local.get $at)";

/// A take, two frames, the end.
const SOUND: &str = "
    (if (i32.eqz (global.get $call)) (then (return (call $take))))
    (if (i32.eq (global.get $call) (i32.const 1)) (then
        (call $read (global.get $source) (i64.const 0) (i32.const 10) (i32.const 64))
        (return (call $frames (i64.const 0) (i32.const 2) (call $column (i32.const 2))))))
    (call $end)";

/// A sound reader called 'good'.
pub fn good() -> Vec<u8> {
    Guest {
        name: "good",
        ..Guest::default()
    }
    .build()
}

impl Guest {
    /// The component.
    pub fn build(&self) -> Vec<u8> {
        encode(
            self.contract.as_deref().unwrap_or(CONTRACT),
            self.world,
            &self.text(),
        )
    }

    fn text(&self) -> String {
        let writes = self.world.contains("writer");
        let reads = self.world.contains("reader");
        let manifest = self
            .manifest
            .unwrap_or(MANIFEST)
            .replace("NAME", self.name)
            .replace("READS", if reads { "true" } else { "false" })
            .replace("WRITES", if writes { "true" } else { "false" });
        let version = version(self.contract.as_deref().unwrap_or(CONTRACT));
        let mut imports = String::from(
            r#"(import "HOST" "[method]source.name" (func $name (param i32 i32)))
            (import "HOST" "[method]source.size" (func $size (param i32) (result i64)))
            (import "HOST" "[method]source.read" (func $read (param i32 i64 i32 i32)))
            (import "HOST" "[resource-drop]source" (func $drop (param i32)))
            (import "HOST" "log" (func $log (param i32 i32 i32 i32)))"#,
        );
        let mut exports = String::new();
        if reads {
            imports += r#"(import "[export]READER" "[resource-new]session" (func $new (param i32) (result i32)))"#;
            exports += &format!(
                r#"(func (export "READER#[static]session.open") (param $inputs i32) (param $count i32) (param $options i32) (param $length i32) (result i32)
                    (if (local.get $count) (then (global.set $source (i32.load (local.get $inputs)))))
                    {})
                (func (export "READER#[method]session.next") (param $self i32) (result i32)
                    (local $at i32)
                    (global.set $call (i32.add (global.get $call) (i32.const 1)))
                    {})"#,
                self.open, self.next
            );
        }
        if writes {
            imports += r#"(import "[export]WRITER" "[resource-new]session" (func $new (param i32) (result i32)))
            (import "HOST" "[method]sink.write" (func $write (param i32 i32 i32)))
            (import "HOST" "[method]sink.copy-from" (func $copy (param i32 i32 i64 i64)))
            (import "HOST" "[resource-drop]sink" (func $drop-sink (param i32)))"#;
            exports += &format!(
                r#"(func (export "WRITER#[static]session.open") (param $outputs i32) (param i32) (param $templates i32) (param $count i32) (param $options i32) (param $length i32) (result i32)
                    (global.set $sink (i32.load (local.get $outputs)))
                    (if (local.get $count) (then (global.set $source (i32.load (local.get $templates)))))
                    {})
                (func (export "WRITER#[method]session.put") (param $self i32) (param $item i32) (param i32 i64 i32 i32 i32 i32 i32 i32 i32 i32 i64 i64 i32 i32) (result i32)
                    {})
                (func (export "WRITER#[method]session.finish") (param $self i32) (result i32)
                    {})"#,
                self.open, self.put, self.finish
            );
        }
        format!(
            r#"(module
            {imports}
            {memory}
            (global $call (mut i32) (i32.const -1))
            (global $source (mut i32) (i32.const 0))
            (global $sink (mut i32) (i32.const 0))
            (global $top (mut i32) (i32.const 16384))
            (data (i32.const 128) "\00\08\00\00{manifest_length}")
            (data (i32.const 2048) "{manifest_text}")
            ;; 1000: texts; 1100: one column called 'ring' with its values at 8192.
            (data (i32.const 1000) "ring0..1")
            (data (i32.const 1100) "\e8\03\00\00\04\00\00\00\ec\03\00\00\04\00\00\00\00\00\00\00\00\00\00\00\00\20\00\00\00\00\00\00")
            (func (export "cabi_realloc") (param $old i32) (param $size i32) (param $align i32) (param $new i32) (result i32)
                (local $at i32)
                {realloc})
            ;; Results are put at 256.
            (func $opened (result i32)
                (i32.store8 (i32.const 256) (i32.const 0))
                (i32.store (i32.const 264) (call $new (i32.const 7)))
                (i32.const 256))
            (func $done (result i32)
                (i32.store8 (i32.const 256) (i32.const 0))
                (i32.const 256))
            (func $end (result i32)
                (i64.store (i32.const 256) (i64.const 0))
                (i64.store (i32.const 264) (i64.const 0))
                (i32.const 256))
            ;; An item of a kind, its record cleared: 0 lens, 1 take, 2 frames, 3 remark.
            (func $item (param $kind i32) (result i32)
                (memory.fill (i32.const 256) (i32.const 0) (i32.const 128))
                (i32.store8 (i32.const 264) (i32.const 1))
                (i32.store8 (i32.const 272) (local.get $kind))
                (i32.const 256))
            (func $take (result i32) (call $item (i32.const 1)))
            (func $frames (param $first i64) (param $count i32) (param $columns i32) (result i32)
                (drop (call $item (i32.const 2)))
                (i64.store (i32.const 288) (local.get $first))
                (i32.store (i32.const 296) (local.get $count))
                (i32.store (i32.const 300) (local.get $columns))
                (i32.store (i32.const 304) (i32.ne (local.get $columns) (i32.const 0)))
                (i32.const 256))
            ;; The column 'ring' with so many values.
            (func $column (param $count i32) (result i32)
                (i32.store (i32.const 1128) (local.get $count))
                (i32.const 1100))
            ;; One labels record at 1200 (channel 'ring') with a text at 1000.
            (func $labels (param $text i32) (param $ends i32) (param $end-count i32) (param $index i32) (param $index-count i32)
                (i32.store (i32.const 308) (i32.const 1200))
                (i32.store (i32.const 312) (i32.const 1))
                (i32.store (i32.const 1200) (i32.const 1000))
                (i32.store (i32.const 1204) (i32.const 4))
                (i32.store (i32.const 1208) (i32.const 1000))
                (i32.store (i32.const 1212) (i32.const 4))
                (i32.store (i32.const 1216) (i32.const 1000))
                (i32.store (i32.const 1220) (local.get $text))
                (i32.store (i32.const 1224) (local.get $ends))
                (i32.store (i32.const 1228) (local.get $end-count))
                (i32.store (i32.const 1232) (local.get $index))
                (i32.store (i32.const 1236) (local.get $index-count)))
            ;; A failure with the message 'ring'.
            (func $fail (result i32)
                (memory.fill (i32.const 256) (i32.const 0) (i32.const 128))
                (i32.store8 (i32.const 256) (i32.const 1))
                (i32.store (i32.const 264) (i32.const 1000))
                (i32.store (i32.const 268) (i32.const 4))
                (i32.const 256))
            (func (export "ringmark:format/about@{version}#describe") (result i32) {describe})
            (func (export "ringmark:format/about@{version}#recognise") (param i32 i32 i32 i32) (result i32) {recognise})
            {exports}
            {fields})"#,
            memory = self.memory,
            realloc = self.realloc,
            fields = self.fields,
            describe = self.describe,
            recognise = self.recognise,
            manifest_length = escaped(&(manifest.len() as u32).to_le_bytes()),
            manifest_text = escaped(manifest.as_bytes()),
        )
        .replace("HOST", &format!("ringmark:format/host@{version}"))
        .replace("READER", &format!("ringmark:format/reader@{version}"))
        .replace("WRITER", &format!("ringmark:format/writer@{version}"))
    }
}

fn version(contract: &str) -> &str {
    contract
        .split_once('@')
        .and_then(|(_, rest)| rest.split_once(';'))
        .map(|(version, _)| version)
        .unwrap()
}

fn escaped(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("\\{b:02x}")).collect()
}

/// The contract with another version number.
pub fn contract_version(version: &str) -> String {
    CONTRACT.replace("@1.0.0", &format!("@{version}"))
}

/// A component of a world from the text of its core module.
pub fn encode(contract: &str, world: &str, module: &str) -> Vec<u8> {
    let mut resolve = Resolve::default();
    let package = resolve.push_str("contract.wit", contract).unwrap();
    let world = resolve.select_world(&[package], Some(world)).unwrap();
    let mut module = match wat::parse_str(module) {
        Ok(module) => module,
        Err(error) => panic!("{error}"),
    };
    embed_component_metadata(&mut module, &resolve, world, StringEncoding::UTF8).unwrap();
    ComponentEncoder::default()
        .module(&module)
        .unwrap()
        .validate(true)
        .encode()
        .unwrap()
}

/// Accepts and loads a plugin.
pub fn load(host: &Host, wasm: &[u8]) -> Result<Plugin, ringmark_host::HostError> {
    host.foreign(wasm.to_vec(), &sha256(wasm))
}

pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect()
}
