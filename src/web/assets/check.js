// Progress while a photo goes out, and card and cups put right by hand. Without this script plain forms do the same.
"use strict";

(function send() {
  const form = document.getElementById("send");
  if (!form) return;
  const status = document.getElementById("progress");
  form.addEventListener("submit", (event) => {
    const inputs = [...form.querySelectorAll("input[type=file]")].filter((input) => input.files.length > 0);
    if (inputs.length === 0) {
      event.preventDefault();
      status.textContent = "Take or choose a photo first.";
      return;
    }
    event.preventDefault();
    const data = new FormData(form);
    const button = form.querySelector("button.main");
    const request = new XMLHttpRequest();
    const failed = (words) => { status.textContent = words; button.disabled = false; };
    button.disabled = true;
    status.textContent = "Sending the photo.";
    request.upload.addEventListener("progress", (at) => {
      if (at.lengthComputable) status.textContent = "Sending the photo: " + Math.round((100 * at.loaded) / at.total) + " %.";
    });
    request.upload.addEventListener("load", () => { status.textContent = "Reading the photo."; });
    request.addEventListener("error", () => failed("The connection broke off. Go nearer to the network and send it again."));
    request.addEventListener("load", () => {
      if (request.responseURL && request.status < 400) {
        location.assign(request.responseURL);
        return;
      }
      const page = new DOMParser().parseFromString(request.responseText, "text/html");
      const said = [...page.querySelectorAll("[role=alert], .hint")].map((part) => part.textContent);
      failed(said.join(" ") || "That did not work. Send it again.");
    });
    request.open("POST", form.action);
    request.send(data);
  });
  // The photo just taken is the one that is sent.
  for (const input of form.querySelectorAll("input[type=file]")) {
    input.addEventListener("change", () => {
      for (const other of form.querySelectorAll("input[type=file]")) if (other !== input && input.files.length) other.value = "";
    });
  }
})();

// A form on its way is not sent again by a second tap; where it takes long, a line says what goes on.
(function wait() {
  for (const form of document.querySelectorAll("form[method=post]")) {
    if (form.id === "send") continue;
    form.addEventListener("submit", (event) => {
      if (form.dataset.sent) { event.preventDefault(); return; }
      form.dataset.sent = "yes";
      for (const button of form.querySelectorAll("button[type=submit]")) button.setAttribute("aria-disabled", "true");
      const status = form.querySelector("[role=status]");
      if (status) status.textContent = "Reading the photo. This may take a few seconds.";
    });
  }
  // A page that the browser brings back from its memory can be used again.
  window.addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
      for (const button of form.querySelectorAll("[aria-disabled]")) button.removeAttribute("aria-disabled");
    }
  });
})();

