/* The map page: draws what Python worked out. Only a tap is followed here, over Python's ground. */
function showFarm(map, picture) {
  'use strict';
  const data = JSON.parse(document.getElementById('data').textContent);
  const words = data.words;
  const byId = (id) => document.getElementById(id);
  const calm = window.matchMedia('(prefers-reduced-motion: reduce)').matches;
  const narrow = window.matchMedia('(max-width: 62rem)');
  const speak = unitSpeaker();
  const state = { key: data.states[0].key };
  let units = null;

  /* ---- layers, from the ground up ---- */
  const layers = [];
  function addLayer(key, name) {
    const pane = 'pane-' + key;
    map.createPane(pane).style.zIndex = 400 + layers.length;
    const layer = { key, name, pane, group: L.layerGroup().addTo(map), legend: new Map() };
    layer.renderer = L.svg({ pane, padding: 0.5 });
    layers.push(layer);
    return layer;
  }

  function geometry(layer, shape, style, more) {
    const options = { pane: layer.pane, renderer: layer.renderer, ...more };
    return L.geoJSON(shape, {
      ...options,
      style: { opacity: 1, lineCap: 'round', lineJoin: 'round', ...style, ...options },
      pointToLayer: (feature, place) => mark(style, place, options),
    });
  }

  function mark(style, place, options) {
    const icon = drawn('svg', { viewBox: '0 0 20 20', width: 20, height: 20 }, glyph(style));
    return L.marker(place, {
      pane: options.pane, keyboard: false, interactive: options.interactive !== false,
      icon: L.divIcon({ className: 'glyph', html: icon, iconSize: [28, 28] }),
    });
  }

  function note(says) {
    return L.popup({ closeButton: false, className: 'note' }).setContent(element('p', {}, says));
  }

  /* A name may stand anywhere along a line, the middle first, or inside an area. */
  function label(layer, shape, text) {
    const part = shape.getLayers()[0];
    const middle = part.getBounds().getCenter();
    const places = part instanceof L.Polygon || !part.getLatLngs ? [middle] : part.getLatLngs().flat(2).sort(
      (one, other) => one.distanceTo(middle) - other.distanceTo(middle));
    const marker = L.marker(middle, {
      pane: layer.pane, interactive: false, keyboard: false,
      icon: L.divIcon({ className: 'label', html: element('span', {}, text), iconSize: null }),
    }).addTo(layer.group);
    labels.push({ marker, places, layer });
  }

  if (data.picture) {
    const aerial = addLayer('aerial', data.names.aerial);
    L.imageOverlay(data.picture.uri, data.picture.corners, { pane: aerial.pane, className: 'aerial' }).addTo(aerial.group);
    aerial.legend.set(aerial.name, ['none', {}]);
  }

  let tapped = () => {};
  const labels = [];
  data.layers.forEach((given) => {
    const layer = addLayer(given.key, given.name);
    given.things.forEach((thing) => {
      // A tap on open ground asks for its way: what merely covers it does not answer.
      const isOpen = data.open_layers.includes(given.key) && thing.geometry.type.includes('Polygon');
      const shape = geometry(layer, thing.geometry, thing.style, isOpen ? { interactive: false } : {}).addTo(layer.group);
      // What stands there is named; where a spill at that very place would go is told too.
      if (!isOpen) shape.bindPopup(note(thing.says)).on('click', (event) => tapped(event.latlng));
      if (thing.label) label(layer, shape, thing.label);
      layer.legend.set(thing.kind, [thing.geometry.type, thing.style]);
    });
  });

  /* ---- distances of rules: edges only, for the ground within is the ground ---- */
  const setbacks = addLayer('setbacks', data.names.setbacks);
  data.setbacks.forEach((one, number) => {
    const style = data.styles.setbacks[number % data.styles.setbacks.length];
    const shape = geometry(setbacks, one.geometry, style, { interactive: false }).addTo(setbacks.group);
    label(setbacks, shape, one.label);
    one.says.forEach((says) => setbacks.legend.set(says, ['LineString', style]));
  });

  /* ---- ways ---- */
  const chosen = { key: '', posts: [] };
  const items = new Map();
  const legKinds = new Set();
  const others = addLayer('alternatives', data.names.alternatives);
  const reach = addLayer('reach', data.names.reach);
  const ways = addLayer('ways', data.names.ways);
  const hollows = addLayer('hollows', data.names.hollows);
  const sites = addLayer('sites', data.names.sites);
  const flags = addLayer('flags', '');

  function face(text) {
    return element('div', {}, element('span', { class: 'leader' }), element('span', { class: 'face' }, text));
  }

  function flag(key, place, text, className, says) {
    const made = L.marker(place, {
      pane: flags.pane, keyboard: true, riseOnHover: true, title: says,
      icon: L.divIcon({ className: 'flag ' + className, html: face(text), iconSize: null }),
    });
    made.on('click', () => choose(key));
    made.on('add', () => {
      made.getElement().setAttribute('aria-label', says);
      made.getElement().addEventListener('keydown', (event) => {
        if (event.key === 'Enter' || event.key === ' ') { event.preventDefault(); choose(key); }
      });
    });
    return made;
  }

  data.ways.forEach((way) => {
    const key = 'way-' + way.letter;
    const item = { key, given: way, lines: [], bounds: L.latLngBounds([way.start, way.end]) };
    way.legs.forEach((leg) => {
      strokes(way.style, leg.kind, false).forEach((stroke) => {
        item.lines.push(geometry(ways, leg.geometry, stroke, { interactive: false }).addTo(ways.group));
      });
      const wide = geometry(ways, leg.geometry, { weight: 28, opacity: 0 }).addTo(ways.group);
      wide.on('click', (event) => { L.DomEvent.stop(event); choose(key); });
      item.bounds.extend(wide.getBounds());
      if (leg.kind !== 'surface') legKinds.add(leg.kind);
    });
    ways.legend.set(way.outcome, ['way', way.style]);
    if (way.reach) {
      item.reach = [L.imageOverlay(way.reach.uri, way.reach.corners, { pane: reach.pane, className: 'reach' })];
      if (way.parts) item.reach.push(mark(data.styles.parts, way.parts, { pane: reach.pane }).bindPopup(note(data.reach_parts)));
      data.reach_bands.forEach((band) => reach.legend.set(band.says, ['Polygon', band.style]));
      reach.legend.set(data.reach_parts, ['Point', data.styles.parts]);
    }
    way.hollows.forEach((hollow) => {
      mark(data.styles.hollow, hollow.place, { pane: hollows.pane })
        .bindPopup(note(hollow.says)).addTo(hollows.group);
      hollows.legend.set(hollows.name, ['Point', data.styles.hollow]);
    });
    way.alternatives.forEach((other) => other.legs.forEach((leg) => {
      strokes(other.style, leg.kind, true).forEach((stroke) => {
        const line = geometry(others, leg.geometry, stroke).bindPopup(note(other.says)).addTo(others.group);
        item.bounds.extend(line.getBounds());
      });
      others.legend.set(other.outcome, ['other', other.style]);
    }));
    item.flag = flag(key, way.start, way.letter, 'start', way.letter + ': ' + way.title).addTo(flags.group);
    item.end = L.circleMarker(way.end, {
      pane: ways.pane, renderer: ways.renderer, radius: 6, color: '#000', weight: 3,
      fillColor: '#fff', fillOpacity: 1, interactive: false,
    }).addTo(ways.group);
    items.set(key, item);
  });

  legKinds.forEach((kind) => ways.legend.set(data.leg_words[kind], ['leg', kind]));

  data.sites.forEach((site) => {
    const key = 'site-' + site.letter;
    const shape = geometry(sites, site.geometry, data.styles.site, { interactive: false }).addTo(sites.group);
    sites.legend.set(sites.name, [site.geometry.type, data.styles.site]);
    site.layout.forEach((part) => {
      geometry(sites, part, data.styles.layout, { interactive: false }).addTo(sites.group);
      sites.legend.set(words.layout, [part.type, data.styles.layout]);
    });
    const bounds = L.latLngBounds([site.place]).extend(shape.getBounds());
    const item = { key, given: { ...site, kind: 'rank' }, lines: [], shape, bounds };
    item.flag = flag(key, site.place, site.letter, 'rank', words.site + ' ' + site.letter + ': ' + site.title).addTo(flags.group);
    items.set(key, item);
  });

  /* Where buttons lie no flag can be seen; the open legend is too large to keep clear of. */
  function buttons() {
    const frame = map.getContainer().getBoundingClientRect();
    const lying = document.querySelectorAll('.leaflet-bar, .whole, .north, .legend:not([open])');
    return [...lying].map((one) => one.getBoundingClientRect()).map((box) => {
      const at = map.containerPointToLayerPoint([box.left - frame.left, box.top - frame.top]);
      return { left: at.x, top: at.y, wide: box.width, high: box.height };
    });
  }

  function place() {
    const own = items.get(chosen.key);
    const rest = [...items.values()].filter((item) => item !== own).map((item) => item.flag);
    const all = [...(own ? [own.flag] : []), ...chosen.posts, ...rest];
    spread(map, all, labels.filter((one) => map.hasLayer(one.layer.group)), buttons());
  }

  /* ---- choosing ---- */
  let siteWay = null;
  const siteLines = L.layerGroup().addTo(ways.group);

  /* Where a spill at a site would run, followed from its middle once the ground is ready. */
  function showSiteWay(item) {
    siteLines.clearLayers();
    if (!item.shape || !siteWay) return;
    const way = siteWay(item.given.place);
    if (!way) return;
    item.siteWay = way;
    way.legs.forEach((leg) => strokes(way.style, leg.kind, true).forEach((stroke) => {
      L.polyline(leg.places, { ...stroke, pane: ways.pane, renderer: ways.renderer, interactive: false }).addTo(siteLines);
    }));
  }

  function choose(key, quietly) {
    const item = items.get(key);
    chosen.posts.forEach((post) => post.remove());
    chosen.key = key;
    chosen.posts = item.given.story.posts.slice(1).map((post, number) => {
      const text = item.given.letter + (number + 1);
      return flag(key, post.place, text, 'post', text + ': ' + post.says).addTo(flags.group);
    });
    items.forEach((other) => {
      const mine = other === item;
      other.lines.forEach((line) => line.eachLayer((part) => {
        const node = part.getElement();
        if (node) node.classList.toggle('faded', !mine && item.lines.length > 0);
      }));
      if (other.flag.getElement()) other.flag.getElement().classList.toggle('chosen', mine);
      other.flag.setZIndexOffset(mine ? 1000 : 0);
      if (other.shape) other.shape.setStyle({ weight: mine ? 4 : 1.5 });
      other.row.classList.toggle('chosen', mine);
      other.button.setAttribute('aria-pressed', String(mine));
    });
    item.lines.forEach((line) => line.bringToFront());
    reach.group.clearLayers();
    (item.reach || []).forEach((one) => one.addTo(reach.group));
    showSiteWay(item);
    tell(item);
    if (!quietly) {
      fit(item.shape ? item.bounds.pad(2) : item.bounds, !calm);
      if (narrow.matches) byId('map-holder').scrollIntoView({ behavior: calm ? 'auto' : 'smooth' });
    }
    place();
  }

  function tell(item) {
    const told = storyNodes(item, data.states.findIndex((one) => one.key === state.key), state.key, metresSaid);
    const back = element('button', { type: 'button', class: 'back' }, words.back);
    back.addEventListener('click', () => { item.button.focus(); item.row.scrollIntoView({ block: 'center' }); });
    if (item.siteWay) told.push(element('p', { class: 'hint' }, said(data.ground.says.site_way, { verdict: item.siteWay.story.verdict })));
    told.push(back);
    byId('told').textContent = item.given.story.title + '. ' + item.given.story.verdict;
    byId('tap-says').textContent = '';
    byId('story').replaceChildren(...told);
    byId('story').scrollTop = 0;
    speak(byId('story'), units);
  }

  /* ---- tables ---- */
  function table(holder, heads, rows) {
    const row = element('tr', {}, ...heads.map((one) => element('th', { scope: 'col' }, one)));
    byId(holder).append(element('table', {}, element('thead', {}, row), element('tbody', {}, ...rows)));
  }

  function row(key, kind, ...cells) {
    const item = items.get(key);
    item.button = element('button', { type: 'button', 'aria-pressed': 'false' },
      element('span', { class: 'letter ' + kind }, item.given.letter), element('span', {}, item.given.title));
    item.row = element('tr', {}, element('th', { scope: 'row' }, item.button),
      ...cells.map(([head, cell]) => element('td', { 'data-head': head }, cell)));
    item.row.addEventListener('click', () => choose(key));
    return item.row;
  }

  function hint(holder, says) { byId(holder).append(element('p', { class: 'hint' }, says)); }

  function tables() {
    hint('sources', data.ways.length ? words.sources_hint : words.no_sources);
    if (data.ways.length) {
      table('sources', [words.source, words.outcome, words.length], data.ways.map((way) =>
        row('way-' + way.letter, 'start', [words.outcome, verdictLine(way, way.verdict)], [words.length, way.length])));
    }
    hint('sites', data.sites.length ? words.sites_hint : words.no_sites);
    if (data.sites.length) {
      table('sites', [words.site, words.rules, words.first], data.sites.map((site) =>
        row('site-' + site.letter, 'rank', [words.rules, site.verdict], [words.first, site.first])));
    }
  }

  function fold(title, lines, open) {
    if (!lines.length) return;
    const made = element('details', {}, element('summary', {}, title + ' (' + lines.length + ')'), list(lines));
    made.open = open;
    byId('notes').append(made);
  }

  function control(position, content) {
    const made = new L.Control({ position });
    made.onAdd = () => {
      L.DomEvent.disableClickPropagation(content);
      L.DomEvent.disableScrollPropagation(content);
      return content;
    };
    made.addTo(map);
  }

  /* The buttons stand in the upper left corner: nothing that matters should lie there. */
  function fit(bounds, animate) {
    map.fitBounds(bounds, { paddingTopLeft: [70, 120], paddingBottomRight: [70, 50], maxZoom: 20,
      animate: animate && !calm });
  }

  function everything() {
    const all = L.latLngBounds([]);
    items.forEach((item) => all.extend(item.bounds));
    fit(all.isValid() ? all : picture.getBounds(), false);
  }

  /* ---- put together ---- */
  picture.addTo(map);
  picture.getElement().setAttribute('alt', words.map);
  byId('farm').textContent = data.farm;
  data.cautions.forEach((one) => byId('cautions').append(element('li', {}, one)));
  tables();
  if (data.not_yet) byId('notes').append(element('p', { class: 'not-yet' }, data.not_yet));
  fold(words.without_building, data.without_building, false);
  fold(words.warnings, data.warnings, false);
  fold(words.assumptions, data.assumptions, false);
  const whole = element('button', { type: 'button', class: 'whole' }, words.whole);
  whole.addEventListener('click', everything);
  tapping({ map, data, items, ways, flags, addLayer, label, flag, choose, fit, calm }, (follower, tap) => {
    siteWay = follower;
    tapped = (at) => tap([at.lat, at.lng]);
    if (chosen.key && items.get(chosen.key).shape) {
      showSiteWay(items.get(chosen.key));
      tell(items.get(chosen.key));
    }
  });
  control('topleft', whole);
  const relief = { key: 'relief', legend: new Map(), picture, name: data.names.relief + (data.relief_note ? ' (' + data.relief_note + ')' : '') };
  control('topright', legendOf(map, [relief, ...layers], words, (layer) => {
    if (chosen.key && layer.key === 'ways') choose(chosen.key, true);
  }));
  control('bottomright', element('div', { class: 'north' }, drawn('svg', { viewBox: '0 0 20 24', width: 20, height: 24,
    'aria-hidden': 'true' }, drawn('path', { d: 'M10 1 18 22 10 17 2 22z' })), element('span', {}, words.north)));
  let scale = L.control.scale({ imperial: false, maxWidth: 160 }).addTo(map);
  new ResizeObserver(() => map.invalidateSize({ pan: false })).observe(map.getContainer());
  everything();
  map.on('zoomend moveend', place);
  map.on('popupopen', (event) => speak(event.popup.getElement(), units));
  byId('story').append(element('p', { class: 'hint' }, words.nothing_chosen));
  const first = items.keys().next();
  // A link to a place must not open with the story of another.
  if (!first.done && !window.location.hash.startsWith('#at=')) choose(first.value, true);
  place();

  /* ---- the front of each spill through time ---- */
  const fronts = data.ways.filter((way) => Object.keys(way.fronts).length).map((way) => ({
    letter: way.letter, fronts: way.fronts, length: way.lengths_m.reduce((sum, one) => sum + one, 0),
    legs: measured(map, way.legs.map((leg) => leg.geometry.coordinates.map(([east, north]) => [north, east])), way.lengths_m),
  }));
  const plays = addLayer('plays', '');
  byId('watch').append(player(map, plays.pane, data, fronts, (key) => {
    state.key = key;
    if (chosen.key) tell(items.get(chosen.key));
  }, (told) => speak(told, units)));

  tools(data, (system) => {
    units = system;
    speak(document.body, units);
    scale.remove();
    scale = L.control.scale({ imperial: Boolean(units), metric: !units, maxWidth: 160 }).addTo(map);
  });

  // What stands below the map was put there after it was first fitted.
  map.invalidateSize({ pan: false });
  everything();

  /* On paper the map has the paper's width, all notes stand open, and all that is chosen is seen. */
  const opened = [];
  window.addEventListener('beforeprint', () => {
    document.querySelectorAll('#notes details:not([open])').forEach((one) => { one.open = true; opened.push(one); });
    byId('map-holder').classList.add('on-paper');
    map.invalidateSize({ pan: false });
    if (chosen.key) fit(items.get(chosen.key).bounds, false);
    else everything();
    place();
  });
  window.addEventListener('afterprint', () => {
    opened.splice(0).forEach((one) => { one.open = false; });
    byId('map-holder').classList.remove('on-paper');
    map.invalidateSize({ pan: false });
  });
}
