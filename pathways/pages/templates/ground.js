/* Walks over the ground that Python worked out (pathways.terrain.network): from any cell
   along its steps, the drawn line guided by the fall, to where Python says that it ends. */
'use strict';
const ROW = [0, 1, 1, 1, 0, -1, -1, -1];
const COLUMN = [1, 1, 0, -1, -1, -1, 0, 1];
const ENDED = 8;
const NO_FALL = 31; // level: 31 itself; 63 in a hollow, 95 at an end
const REACH_OF_DIRECTION = 3;
const SMOOTH_GUIDED = 0.05;
const SMOOTH_STEPS = 0.75;
const PARTED_CELLS = 5;

async function inflated(text) {
  const stored = Uint8Array.from(atob(text), (one) => one.charCodeAt(0));
  const stream = new Blob([stored]).stream().pipeThrough(new DecompressionStream('deflate'));
  return new Response(stream).arrayBuffer();
}

/* Arrays are little-endian, as all machines are that browsers run on. */
async function groundOf(given) {
  const names = Object.keys(given.arrays);
  const buffers = await Promise.all(names.map((name) => inflated(given.arrays[name])));
  const ground = { ...given, size: given.rows * given.columns };
  const wide = { ends_at: Uint16Array, pool_at: Uint16Array, height_at: Uint16Array, beside_at: Uint32Array };
  names.forEach((name, number) => { ground[name] = new (wide[name] || Uint8Array)(buffers[number]); });
  for (let row = 0, cell = 0; row < ground.rows; row += 1) {
    for (let column = 0, sum = 0; column < ground.columns; column += 1, cell += 1) {
      sum = (sum + ground.height_at[cell]) & 0xffff;
      ground.height_at[cell] = sum;
    }
  }
  return ground;
}

function polynomial(factors, u, v, order) {
  let sum = 0;
  let number = 0;
  for (let i = 0, ui = 1; i <= order; i += 1, ui *= u) {
    for (let j = 0, vj = 1; j <= order - i; j += 1, vj *= v) sum += factors[number++] * ui * vj;
  }
  return sum;
}

/* Metres east and south of the corner of the grid, to latitude and longitude; and back. */
function placeOf(ground, [x, y]) {
  const given = ground.placing;
  const [u, v] = [x / given.half_m - 1, y / given.half_m - 1];
  return [given.middle[0] + polynomial(given.latitude, u, v, given.order),
    given.middle[1] + polynomial(given.longitude, u, v, given.order)];
}

function metresOf(ground, [latitude, longitude]) {
  const given = ground.placing;
  const [u, v] = [(latitude - given.middle[0]) / given.span, (longitude - given.middle[1]) / given.span];
  return [polynomial(given.x, u, v, given.order), polynomial(given.y, u, v, given.order)];
}

/* -1 off the grid. */
function cellAt(ground, [x, y]) {
  const column = Math.floor(x / ground.cell_m);
  const row = Math.floor(y / ground.cell_m);
  const inside = row >= 0 && column >= 0 && row < ground.rows && column < ground.columns;
  return inside ? row * ground.columns + column : -1;
}

function centreOf(ground, cell) {
  return [(cell % ground.columns + 0.5) * ground.cell_m, (Math.floor(cell / ground.columns) + 0.5) * ground.cell_m];
}

function stepFrom(ground, cell, step) { return cell + ROW[step] * ground.columns + COLUMN[step]; }

function networkCells(ground, start) {
  const cells = [start];
  for (let cell = start; ground.steps[cell] < ENDED && cells.length < ground.size;) {
    cell = stepFrom(ground, cell, ground.steps[cell]);
    cells.push(cell);
  }
  return cells;
}

