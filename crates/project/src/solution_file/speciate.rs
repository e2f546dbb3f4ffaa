//! From a solution file to its species: names to components, percent to molality, then the equilibrium.

use super::*;

/// What the solutes add up to.
#[derive(Debug, Default)]
struct Contents {
    totals: BTreeMap<String, f64>,
    neutral: BTreeMap<String, f64>,
    solvents: BTreeMap<String, f64>,
    water_g: f64,
    notes: Vec<Note>,
}

/// Reads and speciates a solution.
///
/// # Errors
/// Everything that is wrong, each with its place and what to do.
pub fn speciate(file: &str, text: &str, facts: &Facts) -> Result<SolutionReport, Vec<Diagnostic>> {
    read(file, text)?.speciate(facts)
}

impl SolutionFile {
    /// Speciates the solution with the facts, or with the constants of the file.
    ///
    /// # Errors
    /// Everything that is wrong, each with its place and what to do.
    pub fn speciate(&self, facts: &Facts) -> Result<SolutionReport, Vec<Diagnostic>> {
        let mut contents = self.contents(facts)?;
        let translated;
        let chemistry = match &self.own {
            None => &facts.chemistry,
            Some(own) => {
                translated = self.translated(own.clone(), facts, &mut contents)?;
                &translated
            }
        };
        let failed = |error: AqueousError| {
            vec![at((&self.file, &self.text), &(0..0), "equilibrium", "", error.to_string(), error.hint())]
        };
        let names = contents.totals.keys().map(String::as_str);
        let system = System::prepare(chemistry, names, &self.conditions).map_err(failed)?;
        let totals = system.totals(&contents.totals).map_err(failed)?;
        let neutral: f64 = contents.neutral.values().sum();
        let mut workspace = Workspace::new();
        system.solve(&totals, neutral, &mut workspace).map_err(failed)?;
        Ok(self.report(facts, &system, &totals, &workspace, contents))
    }

    fn report(
        &self,
        facts: &Facts,
        system: &System,
        totals: &[f64],
        workspace: &Workspace,
        mut contents: Contents,
    ) -> SolutionReport {
        let speciation = system.read(totals, workspace);
        let slopes = system.sensitivities(workspace);
        let solvent = (!contents.solvents.is_empty()).then(|| {
            let (shift, guessed) = SolventShift::of(&facts.chemistry, &contents.solvents, contents.water_g);
            let basis = if guessed { "a rule from memory" } else { "published shifts" };
            contents.notes.push(Note::new(
                "mixed-solvent",
                format!(
                    "{:.0} % of the solvent is not water; the constants are those of water, the interval is widened by {basis}",
                    100.0 * shift.fraction
                ),
            ));
            shift
        });
        let doubt = Doubt { solvent, ..Doubt::default() };
        let ph = system.ph_interval(totals, workspace, &slopes, &doubt).outcome(system, &speciation);
        let neutral: f64 = contents.neutral.values().sum();
        let water_activity = if contents.neutral.is_empty() {
            Outcome::new(
                speciation.water_activity,
                "",
                Grade::Correlated,
                "lowering by all dissolved particles",
            )
            .by("a_w = 1 - 0.017 sum m; Raoult's law where that is higher")
            .valid_for("to about 1 mol/kg")
            .proved_by("tests/cross/aqueous_reference.toml")
            .source("parkhurst-2013")
            .input("sum of molalities", speciation.sum_of_molalities, "mol/kg water", None)
        } else {
            water_activity::of_product(
                &facts.chemistry,
                speciation.sum_of_molalities - neutral,
                &contents.neutral,
            )
        };
        contents.notes.extend(speciation.notes(system));
        let mut species: Vec<SpeciesAmount> =
            speciation.species.iter().filter(|row| row.molality > 0.0).cloned().collect();
        species.sort_by(|a, b| b.molality.total_cmp(&a.molality).then_with(|| a.name.cmp(&b.name)));
        SolutionReport {
            temperature_c: self.conditions.temperature_c,
            log10_pco2_atm: self.conditions.log10_pco2_atm,
            activity: self.conditions.activity,
            constants: if self.own.is_some() { "replace" } else { "shipped" },
            ph,
            ionic_strength: Outcome::new(
                speciation.ionic_strength,
                "mol/kg water",
                Grade::Computed,
                "equilibrium of the water phase",
            )
            .by("I = 1/2 sum z^2 m; polymer units by their free counter-ions")
            .proved_by("tests/cross/aqueous_reference.toml"),
            water_activity,
            osmolality: Outcome::new(
                speciation.sum_of_molalities,
                "mol/kg water",
                Grade::Computed,
                "sum of all dissolved particles",
            )
            .by("sum m, osmotic coefficients taken as one"),
            buffer_capacity: Outcome::new(
                slopes.buffer_capacity,
                "mol/kg water per pH",
                Grade::Computed,
                "derivative of the equilibrium",
            )
            .by("beta = d(base)/d(pH)"),
            species,
            free_metals: speciation.free_metals,
            totals: contents.totals,
            debye_huckel_a: system.debye_huckel_a(),
            residuals: speciation.residuals,
            iterations: speciation.iterations,
            notes: contents.notes,
        }
    }

