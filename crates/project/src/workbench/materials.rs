//! Finding a raw material by part of what a person remembers of it: its name, an INCI name, a CAS number, what it does.
//!
//! Every word must be found somewhere in the record. A hit is as good as its weakest word, and the places are ranked: its own
//! name first, then other names, INCI names, CAS numbers, functions, the substances in it, its form. When nothing is found the
//! nearest names are offered, measured by edits (insert, leave out, change, swap).

use levigate_formula::library::{Form, InWater, Library, Material};
use serde::{Deserialize, Serialize};

/// Longest query that is looked at, characters.
const LONGEST_QUERY: usize = 200;
/// Most names offered when nothing is found.
const MOST_NAMES: usize = 5;

/// A raw material found.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct MaterialHit {
    /// Key.
    pub key: String,
    /// Trade-neutral name.
    pub name: String,
    /// INCI names of its constituents, main one first.
    pub inci: Vec<String>,
    /// CAS numbers of its constituents, main one first.
    pub cas: Vec<String>,
    /// Functions.
    pub functions: Vec<String>,
    /// Physical form.
    pub form: String,
    /// `shipped`, `laboratory` or `workspace`.
    pub layer: String,
    /// What matched, in words, when it was not the name; else empty.
    pub matched: String,
}

/// What a search gave.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct MaterialSearch {
    /// The words as looked for.
    pub words: String,
    /// Hits, best first.
    pub materials: Vec<MaterialHit>,
    /// Number of hits before the list was cut.
    pub found: usize,
    /// Names that may have been meant, when nothing was found.
    pub nearest: Vec<String>,
}

/// Where in a record a word was found, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Where {
    WholeName,
    StartOfName,
    WordOfName,
    PartOfName,
    OtherName,
    Inci,
    Cas,
    Function,
    Substance,
    Form,
}

/// One constituent as it can be found.
struct Part {
    share: f64,
    water: bool,
    inci: Option<String>,
    cas: Vec<String>,
    names: Vec<String>,
}

/// Finds raw materials, best first, at most `most`. No words: all of them, by name.
#[must_use]
pub fn find_materials(library: &Library, words: &str, most: usize) -> MaterialSearch {
    let query: String = words.chars().take(LONGEST_QUERY).collect();
    let wanted: Vec<String> = folded(&query).split_whitespace().map(str::to_owned).collect();
    let whole = wanted.join(" ");
    let mut hits: Vec<(Vec<Where>, MaterialHit)> = library
        .materials
        .values()
        .filter_map(|material| {
            let parts = parts_of(material, library);
            let (rank, matched) = rank(material, &parts, &wanted, &whole)?;
            Some((rank, hit(material, &parts, matched)))
        })
        .collect();
    hits.sort_by(|(left, a), (right, b)| {
        let length = |hit: &MaterialHit| if wanted.is_empty() { 0 } else { hit.name.chars().count() };
        left.cmp(right)
            .then_with(|| length(a).cmp(&length(b)))
            .then_with(|| folded(&a.name).cmp(&folded(&b.name)))
            .then_with(|| a.key.cmp(&b.key))
    });
    let found = hits.len();
    let nearest = if found == 0 { nearest_names(library, &query, MOST_NAMES) } else { Vec::new() };
    let materials = hits.into_iter().take(most).map(|(_, hit)| hit).collect();
    MaterialSearch { words: query.trim().to_owned(), materials, found, nearest }
}

