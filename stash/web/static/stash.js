"use strict";
/* Makes a page that already works quicker to use. Nothing here is needed. */

/* A keyboard-wedge scanner types and ends with Enter: send what it typed to the box, wherever the focus is. A key long
   after the last one begins anew, so that what was touched by accident is forgotten. */
(() => {
  const box = document.getElementById("box");
  if (!box) return;
  let typed = "", last = 0;
  document.addEventListener("keydown", (event) => {
    if (event.target.closest("input, textarea, select") || event.ctrlKey || event.metaKey || event.altKey) return;
    const now = Date.now();
    if (now - last > 1500) typed = "";
    last = now;
    if (event.key === "Enter") {
      if (typed.length >= 6) { event.preventDefault(); box.value = typed; box.form.requestSubmit(); }
      typed = "";
    } else if (event.key.length === 1) typed += event.key;
  });
})();

/* What is said of a page holds for a part of it that comes later too. */
const eachPart = (wake) => { wake(document); document.addEventListener("stash:part", (event) => wake(event.detail)); };

/* Fields that name a row of a long table offer what matches while one types. */
eachPart((part) => { for (const field of part.querySelectorAll("input[data-suggest]:not([readonly])")) {
  if (field.list) continue;
  const list = document.createElement("datalist");
  list.id = field.id + "-offers";
  field.after(list);
  field.setAttribute("list", list.id);
  let timer = 0;
  field.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(async () => {
      const answer = await fetch(`/find/rows/${field.dataset.suggest}?q=${encodeURIComponent(field.value)}`);
      if (!answer.ok) return;
      const rows = await answer.json();
      list.replaceChildren(...rows.map(([value, text]) => new Option(text, value)));
    }, 150);
  });
} });

/* A double press of a button sends a form once. */
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = "yes";
  setTimeout(() => { delete form.dataset.sent; }, 1000);
});

/* The index closes when one presses elsewhere or Escape. */
{
  const index = document.querySelector(".index-narrow");
  document.addEventListener("click", (event) => { if (index && !index.contains(event.target)) index.open = false; });
  document.addEventListener("keydown", (event) => { if (index && index.open && event.key === "Escape") { index.open = false; index.querySelector("summary").focus(); } });
}

/* A stock of labels shows itself while one types its dimensions. */
eachPart((part) => { for (const figure of part.querySelectorAll("figure[data-preview]")) {
  const form = figure.previousElementSibling, image = figure.querySelector("img");
  let timer = 0;
  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(async () => {
      const answer = await fetch(figure.dataset.preview, { method: "POST", body: new FormData(form) });
      if (!answer.ok) return;
      URL.revokeObjectURL(image.src);
      image.src = URL.createObjectURL(await answer.blob());
      figure.hidden = false;
    }, 400);
  });
} });

/* A page that waits for long work looks again by itself. */
if (document.querySelector("[data-waiting]")) setTimeout(() => location.reload(), 1500);

/* Photos go off as soon as they are taken or chosen, and are shown while they do. */
eachPart((part) => { for (const form of part.querySelectorAll("form[data-photos]")) {
  const strip = form.parentElement.querySelector(".strip");
  form.classList.add("quick");
  form.addEventListener("change", () => {
    const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
    if (!files.length) return;
    for (const file of files) {
      const item = document.createElement("li"), image = new Image();
      item.className = "coming";
      image.alt = "";
      image.onerror = () => item.remove();
      image.src = URL.createObjectURL(file);
      item.append(image);
      strip.append(item);
    }
    form.querySelector("[role=status]").textContent = files.length === 1 ? "Sending the photo …" : `Sending ${files.length} photos …`;
    form.requestSubmit();
  });
} });
