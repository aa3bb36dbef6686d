/* What a tap on the map, a link to a place or the button beside it does. */
'use strict';

function tapping(page, onReady) {
  const { map, data, items, ways, flags } = page;
  const holder = document.getElementById('tap');
  const hint = element('p', { class: 'hint' }, data.no_ground);
  holder.append(hint);
  document.getElementById('tap-part').hidden = !data.ground && !data.no_ground;
  if (!data.ground) return;
  const says = data.ground.says;
  const middle = element('button', { type: 'button' }, says.from_middle);
  const row = element('p', {}, middle);
  holder.append(row);
  hint.textContent = says.wait;
  const contours = page.addLayer('contours', said(data.names.contours, { step: metresSaid(data.ground.contours.step_m) }));
  map.getPane(contours.pane).style.zIndex = 400; // above the relief, below what was drawn later
  if (typeof DecompressionStream === 'undefined') { hint.textContent = says.too_old; return; }
  drawContours(contours);
  groundOf(data.ground).then((ground) => {
    hint.textContent = says.hint;
    const tap = (place) => follow(ground, place, row, middle);
    map.on('click', (event) => tap([event.latlng.lat, event.latlng.lng]));
    middle.addEventListener('click', () => tap([map.getCenter().lat, map.getCenter().lng]));
    const linked = () => {
      const at = /^#at=(-?\d+\.?\d*),(-?\d+\.?\d*)$/.exec(window.location.hash);
      if (at) tap([Number(at[1]), Number(at[2])]);
    };
    window.addEventListener('hashchange', linked);
    linked();
    onReady((place) => {
      const start = metresOf(ground, place);
      const cell = cellAt(ground, start);
      return cell < 0 || ground.cover_at[cell] === ground.closed ? null : tapTold(ground, wayFrom(ground, start));
    }, tap);
    document.documentElement.dataset.ground = 'ready';
  }, () => { hint.textContent = says.failed; });

  function drawContours(layer) {
    const { contours } = data.ground;
    const style = data.styles.contour;
    const longest = new Map();
    contours.lines.forEach(({ level_m: level, places }) => {
      const line = [];
      for (let number = 0, x = 0, y = 0; number < places.length; number += 2) {
        x += places[number];
        y += places[number + 1];
        line.push(placeOf(data.ground, [x * contours.unit_m, y * contours.unit_m]));
      }
      L.polyline(line, { ...style, pane: layer.pane, renderer: layer.renderer, interactive: false }).addTo(layer.group);
      if (!longest.has(level) || longest.get(level).length < line.length) longest.set(level, line);
    });
    longest.forEach((line, level) => page.label(layer, L.layerGroup([L.polyline(line)]), level + '\u202fm'));
    if (contours.lines.length) layer.legend.set(layer.name, ['LineString', style]);
  }

  function follow(ground, place, row, button) {
    const began = performance.now();
    const start = metresOf(ground, place);
    const cell = cellAt(ground, start);
    const closed = cell < 0 || ground.cover_at[cell] === ground.closed;
    if (closed) {
      const why = cell < 0 ? ground.says.outside : ground.says.closed;
      document.getElementById('tap-says').textContent = why;
      if (cell >= 0 && !document.querySelector('.leaflet-popup')) map.openPopup(L.popup({ closeButton: false, className: 'note' }).setLatLng(place).setContent(element('p', {}, why)));
      return;
    }
    const given = tapTold(ground, wayFrom(ground, start));
    forget('tap');
    const item = { key: 'tap', given, lines: [], bounds: L.latLngBounds([place]), row, button };
    given.legs.forEach((leg) => strokes(given.style, leg.kind, false).forEach((stroke) => {
      const line = L.polyline(leg.places, { ...stroke, pane: ways.pane, renderer: ways.renderer, interactive: false, lineCap: stroke.lineCap || 'round' });
      item.lines.push(L.featureGroup([line]).addTo(ways.group));
      item.bounds.extend(line.getBounds());
    }));
    item.flag = page.flag('tap', place, given.letter, 'start tapped', given.title).addTo(flags.group);
    items.set('tap', item);
    page.choose('tap', true);
    if (!map.getBounds().contains(item.bounds)) page.fit(item.bounds, !page.calm);
    window.history.replaceState(null, '', '#at=' + place.map((one) => one.toFixed(7)).join(','));
    document.documentElement.dataset.followed = (performance.now() - began).toFixed(1);
  }

  function forget(key) {
    const item = items.get(key);
    if (!item) return;
    item.lines.forEach((line) => line.remove());
    item.flag.remove();
    items.delete(key);
  }
}
