import assert from "node:assert/strict";
import { test } from "node:test";

import { follow } from "../../../../static/js/surveys/meters/meter_form.js";

const USUAL = { quantum: 5, lux: 15 };

function field(value) {
  const heard = {};
  return { value, dataset: {}, addEventListener: (name, act) => { heard[name] = act; }, tell(name, next) { this.value = next; heard[name](); } };
}

function made(percent, from) {
  const elements = { kind: field("quantum"), uncertainty_percent: field(percent), uncertainty_from: field(from) };
  follow({ elements }, USUAL);
  return elements;
}

test("the usual number follows the kind", () => {
  const form = made("5", "usual");
  form.kind.tell("change", "lux");
  assert.equal(form.uncertainty_percent.value, 15);
  form.kind.tell("change", "other");
  assert.equal(form.uncertainty_percent.value, "");
});

test("a number of the keeper's own is no longer called usual, and stays", () => {
  const form = made("5", "usual");
  form.uncertainty_percent.tell("input", "7");
  assert.equal(form.uncertainty_from.value, "stated");
  form.kind.tell("change", "lux");
  assert.equal(form.uncertainty_percent.value, "7");
});

test("a stated number stays when the kind changes", () => {
  const form = made("5", "stated");
  form.kind.tell("change", "lux");
  assert.equal(form.uncertainty_percent.value, "5");
});
