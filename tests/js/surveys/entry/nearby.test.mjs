import assert from "node:assert/strict";
import { test } from "node:test";

import { expectation, farFrom, firstLook, ofLowHigh, ofSeveral } from "../../../../static/js/surveys/entry/nearby.js";

const TANK = { length: 60, width: 30, depth: 40 };

function litBy(par) {
  const points = [];
  for (const x_cm of [10, 30, 50]) {
    for (const depth_cm of [5, 20, 35]) points.push({ x_cm, y_cm: 15, depth_cm, value_umol: par(x_cm, depth_cm) });
  }
  return points;
}

const near = (value, expected, tolerance) => assert.ok(Math.abs(value - expected) <= tolerance, `${value} is not ${expected}`);

test("a burst has a mean and the spread of its values", () => {
  assert.deepEqual(ofSeveral([100]), { value_umol: 100, spread_umol: null });
  assert.deepEqual(ofSeveral([90, 100, 110]), { value_umol: 100, spread_umol: 10 });
});

test("a flicker between two ends spreads like a sine wave, whichever end came first", () => {
  const samples = Array.from({ length: 1000 }, (_, i) => 100 + 40 * Math.sin((2 * Math.PI * i) / 1000));
  near(ofLowHigh(60, 140).spread_umol, ofSeveral(samples).spread_umol, 0.02);
  assert.deepEqual(ofLowHigh(140, 60), ofLowHigh(60, 140));
});

test("fewer than four readings foretell nothing", () => {
  const points = litBy(() => 100).slice(0, 3);
  assert.equal(expectation(points), null);
  assert.equal(farFrom({ ...points[0], value_umol: 900 }, points), null);
  assert.equal(firstLook(points, TANK, 10), null);
});

test("a fall with depth alone is foretold exactly, beyond the readings too", () => {
  const at = expectation(litBy((x, depth) => 300 * Math.exp(-0.03 * depth)));
  for (const depth_cm of [0, 12, 40]) near(at({ x_cm: 22, y_cm: 3, depth_cm }), 300 * Math.exp(-0.03 * depth_cm), 1e-9);
});

test("the nearest reading weighs most", () => {
  const points = litBy((x) => (x === 10 ? 400 : 100));
  const at = expectation(points);
  assert.ok(at({ x_cm: 10, y_cm: 15, depth_cm: 20 }) > 300);
  assert.ok(at({ x_cm: 50, y_cm: 15, depth_cm: 20 }) < 150);
});

test("only a reading off by more than twofold is far from its neighbours", () => {
  const others = litBy(() => 100);
  const place = { x_cm: 30, y_cm: 15, depth_cm: 12 };
  for (const value_umol of [51, 100, 199]) assert.equal(farFrom({ ...place, value_umol }, others), null);
  for (const value_umol of [0, 49, 201]) near(farFrom({ ...place, value_umol }, others), 100, 1e-9);
});

test("the first reading of a second depth is far only when the light would rise with depth", () => {
  const others = litBy(() => 200).filter((point) => point.depth_cm === 20);
  others.push({ x_cm: 20, y_cm: 5, depth_cm: 20, value_umol: 200 });
  const far = (depth_cm, value_umol) => farFrom({ x_cm: 30, y_cm: 15, depth_cm, value_umol }, others);
  for (const [depth_cm, value_umol] of [[40, 60], [40, 300], [5, 700], [5, 120]]) assert.equal(far(depth_cm, value_umol), null);
  for (const [depth_cm, value_umol] of [[40, 600], [5, 60], [20, 60], [20, 600]]) near(far(depth_cm, value_umol), 200, 1e-9);
});

test("in the dark, small values differ by noise alone", () => {
  const others = litBy(() => 0.2);
  assert.equal(farFrom({ x_cm: 30, y_cm: 15, depth_cm: 12, value_umol: 0.9 }, others), null);
});

test("a first look lies over the whole plan, bright where it was read bright", () => {
  const look = firstLook(litBy((x) => (x === 10 ? 400 : 100)), TANK, 20);
  assert.equal(look.columns, 24);
  assert.equal(look.rows, 12);
  assert.equal(look.values.length, 24 * 12);
  assert.equal(look.low, Math.min(...look.values));
  assert.equal(look.high, Math.max(...look.values));
  assert.ok(look.values[6 * 24 + 3] > look.values[6 * 24 + 20]);
});
