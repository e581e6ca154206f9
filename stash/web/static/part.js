"use strict";
/* Forms marked data-part, and links inside what is marked data-links, take one part of the page from the server's whole
   answer instead of loading all of it again. The part is the element with that id, in this page and in the answer;
   "main" takes any answer, an error too, and follows where it leads, with the address, the title and the way back.
   Whatever else is not as expected is loaded as if this file were not there; but what may have changed something is
   never sent twice. Nothing here is needed. */
(() => {
  const said = document.createElement("p");
  said.className = "unseen";
  said.setAttribute("role", "status");
  document.body.append(said);
  let newest = 0, shown = location.pathname + location.search;

  const whole = (form, button) => {
    form.dataset.whole = "yes";
    delete form.dataset.sent;
    if (button) form.requestSubmit(button); else form.requestSubmit();
  };

  const ask = async (to, options) => {
    const answer = await fetch(to, options);
    return [answer, new DOMParser().parseFromString(await answer.text(), "text/html")];
  };

  /* Puts a part in its place; with the main part come the title and which entry of the index is marked. */
  const put = (part, fresh, page) => {
    part.replaceWith(fresh);
    if (fresh.id === "main") {
      document.title = page.title;
      for (const index of [".index-narrow nav", ".index-wide"]) {
        const here = document.querySelector(index), there = page.querySelector(index);
        if (here && there) here.replaceChildren(...there.children);
      }
    }
    document.dispatchEvent(new CustomEvent("stash:part", { detail: fresh }));
  };

  const arrive = (url, step) => {
    history.replaceState({ ...history.state, y: scrollY }, "");
    history[step](null, "", url);
    shown = location.pathname + location.search;
  };

  const tell = (title, otherwise, stay) => {
    if (title) {
      title.tabIndex = -1;
      title.focus({ preventScroll: true });
      if (!stay) title.scrollIntoView({ block: "nearest", behavior: "instant" });
    }
    said.textContent = title ? "" : otherwise || "";  // what has the focus is read anyway
  };

  document.addEventListener("submit", async (event) => {
    const form = event.target, button = event.submitter;
    const part = form.dataset.part && document.getElementById(form.dataset.part);
    if (!part || event.defaultPrevented || form.dataset.whole || (button && button.hasAttribute("data-whole"))) return;
    event.preventDefault();
    const turn = ++newest, posts = form.method === "post";
    const sent = new FormData(form, button), to = new URL(form.action || location.href);
    if (!posts) to.search = new URLSearchParams(sent).toString();
    part.setAttribute("aria-busy", "true");
    try {
      const [answer, page] = await ask(to, posts ? { method: "POST", body: sent } : {});
      const fresh = page.getElementById(form.dataset.part);
      if (turn !== newest) return;
      const all = form.dataset.part === "main";
      if (!fresh || (!all && (!answer.ok || answer.redirected))) {
        if (posts && answer.redirected) location.assign(answer.url); else whole(form, button);
        return;
      }
      if (!posts) { history.replaceState(null, "", to); shown = location.pathname + location.search; }
      else if (answer.redirected && answer.url !== location.href) arrive(answer.url, "pushState");
      put(part, fresh, page);
      delete form.dataset.sent;
      const title = fresh.querySelector("[data-told], .note[role=alert], .note[role=status]")
        || (answer.ok && !all ? null : fresh.querySelector("h1"));
      if (posts) tell(title, fresh.getAttribute("aria-label")); else tell(null, fresh.getAttribute("aria-label"));
    } catch {
      if (turn !== newest) return;
      if (!posts) { whole(form, button); return; }
      part.removeAttribute("aria-busy");
      const lost = document.createElement("p");
      lost.className = "note warn";
      lost.setAttribute("role", "alert");
      lost.textContent = "The connection was lost. Load the page again and see whether it was done before you press once more.";
      part.prepend(lost);
    }
  });

  /* Shows another page's main part; tells whether that worked. */
  const show = async (url) => {
    const turn = ++newest, part = document.getElementById("main");
    part.setAttribute("aria-busy", "true");
    const [answer, page] = await ask(url, {});
    const fresh = page.getElementById("main");
    if (turn !== newest) return null;
    if (!fresh || !answer.ok || answer.redirected) throw new Error("load it whole");
    return () => { put(part, fresh, page); return fresh.querySelector("h1"); };
  };

  document.addEventListener("click", async (event) => {
    const link = event.target.closest("[data-links] a[href]");
    if (!link || event.defaultPrevented || event.button || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
    if (link.target || link.hash || link.hasAttribute("data-whole") || link.origin !== location.origin) return;
    event.preventDefault();
    try {
      const change = await show(link.href);
      if (!change) return;
      arrive(link.href, "pushState");
      const title = change();
      scrollTo({ top: 0, behavior: "instant" });
      tell(title, "", true);
    } catch { location.assign(link.href); }
  });

  addEventListener("popstate", async (event) => {
    if (shown === location.pathname + location.search) return;
    shown = location.pathname + location.search;
    try {
      const change = await show(location.href);
      if (!change) return;
      const title = change();
      scrollTo({ top: (event.state && event.state.y) || 0, behavior: "instant" });
      tell(title, "", true);
    } catch { location.reload(); }
  });
})();
