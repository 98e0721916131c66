(() => {
  "use strict";
  const words = document.getElementById("words");
  const secret = window.location.hash.slice(1);
  window.history.replaceState(null, "", window.location.pathname);
  window.fetch(window.location.pathname, { method: "POST", body: secret, credentials: "same-origin" })
    .then((answer) => answer.text().then((text) => {
      if (answer.ok) window.location.replace(text);
      else words.textContent = text;
    }))
    .catch(() => { words.textContent = "steadyband does not answer: start it again."; });
})();
