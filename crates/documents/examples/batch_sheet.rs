//! Writes the sample batch sheet as HTML, PDF and CSV into a folder, to be looked at:
//! `cargo run -p levigate-documents --example batch_sheet -- FOLDER`.

#[path = "../tests/toner/mod.rs"]
mod toner;

use levigate_documents::{sheet_csv, sheet_html};
use std::error::Error;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("name a folder to write to")?;
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    let sheet = toner::sheet("200", "0.01", |_, _| {});
    std::fs::write(folder.join("batch.html"), sheet_html(&sheet))?;
    std::fs::write(folder.join("batch.csv"), sheet_csv(&sheet)?)?;
    #[cfg(feature = "pdf")]
    {
        use levigate_documents::{Paper, sheet_pdf, sheet_pdf_on};
        std::fs::write(folder.join("batch.pdf"), sheet_pdf(&sheet)?)?;
        std::fs::write(folder.join("batch-letter.pdf"), sheet_pdf_on(&sheet, Paper::Letter)?)?;
    }
    Ok(())
}
