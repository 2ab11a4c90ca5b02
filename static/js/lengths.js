// Reading a typed number as the server does: a decimal comma, or a fraction as on a tape in inches.

// Parts of an inch on a tape, and how far a stored length may be off a typed fraction [cm].
const PARTS = [8, 16, 32];
const TYPED_CM = 0.005 + 1e-6;

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

function fraction(count, parts) {
  const whole = Math.floor(count / parts);
  let rest = count % parts;
  let of = parts;
  while (rest && rest % 2 === 0) [rest, of] = [rest / 2, of / 2];
  if (!rest) return String(whole);
  return whole ? `${whole} ${rest}/${of}` : `${rest}/${of}`;
}

// A length [cm] as the server tells it: tenths of a cm; in inches the fraction typed, else the nearer of tenth and eighth.
export function lengthText(cm, unitCm) {
  const value = cm / unitCm;
  const tenth = Math.round(value * 10) / 10;
  if (unitCm === 1) return String(tenth);
  for (const parts of PARTS) {
    const count = Math.round(value * parts);
    if (Math.abs(count / parts - value) * unitCm <= TYPED_CM) return fraction(count, parts);
  }
  const eighths = Math.round(value * 8);
  return Math.abs(tenth - value) < Math.abs(eighths / 8 - value) ? String(tenth) : fraction(eighths, 8);
}