    /// Adds up the solutes per kilogram of water.
    fn contents(&self, facts: &Facts) -> Result<Contents, Vec<Diagnostic>> {
        let mut problems = Vec::new();
        let complain = |solute: &Solute, code: &str, what: String, what_now: String| {
            at(
                (&self.file, &self.text),
                &solute.place,
                code,
                format!("{}, name", solute.field),
                what,
                what_now,
            )
        };
        let percents: f64 = self
            .solutes
            .iter()
            .filter_map(|solute| match solute.amount {
                Amount::Percent(value) if !self.is_water(solute, facts) => Some(value),
                _ => None,
            })
            .sum();
        let mut contents = Contents { water_g: 100.0 - percents, ..Contents::default() };
        // Water first: crystal water counts before any molality is known.
        for solute in &self.solutes {
            if let (Some(name), Amount::Percent(percent)) = (&solute.name, solute.amount)
                && let Ok(key) = facts.names.resolve_substance(name)
                && let Some(substance) = facts.library.substances.get(key)
                && let (InWater::Components { crystal_water, .. }, Some(mass)) =
                    (&substance.in_water, &substance.molar_mass_g_mol)
            {
                contents.water_g += percent / mass.value * crystal_water * WATER_G_MOL;
            }
        }
        if contents.water_g <= 0.0 {
            return Err(vec![at(
                (&self.file, &self.text),
                &self.solutes.first().map_or(0..0, |solute| solute.place.clone()),
                "no-water",
                "solute",
                format!("the solutes add up to {percents} % and leave no water"),
                "reduce them below 100 %; the rest is water",
            )]);
        }
        for solute in &self.solutes {
            if let Some(name) = &solute.name {
                match facts.names.resolve_substance(name) {
                    Ok(key) => {
                        if let Err((what, what_now)) = contents.add(key, solute.amount, facts) {
                            problems.push(complain(solute, "solute", what, what_now.to_owned()));
                        }
                    }
                    Err(near) => {
                        // The bare name of a component is understood too.
                        let known = self.own.as_ref().unwrap_or(&facts.chemistry);
                        match (component_named(known, name), solute.amount) {
                            (Some(component), Amount::Molality(molality)) => {
                                *contents.totals.entry(component).or_default() += molality;
                            }
                            _ => {
                                let what_now = if near.is_empty() {
                                    "use the substance, INCI or other name, its formula, or gives = { .. }"
                                        .to_owned()
                                } else {
                                    format!("did you mean {}?", near.join(", "))
                                };
                                problems.push(complain(
                                    solute,
                                    "unknown-solute",
                                    format!("\"{name}\" is not known"),
                                    what_now,
                                ));
                            }
                        }
                    }
                }
            } else if let Amount::Molality(molality) = solute.amount {
                for (component, times) in &solute.gives {
                    if component != "H2O" {
                        *contents.totals.entry(component.clone()).or_default() += times * molality;
                    }
                }
            }
        }
        if problems.is_empty() { Ok(contents) } else { Err(problems) }
    }

    fn is_water(&self, solute: &Solute, facts: &Facts) -> bool {
        solute.name.as_ref().is_some_and(|name| {
            facts.names.resolve_substance(name).is_ok_and(|key| {
                facts
                    .library
                    .substances
                    .get(key)
                    .is_some_and(|substance| substance.in_water == InWater::Water)
            })
        })
    }

