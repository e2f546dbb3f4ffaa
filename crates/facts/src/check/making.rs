//! How a product is made: keys. What could not be computed with is refused when it is read.

use super::Desk;

pub(super) fn look(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    for key in facts.making.heat_resistance.keys() {
        desk.kebab("heat_resistance", key);
    }
    for key in facts.making.lethal_units.keys() {
        desk.kebab("lethal_unit", key);
    }
}
