"use strict";
/* Forms marked data-part take one part of the page from the server's whole answer instead of loading all of it again.
   The part is the element with that id, in this page and in the answer; "main" takes any answer, an error too, and
   follows where it leads. Whatever else is not as expected, the form is sent as if this file were not there; but what
   may have changed something is never sent twice. Nothing here is needed. */
(() => {
  const said = document.createElement("p");
  said.className = "unseen";
  said.setAttribute("role", "status");
  document.body.append(said);
  let newest = 0;

  const whole = (form, button) => {
    form.dataset.whole = "yes";
    delete form.dataset.sent;
    if (button) form.requestSubmit(button); else form.requestSubmit();
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
      const answer = await fetch(to, posts ? { method: "POST", body: sent } : {});
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.getElementById(form.dataset.part);
      if (turn !== newest) return;
      const all = form.dataset.part === "main";
      if (!fresh || (!all && (!answer.ok || answer.redirected))) {
        if (posts && answer.redirected) location.assign(answer.url); else whole(form, button);
        return;
      }
      part.replaceWith(fresh);
      document.dispatchEvent(new CustomEvent("stash:part", { detail: fresh }));
      delete form.dataset.sent;
      if (!posts) history.replaceState(null, "", to);
      else if (answer.redirected && answer.url !== location.href) { history.pushState(null, "", answer.url); document.title = page.title; }
      const title = fresh.querySelector("[data-told], .note[role=status]") || (answer.ok ? null : fresh.querySelector("h1"));
      if (posts && title) { title.tabIndex = -1; title.focus(); }
      said.textContent = title ? title.textContent : fresh.getAttribute("aria-label") || "";
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
})();
