/* Metres and litres, or feet and gallons. Python binds an amount that it worked out to its unit
   by a no-break space; only those are converted, where they stand, and what they were is kept.
   Distances of rules, names and quoted texts have other spaces and stay as they are. */
'use strict';
const AMOUNT = /(?<![\p{L}\d:.,])(\d[\d,]*(?:\.\d+)?)(\u00a0)(m²|m³|mm|cm|m|l)(?![\p{L}\p{N}²³/])/gu;

/* As many figures as the number was told with, at least two and at most three. */
function inUnits(text, system) {
  if (!system) return text;
  return text.replace(AMOUNT, (whole, number, gap, unit) => {
    const to = system[unit];
    if (!to) return whole;
    const told = number.replace(/[,.]/g, '').replace(/^0+/, '').length;
    const value = Number(number.replace(/,/g, '')) * to.times;
    const maximumSignificantDigits = Math.min(Math.max(told, 2), 3);
    return value.toLocaleString('en-GB', { maximumSignificantDigits }) + gap + to.name;
  });
}

/* Gives what turns the texts within a node into a system of units. */
function unitSpeaker() {
  const written = new WeakMap();
  return (root, system) => {
    const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT, {
      acceptNode: (node) => (node.parentElement && node.parentElement.closest('script, style, option')
        ? NodeFilter.FILTER_REJECT : NodeFilter.FILTER_ACCEPT),
    });
    while (walker.nextNode()) {
      const node = walker.currentNode;
      if (!written.has(node)) written.set(node, node.data);
      const text = inUnits(written.get(node), system);
      if (text !== node.data) node.data = text;
    }
  };
}

/* Units and paper. `onUnits` is given the factors of a system, or nothing for the metric one. */
function tools(data, onUnits) {
  const { words } = data;
  const choice = element('select', { id: 'units' }, ...data.units.map((one, number) => element('option', { value: number }, one.name)));
  const note = element('p', { class: 'hint' }, words.units_note);
  const paper = element('button', { type: 'button' }, words.print);
  note.hidden = true;
  choice.addEventListener('change', () => {
    const { units } = data.units[choice.value];
    note.hidden = !units;
    onUnits(units);
  });
  paper.addEventListener('click', () => window.print());
  document.getElementById('tools').append(element('label', {}, words.units + ' ', choice), paper, note);
}
