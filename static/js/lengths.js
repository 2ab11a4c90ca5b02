// Reading a typed number as the server does: a decimal comma, or a fraction as on a tape in inches.

const TAPE = /^(?:(\d+)[ -]+)?(\d+)\/(\d+)$/;

// The number a field says, null where it says none.
export function typedNumber(input) {
  const spaced = input.value.replace(/(\d) *(?=[¼-¾⅐-⅞])/g, "$1 ");
  const text = spaced.normalize("NFKC").replace("⁄", "/").trim();
  const tape = text.match(TAPE);
  if (tape) return Number(tape[3]) ? Number(tape[1] ?? 0) + tape[2] / tape[3] : null;
  const plain = text.replace(",", ".");
  return plain === "" || Number.isNaN(Number(plain)) ? null : Number(plain);
}
