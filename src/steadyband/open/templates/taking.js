(() => {
  "use strict";
  const room = document.getElementById("taking");
  if (!room) return;
  const part = (id) => document.getElementById(id);
  const { at, back } = room.dataset;
  const WARN_S = 30;
  let state = null;
  let ahead = 0;
  let told = "";
  let sounds = null;

  const clock = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
  const cell = (tag, text) => { const made = document.createElement(tag); made.textContent = text; return made; };
  const beep = (times) => {
    if (!sounds || !part("sound").checked) return;
    for (let number = 0; number < times; number += 1) {
      const tone = sounds.createOscillator();
      const loud = sounds.createGain();
      loud.gain.value = 0.3;
      tone.frequency.value = 880;
      tone.connect(loud).connect(sounds.destination);
      tone.start(sounds.currentTime + number * 0.4);
      tone.stop(sounds.currentTime + number * 0.4 + 0.22);
    }
  };
  const once = (mark, times) => {
    if (told === mark) return;
    told = mark;
    beep(times);
  };
  const tick = () => {
    if (!state || !state.live || state.began_s === null) {
      part("clock").textContent = "";
      part("due").textContent = state && !state.question && state.live ? `Step 1 is ${state.next}.` : "";
      room.classList.remove("soon", "now");
      return;
    }
    const gone = Math.max(0, Date.now() / 1000 + ahead - state.began_s);
    const [due] = state.due;
    const until = 60 * (due === undefined ? state.minutes : due) - gone;
    const what = due === undefined ? `the next step, ${state.next}` : "the next sample";
    part("clock").textContent = clock(gone);
    part("due").textContent = until > 0 ? `of ${clock(60 * state.minutes)}; ${what} in ${clock(until)}` : `of ${clock(60 * state.minutes)}; ${what} is due now`;
    room.classList.toggle("soon", until > 0 && until <= WARN_S);
    room.classList.toggle("now", until <= 0);
    const mark = `${state.began_s} ${due}`;
    if (until <= 0) once(`${mark} now`, 3);
    else if (until <= WARN_S) once(`${mark} soon`, 1);
  };
  const show = (found) => {
    const asked = state && state.question ? state.question.text : "";
    state = found;
    ahead = found.now_s - Date.now() / 1000;
    part("title").textContent = found.title;
    const said = part("said");
    if (said.dataset.count !== `${found.count} ${found.remarks.length} ${found.remarks.map((one) => one.text).join("")}`) {
      said.dataset.count = `${found.count} ${found.remarks.length} ${found.remarks.map((one) => one.text).join("")}`;
      said.replaceChildren(...found.remarks.map((one) => { const made = cell("p", one.text); made.className = one.tone; return made; }));
    }
    const line = part("line");
    if (found.question) {
      part("asked").textContent = found.question.text;
      if (asked !== found.question.text) line.value = found.question.default;
      line.inputMode = /^[0-9.,]*$/.test(found.question.default) && !/name/.test(found.question.text) ? "decimal" : "text";
    } else {
      part("asked").textContent = found.baseline ? "A sample, a heart rate, or any line" : "Baseline, mmol/L";
      if (asked) line.value = "";
      line.inputMode = "decimal";
    }
    part("next").textContent = `The next step begins: ${found.next || ""}`;
    part("next").hidden = Boolean(found.question) || !found.baseline;
    for (const button of part("orders").querySelectorAll("[data-line=undo], [data-line=finish]")) button.hidden = Boolean(found.question) && button.dataset.line !== "undo";
    part("rows").replaceChildren(...found.rows.map((row) => {
      const made = document.createElement("tr");
      made.append(...row.map((text, at_) => cell(at_ ? "td" : "th", text)));
      made.firstChild.scope = "row";
      return made;
    }));
    if (part("curve").dataset.count !== String(found.count)) {
      part("curve").dataset.count = String(found.count);
      part("curve").innerHTML = found.curve;
      part("edges").replaceChildren(...found.edges.map((text) => cell("p", text)));
    }
    if (found.finished || found.left) { window.location.assign(back); return; }
    tick();
  };
  const fail = (text) => { const made = cell("p", text); made.className = "warn"; part("said").dataset.count = ""; part("said").replaceChildren(made); };
  const ask = async (body) => {
    try {
      const answer = await fetch(at, body === undefined ? {} : { method: "POST", body: new URLSearchParams({ line: body }) });
      if (answer.headers.get("content-type") !== "application/json") {
        fail(answer.status === 403 ? await answer.text() : "This test cannot be entered here now: it is finished, or open in another window.");
        return false;
      }
      const found = await answer.json();
      if (found.fault) { fail(found.fault); return false; }
      show(found);
      return true;
    } catch (fault) {
      fail("steadyband does not answer. Start it again (steadyband open): every entry that was answered is kept. Type this one again then.");
      return false;
    }
  };
  // Where fingers point, a focus would bring up the screen's own keyboard over the keys of the page.
  const focus = () => { if (window.matchMedia("(pointer: fine)").matches) part("line").focus({ preventScroll: true }); };
  const send = async (text) => {
    part("ok").disabled = true;
    if (await ask(text)) { if (!state.question) part("line").value = ""; }
    part("ok").disabled = false;
    focus();
  };
  part("entry").addEventListener("submit", (event) => { event.preventDefault(); send(part("line").value); });
  part("pad").addEventListener("click", (event) => {
    const key = event.target.dataset.key;
    if (!key) return;
    const line = part("line");
    line.value = key === "back" ? line.value.slice(0, -1) : line.value + key;
  });
  part("orders").addEventListener("click", (event) => {
    const { line } = event.target.dataset;
    if (!line) return;
    if (line === "finish" && !window.confirm("Finish the test and write its file? It can be mended afterwards.")) return;
    send(line);
  });
  part("sound").addEventListener("change", () => { sounds = sounds || new window.AudioContext(); beep(1); });
  setInterval(tick, 250);
  setInterval(() => { if (state && !document.hidden) ask(); }, 3000);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) ask(); });
  ask().then(focus);
})();
