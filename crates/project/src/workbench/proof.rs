//! Questions about proof, one module each.

pub mod analyse;
pub mod arrhenius;
pub mod better_form;
pub mod challenge;
pub mod design;
pub mod microbes;
pub mod optimise;
pub mod pack;
pub mod shelf_life;
pub mod substitute;
