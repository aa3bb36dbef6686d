/* What is drawn: a list of GeoJSON features, and what was looked for in vain. Every change
   goes through `change`, so that every change can be undone. */
'use strict';
const MOST_UNDONE = 200;

function drawingStore(data) {
  const layers = new Map(data.layers.map((one) => [one.key, one]));
  const listeners = [];
  const undone = [];
  let features = [];
  let noneHere = [];

  const snapshot = () => JSON.stringify([features, noneHere]);

  function tell() {
    // What is drawn is there, whatever was said before.
    const there = new Set(features.flatMap((one) => [one.properties.layer,
      one.properties.layer === 'exclusions' ? one.properties.kind : null]));
    noneHere = noneHere.filter((one) => !there.has(one));
    listeners.forEach((one) => one());
  }

  function change(alter) {
    undone.push(snapshot());
    if (undone.length > MOST_UNDONE) undone.shift();
    alter();
    tell();
  }

  function undo() {
    if (!undone.length) return false;
    [features, noneHere] = JSON.parse(undone.pop());
    tell();
    return true;
  }

  function nextId(layer) {
    const prefix = layers.get(layer).prefix;
    const used = features.map((one) => String(one.properties.id || ''))
      .filter((id) => id.startsWith(prefix) && /^\d{1,9}$/.test(id.slice(prefix.length)))
      .map((id) => Number(id.slice(prefix.length)));
    return prefix + (Math.max(0, ...used) + 1);
  }

  function add(layer, geometry, more) {
    const properties = { layer, id: nextId(layer), ...more };
    change(() => features.push({ type: 'Feature', properties, geometry }));
    return features.length - 1;
  }

  /* Properties in the order of the form, so that the same drawing is the same file. */
  function ordered(properties) {
    const names = ['layer', 'id', ...layers.get(properties.layer).fields.map((one) => one.name)];
    const known = names.filter((name) => Object.hasOwn(properties, name));
    const others = Object.keys(properties).filter((name) => !names.includes(name));
    return Object.fromEntries([...known, ...others].map((name) => [name, properties[name]]));
  }

  function text() {
    const ours = { version: 1, ground: data.key, placed_by: data.placed_by, none_here: [...noneHere].sort() };
    const lines = features.map((one) => JSON.stringify(
      { type: 'Feature', properties: ordered(one.properties), geometry: one.geometry }));
    return '{"type":"FeatureCollection","farm_pathways":' + JSON.stringify(ours)
      + ',"features":[' + (lines.length ? '\n' + lines.join(',\n') + '\n' : '') + ']}\n';
  }

  /* Ids of an added file that are taken are given anew, and what refers to them follows. */
  function renamed(added) {
    const taken = new Set(features.map((one) => one.properties.id));
    const fresh = new Map();
    const kept = features;
    features = [...features];
    const made = added.map((one) => {
      const properties = { ...one.properties };
      const old = properties.id;
      if (taken.has(old) || old === undefined || old === '') {
        properties.id = nextId(properties.layer);
        if (old) fresh.set(properties.layer + ' ' + old, properties.id);
      }
      const feature = { ...one, properties };
      features.push(feature);
      return feature;
    });
    features = kept;
    made.forEach((one) => layers.get(one.properties.layer).fields.forEach((field) => {
      const target = field.refers_to.find((layer) => fresh.has(layer + ' ' + one.properties[field.name]));
      if (target) one.properties[field.name] = fresh.get(target + ' ' + one.properties[field.name]);
    }));
    return made;
  }

  function load(given, none, adding) {
    change(() => {
      features = adding ? [...features, ...renamed(given)] : given;
      noneHere = [...new Set(adding ? [...noneHere, ...none] : none)];
    });
  }

  return {
    layers, change, undo, add, text, load,
    get features() { return features; },
    get noneHere() { return noneHere; },
    get canUndo() { return undone.length > 0; },
    onChange: (listener) => listeners.push(listener),
    set: (number, name, value) => change(() => {
      const properties = features[number].properties;
      if (value === undefined) delete properties[name];
      else properties[name] = value;
    }),
    reshape: (number, geometry) => change(() => { features[number].geometry = geometry; }),
    remove: (number) => change(() => features.splice(number, 1)),
    sayNone: (name, there) => change(() => {
      noneHere = there ? noneHere.filter((one) => one !== name) : [...noneHere, name];
    }),
    start: () => { features = JSON.parse(JSON.stringify(data.start)); noneHere = [...data.none_here]; tell(); },
    restore: (given, none) => { features = given; noneHere = none; tell(); },
  };
}

/* A sentence with its gaps filled: in one pass, so that no name can bring gaps of its own. */
function filled(sentence, values) {
  return sentence.replace(/\{(\w+)\}/g, (gap, name) => (Object.hasOwn(values, name) ? String(values[name]) : gap));
}

function titleOf(feature, layers) {
  const { layer, id, name, kind } = feature.properties;
  const described = layers.get(layer);
  const thing = (Object.hasOwn(described.kinds, kind) && described.kinds[kind]) || described.thing;
  const called = [id, name].filter((one) => one !== undefined && one !== null && one !== '').join(', ');
  return called ? called + ' (' + thing.toLowerCase() + ')' : thing;
}

/* The corners that a person moves: of an area, those of its outer ring without the last. */
function cornersOf(geometry) {
  if (geometry.type === 'Point') return [geometry.coordinates];
  return geometry.type === 'Polygon' ? geometry.coordinates[0].slice(0, -1) : geometry.coordinates;
}

function withCorners(geometry, corners) {
  if (geometry.type === 'Point') return { type: 'Point', coordinates: corners[0] };
  if (geometry.type === 'LineString') return { type: 'LineString', coordinates: corners };
  return { type: 'Polygon', coordinates: [[...corners, corners[0]], ...geometry.coordinates.slice(1)] };
}

const FEWEST = { Point: 1, LineString: 2, Polygon: 3 };

/* Whether two edges of an area cross: what lies inside cannot then be told. */
function crosses(geometry) {
  if (geometry.type !== 'Polygon') return false;
  const ring = geometry.coordinates[0];
  const side = (a, b, c) => Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
  for (let i = 0; i + 1 < ring.length; i += 1) {
    for (let j = i + 2; j + 1 < ring.length; j += 1) {
      if (i === 0 && j === ring.length - 2) continue;
      const [a, b, c, d] = [ring[i], ring[i + 1], ring[j], ring[j + 1]];
      if (side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0) return true;
    }
  }
  return false;
}

/* What the program would refuse, each in a sentence. */
function faultsOf(feature, store, words) {
  const layer = store.layers.get(feature.properties.layer);
  const thing = titleOf(feature, store.layers);
  const said = (name) => feature.properties[name];
  const empty = (value) => value === undefined || value === null || value === '';
  const faults = layer.fields.filter((field) => field.needed && empty(said(field.name)))
    .map((field) => filled(words.fault_needed, { thing, question: field.label }));
  layer.fields.filter((field) => field.refers_to.length && !empty(said(field.name))).forEach((field) => {
    const there = field.choices.some((one) => one.value === said(field.name)) || store.features.some((one) =>
      field.refers_to.includes(one.properties.layer) && one.properties.id === said(field.name));
    if (!there) faults.push(filled(words.fault_reference, { thing, id: said(field.name) }));
  });
  if (crosses(feature.geometry)) faults.push(filled(words.fault_crossing, { thing }));
  return faults;
}
