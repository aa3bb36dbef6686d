/* Files and what the browser keeps: saved drawings, a phone's track, the unsaved work. */
'use strict';
const FILE_NAME = 'features.geojson';

/* Read a saved drawing; what is not ours is refused with why. */
function drawingFrom(text, layers, words, placedBy) {
  let content;
  try { content = JSON.parse(text.replace(/^\uFEFF/, '')); } catch (error) { return { refused: words.not_json }; }
  const isObject = (one) => typeof one === 'object' && one !== null && !Array.isArray(one);
  if (!isObject(content) || content.type !== 'FeatureCollection' || !Array.isArray(content.features)) {
    return { refused: words.not_collection };
  }
  if (Object.hasOwn(content, 'crs')) return { refused: words.not_degrees };
  const isPlace = (place) => Array.isArray(place) && place.length >= 2 && place.slice(0, 2).every(Number.isFinite)
    && Math.abs(place[0]) <= 180 && Math.abs(place[1]) <= 90;
  const isLine = (line, least) => Array.isArray(line) && line.length >= least && line.every(isPlace);
  const isRing = (ring) => isLine(ring, 4) && ring[0][0] === ring[ring.length - 1][0] && ring[0][1] === ring[ring.length - 1][1];
  const fits = {
    Point: isPlace,
    LineString: (line) => isLine(line, 2),
    Polygon: (rings) => Array.isArray(rings) && rings.length > 0 && rings.every(isRing),
  };
  const flat = (value) => (typeof value[0] === 'number' ? value.slice(0, 2) : value.map(flat));
  const features = [];
  for (const [number, one] of content.features.entries()) {
    const properties = isObject(one) ? one.properties : null;
    const geometry = isObject(one) ? one.geometry : null;
    const layer = isObject(properties) && typeof properties.layer === 'string' ? layers.get(properties.layer) : undefined;
    const shape = layer && isObject(geometry) && layer.shapes.some((shape) => shape.type === geometry.type);
    if (!shape || !fits[geometry.type](geometry.coordinates)) return { refused: filled(words.bad_feature, { number: number + 1 }) };
    features.push({ type: 'Feature', properties, geometry: { type: geometry.type, coordinates: flat(geometry.coordinates) } });
  }
  const ours = isObject(content.farm_pathways) ? content.farm_pathways : {};
  // Placed by other means it may lie metres off, and this page would save it as its own.
  if (ours.placed_by !== placedBy) return { refused: words.not_ours };
  const none = Array.isArray(ours.none_here) ? ours.none_here.filter((one) => typeof one === 'string') : [];
  return { features, none };
}

/* Tracks, routes and waypoints of GPX 1.0 and 1.1. */
function trackFrom(text) {
  const page = new DOMParser().parseFromString(text, 'application/xml');
  if (page.getElementsByTagName('parsererror').length || page.documentElement.localName !== 'gpx') return null;
  const named = (node, name) => [...node.getElementsByTagNameNS('*', name)];
  const placeOf = (node) => {
    const [latitude, longitude] = ['lat', 'lon'].map((name) => Number.parseFloat(node.getAttribute(name)));
    const fits = Math.abs(latitude) <= 90 && Math.abs(longitude) <= 180;
    return fits ? L.latLng(latitude, longitude) : null;
  };
  const lines = [...named(page, 'trkseg').map((one) => named(one, 'trkpt')), ...named(page, 'rte').map((one) => named(one, 'rtept'))]
    .map((points) => points.map(placeOf).filter((one) => one)).filter((line) => line.length);
  const spots = named(page, 'wpt').map((node) => ({ at: placeOf(node),
    name: named(node, 'name').map((one) => one.textContent.trim().slice(0, 200))[0] || '' })).filter((one) => one.at);
  return { lines, spots };
}

/* What the browser keeps between visits, or nothing where it may not. */
function keeper(key) {
  const name = 'farm-pathways ' + key;
  return {
    name,
    read() {
      try { return JSON.parse(window.localStorage.getItem(name)); } catch (error) { return null; }
    },
    write(value) {
      try { window.localStorage.setItem(name, JSON.stringify(value)); return true; } catch (error) { return false; }
    },
  };
}

