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

  const link = (box, other) => {
    const show = (detail) => other.dispatchEvent(new CustomEvent("shown-elsewhere", { detail }));
    box.on("plotly_hover", (event) => {
      const point = event.points && event.points.find((item) => item.customdata);
      if (point) show(where(other, point.customdata));
    });
    box.on("plotly_unhover", () => show(null));
    box.addEventListener("shown-by-key", ({ detail }) => {
      const known = detail && (box.data[detail.curveNumber].customdata || [])[detail.pointNumber];
      show(known ? where(other, known) : null);
    });
  };

  const start = () => {
    if (document.documentElement.dataset.linked || !boxes.every((box) => typeof box.on === "function")) return;
    link(boxes[0], boxes[1]);
    link(boxes[1], boxes[0]);
    document.documentElement.dataset.linked = "yes";
  };
  document.addEventListener("figure-drawn", start);
})();
