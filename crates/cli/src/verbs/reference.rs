//! What the program says about itself: the form of its files, completions, the manual page.

use crate::answer::{Answer, Failure};
use crate::arguments::{Arguments, SchemaOf};
use clap::CommandFactory;
use levigate_project::workbench::{batch, flow_fit, flow_read};
use levigate_project::{flow_file, formula_file, instrument, making_file, proof_file};

/// The form of a file.
pub(crate) fn schema(of: SchemaOf) -> Answer {
    match of {
        SchemaOf::Formula => Answer::text(formula_file::SCHEMA),
        SchemaOf::FlowFit => Answer::text(flow_fit::SCHEMA),
        SchemaOf::FlowRead => Answer::text(flow_read::SCHEMA),
        SchemaOf::FlowDispense => Answer::text(flow_file::DISPENSE_SCHEMA),
        SchemaOf::FlowDrain => Answer::text(flow_file::DRAIN_SCHEMA),
        SchemaOf::FlowCream => Answer::text(flow_file::CREAM_SCHEMA),
        SchemaOf::Evaporate => Answer::text(making_file::evaporate::SCHEMA),
        SchemaOf::Heat => Answer::text(making_file::heat::SCHEMA),
        SchemaOf::Lethality => Answer::text(making_file::lethality::SCHEMA),
        SchemaOf::Mix => Answer::text(making_file::mix::SCHEMA),
        SchemaOf::Scale => Answer::text(making_file::scale::SCHEMA),
        SchemaOf::Calibrate => Answer::text(making_file::calibration::SCHEMA),
        SchemaOf::Adjust => Answer::text(making_file::adjust::SCHEMA),
        SchemaOf::Microbes => Answer::text(proof_file::microbes::SCHEMA),
        SchemaOf::Challenge => Answer::text(proof_file::challenge::SCHEMA),
        SchemaOf::ShelfLife => Answer::text(proof_file::shelf_life::SCHEMA),
        SchemaOf::Analyse => Answer::text(proof_file::analyse::SCHEMA),
        SchemaOf::Design => Answer::text(proof_file::design::SCHEMA),
        SchemaOf::Optimise => Answer::text(proof_file::optimise::SCHEMA),
        SchemaOf::Substitute => Answer::text(proof_file::substitute::SCHEMA),
        SchemaOf::Pack => Answer::text(proof_file::pack::SCHEMA),
        SchemaOf::Arrhenius => Answer::text(proof_file::arrhenius::SCHEMA),
        SchemaOf::Instruments => Answer::text(instrument::SCHEMA),
        SchemaOf::BatchEnter => Answer::text(batch::ENTER_SCHEMA),
        SchemaOf::Uncertainty => Answer::text(making_file::uncertainty::SCHEMA),
    }
}

/// Completions for a shell.
pub(crate) fn completions(shell: clap_complete::Shell) -> Answer {
    let mut out = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "levigate", &mut out);
    Answer::text(String::from_utf8_lossy(&out))
}

/// The manual page, with every verb.
pub(crate) fn manual() -> Result<Answer, Failure> {
    let mut out = Vec::new();
    let mut command = Arguments::command();
    command.build();
    let written = (|| -> std::io::Result<()> {
        let whole = clap_mangen::Man::new(command.clone());
        whole.render_title(&mut out)?;
        whole.render_name_section(&mut out)?;
        whole.render_synopsis_section(&mut out)?;
        whole.render_description_section(&mut out)?;
        whole.render_options_section(&mut out)?;
        for verb in command.get_subcommands().filter(|verb| verb.get_name() != "help") {
            let page = clap_mangen::Man::new(verb.clone());
            out.extend_from_slice(
                format!(".SH \"LEVIGATE {}\"\n", verb.get_name().to_uppercase()).as_bytes(),
            );
            let mut part = Vec::new();
            page.render_description_section(&mut part)?;
            page.render_synopsis_section(&mut part)?;
            page.render_options_section(&mut part)?;
            // Sections of the verb become subsections of the one page.
            out.extend_from_slice(String::from_utf8_lossy(&part).replace(".SH ", ".SS ").as_bytes());
        }
        whole.render_extra_section(&mut out)?;
        whole.render_version_section(&mut out)?;
        Ok(())
    })();
    written.map_err(|error| Failure::could_not("no-manual", error.to_string(), ""))?;
    Ok(Answer::text(String::from_utf8_lossy(&out)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_hangs_together() {
        Arguments::command().debug_assert();
    }
}
