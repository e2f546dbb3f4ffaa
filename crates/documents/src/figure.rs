//! Figures. (In the making.)