    /// Writes the totals in the components of the file's own constants; what they do not name stays an inert ion.
    ///
    /// # Errors
    /// A name under `inert` that is no solute without a reaction.
    fn translated(
        &self,
        mut own: Chemistry,
        facts: &Facts,
        contents: &mut Contents,
    ) -> Result<Chemistry, Vec<Diagnostic>> {
        let mut totals: BTreeMap<String, f64> = BTreeMap::new();
        let mut protons = 0.0;
        let mut inert = Vec::new();
        for (name, &total) in &contents.totals {
            if name == "H+" {
                protons += total;
                continue;
            }
            match in_own_components(&own, facts, name) {
                Some((component, count)) => {
                    *totals.entry(component).or_default() += total;
                    protons -= f64::from(count) * total;
                }
                None => {
                    *totals.entry(name.clone()).or_default() += total;
                    inert.push(name.clone());
                }
            }
        }
        for name in &inert {
            own.components.entry(name.clone()).or_insert_with(|| {
                facts.chemistry.components.get(name).cloned().unwrap_or_else(|| Component {
                    name: name.clone(),
                    charge: charge_of_name(name),
                    label: name.clone(),
                    aliases: Vec::new(),
                    chelant: false,
                    molar_mass_g_mol: None,
                })
            });
        }
        self.leave_out(&inert, facts, contents)?;
        totals.insert("H+".to_owned(), protons);
        contents.totals = totals;
        if !self.own_gas
            && self.conditions.log10_pco2_atm.is_some()
            && let Some(gas) = henry_in(&own, facts)
        {
            own.gases.push(gas);
        }
        contents.notes.extend(inferred_water(&own, &contents.totals));
        Ok(own)
    }

    /// Notes what loses its acidity for want of a reaction, and what the file leaves out on purpose.
    fn leave_out(
        &self,
        unnamed: &[String],
        facts: &Facts,
        contents: &mut Contents,
    ) -> Result<(), Vec<Diagnostic>> {
        let text = (self.file.as_str(), self.text.as_str());
        let mut problems = Vec::new();
        let mut said = vec![false; self.inert.len()];
        let (mut left_out, mut no_part) = (Vec::new(), Vec::new());
        for name in unnamed {
            let solute = self.solutes.iter().find(|solute| brings(solute, name, facts));
            let names = |wanted: &Inert| {
                wanted.name == *name || solute.is_some_and(|solute| is_called(solute, wanted, facts))
            };
            let mut on_purpose = false;
            for (wanted, said) in self.inert.iter().zip(&mut said) {
                if names(wanted) {
                    (*said, on_purpose) = (true, true);
                }
            }
            match (acidity(name, facts), on_purpose) {
                (_, true) => left_out.push(name.as_str()),
                (None, false) => no_part.push(name.as_str()),
                (Some(product), false) => {
                    let called = solute.and_then(|solute| solute.name.as_deref()).unwrap_or(name);
                    contents.notes.push(Note::new(
                        "no-constants",
                        format!(
                            "{called} gives {name}, an acid or base, and no [[reaction]] of the file names it: taken as fully dissociated and \
                             inert. Add its [[reaction]] rows (such as product = \"{product}\"), or write inert = [\"{called}\"] at the top \
                             if that is meant"
                        ),
                    ));
                }
            }
        }
        for (wanted, _) in self.inert.iter().zip(said).filter(|(_, said)| !said) {
            problems.push(at(
                text,
                &wanted.place,
                "not-inert",
                "inert",
                format!("\"{}\" is no solute without a [[reaction]]", wanted.name),
                "name a solute as it is named under [[solute]], or take it out",
            ));
        }
        if !left_out.is_empty() {
            let text = format!("{} fully dissociated and inert, as the file says", left_out.join(", "));
            contents.notes.push(Note::new("inert", text));
        }
        if !no_part.is_empty() {
            let text =
                format!("no [[reaction]] names {}: it counts as an ion and nothing else", no_part.join(", "));
            contents.notes.push(Note::new("no-part", text));
        }
        if problems.is_empty() { Ok(()) } else { Err(problems) }
    }
}