/* Orlandini et al. 2003, equations 1 to 3, as pathways.terrain._kernels.guided_way has it. */
function guidedCells(ground, start, east, north) {
  const cells = [];
  const deviations = [];
  let deviation = 0;
  for (let cell = start; cells.length < ground.size;) {
    cells.push(cell);
    deviations.push(deviation);
    if (ground.steps[cell] >= ENDED) break;
    const part = ground.falls[cell] & 31;
    if (part === NO_FALL) {
      cell = stepFrom(ground, cell, ground.steps[cell]);
      deviation = 0;
      continue;
    }
    const facet = ground.falls[cell] >> 5;
    const straight = 2 * (((facet + 1) >> 1) % 4);
    const diagonal = facet | 1;
    const turn = ((straight + 1) & 7) === diagonal ? 1 : -1;
    const angle = part / 30 * Math.PI / 4;
    if (cells.length === 1) {
      const x = Math.cos(angle) * COLUMN[straight] + Math.sin(angle) * (COLUMN[diagonal] - COLUMN[straight]);
      const y = -Math.cos(angle) * ROW[straight] - Math.sin(angle) * (ROW[diagonal] - ROW[straight]);
      deviation = east * y - north * x;
      deviations[0] = deviation;
    }
    const ifStraight = deviation - turn * Math.sin(angle);
    const ifDiagonal = deviation + turn * Math.SQRT2 * Math.sin(Math.PI / 4 - angle);
    const goesStraight = part === 0 || (part < 30 && Math.abs(ifStraight) <= Math.abs(ifDiagonal));
    cell = stepFrom(ground, cell, goesStraight ? straight : diagonal);
    deviation = goesStraight ? ifStraight : ifDiagonal;
  }
  return { cells, deviations };
}

/* The line through cells, in metres: from the start itself, corners that hardly stand out left out. */
function lineOf(ground, start, cells, deviations) {
  const places = cells.map((cell) => centreOf(ground, cell));
  const last = places.length - 1;
  const moved = places.map(([x, y], number) => {
    if (!deviations || last < 1) return [x, y];
    const ahead = places[Math.min(number + REACH_OF_DIRECTION, last)];
    const behind = places[Math.max(number - REACH_OF_DIRECTION, 0)];
    const [along, down] = [ahead[0] - behind[0], ahead[1] - behind[1]];
    const length = Math.hypot(along, down) || 1;
    const off = deviations[number] * ground.cell_m / length;
    return [x + off * down, y - off * along];
  });
  const inside = cellAt(ground, start) === cells[0];
  const line = [start, ...(inside && last > 0 ? moved.slice(1) : moved)];
  const numbers = simplified(line, (deviations ? SMOOTH_GUIDED : SMOOTH_STEPS) * ground.cell_m);
  return numbers.map((number) => line[number]);
}

/* Douglas & Peucker 1973, with a stack: ways are long. */
function simplified(line, reach) {
  const kept = new Set([0, line.length - 1]);
  const waiting = [[0, line.length - 1]];
  while (waiting.length) {
    const [first, last] = waiting.pop();
    let [worst, at] = [0, -1];
    for (let number = first + 1; number < last; number += 1) {
      const off = offSegment(line[number], line[first], line[last]);
      if (off > worst) [worst, at] = [off, number];
    }
    if (worst > reach) {
      kept.add(at);
      waiting.push([first, at], [at, last]);
    }
  }
  return [...kept].sort((one, other) => one - other);
}

function offSegment([x, y], [x0, y0], [x1, y1]) {
  const [dx, dy] = [x1 - x0, y1 - y0];
  const square = dx * dx + dy * dy;
  const share = square ? Math.max(0, Math.min(1, ((x - x0) * dx + (y - y0) * dy) / square)) : 0;
  return Math.hypot(x - x0 - share * dx, y - y0 - share * dy);
}

function lengthOf(line) {
  return line.slice(1).reduce((sum, [x, y], number) => sum + Math.hypot(x - line[number][0], y - line[number][1]), 0);
}

/* Over the ground from a place: the fall draws the line where it ends as the steps do. */
function runFrom(ground, start, cell) {
  const [x, y] = centreOf(ground, cell);
  const steps = networkCells(ground, cell);
  const end = steps[steps.length - 1];
  const guided = guidedCells(ground, cell, (x - start[0]) / ground.cell_m, (start[1] - y) / ground.cell_m);
  const guidedEnd = guided.cells[guided.cells.length - 1];
  if (ground.ends_at[end] !== ground.ends_at[guidedEnd]) return { cells: steps, deviations: null, parted: true, byFall: guidedEnd };
  const [one, other] = [centreOf(ground, end), centreOf(ground, guidedEnd)];
  const apart = Math.hypot(one[0] - other[0], one[1] - other[1]);
  return { ...guided, parted: apart > PARTED_CELLS * ground.cell_m };
}

