//! Generated from the contract, once for all plugins. A plugin that only reads exports the
//! same world with a writer that refuses: two generated worlds in one crate clash.

wit_bindgen::generate!({
    path: "../contract/v1",
    world: "format-reader-writer",
    pub_export_macro: true,
    export_macro_name: "export_world",
    default_bindings_module: "ringmark_sdk::bindings",
    runtime_path: "ringmark_sdk::wit_bindgen_rt",
    additional_derives: [PartialEq],
});
