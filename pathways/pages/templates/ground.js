/* Walks over the ground that Python worked out (pathways.terrain.network): from any cell
   along its steps, the drawn line guided by the fall, to where Python says that it ends. */
'use strict';
const ROW = [0, 1, 1, 1, 0, -1, -1, -1];
const COLUMN = [1, 1, 0, -1, -1, -1, 0, 1];
const ENDED = 8;
const LEVEL = 31;
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
  names.forEach((name, number) => {
    const wide = ['ends_at', 'pool_at', 'beside_at', 'height_at'].includes(name);
    ground[name] = wide ? new Uint16Array(buffers[number]) : new Uint8Array(buffers[number]);
  });
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

/* Far off the grid the polynomials mean nothing: what they give is held against the way back. */
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
    if (part === LEVEL) {
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
  if (ground.ends_at[end] !== ground.ends_at[guidedEnd]) return { cells: steps, deviations: null, parted: true };
  const [one, other] = [centreOf(ground, end), centreOf(ground, guidedEnd)];
  const apart = Math.hypot(one[0] - other[0], one[1] - other[1]);
  return { ...guided, parted: apart > PARTED_CELLS * ground.cell_m };
}

/* What the way of a spill meets from a place [metres], leg by leg, and how it ends. */
function wayFrom(ground, start) {
  const way = { start, legs: [], cautions: [], beside: new Set(), taken: new Set(), seen: new Set(), level: 0, over: 0 };
  let [place, cell] = [start, cellAt(ground, start)];
  for (let turn = 0; turn <= ground.openings.length + ground.seen.length; turn += 1) {
    const next = overGround(ground, way, place, cell);
    if (!next) return way;
    underway(ground, way, next);
    if (next.onwards.cell === null) return ended(way, next.onwards);
    cell = next.onwards.cell;
    place = centreOf(ground, cell);
  }
  return ended(way, { outcome: 'not_known', verdict: ground.whys.drains_in_a_circle, receptor: '' });
}

function ended(way, { outcome, verdict, receptor }) { return Object.assign(way, { outcome, verdict, receptor }); }

/* Adds a leg over the ground; gives what takes it onwards, or nothing where it ended. */
function overGround(ground, way, place, cell) {
  const run = runFrom(ground, place, cell);
  const wall = run.cells.findIndex((one) => ground.ends_at[one] && ground.endings[ground.ends_at[one] - 1].kind === 'wall');
  const met = run.cells.findIndex((one) => seenAt(ground, way, one) >= 0);
  const stops = [wall, met].filter((one) => one >= 0);
  const until = stops.length ? Math.min(...stops) : run.cells.length - 1;
  const cells = run.cells.slice(0, until + 1);
  const guided = wall === until ? null : run.deviations && run.deviations.slice(0, until + 1);
  const leg = { kind: 'surface', cells, line: lineOf(ground, place, cells, guided) };
  way.legs.push(leg);
  if (run.parted) way.cautions.push(ground.says.parted);
  cells.forEach((one) => ground.groups[ground.beside_at[one]].forEach((number) => way.beside.add(number)));
  way.level += cells.filter((one) => (ground.falls[one] & 31) === LEVEL && !ground.pool_at[one]).length;
  way.over += cells.length;
  if (met >= 0 && until === met) {
    const number = seenAt(ground, way, cells[until]);
    way.seen.add(number);
    return { onwards: ground.seen[number], seen: true, from: leg.line[leg.line.length - 1] };
  }
  const code = ground.ends_at[cells[until]];
  const ending = code ? ground.endings[code - 1]
    : { outcome: 'not_known', verdict: ground.whys.shut_in, receptor: '' };
  if (ending.kind === 'opening') {
    if (way.taken.has(ending.opening)) {
      return void ended(way, { outcome: 'not_known', verdict: ground.whys.drains_in_a_circle, receptor: '' });
    }
    way.taken.add(ending.opening);
    return { onwards: ground.openings[ending.opening], from: leg.line[leg.line.length - 1] };
  }
  ended(way, tooFlat(ground, ending, cells) ? { outcome: 'not_known', verdict: ground.whys.ground_too_flat, receptor: '' } : ending);
  return null;
}

function tooFlat(ground, ending, cells) {
  if (ending.kind !== 'edge' || cells.length < 2) return false;
  const heights = cells.map((one) => ground.height_at[one]);
  return Math.max(...heights) === Math.min(...heights);
}

function seenAt(ground, way, cell) {
  return ground.seen.findIndex((one, number) => !way.seen.has(number)
    && ground.groups[ground.beside_at[cell]].includes(one.beside));
}

/* Adds the legs underground, or along what was seen from the place nearest to where it was met. */
function underway(ground, way, next) {
  const { onwards } = next;
  way.cautions.push(...onwards.cautions);
  onwards.legs.forEach((given, number) => {
    const line = given.line.map((one) => metresOf(ground, one));
    const kept = next.seen && number === 0 ? [next.from, ...restOf(line, next.from)] : line;
    way.legs.push({ kind: given.kind, line: kept, enters: number ? '' : onwards.enters,
      says: next.seen ? '' : given.says });
  });
  if (!onwards.legs.length) way.legs.push({ kind: 'joined', line: [next.from, next.from], enters: onwards.enters, says: '' });
}

function restOf(line, from) {
  let [best, at] = [Infinity, 0];
  for (let number = 0; number + 1 < line.length; number += 1) {
    const off = offSegment(from, line[number], line[number + 1]);
    if (off < best) [best, at] = [off, number];
  }
  return line.slice(at + 1);
}

/* How a way ends, without its line. */
function endFrom(ground, start) {
  const way = { taken: new Set(), seen: new Set() };
  let cell = start;
  for (let count = 0; count <= ground.size; count += 1) {
    const number = seenAt(ground, way, cell);
    const code = ground.ends_at[cell];
    const ending = code ? ground.endings[code - 1] : null;
    if (number < 0 && !ending && ground.steps[cell] < ENDED) {
      cell = stepFrom(ground, cell, ground.steps[cell]);
      continue;
    }
    if (number < 0 && !ending) return { outcome: 'not_known', verdict: ground.whys.shut_in, receptor: '' };
    if (number < 0 && ending.kind !== 'opening') return ending;
    if (number < 0 && way.taken.has(ending.opening)) break;
    if (number < 0) way.taken.add(ending.opening);
    else way.seen.add(number);
    const onwards = number < 0 ? ground.openings[ending.opening] : ground.seen[number];
    if (onwards.cell === null) return onwards;
    cell = onwards.cell;
  }
  return { outcome: 'not_known', verdict: ground.whys.drains_in_a_circle, receptor: '' };
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
