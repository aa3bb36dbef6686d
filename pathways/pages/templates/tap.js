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
      cuts.push({ at: number, says: ground.pools[pool - 1] });
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
  let [passed, before] = [0, null];
  const add = (place, says, then) => posts.push({ at: metresSaid(passed), place: placeOf(ground, place), says, then });
  way.legs.forEach((leg, number) => {
    const length = lengthOf(leg.line);
    const enters = leg.enters || '';
    if (leg.kind !== 'surface') {
      const says = enters || said(ground.says.out, {});
      const told = leg.says || said(ground.says['leg_' + leg.kind], { length: metresSaid(length), what: '' });
      add(leg.line[0], says, { kind: leg.kind, says: told, falls: '', strip: [{ name: '', length, kind: leg.kind }] });
      passed += length;
    } else {
      const stretches = stretchesOf(ground, leg);
      stretches.forEach((stretch, place) => {
        const until = place + 1 < stretches.length ? stretches[place + 1].at : leg.cells.length - 1;
        const line = partOf(ground, leg, stretch.at, until);
        const part = lengthOf(line);
        const covers = coversOf(ground, leg, stretch.at, until);
        const all = covers.reduce((sum, one) => sum + one.count, 0) || 1;
        const names = [...new Set(covers.map((one) => ground.covers[one.code].name))];
        const says = stretch.says || (before ? ground.says.out : ground.says.start);
        if (part === 0 && !stretch.says && number + 1 < way.legs.length && before) return;
        add(line[0], says, {
          kind: 'surface',
          says: said(ground.says.stretch, { length: metresSaid(part), covers: listed(names) || ground.covers[0].name })
            + kerbsTold(ground, leg.cells.slice(stretch.at, until + 1)),
          falls: fallSaid(ground, line[0], line[line.length - 1]),
          strip: covers.map((one) => ({ name: ground.covers[one.code].name, style: ground.covers[one.code].style,
            length: part * one.count / all, kind: 'surface' })),
        });
        passed += part;
      });
    }
    before = leg;
  });
  add(endOf(way), endSaid(ground, way) + '.', null);
  way.length = passed;
  return posts;
}

function endOf(way) {
  const { line } = way.legs[way.legs.length - 1];
  return line[line.length - 1];
}

function endSaid(ground, way) {
  const shown = way.receptor && way.outcome !== 'not_known' && way.outcome !== 'contained';
  return way.verdict + (shown ? said(ground.says.to, { receptor: way.receptor }) : '');
}

/* What lies beside a way and may take it: not what it goes into anyhow. */
function besideTold(ground, way) {
  const runsOver = [];
  const others = [];
  way.beside.forEach((number) => {
    const one = ground.beside[number];
    if (one.kind === 'flow_seen' || one.kind === 'kerb') return;
    if (one.kind === 'opening' && way.taken.has(one.index)) return;
    if (one.kind === 'water' && way.outcome === 'reaches_water') return;
    (one.kind === 'barrier' ? runsOver : others).push(one);
  });
  return { runsOver, others };
}

function sureTold(ground, way) {
  const lines = [];
  const ends = endsRound(ground, way.start);
  const own = (one) => one.verdict === way.verdict && one.receptor === way.receptor;
  const same = ends.filter(own).length;
  const values = { count: ends.length, reach: metresSaid(ground.round_m), same };
  if (same === ends.length) lines.push(said(ground.says.all_round, values));
  else {
    const other = [...new Set(ends.filter((one) => !own(one)).map((one) => endSaid(ground, one)))];
    lines.push(said(ground.says.not_all_round, { ...values, ends: other.join('; ') }));
  }
  if (way.level > way.over / 2) {
    lines.push(said(ground.says.flat, { share: Math.round(100 * way.level / way.over) + '\u00a0%' }));
  }
  return [...lines, ground.says.no_versions];
}

/* Everything that is told of a tapped place, in the shape of a drawn way. */
function tapTold(ground, way) {
  const says = ground.says;
  const posts = postsOf(ground, way);
  const { runsOver, others } = besideTold(ground, way);
  const rank = (outcome) => ground.outcomes[outcome].rank;
  const worse = others.some((one) => one.outcome && rank(one.outcome) < rank(way.outcome));
  const parts = [
    { heading: says.sure, lines: sureTold(ground, way) },
    { heading: says.others, lines: others.map((one) => one.says) },
    { heading: says.care, lines: [...new Set([...way.cautions, ...runsOver.map((one) => one.says), says.no_amounts])] },
  ];
  return {
    letter: says.letter,
    title: says.title,
    outcome: ground.outcomes[way.outcome].says,
    style: ground.outcomes[way.outcome].style,
    unsure: worse ? says.worse : '',
    legs: way.legs.map((leg) => ({ kind: leg.kind, places: leg.line.map((one) => placeOf(ground, one)) })),
    story: {
      title: says.title,
      verdict: endSaid(ground, way),
      summary: way.length > 0 ? capital(said(says.summary, { length: metresSaid(way.length),
        falls: fallSaid(ground, way.start, endOf(way)) })) : says.here,
      posts,
      parts: parts.filter((part) => part.lines.length),
    },
  };
}
