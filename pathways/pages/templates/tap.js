/* Tells the way from a place that was tapped, in the words that Python wrote. */
'use strict';

function said(sentence, values) {
  return sentence.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? values[name] : whole));
}

function capital(text) { return text.charAt(0).toUpperCase() + text.slice(1); }

/* As pathways.pages.amounts.metres says lengths. */
function metresSaid(length) {
  if (length >= 9.95) return Math.round(length).toLocaleString('en-GB') + '\u00a0m';
  return length.toFixed(1).replace(/\.0$/, '') + '\u00a0m';
}

function heightAt(ground, place) {
  const cell = cellAt(ground, place);
  const steps = cell < 0 ? ground.no_height : ground.height_at[cell];
  return steps === ground.no_height ? null : ground.lowest_m + steps * ground.height_step_m;
}

/* Covers along the cells of a leg, with the share of its length that lies on each. */
function coversOf(ground, leg, from, until) {
  const covers = [];
  for (let number = from; number <= until; number += 1) {
    const code = ground.cover_at[leg.cells[number]];
    if (code === ground.closed) continue;
    const last = covers[covers.length - 1];
    if (last && last.code === code) last.count += 1;
    else covers.push({ code, count: 1 });
  }
  return covers;
}

function listed(things) {
  return things.length < 2 ? things.join('') : things.slice(0, -1).join(', ') + ' and ' + things[things.length - 1];
}

/* A leg over the ground falls into stretches where a hollow lies on it. */
function stretchesOf(ground, leg) {
  const cuts = [{ at: 0, says: '' }];
  const met = new Set();
  leg.cells.forEach((cell, number) => {
    const pool = ground.pool_at[cell];
    if (pool && !met.has(pool)) {
      met.add(pool);
      const [volume, deep] = ground.pools.of[pool - 1];
      cuts.push({ at: number, says: said(ground.says.pool, { volume: ground.pools.volumes[volume], deep: ground.pools.depths[deep] }) });
    }
  });
  return cuts.filter((cut, number) => cut.says || number === 0 || cuts.length === 1);
}

function fallSaid(ground, from, until) {
  const [high, low] = [heightAt(ground, from), heightAt(ground, until)];
  if (high === null || low === null) return ground.says.no_drop;
  return high - low < ground.hardly_falls_m ? ground.says.level : said(ground.says.falls, { drop: metresSaid(high - low) });
}

/* Kerbs beside which a stretch stays for longer than one that only crosses to them. */
function kerbsTold(ground, cells) {
  const beside = new Map();
  cells.forEach((cell) => ground.groups[ground.beside_at[cell]].forEach((number) => {
    if (ground.beside[number].kind === 'kerb') beside.set(number, (beside.get(number) || 0) + 1);
  }));
  return [...beside].filter(([, count]) => count * ground.cell_m > ground.along_m)
    .map(([number]) => ground.beside[number].says).join('');
}

/* The part of a line between two shares of its cells, by the nearest places on it. */
function partOf(ground, leg, from, until) {
  const last = leg.cells.length - 1;
  if (from === 0 && until === last) return leg.line;
  const ends = [from, until].map((number) => centreOf(ground, leg.cells[number]));
  const at = ends.map((place, side) => {
    if ((side ? until === last : from === 0)) return side ? leg.line.length - 1 : 0;
    let [best, index] = [Infinity, 0];
    leg.line.forEach((one, number) => {
      const off = Math.hypot(one[0] - place[0], one[1] - place[1]);
      if (off < best) [best, index] = [off, number];
    });
    return index;
  });
  const inner = leg.line.slice(at[0] + 1, at[1]);
  return [from === 0 ? leg.line[0] : ends[0], ...inner, until === last ? leg.line[leg.line.length - 1] : ends[1]];
}

/* The posts of a way and the stretch after each, in the form in which Python tells drawn ways. */
function postsOf(ground, way) {
  const posts = [];
  let passed = 0;
  const add = (place, says, then) => posts.push({ at: metresSaid(passed), place: placeOf(ground, place), says, then });
  way.legs.forEach((leg, number) => {
    const length = lengthOf(leg.line);
    if (leg.kind === 'surface') {
      overPosts(ground, leg, number).forEach(({ says, line, then }) => {
        add(line[0], says, then);
        passed += lengthOf(line);
      });
      return;
    }
    const told = leg.says || said(ground.says['leg_' + leg.kind], { length: metresSaid(length), what: '' });
    add(leg.line[0], leg.enters, { kind: leg.kind, says: told, falls: '', strip: [{ name: '', length, kind: leg.kind }] });
    passed += length;
  });
  add(endOf(way), endSaid(ground, way) + '.', null);
  way.length = passed;
  return posts;
}

/* The posts of a leg over the ground: one where it begins, one at each hollow. */
function overPosts(ground, leg, number) {
  if (!leg.cells) {
    const length = lengthOf(leg.line);
    const then = { kind: 'surface', says: leg.says, falls: fallSaid(ground, leg.line[0], leg.line[leg.line.length - 1]),
      strip: [{ name: '', length, kind: 'surface', style: ground.covers[0].style }] };
    return [{ says: leg.enters, line: leg.line, then }];
  }
  const stretches = stretchesOf(ground, leg);
  const posts = stretches.map((stretch, place) => {
    const until = place + 1 < stretches.length ? stretches[place + 1].at : leg.cells.length - 1;
    const line = partOf(ground, leg, stretch.at, until);
    const length = lengthOf(line);
    const covers = coversOf(ground, leg, stretch.at, until);
    const all = covers.reduce((sum, one) => sum + one.count, 0) || 1;
    const names = [...new Set(covers.map((one) => ground.covers[one.code].name))];
    const over = said(ground.says.stretch, { length: metresSaid(length), covers: listed(names) || ground.covers[0].name });
    return {
      says: stretch.says || (number ? leg.enters : ground.says.start),
      line,
      then: {
        kind: 'surface',
        says: over + kerbsTold(ground, leg.cells.slice(stretch.at, until + 1)),
        falls: fallSaid(ground, line[0], line[line.length - 1]),
        strip: covers.map((one) => ({ name: ground.covers[one.code].name, style: ground.covers[one.code].style,
          length: length * one.count / all, kind: 'surface' })),
      },
    };
  });
  // Where it comes out of a drain straight into the next, nothing lies between.
  return posts.filter((post, place) => place > 0 || number === 0 || lengthOf(post.line) > 0);
}

