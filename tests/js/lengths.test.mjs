import assert from "node:assert/strict";
import { test } from "node:test";

import { lengthText, typedNumber } from "../../static/js/lengths.js";

const INCH = 2.54;
const typed = (value) => typedNumber({ value });

test("a typed number is read with a point, a comma, or as a fraction of a tape", () => {
  for (const [text, number] of [
    ["18.5", 18.5], ["18,5", 18.5], [" 18.5 ", 18.5], ["18 1/2", 18.5], ["18-1/2", 18.5], ["18½", 18.5], ["18 ½", 18.5],
    ["3/4", 0.75], ["¾", 0.75], ["0", 0], ["-2", -2],
  ]) assert.equal(typed(text), number, text);
});

test("what is no number is none", () => {
  for (const text of ["", "  ", "1/0", "two", "1.2.3", "1 2"]) assert.equal(typed(text), null, text);
});

test("centimetres are shown in tenths", () => {
  assert.equal(lengthText(47, 1), "47");
  assert.equal(lengthText(46.99, 1), "47");
  assert.equal(lengthText(12.34, 1), "12.3");
});

test("a fraction of an inch comes back as it was typed", () => {
  for (const text of ["18 1/2", "3/8", "7 3/16", "5/32", "24"]) {
    const stored = Math.round(typed(text) * INCH * 100) / 100;
    assert.equal(lengthText(stored, INCH), text);
  }
});

test("an inch length that is no fraction of a tape is shown as the nearer of tenth and eighth", () => {
  assert.equal(lengthText(10.3 * INCH, INCH), "10.3");
  assert.equal(lengthText(10.36 * INCH, INCH), "10 3/8");
});
