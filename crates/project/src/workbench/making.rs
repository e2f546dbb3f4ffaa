//! Making it, one module per question.

pub mod lethality;
