/* The form of the thing that is chosen: its few questions, as pathways/features.py has them. */
'use strict';
function drawingForm(data, store, hooks) {
  const words = data.words;
  const holder = document.getElementById('form');
  let counted = 0;

  function button(says, press) {
    const made = element('button', { type: 'button' }, says);
    made.addEventListener('click', press);
    return made;
  }

  /* Numbers as people write them: a comma counts as a point. */
  function numberFrom(text, field) {
    const plain = text.trim().replace(/\s/g, '').replace(',', '.');
    if (plain === '') return { value: undefined };
    const value = /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : NaN;
    if (!Number.isFinite(value)) return { refused: words.no_number };
    if (field.least !== null && value < field.least) return { refused: filled(words.too_small, { least: field.least }) };
    return { value };
  }

  function choicesFor(field, feature) {
    const offered = field.choices.filter((one) => !one.only_as || one.only_as === feature.geometry.type);
    const things = store.features.filter((one) => field.refers_to.includes(one.properties.layer) && one !== feature
      && typeof one.properties.id === 'string' && one.properties.id !== '');
    const named = things.map((one) => ({ value: one.properties.id, says: titleOf(one, store.layers) }));
    return [...named, ...offered];
  }

  function selectFor(field, feature, id, commit) {
    const said = feature.properties[field.name];
    const choices = choicesFor(field, feature);
    const made = element('select', { id, name: field.name });
    const known = choices.some((one) => one.value === said);
    if (field.default === null || (said !== undefined && !known)) {
      made.append(element('option', { value: '' }, words.not_answered));
    }
    // What an opened file says is kept, even where this page would not offer it.
    if (said !== undefined && said !== '' && !known) choices.push({ value: said, says: String(said) });
    choices.forEach((one) => made.append(element('option', { value: String(one.value) }, one.says)));
    made.value = said === undefined ? String(field.default ?? '') : String(said);
    made.addEventListener('change', () => {
      const chosen = choices.find((one) => String(one.value) === made.value);
      commit(chosen ? chosen.value : undefined);
    });
    return made;
  }

  function inputFor(field, feature, id, commit, refuse) {
    const said = feature.properties[field.name];
    const made = element('input', { id, name: field.name, type: 'text', autocomplete: 'off' });
    if (field.type === 'number') made.setAttribute('inputmode', 'decimal');
    else made.setAttribute('maxlength', '2000');
    made.value = said === undefined || said === null ? '' : String(said);
    made.addEventListener('change', () => {
      if (field.type !== 'number') { commit(made.value.trim() === '' ? undefined : made.value); return; }
      const { value, refused } = numberFrom(made.value, field);
      refuse(refused || '');
      if (!refused) commit(value);
    });
    return made;
  }

  function question(field, number) {
    const feature = store.features[number];
    counted += 1;
    const id = 'question-' + counted;
    const commit = (value) => hooks.answered(number, field.name, value);
    if (field.type === 'yes') {
      const box = element('input', { id, name: field.name, type: 'checkbox' });
      box.checked = feature.properties[field.name] === true;
      box.addEventListener('change', () => commit(box.checked ? true : undefined));
      return element('label', { class: 'tick', for: id }, box, element('span', {}, field.label));
    }
    const warning = element('p', { class: 'refused', role: 'alert', id: id + '-refused' });
    const refuse = (says) => { warning.textContent = says; };
    const make = field.type === 'choice' ? selectFor : inputFor;
    const made = make(field, feature, id, commit, refuse);
    made.setAttribute('aria-describedby', id + '-refused');
    const label = element('label', { for: id }, field.label);
    if (field.needed) label.append(' ', element('b', { class: 'needed' }, words.needed));
    return element('div', { class: 'question' }, label, made, warning);
  }

  function others(feature, layer) {
    const known = new Set(['layer', 'id', ...layer.fields.map((one) => one.name)]);
    const lines = Object.entries(feature.properties).filter(([name]) => !known.has(name))
      .map(([name, value]) => name + ': ' + (typeof value === 'string' ? value : JSON.stringify(value)));
    return lines.length ? [element('p', { class: 'hint' }, words.other_values), list(lines)] : [];
  }

  function close() { holder.hidden = true; holder.replaceChildren(); }

  function show(number) {
    const feature = store.features[number];
    if (!feature) { close(); return; }
    const layer = store.layers.get(feature.properties.layer);
    const first = layer.fields.filter((one) => one.needed || one.name === 'name' || one.name === 'kind');
    first.sort((one, other) => Number(other.name === 'kind') - Number(one.name === 'kind')
      || Number(other.needed) - Number(one.needed));
    const later = layer.fields.filter((one) => !first.includes(one));
    const parts = [element('h2', {}, titleOf(feature, store.layers)), ...first.map((one) => question(one, number))];
    if (later.length) {
      const more = element('details', {}, element('summary', {}, words.more_questions), ...later.map((one) => question(one, number)));
      more.open = later.some((one) => feature.properties[one.name] !== undefined);
      parts.push(more);
    }
    const isSpot = feature.geometry.type === 'Point';
    const row = [button(isSpot ? words.move_spot : words.move, () => hooks.edit(number))];
    if (feature.geometry.type === 'LineString' && layer.directed !== null) row.push(button(words.turn, () => hooks.turn(number)));
    row.push(button(words.delete, () => hooks.remove(number)), button(words.close, () => hooks.closed()));
    holder.replaceChildren(...parts, ...others(feature, layer), element('div', { class: 'row' }, ...row));
    holder.hidden = false;
  }

  /* After an answer only the heading changes: the hand that is on the next field stays there. */
  function retitle(number) {
    const head = holder.querySelector('h2');
    if (head && store.features[number]) head.textContent = titleOf(store.features[number], store.layers);
  }

  return { show, close, retitle, holder };
}
