//! Results must be the same to the bit on every machine: the folders whose figures are stored call
//! no function of the platform's mathematical library and fuse no multiplication with an addition.

use std::fs;
use std::path::Path;

/// Methods of a float whose last digit depends on platform or compiler.
const PLATFORM: [&str; 22] = [
    ".sin()",
    ".cos()",
    ".tan()",
    ".sin_cos()",
    ".asin()",
    ".acos()",
    ".atan()",
    ".atan2(",
    ".exp()",
    ".exp2()",
    ".exp_m1()",
    ".ln()",
    ".ln_1p()",
    ".log10()",
    ".log2()",
    ".powf(",
    ".powi(",
    ".sinh()",
    ".cosh()",
    ".tanh()",
    ".hypot(",
    ".mul_add(",
];

#[test]
fn stored_figures_use_no_platform_mathematics() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/mechanics");
    let mut wrong = Vec::new();
    for room in ["path", "string", "loads", "bending", "fatigue", "exposure"] {
        for entry in fs::read_dir(src.join(room)).unwrap() {
            let file = entry.unwrap().path();
            if file.extension().is_none_or(|e| e != "rs") || file.ends_with("tests.rs") {
                continue;
            }
            let text = fs::read_to_string(&file).unwrap();
            let code = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
            for (number, line) in code.lines().enumerate() {
                let comment = line.trim_start().starts_with("//");
                if !comment && PLATFORM.iter().any(|name| line.contains(name)) {
                    wrong.push(format!("{}:{}: {}", file.display(), number + 1, line.trim()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "use libm here:\n{}", wrong.join("\n"));
}
