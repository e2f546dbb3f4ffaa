//! For whom and where: the closed vocabulary of product types, and how a product of the sheet falls into it.
//!
//! The lists of limits speak of "face cream", "body lotion", "hand products", "leave-on", "spray". Here those words are an
//! enumeration, and a row of a rule is a predicate over it. What the sheet does not say is taken as stated in the notes.

use levigate_formula::sheet::Product;
use levigate_measure::Note;
use serde::{Deserialize, Serialize};

/// Product types the rules tell apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Category {
    /// Creams, serums, gels, toners that stay on the face.
    FaceCare,
    /// Care around the eye that stays on.
    EyeCare,
    /// Care of the body over large areas.
    BodyLotion,
    /// Hand care.
    HandCare,
    /// Foot care.
    FootCare,
    /// Lip products.
    Lip,
    /// Make-up for the face.
    FaceMakeUp,
    /// Eye shadow, mascara, eyeliner.
    EyeMakeUp,
    /// Make-up remover and no-rinse cleansing water.
    MakeUpRemover,
    /// Face cleansers, masks and peels that are rinsed off.
    FaceRinseOff,
    /// Deodorant and antiperspirant.
    Deodorant,
    /// Alcoholic fragrance.
    Fragrance,
    /// Hair and scalp products that stay on.
    HairLeaveOn,
    /// Conditioner and other rinse-off hair products.
    HairRinseOff,
    /// Shampoo.
    Shampoo,
    /// Hair waving and straightening.
    HairWaving,
    /// Depilatories.
    Depilatory,
    /// Soap and hand wash.
    HandWash,
    /// Shower and bath products.
    ShowerBath,
    /// Toothpaste, mouthwash and other oral products.
    Oral,
    /// Nail products.
    Nail,
    /// Self-tanner.
    SelfTanner,
    /// Sunscreen.
    Sunscreen,
    /// Wipes for the anogenital area.
    IntimateWipe,
    /// Products for the nappy area.
    NappyArea,
}

impl Category {
    /// The words shown to people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::FaceCare => "face care",
            Self::EyeCare => "eye-contour care",
            Self::BodyLotion => "body care",
            Self::HandCare => "hand care",
            Self::FootCare => "foot care",
            Self::Lip => "lip product",
            Self::FaceMakeUp => "face make-up",
            Self::EyeMakeUp => "eye make-up",
            Self::MakeUpRemover => "make-up remover",
            Self::FaceRinseOff => "rinse-off face product",
            Self::Deodorant => "deodorant",
            Self::Fragrance => "fragrance",
            Self::HairLeaveOn => "leave-on hair product",
            Self::HairRinseOff => "rinse-off hair product",
            Self::Shampoo => "shampoo",
            Self::HairWaving => "hair waving or straightening",
            Self::Depilatory => "depilatory",
            Self::HandWash => "hand wash or soap",
            Self::ShowerBath => "shower or bath product",
            Self::Oral => "oral product",
            Self::Nail => "nail product",
            Self::SelfTanner => "self-tanner",
            Self::Sunscreen => "sunscreen",
            Self::IntimateWipe => "intimate wipe",
            Self::NappyArea => "nappy-area product",
        }
    }
}

/// Products a row speaks of. An absent field is no restriction.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scope {
    /// One of these.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub categories: Vec<Category>,
    /// None of these.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_categories: Vec<Category>,
    /// Stays on, or not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leave_on: Option<bool>,
    /// Sprayed, or not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spray: Option<bool>,
    /// For use near the eye, or not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub eye_area: Option<bool>,
    /// For children under three years, or not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub under_three: Option<bool>,
}

/// How a product is used, in the vocabulary of the rules.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Usage {
    /// Product types; more than one where the sheet names several sites.
    pub categories: Vec<Category>,
    /// Stays on the skin.
    pub leave_on: bool,
    /// Is sprayed.
    pub spray: bool,
    /// Is used near the eye.
    pub eye_area: bool,
    /// Is meant for children under three years.
    pub under_three: bool,
    /// What was taken for granted.
    pub notes: Vec<Note>,
}

/// Words of the product type that decide before the site does.
const BY_TYPE: &[(&[&str], Category)] = &[
    (&["shampoo"], Category::Shampoo),
    (&["mascara", "eyeliner", "eye shadow", "eye-shadow"], Category::EyeMakeUp),
    (&["make-up remover", "makeup remover", "micellar", "cleansing water"], Category::MakeUpRemover),
    (&["foundation", "make-up", "makeup", "concealer", "face powder"], Category::FaceMakeUp),
    (&["toothpaste", "mouthwash", "mouth wash"], Category::Oral),
    (&["deodorant", "antiperspirant", "deo "], Category::Deodorant),
    (&["lipstick", "lip "], Category::Lip),
    (&["self-tan", "self tan", "tanning"], Category::SelfTanner),
    (&["sunscreen", "sun lotion", "sun cream"], Category::Sunscreen),
    (&["perfume", "eau de", "cologne", "fine fragrance"], Category::Fragrance),
    (&["hand wash", "handwash", "soap"], Category::HandWash),
    (&["shower", "bath"], Category::ShowerBath),
    (&["hair wav", "straighten"], Category::HairWaving),
    (&["depilat"], Category::Depilatory),
    (&["nail"], Category::Nail),
    (&["intimate wipe"], Category::IntimateWipe),
    (&["nappy", "diaper"], Category::NappyArea),
];

