import assert from "node:assert/strict";
import { test } from "node:test";

import { Typed, listenToKeys } from "../../../../static/js/surveys/entry/keys.js";

function typedBy(...keys) {
  const typed = new Typed();
  for (const key of keys) typed.press(key);
  return typed;
}

test("digits and one point make a value", () => {
  assert.deepEqual(typedBy("1", "2", ".", "5", ".").reading(), { value_umol: 12.5, spread_umol: null });
  assert.equal(typedBy(".", "5").shown(), "0.5");
  assert.equal(typedBy("0", "7").shown(), "7");
  assert.equal(typedBy(..."123456789").shown(), "1234567");
});

test("several values make their mean and spread", () => {
  const typed = typedBy("1", "0", "+", "2", "0");
  assert.equal(typed.shown(), "10 + 20");
  assert.deepEqual(typed.all(), [10, 20]);
  assert.equal(typed.reading().value_umol, 15);
  assert.ok(Math.abs(typed.reading().spread_umol - Math.sqrt(50)) < 1e-12);
});

test("a low and a high make their middle, and nothing before the high is typed", () => {
  const typed = typedBy("1", "0", "-");
  assert.equal(typed.reading(), null);
  for (const key of ["3", "0", "+"]) typed.press(key);
  assert.equal(typed.shown(), "10 – 30");
  assert.equal(typed.reading().value_umol, 20);
  assert.ok(Math.abs(typed.reading().spread_umol - 20 / Math.sqrt(8)) < 1e-12);
});

test("back takes the last key, then opens the value before; a range ends with its low", () => {
  const typed = typedBy("1", "2", "-", "3", "back", "back");
  assert.equal(typed.shown(), "12");
  assert.equal(typed.isRange, false);
  for (const key of ["back", "back"]) typed.press(key);
  assert.ok(typed.isEmpty);
  typed.press("back");
  assert.ok(typed.isEmpty);
});

test("nothing typed is nothing to keep", () => {
  assert.equal(typedBy("+", "-").reading(), null);
  assert.ok(typedBy("+", "-").isEmpty);
});

test("at most a hundred values of one burst", () => {
  const typed = new Typed();
  for (let i = 0; i < 120; i += 1) for (const key of ["1", "+"]) typed.press(key);
  assert.equal(typed.all().length, 100);
});

function heardOf(typed, key, { on = "", ...more } = {}) {
  let listener;
  globalThis.document = { addEventListener: (name, heard) => (listener = heard) };
  const heard = [];
  listenToKeys(typed, (pressed) => heard.push(pressed), (name) => heard.push(`do ${name}`));
  const target = { closest: (selector) => selector.split(", ").includes(on) || null };
  listener({ key, target, preventDefault() {}, ...more });
  delete globalThis.document;
  return heard;
}

test("a keyboard does what the pad does", () => {
  const typed = typedBy("5");
  for (const [key, does] of [
    ["7", "7"], [",", "."], ["–", "-"], ["Backspace", "back"], ["Enter", "do keep"], ["ArrowRight", "do skip"], ["ArrowLeft", "do back-point"],
    ["u", "do undo"], ["a", "do again"],
  ]) assert.deepEqual(heardOf(typed, key), [does], key);
  assert.deepEqual(heardOf(typed, "x"), []);
});

test("keys typed into a field, with a modifier, or held down are left alone", () => {
  assert.deepEqual(heardOf(new Typed(), "7", { on: "input" }), []);
  assert.deepEqual(heardOf(new Typed(), "7", { altKey: true }), []);
  assert.deepEqual(heardOf(typedBy("5"), "Enter", { repeat: true }), []);
  assert.deepEqual(heardOf(new Typed(), "z", { ctrlKey: true }), ["do undo"]);
});

test("Enter keeps a typed value wherever the focus is, and else presses its button", () => {
  assert.deepEqual(heardOf(typedBy("5"), "Enter", { on: "button" }), ["do keep"]);
  assert.deepEqual(heardOf(new Typed(), "Enter", { on: "button" }), []);
});