/// Whether a solute gives a component.
fn brings(solute: &Solute, component: &str, facts: &Facts) -> bool {
    let Some(name) = &solute.name else { return solute.gives.contains_key(component) };
    let known = facts.names.resolve_substance(name).ok().and_then(|key| facts.library.substances.get(key));
    match known.map(|substance| &substance.in_water) {
        Some(InWater::Components { gives, .. }) => gives.contains_key(component),
        Some(InWater::Polyion { gives_mol_per_kg, .. }) => gives_mol_per_kg.contains_key(component),
        Some(_) => false,
        None => component_named(&facts.chemistry, name).as_deref() == Some(component),
    }
}

/// Whether a solute is meant by a name under `inert`.
fn is_called(solute: &Solute, wanted: &Inert, facts: &Facts) -> bool {
    let Some(name) = &solute.name else { return false };
    let key = |name: &str| facts.names.resolve_substance(name).ok();
    name.eq_ignore_ascii_case(&wanted.name) || key(name).is_some_and(|own| key(&wanted.name) == Some(own))
}

/// A reaction of the shipped facts by which a component takes up protons, or gives them off in water (log10 K above -10): the product.
fn acidity<'f>(component: &str, facts: &'f Facts) -> Option<&'f str> {
    let matters = |row: &&Reaction| {
        let protons = row.from.get("H+").copied().unwrap_or(0);
        row.from.get(component) == Some(&1)
            && row.from.keys().all(|part| part == component || part == "H+" || part == "H2O")
            && (protons > 0 || (protons == -1 && row.log10_k > -10.0))
    };
    let polyacid = facts.chemistry.polyacids.iter().find(|row| row.component == component);
    let row = facts.chemistry.reactions.iter().find(matters);
    row.map(|row| row.product.as_str()).or_else(|| polyacid.map(|row| row.product.as_str()))
}

/// What was taken for the water of reactions that name none.
fn inferred_water(own: &Chemistry, totals: &BTreeMap<String, f64>) -> Option<Note> {
    let taken: Vec<String> = own
        .reactions
        .iter()
        .filter(|row| !row.from.contains_key("H2O") && row.water() != 0)
        .filter(|row| row.from.keys().all(|part| part == "H+" || totals.contains_key(part)))
        .map(|row| format!("{} ({})", row.product, row.water()))
        .collect();
    (!taken.is_empty()).then(|| {
        Note::new(
            "water-inferred",
            format!(
                "water not written under from; taken into the law of mass action, one for each proton given off: {}. Write \"H2O\" = n \
                 (0 for none) to say it",
                taken.join(", ")
            ),
        )
    })
}

impl Contents {
    fn add(&mut self, key: &str, amount: Amount, facts: &Facts) -> Result<(), (String, &'static str)> {
        let Some(substance) = facts.library.substances.get(key) else {
            return Err((format!("\"{key}\" is not known"), "use another name"));
        };
        let kg = self.water_g / 1000.0;
        let molality = match (amount, &substance.molar_mass_g_mol) {
            (Amount::Molality(molality), _) => Some(molality),
            (Amount::Percent(percent), Some(mass)) => Some(percent / mass.value / kg),
            (Amount::Percent(_), None) => None,
        };
        let no_mass =
            || (format!("the molar mass of {} is not on file", substance.name), "give its molality");
        match &substance.in_water {
            InWater::Water => {}
            InWater::Components { gives, .. } => {
                let molality = molality.ok_or_else(no_mass)?;
                for (component, times) in gives {
                    *self.totals.entry(component.clone()).or_default() += times * molality;
                }
            }
            InWater::Polyion { gives_mol_per_kg, .. } => {
                let Amount::Percent(percent) = amount else {
                    return Err((
                        format!("{} is a polymer and has no molality", substance.name),
                        "give its percent",
                    ));
                };
                for (component, per_kg) in gives_mol_per_kg {
                    *self.totals.entry(component.clone()).or_default() += percent / 1000.0 * per_kg / kg;
                }
            }
            InWater::Neutral => {
                let molality = molality.ok_or_else(no_mass)?;
                *self.neutral.entry(key.to_owned()).or_default() += molality;
                let mass = substance.molar_mass_g_mol.as_ref().map_or(0.0, |mass| mass.value);
                if substance.roles.iter().any(|role| role == "solvent" || role == "humectant") {
                    *self.solvents.entry(key.to_owned()).or_default() += molality * kg * mass;
                }
            }
            InWater::Polymer | InWater::Insoluble => {
                self.notes.push(Note::new("no-particles", format!("{} counts as mass only", substance.name)))
            }
            InWater::Oil | InWater::Unknown => {
                return Err((
                    format!("how {} behaves in water is not known", substance.name),
                    "leave it out, or give its components under gives",
                ));
            }
        }
        Ok(())
    }
}

