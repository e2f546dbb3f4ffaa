//! Lists every TOML file under `data/` so that it is embedded in the binary, in a fixed order, with a code of their content.

use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let home = PathBuf::from(std::env::var("CARGO_MANIFEST_DIR")?);
    let data = home.join("../../data").canonicalize()?;
    println!("cargo:rerun-if-changed={}", data.display());
    let mut files = Vec::new();
    gather(&data, &mut files)?;
    files.sort();
    let mut list = String::from(
        "/// Every shipped file: path below `data/` and text.\npub(crate) static FILES: &[(&str, &str)] = &[\n",
    );
    let mut content = Sha256::new();
    for file in files {
        let name = file.strip_prefix(&data)?.to_string_lossy().replace('\\', "/");
        content.update(name.as_bytes());
        content.update([0]);
        content.update(std::fs::read(&file)?);
        content.update([0]);
        writeln!(list, "    ({name:?}, include_str!({:?})),", file.display().to_string())?;
    }
    list.push_str("];\n");
    let mut code = String::new();
    for byte in content.finalize().iter().take(6) {
        write!(code, "{byte:02x}")?;
    }
    let version = std::env::var("CARGO_PKG_VERSION")?;
    writeln!(
        list,
        "/// Code of the shipped facts: the first twelve digits of the SHA-256 of their names and texts.\n\
         pub const SHIPPED_CODE: &str = {code:?};\n\
         /// Version of the program and code of the shipped facts, for people.\n\
         pub const SHIPPED_LINE: &str = \"{version}, facts {code}\";"
    )?;
    std::fs::write(PathBuf::from(std::env::var("OUT_DIR")?).join("shipped.rs"), list)?;
    Ok(())
}

fn gather(folder: &Path, files: &mut Vec<PathBuf>) -> std::io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            gather(&path, files)?;
        } else if path.extension().is_some_and(|extension| extension == "toml") {
            files.push(path);
        }
    }
    Ok(())
}