impl Usage {
    /// Reads a product of the sheet. Nothing is refused: what is not understood is said in the notes.
    #[must_use]
    pub fn of(product: &Product) -> Self {
        let kind = format!("{} ", product.kind.to_lowercase());
        let site = product.site.to_lowercase();
        let mut notes = Vec::new();
        let mut categories: Vec<Category> = BY_TYPE
            .iter()
            .filter(|(words, _)| words.iter().any(|word| kind.contains(word)))
            .map(|(_, category)| *category)
            .take(1)
            .collect();
        if categories.is_empty() {
            for word in site.split([',', '/', '+', '&', ' ']).map(str::trim) {
                if let Some(category) = by_site(word, product.leave_on)
                    && !categories.contains(&category)
                {
                    categories.push(category);
                }
            }
        }
        if categories.is_empty() {
            notes.push(Note::new(
                "site-not-understood",
                format!(
                    "The site \"{}\" is not one the rules know, so only rules for every product were applied; write face, eye, body, hand, foot, lip, scalp or hair.",
                    product.site
                ),
            ));
        }
        let spray = ["spray", "mist", "aerosol"].iter().any(|word| kind.contains(word));
        let eye_area = site.contains("eye") || kind.contains("eye");
        let under_three =
            ["baby", "infant", "nappy"].iter().any(|word| kind.contains(word) || site.contains(word));
        if !under_three {
            notes.push(Note::new(
                "age-assumed",
                "The product is taken to be for persons of three years and over; conditions on age are listed with each limit.",
            ));
        }
        if product.leave_on && categories.contains(&Category::MakeUpRemover) {
            notes.push(Note::new(
                "no-rinse-remover",
                "A cleansing water that is not rinsed off counts as leave-on for limits and allergens, though the exposure table gives make-up remover a retention factor of 0.1; both are shown.",
            ));
        }
        Self { categories, leave_on: product.leave_on, spray, eye_area, under_three, notes }
    }

    /// The product types in words.
    #[must_use]
    pub fn words(&self) -> String {
        let names: Vec<&str> = self.categories.iter().map(|category| category.words()).collect();
        let names = if names.is_empty() { "product of unknown type".to_owned() } else { names.join(" and ") };
        let stay = if self.leave_on { "leave-on" } else { "rinse-off" };
        if self.spray { format!("{names}, {stay}, sprayed") } else { format!("{names}, {stay}") }
    }
}

fn by_site(word: &str, leave_on: bool) -> Option<Category> {
    Some(match word {
        "face" | "facial" | "neck" | "décolleté" | "decollete" if leave_on => Category::FaceCare,
        "face" | "facial" | "neck" => Category::FaceRinseOff,
        "eye" | "eyes" | "eye-contour" | "eye-area" if leave_on => Category::EyeCare,
        "eye" | "eyes" | "eye-contour" | "eye-area" => Category::MakeUpRemover,
        "body" | "skin" if leave_on => Category::BodyLotion,
        "body" | "skin" => Category::ShowerBath,
        "hand" | "hands" if leave_on => Category::HandCare,
        "hand" | "hands" => Category::HandWash,
        "foot" | "feet" => Category::FootCare,
        "lip" | "lips" => Category::Lip,
        "hair" | "scalp" if leave_on => Category::HairLeaveOn,
        "hair" | "scalp" => Category::HairRinseOff,
        "underarm" | "axilla" => Category::Deodorant,
        "nail" | "nails" => Category::Nail,
        "mouth" | "teeth" => Category::Oral,
        "nappy-area" | "nappy" => Category::NappyArea,
        _ => return None,
    })
}

impl Scope {
    /// Whether the row speaks of the product: one of its types passes, and leave-on, spray and eye area agree.
    #[must_use]
    pub fn speaks_of(&self, usage: &Usage) -> bool {
        let flags = [
            (self.leave_on, usage.leave_on),
            (self.spray, usage.spray),
            (self.eye_area, usage.eye_area),
            (self.under_three, usage.under_three),
        ];
        if flags.iter().any(|(asked, given)| asked.is_some_and(|asked| asked != *given)) {
            return false;
        }
        if self.categories.is_empty() && self.not_categories.is_empty() {
            return true;
        }
        if usage.categories.is_empty() {
            // The type is unknown: a row with a positive list cannot be applied, one that only excludes can.
            return self.categories.is_empty();
        }
        usage.categories.iter().any(|category| {
            (self.categories.is_empty() || self.categories.contains(category))
                && !self.not_categories.contains(category)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn product(kind: &str, site: &str, leave_on: bool) -> Product {
        Product {
            name: "Test".to_owned(),
            kind: kind.to_owned(),
            site: site.to_owned(),
            leave_on,
            markets: vec!["eu".to_owned()],
            client: None,
            note: None,
        }
    }

    #[test]
    fn the_site_decides_where_the_type_does_not() {
        assert_eq!(Usage::of(&product("serum", "face", true)).categories, [Category::FaceCare]);
        assert_eq!(
            Usage::of(&product("gel", "body and face", true)).categories,
            [Category::BodyLotion, Category::FaceCare]
        );
        assert_eq!(Usage::of(&product("micellar water", "face", true)).categories, [Category::MakeUpRemover]);
        assert!(Usage::of(&product("gel", "eye", true)).eye_area);
    }

    #[test]
    fn an_unknown_site_is_said() {
        let usage = Usage::of(&product("serum", "elbow", true));
        assert!(usage.categories.is_empty());
        assert!(usage.notes.iter().any(|note| note.code == "site-not-understood"));
        assert!(Scope::default().speaks_of(&usage));
        let face_only = Scope { categories: vec![Category::FaceCare], ..Scope::default() };
        assert!(!face_only.speaks_of(&usage));
    }
}
