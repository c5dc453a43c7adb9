// Keeps a page fresh: when the server says that something changed, the page
// asks for itself again and swaps in the new content. What the reader has
// opened, focused or selected stays. Without this file every page works the
// same, fresh when loaded.
(() => {
  "use strict";
  if (!("EventSource" in window) || !("fetch" in window)) return;

  const words = document.currentScript.dataset;
  const place = document.getElementById("live");
  const news = document.getElementById("news");
  const button = document.createElement("button");
  button.type = "button";
  let stream = null, paused = false, busy = false, again = false;

  const label = (state) => { button.textContent = paused ? words.follow : words.pause; button.dataset.state = state; };
  const sentence = (root) => (root.querySelector("h1") || {}).textContent || "";

  const swap = (text) => {
    const fresh = new DOMParser().parseFromString(text, "text/html");
    const now = document.getElementById("main"), next = fresh.getElementById("main");
    if (!next || now.innerHTML === next.innerHTML) return;
    const open = [...now.querySelectorAll("details[open][id]")].map((d) => d.id);
    const held = now.contains(document.activeElement) ? mark(document.activeElement) : null;
    const said = sentence(now);
    now.replaceChildren(...next.childNodes);
    for (const id of open) document.getElementById(id)?.setAttribute("open", "");
    if (held) now.querySelector(held)?.focus({ preventScroll: true });
    document.title = fresh.title;
    if (sentence(now) !== said) news.textContent = sentence(now);
  };

  // mark finds the same element in the fresh content.
  const mark = (element) => {
    if (element.id) return "#" + CSS.escape(element.id);
    if (element.matches("summary") && element.parentElement.id) return "#" + CSS.escape(element.parentElement.id) + " > summary";
    const href = element.getAttribute("href");
    return href ? 'a[href="' + CSS.escape(href) + '"]' : null;
  };

  // writing says whether the reader has begun to fill a form, which must not be
  // taken away.
  const writing = () => {
    const main = document.getElementById("main");
    const focus = document.activeElement;
    if (main.contains(focus) && focus.matches("input, select, textarea")) return true;
    return [...main.querySelectorAll("input, textarea")].some((e) => e.value !== e.defaultValue || e.checked !== e.defaultChecked)
      || [...main.querySelectorAll("select")].some((e) => ![...e.options].some((o) => o.defaultSelected) ? e.selectedIndex > 0 : ![...e.selectedOptions].every((o) => o.defaultSelected));
  };

  const refresh = async () => {
    if (paused || document.hidden || !document.getSelection().isCollapsed || writing()) return;
    if (busy) { again = true; return; }
    busy = true;
    try {
      const answer = await fetch(location.href, { credentials: "same-origin" });
      if (answer.ok && !writing()) swap(await answer.text());
    } catch { /* the stream reconnects by itself and asks again */ }
    busy = false;
    if (again) { again = false; refresh(); }
  };

  const follow = () => {
    stream = new EventSource("/changes");
    stream.addEventListener("open", () => { label("live"); place.replaceChildren(button); });
    stream.addEventListener("change", refresh);
    stream.addEventListener("error", () => label("waiting"));
  };
  const stop = () => { stream?.close(); stream = null; };

  button.addEventListener("click", () => {
    paused = !paused;
    if (paused) stop(); else { follow(); refresh(); }
    label(paused ? "paused" : "live");
  });
  document.addEventListener("visibilitychange", () => {
    if (paused) return;
    if (document.hidden) stop(); else if (!stream) { follow(); refresh(); }
  });
  follow();
})();
