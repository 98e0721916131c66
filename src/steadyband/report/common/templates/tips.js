(() => {
  "use strict";
  const GAP = 8;
  const LEAVE_MS = 250;
  const STEPS = 60;
  const TICKS_END = 15;
  const TICK_REACH = 7;
  const tips = new Map();

  const said = document.createElement("p");
  said.className = "unseen";
  said.setAttribute("role", "status");
  document.querySelector("main").append(said);

  const make = (box) => {
    const card = document.createElement("div");
    card.className = "tip";
    card.hidden = true;
    card.setAttribute("aria-hidden", "true");
    const ring = document.createElement("i");
    ring.className = "here";
    ring.hidden = true;
    ring.setAttribute("aria-hidden", "true");
    document.body.append(card, ring);
    const tip = { box, card, ring, at: null, far: 0, held: false, byKey: false, leaving: 0, coming: 0 };
    card.addEventListener("pointerenter", () => {
      tip.held = true;
      window.clearTimeout(tip.leaving);
      window.clearTimeout(tip.coming);
    });
    card.addEventListener("pointerleave", () => {
      tip.held = false;
      leave(tip);
    });
    tips.set(box, tip);
    return tip;
  };
  const tipOf = (box) => tips.get(box) || make(box);

  const hide = (tip) => {
    window.clearTimeout(tip.leaving);
    window.clearTimeout(tip.coming);
    tip.card.hidden = true;
    tip.ring.hidden = true;
    tip.held = false;
  };
  const leave = (tip) => {
    window.clearTimeout(tip.leaving);
    window.clearTimeout(tip.coming);
    tip.leaving = window.setTimeout(() => { if (!tip.held) hide(tip); }, LEAVE_MS);
  };

  const place = (tip) => {
    const { left, top } = tip.box.getBoundingClientRect();
    const { offsetWidth, offsetHeight } = tip.card;
    const wanted = left + tip.at.x - 24;
    const above = top + tip.at.top - offsetHeight - GAP;
    tip.card.style.left = `${Math.max(8, Math.min(wanted, document.documentElement.clientWidth - offsetWidth - 8))}px`;
    tip.card.style.top = `${above > 4 ? above : top + tip.at.bottom + GAP}px`;
    tip.ring.hidden = !tip.at.ringed;
    tip.ring.style.left = `${left + tip.at.x}px`;
    tip.ring.style.top = `${top + (tip.at.top + tip.at.bottom) / 2}px`;
  };
  const put = (tip, text, at, byKey) => {
    window.clearTimeout(tip.leaving);
    window.clearTimeout(tip.coming);
    Object.assign(tip, { at, byKey });
    tip.card.textContent = text;
    tip.card.hidden = false;
    place(tip);
    if (byKey) said.textContent = text;
  };

  const away = (tip, { clientX, clientY }) => {
    const { left, right, top, bottom } = tip.card.getBoundingClientRect();
    return Math.hypot(Math.max(left - clientX, 0, clientX - right), Math.max(top - clientY, 0, clientY - bottom));
  };
  const point = (box, text, event) => {
    const tip = tipOf(box);
    if (!text) return leave(tip);
    const shown = !tip.card.hidden;
    const far = shown ? away(tip, event) : Infinity;
    const nearer = shown && far < tip.far;
    tip.far = far;
    window.clearTimeout(tip.leaving);
    if (shown && tip.card.textContent === text) return window.clearTimeout(tip.coming);
    const { left, top } = box.getBoundingClientRect();
    const at = { x: event.clientX - left, top: event.clientY - top - 2, bottom: event.clientY - top + 12 };
    const come = () => {
      put(tip, text, at, false);
      tip.far = away(tip, event);
    };
    window.clearTimeout(tip.coming);
    if (nearer) tip.coming = window.setTimeout(come, LEAVE_MS);
    else come();
    return undefined;
  };

  const plain = (text) => String(text).replace(/<br>/g, "\n").replace(/<\/?b>/g, "");
  const written = (value, form) => {
    const found = /^(\+?)\.(\d)f$/.exec(form || "");
    if (!found || typeof value !== "number") return value;
    const text = Math.abs(value).toFixed(Number(found[2]));
    return `${value < 0 ? "−" : found[1]}${text}`;
  };
  const one = (values, number) => (Array.isArray(values) || ArrayBuffer.isView(values) ? values[number] : values);
  const told = (trace, number) => {
    const missing = (name) => ["x", "y"].includes(name) && (one(trace[name], number) ?? null) === null;
    if (trace.hoverinfo === "skip" || !trace.meta || missing("x") || missing("y")) return "";
    const [body, extra] = trace.meta.split("<extra>");
    const filled = body.replace(/%\{(\w+)(?::([^}]*))?\}/g, (_, name, form) => written(one(trace[name], number), form) ?? "");
    const name = (extra || "").replace("</extra>", "");
    return plain(name ? `${name}\n${filled}` : filled);
  };
  const clock = (seconds) => {
    const two = (value) => String(value).padStart(2, "0");
    return `${Math.floor(seconds / 3600)}:${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)} from the start`;
  };
  const shared = (box) => String(box.layout.hovermode).startsWith("x");
  const across = (box, x) => {
    const lines = box.data.map((trace) => {
      if (trace.hoverinfo === "skip" || !trace.meta) return "";
      let nearest = 0;
      trace.x.forEach((value, number) => { if (Math.abs(value - x) < Math.abs(trace.x[nearest] - x)) nearest = number; });
      return told(trace, nearest);
    });
    return [clock(Math.round((x - box.layout.meta.zero) / 1000)), ...lines.filter(Boolean)].join("\n");
  };
  const textOf = (box, { curveNumber, pointNumber }) => {
    const trace = box.data[curveNumber];
    return shared(box) ? across(box, one(trace.x, pointNumber)) : told(trace, pointNumber);
  };

  const itemsOf = (box) => {
    const byPlace = box.layout.xaxis.visible !== false;
    const order = (trace, number, curve) => !byPlace ? [curve, number] : [
      trace.type === "bar" ? one(trace.y, number) : 0,
      trace.type === "bar" ? 0 : typeof one(trace.x, number) === "string" ? Date.parse(one(trace.x, number)) : one(trace.x, number),
    ];
    const lengths = box.data.map((trace) => (trace.hoverinfo === "skip" || !trace.meta ? 0 : trace.x.length));
    const only = shared(box) ? lengths.indexOf(Math.max(...lengths)) : -1;
    const found = [];
    box.data.forEach((trace, curveNumber) => {
      if (only >= 0 && curveNumber !== only) return;
      for (let pointNumber = 0; pointNumber < lengths[curveNumber]; pointNumber += 1) {
        if (told(trace, pointNumber)) found.push({ curveNumber, pointNumber, order: order(trace, pointNumber, curveNumber) });
      }
    });
    if (only >= 0 || found.length > 4 * STEPS) {
      const every = Math.max(1, Math.floor(found.length / STEPS));
      const kept = found.filter((item, number) => number % every === 0 || box.data[item.curveNumber].mode === "markers");
      found.splice(0, found.length, ...kept);
    }
    return found.sort((a, b) => a.order[0] - b.order[0] || a.order[1] - b.order[1]);
  };

  const walk = (box, read) => {
    let items = null;
    let now = 0;
    const show = () => {
      items = items || read.items();
      if (items.length) read.show(items[now]);
    };
    const go = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1, PageDown: 10, PageUp: -10, Home: -Infinity, End: Infinity };
    box.addEventListener("keydown", (event) => {
      if (!(event.key in go) || event.altKey || event.ctrlKey || event.metaKey || !read.ready()) return;
      event.preventDefault();
      items = items || read.items();
      now = Math.max(0, Math.min(items.length - 1, now + go[event.key]));
      show();
    });
    box.addEventListener("focus", () => { if (box.matches(":focus-visible") && read.ready()) show(); });
    box.addEventListener("blur", () => {
      hide(tipOf(box));
      if (read.leave) read.leave();
    });
    return show;
  };

  const axisOf = (box, trace, letter) => {
    const name = trace[`${letter}axis`] || letter;
    return box._fullLayout[`${letter}axis${name.slice(1)}`];
  };
  const begun = (box, curveNumber, pointNumber) => {
    const { base, y } = box.data[curveNumber];
    if (base) return one(base, pointNumber);
    const before = box.data.slice(0, curveNumber).filter((trace) => trace.type === "bar");
    return before.reduce((sum, trace) => sum + (trace.x[trace.y.indexOf(y[pointNumber])] || 0), 0);
  };
  const spot = (box, { curveNumber, pointNumber }) => {
    const trace = box.data[curveNumber];
    const value = one(trace.x, pointNumber);
    const middle = trace.type === "bar" ? begun(box, curveNumber, pointNumber) + value / 2 : value;
    const across = axisOf(box, trace, "x");
    const up = axisOf(box, trace, "y");
    const y = up._offset + up.d2p(one(trace.y, pointNumber));
    return { x: across._offset + across.d2p(middle), top: y - 8, bottom: y + 8, ringed: true };
  };
  const byPointer = (event) => Boolean(event) && Number.isFinite(event.clientX);
  const figure = (box) => {
    const show = (place, byKey) => put(tipOf(box), textOf(box, place), spot(box, place), byKey);
    box.on("plotly_hover", ({ points, event }) => {
      const found = points.find((item) => item.data.hoverinfo === "none");
      if (byPointer(event)) point(box, found ? textOf(box, found) : "", event);
    });
    box.on("plotly_unhover", () => leave(tipOf(box)));
    box.addEventListener("shown-elsewhere", ({ detail }) => (detail ? show(detail, false) : hide(tipOf(box))));
    const pass = (detail) => box.dispatchEvent(new CustomEvent("shown-by-key", { detail }));
    return {
      items: () => itemsOf(box),
      show: (place) => {
        show(place, true);
        pass(place);
      },
      leave: () => pass(null),
    };
  };

  document.querySelectorAll(".plot").forEach((box) => {
    let read = null;
    const show = walk(box, {
      ready: () => read !== null,
      items: () => read.items(),
      show: (item) => read.show(item),
      leave: () => read && read.leave(),
    });
    document.addEventListener("figure-drawn", ({ detail }) => {
      if (detail !== box.id || read) return;
      read = figure(box);
      if (document.activeElement === box && box.matches(":focus-visible")) show();
    });
  });

  document.querySelectorAll("script[data-ribbon]").forEach((script) => {
    const box = document.getElementById(script.dataset.ribbon);
    let known = null;
    const data = () => (known = known || JSON.parse(script.textContent));
    const text = (x, y, width) => {
      const { length, starts, ends, texts, ticks, surges } = data();
      const second = (x / width) * length;
      if (y > TICKS_END) {
        const piece = starts.findIndex((start, number) => start <= second && second < ends[number]);
        return piece < 0 ? "" : texts[piece];
      }
      const reach = (TICK_REACH / width) * length;
      const nearest = ticks.reduce((best, tick, number) => (Math.abs(tick - second) < Math.abs(ticks[best] - second) ? number : best), 0);
      return ticks.length && Math.abs(ticks[nearest] - second) < reach ? surges[nearest] : "";
    };
    const tell = (event) => {
      const { left, top, width } = box.getBoundingClientRect();
      point(box, text(event.clientX - left, event.clientY - top, width), event);
    };
    box.addEventListener("pointermove", tell);
    box.addEventListener("pointerdown", tell);
    box.addEventListener("pointerleave", () => leave(tipOf(box)));
    walk(box, {
      ready: () => true,
      items: () => {
        const { starts, ends, texts, ticks, surges } = data();
        const pieces = starts.map((start, number) => ({ second: (start + ends[number]) / 2, from: start, text: texts[number], top: TICKS_END }));
        return [...pieces, ...ticks.map((tick, number) => ({ second: tick, from: tick, text: surges[number], top: 4 }))].sort((a, b) => a.from - b.from);
      },
      show: (item) => {
        const { width, height } = box.getBoundingClientRect();
        put(tipOf(box), item.text, { x: (item.second / data().length) * width, top: item.top, bottom: height }, true);
      },
    });
  });

  document.querySelectorAll("[data-tip]").forEach((box) => {
    const show = (byKey) => {
      const { width, height } = box.getBoundingClientRect();
      put(tipOf(box), box.dataset.tip, { x: Math.min(width / 2, 24), top: 0, bottom: height }, byKey);
      said.textContent = "";
    };
    box.addEventListener("pointerenter", () => show(false));
    box.addEventListener("pointerleave", () => leave(tipOf(box)));
    box.addEventListener("focus", () => { if (box.matches(":focus-visible")) show(true); });
    box.addEventListener("blur", () => hide(tipOf(box)));
  });

  document.addEventListener("keydown", ({ key }) => { if (key === "Escape") tips.forEach(hide); });
  window.addEventListener("scroll", () => tips.forEach((tip) => {
    if (tip.card.hidden) return;
    if (tip.byKey) place(tip);
    else if (!tip.held) hide(tip);
  }), { passive: true, capture: true });

  const scrolls = () => document.querySelectorAll(".table, .scroll").forEach((box) => {
    if (box.scrollWidth > box.clientWidth) box.tabIndex = 0;
    else box.removeAttribute("tabindex");
  });
  document.addEventListener("toggle", scrolls, true);
  window.addEventListener("resize", scrolls);
  scrolls();
})();