function drawingFiles(data, store, hooks) {
  const words = data.words;
  const byId = (id) => document.getElementById(id);
  const kept = keeper(data.key);
  const state = { savedAt: '', dirty: false, isKept: true };

  function button(says, press) {
    const made = element('button', { type: 'button' }, says);
    made.addEventListener('click', press);
    return made;
  }

  const now = () => new Date().toLocaleString('en-GB', { dateStyle: 'medium', timeStyle: 'short' });

  function showSaved() {
    const says = [state.savedAt ? filled(words.saved, { time: state.savedAt }) : words.never_saved];
    if (state.dirty && state.savedAt) says.push(words.unsaved);
    if (!state.isKept) says.push(words.not_kept);
    else if (state.dirty) says.push(words.kept);
    byId('saved').textContent = says.join(' ');
    byId('saved').classList.toggle('open', state.dirty || !state.isKept);
  }

  function keep() {
    state.isKept = kept.write({ text: store.text(), savedAt: state.savedAt, dirty: state.dirty, time: now() });
    showSaved();
  }

  function save() {
    const address = URL.createObjectURL(new Blob([store.text()], { type: 'application/geo+json' }));
    const link = element('a', { href: address, download: FILE_NAME });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(address), 60000);
    state.savedAt = now();
    state.dirty = false;
    keep();
    const faults = store.features.flatMap((one) => faultsOf(one, store, words)).length;
    hooks.tell(element('p', {}, words.after_save), ...(faults ? [element('p', { class: 'refused' }, filled(words.save_faults, { count: faults }))] : []));
  }

  async function open(file) {
    const found = drawingFrom(await file.text(), store.layers, words, data.placed_by);
    if (found.refused) { hooks.tell(element('p', { class: 'refused' }, filled(words.open_refused, { file: file.name, why: found.refused }))); return; }
    const load = (adding) => {
      store.load(found.features, found.none, adding);
      hooks.opened();
      const off = found.features.filter((one) => !hooks.onGround(one)).length;
      hooks.tell(element('p', {}, filled(words.opened, { file: file.name, count: found.features.length })),
        ...(off ? [element('p', { class: 'refused' }, filled(words.opened_off, { count: off, all: found.features.length }))] : []));
    };
    if (!store.features.length) { load(false); return; }
    hooks.tell(element('p', {}, words.open_ask), element('div', { class: 'row' },
      button(words.open_replace, () => load(false)), button(words.open_add, () => load(true)), button(words.cancel, () => hooks.tell())));
  }

  async function layTrack(file) {
    const found = trackFrom(await file.text());
    const refused = !found ? words.gpx_refused : found.lines.length + found.spots.length ? '' : words.gpx_empty;
    if (refused) { hooks.tell(element('p', { class: 'refused' }, filled(refused, { file: file.name }))); return; }
    if (!hooks.lay(found)) {
      hooks.lay({ lines: [], spots: [] });
      hooks.tell(element('p', { class: 'refused' }, filled(words.gpx_elsewhere, { file: file.name })));
      return;
    }
    hooks.tell(element('p', {}, filled(words.gpx_read, { file: file.name })), element('p', {}, words.gpx_caution),
      button(words.gpx_away, () => { hooks.lay({ lines: [], spots: [] }); hooks.tell(); }));
  }

  function chooser(says, accept, id, take) {
    const input = element('input', { type: 'file', accept, id, class: 'file' });
    input.addEventListener('change', async () => {
      const file = input.files[0];
      if (file) await take(file);
      input.value = '';
    });
    return element('div', {}, element('label', { for: id, class: 'button' }, says), input);
  }

  function restore() {
    const found = kept.read();
    const before = found && typeof found.text === 'string' ? drawingFrom(found.text, store.layers, words, data.placed_by) : { refused: true };
    if (before.refused || found.text === store.text()) return;
    state.savedAt = String(found.savedAt || '');
    state.dirty = found.dirty === true;
    store.restore(before.features, before.none);
    hooks.tell(element('p', {}, filled(words.restored, { time: String(found.time) })), button(words.start_again, () => {
      store.load(JSON.parse(JSON.stringify(data.start)), [...data.none_here], false);
      hooks.opened();
      hooks.tell();
    }));
  }

  function begin() {
    byId('files').replaceChildren(element('div', { class: 'row' }, button(words.save, save)),
      chooser(words.open, '.geojson,.json,application/geo+json', 'open', open),
      chooser(words.gpx, '.gpx,application/gpx+xml', 'track', layTrack), element('p', { class: 'hint' }, words.gpx_caution),
      element('p', { class: 'hint' }, words.keyboard));
    byId('save').addEventListener('click', save);
    restore();
    keep();
    store.onChange(() => { state.dirty = true; keep(); });
    window.addEventListener('storage', (event) => {
      if (event.key === kept.name) hooks.tell(element('p', { class: 'refused' }, words.twice));
    });
    window.addEventListener('beforeunload', (event) => {
      if (!state.dirty && !hooks.isUnfinished()) return;
      event.preventDefault();
      event.returnValue = '';
    });
  }

  return { begin };
}
