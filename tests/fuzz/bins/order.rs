#![no_main]
#![allow(dead_code)]

#[path = "../targets/mod.rs"]
mod targets;

libfuzzer_sys::fuzz_target!(|data: &[u8]| targets::order::order(data));
