/* Small pieces of pages and pictures. Texts are set as textContent and never as HTML,
   so that no name on a farm can run or change the page. */
'use strict';
const SVG = 'http://www.w3.org/2000/svg';

function element(tag, attributes, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

function drawn(tag, attributes, ...children) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) made.setAttribute(name, value);
  }
  made.append(...children);
  return made;
}

function list(lines) {
  return element('ul', {}, ...lines.map((one) => element('li', {}, one)));
}

function glyph(style) {
  return drawn('path', {
    d: style.outline, fill: style.fillColor, stroke: style.edge, 'stroke-width': 1.6,
  });
}

/* What marks a stretch that does not lie open on the ground. */
const CORE = { pipe: '6 7', observed: '1 8', joined: '1 4' };

function strokes(style, kind, thin) {
  const pattern = style.pattern;
  if (thin) {
    // Another way: thin, and always broken; how it is broken tells its end, as on a wide one.
    const dashArray = pattern ? pattern.split(' ').map((one) => Math.max(2, Math.round(0.6 * one))).join(' ') : '7 6';
    return [{ color: '#fff', weight: 5, opacity: 0.9 }, { color: '#000', weight: 3.5, dashArray },
      { color: style.colour, weight: 2, dashArray }];
  }
  const lines = [{ color: '#fff', weight: 11, opacity: 0.9 },
    { color: '#000', weight: 8, dashArray: pattern, lineCap: 'butt' },
    { color: style.colour, weight: 5, dashArray: pattern, lineCap: 'butt' }];
  if (CORE[kind]) {
    lines[1] = { color: '#000', weight: 8 };
    lines[2] = { color: style.colour, weight: 5 };
    lines.push({ color: style.colour === '#000000' ? '#fff' : '#000', weight: 2, dashArray: CORE[kind] });
  }
  return lines;
}

function swatch(kind, style) {
  if (kind === 'none') return '';
  const picture = drawn('svg', { viewBox: '0 0 44 20', width: 44, height: 20, 'aria-hidden': 'true', class: 'swatch' });
  const stroke = (look) => picture.append(drawn('path', { d: 'M0 10H44', fill: 'none', stroke: look.color,
    'stroke-width': look.weight, 'stroke-dasharray': look.dashArray, 'stroke-opacity': look.opacity }));
  if (kind === 'way') strokes(style, 'surface', false).forEach(stroke);
  else if (kind === 'other') strokes(style, 'surface', true).forEach(stroke);
  else if (kind === 'leg') strokes({ colour: '#ddd', pattern: null }, style, false).forEach(stroke);
  else if (kind === 'Point' && style.outline) picture.append(drawn('g', { transform: 'translate(12 0)' }, glyph(style)));
  else if (kind.includes('Line')) stroke(style);
  else {
    picture.append(drawn('rect', { x: 4, y: 2, width: 36, height: 16, fill: style.fillColor,
      'fill-opacity': style.fillOpacity, stroke: style.color, 'stroke-width': 1.5, 'stroke-dasharray': style.dashArray }));
  }
  return picture;
}

/* Flags that would hide each other, or lie where something is taken already, move aside,
   each to the first free place, and keep a line to where they belong. Labels stand where no flag does, or not at all. */
function spread(map, flags, labels, taken) {
  const free = (here) => taken.every((there) => here.left >= there.left + there.wide
    || there.left >= here.left + here.wide || here.top >= there.top + there.high || there.top >= here.top + here.high);
  const round = [[0, -1], [1, -1], [1, 0], [1, 1], [0, 1], [-1, 1], [-1, 0], [-1, -1]];
  const steps = [[0, 0], ...[1, 1.7, 2.4, 3.2, 4, 5].flatMap((far) => round.map(([x, y]) => [far * x, far * y]))];
  flags.forEach((one) => {
    const box = one.getElement();
    const [wide, high] = [box.offsetWidth + 6, box.offsetHeight + 6];
    const at = map.latLngToLayerPoint(one.getLatLng());
    const tries = steps.map(([x, y]) => ({
      east: x * wide, south: y * high, left: at.x + (x - 0.5) * wide, top: at.y + (y - 0.5) * high, wide, high }));
    const here = tries.find(free) || tries[0];
    taken.push(here);
    box.style.marginLeft = here.east - box.offsetWidth / 2 + 'px';
    box.style.marginTop = here.south - box.offsetHeight / 2 + 'px';
    const leader = box.querySelector('.leader');
    leader.style.width = Math.hypot(here.east, here.south) + 'px';
    leader.style.transform = 'rotate(' + Math.atan2(-here.south, -here.east) + 'rad)';
  });
  labels.forEach((label) => {
    const text = label.marker.getElement().firstChild;
    const [wide, high] = [text.offsetWidth, text.offsetHeight];
    const found = label.places.find((place) => {
      const at = map.latLngToLayerPoint(place);
      const here = { left: at.x - wide / 2, top: at.y - high / 2, wide, high };
      if (!map.getBounds().contains(place) || !free(here)) return false;
      taken.push(here);
      return true;
    });
    text.hidden = !found;
    if (found) label.marker.setLatLng(found);
  });
}
