/* Lengths on the Log page: the same small grammar as tracker/units.py, for showing what was typed while it is typed.
 * What is kept is read by the record itself; this only decides whether a line is a value at all. */
(function () {
  "use strict";

  const MM = { in: 25.4, mm: 1, um: 0.001, thou: 0.0254, tenth: 0.00254 };
  const WORDS = {
    in: "in", "in.": "in", inch: "in", inches: "in", '"': "in", "″": "in", "''": "in",
    mm: "mm", millimetre: "mm", millimetres: "mm", millimeter: "mm", millimeters: "mm",
    um: "um", "µm": "um", "μm": "um", micron: "um", microns: "um", micrometre: "um", micrometres: "um",
    micrometer: "um", micrometers: "um",
    thou: "thou", thousandth: "thou", thousandths: "thou", tenth: "tenth", tenths: "tenth",
  };
  const NUMBER = /^([+\-−])?\s*(?:(\d+)\s+(\d+)\s*\/\s*(\d+)|(\d+)\s*\/\s*(\d+)|(\d+(?:[.,]\d*)?|[.,]\d+))\s*([^\d\s.,+\-/].*)?$/;

  /* Returns {value (in `unit`), unit, signed, named} or null; a comma counts only where the job says so. */
  function read(text, unit, comma) {
    const match = NUMBER.exec(text.trim());
    if (!match || (!comma && text.includes(","))) return null;
    const used = match[8] ? WORDS[match[8].trim().toLowerCase()] : unit;
    if (!used) return null;
    let size;
    if (match[7] !== undefined) size = Number(match[7].replace(",", "."));
    else if (match[2] !== undefined) size = Number(match[2]) + Number(match[3]) / Number(match[4]);
    else size = Number(match[5]) / Number(match[6]);
    if (!Number.isFinite(size)) return null;
    const sign = match[1] === "-" || match[1] === "−" ? -1 : 1;
    return { value: (sign * size * MM[used]) / MM[unit], unit: used, signed: Boolean(match[1]), named: Boolean(match[8]) };
  }

  function looksLikeEntry(text, kind, unit, comma) {
    if (kind === "go_no_go" || /go/i.test(text)) return /go/i.test(text) && /\d/.test(text);
    return read(text, unit, comma) !== null;
  }

  /* Halves to the even digit, of the decimal value as typed: the rule of format_number in tracker/units.py. What the
   * binary number leaves beyond the guard digits is taken off first. */
  const GUARD_DIGITS = 6;
  function rounded(value, decimals) {
    const digits = value.toFixed(decimals + GUARD_DIGITS).replace(".", "");
    const whole = BigInt(digits.slice(0, -GUARD_DIGITS));
    const rest = digits.slice(-GUARD_DIGITS);
    const half = "5".padEnd(GUARD_DIGITS, "0");
    const up = rest > half || (rest === half && whole % 2n === 1n);
    const text = (whole + (up ? 1n : 0n)).toString().padStart(decimals + 1, "0");
    return decimals ? `${text.slice(0, -decimals)}.${text.slice(-decimals)}` : text;
  }

  function fixed(value, decimals, signed) {
    const text = rounded(Math.abs(value), decimals);
    if (Number(text) === 0) return text;
    return (value < 0 ? "−" : signed ? "+" : "") + text;
  }

  function convert(value, from, to) {
    return (value * MM[from]) / MM[to];
  }

  window.tenthwise = Object.assign(window.tenthwise || {}, { lengths: { read, looksLikeEntry, fixed, convert } });
})();
