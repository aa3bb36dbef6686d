/* The told way: posts, the strip of covers between them, the parts below. */
'use strict';

function letterOf(text, kind) { return element('span', { class: 'letter ' + kind }, text); }

/* A row for each loss, a column for each state of the ground; on a phone one below the other. */
function statesTable(given, now) {
  const heads = element('tr', {}, ...given.heads.map((one) => element('th', { scope: 'col' }, one)));
  const rows = given.rows.map((row) => element('tr', {}, element('th', { scope: 'row' }, row.title),
    ...row.cells.map((lines, number) => element('td', { 'data-head': given.heads[number + 1], class: number === now ? 'now' : '' },
      ...lines.map((line) => element('span', {}, line))))));
  return element('table', { class: 'states' }, element('thead', {}, heads), element('tbody', {}, ...rows));
}

function verdictLine(given, says) {
  const line = element('p', { class: 'verdict' }, element('span', {}, says));
  if (given.style) line.prepend(swatch('way', given.style));
  return line;
}

/* Lengths are drawn to one scale for the whole way; what is told beside says the same in words. */
function strip(pieces, longest) {
  const whole = pieces.reduce((sum, one) => sum + one.length, 0);
  if (!(whole > 0)) return null;
  const wide = Math.max(8, 100 * whole / longest);
  const picture = drawn('svg', { viewBox: '0 0 100 10', preserveAspectRatio: 'none', class: 'strip', 'aria-hidden': 'true' });
  picture.style.width = wide + '%';
  let at = 0;
  pieces.forEach((one) => {
    const part = 100 * one.length / whole;
    if (one.kind === 'surface') {
      picture.append(drawn('rect', { x: at, y: 0, width: part, height: 10, fill: one.style.fillColor, stroke: '#000',
        'stroke-width': 1, 'vector-effect': 'non-scaling-stroke' }));
    } else {
      picture.append(drawn('rect', { x: at, y: 0, width: part, height: 10, fill: '#4A4A4A' }),
        drawn('path', { d: 'M' + at + ' 5H' + (at + part), stroke: '#fff', 'stroke-width': 3, fill: 'none',
          'stroke-dasharray': { pipe: '9 6', observed: '2 6', joined: '2 3' }[one.kind], 'vector-effect': 'non-scaling-stroke' }));
    }
    at += part;
  });
  return picture;
}

/* What the pieces of a strip are, each cover once, where there is more than one piece. */
function stripKey(pieces, metres) {
  if (pieces.length < 2) return null;
  const covers = new Map();
  pieces.forEach((one) => {
    const before = covers.get(one.name);
    covers.set(one.name, { ...one, length: one.length + (before ? before.length : 0) });
  });
  return element('p', { class: 'strip-key' }, ...[...covers.values()].map((one) => {
    const look = drawn('svg', { viewBox: '0 0 14 14', width: 14, height: 14, 'aria-hidden': 'true' },
      drawn('rect', { x: 1, y: 1, width: 12, height: 12, fill: one.style.fillColor, stroke: '#000' }));
    return element('span', {}, look, metres(one.length) + ' ' + one.name);
  }));
}

function postsList(item, metres) {
  const posts = item.given.story.posts;
  const lengths = posts.map((post) => (post.then ? post.then.strip.reduce((sum, one) => sum + one.length, 0) : 0));
  const longest = Math.max(...lengths, 1e-9);
  return element('ol', { class: 'posts' }, ...posts.map((post, number) => {
    const row = element('li', { class: post.then ? 'then-' + post.then.kind : 'last' },
      letterOf(item.given.letter + (number || ''), number ? 'post' : 'start'),
      element('p', {}, element('b', {}, post.at), ' ' + post.says));
    if (!post.then) return row;
    const falls = post.then.falls ? '; ' + post.then.falls : '';
    row.append(element('p', { class: 'stretch' }, post.then.says + falls));
    const picture = strip(post.then.strip, longest);
    if (picture) row.append(picture);
    const key = stripKey(post.then.strip, metres);
    if (key) row.append(key);
    return row;
  }));
}

/* Everything that is told of a way or a site, as nodes. */
function storyNodes(item, now, state, metres) {
  const { given } = item;
  const { story } = given;
  const kind = given.kind || 'start';
  const told = [element('h2', {}, letterOf(given.letter, kind), ' ' + story.title), verdictLine(given, story.verdict)];
  if (given.unsure) told.push(element('p', { class: 'unsure' }, given.unsure));
  if (story.summary) told.push(element('p', { class: 'summary' }, story.summary));
  // What it does in rain stands in the summary already.
  if (now > 0 && given.by_state && given.by_state[state]) told.push(element('p', { class: 'by-state' }, given.by_state[state]));
  if (story.posts.length) told.push(postsList(item, metres));
  story.parts.forEach((part) => {
    told.push(element('h3', {}, part.heading), list(part.lines));
    if (part.table) told.push(statesTable(part.table, now));
  });
  return told;
}
