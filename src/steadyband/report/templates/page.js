(() => {
  "use strict";
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const colours = read("colours");
  const config = read("config");
  const darkness = window.matchMedia("(prefers-color-scheme: dark)");
  const plots = [...document.querySelectorAll("script[data-plot]")].map((script) => ({
    box: document.getElementById(script.dataset.plot),
    spec: JSON.parse(script.textContent),
    drawn: false,
  }));
  const PRINTED_WIDTH = 680;
  const PRINTED_RIBBON = 372;
  const PRINTED_HEIGHT = 262;

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
    const palette = darkness.matches && !onPaper ? colours.dark : colours.light;
    const { data, layout } = painted(plot.spec, palette);
    if (onPaper) {
      layout.width = plot.box.closest(".ribbons") ? PRINTED_RIBBON : PRINTED_WIDTH;
      layout.height = plot.box.closest(".session") ? Math.min(PRINTED_HEIGHT, layout.height) : layout.height;
    }
    plot.box.style.height = `${layout.height}px`;
    const drawing = window.Plotly.react(plot.box, data, layout, config);
    if (!plot.drawn) {
      plot.drawn = true;
      plot.box.on("plotly_hover", showTip);
      plot.box.on("plotly_unhover", hideTip);
    }
    return drawing;
  };

  const tip = document.createElement("div");
  tip.className = "tip";
  tip.hidden = true;
  tip.setAttribute("aria-hidden", "true");
  document.body.append(tip);
  const hideTip = () => { tip.hidden = true; };
  const showTip = (hovered) => {
    const point = hovered.points.find((item) => item.data.hoverinfo === "none" && item.hovertext);
    if (!point || !hovered.event) return hideTip();
    tip.textContent = point.hovertext;
    tip.hidden = false;
    const { clientX, clientY } = hovered.event;
    const left = Math.min(clientX + 14, window.innerWidth - tip.offsetWidth - 8);
    const above = clientY - tip.offsetHeight - 12;
    tip.style.left = `${Math.max(8, left)}px`;
    tip.style.top = `${above > 4 ? above : clientY + 18}px`;
    return undefined;
  };
  window.addEventListener("scroll", hideTip, { passive: true });

  const drawNext = () => {
    const next = plots.find((plot) => !plot.drawn);
    if (!next) {
      document.documentElement.dataset.drawn = "all";
      return;
    }
    draw(next, false);
    window.setTimeout(drawNext, 0);
  };

  const opened = [];
  window.addEventListener("beforeprint", () => {
    for (const part of document.querySelectorAll("details[data-print]:not([open])")) {
      part.open = true;
      opened.push(part);
    }
    plots.forEach((plot) => draw(plot, true));
  });
  window.addEventListener("afterprint", () => {
    opened.splice(0).forEach((part) => { part.open = false; });
    plots.forEach((plot) => draw(plot, false).then(() => window.Plotly.Plots.resize(plot.box)));
  });
  darkness.addEventListener("change", () => plots.forEach((plot) => draw(plot, false)));

  const openTarget = () => {
    const target = document.getElementById(decodeURIComponent(window.location.hash.slice(1)));
    const around = target && target.closest("details");
    if (around) around.open = true;
  };
  window.addEventListener("hashchange", openTarget);
  openTarget();
  plots.filter((plot) => plot.box.closest(".ribbons")).forEach((plot) => draw(plot, false));
  drawNext();
})();
