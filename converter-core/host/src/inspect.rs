//! A look at a plugin before it is compiled: what it asks for, which contract it was built for,
//! and whether its size is one that compiles in bounded time.

use sha2::{Digest, Sha256};
use wasmparser::{Encoding, Parser, Payload};

use crate::error::{HostError, Wall};
use crate::limits::PluginLimits;
use crate::text::{clean_text, hexadecimal};

/// The contract's package.
const PACKAGE: &str = "ringmark:format/";
/// Major version of the contract that this program serves.
const MAJOR: u32 = 1;

/// What a plugin file holds.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Inspection {
    /// SHA-256 of the file in hexadecimal.
    pub sha256: String,
    /// Version of the contract it was built for: major, minor, patch.
    pub contract: (u32, u32, u32),
    /// Names of what it imports; all are the contract's.
    pub imports: Vec<String>,
    /// Names of what it exports.
    pub exports: Vec<String>,
    /// Whether it has a reader.
    pub reads: bool,
    /// Whether it has a writer.
    pub writes: bool,
    /// Bytes of the file.
    pub size: u64,
    /// Functions in all its parts.
    pub functions: u64,
    /// Bytes of the largest function.
    pub largest_function: u64,
    /// Modules and components inside, itself counted.
    pub parts: u64,
}

/// Looks at `wasm` without compiling it.
pub(crate) fn inspect(wasm: &[u8], limits: &PluginLimits) -> Result<Inspection, HostError> {
    let sha256 = sha256(wasm);
    let label = label(&sha256);
    let mut look = Look::new(&label, limits);
    look.within(Wall::PluginSize, limits.size, wasm.len() as u64)?;
    look.all(wasm)?;
    let contract = look.contract()?;
    look.only_ours()?;
    let exports = |interface| look.exports.iter().any(|name| is(name, interface));
    let (reads, writes) = (exports("reader"), exports("writer"));
    if !exports("about") || !(reads || writes) {
        return Err(HostError::unsupported(
            &label,
            format!(
                "it must export {PACKAGE}about and {PACKAGE}reader or {PACKAGE}writer; it exports {}",
                listed(&look.exports)
            ),
        ));
    }
    Ok(Inspection {
        contract,
        reads,
        writes,
        size: wasm.len() as u64,
        functions: look.functions,
        largest_function: look.largest_function,
        parts: look.parts,
        imports: look.imports,
        exports: look.exports,
        sha256,
    })
}

/// SHA-256 in hexadecimal.
pub(crate) fn sha256(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

/// What a plugin is called while its name is not known.
pub(crate) fn label(sha256: &str) -> String {
    format!("sha256:{}", sha256.get(..12).unwrap_or(sha256))
}

struct Look<'a> {
    label: &'a str,
    limits: &'a PluginLimits,
    imports: Vec<String>,
    exports: Vec<String>,
    functions: u64,
    largest_function: u64,
    parts: u64,
    initial_data: u64,
    declarations: u64,
}

impl<'a> Look<'a> {
    fn new(label: &'a str, limits: &'a PluginLimits) -> Self {
        Look {
            label,
            limits,
            imports: Vec::new(),
            exports: Vec::new(),
            functions: 0,
            largest_function: 0,
            parts: 0,
            initial_data: 0,
            declarations: 0,
        }
    }

    fn within(&self, wall: Wall, allowed: u64, asked: u64) -> Result<(), HostError> {
        if asked > allowed {
            return Err(HostError::limit(self.label, wall, allowed, Some(asked)));
        }
        Ok(())
    }

    fn unsupported(&self, message: impl Into<String>) -> HostError {
        HostError::unsupported(self.label, message)
    }

    fn all(&mut self, wasm: &[u8]) -> Result<(), HostError> {
        let mut depth = 0u32;
        for payload in Parser::new(0).parse_all(wasm) {
            let payload = payload.map_err(|error| self.malformed(&error))?;
            match &payload {
                Payload::Version { encoding, .. } => {
                    self.parts += 1;
                    self.within(Wall::Parts, self.limits.parts, self.parts)?;
                    if depth == 0 && *encoding == Encoding::Module {
                        return Err(self.unsupported(
                            "it is a core module; a plugin is a component (for plugins in Rust, \
                             `ringmark plugin build` makes one)",
                        ));
                    }
                }
                Payload::ModuleSection { .. } | Payload::ComponentSection { .. } => depth += 1,
                Payload::End(_) => depth = depth.saturating_sub(1),
                Payload::ComponentImportSection(section) if depth == 0 => {
                    for import in section.clone() {
                        let import = import.map_err(|error| self.malformed(&error))?;
                        self.imports.push(clean_text(import.name.name, 200));
                    }
                }
                Payload::ComponentExportSection(section) if depth == 0 => {
                    for export in section.clone() {
                        let export = export.map_err(|error| self.malformed(&error))?;
                        self.exports.push(clean_text(export.name.name, 200));
                    }
                }
                _ => {}
            }
            self.measure(&payload)?;
        }
        Ok(())
    }

