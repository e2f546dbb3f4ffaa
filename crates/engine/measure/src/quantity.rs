//! Small types for quantities at public borders: Celsius is not kelvin, a percent is not a fraction.

use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);
    };
}

quantity! {
    /// Temperature in degrees Celsius.
    Celsius
}
quantity! {
    /// Thermodynamic temperature in kelvin.
    Kelvin
}
quantity! {
    /// Percent by mass (w/w), 0 to 100.
    MassPercent
}
quantity! {
    /// Amount of substance per mass of water, mol/kg.
    Molality
}
quantity! {
    /// Mass in grams.
    Gram
}
quantity! {
    /// Density in kg/m3.
    KilogramPerCubicMetre
}

impl From<Celsius> for Kelvin {
    fn from(temperature: Celsius) -> Self {
        Self(temperature.0 + 273.15)
    }
}

impl From<Kelvin> for Celsius {
    fn from(temperature: Kelvin) -> Self {
        Self(temperature.0 - 273.15)
    }
}

impl MassPercent {
    /// The same share as a fraction of one.
    #[must_use]
    pub fn fraction(self) -> f64 {
        self.0 / 100.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn celsius_and_kelvin_convert_both_ways() {
        assert_eq!(Kelvin::from(Celsius(25.0)), Kelvin(298.15));
        assert!((Celsius::from(Kelvin(273.15)).0).abs() < 1e-12);
    }
}
