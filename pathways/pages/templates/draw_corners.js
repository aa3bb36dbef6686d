/* Setting corners of something new, and moving those of something that is there. */
'use strict';
const NEAREST_PIXELS = 6;
const JOINED_PIXELS = 16;

function cornerTools(map, data, store, hooks) {
  const words = data.words;
  const byId = (id) => document.getElementById(id);
  const pane = map.createPane('pane-corners');
  pane.style.zIndex = 640;
  const renderer = L.svg({ pane: 'pane-corners', padding: 0.5 });
  const ghost = L.layerGroup().addTo(map);
  const rounded = (place) => [place.lng, place.lat].map((one) => Number(one.toFixed(data.digits)));
  const toPlaces = (corners) => corners.map(([longitude, latitude]) => L.latLng(latitude, longitude));
  let mode = null;

  function button(says, press, strong) {
    const made = element('button', { type: 'button' }, says);
    if (strong) made.className = 'strong';
    made.addEventListener('click', press);
    return made;
  }

  function showTools(says, ...buttons) {
    byId('tools').replaceChildren(element('p', { role: 'status' }, says), element('div', { class: 'row' }, ...buttons));
    byId('tools').hidden = false;
    byId('cross').hidden = false;
    map.getContainer().classList.add('busy');
    map.invalidateSize({ animate: false });
  }

  function rest() {
    mode = null;
    ghost.clearLayers();
    byId('tools').hidden = true;
    byId('cross').hidden = true;
    map.getContainer().classList.remove('busy');
    map.invalidateSize({ animate: false });
    hooks.rested();
  }

  /* ---- something new ---- */
  const isUnfinished = () => mode !== null && mode.kind === 'new' && mode.corners.length > 0;

  function begin(layer, shape, corners) {
    if (isUnfinished()) { showNew(words.finish_first); return; }
    mode = { kind: 'new', layer, shape, corners: corners || [] };
    hooks.began();
    showNew();
    map.getContainer().focus({ preventScroll: true });
  }

  function set(place) {
    if (!mode || mode.kind !== 'new') return;
    const last = mode.corners[mode.corners.length - 1];
    // A tap that trembles sets two corners where one was meant.
    if (last && map.latLngToContainerPoint(toPlaces([last])[0]).distanceTo(map.latLngToContainerPoint(place)) < NEAREST_PIXELS) return;
    const joined = joinable(place);
    mode.corners.push(rounded(joined ? joined.at : place));
    if (mode.shape.type === 'Point') finish();
    else showNew('', joined ? ' ' + filled(words.joined, { thing: titleOf(joined.feature, store.layers) }) : '');
  }

  /* Pipes meet gullies, tanks and water: a finger that comes this near means them. Walls and
     kerbs are never joined, for a gap of a hand's width leaks. */
  function joinable(place) {
    const here = map.latLngToContainerPoint(place);
    const wanted = store.layers.get(mode.layer).joins;
    const near = store.features.filter((one) => wanted.includes(one.properties.layer)).map((feature) => {
      const line = toPlaces(feature.geometry.type === 'Polygon' ? feature.geometry.coordinates[0] : cornersOf(feature.geometry))
        .map((one) => map.latLngToContainerPoint(one));
      const ends = line.length > 1 ? line.slice(1).map((to, at) => L.LineUtil.closestPointOnSegment(here, line[at], to)) : line;
      const at = ends.reduce((one, other) => (other.distanceTo(here) < one.distanceTo(here) ? other : one));
      return { feature, at: map.containerPointToLatLng(at), pixels: at.distanceTo(here),
        exact: line.length > 1 ? null : toPlaces(cornersOf(feature.geometry))[0] };
    }).filter((one) => one.pixels <= JOINED_PIXELS).sort((one, other) => one.pixels - other.pixels);
    if (!near.length) return null;
    return { feature: near[0].feature, at: near[0].exact || near[0].at };
  }

  function cancel() {
    const given = mode;
    const lost = isUnfinished();
    rest();
    if (lost) hooks.cancelled(() => begin(given.layer, given.shape, given.corners));
  }

  function takeBack() {
    if (mode && mode.kind === 'new') { mode.corners.pop(); showNew(); }
  }

  function finish() {
    const { layer, shape, corners } = mode;
    if (corners.length < FEWEST[shape.type]) {
      showNew(shape.type === 'Polygon' ? words.too_few_area : words.too_few_line);
      return;
    }
    const geometry = withCorners({ type: shape.type, coordinates: [] }, corners);
    rest();
    hooks.made(store.add(layer, geometry, {}));
  }

  function showNew(warning, more) {
    const { layer, shape, corners } = mode;
    const thing = store.layers.get(layer).thing;
    const isSpot = shape.type === 'Point';
    const count = isSpot ? '' : ' ' + filled(words.corners, { count: corners.length }) + '.';
    const cross = button(isSpot ? words.cross_spot : words.cross, () => set(map.getCenter()), true);
    const leave = button(words.cancel, cancel);
    const others = isSpot ? [] : [button(words.finish, finish, corners.length >= FEWEST[shape.type]), button(words.corner_undo, takeBack)];
    const holder = byId('tools');
    const at = [...holder.querySelectorAll('button')].indexOf(document.activeElement);
    showTools(thing + ': ' + (warning || shape.how) + count + (more || ''), cross, ...others, leave);
    if (at >= 0) holder.querySelectorAll('button')[at].focus();
    ghost.clearLayers();
    trace(toPlaces(corners), shape.type === 'Polygon');
    toPlaces(corners).forEach((place) => L.marker(place, { pane: 'pane-corners', interactive: false, keyboard: false,
      icon: L.divIcon({ className: 'corner', html: element('span', {}), iconSize: [44, 44] }) }).addTo(ghost));
  }

  function trace(line, isArea) {
    if (line.length < 2) return;
    const make = isArea && line.length > 2 ? L.polygon : L.polyline;
    const look = { pane: 'pane-corners', renderer, interactive: false, fillOpacity: 0.15, fillColor: '#fff' };
    make(line, { ...look, color: '#fff', weight: 7 }).addTo(ghost);
    make(line, { ...look, color: '#000', weight: 3, fill: false }).addTo(ghost);
  }

  /* ---- corners of something that is there ---- */
  function edit(number) {
    if (isUnfinished()) { showNew(words.finish_first); return; }
    mode = { kind: 'edit', number, corner: null };
    hooks.began();
    showCorners();
  }

  function reshape(corners) {
    store.reshape(mode.number, withCorners(store.features[mode.number].geometry, corners));
    showCorners();
  }

  function showCorners() {
    const feature = store.features[mode.number];
    if (!feature) { rest(); return; }
    const corners = cornersOf(feature.geometry);
    const isSpot = feature.geometry.type === 'Point';
    if (isSpot) mode.corner = 0;
    if (mode.corner !== null && mode.corner >= corners.length) mode.corner = null;
    const buttons = [];
    if (mode.corner !== null) {
      buttons.push(button(isSpot ? words.cross_spot : words.corner_to_cross, () => reshape(corners.map((one, at) =>
        (at === mode.corner ? rounded(map.getCenter()) : one))), true));
      if (corners.length > FEWEST[feature.geometry.type]) {
        buttons.push(button(words.corner_delete, () => {
          const gone = mode.corner;
          mode.corner = null;
          reshape(corners.filter((one, at) => at !== gone));
        }));
      }
    }
    const number = mode.number;
    buttons.push(button(words.done, () => { rest(); hooks.moved(number); }));
    showTools(titleOf(feature, store.layers) + ': ' + words.move_hint, ...buttons);
    ghost.clearLayers();
    trace(toPlaces(feature.geometry.type === 'Polygon' ? [...corners, corners[0]] : corners), false);
    if (!isSpot) rings(corners, feature.geometry.type === 'Polygon');
    corners.forEach((one, at) => handle(corners, at));
  }

  function handle(corners, at) {
    const says = filled(words.corner_name, { number: at + 1 });
    const made = L.marker(toPlaces([corners[at]])[0], { pane: 'pane-corners', draggable: true, keyboard: true, title: says, zIndexOffset: 500,
      icon: L.divIcon({ className: 'corner handle' + (at === mode.corner ? ' chosen' : ''), html: element('span', {}), iconSize: [44, 44] }) });
    made.on('click', (event) => { L.DomEvent.stop(event); mode.corner = at; showCorners(); });
    made.on('dragend', () => {
      mode.corner = at;
      reshape(corners.map((one, place) => (place === at ? rounded(made.getLatLng()) : one)));
    });
    made.addTo(ghost);
    made.getElement().setAttribute('aria-label', says);
  }

  /* A ring in the middle of each edge, where there is room for one: there a corner is added. */
  function rings(corners, closed) {
    const line = toPlaces(closed ? [...corners, corners[0]] : corners);
    line.slice(1).forEach((to, at) => {
      const ends = [line[at], to].map((one) => map.latLngToContainerPoint(one));
      if (ends[0].distanceTo(ends[1]) < 100) return;
      const middle = map.containerPointToLatLng(ends[0].add(ends[1]).divideBy(2));
      const says = filled(words.ring_name, { number: at + 1 });
      const made = L.marker(middle, { pane: 'pane-corners', keyboard: true, title: says,
        icon: L.divIcon({ className: 'corner ring', html: element('span', {}), iconSize: [44, 44] }) });
      made.on('click', (event) => {
        L.DomEvent.stop(event);
        mode.corner = at + 1;
        reshape([...corners.slice(0, at + 1), rounded(middle), ...corners.slice(at + 1)]);
      });
      made.addTo(ghost);
      made.getElement().setAttribute('aria-label', says);
    });
  }

  map.on('click', (event) => set(event.latlng));
  map.on('zoomend', () => { if (mode && mode.kind === 'edit') showCorners(); });
  map.getContainer().addEventListener('keydown', (event) => {
    if (event.target !== map.getContainer() || !mode) return;
    if (event.key === 'Enter') set(map.getCenter());
    else if (event.key === 'Backspace') takeBack();
    else return;
    event.preventDefault();
  });
  document.addEventListener('keydown', (event) => { if (event.key === 'Escape' && mode) cancel(); });

  return { begin, edit, isUnfinished, leave: () => { if (!isUnfinished()) rest(); },
    refresh: () => { if (mode && mode.kind === 'edit') showCorners(); },
    get editing() { return mode && mode.kind === 'edit' ? mode.number : null; } };
}
