/* The legend, whose boxes switch the layers. */
'use strict';

/* `shownLayers` are what a box adds to the map and takes off it. */
function switchFor(map, layer, shownLayers, onSwitch) {
  const box = element('input', { type: 'checkbox' });
  box.checked = true;
  box.addEventListener('change', () => {
    shownLayers.forEach((one) => (box.checked ? one.addTo(map) : one.remove()));
    onSwitch(layer);
  });
  const name = element('label', {}, box, element('span', {}, layer.name));
  const entries = [...layer.legend];
  // Where the only entry says no more than the name of its layer, one line is enough.
  if (entries.length === 1 && !['ways', 'alternatives', 'setbacks'].includes(layer.key)) {
    name.append(swatch(...entries[0][1]));
    return element('li', {}, name);
  }
  const named = entries.map(([says, look]) => element('li', {}, swatch(...look), element('span', {}, says)));
  return element('li', {}, name, element('ul', {}, ...named));
}

function legendOf(map, layers, words, onSwitch) {
  const shown = layers.filter((layer) => layer.legend.size || layer.picture).reverse();
  const rows = shown.map((layer) => switchFor(map, layer, [layer.picture || layer.group], onSwitch));
  const made = element('details', { class: 'legend' }, element('summary', {}, words.legend), element('ul', {}, ...rows));
  made.open = map.getSize().x >= 1000;
  return made;
}
