//! What was taken from elsewhere is unchanged, licensed and listed; nothing else of that kind lies about.

use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::path::Path;

#[test]
fn every_vendored_file_is_as_listed_and_every_font_is_listed() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("vendor/VENDORED.toml")).unwrap();
    let list: toml::Table = text.parse().unwrap();
    let files = list["file"].as_array().unwrap();
    let mut listed = BTreeSet::new();
    for file in files {
        let say = |key: &str| file[key].as_str().unwrap().to_owned();
        let bytes = std::fs::read(root.join(say("path"))).unwrap();
        let sum: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(sum, say("sha256"), "{} is not the file that was vendored", say("path"));
        let licence = std::fs::read_to_string(root.join(say("licence_text"))).unwrap();
        assert!(licence.contains("SIL Open Font License"), "{}", say("licence_text"));
        assert!(!say("name").is_empty() && !say("version").is_empty());
        listed.insert(say("path"));
    }
    for entry in std::fs::read_dir(root.join("static/fonts")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if name.ends_with(".woff2") {
            assert!(listed.contains(&format!("static/fonts/{name}")), "{name} is not in VENDORED.toml");
        }
    }
}

#[test]
fn no_page_or_script_names_another_host() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut folders = vec![root.join("static"), root.join("templates")];
    let mut seen = 0;
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let kind = path.extension().and_then(|kind| kind.to_str()).unwrap_or_default();
            if !["js", "css", "html", "svg"].contains(&kind) {
                continue;
            }
            seen += 1;
            let text = std::fs::read_to_string(&path).unwrap().replace("http://www.w3.org/", "");
            assert!(!text.contains("http://") && !text.contains("https://"), "{}", path.display());
            assert!(kind != "html" || !text.contains(" style="), "inline style in {}", path.display());
            assert!(kind != "html" || !text.contains(" onclick="), "inline script in {}", path.display());
        }
    }
    assert!(seen > 20);
}
