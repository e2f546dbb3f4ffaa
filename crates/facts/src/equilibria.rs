//! Equilibrium rows to checked chemistry: rows of later layers replace rows of the same name, solubilities written at a
//! substance become solubilities of the species that the equilibrium model forms from it.

use levigate_formula::aqueous::chemistry::{
    Chemistry, ChemistryError, Component, Cosolvent, EquilibriumFile, Gas, NorrishConstant, Polyacid,
    Reaction, SaltingOut, Solid, SpeciesSolubility,
};
use levigate_formula::library::{InWater, Library};
use std::collections::BTreeMap;

use crate::records::Ledger;
use crate::text::{Place, Placed, Tables};
use crate::{Facts, Fault};

/// Tables of rows that a chemistry is checked from.
const TABLES: &[&str] = &["reaction", "component", "polyacid", "gas", "solid", "salting_out"];

/// Puts a row in place of the row of the same name, or at the end.
fn put<T>(rows: &mut Vec<T>, row: T, name: impl Fn(&T) -> &str) {
    match rows.iter().position(|old| name(old) == name(&row)) {
        Some(at) => rows[at] = row,
        None => rows.push(row),
    }
}

/// Takes out one table and puts its rows over the rows there are.
macro_rules! take_rows {
    ($self:ident, $tables:ident, $ledger:ident, $table:literal, $type:ty, $rows:ident, $name:ident) => {
        let fresh = $self.equilibria.$rows.is_empty();
        for Placed { value, place } in $tables.take::<$type>($table) {
            if $ledger.enter($tables, $table, &value.$name, &place) {
                if fresh {
                    $self.equilibria.$rows.push(value);
                } else {
                    put(&mut $self.equilibria.$rows, value, |row| &row.$name);
                }
            }
        }
    };
}

impl Facts {
    /// Takes the equilibrium rows and builds the chemistry anew.
    pub(crate) fn take_in_equilibria(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        take_rows!(self, tables, ledger, "component", Component, components, name);
        take_rows!(self, tables, ledger, "reaction", Reaction, reactions, product);
        take_rows!(self, tables, ledger, "polyacid", Polyacid, polyacids, component);
        take_rows!(self, tables, ledger, "gas", Gas, gases, name);
        take_rows!(self, tables, ledger, "solid", Solid, solids, name);
        take_rows!(self, tables, ledger, "salting_out", SaltingOut, salting_out, species);
        take_rows!(self, tables, ledger, "norrish", NorrishConstant, norrish, substance);
        take_rows!(self, tables, ledger, "cosolvent", Cosolvent, cosolvents, substance);
        let mut file: EquilibriumFile = self.equilibria.clone();
        file.solubilities = solubilities(&self.library, &file.reactions);
        match Chemistry::from_files([file]) {
            Ok(chemistry) => self.chemistry = chemistry,
            Err(error) => {
                let name = row_of(&error).to_owned();
                // The row may be one that stood before: then what was laid over it is at fault.
                let place = TABLES
                    .iter()
                    .find_map(|table| ledger.own_place_of(table, &name))
                    .or_else(|| ledger.first_of(TABLES))
                    .unwrap_or_else(|| Place { file: "(equilibria)".into(), line: 1, column: 1 });
                tables.refuse(Fault::Incoherent { place, message: format!("{error}; {}", error.hint()) });
            }
        }
    }
}

/// The row that a chemistry error speaks of.
fn row_of(error: &ChemistryError) -> &str {
    match error {
        ChemistryError::ComponentCharge { name, .. }
        | ChemistryError::Duplicate { name }
        | ChemistryError::Number { name, .. }
        | ChemistryError::Stoichiometry { name, .. } => name,
        ChemistryError::ProductCharge { product, .. } | ChemistryError::UnknownComponent { product, .. } => {
            product
        }
        _ => "",
    }
}

/// Solubilities of undissociated species, in mol/kg water, from the grams written at the substances.
fn solubilities(library: &Library, reactions: &[Reaction]) -> Vec<SpeciesSolubility> {
    let mut product_of: BTreeMap<Vec<(&str, i32)>, &str> = BTreeMap::new();
    for reaction in reactions {
        let parts = reaction.from.iter().map(|(name, count)| (name.as_str(), *count)).collect();
        product_of.entry(parts).or_insert(&reaction.product);
    }
    let mut list = Vec::new();
    for substance in library.substances.values() {
        let (InWater::Components { gives, .. }, Some(mass)) =
            (&substance.in_water, &substance.molar_mass_g_mol)
        else {
            continue;
        };
        let whole = |count: f64| (count == count.round() && count.abs() < 100.0).then_some(count as i32);
        let parts: Option<Vec<(&str, i32)>> =
            gives.iter().map(|(name, count)| whole(*count).map(|count| (name.as_str(), count))).collect();
        let Some(parts) = parts else { continue };
        // A neutral component, such as boric acid, is its own undissociated form.
        let itself = match parts.as_slice() {
            [(name, 1)] if !name.ends_with(['+', '-']) => Some(*name),
            _ => None,
        };
        let Some(species) = product_of.get(&parts).copied().or(itself) else { continue };
        for entry in substance.solubility.iter().filter(|entry| entry.of == "neutral") {
            list.push(SpeciesSolubility {
                species: species.to_owned(),
                mol_per_kg_water: entry.g_per_kg_water / mass.value,
                temperature_c: entry.temperature_c,
                source: entry.source.clone(),
            });
        }
    }
    list
}
