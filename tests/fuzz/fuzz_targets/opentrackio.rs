//! See the body of this name in `src`.
#![no_main]
libfuzzer_sys::fuzz_target!(|bytes: &[u8]| ringmark_fuzz::run("opentrackio", bytes));