    fn measure(&mut self, payload: &Payload<'_>) -> Result<(), HostError> {
        match payload {
            Payload::CodeSectionStart { count, .. } => {
                self.functions += u64::from(*count);
                self.within(Wall::Functions, self.limits.functions, self.functions)
            }
            Payload::CodeSectionEntry(body) => {
                let size = body.range().len() as u64;
                self.largest_function = self.largest_function.max(size);
                self.within(Wall::FunctionSize, self.limits.function_size, size)
            }
            Payload::DataSection(_) | Payload::ElementSection(_) => {
                self.initial_data += section_bytes(payload);
                self.within(
                    Wall::InitialData,
                    self.limits.initial_data,
                    self.initial_data,
                )
            }
            // Looked at above, or held in by the size of the file.
            Payload::CustomSection(_)
            | Payload::ModuleSection { .. }
            | Payload::ComponentSection { .. } => Ok(()),
            _ => {
                self.declarations += section_bytes(payload);
                self.within(
                    Wall::Declarations,
                    self.limits.declarations,
                    self.declarations,
                )
            }
        }
    }

    fn malformed(&self, error: &wasmparser::BinaryReaderError) -> HostError {
        let text = clean_text(&error.to_string(), 300);
        self.unsupported(format!("it is no WebAssembly component: {text}"))
    }

    /// The contract's version, from the names of the exports and, failing that, imports.
    fn contract(&self) -> Result<(u32, u32, u32), HostError> {
        let ours = self.exports.iter().chain(&self.imports);
        let Some(version) = ours
            .filter_map(|name| name.strip_prefix(PACKAGE)?.split_once('@'))
            .map(|(_, version)| version)
            .next()
        else {
            return Err(self.unsupported(format!(
                "it is no format plugin: it exports {}",
                listed(&self.exports)
            )));
        };
        // A version before its release (`1.0.0-rc.1`) is none.
        let numbers: Result<Vec<u32>, _> = version.split('.').map(str::parse).collect();
        match numbers.unwrap_or_default()[..] {
            [MAJOR, minor, patch] => Ok((MAJOR, minor, patch)),
            [major, _, _] if major > MAJOR => Err(self.unsupported(format!(
                "it was built for contract {version}, this program serves {MAJOR}.x: the plugin \
                 is newer, update this program"
            ))),
            _ => Err(self.unsupported(format!(
                "it was built for contract {version}, this program serves {MAJOR}.x: the plugin \
                 is older than what is still served, get a newer one"
            ))),
        }
    }

    fn only_ours(&self) -> Result<(), HostError> {
        let foreign: Vec<String> = self
            .imports
            .iter()
            .filter(|name| !(is(name, "host") || is(name, "types")))
            .cloned()
            .collect();
        if foreign.is_empty() {
            return Ok(());
        }
        Err(self.unsupported(format!(
            "this plugin asks for {}; the contract has no such thing",
            listed(&foreign)
        )))
    }
}

/// Whether `name` is the contract's `interface`, in any version.
fn is(name: &str, interface: &str) -> bool {
    name.strip_prefix(PACKAGE)
        .and_then(|rest| rest.split_once('@'))
        .is_some_and(|(found, _)| found == interface)
}

fn section_bytes(payload: &Payload<'_>) -> u64 {
    payload
        .as_section()
        .map_or(0, |(_, range)| range.len() as u64)
}

fn listed(names: &[String]) -> String {
    const SHOWN: usize = 5;
    if names.is_empty() {
        return "nothing".to_owned();
    }
    let mut text = names[..names.len().min(SHOWN)].join(", ");
    if names.len() > SHOWN {
        text.push_str(&format!(" and {} more", names.len() - SHOWN));
    }
    text
}
