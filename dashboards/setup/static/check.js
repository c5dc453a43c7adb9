"use strict";
// Follows the check of a home's sensors: what moves turns green at once.
(() => {
  const list = document.getElementById("sensors");
  if (!list || !window.EventSource) return;
  const words = { silent: "not heard since you look", heard: "heard, the same value", moved: "moves" };
  const source = new EventSource(list.dataset.check);
  source.addEventListener("check", (event) => {
    const check = JSON.parse(event.data);
    list.replaceChildren(...check.sensors.map((s) => {
      const item = document.createElement("li");
      item.dataset.state = s.state;
      item.textContent = `${s.signal}: ${s.value} ${s.unit}, ${words[s.state]}`;
      return item;
    }));
    if (!check.sensors.length) {
      const item = document.createElement("li");
      item.textContent = "No sensor has been heard yet.";
      list.append(item);
    }
    if (check.done) source.close();
  });
  source.addEventListener("refused", () => source.close());
})();