/// Name and charge of a component apart, the name folded.
fn stem(name: &str) -> String {
    let bare = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let bare = if bare.ends_with(['+', '-']) { bare.trim_end_matches(['+', '-']) } else { name };
    bare.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// The component of a chemistry that a person means by a name.
fn component_named(chemistry: &Chemistry, name: &str) -> Option<String> {
    let charge = charge_of_name(name);
    let wanted = stem(name);
    let fits = |component: &&Component| {
        component.charge == charge
            && (stem(&component.name) == wanted
                || component.aliases.iter().any(|alias| stem(alias) == wanted))
    };
    chemistry.components.values().find(fits).map(|component| component.name.clone())
}

/// Our component in the components of the file: its name there and how many protons more it carries.
fn in_own_components(own: &Chemistry, facts: &Facts, name: &str) -> Option<(String, i32)> {
    if own.components.contains_key(name) {
        return Some((name.to_owned(), 0));
    }
    if let Some(found) = component_named(own, name) {
        return Some((found, 0));
    }
    let ours = facts.chemistry.components.get(name);
    let charge = ours.map_or_else(|| charge_of_name(name), |row| row.charge);
    // By other names of the component and by names of the substances it comes from, protons following from the charge.
    let mut stems: BTreeSet<String> = BTreeSet::from([stem(name)]);
    if let Some(row) = ours {
        stems.insert(stem(&row.label));
        stems.extend(row.aliases.iter().map(|alias| stem(alias)));
    }
    for substance in facts.library.substances.values() {
        if let InWater::Components { gives, .. } = &substance.in_water
            && gives.get(name) == Some(&1.0)
            && gives.keys().all(|key| key == "H+" || key == name)
        {
            stems.insert(stem(&substance.name));
            stems.extend(substance.aliases.iter().map(|alias| stem(alias)));
        }
    }
    stems.remove("");
    let more = |component: &Component| component.charge - charge;
    for component in own.components.values().filter(|component| component.name != "H+") {
        if stems.contains(&stem(&component.name)) && (0..=6).contains(&more(component)) {
            return Some((component.name.clone(), more(component)));
        }
    }
    // Or by a protonated form of ours that the file uses as its building stone (HPO4-2, HCO3-).
    for reaction in &facts.chemistry.reactions {
        let only = reaction.from.keys().all(|part| part == name || part == "H+" || part == "H2O");
        if only
            && reaction.from.get(name) == Some(&1)
            && let Some(found) = component_named(own, &reaction.product)
        {
            return Some((found, reaction.from.get("H+").copied().unwrap_or(0)));
        }
    }
    None
}

/// Carbon dioxide in the components of the file: Henry's constant of the shipped facts with the file's own carbonic acid.
fn henry_in(own: &Chemistry, facts: &Facts) -> Option<Gas> {
    let gas = facts.chemistry.gases.iter().find(|row| row.name.eq_ignore_ascii_case("co2"))?;
    let acid = |chemistry: &Chemistry| {
        chemistry
            .reactions
            .iter()
            .find(|row| {
                row.from.iter().any(|(name, &count)| stem(name) == "co3" && count == 1)
                    && row.from.get("H+") == Some(&2)
                    && row.from.keys().all(|name| name == "H+" || name == "H2O" || stem(name) == "co3")
            })
            .cloned()
    };
    let (ours, theirs) = (acid(&facts.chemistry)?, acid(own)?);
    let into = theirs.from.clone();
    Some(Gas {
        name: "CO2".to_owned(),
        into,
        log10_k: gas.log10_k + ours.log10_k - theirs.log10_k,
        enthalpy_kj_mol: Some(
            gas.enthalpy_kj_mol.unwrap_or(0.0) + ours.enthalpy_kj_mol.unwrap_or(0.0)
                - theirs.enthalpy_kj_mol.unwrap_or(0.0),
        ),
        heat_capacity_j_mol_k: Some(
            gas.heat_capacity_j_mol_k.unwrap_or(0.0) + ours.heat_capacity_j_mol_k.unwrap_or(0.0)
                - theirs.heat_capacity_j_mol_k.unwrap_or(0.0),
        ),
        source: gas.source.clone(),
    })
}
