/* The lists of the panel: what to draw, what is missing, what is drawn, what lies beneath. */
'use strict';
function drawingLists(data, store, hooks) {
  const words = data.words;
  const byId = (id) => document.getElementById(id);

  function button(says, press, className) {
    const made = element('button', { type: 'button' }, says);
    if (className) made.className = className;
    made.addEventListener('click', press);
    return made;
  }

  function shapeKind(layer) {
    const first = layer.shapes[0].type;
    return first === 'LineString' ? 'Line' : first;
  }

  /* A layer with two shapes asks which; another is drawn at once. */
  function layerButton(layer) {
    const made = element('button', { type: 'button', 'data-layer': layer.key, 'aria-expanded': 'false', class: 'thing' },
      swatch(layer.styles[''].outline ? 'Point' : shapeKind(layer), layer.styles['']), element('span', {}, layer.thing));
    const shapes = element('div', { class: 'shapes', hidden: '' }, element('p', {}, words.which_shape),
      element('div', { class: 'row' }, ...layer.shapes.map((shape) => {
        const one = button(shape.says, () => { close(); hooks.begin(layer.key, shape); });
        one.dataset.shape = shape.type;
        return one;
      })));
    function close() { shapes.hidden = true; made.setAttribute('aria-expanded', 'false'); }
    made.addEventListener('click', () => {
      if (layer.shapes.length === 1) { hooks.begin(layer.key, layer.shapes[0]); return; }
      shapes.hidden = !shapes.hidden;
      made.setAttribute('aria-expanded', String(!shapes.hidden));
      if (!shapes.hidden) shapes.querySelector('button').focus();
    });
    if (layer.shapes.length === 1) made.removeAttribute('aria-expanded');
    return [made, shapes];
  }

  function choose() {
    byId('choose').replaceChildren(...data.groups.flatMap((group) => [
      element('h3', {}, group.heading),
      ...group.layers.flatMap((key) => layerButton(store.layers.get(key))),
    ]));
  }

  function openLayer(key) {
    const made = byId('choose').querySelector('[data-layer="' + key + '"]');
    made.scrollIntoView({ block: 'center' });
    made.focus();
    made.click();
  }

  function missing() {
    const drawnLayers = new Set(store.features.map((one) => one.properties.layer));
    const rows = data.missing.filter((one) => !drawnLayers.has(one.layer)).flatMap((one) => {
      const open = one.none_here.filter((none) => !store.noneHere.includes(none.name));
      if (one.none_here.length && !open.length) return [];
      const looked = open.map((none) => button(none.says, () => hooks.sayNone(none.name, false)));
      const folded = looked.length > 1 ? [element('details', {}, element('summary', {}, words.none_of_these),
        element('div', { class: 'row' }, ...looked))] : looked;
      return [element('li', { 'data-missing': one.layer }, element('p', {}, one.says),
        element('div', { class: 'row' }, button(words.draw_it, () => openLayer(one.layer)), ...(looked.length > 1 ? [] : folded)),
        ...(looked.length > 1 ? folded : []))];
    });
    const faults = store.features.flatMap((feature, number) => faultsOf(feature, store, words).map((says) =>
      element('li', { class: 'fault' }, button(says, () => hooks.choose(number), 'thing'))));
    const looked = data.missing.flatMap((one) => one.none_here).filter((none) => store.noneHere.includes(none.name))
      .map((none) => element('li', { class: 'looked' }, element('p', {}, filled(words.looked, { what: none.what })),
        button(words.take_back, () => hooks.sayNone(none.name, true))));
    const all = [...faults, ...rows, ...looked];
    byId('missing').replaceChildren(rows.length || faults.length ? '' : element('p', {}, words.nothing_missing),
      element('ul', { class: 'plain' }, ...all));
  }

  function drawnList(chosen) {
    const rows = store.features.map((feature, number) => {
      const made = button(titleOf(feature, store.layers), () => hooks.choose(number, true), 'thing');
      made.setAttribute('aria-pressed', String(number === chosen));
      return element('li', {}, made);
    });
    byId('drawn').replaceChildren(rows.length ? element('ul', { class: 'plain' }, ...rows) : element('p', { class: 'hint' }, words.nothing_drawn));
  }

  /* A valley line is offered until it is taken, as the note in the drawing tells, or until water
     was drawn by hand. */
  let hidden = false;
  function valleys() {
    const taken = new Set(store.features.map((one) => one.properties.taken_from));
    const byHand = store.features.some((one) => one.properties.layer === 'watercourses' && !one.properties.taken_from);
    const offered = hidden || byHand ? [] : data.valleys.filter((one) => !taken.has(one.note));
    byId('valleys').hidden = !offered.length;
    byId('valleys').replaceChildren(element('h2', {}, words.valleys), element('p', {}, words.valleys_hint),
      element('ul', { class: 'plain' }, ...offered.map((one) => element('li', { 'data-valley': one.number },
        element('p', {}, filled(words.valley, one)),
        element('div', { class: 'row' }, button(words.valley_show, () => hooks.showValley(one)), button(words.valley_take, () => hooks.takeValley(one)))))),
      button(words.valleys_hide, () => { hidden = true; hooks.valleysHidden(); }));
    return offered;
  }

  function grounds(use) {
    const choices = data.grounds.map((ground, number) => {
      const box = element('input', { type: 'radio', name: 'ground', id: 'ground-' + number });
      box.checked = number === 0;
      box.addEventListener('change', () => use(number));
      const note = ground.note ? [element('p', { class: 'hint' }, ground.note)] : [];
      return element('div', {}, element('label', { class: 'tick', for: box.id }, box, element('span', {}, ground.name)), ...note);
    });
    byId('ground').replaceChildren(...choices);
  }

  return { choose, missing, drawnList, valleys, grounds, openLayer };
}
