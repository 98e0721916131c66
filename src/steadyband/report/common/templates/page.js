(() => {
  "use strict";
  const root = document.documentElement;
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const colours = read("colours");
  const config = read("config");
  const darkness = window.matchMedia("(prefers-color-scheme: dark)");
  const plots = [...document.querySelectorAll("script[data-plot]")].map((script) => ({
    id: script.dataset.plot,
    box: document.getElementById(script.dataset.plot),
    text: script.textContent,
    spec: null,
    near: false,
    drawn: false,
  }));
  const PRINTED_WIDTH = 680;
  const PRINTED_HEIGHT = 205;
  const TALLEST_PRINTED = 300;
  const NEAR = "300px 0px";

  const spelt = ({ first, by, steps }) => {
    const row = [first];
    for (const step of steps) row.push(row[row.length - 1] + step * by);
    return row;
  };
  const unpacked = (spec) => {
    spec.data.filter(({ x }) => x && x.steps).forEach((trace) => { trace.x = spelt(trace.x); });
    return spec;
  };
  const painted = (value, palette) => {
    if (typeof value === "string") {
      const found = /^var\(--([a-z]+)\)$/.exec(value);
      return found ? palette[found[1]] : value;
    }
    if (Array.isArray(value)) return value.map((item) => painted(item, palette));
    if (value !== null && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([key, item]) => [key, painted(item, palette)]));
    }
    return value;
  };

  const draw = (plot, onPaper) => {
    plot.spec = plot.spec || unpacked(JSON.parse(plot.text));
    const palette = darkness.matches && !onPaper ? colours.dark : colours.light;
    const { data, layout } = painted(plot.spec, palette);
    if (onPaper) {
      layout.width = PRINTED_WIDTH;
      layout.height = Math.min(plot.box.closest(".session") ? PRINTED_HEIGHT : TALLEST_PRINTED, layout.height);
    }
    plot.box.style.height = `${layout.height}px`;
    const drawing = window.Plotly.react(plot.box, data, layout, config);
    const tester = document.getElementById("js-plotly-tester");
    if (tester) tester.setAttribute("aria-hidden", "true");
    if (!plot.drawn) {
      plot.drawn = true;
      document.dispatchEvent(new CustomEvent("figure-drawn", { detail: plot.id }));
    }
    return drawing;
  };

  const held = document.getElementById("plotly");
  const waiting = [];
  let asked = false;
  const ready = () => waiting.splice(0).forEach((one) => one());
  const fail = () => {
    root.dataset.drawn = "none";
    document.querySelectorAll(".plot + details").forEach((part) => { part.open = true; });
  };
  const run = (text) => {
    if (window.Plotly) return;
    const script = document.createElement("script");
    script.textContent = text;
    document.head.append(script);
    if (window.Plotly) ready();
    else fail();
  };
  const packed = () => {
    const text = window.atob(held.textContent);
    const bytes = new Uint8Array(text.length);
    for (let at = 0; at < text.length; at += 1) bytes[at] = text.charCodeAt(at);
    return bytes;
  };
  const unpackNow = () => {
    if (window.Plotly) return;
    try {
      run(new TextDecoder().decode(window.fflate.gunzipSync(packed())));
    } catch {
      fail();
    }
  };
  const unpackBeside = async () => {
    let text;
    try {
      text = await new Response(new Blob([packed()]).stream().pipeThrough(new window.DecompressionStream("gzip"))).text();
    } catch {
      unpackNow();
      return;
    }
    run(text);
  };
  const load = () => {
    const script = document.createElement("script");
    script.src = held.dataset.href;
    if (window.location.protocol !== "file:") script.integrity = held.dataset.integrity;
    script.addEventListener("load", ready);
    script.addEventListener("error", fail);
    document.head.append(script);
  };
  const withPlotly = (then) => {
    if (window.Plotly) {
      then();
      return;
    }
    waiting.push(then);
    if (asked) return;
    asked = true;
    if (held.dataset.href) load();
    else unpackBeside();
  };

  const whenIdle = window.requestIdleCallback || ((then) => window.setTimeout(then, 60));
  const shown = ({ box }) => !box.closest("details:not([open])");
  const undrawn = (plot) => !plot.drawn && shown(plot);
  let going = false;
  const drawNext = () => {
    const next = plots.find((plot) => plot.near && undrawn(plot)) || plots.find(undrawn);
    if (!next) {
      going = false;
      root.dataset.drawn = "all";
      return;
    }
    draw(next, false);
    if (plots.some((plot) => plot.near && undrawn(plot))) window.setTimeout(drawNext, 0);
    else whenIdle(drawNext);
  };
  const drawAll = () => {
    if (going || !plots.some(undrawn)) return;
    going = true;
    withPlotly(drawNext);
  };
  document.addEventListener("toggle", ({ target }) => {
    if (!target.open) return;
    const inside = plots.filter(({ box }) => target.contains(box));
    if (inside.some(undrawn)) {
      delete root.dataset.drawn;
      drawAll();
    }
    inside.filter((plot) => plot.drawn && shown(plot)).forEach((plot) => window.Plotly.Plots.resize(plot.box));
  }, true);

  const opened = [];
  const unfold = () => {
    for (const part of document.querySelectorAll("details[data-print]:not([open])")) {
      part.open = true;
      opened.push(part);
    }
  };
  window.addEventListener("beforeprint", () => {
    unfold();
    if (!plots.length) return;
    if (!plots.some(shown)) return;
    if (!held.dataset.href) unpackNow();
    if (window.Plotly) plots.filter(shown).forEach((plot) => draw(plot, true));
    root.dataset.printed = window.Plotly ? "whole" : "early";
  });
  window.addEventListener("afterprint", () => {
    opened.splice(0).forEach((part) => { part.open = false; });
    plots.filter((plot) => plot.drawn && shown(plot)).forEach((plot) => {
      draw(plot, false).then(() => window.Plotly.Plots.resize(plot.box));
    });
  });
  darkness.addEventListener("change", () => plots.filter((plot) => plot.drawn).forEach((plot) => {
    if (shown(plot)) draw(plot, false);
    else plot.drawn = false;
  }));

  const openTarget = () => {
    const target = document.getElementById(decodeURIComponent(window.location.hash.slice(1)));
    const around = target && target.closest("details");
    if (around && !around.open) {
      around.open = true;
      target.scrollIntoView();
    }
  };
  window.addEventListener("hashchange", openTarget);
  document.addEventListener("click", ({ target }) => {
    const link = target.closest("a[href^='#']");
    if (link && link.hash === window.location.hash) openTarget();
  });
  openTarget();

  if (!plots.some(shown)) root.dataset.drawn = "all";
  const observer = new IntersectionObserver((seen) => {
    for (const { target, isIntersecting } of seen) {
      const plot = plots.find((one) => one.box === target);
      plot.near = isIntersecting;
      if (isIntersecting) window.setTimeout(drawAll, 0);
    }
  }, { rootMargin: NEAR });
  document.addEventListener("DOMContentLoaded", () => plots.forEach((plot) => observer.observe(plot.box)));
  window.addEventListener("load", () => whenIdle(drawAll));
})();
