/* The map of what is drawn: shapes, arrows, names, and the track and valley lines beneath. */
'use strict';
function drawingMap(map, data, store, choose) {
  const order = [...data.order, ...data.layers.map((one) => one.key).filter((key) => !data.order.includes(key))];
  const panes = new Map(order.map((key, number) => {
    map.createPane('pane-' + key).style.zIndex = 410 + number;
    return [key, { name: 'pane-' + key, renderer: L.svg({ pane: 'pane-' + key, padding: 0.5 }) }];
  }));
  map.createPane('pane-under').style.zIndex = 405;
  map.createPane('pane-names').style.zIndex = 460;
  const under = { pane: 'pane-under', renderer: L.svg({ pane: 'pane-under', padding: 0.5 }) };
  const shown = L.layerGroup().addTo(map);
  const offered = L.layerGroup().addTo(map);
  const track = L.layerGroup().addTo(map);
  const places = (coordinates) => coordinates.map(([longitude, latitude]) => L.latLng(latitude, longitude));

  function styleOf(feature) {
    const { layer, kind, culverted } = feature.properties;
    const styles = store.layers.get(layer).styles;
    if (culverted === true && Object.hasOwn(styles, 'culverted')) return styles.culverted;
    return Object.hasOwn(styles, kind) ? styles[kind] : styles[''];
  }

  /* An arrow at the middle of the longest stretch: it looks where the line was drawn to. */
  function arrow(feature) {
    const line = places(feature.geometry.coordinates).map((one) => map.project(one, 20));
    const stretches = line.slice(1).map((to, number) => ({ from: line[number], to, long: to.distanceTo(line[number]) }));
    const { from, to } = stretches.reduce((one, other) => (other.long > one.long ? other : one));
    const turn = Math.atan2(to.y - from.y, to.x - from.x) * 180 / Math.PI;
    const picture = drawn('svg', { viewBox: '-14 -14 28 28', width: 28, height: 28, class: 'arrow' },
      drawn('path', { d: 'M-8 -8 10 0 -8 8 -3 0z', transform: 'rotate(' + turn.toFixed(1) + ')',
        fill: '#000', stroke: '#fff', 'stroke-width': 2 }));
    return L.marker(map.unproject(from.add(to).divideBy(2), 20), {
      pane: 'pane-names', interactive: false, keyboard: false,
      icon: L.divIcon({ className: 'glyph', html: picture, iconSize: [28, 28] }) });
  }

  function isDirected(feature) {
    const wanted = store.layers.get(feature.properties.layer).directed;
    return feature.geometry.type === 'LineString'
      && (wanted === '' || (wanted !== null && wanted === feature.properties.kind));
  }

  function shapes(feature, number, isChosen) {
    const pane = panes.get(feature.properties.layer);
    const style = styleOf(feature);
    const look = { lineCap: 'round', lineJoin: 'round', ...style, pane: pane.name, renderer: pane.renderer };
    const made = [];
    if (feature.geometry.type === 'Point') {
      const icon = drawn('svg', { viewBox: '-2 -2 24 24', width: 32, height: 32 },
        glyph({ outline: 'M10 3a7 7 0 1 0 .01 0z', edge: style.color, ...style }));
      const marker = L.marker(places([feature.geometry.coordinates])[0], { pane: pane.name, keyboard: false,
        icon: L.divIcon({ className: 'spot' + (isChosen ? ' chosen' : ''), html: icon, iconSize: [44, 44] }) });
      made.push(marker);
    } else {
      const isArea = feature.geometry.type === 'Polygon';
      const line = isArea ? feature.geometry.coordinates.map(places) : places(feature.geometry.coordinates);
      const make = (options) => (isArea ? L.polygon(line, options) : L.polyline(line, options));
      if (isChosen) made.push(make({ ...look, color: '#f0e442', weight: 14, opacity: 1, fill: false, dashArray: null, interactive: false }));
      made.push(make({ ...look, opacity: 1, fill: isArea }));
      made.push(make({ ...look, weight: 30, opacity: 0, fill: isArea, fillOpacity: 0 }));
      if (isDirected(feature)) made.push(arrow(feature));
    }
    made.forEach((one) => one.on('click', (event) => { L.DomEvent.stop(event); choose(number); }));
    return made;
  }

  /* Names stand where there is room for them: what is chosen first, then what lies on top. */
  let labels = [];
  function name(feature, number, isChosen) {
    const { id, name: called, layer } = feature.properties;
    const corners = places(cornersOf(feature.geometry));
    const isArea = feature.geometry.type === 'Polygon';
    const middle = isArea ? L.latLngBounds(corners).getCenter() : corners[Math.floor(corners.length / 2)];
    const text = [id, called].filter((one) => one !== undefined && one !== null && one !== '').join(' ');
    const marker = L.marker(middle, { pane: 'pane-names', interactive: false, keyboard: false,
      icon: L.divIcon({ className: 'label', html: element('span', {}, text), iconSize: null }) }).addTo(shown);
    labels.push({ marker, places: [middle, ...(isArea ? [] : corners)], first: isChosen ? 1000 : order.indexOf(layer) });
  }

  function spreadNames() {
    // What is hidden has no width, and would seem to fit anywhere.
    labels.forEach((one) => { one.marker.getElement().firstChild.hidden = false; });
    spread(map, [], labels, []);
  }
  map.on('zoomend moveend', spreadNames);

  function draw(chosen, hidden) {
    shown.clearLayers();
    labels = [];
    store.features.forEach((feature, number) => {
      if (number === hidden) return;
      shapes(feature, number, number === chosen).forEach((one) => one.addTo(shown));
      name(feature, number, number === chosen);
    });
    labels.sort((one, other) => other.first - one.first);
    spreadNames();
  }

  function boundsOf(feature) { return L.latLngBounds(places(cornersOf(feature.geometry))); }

  function offer(valleys, take) {
    offered.clearLayers();
    valleys.forEach((one) => {
      const line = places(one.coordinates);
      L.polyline(line, { ...under, color: '#fff', weight: 7, opacity: 0.8, interactive: false }).addTo(offered);
      L.polyline(line, { ...under, color: '#0072b2', weight: 3, dashArray: '8 8', interactive: false }).addTo(offered);
      L.polyline(line, { ...under, weight: 30, opacity: 0 }).on('click', (event) => {
        L.DomEvent.stop(event);
        take(one);
      }).addTo(offered);
    });
  }

  function lay(found) {
    track.clearLayers();
    found.lines.forEach((line) => {
      L.polyline(line, { ...under, color: '#fff', weight: 5, opacity: 0.6, interactive: false }).addTo(track);
      L.polyline(line, { ...under, color: '#5b2c83', weight: 3, opacity: 0.75, dashArray: '1 7', lineCap: 'round', interactive: false }).addTo(track);
    });
    found.spots.forEach((spot) => {
      L.circleMarker(spot.at, { ...under, radius: 6, color: '#5b2c83', weight: 2, fill: false, interactive: false }).addTo(track);
      if (!spot.name) return;
      L.marker(spot.at, { pane: 'pane-names', interactive: false, keyboard: false,
        icon: L.divIcon({ className: 'label', html: element('span', {}, spot.name), iconSize: null }) }).addTo(track);
    });
    const all = [...found.lines.flat(), ...found.spots.map((one) => one.at)];
    return all.length ? L.latLngBounds(all) : null;
  }

  return { draw, boundsOf, offer, lay, places };
}
