
"use strict";
// Makes the page's figures live: units, regimes, what is under the pointer, and selections that go from one figure to the other.
// Without it the page is complete. It asks nothing of any network, and writes names from the data as text only.
(() => {
  const page = document.documentElement;
  const all = (selector, of = document) => [...of.querySelectorAll(selector)];
  const SYSTEMS = ["si", "ip"];
  const shownFirst = page.dataset.units;
  const other = SYSTEMS.find(s => s !== shownFirst);
  const source = document.getElementById("links");
  const data = source && JSON.parse(source.textContent);
  let refresh = () => {};

  // ---- units ----

  const quantities = all(`[data-${other}]`);
  quantities.forEach(e => { e.dataset[shownFirst] = e.textContent; });
  const show = units => {
    page.dataset.units = units;
    quantities.forEach(e => { e.textContent = e.dataset[units]; });
    refresh();
  };
  all("fieldset.units").forEach(f => {
    f.hidden = false;
    f.addEventListener("change", e => show(e.target.value));
  });

  // ---- paper: what is folded away is printed, but for the figures' numbers ----

  const shut = [];
  addEventListener("beforeprint", () => all("details:not(.numbers):not([open])").forEach(d => { d.open = true; shut.push(d); }));
  addEventListener("afterprint", () => shut.splice(0).forEach(d => { d.open = false; }));

  // ---- regimes: a key switches its regime in every figure that draws it ----

  const hidden = new Set();
  const regimes = data ? data.regimes.map(r => r[0]) : [];
  document.addEventListener("change", e => {
    const key = e.target.dataset.key;
    if (!regimes.includes(key)) return;
    all(`input[data-key="${key}"]`).forEach(i => { i.checked = e.target.checked; });
    if (e.target.checked) hidden.delete(key); else hidden.add(key);
    refresh();
  });

  if (!data) return;

  // ---- the two figures ----

  const { bins, marks, strip, plot } = data;
  const place = (id, box) => {
    const figure = document.getElementById("figure-" + id);
    const svg = figure && figure.querySelector(".plot svg");
    if (!svg) return null;
    const reader = figure.querySelector(".reader");
    reader.hidden = false;
    const over = svg.appendChild(element("g", { class: "over" }));
    return { figure, svg, over, reader, box, focus: figure.querySelector(".plot") };
  };
  function element(name, attributes) {
    const e = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, value);
    return e;
  }
  const time = place("time-strip", strip.box);
  const field = place("head-over-flow", plot.box);
  if (!time || !field) return;

  // Each bin's marks were written as distances.
  bins.marks.forEach(own => { for (let k = 1; k < own.length; k++) own[k] += own[k - 1]; });
  const count = bins.marks.length;
  // The drawn marks, in the order in which their regimes' layers hold them.
  const drawn = [];
  regimes.forEach((code, order) => {
    const layer = document.getElementById("head-flow-" + code);
    const own = marks.regime.flatMap((r, k) => (r === order ? [k] : []));
    if (layer && layer.children.length === own.length) own.forEach((k, i) => { drawn[k] = layer.children[i]; });
  });

  const scale = (v, from, to, a, b) => a + (v - from) / (to - from) * (b - a);
  const [left, top, right, bottom] = strip.box;
  const across = minute => scale(minute, strip.minutes[0], strip.minutes[1], left, right);
  const binAt = x => {
    const minute = scale(x, left, right, strip.minutes[0], strip.minutes[1]);
    let k = bins.edges.findIndex(e => e > minute) - 1;
    if (k === -2) k = count - 1;
    return Math.min(Math.max(k, 0), count - 1);
  };
  const markX = k => scale(marks.flow[k], 0, plot.flow, plot.box[0], plot.box[2]);
  const markY = k => scale(marks.head[k], 0, plot.head, plot.box[3], plot.box[1]);
  const visible = k => !hidden.has(regimes[marks.regime[k]]);

  // ---- words ----

  const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
  const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
  const first = Date.parse(data.first + "T00:00:00Z");
  const two = n => String(n).padStart(2, "0");
  const clock = m => { const t = new Date(first + m * 60000); return two(t.getUTCHours()) + ":" + two(t.getUTCMinutes()); };
  const day = m => {
    const t = new Date(first + m * 60000);
    return `${DAYS[t.getUTCDay()]} ${t.getUTCDate()} ${MONTHS[t.getUTCMonth()]} ${t.getUTCFullYear()}`;
  };
  const midnight = m => clock(m) === "00:00";
  const span = (a, b) => (b - a >= 1380 && midnight(a) && midnight(b)) ? (b - a <= 1500 ? day(a) : `${day(a)} to ${day(b - 1)}`) : `${day(a)} ${clock(a)} to ${day(a) === day(b) || (b - a <= 1440 && clock(b) === "00:00") ? "" : day(b) + " "}${clock(b)}`;
  // Three figures, thousands apart from ten thousand on, as the rest of the page writes numbers.
  const digits = v => {
    if (v === 0) return "0";
    const places = 2 - Math.floor(Math.log10(Math.abs(v)));
    const rounded = Math.round(v * 10 ** places) / 10 ** places;
    let text = rounded.toFixed(Math.max(places, 0));
    if (text.includes(".")) text = text.replace(/\.?0+$/, "");
    return text.replace("-", "−").replace(/^(−?)(\d{5,})/, (_, s, n) => s + n.replace(/\B(?=(\d{3})+$)/g, "\u202f"));
  };
  const quantity = (kind, value, low, high) => {
    if (value === null || value === undefined) return `${kind} not known`;
    const [factor, unit] = data.units[page.dataset.units][kind];
    const known = typeof low === "number" && typeof high === "number";
    const interval = known ? ` (95 %: ${digits(low * factor)} to ${digits(high * factor)})` : "";
    return `${kind} ${digits(value * factor)}\u202f${unit}${interval}`;
  };
  const regimeName = code => (code === "-" ? "not known" : data.regimes[+code][1]);
  const ofBin = k => [
    span(bins.edges[k], bins.edges[k + 1]),
    quantity("flow", bins.flow[k], bins.flow_low[k], bins.flow_high[k]),
    quantity("head", bins.head[k], bins.head_low[k], bins.head_high[k]),
    data.pumps.map((p, n) => `${p} ${regimeName(bins.regime[n][k])}`).join(", "),
  ].join("; ");
  // A mark's hours are seldom one stretch.
  const whenever = (a, b, hours) => (b - a > hours * 60 + 1 ? `${digits(hours)}\u202fh between ${day(a)} ${clock(a)} and ${day(b)} ${clock(b)}` : span(a, b));
  const ofMark = k => [
    whenever(marks.from[k], marks.to[k], marks.hours[k]),
    quantity("flow", marks.flow[k], marks.flow_low[k], marks.flow_high[k]),
    quantity("head", marks.head[k], marks.head_low[k], marks.head_high[k]),
    data.regimes[marks.regime[k]][1],
  ].join("; ");

  // ---- what is looked at, and what is selected ----

  let at = null;        // { bin } or { mark }
  let picked = null;    // { from, to } in bins, or { flow: [a, b], head: [a, b] } in data
  const say = (selector, text) => [time, field].forEach(f => {
    const p = f.reader.querySelector(selector);
    if (p.textContent !== text) p.textContent = text;
  });

  const selection = () => {
    const lit = new Set(), on = new Set();
    if (picked && "from" in picked) {
      for (let k = picked.from; k <= picked.to; k++) {
        on.add(k);
        bins.marks[k].filter(visible).forEach(m => lit.add(m));
      }
    } else if (picked) {
      const inside = (v, [a, b]) => v >= a && v <= b;
      marks.flow.forEach((q, m) => { if (visible(m) && inside(q, picked.flow) && inside(marks.head[m], picked.head)) lit.add(m); });
      bins.marks.forEach((own, k) => { if (own.some(m => lit.has(m))) on.add(k); });
    }
    return { lit, on };
  };

  const told = (lit, on) => {
    if (!picked) return "";
    const by = {};
    let hours = 0;
    lit.forEach(m => { const r = data.regimes[marks.regime[m]][1]; by[r] = (by[r] || 0) + marks.hours[m]; hours += marks.hours[m]; });
    if ("from" in picked) {
      return `Selected: ${span(bins.edges[picked.from], bins.edges[picked.to + 1])}. `
        + (lit.size ? `Its points are the ${lit.size} marks that stay dark in head over flow.` : "No point of head over flow is known in it.");
    }
    if (!lit.size) return "Selected: an area without points.";
    const parts = Object.entries(by).map(([r, h]) => `${digits(h)}\u202fh ${r}`).join(", ");
    return `Selected: ${lit.size} marks, ${digits(hours)}\u202fh (${parts}). The strip marks where they fall: ${on.size} of its ${count} stretches.`;
  };

  const draw = () => {
    const { lit, on } = selection();
    [time, field].forEach(f => {
      f.over.replaceChildren();
      f.svg.classList.toggle("picking", picked !== null);
      f.reader.querySelector("[data-do=clear]").disabled = picked === null;
    });
    drawn.forEach((e, k) => { if (e) e.classList.toggle("lit", lit.has(k)); });
    for (let k = 0; k < count; k++) {
      if (!on.has(k)) continue;
      let end = k;
      while (on.has(end + 1)) end++;
      const x = across(bins.edges[k]), width = Math.max(across(bins.edges[end + 1]) - x, 2);
      time.over.append(
        element("rect", { class: "wash", x, y: top, width, height: bottom - top }),
        element("rect", { class: "bar", x, y: top - 8, width, height: 8 }));
      k = end;
    }
    if (picked && "flow" in picked) {
      const x = picked.flow.map(q => scale(q, 0, plot.flow, plot.box[0], plot.box[2]));
      const y = picked.head.map(h => scale(h, 0, plot.head, plot.box[3], plot.box[1]));
      field.over.append(element("rect", { class: "frame", x: x[0], y: y[1], width: x[1] - x[0], height: y[0] - y[1] }));
    }
    if (at) point();
    say(".picked", told(lit, on));
  };

  // The place looked at: a line on the strip, a ring in the field; and the same moments in the other figure.
  const point = () => {
    const line = k => {
      const x = (across(bins.edges[k]) + across(bins.edges[k + 1])) / 2;
      time.over.append(element("line", { class: "at", x1: x, x2: x, y1: 6, y2: bottom }));
    };
    const ring = (x, y) => field.over.append(element("circle", { class: "at", cx: x, cy: y, r: 17 }));
    if ("bin" in at) {
      line(at.bin);
      const q = bins.flow[at.bin], h = bins.head[at.bin];
      if (q !== null && h !== null) ring(scale(q, 0, plot.flow, plot.box[0], plot.box[2]), scale(h, 0, plot.head, plot.box[3], plot.box[1]));
      say(".reading", ofBin(at.bin));
    } else {
      ring(markX(at.mark), markY(at.mark));
      bins.marks.forEach((own, k) => { if (own.includes(at.mark)) line(k); });
      say(".reading", ofMark(at.mark));
    }
  };
  refresh = () => {
    if (at && "mark" in at && !visible(at.mark)) at = null;
    draw();
  };
  const look = to => { at = to; draw(); };
  const pick = what => { picked = what; draw(); };
  const clear = () => { picked = null; anchor = null; draw(); };
  const ordered = (a, b) => (a <= b ? [a, b] : [b, a]);

  // ---- pointer ----

  const nearest = (x, y, reach) => {
    let best = null, least = reach;
    marks.flow.forEach((_, k) => {
      const d = visible(k) ? Math.hypot(markX(k) - x, markY(k) - y) : Infinity;
      if (d < least) { least = d; best = k; }
    });
    return best;
  };
  const lookAt = (f, x, y) => {
    if (f === time) return look({ bin: binAt(x) });
    const k = nearest(x, y, 40);
    if (k !== null) look({ mark: k });
  };
  const sweep = (f, a, b) => {
    if (f === time) {
      const [from, to] = ordered(binAt(a.x), binAt(b.x));
      return pick({ from, to });
    }
    const flow = v => scale(v, plot.box[0], plot.box[2], 0, plot.flow), head = v => scale(v, plot.box[3], plot.box[1], 0, plot.head);
    pick({ flow: ordered(flow(a.x), flow(b.x)), head: ordered(head(a.y), head(b.y)) });
  };
  [time, field].forEach(f => {
    let start = null, selecting = false;
    const where = e => {
      const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(f.svg.getScreenCTM().inverse());
      const [l, t, r, b] = f.box;
      return { x: Math.min(Math.max(p.x, l), r), y: Math.min(Math.max(p.y, f === time ? 0 : t), b), in: p.x >= l - 4 && p.x <= r + 4 && p.y <= b };
    };
    const mouse = e => e.pointerType !== "touch" || selecting;
    f.svg.addEventListener("pointerdown", e => {
      const p = where(e);
      if (e.button !== 0 || !p.in || !mouse(e)) return;
      e.preventDefault();
      f.focus.focus({ preventScroll: true });
      f.svg.setPointerCapture(e.pointerId);
      start = p;
    });
    f.svg.addEventListener("pointermove", e => {
      const p = where(e);
      if (start && Math.hypot(p.x - start.x, p.y - start.y) > 12) sweep(f, start, p);
      else if (!start && p.in && e.pointerType !== "touch") lookAt(f, p.x, p.y);
    });
    const end = () => { start = null; };
    f.svg.addEventListener("pointerup", end);
    f.svg.addEventListener("pointercancel", end);
    f.svg.addEventListener("click", e => { const p = where(e); if (p.in) lookAt(f, p.x, p.y); });
    f.reader.querySelector("[data-do=clear]").addEventListener("click", clear);
    f.reader.querySelector("[data-do=select]").addEventListener("click", e => {
      selecting = !selecting;
      e.target.setAttribute("aria-pressed", selecting);
      f.figure.classList.toggle("selecting", selecting);
    });
  });

  // ---- keyboard ----

  let anchor = null;
  const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const aDay = Math.max(1, Math.round(1440 / Math.max(1, bins.edges[1] - bins.edges[0])));
  const alongStrip = e => {
    const here = at && "bin" in at ? at.bin : 0;
    const to = { ArrowLeft: here - 1, ArrowRight: here + 1, PageUp: here - aDay, PageDown: here + aDay, Home: 0, End: count - 1 }[e.key];
    if (to === undefined) return false;
    const bin = Math.min(Math.max(to, 0), count - 1);
    if (e.shiftKey && (anchor === null || !("bin" in anchor))) anchor = { bin: here };
    if (!e.shiftKey) anchor = null;
    at = { bin };
    if (anchor) { const [from, span] = ordered(anchor.bin, bin); pick({ from, to: span }); } else draw();
    return true;
  };
  const alongField = e => {
    const step = steps[e.key];
    if (!step) return false;
    const here = at && "mark" in at ? at.mark : null;
    let best = here, least = Infinity;
    if (here === null) best = nearest(plot.box[0], plot.box[3], Infinity);
    else marks.flow.forEach((_, k) => {
      const dx = markX(k) - markX(here), dy = markY(k) - markY(here);
      const ahead = dx * step[0] + dy * step[1], aside = Math.abs(dx * step[1]) + Math.abs(dy * step[0]);
      const cost = ahead + 2 * aside;
      if (k !== here && visible(k) && ahead > 0.5 && cost < least) { least = cost; best = k; }
    });
    if (best === null) return true;
    if (e.shiftKey && (anchor === null || !("mark" in anchor))) anchor = { mark: here === null ? best : here };
    if (!e.shiftKey) anchor = null;
    at = { mark: best };
    if (anchor) {
      const wide = plot.flow / 200, high = plot.head / 200;
      const [q0, q1] = ordered(marks.flow[anchor.mark], marks.flow[best]), [h0, h1] = ordered(marks.head[anchor.mark], marks.head[best]);
      pick({ flow: [q0 - wide, q1 + wide], head: [h0 - high, h1 + high] });
    } else draw();
    return true;
  };
  [[time, alongStrip, "Time strip"], [field, alongField, "Head over flow"]].forEach(([f, along, name]) => {
    f.focus.tabIndex = 0;
    f.focus.setAttribute("role", "application");
    f.focus.setAttribute("aria-label", `${name}: arrow keys read it point by point, with Shift they select, Escape clears the selection`);
    f.focus.addEventListener("keydown", e => { if (along(e)) e.preventDefault(); });
  });
  document.addEventListener("keydown", e => { if (e.key === "Escape" && picked) clear(); });
})();
