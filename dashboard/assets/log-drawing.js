/* What the Log page draws: the strip of pieces against their limits, and the table of last entries.
 * Everything is made with createElement and textContent; no text from the data is ever read as HTML. */
(function () {
  "use strict";

  const SVG = "http://www.w3.org/2000/svg";
  const NUMBERS = ["No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve"];
  const ROW = 33;
  const MOST_ROWS = 60;

  function make(tag, attributes, ...children) {
    const node = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes || {})) {
      if (name === "class") node.className = value;
      else if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
      else node.setAttribute(name, value);
    }
    node.append(...children.filter((child) => child !== null && child !== undefined));
    return node;
  }

  function shape(tag, attributes, text) {
    const node = document.createElementNS(SVG, tag);
    for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
    if (text !== undefined) node.textContent = text;
    return node;
  }

  function live(state) {
    return state.readings.filter((reading) => !reading.struck);
  }

  function mean(values) {
    return values.reduce((sum, value) => sum + value, 0) / values.length;
  }

  /* Pieces in order, each with its readings and its mean size. */
  function pieces(state) {
    const found = new Map();
    for (const reading of state.readings) {
      if (!found.has(reading.piece)) found.set(reading.piece, []);
      found.get(reading.piece).push(reading);
    }
    const names = [...found.keys()];
    for (let number = 1; number <= (state.feature.pieces || 0); number += 1) {
      if (!found.has(String(number))) names.push(String(number));
    }
    names.sort((a, b) => a.localeCompare(b, undefined, { numeric: true }));
    return names.map((name) => {
      const readings = found.get(name) || [];
      const counted = readings.filter((reading) => !reading.struck && !reading.question && reading.value !== null);
      return { name, readings, size: counted.length ? mean(counted.map((reading) => reading.value)) : null };
    });
  }

  /* Between which sizes a piece lies by what goes and what does not; null where nothing of that kind is kept. */
  function bounds(piece) {
    const counted = piece.readings.filter((reading) => !reading.struck && !reading.question && reading.value === null);
    if (!counted.length) return null;
    const low = Math.max(...counted.map((reading) => (reading.low === null ? -Infinity : reading.low)));
    return [low, Math.min(...counted.map((reading) => (reading.high === null ? Infinity : reading.high)))];
  }

  /* What go and no-go results say: surely within, surely outside, or neither. */
  function boundedFinding(state, found) {
    const { lower, upper } = state.feature;
    const count = NUMBERS[found.length] || String(found.length);
    const said = `${count} measured by what goes`;
    if (lower === null && upper === null) return `${said}: no limits are given`;
    const tiny = state.feature.step * 1e-6;
    const within = found.filter(([low, high]) => (lower === null || low >= lower - tiny) && (upper === null || high <= upper + tiny)).length;
    const outside = found.filter(([low, high]) => (lower !== null && high <= lower + tiny) || (upper !== null && low >= upper - tiny)).length;
    if (within === found.length) return `${said}: ${within === 1 ? "within limits" : "all within limits"}`;
    const open = found.length - within - outside;
    return `${said}: ${[[within, "within limits"], [outside, "outside"], [open, "cannot be told"]]
      .filter(([number]) => number).map(([number, words]) => `${number} ${words}`).join(", ")}`;
  }

  function finding(state, view) {
    const all = pieces(state);
    const measured = all.filter((piece) => piece.size !== null);
    const bounded = all.filter((piece) => piece.size === null).map(bounds).filter((found) => found !== null);
    if (!measured.length && bounded.length) return boundedFinding(state, bounded);
    if (!measured.length) return state.readings.some((reading) => !reading.struck) ? "What is kept waits for an answer" : "Nothing measured yet";
    const { lower, upper, aim } = state.feature;
    const outside = measured.filter(
      (piece) => (lower !== null && piece.size < lower) || (upper !== null && piece.size > upper),
    ).length;
    const count = NUMBERS[measured.length] || String(measured.length);
    const within =
      lower === null && upper === null
        ? "no limits are given"
        : outside === 0
          ? measured.length === 1 ? "within limits" : "all within limits"
          : `${outside} outside the limits`;
    const off = mean(measured.map((piece) => piece.size)) - aim;
    const small = view.small(off);
    const side = Math.abs(small) < 0.05 ? "on the aim" : off < 0 ? "under the aim" : "over the aim";
    const by = side === "on the aim" ? "" : `${tenthwise.lengths.fixed(Math.abs(small), 1)} ${view.smallWord} `;
    const rest = bounded.length ? `; ${bounded.length} more by what goes` : "";
    return `${count} measured: ${within}, on average ${by}${side}${rest}`;
  }

  function range(state, list) {
    const values = list.flatMap((piece) => piece.readings.filter((r) => !r.struck && !r.question && r.value !== null).map((r) => r.value));
    const anchors = [state.feature.lower, state.feature.upper, state.feature.aim, ...values].filter((v) => v !== null);
    let low = Math.min(...anchors);
    let high = Math.max(...anchors);
    const room = Math.max(high - low, state.feature.step * 8) || Math.abs(high) * 1e-4 || 1;
    low -= room * 0.18;
    high += room * 0.12;
    return [low, high];
  }

  function tickStep(span) {
    const rough = span / 6;
    const power = Math.pow(10, Math.floor(Math.log10(rough)));
    return [1, 2, 5, 10].map((factor) => factor * power).find((step) => step >= rough);
  }

  /* The words beside a reading that lies off the scale: in the column of sizes where that is free, else on a ground of
   * their own beside the mark, so that no limit runs through them. */
  function offScale(above, here, middle, width, free) {
    const words = "off the scale";
    const wide = words.length * 9.6;
    if (free) return [shape("text", { x: width - 6, y: middle + 5, "text-anchor": "end", class: "asked-mark" }, words)];
    const from = above ? here - 16 - wide : here + 16;
    return [
      shape("rect", { x: from - 4, y: middle - 10, width: wide + 8, height: 20, class: "asked-ground" }),
      shape("text", { x: from, y: middle + 5, class: "asked-mark" }, words),
    ];
  }

  /* Draws the strip into `holder`; `current` is the piece being measured. */
  function strip(holder, state, view, current) {
    let list = pieces(state);
    if (current && !list.some((piece) => piece.name === current)) list.push({ name: current, readings: [], size: null });
    list.sort((a, b) => a.name.localeCompare(b.name, undefined, { numeric: true }));
    const narrow = holder.clientWidth < 420;
    const at = list.findIndex((piece) => piece.name === current);
    if (narrow && list.length > 3) {
      const from = Math.max(0, Math.min(at - 2, list.length - 3));
      list = list.slice(from, from + 3);
    } else if (list.length > MOST_ROWS) {
      const from = Math.max(0, Math.min(at - MOST_ROWS / 2, list.length - MOST_ROWS));
      list = list.slice(from, from + MOST_ROWS);
    }
    const width = Math.max(holder.clientWidth, 280);
    const row = list.length > 24 ? 20 : ROW;
    const left = 40;
    const right = width - (narrow ? 64 : 150);
    const top = 34;
    const bottom = top + list.length * row + 8;
    const [low, high] = range(state, list);
    const x = (value) => left + ((Math.min(Math.max(value, low), high) - low) / (high - low)) * (right - left);
    const kind = state.feature.kind;
    const svg = shape("svg", { width, height: bottom + 54, role: "img", "aria-label": finding(state, view), class: `strip strip-${kind}` });
    svg.append(shape("title", {}, finding(state, view)));
    const hatch = shape("pattern", { id: "strip-hatch", width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" });
    hatch.append(shape("line", { x1: 0, y1: 0, x2: 0, y2: 7, class: "hatch" }));
    svg.append(shape("defs", {}));
    svg.querySelector("defs").append(hatch);

    const { lower, upper, aim } = state.feature;
    if (lower !== null && upper !== null) {
      svg.append(shape("rect", { x: x(lower), y: top, width: x(upper) - x(lower), height: bottom - top, class: "within" }));
    }
    const over = []; // words that stand over the limits
    list.forEach((piece, index) => {
      const y = top + index * row + 4;
      const tall = row - 8;
      const middle = y + tall / 2;
      if (piece.name === current) svg.append(shape("rect", { x: 1, y: y - 3, width: width - 2, height: tall + 6, class: "current" }));
      svg.append(shape("text", { x: 28, y: middle + 5, "text-anchor": "end", class: "piece" }, piece.name));
      if (piece.size === null) svg.append(shape("line", { x1: left, x2: right, y1: middle, y2: middle, class: "blank" }));
      else {
        if (kind === "internal") svg.append(shape("rect", { x: x(piece.size), y: y + 2, width: Math.max(0, right - x(piece.size)), height: tall - 4, fill: "url(#strip-hatch)" }));
        else if (kind === "external") svg.append(shape("rect", { x: left, y: y + 2, width: Math.max(0, x(piece.size) - left), height: tall - 4, class: "solid" }));
        svg.append(shape("line", { x1: x(piece.size), x2: x(piece.size), y1: y, y2: y + tall, class: "size" }));
        const small = tenthwise.lengths.fixed(view.small(piece.size - view.base), 1, true);
        if (!narrow) svg.append(shape("text", { x: width - 66, y: middle + 5, "text-anchor": "end", class: "full" }, view.long(piece.size)));
        svg.append(shape("text", { x: width - 6, y: middle + 5, "text-anchor": "end", class: "off" }, small));
      }
      piece.readings.forEach((reading, place) => {
        if (reading.value === null) {
          const from = reading.low === null ? left : x(reading.low);
          const to = reading.high === null ? right : x(reading.high);
          svg.append(shape("line", { x1: from, x2: to, y1: middle, y2: middle, class: reading.struck ? "interval struck" : "interval" }));
          return;
        }
        const here = x(reading.value);
        if (reading.struck) {
          svg.append(shape("path", { d: `M${here - 5} ${middle - 5}l10 10m0 -10l-10 10`, class: "struck" }));
          return;
        }
        if (reading.question) {
          svg.append(shape("path", { d: `M${here} ${middle - 9}l9 9l-9 9l-9 -9z`, class: "asked" }));
          svg.append(shape("text", { x: here, y: middle + 5, "text-anchor": "middle", class: "asked-mark" }, "?"));
          if (reading.value > high || reading.value < low) {
            over.push(...offScale(reading.value > high, here, middle, width, piece.size === null && !narrow));
          }
          return;
        }
        const third = tall / 3;
        const level = y + (place % 3) * third;
        svg.append(shape("line", { x1: here, x2: here, y1: level, y2: level + third - 1, class: "reading" }));
      });
    });
    for (const [value, name] of [[lower, ""], [upper, ""]]) {
      if (value === null) continue;
      const here = x(value);
      svg.append(shape("path", { d: `M${here} ${top - 4}V${bottom}M${here - 6} ${top - 4}h12M${here - 6} ${bottom}h12`, class: "limit" }));
      svg.append(shape("text", { x: here, y: 18, "text-anchor": "middle", class: "limit-word" }, `${name}${view.short(value)}`));
    }
    svg.append(...over);
    const clear = [lower, upper].every((value) => value === null || Math.abs(x(value) - x(aim)) > 96);
    svg.append(shape("line", { x1: x(aim), x2: x(aim), y1: top, y2: bottom, class: "aim" }));
    if (clear) svg.append(shape("text", { x: x(aim), y: 18, "text-anchor": "middle", class: "aim-word" }, narrow ? "aim" : `aim ${view.short(aim)}`));

    svg.append(shape("rect", { x: left, y: bottom + 6, width: right - left, height: 44, class: "scale" }));
    const { base } = view;
    const span = view.small(high - low);
    const step = tickStep(span);
    const first = Math.ceil(view.small(low - base) / step);
    const last = Math.floor(view.small(high - base) / step);
    const decimals = step < 1 ? 1 : 0;
    for (let tick = first; tick <= last; tick += 1) {
      const value = base + view.big(tick * step);
      const here = x(value);
      svg.append(shape("line", { x1: here, x2: here, y1: bottom + 6, y2: bottom + 15, class: "tick" }));
      const word = tick === 0 ? "0" : tenthwise.lengths.fixed(tick * step, decimals, true);
      svg.append(shape("text", { x: here, y: bottom + 30, "text-anchor": "middle", class: "tick-word" }, word));
      if (tick % 2 === 0) svg.append(shape("text", { x: here, y: bottom + 45, "text-anchor": "middle", class: "tick-full" }, view.short(value)));
    }
    holder.replaceChildren(svg);
  }

  /* The table of the last entries; `act.strike(reading)` is called by its button. */
  function table(holder, state, view, waiting, act) {
    const head = make("tr", {}, ...["piece", "reading", `size, ${view.unit}`, view.smallWord, "", ""].map((word, index) =>
      make("th", { scope: "col", class: index === 2 || index === 3 ? "number" : "" }, word)));
    const body = make("tbody", {});
    for (const entry of [...waiting].reverse()) {
      body.append(make("tr", { class: "waits" },
        make("td", {}, entry.piece), make("td", {}, placeName(entry)), make("td", { class: "number" }, entry.text),
        make("td", {}), make("td", {}, "not in the record yet"), make("td", {})));
    }
    for (const reading of [...state.readings].sort((a, b) => b.id - a.id).slice(0, 20)) {
      const struck = reading.struck;
      const remark = struck ? `${struck.reason}${struck.by ? `, ${struck.by}` : ""} ${struck.time}` : reading.question ? reading.question : reading.mark || "";
      const size = reading.value === null ? reading.typed : view.long(reading.value);
      const away = reading.value === null ? 0 : view.small(reading.value - view.base);
      const off = reading.value === null ? "" : Math.abs(away) > 9999 ? "far off" : tenthwise.lengths.fixed(away, 1, true);
      const last = struck
        ? make("span", { class: "quiet" }, "struck out")
        : make("button", { type: "button", class: "small-button", "data-strike": reading.id,
            "aria-label": `strike out piece ${reading.piece}, ${placeName(reading)}, ${size}`, onclick: () => act.strike(reading) }, "strike out");
      body.append(make("tr", { class: struck ? "gone" : reading.question ? "asked" : "" },
        make("td", {}, reading.piece), make("td", {}, placeName(reading)),
        make("td", { class: "number" }, struck ? make("s", {}, size) : size),
        make("td", { class: "number" }, struck ? make("s", {}, off) : off),
        make("td", { class: "remark" }, remark), make("td", { class: "act" }, last)));
    }
    if (!body.children.length) {
      holder.replaceChildren(make("p", { class: "quiet" }, "No entries yet. Type a value and press Enter; a gauge with keyboard output does the same."));
      return;
    }
    holder.replaceChildren(make("table", { class: "entries" }, make("thead", {}, head), body));
  }

  function placeName(reading) {
    return `${reading.position ? `${reading.position} ` : ""}${reading.repeat}`;
  }

  window.tenthwise = Object.assign(window.tenthwise || {}, { draw: { make, strip, table, pieces, live, finding, placeName } });
})();
