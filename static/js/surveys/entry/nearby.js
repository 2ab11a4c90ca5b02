// What the readings say to each other before any map is fitted: the mean and spread of a burst,
// what the neighbours of a point lead to expect, and a first look at a whole depth.
//
// Weighted by inverse squared distance, in log PAR, round a straight fall with depth. It is no
// light map and claims no interval; the server fits the real one.

// Readings nearer than this count as one spot [cm], so that no weight runs away.
const CLOSE_CM = 3;
const FEWEST = 4;
// Off by more than this factor from the neighbours: worth a second look. House rule.
const FAR_FACTOR = 2;
// Depths that spread by less, in squares, are one depth [cm2].
const ONE_DEPTH_CM2 = 1;
// Darker than this a meter shows noise, and a logarithm makes much of it [umol m-2 s-1].
const DARKEST_UMOL = 1;

const mean = (values) => values.reduce((sum, value) => sum + value, 0) / values.length;

/** The mean and spread (standard deviation) of values read one after the other. */
export function ofSeveral(values) {
  const middle = mean(values);
  if (values.length < 2) return { value_umol: middle, spread_umol: null };
  const squares = values.reduce((sum, value) => sum + (value - middle) ** 2, 0);
  return { value_umol: middle, spread_umol: Math.sqrt(squares / (values.length - 1)) };
}

/** The mean and spread of a flicker that swings between two ends: the spread of a sine wave. */
export function ofLowHigh(low, high) {
  return { value_umol: (low + high) / 2, spread_umol: Math.abs(high - low) / Math.sqrt(8) };
}

// log PAR as a straight line over depth; level when one depth was read.
function trendOf(points) {
  const logs = points.map((point) => Math.log(Math.max(point.value_umol, DARKEST_UMOL)));
  const depths = points.map((point) => point.depth_cm);
  const [middle, deep] = [mean(logs), mean(depths)];
  const across = depths.reduce((sum, depth) => sum + (depth - deep) ** 2, 0);
  const along = depths.reduce((sum, depth, i) => sum + (depth - deep) * (logs[i] - middle), 0);
  const slope = across > ONE_DEPTH_CM2 ? along / across : 0;
  return { at: (depth) => middle + slope * (depth - deep), logs };
}

/** Return a function that tells the PAR to expect at {x_cm, y_cm, depth_cm}, or null for too few. */
export function expectation(points) {
  if (points.length < FEWEST) return null;
  const trend = trendOf(points);
  const over = points.map((point, i) => trend.logs[i] - trend.at(point.depth_cm));
  return (place) => {
    let [sum, total] = [0, 0];
    points.forEach((point, i) => {
      const square =
        (point.x_cm - place.x_cm) ** 2 + (point.y_cm - place.y_cm) ** 2 + (point.depth_cm - place.depth_cm) ** 2;
      const weight = 1 / (square + CLOSE_CM ** 2);
      sum += weight * over[i];
      total += weight;
    });
    return Math.exp(trend.at(place.depth_cm) + sum / total);
  };
}

// How far a reading lies below the only depth that was read so far [cm]; 0 where several were,
// which tell how fast the light falls.
function belowOneDepth(reading, others) {
  const deep = mean(others.map((point) => point.depth_cm));
  const across = others.reduce((sum, point) => sum + (point.depth_cm - deep) ** 2, 0);
  return across > ONE_DEPTH_CM2 ? 0 : reading.depth_cm - deep;
}

/** Return what the others say is at a reading when it is far from that, else null. */
export function farFrom(reading, others) {
  const expected = expectation(others)?.(reading);
  if (!expected) return null;
  const factor = Math.max(reading.value_umol, DARKEST_UMOL) / Math.max(expected, DARKEST_UMOL);
  // The first reading of a second depth may be dimmer below and brighter above by any factor.
  const below = belowOneDepth(reading, others);
  const isBright = factor > FAR_FACTOR && below > -CLOSE_CM;
  const isDim = factor < 1 / FAR_FACTOR && below < CLOSE_CM;
  return isBright || isDim ? expected : null;
}

/** Return {columns, rows, values, low, high} over the plan at a depth, or null for too few points. */
export function firstLook(points, tank, depth_cm, columns = 24) {
  const at = expectation(points);
  if (!at) return null;
  const rows = Math.max(4, Math.round((columns * tank.width) / tank.length));
  const values = [];
  for (let j = 0; j < rows; j += 1) {
    for (let i = 0; i < columns; i += 1) {
      values.push(at({ x_cm: ((i + 0.5) / columns) * tank.length, y_cm: ((j + 0.5) / rows) * tank.width, depth_cm }));
    }
  }
  return { columns, rows, values, low: Math.min(...values), high: Math.max(...values) };
}