function lies(ground, cell, number) { return ground.groups[ground.beside_at[cell]].includes(number); }

function endingAt(ground, cell) {
  const code = ground.ends_at[cell];
  return code ? ground.endings[code - 1] : null;
}

const AS_DRAWN = { overWalls: false, asSeen: true };

/* Where cells stop: at a wall, where they meet water that was seen to run, or at their last.
   As pathways.terrain.seen.meeting has it, a line counts where its band is first entered. */
function stopOf(ground, taken, cells, options) {
  let stop = { at: cells.length - 1 };
  if (!options.overWalls) {
    const wall = cells.findIndex((cell) => { const ending = endingAt(ground, cell); return ending && ending.kind === 'wall'; });
    if (wall >= 0) stop = { at: wall, walled: true };
  }
  if (options.asSeen) {
    ground.seen.forEach((one, number) => {
      if (taken.seen.has(number)) return;
      const at = cells.findIndex((cell) => lies(ground, cell, one.band));
      if (at >= 0 && at < stop.at && lies(ground, cells[at], one.valid)) stop = { at, seen: number };
    });
  }
  return stop;
}

/* What follows where cells stop: an ending, or what takes the liquid onwards. */
function nextOf(ground, taken, cells, stop) {
  const cell = cells[stop.at];
  if (stop.seen !== undefined) {
    taken.seen.add(stop.seen);
    return alongSeen(ground, ground.seen[stop.seen], centreOf(ground, cell));
  }
  const ending = endingAt(ground, cell);
  if (!ending || (stop.walled && ending.kind === 'wall')) return unknown(ground.whys.shut_in);
  if (ending.kind !== 'opening') return ending;
  if (taken.openings.has(ending.opening)) return unknown(ground.whys.drains_in_a_circle);
  taken.openings.add(ending.opening);
  return ground.openings[ending.opening];
}

function unknown(verdict) { return { outcome: 'not_known', verdict, receptor: '' }; }

/* An observed line from where it is met to where liquid on it goes on. */
function alongSeen(ground, seen, place) {
  const line = seen.ends[0].legs[0].line.map((one) => metresOf(ground, one));
  const met = alongOf(line, place);
  const onwards = seen.ends.find((one) => one.along_m > met) || seen.ends[seen.ends.length - 1];
  const legs = [{ ...onwards.legs[0], line: partBetween(line, met, onwards.along_m), says: '' }];
  return { ...onwards, legs, metres: true, beside: onwards.beside.filter(([, from, until]) => (until === null || until >= met) && from <= onwards.along_m) };
}

/* How far along a line the place nearest to another lies. */
function alongOf(line, place) {
  let [best, found, passed] = [Infinity, 0, 0];
  for (let number = 0; number + 1 < line.length; number += 1) {
    const [[x0, y0], [x1, y1]] = [line[number], line[number + 1]];
    const length = Math.hypot(x1 - x0, y1 - y0);
    const share = length ? Math.max(0, Math.min(1, ((place[0] - x0) * (x1 - x0) + (place[1] - y0) * (y1 - y0)) / length ** 2)) : 0;
    const off = Math.hypot(place[0] - x0 - share * (x1 - x0), place[1] - y0 - share * (y1 - y0));
    if (off < best) [best, found] = [off, passed + share * length];
    passed += length;
  }
  return found;
}

function partBetween(line, from, until) {
  const part = [];
  let passed = 0;
  for (let number = 0; number + 1 < line.length; number += 1) {
    const [one, other] = [line[number], line[number + 1]];
    const length = Math.hypot(other[0] - one[0], other[1] - one[1]);
    const at = (distance) => [0, 1].map((axis) => one[axis] + (distance - passed) / length * (other[axis] - one[axis]));
    if (length && passed + length > from && passed < until) {
      if (!part.length) part.push(at(Math.max(from, passed)));
      part.push(at(Math.min(until, passed + length)));
    }
    passed += length;
  }
  return part.length ? part : [line[line.length - 1], line[line.length - 1]];
}