/// The names of raw materials nearest to what was typed, nearest first; none that is farther than a typing mistake could take it.
#[must_use]
pub fn nearest_names(library: &Library, typed: &str, most: usize) -> Vec<String> {
    let typed: String = folded(typed).chars().take(LONGEST_QUERY).collect();
    let typed = typed.trim();
    if typed.is_empty() {
        return Vec::new();
    }
    let mut near: Vec<(usize, &str)> = library
        .materials
        .values()
        .filter_map(|material| {
            let inci = material.constituents.iter().filter(|part| part.typical >= 50.0).filter_map(|part| {
                library.substances.get(&part.substance).and_then(|record| record.inci.as_deref())
            });
            let names = [material.name.as_str(), material.key.as_str()];
            let names = names.into_iter().chain(material.aliases.iter().map(String::as_str)).chain(inci);
            let edits = names.map(|name| edits(&folded(name), typed)).min()?;
            let reach = (typed.chars().count() / 3).clamp(2, 6);
            (edits <= reach).then_some((edits, material.name.as_str()))
        })
        .collect();
    near.sort_unstable();
    near.into_iter().take(most).map(|(_, name)| name.to_owned()).collect()
}

/// Edits from one name to what was typed. Someone who leaves off the tail ("panthenol" for "Panthenol 75 %") made no mistake in
/// the rest, so the best start of the name counts, at the price of one edit.
fn edits(name: &str, typed: &str) -> usize {
    let whole = strsim::damerau_levenshtein(name, typed);
    let words = typed.split_whitespace().count();
    let start: Vec<&str> = name.split_whitespace().take(words).collect();
    whole.min(strsim::damerau_levenshtein(&start.join(" "), typed) + 1)
}

/// Small letters, with hyphens, commas, brackets and slashes as spaces; a CAS number keeps its hyphens.
fn folded(text: &str) -> String {
    let lower = text.to_lowercase();
    if looks_like_cas(lower.trim()) {
        return lower.trim().to_owned();
    }
    let spaced: String = lower
        .chars()
        .map(|sign| if sign.is_alphanumeric() || matches!(sign, '%' | '.' | '+') { sign } else { ' ' })
        .collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Digits and hyphens with at least one of each, beginning with a digit.
fn looks_like_cas(text: &str) -> bool {
    text.starts_with(|sign: char| sign.is_ascii_digit())
        && text.contains('-')
        && text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'-')
}

fn parts_of(material: &Material, library: &Library) -> Vec<Part> {
    let mut parts: Vec<Part> = material
        .constituents
        .iter()
        .filter_map(|part| {
            let record = library.substances.get(&part.substance)?;
            let names = std::iter::once(&record.name).chain(&record.aliases).chain(&record.formula);
            Some(Part {
                share: part.typical,
                water: matches!(record.in_water, InWater::Water),
                inci: record.inci.clone(),
                cas: record.cas.clone(),
                names: names.map(|name| folded(name)).collect(),
            })
        })
        .collect();
    // What the material is named for stands first, even when the grade is mostly water.
    let active = |part: &Part| {
        let record = material.active.as_deref().and_then(|key| library.substances.get(key));
        record.is_some_and(|record| record.inci == part.inci && record.cas == part.cas)
    };
    parts.sort_by(|a, b| active(b).cmp(&active(a)).then_with(|| b.share.total_cmp(&a.share)));
    parts
}

fn hit(material: &Material, parts: &[Part], matched: String) -> MaterialHit {
    let mut cas: Vec<String> = Vec::new();
    // The water of a solution says nothing about the material.
    let telling = parts.iter().filter(|part| !part.water || parts.len() == 1);
    for number in telling.flat_map(|part| &part.cas) {
        if !cas.contains(number) {
            cas.push(number.clone());
        }
    }
    MaterialHit {
        key: material.key.clone(),
        name: material.name.clone(),
        inci: parts.iter().filter_map(|part| part.inci.clone()).collect(),
        cas,
        functions: material.functions.clone(),
        form: form_word(material.form).to_owned(),
        layer: material.layer.word().to_owned(),
        matched,
    }
}

/// One raw material as a search would show it.
#[must_use]
pub fn hit_of(library: &Library, key: &str) -> Option<MaterialHit> {
    let material = library.materials.get(key)?;
    Some(hit(material, &parts_of(material, library), String::new()))
}

/// The word of a physical form.
#[must_use]
pub fn form_word(form: Form) -> &'static str {
    match form {
        Form::Powder => "powder",
        Form::Granules => "granules",
        Form::Liquid => "liquid",
        Form::Solution => "solution",
        Form::Dispersion => "dispersion",
        Form::Paste => "paste",
        Form::Wax => "wax",
    }
}

