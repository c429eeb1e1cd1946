// Lengths as a technician types them, for drawing only: the server parses what is sent.
const MM = { mm: 1, cm: 10, m: 1000, ft: 304.8, feet: 304.8, "'": 304.8, in: 25.4, inch: 25.4, '"': 25.4 };
const PIECE = /(?:(\d+)\s*\/\s*(\d+)|(\d+(?:[.,]\d+)?)(?:[\s-]+(\d+)\s*\/\s*(\d+))?)\s*(mm|cm|m|feet|ft|inch|in|'|")?[\s,-]*/y;

// Millimetres, or NaN when the text is not a length we can draw.
export function parseLength(text, units) {
  const rest = text.trim().toLowerCase().replaceAll(/[′’]/g, "'").replaceAll(/[″”]|''/g, '"');
  let total = rest ? 0 : NaN;
  for (PIECE.lastIndex = 0; PIECE.lastIndex < rest.length; ) {
    const piece = PIECE.exec(rest);
    if (!piece) return NaN;
    const [, top, bottom, whole = "0", topAfter, bottomAfter, unit] = piece;
    const value = Number(whole.replace(",", ".")) + (top ?? topAfter ?? 0) / (bottom ?? bottomAfter ?? 1);
    total += value * (unit ? MM[unit] : units === "us" ? 25.4 : 1);
  }
  return total;
}

// Rounded down to 1/2 inch or 10 mm, which is as true as a finger on a small plan.
export function printLength(mm, units) {
  if (units !== "us") return `${Math.floor((mm + 0.01) / 10) * 10} mm`;
  const halves = Math.floor((mm + 0.01) / 12.7);
  const feet = Math.floor(halves / 24);
  const inches = Math.floor((halves % 24) / 2);
  const half = halves % 2 ? "1/2" : "";
  const rest = `${inches || !half ? inches : ""}${inches && half ? " " : ""}${half}"`;
  return feet ? `${feet}' ${rest}` : rest;
}
