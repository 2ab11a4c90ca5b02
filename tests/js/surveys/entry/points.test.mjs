import assert from "node:assert/strict";
import { test } from "node:test";

import { Walk } from "../../../../static/js/surveys/entry/points.js";

const stop = (number) => ({ point: `p${number}`, number, x_cm: number, y_cm: 1, depth_cm: 2, words: "" });
const planned = [1, 2, 3].map(stop);
const read = (...names) => new Map(names.map((point) => [point, { point, x_cm: 0, y_cm: 0, depth_cm: 0, value_umol: 9 }]));

test("a walk begins at the first unread point", () => {
  assert.equal(new Walk(planned, read()).current.number, 1);
  assert.equal(new Walk(planned, read("p1", "p2")).current.number, 3);
});

test("with all read no point is current, so that no stray tap writes over one", () => {
  const walk = new Walk(planned, read("p1", "p2", "p3"));
  assert.equal(walk.current, null);
  assert.equal(walk.left, 0);
  walk.step(-1);
  assert.equal(walk.current.number, 3);
});

test("after a point comes the next unread one, round the end", () => {
  const walk = new Walk(planned, read("p3"));
  walk.step(1);
  walk.readings.set("p2", { point: "p2" });
  assert.ok(walk.toNextUnread());
  assert.equal(walk.current.number, 1);
  walk.readings.set("p1", { point: "p1" });
  assert.equal(walk.toNextUnread(), false);
});

test("steps go round, and over read points too", () => {
  const walk = new Walk(planned, read("p2"));
  walk.step(1);
  assert.equal(walk.current.number, 2);
  walk.step(2);
  assert.equal(walk.current.number, 1);
  walk.step(-1);
  assert.equal(walk.current.number, 3);
});

test("points read off the plan are numbered on, past numbers taken out of it", () => {
  const walk = new Walk([stop(1), stop(5)], read("p1", "x", "y"));
  assert.deepEqual(walk.stops.map((each) => each.number), [1, 5, 6, 7]);
  walk.startFree({ x_cm: 3, y_cm: 4, depth_cm: 5 });
  assert.equal(walk.current.number, 8);
});

test("a free point has a place, may move, and ends", () => {
  const walk = new Walk(planned, read());
  walk.startFree({ x_cm: 3, y_cm: 4, depth_cm: 5 });
  const { point } = walk.current;
  assert.ok(walk.isFree);
  walk.moveFree({ x_cm: 30, y_cm: 4 });
  assert.deepEqual({ ...walk.current }, { point, number: 4, words: "", x_cm: 30, y_cm: 4, depth_cm: 5 });
  walk.endFree();
  assert.equal(walk.current.number, 1);
});

test("going to a point leaves a free one; to an unknown one changes nothing", () => {
  const walk = new Walk(planned, read());
  walk.startFree({ x_cm: 3, y_cm: 4, depth_cm: 5 });
  assert.equal(walk.goTo("nowhere"), false);
  assert.ok(walk.isFree);
  assert.ok(walk.goTo("p2"));
  assert.equal(walk.current.number, 2);
});

test("a point is called by its number, and by its place in a plan with gaps", () => {
  const whole = new Walk(planned, read());
  assert.equal(whole.name(planned[1]), "Point 2 of 3");
  const gaps = [stop(1), stop(5)];
  assert.equal(new Walk(gaps, read()).name(gaps[1]), "Point 5, 2 of 2 planned");
  assert.equal(whole.name(stop(9)), "Point 9, not planned");
  assert.equal(new Walk([], read("x")).name(stop(1)), "Point 1");
});

test("without a plan and readings there is no point", () => {
  const walk = new Walk([], read());
  walk.step(1);
  assert.equal(walk.current, null);
  assert.deepEqual(walk.stops, []);
});
