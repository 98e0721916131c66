(() => {
  "use strict";
  const desk = document.querySelector(".desk[data-at]");
  if (!desk) return;
  const { at } = desk.dataset;
  const part = (id) => document.getElementById(id);
  const zone = document.querySelector("[data-zone]");
  if (zone) zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
  if (!at) return;
  const here = part("zone-here");
  if (here) {
    const field = document.querySelector("[name=time_zone]");
    const mine = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
    here.hidden = !mine || mine === field.value;
    here.textContent = `take ${mine}`;
    here.addEventListener("click", () => { field.value = mine; here.hidden = true; });
  }

  const dropped = part("drop");
  const queue = [];
  const count = { kept: 0, copy: 0, test: 0, refused: 0 };
  let total = 0;
  let under = null;
  let stopped = false;

  const PLURAL = { kept: ["kept", "kept"], test: ["step test kept", "step tests kept"], copy: ["copy left out", "copies left out"], refused: ["not kept", "not kept"] };
  const told = () => Object.entries(count).filter(([, number]) => number)
    .map(([kind, number]) => `${number} ${PLURAL[kind][number === 1 ? 0 : 1]}`).join(", ");
  const done = () => Object.values(count).reduce((sum, number) => sum + number, 0);
  const show = (share) => {
    part("coming").hidden = false;
    const state = stopped ? "Stopped after" : done() < total ? "Taking in" : "Took in";
    part("coming-words").textContent = `${state} ${done()} of ${total}${told() ? `: ${told()}` : ""}`;
    part("coming-bar").max = total;
    part("coming-bar").value = done() + (share || 0);
  };
  const line = (text) => {
    const item = document.createElement("li");
    item.textContent = text;
    part("coming-list").append(item);
  };
  const send = (file) => new Promise((settle) => {
    under = new XMLHttpRequest();
    under.open("POST", `${at}arrive`);
    under.responseType = "json";
    under.setRequestHeader("X-Name", encodeURIComponent(file.name).slice(0, 600));
    under.upload.onprogress = (event) => { if (event.lengthComputable) show(event.loaded / event.total); };
    under.onload = () => settle(under.response || { kind: "refused", text: `the server answered ${under.status}.` });
    under.onerror = () => settle({ kind: "refused", text: "it did not get through. Give it again." });
    under.onabort = () => settle(null);
    under.send(file);
  });
  const work = async () => {
    while (queue.length && !stopped) {
      const file = queue.shift();
      const answer = await send(file);
      if (!answer) break;
      count[answer.kind] = (count[answer.kind] || 0) + 1;
      if (answer.kind !== "kept") line(`${file.name}: ${answer.text}`);
      show();
    }
    under = null;
    part("coming-stop").hidden = true;
    show();
    if (count.kept || count.test) poll();
  };
  const take = (files) => {
    if (!files.length) return;
    const idle = !under;
    stopped = false;
    total += files.length;
    queue.push(...files);
    part("coming-stop").hidden = false;
    show();
    if (idle) work();
  };
  const walk = async (entry, found) => {
    if (entry.isFile) {
      found.push(await new Promise((settle, fail) => { entry.file(settle, fail); }));
      return;
    }
    const reader = entry.createReader();
    for (;;) {
      const some = await new Promise((settle, fail) => { reader.readEntries(settle, fail); });
      if (!some.length) return;
      for (const one of some) if (!one.name.startsWith(".")) await walk(one, found);
    }
  };
  const poll = async () => {
    let state = null;
    try {
      state = await (await fetch(`${at}state`, { credentials: "same-origin" })).json();
    } catch (fault) {
      return;
    }
    const reading = part("desk-reading");
    if (reading) {
      reading.hidden = !state.busy;
      part("desk-reading-words").textContent = state.total ? `Reading ${state.done} of ${state.total}` : "Reading the recordings";
      if (state.total) { part("desk-reading-bar").max = state.total; part("desk-reading-bar").value = state.done; }
    }
    if (state.busy) { setTimeout(poll, 700); return; }
    if (reading && (state.ended || state.version !== Number(desk.dataset.version)) && !under) {
      if (count.refused) part("desk-changed").hidden = false;
      else window.location.reload();
    } else if (state.version > Number(desk.dataset.version)) part("desk-changed").hidden = false;
  };

  if (dropped) {
    const over = (on) => (event) => { event.preventDefault(); dropped.classList.toggle("over", on); };
    document.addEventListener("dragover", over(true));
    document.addEventListener("dragleave", over(false));
    document.addEventListener("drop", async (event) => {
      over(false)(event);
      const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry()).filter(Boolean);
      const found = [];
      if (entries.length) for (const entry of entries) await walk(entry, found);
      else found.push(...event.dataTransfer.files);
      take(found);
    });
    for (const id of ["files", "folder"]) {
      part(id).addEventListener("change", (event) => { take([...event.target.files].filter((file) => !file.name.startsWith("."))); event.target.value = ""; });
    }
    part("coming-stop").addEventListener("click", () => { stopped = true; queue.length = 0; if (under) under.abort(); show(); });
    if (!part("desk-reading").hidden) poll();
  }
  document.addEventListener("visibilitychange", () => { if (!document.hidden && !under) poll(); });
})();
