import assert from "node:assert/strict";
import { test } from "node:test";

import { newMark } from "../../static/js/marks.js";

test("marks are random UUIDs and differ", () => {
  const marks = Array.from({ length: 500 }, newMark);
  for (const mark of marks) {
    assert.match(mark, /^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  }
  assert.equal(new Set(marks).size, marks.length);
});