function endOf(way) {
  const { line } = way.legs[way.legs.length - 1];
  return line[line.length - 1];
}

function endSaid(ground, { outcome, verdict, receptor }) {
  const shown = receptor && outcome !== 'not_known' && outcome !== 'contained';
  return verdict + (shown ? said(ground.says.to, { receptor }) : '');
}

/* What may take the liquid elsewhere: things beside the way, drains that do not take it, walls
   that it runs over, the fall against the steepest steps, the ground against what was seen. */
function othersOf(ground, way) {
  const listedBeside = [...way.beside].map((number) => ground.beside[number]);
  const wells = new Set(listedBeside.filter((one) => one.kind === 'well_head').map((one) => one.index));
  const followed = new Set([...way.seen].map((number) => ground.beside[ground.seen[number].valid].index));
  const beside = listedBeside.filter((one) => one.says && !['flow_seen', 'flow_band', 'kerb', 'barrier'].includes(one.kind)
    && !(one.kind === 'opening' && way.openings.has(one.index))
    && !(one.kind === 'flow_near' && followed.has(one.index))
    && !(one.kind === 'water' && way.outcome === 'reaches_water')
    && !(one.kind === 'supply' && wells.has(one.index)));
  const past = [...way.openings].flatMap((number) => ground.openings[number].past);
  const start = cellAt(ground, way.start);
  const told = (sentence, end) => ({ outcome: end.outcome, says: said(sentence, { then: endSaid(ground, end) }) });
  const ends = [];
  if (way.walled) ends.push(told(ground.says.over_wall, endFrom(ground, start, { overWalls: true, asSeen: true })));
  way.byFall.forEach((cell) => ends.push(told(ground.says.by_fall, endFrom(ground, cell))));
  if (way.seen.size) ends.push(told(ground.says.by_grid, endFrom(ground, start, { overWalls: false, asSeen: false })));
  return [...beside, ...past, ...ends];
}

function sureTold(ground, way) {
  const lines = [];
  const ends = endsRound(ground, way.start);
  // Why an end is not known may differ from place to place.
  const key = (one) => (one.outcome === 'not_known' ? one.outcome : one.verdict + one.receptor);
  const others = ends.filter((one) => key(one) !== key(way));
  const values = { count: ends.length, reach: metresSaid(ground.round_m), same: ends.length - others.length };
  if (!others.length) lines.push(said(ground.says.all_round, values));
  else {
    const told = [...new Set(others.map((one) => endSaid(ground, one)))];
    lines.push(said(ground.says.not_all_round, { ...values, ends: told.join('; ') }));
  }
  if (way.over && way.level > way.over / 2) {
    lines.push(said(ground.says.flat, { share: Math.round(100 * way.level / way.over) + '\u00a0%' }));
  }
  return [...lines, ground.says.no_versions];
}

/* A land drain takes water whatever the ground above it does: a worse end of it is the headline. */
function headlineOf(ground, way) {
  const rank = (one) => ground.outcomes[one.outcome].rank;
  const worse = [...way.beside].map((number) => ground.beside[number])
    .filter((one) => one.kind === 'land_drain' && rank(one) < rank(way)).sort((one, other) => rank(one) - rank(other));
  return worse.length ? { ...worse[0], by: ', ' + worse[0].by } : { ...way, by: '' };
}

/* Everything that is told of a tapped place, in the shape of a drawn way. */
function tapTold(ground, way) {
  const { says } = ground;
  const posts = postsOf(ground, way);
  const headline = headlineOf(ground, way);
  const others = othersOf(ground, way);
  const rank = (outcome) => ground.outcomes[outcome].rank;
  const worse = others.some((one) => one.outcome && rank(one.outcome) < rank(headline.outcome));
  const runsOver = [...way.beside].map((number) => ground.beside[number]).filter((one) => one.kind === 'barrier');
  const parts = [
    { heading: says.sure, lines: sureTold(ground, way) },
    { heading: says.others, lines: [...new Set(others.map((one) => one.says))] },
    { heading: says.care, lines: [...new Set([...way.cautions, ...runsOver.map((one) => one.says), says.no_amounts])] },
  ];
  const length = said(says.summary, { length: metresSaid(way.length), falls: fallSaid(ground, way.start, endOf(way)) });
  return {
    letter: says.letter,
    title: says.title,
    outcome: ground.outcomes[headline.outcome].says,
    style: ground.outcomes[headline.outcome].style,
    unsure: worse ? says.worse : '',
    legs: way.legs.map((leg) => ({ kind: leg.kind, places: leg.line.map((one) => placeOf(ground, one)) })),
    story: {
      title: says.title,
      verdict: endSaid(ground, headline) + headline.by,
      summary: way.length > 0 || way.endsIn !== 'water' ? capital(length) : says.here,
      posts,
      parts: parts.filter((part) => part.lines.length),
    },
  };
}
