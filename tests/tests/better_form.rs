//! The question of a better formula as a page asks it: the file it becomes asks the same, and what is wrong with it comes back with its field.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use jiff::civil::date;
use levigate_facts::Facts;
use levigate_project::formula_file::{self, FormulaFile};
use levigate_project::proof_file::optimise::{formula_of, read};
use levigate_project::workbench::proof::better_form::{
    AimField, BetterForm, LineField, May, WishField, started,
};
use levigate_project::workbench::proof::optimise::optimise;

const TONER: &str = include_str!("../../examples/night-toner-mandelic.toml");
const GEL: &str = include_str!("../../examples/hand-gel-carbomer.toml");

fn shipped() -> Facts {
    levigate_facts::shipped().unwrap()
}

fn begun(facts: &Facts, text: &str) -> (FormulaFile, BetterForm) {
    let formula = formula_file::read("formula", text).unwrap();
    let form = started(facts, (date(2026, 11, 27), "eu"), &formula, None, None).form;
    (formula, form)
}

/// The formula and the question as one file.
fn file(formula: &FormulaFile, form: &BetterForm) -> String {
    let sheet = formula_file::write(&formula.sheet, formula.own_facts.as_deref()).unwrap();
    format!("{sheet}\n{}", form.tables(formula).unwrap())
}

fn field_of(facts: &Facts, formula: &FormulaFile, form: &BetterForm) -> Vec<String> {
    form.asked(formula, facts).unwrap_err().into_iter().map(|fault| fault.field).collect()
}

#[test]
fn the_file_asks_what_the_page_asks() {
    let facts = shipped();
    for text in [TONER, GEL] {
        let (formula, mut form) = begun(&facts, text);
        form.aims.push(AimField {
            of: "viscosity_mpa_s".to_owned(),
            want: "most".to_owned(),
            ..AimField::default()
        });
        let names: Vec<String> = form.lines.iter().map(|line| line.material.clone()).collect();
        let least = "0,5".to_owned();
        form.wishes.push(WishField {
            of: "sum".to_owned(),
            over: names[1..3].to_vec(),
            least,
            ..WishField::default()
        });
        let most = "30".to_owned();
        let (over, under) = (names[1..2].to_vec(), names[2..3].to_vec());
        form.wishes.push(WishField { of: "ratio".to_owned(), over, under, most, ..WishField::default() });
        for line in &mut form.lines[1..3] {
            line.may = May::OneOfA;
            line.least = "0.1".to_owned();
        }
        let asked = form.asked(&formula, &facts).unwrap();
        let text = file(&formula, &form);
        let again = formula_file::read("file", &formula_of(&text)).unwrap();
        assert_eq!(again.sheet, formula.sheet);
        assert_eq!(read("file", &text, &again, &facts).unwrap(), asked);
        assert_eq!((asked.aims.len(), asked.groups.len()), (2, 1));
    }
}

#[test]
fn what_a_formula_begins_with_has_an_answer() {
    let facts = shipped();
    for text in [TONER, GEL] {
        let (formula, form) = begun(&facts, text);
        assert!(form.lines.iter().any(|line| line.may == May::Move));
        let text = file(&formula, &form);
        let whole = formula_of(&text);
        let on = (date(2026, 11, 27), "eu");
        let found =
            optimise(&facts, on, ("file", &whole), ("file", &text), &mut |_, _| true).unwrap().reading;
        assert!(found.conflict.is_none(), "{:?}", found.conflict.map(|conflict| conflict.words));
        assert!(found.answers[0].wishes.iter().all(|wish| wish.kept));
    }
}

#[test]
fn a_question_that_was_left_stands_again_for_the_lines_that_are_there() {
    let facts = shipped();
    let (formula, mut form) = begun(&facts, TONER);
    form.lines[1] = LineField { least: "2.2".to_owned(), may: May::MoveOrOut, ..form.lines[1].clone() };
    form.lines.remove(2);
    form.lines.reverse();
    let on = (date(2026, 11, 27), "eu");
    let again = started(&facts, on, &formula, None, Some(&form)).form;
    assert_eq!((again.lines[1].least.as_str(), again.lines[1].may), ("2.2", May::MoveOrOut));
    // A line the question does not know stays until a person lets it move.
    assert_eq!(again.lines[2].may, May::Stay);
    assert_eq!(again.lines.len(), formula.sheet.lines().count());
    assert_eq!(again.wishes, form.wishes);
}

#[test]
fn what_is_wrong_comes_back_with_its_field() {
    let facts = shipped();
    let (formula, good) = begun(&facts, TONER);
    let moving = good.lines.iter().position(|line| line.may == May::Move).unwrap();
    let spoilt = |spoil: &dyn Fn(&mut BetterForm)| {
        let mut form = good.clone();
        spoil(&mut form);
        field_of(&facts, &formula, &form)
    };
    let line = |key: &str| vec![format!("lines.{moving}.{key}")];
    assert_eq!(spoilt(&|form| form.lines[moving].least = "x\"\n[[optimise.aim]]".to_owned()), line("least"));
    assert_eq!(spoilt(&|form| form.lines[moving].most = String::new()), line("most"));
    assert_eq!(spoilt(&|form| form.lines[moving].least = "99".to_owned()), line("least"));
    assert_eq!(spoilt(&|form| form.lines[moving].step = "0".to_owned()), line("step"));
    assert_eq!(spoilt(&|form| form.lines[moving].may = May::OneOfB), line("may"));
    assert_eq!(
        spoilt(&|form| {
            form.lines[moving].may = May::MoveOrOut;
            form.lines[moving].least = "0".to_owned();
        }),
        line("least")
    );
    assert_eq!(spoilt(&|form| form.lines.iter_mut().for_each(|line| line.may = May::Stay)), ["lines"]);
    assert_eq!(spoilt(&|form| form.aims.clear()), ["aims"]);
    assert_eq!(spoilt(&|form| form.aims[0].of = "beauty\" = 1\n[x]".to_owned()), ["aims.0.of"]);
    assert_eq!(spoilt(&|form| form.wishes[0].material = "Unheard \"of\n".to_owned()), ["wishes.0.material"]);
    assert_eq!(
        spoilt(&|form| (form.wishes[0].least, form.wishes[0].most) = ("5".to_owned(), "4".to_owned())),
        ["wishes.0.least"]
    );
    assert_eq!(
        spoilt(&|form| form.wishes[0].of = "sum".to_owned()).first().map(String::as_str),
        Some("wishes.0.over")
    );
    assert!(!spoilt(&|form| form.wishes = vec![WishField::default(); 2_000]).is_empty());
}
