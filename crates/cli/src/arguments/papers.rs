//! What can be typed about documents: which one, how it is written, on which paper.

use clap::{Args, ValueEnum};
use jiff::civil::Date;
use std::path::PathBuf;

/// How a document is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Written {
    /// Pages to print
    Pdf,
    /// A workbook
    Xlsx,
    /// Data
    Json,
}

/// Size of the paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum OnPaper {
    /// 210 x 297 mm
    A4,
    /// 8.5 x 11 in
    Letter,
}

/// What `sheet` makes of a formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SheetOf {
    /// The batch sheet: what to weigh
    Batch,
    /// The specification: what the product must be like
    Specification,
    /// What to send to a challenge test
    Submission,
}

/// Files a document is written into.
#[derive(Debug, Args)]
pub(crate) struct Files {
    /// Write it as PDF
    #[arg(long, value_name = "OUT")]
    pub(crate) pdf: Option<PathBuf>,
    /// Write it as a workbook (XLSX)
    #[arg(long, value_name = "OUT")]
    pub(crate) xlsx: Option<PathBuf>,
    /// Size of the paper
    #[arg(long, value_name = "PAPER", default_value = "a4")]
    pub(crate) paper: OnPaper,
}

/// `sheet`
#[derive(Debug, Args)]
pub(crate) struct Sheet {
    /// Formula file
    #[arg(value_name = "FORMULA")]
    pub(crate) formula: PathBuf,
    /// Batch size with its unit, such as 200g or 1.5kg [default: as in the formula]
    #[arg(long, value_name = "MASS")]
    pub(crate) size: Option<String>,
    /// Readability of the balance, such as 0.01g [default: as in the formula]
    #[arg(long, value_name = "MASS")]
    pub(crate) balance: Option<String>,
    /// The day on the sheet [default: today, UTC]
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) date: Option<Date>,
    /// Which sheet
    #[arg(long = "of", value_name = "SHEET", default_value = "batch")]
    pub(crate) what: SheetOf,
    /// Market of the ingredient list of a specification
    #[arg(long, value_name = "MARKET", default_value = "eu")]
    pub(crate) market: String,
    /// Files to write.
    #[command(flatten)]
    pub(crate) files: Files,
    /// Write the batch sheet as a page to print
    #[arg(long, value_name = "OUT")]
    pub(crate) html: Option<PathBuf>,
    /// Write the lines of the batch sheet as CSV
    #[arg(long, value_name = "OUT")]
    pub(crate) csv: Option<PathBuf>,
}

/// `label`
#[derive(Debug, Args)]
pub(crate) struct Label {
    /// Formula file
    #[arg(value_name = "FORMULA")]
    pub(crate) formula: PathBuf,
    /// Market whose rules count
    #[arg(long, value_name = "MARKET", default_value = "eu")]
    pub(crate) market: String,
    /// The day the product is placed on the market [default: today, UTC]
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) date: Option<Date>,
    /// Files to write.
    #[command(flatten)]
    pub(crate) files: Files,
}