/// Places of the words, weakest first, and what matched in words; nothing if a word is nowhere.
fn rank(material: &Material, parts: &[Part], wanted: &[String], whole: &str) -> Option<(Vec<Where>, String)> {
    let name = folded(&material.name);
    let key = folded(&material.key);
    let others: Vec<String> = material.aliases.iter().map(|alias| folded(alias)).collect();
    if !whole.is_empty() && (name == whole || key == whole) {
        return Some((vec![Where::WholeName], String::new()));
    }
    if let Some(at) = others.iter().position(|other| other == whole) {
        return Some((vec![Where::StartOfName], material.aliases.get(at).cloned().unwrap_or_default()));
    }
    let mut places = Vec::new();
    let mut matched = Vec::new();
    for word in wanted {
        let (place, what) = place_of(word, &name, &key, &others, material, parts)?;
        places.push(place);
        if let Some(what) = what.filter(|what| !matched.contains(what)) {
            matched.push(what);
        }
    }
    places.sort_unstable_by(|a, b| b.cmp(a));
    Some((places, matched.join(", ")))
}

fn place_of(
    word: &str,
    name: &str,
    key: &str,
    others: &[String],
    material: &Material,
    parts: &[Part],
) -> Option<(Where, Option<String>)> {
    if name.starts_with(word) {
        return Some((Where::StartOfName, None));
    }
    if name.split(' ').any(|part| part.starts_with(word)) {
        return Some((Where::WordOfName, None));
    }
    if name.contains(word) || key.contains(word) {
        return Some((Where::PartOfName, None));
    }
    if let Some(at) = others.iter().position(|other| other.contains(word)) {
        return Some((Where::OtherName, material.aliases.get(at).cloned()));
    }
    let inci = parts.iter().filter_map(|part| part.inci.as_ref()).find(|inci| folded(inci).contains(word));
    if let Some(inci) = inci {
        return Some((Where::Inci, Some(inci.clone())));
    }
    // One digit would be in every CAS number.
    let numeric = word.len() >= 3 && word.bytes().all(|byte| byte.is_ascii_digit() || byte == b'-');
    if numeric && let Some(cas) = parts.iter().flat_map(|part| &part.cas).find(|cas| cas.starts_with(word)) {
        return Some((Where::Cas, Some(format!("CAS {cas}"))));
    }
    if let Some(function) = material.functions.iter().find(|function| folded(function).contains(word)) {
        return Some((Where::Function, Some(function.clone())));
    }
    if let Some(found) = parts.iter().flat_map(|part| &part.names).find(|known| known.contains(word)) {
        return Some((Where::Substance, Some(format!("contains {found}"))));
    }
    form_word(material.form)
        .starts_with(word)
        .then(|| (Where::Form, Some(form_word(material.form).to_owned())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use levigate_formula::library::{Constituent, Substance};

    fn substance(key: &str, inci: &str, cas: &str, aliases: &[&str]) -> Substance {
        Substance {
            key: key.to_owned(),
            name: key.replace('-', " "),
            inci: Some(inci.to_owned()),
            cas: vec![cas.to_owned()],
            aliases: aliases.iter().map(|name| (*name).to_owned()).collect(),
            ..Substance::default()
        }
    }

    fn material(
        key: &str,
        name: &str,
        function: &str,
        parts: &[(&str, f64)],
        active: Option<&str>,
    ) -> Material {
        let text = format!(
            "key = {key:?}\nname = {name:?}\nform = \"solution\"\nconstituents = []\ncomposition_source = \"x\""
        );
        let mut made: Material = toml::from_str(&text).unwrap();
        made.functions = vec![function.to_owned()];
        made.active = active.map(str::to_owned);
        made.constituents = parts
            .iter()
            .map(|(key, typical)| Constituent {
                substance: (*key).to_owned(),
                min: *typical,
                typical: *typical,
                max: *typical,
            })
            .collect();
        made
    }

    fn shelf() -> Library {
        let mut library = Library::default();
        for record in [
            substance("water", "Aqua", "7732-18-5", &[]),
            substance("panthenol", "Panthenol", "81-13-0", &["provitamin b5"]),
            substance("xanthan-gum", "Xanthan Gum", "11138-66-2", &[]),
            substance("propanediol", "Propanediol", "504-63-2", &["1,3-propanediol"]),
            substance("pentylene-glycol", "Pentylene Glycol", "5343-92-0", &[]),
        ] {
            library.substances.insert(record.key.clone(), record);
        }
        for record in [
            material("water", "Water", "solvent", &[("water", 100.0)], None),
            material(
                "panthenol-75",
                "Panthenol 75 %",
                "humectant",
                &[("panthenol", 25.0), ("water", 75.0)],
                Some("panthenol"),
            ),
            material("xanthan", "Xanthan gum", "thickener", &[("xanthan-gum", 100.0)], None),
            material(
                "xanthan-clear",
                "Xanthan gum, clear grade",
                "thickener",
                &[("xanthan-gum", 100.0)],
                None,
            ),
            material("propanediol", "Propanediol", "humectant", &[("propanediol", 100.0)], None),
            material("pentylene", "Pentylene glycol", "solvent", &[("pentylene-glycol", 100.0)], None),
        ] {
            library.materials.insert(record.key.clone(), record);
        }
        library
    }

    fn names(words: &str) -> Vec<String> {
        find_materials(&shelf(), words, 10).materials.into_iter().map(|hit| hit.name).collect()
    }

    #[test]
    fn the_name_itself_comes_before_a_longer_one() {
        assert_eq!(names("xanthan gum"), ["Xanthan gum", "Xanthan gum, clear grade"]);
        assert_eq!(names("clear xanthan"), ["Xanthan gum, clear grade"]);
    }

    #[test]
    fn inci_cas_and_function_find_too_and_say_so() {
        let found = find_materials(&shelf(), "aqua", 10);
        assert_eq!(found.materials[0].name, "Water");
        assert_eq!(found.materials[0].matched, "Aqua");
        assert_eq!(find_materials(&shelf(), "81-13-0", 10).materials[0].matched, "CAS 81-13-0");
        assert_eq!(names("humectant"), ["Propanediol", "Panthenol 75 %"]);
        assert_eq!(names("provitamin"), ["Panthenol 75 %"]);
    }

    #[test]
    fn what_a_grade_is_named_for_stands_first() {
        let found = find_materials(&shelf(), "panthenol", 10);
        assert_eq!(found.materials[0].inci, ["Panthenol", "Aqua"]);
    }

    #[test]
    fn a_typing_mistake_is_offered_the_nearest_names() {
        let found = find_materials(&shelf(), "xantan gum", 10);
        assert!(found.materials.is_empty());
        assert_eq!(found.nearest, ["Xanthan gum", "Xanthan gum, clear grade"]);
        assert_eq!(nearest_names(&shelf(), "Pantenol", 3), ["Panthenol 75 %"]);
        assert!(nearest_names(&shelf(), "titanium", 3).is_empty());
        assert!(nearest_names(&shelf(), " ", 3).is_empty());
    }

    #[test]
    fn no_words_list_all_by_name_and_the_cut_is_told() {
        let found = find_materials(&shelf(), "", 2);
        assert_eq!(found.found, 6);
        let names: Vec<&str> = found.materials.iter().map(|hit| hit.name.as_str()).collect();
        assert_eq!(names, ["Panthenol 75 %", "Pentylene glycol"]);
    }

    proptest::proptest! {
        #[test]
        fn whatever_is_typed_every_hit_has_every_word_somewhere(words in ".{0,40}") {
            let library = shelf();
            let search = find_materials(&library, &words, 100);
            proptest::prop_assert!(search.materials.len() == search.found);
            proptest::prop_assert!(search.found == 0 || search.nearest.is_empty());
        }
    }
}
