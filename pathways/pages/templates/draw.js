/* The drawing page: puts map, corners, form, lists and files together. */
'use strict';
function drawFarm(map) {
  const data = JSON.parse(document.getElementById('data').textContent);
  const words = data.words;
  const byId = (id) => document.getElementById(id);
  const narrow = window.matchMedia('(max-width: 62rem)');
  const store = drawingStore(data);
  let chosen = null;

  const view = drawingMap(map, data, store, (number) => {
    choose(number);
    form.holder.scrollIntoView({ block: 'nearest' });
  });
  const corners = cornerTools(map, data, store, {
    began: () => { choose(null); tell(); if (narrow.matches) window.scrollTo(0, document.querySelector('.head').offsetHeight); },
    rested: () => refresh(),
    made: (number) => { choose(number); answer(); },
    moved: (number) => choose(number),
    cancelled: (bringBack) => tell(element('p', {}, words.cancelled), button(words.bring_back, bringBack)),
  });
  const form = drawingForm(data, store, {
    answered: (number, name, value) => { store.set(number, name, value); form.retitle(number); },
    edit: (number) => corners.edit(number),
    turn: (number) => {
      const shape = store.features[number].geometry;
      store.reshape(number, { type: shape.type, coordinates: [...shape.coordinates].reverse() });
    },
    remove: (number) => {
      const thing = titleOf(store.features[number], store.layers);
      chosen = null;
      store.remove(number);
      form.close();
      tell(element('p', {}, filled(words.deleted, { thing })));
    },
    closed: () => choose(null),
  });
  const lists = drawingLists(data, store, {
    begin: (layer, shape) => corners.begin(layer, shape),
    choose: (number) => { choose(number); map.fitBounds(view.boundsOf(store.features[number]), { maxZoom: Math.max(map.getZoom(), 19), padding: [60, 60], animate: false }); answer(); },
    sayNone: (name, there) => store.sayNone(name, there),
    showValley: (one) => map.fitBounds(L.latLngBounds(view.places(one.coordinates)), { padding: [40, 40], animate: false }),
    takeValley: (one) => takeValley(one),
    valleysHidden: () => refresh(),
  });
  const files = drawingFiles(data, store, {
    isUnfinished: () => corners.isUnfinished(),
    tell: (...says) => tell(...says),
    onGround: (feature) => ground().intersects(view.boundsOf(feature)),
    opened: () => { corners.leave(); choose(null); whole(store.features.length > 0); },
    lay: (found) => {
      const bounds = view.lay(found);
      const here = ground();
      const meets = bounds !== null && here.intersects(bounds);
      if (meets) map.fitBounds(bounds.extend(here), { animate: false });
      return meets;
    },
  });

  function button(says, press) {
    const made = element('button', { type: 'button' }, says);
    made.addEventListener('click', press);
    return made;
  }

  function tell(...says) {
    byId('told').replaceChildren(...says);
    byId('told').hidden = !says.length;
    if (says.length) byId('told').scrollIntoView({ block: 'nearest' });
  }

  function choose(number) {
    chosen = number;
    if (number === null) form.close();
    else form.show(number);
    refresh();
  }

  /* Lead the hand to the questions of what was just drawn. */
  function answer() {
    form.holder.scrollIntoView({ block: narrow.matches ? 'nearest' : 'start' });
    const first = form.holder.querySelector('select, input');
    if (first) first.focus({ preventScroll: narrow.matches });
  }

  function takeValley(one) {
    const number = store.add('watercourses', { type: 'LineString', coordinates: one.coordinates },
      { name: one.name, taken_from: one.note });
    choose(number);
    answer();
  }

  function refresh() {
    if (chosen !== null && !store.features[chosen]) { chosen = null; form.close(); }
    view.draw(chosen, corners.editing);
    view.offer(lists.valleys(), takeValley);
    lists.missing();
    lists.drawnList(chosen);
    byId('undo').disabled = !store.canUndo;
  }

  function ground() { return L.latLngBounds(data.grounds.flatMap((one) => one.corners)); }

  function whole(onlyDrawn) {
    const drawnBounds = L.latLngBounds(store.features.flatMap((one) => view.places(cornersOf(one.geometry))));
    map.fitBounds(onlyDrawn && drawnBounds.isValid() ? drawnBounds.pad(0.1) : ground(), { maxZoom: 20, animate: false });
  }

  function control(position, content) {
    const made = new L.Control({ position });
    made.onAdd = () => {
      L.DomEvent.disableClickPropagation(content);
      return content;
    };
    made.addTo(map);
  }

  /* ---- begin ---- */
  const pictures = data.grounds.map((one) => L.imageOverlay(one.uri, one.corners));
  pictures[0].addTo(map);
  lists.grounds((number) => pictures.forEach((one, at) => (at === number ? one.addTo(map) : one.remove())));
  L.control.scale({ imperial: false, maxWidth: 160 }).addTo(map);
  const all = element('button', { type: 'button', class: 'whole' }, words.whole);
  all.addEventListener('click', () => whole(false));
  control('topright', all);
  byId('cross').append(drawn('svg', { viewBox: '0 0 60 60', width: 60, height: 60, 'aria-hidden': 'true' },
    drawn('path', { d: 'M30 2V24M30 36V58M2 30H24M36 30H58', stroke: '#fff', 'stroke-width': 7 }),
    drawn('path', { d: 'M30 2V24M30 36V58M2 30H24M36 30H58', stroke: '#000', 'stroke-width': 3 }),
    drawn('circle', { cx: 30, cy: 30, r: 2.5, fill: '#000', stroke: '#fff', 'stroke-width': 1.5 })));
  map.getContainer().setAttribute('tabindex', '0');
  byId('undo').addEventListener('click', () => {
    store.undo();
    corners.refresh();
    if (chosen !== null && store.features[chosen]) form.show(chosen);
    tell();
  });
  store.start();
  lists.choose();
  files.begin();
  store.onChange(refresh);
  refresh();
  whole(true);
}