(function place() {
  const marks = document.getElementById("marks");
  const form = document.getElementById("place");
  if (!marks || !form) return;
  const ns = "http://www.w3.org/2000/svg";
  const [, , width, height] = marks.getAttribute("viewBox").split(" ").map(Number);
  const side = Math.min(width, height);
  const numbers = (text) => text.split(",").map(Number);
  let card = form.card.value ? numbers(form.card.value) : null;
  let cups = form.cups.value ? form.cups.value.split(";").map(numbers) : [];
  let chosen = cups.length ? 1 : null;
  const clamp = (v, low, high) => Math.min(Math.max(v, low), high);

  function tell() {
    form.card.value = card ? card.map((v) => v.toFixed(1)).join(",") : "";
    form.cups.value = cups.map((cup) => cup.map((v) => v.toFixed(1)).join(",")).join(";");
  }

  function element(name, attributes, parent) {
    const made = document.createElementNS(ns, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    parent.append(made);
    return made;
  }

  function group(words, which) {
    const made = element("g", { class: "handle", tabindex: "0", role: "button", "aria-label": words }, marks);
    made.dataset.which = which;
    made.addEventListener("focus", () => { if (which !== "card") chosen = Number(which); });
    made.addEventListener("keydown", (event) => key(event, which));
    made.addEventListener("pointerdown", (event) => drag(event, which, made));
    return made;
  }

  function draw(focus) {
    marks.replaceChildren();
    const text = { "font-size": 0.05 * side, "text-anchor": "middle", "dominant-baseline": "central" };
    if (card) {
      const [x, y, w, h] = card;
      const g = group("grey card", "card");
      for (const shape of ["under", "over"]) element("rect", { class: shape, x, y, width: w, height: h, fill: "none" }, g);
      element("text", { ...text, x: x + w / 2, y: y + h / 2 }, g).textContent = "card";
    }
    cups.forEach(([cx, cy, r], i) => {
      const g = group("cup " + (i + 1), String(i + 1));
      for (const shape of ["under", "over"]) element("circle", { class: shape, cx, cy, r, fill: "none" }, g);
      element("text", { ...text, x: cx, y: cy }, g).textContent = i + 1;
    });
    tell();
    if (focus) marks.querySelector('[data-which="' + focus + '"]')?.focus();
  }

  function move(which, dx, dy) {
    if (which === "card") {
      card[0] = clamp(card[0] + dx, 0, width - card[2]);
      card[1] = clamp(card[1] + dy, 0, height - card[3]);
    } else {
      const cup = cups[which - 1];
      cup[0] = clamp(cup[0] + dx, 0, width - 1);
      cup[1] = clamp(cup[1] + dy, 0, height - 1);
    }
  }

  function resize(which, factor) {
    if (which === "card") {
      const [x, y, w, h] = card;
      const [nw, nh] = [clamp(w * factor, 16, width), clamp(h * factor, 16, height)];
      card = [clamp(x + (w - nw) / 2, 0, width - nw), clamp(y + (h - nh) / 2, 0, height - nh), nw, nh];
    } else {
      cups[which - 1][2] = clamp(cups[which - 1][2] * factor, 4, side / 2);
    }
  }

  function key(event, which) {
    const step = (event.shiftKey ? 0.02 : 0.004) * side;
    const arrows = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (arrows[event.key]) move(which, ...arrows[event.key]);
    else if (event.key === "+" || event.key === "=") resize(which, 1.06);
    else if (event.key === "-") resize(which, 1 / 1.06);
    else if (event.key === "Delete" && which !== "card") { remove(Number(which)); event.preventDefault(); return; }
    else return;
    event.preventDefault();
    draw(which);
  }

  function here(event) {
    const box = marks.getBoundingClientRect();
    return [((event.clientX - box.left) / box.width) * width, ((event.clientY - box.top) / box.height) * height];
  }

  function drag(event, which, made) {
    event.preventDefault();
    made.focus();
    let [x, y] = here(event);
    // Near its line a cup is made larger or smaller, else it is moved.
    const cup = which === "card" ? null : cups[which - 1];
    const away = cup ? Math.hypot(x - cup[0], y - cup[1]) / cup[2] : 0;
    const isSize = away > 0.8;
    const onMove = (at) => {
      const [nx, ny] = here(at);
      if (isSize) cup[2] = clamp(Math.hypot(nx - cup[0], ny - cup[1]), 4, side / 2);
      else move(which, nx - x, ny - y);
      [x, y] = [nx, ny];
      draw();
    };
    const onEnd = () => {
      window.removeEventListener("pointermove", onMove);
      window.removeEventListener("pointerup", onEnd);
      window.removeEventListener("pointercancel", onEnd);
      draw(which);
    };
    window.addEventListener("pointermove", onMove);
    window.addEventListener("pointerup", onEnd);
    window.addEventListener("pointercancel", onEnd);
  }

  function remove(number) {
    cups.splice(number - 1, 1);
    chosen = cups.length ? Math.min(number, cups.length) : null;
    draw(chosen ? String(chosen) : null);
  }

  const doing = {
    add() {
      const radius = cups.length ? cups[0][2] : 0.08 * side;
      cups.push([width / 2, height / 2, radius]);
      chosen = cups.length;
      draw(String(chosen));
    },
    remove() { if (chosen) remove(chosen); },
    card() {
      if (!card) card = [width / 2 - 0.06 * side, height / 2 - 0.06 * side, 0.12 * side, 0.12 * side];
      draw("card");
    },
  };
  for (const button of form.querySelectorAll("[data-do]")) button.addEventListener("click", doing[button.dataset.do]);
  for (const part of form.querySelectorAll(".script")) part.hidden = false;
  for (const part of document.querySelectorAll(".noscript")) part.hidden = true;
  draw();
})();