/* The way of a spill from a place [metres], leg by leg, with all that lies beside it. */
function wayFrom(ground, start) {
  const way = { start, legs: [], cautions: [], beside: new Set(), openings: new Set(), seen: new Set(),
    level: 0, over: 0, walled: false, byFall: [] };
  let [place, cell, comesOut] = [start, cellAt(ground, start), ''];
  for (let turn = 0; turn <= ground.openings.length + ground.seen.length; turn += 1) {
    const run = runFrom(ground, place, cell);
    const stop = stopOf(ground, way, run.cells, AS_DRAWN);
    addLeg(ground, way, run, stop, place, comesOut);
    way.walled = way.walled || Boolean(stop.walled);
    if (run.byFall !== undefined && stop.at === run.cells.length - 1) way.byFall.push(run.byFall);
    const next = nextOf(ground, way, run.cells, stop);
    if (next.legs) underway(ground, way, next);
    if (next.cell === undefined || next.cell === null) return finished(ground, way, next, run.cells);
    [cell, comesOut] = [next.cell, next.goes_on];
    place = centreOf(ground, cell);
  }
  return Object.assign(way, unknown(ground.whys.drains_in_a_circle));
}

function finished(ground, way, ending, cells) {
  const flat = ending.kind === 'edge' && cells.length > 1 && cells.every((cell) => ground.height_at[cell] === ground.height_at[cells[0]]);
  const { outcome, verdict, receptor } = flat ? unknown(ground.whys.ground_too_flat) : ending;
  return Object.assign(way, { outcome, verdict, receptor, endsIn: ending.kind });
}

function addLeg(ground, way, run, stop, place, enters) {
  const cells = run.cells.slice(0, stop.at + 1);
  const deviations = stop.walled || !run.deviations ? null : run.deviations.slice(0, stop.at + 1);
  const atOnce = cells.length === 1 && endingAt(ground, cells[0]);
  const line = atOnce ? [place, place] : lineOf(ground, place, cells, deviations);
  way.legs.push({ kind: 'surface', cells, line, enters });
  if (run.parted) way.cautions.push(ground.says.parted);
  cells.forEach((one) => ground.groups[ground.beside_at[one]].forEach((number) => way.beside.add(number)));
  way.level += cells.filter((one) => ground.falls[one] === NO_FALL).length;
  way.over += cells.filter((one) => ground.steps[one] < ENDED).length;
}

/* Adds the legs underground, or along what was seen. */
function underway(ground, way, next) {
  way.cautions.push(...next.cautions);
  next.beside.forEach(([number]) => way.beside.add(number));
  const last = way.legs[way.legs.length - 1].line;
  const from = last[last.length - 1];
  next.legs.forEach((given) => {
    const line = next.metres ? [from, ...given.line] : given.line.map((one) => metresOf(ground, one));
    way.legs.push({ kind: given.kind, line, enters: given.enters, says: given.says });
  });
  if (!next.legs.length) way.legs.push({ kind: 'joined', line: [from, from], enters: next.enters, says: '' });
}

/* How a way ends, without its line. */
function endFrom(ground, start, options = AS_DRAWN) {
  const taken = { openings: new Set(), seen: new Set() };
  let cell = start;
  for (let turn = 0; turn <= ground.openings.length + ground.seen.length; turn += 1) {
    const cells = networkCells(ground, cell);
    const next = nextOf(ground, taken, cells, stopOf(ground, taken, cells, options));
    if (next.cell === undefined || next.cell === null) return next;
    cell = next.cell;
  }
  return unknown(ground.whys.drains_in_a_circle);
}

/* How ways end that begin at open places round one, at most some fifty of them. */
function endsRound(ground, start) {
  const reach = Math.max(1, Math.floor(ground.round_m / ground.cell_m));
  const step = Math.ceil(reach / 4);
  const middle = cellAt(ground, start);
  const [row, column] = [Math.floor(middle / ground.columns), middle % ground.columns];
  const ends = [];
  for (let down = -reach; down <= reach; down += step) {
    for (let right = -reach; right <= reach; right += step) {
      const [there, beside] = [row + down, column + right];
      const inside = there >= 0 && beside >= 0 && there < ground.rows && beside < ground.columns;
      const near = Math.hypot(down, right) * ground.cell_m <= ground.round_m;
      const cell = there * ground.columns + beside;
      if (inside && near && ground.cover_at[cell] !== ground.closed) ends.push(endFrom(ground, cell));
    }
  }
  return ends;
}
