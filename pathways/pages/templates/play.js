/* Plays the fronts of the spills through time; places and times are Python's. */
'use strict';
const PLAY_SECONDS = 20;

/* Where a front is at a time: how far along, and what it does there. */
function frontAt(moments, time) {
  const next = moments.findIndex((one) => one[1] > time);
  if (next < 0) return { along: moments[moments.length - 1][0], does: 'over' };
  if (next === 0) return { along: 0, does: 'runs' };
  const [[from, since], [to, until]] = [moments[next - 1], moments[next]];
  if (from === to) return { along: from, does: 'waits' };
  return { along: from + (to - from) * (time - since) / (until - since), does: 'runs' };
}

/* The lines of a way with how far along each of their corners lies. */
function measured(map, legs, lengths) {
  let passed = 0;
  return legs.map((places, number) => {
    const steps = places.slice(1).map((one, at) => map.distance(places[at], one));
    const whole = steps.reduce((sum, one) => sum + one, 0);
    const along = [passed];
    steps.forEach((one) => along.push(along[along.length - 1] + (whole ? one / whole * lengths[number] : 0)));
    passed += lengths[number];
    return { places, along };
  });
}

/* The part of a way up to a distance. */
function partUntil(legs, distance) {
  const lines = [];
  for (const { places, along } of legs) {
    if (along[0] > distance) break;
    const line = [];
    for (let number = 0; number < places.length; number += 1) {
      if (along[number] <= distance) line.push(places[number]);
      else {
        const share = (distance - along[number - 1]) / (along[number] - along[number - 1]);
        const [one, other] = [places[number - 1], places[number]];
        line.push([one[0] + share * (other[0] - one[0]), one[1] + share * (other[1] - one[1])]);
        break;
      }
    }
    lines.push(line);
  }
  return lines;
}

function clockSaid(words, seconds) {
  const whole = Math.round(seconds);
  if (whole < 60) return said(words.clock_s, { s: whole });
  return said(whole < 3600 ? words.clock_min : words.clock_h, {
    h: Math.floor(whole / 3600), min: Math.floor(whole % 3600 / 60), s: whole % 60 });
}

/* The bar beneath the map: state of the ground, play, time. `fronts` are the ways that have times. */
function player(map, pane, data, fronts, onState, onTold) {
  const { words } = data;
  const renderer = L.svg({ pane, padding: 0.5 });
  const group = L.layerGroup();
  const marks = fronts.map((front) => ({
    front,
    casing: L.polyline([], { pane, renderer, color: '#000', weight: 10, interactive: false }).addTo(group),
    line: L.polyline([], { pane, renderer, color: '#fff', weight: 5, interactive: false }).addTo(group),
    tip: L.circleMarker([0, 0], { pane, renderer, radius: 8, color: '#000', weight: 3, fillColor: '#fff', fillOpacity: 1, interactive: false }).addTo(group),
  }));
  const slider = element('input', { type: 'range', min: 0, max: 1000, value: 0, 'aria-label': words.time, id: 'time' });
  const play = element('button', { type: 'button', id: 'play' }, words.play);
  const clock = element('output', { id: 'clock', for: 'time', 'aria-live': 'off' });
  const where = element('ul', { class: 'fronts' });
  const note = element('p', { class: 'hint' }, words.time_note);
  let [state, frame, shown] = [data.states[0].key, 0, false];

  function longest() {
    return Math.max(1, ...fronts.map(({ fronts: { [state]: { moments } } }) => moments[moments.length - 1][1]));
  }

  function show() {
    const time = slider.value / 1000 * longest();
    clock.textContent = clockSaid(words, time);
    slider.setAttribute('aria-valuetext', clock.textContent);
    where.replaceChildren(...marks.map(({ front, casing, line, tip }) => {
      const { moments, ends, loss } = front.fronts[state];
      const { along, does } = frontAt(moments, time);
      const part = partUntil(front.legs, along);
      casing.setLatLngs(part);
      line.setLatLngs(part);
      const last = part[part.length - 1];
      tip.setLatLng(last[last.length - 1]);
      const key = does === 'over' ? ends : does;
      return element('li', {}, letterOf(front.letter, 'start'), ' ' + said(words['front_' + key], { loss, length: metresSaid(along) }));
    }));
    if (shown) { if (!map.hasLayer(group)) group.addTo(map); } else group.remove();
    onTold(where);
    [where, note, off].forEach((one) => { one.hidden = !shown; });
  }

  function stop() {
    cancelAnimationFrame(frame);
    frame = 0;
    play.textContent = words.play;
  }

  play.addEventListener('click', () => {
    if (frame) { stop(); return; }
    shown = true;
    play.textContent = words.pause;
    if (Number(slider.value) >= 1000) slider.value = 0;
    let [before, at] = [null, Number(slider.value)];
    frame = requestAnimationFrame(function go(now) {
      if (before !== null) at = Math.min(1000, at + (now - before) / PLAY_SECONDS);
      before = now;
      slider.value = at;
      show();
      if (at < 1000) frame = requestAnimationFrame(go);
      else stop();
    });
  });
  slider.addEventListener('input', () => { stop(); shown = true; show(); });
  const off = element('button', { type: 'button', id: 'no-play' }, words.no_play);
  off.addEventListener('click', () => { stop(); shown = false; slider.value = 0; show(); });

  const choice = element('select', { id: 'state' }, ...data.states.map((one) => element('option', { value: one.key }, one.name)));
  choice.addEventListener('change', () => { state = choice.value; stop(); show(); onState(state); });
  show();
  const bar = element('div', { class: 'watch' }, element('label', {}, words.state, choice));
  if (fronts.length) bar.append(element('div', { class: 'times' }, play, slider, clock, off), where, note);
  return bar;
}
