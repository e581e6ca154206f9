"use strict";
/* A shelf session that loses nothing: every add is kept in this browser, under a token of its own, until the server has
   said that it is in the database. The server books a token once, so sending again does no harm. */
(() => {
  const KEY = "stash-shelf:", STICKS = ["place", "kind", "condition", "checked", "from_machine"];
  const form = document.getElementById("shelf");
  const waiting = document.getElementById("shelf-waiting");
  const said = document.getElementById("shelf-said");
  const quiet = { busy: false, again: 0, pause: 2000 };

  /* what is kept */
  const token = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(15));
    return btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_");
  };
  const keep = (entry) => {
    try { localStorage.setItem(KEY + entry.token, JSON.stringify(entry)); return true; } catch { return false; }
  };
  const forget = (entry) => { localStorage.removeItem(KEY + entry.token); if (entry.photo) photos("readwrite", (held) => held.delete(entry.token)).catch(() => null); };
  const kept = () => {
    const found = [];
    for (let at = 0; at < localStorage.length; at += 1) {
      const key = localStorage.key(at);
      if (!key.startsWith(KEY)) continue;
      try { found.push(JSON.parse(localStorage.getItem(key))); } catch { /* not ours */ }
    }
    return found.sort((one, two) => one.at - two.at);
  };

  /* photos are too big for that; they lie beside it until their part is booked */
  const storing = new Set();
  const photos = (mode, act) => new Promise((done, fail) => {
    const opening = indexedDB.open("stash-shelf", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("photos");
    opening.onerror = () => fail(opening.error);
    opening.onsuccess = () => {
      const work = opening.result.transaction("photos", mode), asked = act(work.objectStore("photos"));
      work.oncomplete = () => { opening.result.close(); done(asked.result); };
      work.onerror = work.onabort = () => fail(work.error);
    };
  });

  /* what is shown of it */
  const button = (text, act) => {
    const made = document.createElement("button");
    made.type = "button"; made.className = "do-too"; made.textContent = text;
    made.addEventListener("click", act);
    return made;
  };
  const show = () => {
    waiting.replaceChildren(...kept().filter((entry) => !entry.back || entry.problem).map((entry) => {
      const line = document.createElement("li"), text = document.createElement("p"), acts = document.createElement("p");
      line.className = "entry"; acts.className = "acts";
      const name = document.createElement("strong");
      name.textContent = `${entry.fields.quantity || 1} × ${entry.said}`;
      const state = entry.problem ? `. Not taken: ${entry.problem}` : entry.failed ? `: kept here and sent again (${entry.failed})` : ": being put away";
      text.append(name, state);
      if (entry.problem) {
        if (form && !entry.back) acts.append(button("Mend it in the form", () => mend(entry)));
        acts.append(button("Try again", () => { keep({ ...entry, problem: "" }); send(); }));
        if (entry.back) acts.append(button("Leave it", () => { forget(entry); show(); }));
      }
      if (!entry.back) acts.append(button("Take it back", () => { keep({ ...entry, back: true, problem: "" }); show(); send(); }));
      line.append(text, acts);
      return line;
    }));
  };
  function choose(kind) {
    const radio = [...form.querySelectorAll("[name=kind]")].find((each) => each.value === kind);
    if (radio) { radio.checked = true; if (form.elements.other) form.elements.other.value = ""; return; }
    for (const each of form.querySelectorAll("[name=kind]")) each.checked = false;
    if (form.elements.other) form.elements.other.value = kind;
  }

  const mend = async (entry) => {
    const photo = entry.photo && await photos("readonly", (held) => held.get(entry.token)).catch(() => null);
    const measured = {};
    for (const [name, text] of Object.entries(entry.fields)) {
      if (name.startsWith("m-")) measured[name] = text;
      else if (name === "kind") choose(text);
      else if (name !== "place" && form.elements[name]) form.elements[name].value = text;
    }
    if (photo) { const held = new DataTransfer(); held.items.add(photo); form.elements.photo.files = held.files; }
    forget(entry); show(); look(measured); form.scrollIntoView();
  };

  /* sending, one after the other, oldest first */
  const seal = () => (form ? form.elements.csrf_token : document.getElementById("shelf-seal")).value;
  const post = async (entry) => {
    const body = new FormData(), photo = entry.photo && !entry.back && await photos("readonly", (held) => held.get(entry.token)).catch(() => null);
    for (const [name, text] of Object.entries(entry.fields)) if (!entry.back || STICKS.includes(name)) body.set(name, text);
    if (photo) body.set("photo", photo, photo.name || "photo");
    body.set("token", entry.token);
    body.set("csrf_token", seal());
    return fetch(entry.back ? entry.undo : entry.to, { method: "POST", body, headers: { "X-Shelf": "1" }, redirect: "manual" });
  };
  const send = async () => {
    if (quiet.busy) return;
    quiet.busy = true;
    clearTimeout(quiet.again);
    const tried = new Set();
    let failed = false;
    for (let entry; (entry = kept().find((each) => !each.problem && !storing.has(each.token) && !tried.has(each.token + each.back)));) {
      tried.add(entry.token + entry.back);
      let verdict = "", text = "", reason = "";
      try {
        const answer = await post(entry);
        verdict = answer.headers.get("X-Shelf");
        text = await answer.text();
        reason = answer.type === "opaqueredirect" ? "sign in again" : answer.status === 400 ? "open this page again" : `the stash answered ${answer.status}`;
      } catch { reason = "no connection"; }
      const now = kept().find((each) => each.token === entry.token);
      const same = now && now.back === entry.back;
      if (verdict === "kept") {
        if (same) forget(entry);
        if (said && entry.to === form.getAttribute("action")) said.innerHTML = text;
      } else if (verdict === "refused") {
        if (same) keep({ ...now, problem: text });
      } else {
        failed = true;
        if (now) keep({ ...now, failed: reason });
        if (reason === "no connection") break;
      }
    }
    quiet.busy = false;
    quiet.pause = failed ? Math.min(quiet.pause * 2, 30000) : 2000;
    if (failed) quiet.again = setTimeout(send, quiet.pause);
    show();
  };
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  show();
  send();
  if (!form) return;

  /* what the part may be, drawn by the server as the form is filled in; what was drawn once serves without a connection */
  const which = document.getElementById("shelf-which");
  const drawn = new Map();
  let asked = "", timer = 0;
  const values = () => Object.fromEntries([...new FormData(form)].filter(([name, text]) => text && typeof text === "string" && !["csrf_token", "token"].includes(name)));
  const remember = () => {
    const now = values(), stays = new URLSearchParams();
    for (const name of STICKS) if (now[name]) stays.set(name, now[name]);
    history.replaceState(null, "", `${location.pathname}?${stays}`);
  };
  const draw = (html) => {
    const focus = document.activeElement && which.contains(document.activeElement) ? document.activeElement : null;
    const at = focus && (focus.id ? `#${focus.id}` : `[name="${focus.name}"][value="${focus.value}"]`);
    which.innerHTML = html;
    if (at) which.querySelector(at)?.focus();
  };
  const look = async (measured = {}) => {
    const now = { ...values(), ...measured }, query = new URLSearchParams();
    for (const [name, text] of Object.entries(now)) if (["place", "kind", "q", "from_machine"].includes(name) || name.startsWith("m-")) query.set(name, text);
    const address = `${form.dataset.which}?${query}`;
    asked = address;
    remember();
    try {
      const answer = await fetch(address);
      if (!answer.ok) return;
      const html = await answer.text();
      drawn.set(address, html);
      if (asked === address) draw(html);
    } catch {
      if (asked !== address) return;
      const alone = document.getElementById("shelf-alone").innerHTML;
      const before = drawn.get(address) ?? "";
      draw(before || alone + unknown);
    }
  };
  const unknown = (() => {
    const last = which.querySelector(".picks button:last-child");
    return last ? `<div class="picks"><button name="pick" value="${last.value}" data-said="not identified"><b>Not identified yet</b></button></div>` : "";
  })();
  form.addEventListener("input", (event) => {
    const field = event.target;
    if (field.name === "other" && field.value) for (const radio of form.querySelectorAll("[name=kind]")) radio.checked = false;
    if (field.name === "kind") form.elements.other && (form.elements.other.value = "");
    clearTimeout(timer);
    if (field.name === "q") timer = setTimeout(look, 180);
    else if (["kind", "other"].includes(field.name)) { for (const each of which.querySelectorAll("[name^=m-]")) each.disabled = true; look(); }
    else if (field.name === "from_machine" || (field.name.startsWith("m-") && field.type === "radio")) look();
    else remember();
  });
  form.addEventListener("change", (event) => { if (event.target.name.startsWith("m-") && event.target.type !== "radio") look(); });

  /* an add */
  const DOUBLE_MS = 300, last = { pick: "", at: 0, detail: 1 }, note = document.getElementById("shelf-note");
  form.addEventListener("click", (event) => { last.detail = event.detail; });
  form.addEventListener("submit", (event) => {
    const pressed = event.submitter;
    if (!pressed || pressed.name !== "pick") { event.preventDefault(); event.stopPropagation(); look(); return; }
    const now = Date.now();
    if (pressed.value === last.pick && (last.detail > 1 || now - last.at < DOUBLE_MS)) {
      event.preventDefault(); event.stopPropagation();
      note.textContent = "Pressed twice, added once. Press again for one more.";
      return;
    }
    note.textContent = "";
    const fields = { ...values(), pick: pressed.value };
    fields.kind = fields.other || fields.kind || pressed.dataset.kind || "";
    delete fields.other;
    const photo = form.elements.photo.files[0];
    const entry = { token: token(), at: now, photo: Boolean(photo), to: form.getAttribute("action"), undo: form.dataset.back, fields, said: pressed.dataset.said + (fields.q ? `, ${fields.q}` : "") };
    if (!fields.kind && !pressed.dataset.kind) {
      event.preventDefault(); event.stopPropagation();
      form.querySelector("[name=kind]")?.focus();
      return;
    }
    if (!keep(entry)) return; /* nowhere to keep it: the plain form does it */
    event.preventDefault(); event.stopPropagation();
    last.pick = pressed.value; last.at = now;
    if (pressed.dataset.kind) choose(pressed.dataset.kind);
    if (photo) {
      storing.add(entry.token);
      photos("readwrite", (held) => held.put(photo, entry.token)).catch(() => null).then(() => { storing.delete(entry.token); send(); });
    }
    for (const name of ["q", "code", "note", "photo"]) if (form.elements[name]) form.elements[name].value = "";
    form.elements.quantity.value = "1";
    for (const each of which.querySelectorAll("[name^=m-]")) each.disabled = true;
    show(); send(); look();
    said.scrollIntoView({ block: "start" });
  });
  said.addEventListener("submit", (event) => {
    const back = event.target;
    if (!back.matches("[data-take-back]")) return;
    const entry = { token: back.elements.token.value, at: Date.now(), to: form.getAttribute("action"), undo: form.dataset.back, fields: values(), said: "taken back", back: true };
    if (!keep(entry)) return;
    event.preventDefault(); event.stopPropagation();
    send();
  });
  drawn.set(`${form.dataset.which}?${new URLSearchParams(Object.entries(values()).filter(([name]) => ["place", "kind"].includes(name)))}`, which.innerHTML);
})();
