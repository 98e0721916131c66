(() => {
  "use strict";
  const boxes = ["profile", "plan"].map((id) => document.getElementById(id)).filter(Boolean);
  if (boxes.length < 2) return;

  const where = (box, [kind, key]) => {
    let found = null;
    let nearest = Infinity;
    (box.data || []).forEach((trace, curveNumber) => {
      (trace.customdata || []).forEach((item, pointNumber) => {
        if (!item || item[0] !== kind || item[1] === null) return;
        const away = kind === "s" ? (item[1] === key ? 0 : Infinity) : Math.abs(item[1] - key);
        if (away < nearest) {
          nearest = away;
          found = { curveNumber, pointNumber };
        }
      });
    });
    return nearest < 400 ? found : null;
  };

  let busy = false;
  const link = (box, other) => {
    box.on("plotly_hover", (event) => {
      const point = event.points && event.points.find((item) => item.customdata);
      if (busy || !point) return;
      busy = true;
      const place = where(other, point.customdata);
      if (place) window.Plotly.Fx.hover(other, [place]);
      else window.Plotly.Fx.unhover(other);
      busy = false;
    });
    box.on("plotly_unhover", () => {
      if (busy) return;
      busy = true;
      window.Plotly.Fx.unhover(other);
      busy = false;
    });
  };

  const start = () => {
    if (!boxes.every((box) => typeof box.on === "function")) {
      window.requestAnimationFrame(start);
      return;
    }
    link(boxes[0], boxes[1]);
    link(boxes[1], boxes[0]);
    document.documentElement.dataset.linked = "yes";
  };
  start();
})();
