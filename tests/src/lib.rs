//! Whole-system evidence lives in `tests/`; here is what several of those tests share.

pub mod damage;
