// @ts-check
/** Figures under the sheet, like plates in a paper: each with a number and a caption. */

import { PlateView } from './plate.js';

/** @typedef {import('./plate.js').Plate} Plate */

export class PlatesView {
  /** @param {HTMLElement} place @param {(id: string) => void} again asks for one figure anew, as it is looked at */
  constructor(place, again) {
    this.place = place;
    this.again = again;
    /** @type {Map<string, PlateView>} */ this.views = new Map();
  }

  /** How each figure is looked at, where it is not as it comes. @returns {Record<string, import('./plate.js').Look>} */
  looks() {
    return Object.fromEntries([...this.views].filter(([, view]) => view.look.upright || view.look.across).map(([id, view]) => [id, view.look]));
  }

  /** @param {Plate[]} plates */
  update(plates) {
    for (const [id, view] of this.views) {
      if (!plates.some((plate) => plate.id === id)) { view.element.remove(); this.views.delete(id); }
    }
    // The flow curve takes the width of the page; of the others the first does when they would leave a gap.
    const others = plates.filter((plate) => plate.id !== 'flow');
    const wide = new Set(['flow', others.length % 2 ? others[0].id : '']);
    plates.forEach((plate, index) => {
      let view = this.views.get(plate.id);
      if (!view) {
        view = new PlateView(() => this.again(plate.id));
        this.views.set(plate.id, view);
      }
      view.element.classList.toggle('wide', wide.has(plate.id));
      view.element.id = `plate-${plate.id}`;
      view.update(plate, index + 1);
      if (this.place.children[index] !== view.element) this.place.insertBefore(view.element, this.place.children[index] ?? null);
    });
  }

  /** One of them drawn anew. @param {Plate} plate */
  renew(plate) {
    const view = this.views.get(plate.id);
    view?.update(plate, [...this.views.values()].filter((one) => one.element.isConnected).sort((a, b) => (a.element.compareDocumentPosition(b.element) & Node.DOCUMENT_POSITION_FOLLOWING ? -1 : 1)).indexOf(view) + 1);
  }
}
