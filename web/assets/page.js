// Keeps an open page alive: values from the event stream, ages by the second, and plain words when nothing comes any more.
// Without this script the page reloads itself every 30 seconds. It reads; it never writes to the server.
"use strict";
(() => {
  const QUIET_MS = 3500;      // without an event for so long we ask ourselves
  const ASK_MS = 2500;        // an answer that takes longer is none
  const CURVE_MS = 10000;     // a curve is fetched again at most so often
  const SPARK_MS = 60000;
  const WORDS = { none: ["\u25cb", "In order"], watch: ["\u25c6", "Look"], act: ["\u25a0", "Act"] };
  const CLASSES = { none: "calm", watch: "watch", act: "act" };
  const clock = () => performance.now();
  const $ = (id) => document.getElementById(id);

  let heardAt = clock();      // when the server last said anything
  let lost = false;
  let lostSince = "";
  let asking = false;
  let curveAt = clock(), sparkAt = clock(), refreshAt = 0;

  // ---- ages: each number's age at a moment of our own clock, so that a wrong wall clock does not matter
  const bases = new WeakMap();
  function setAge(element, age_s) {
    if (age_s === null || age_s === undefined) {
      bases.delete(element);
      element.textContent = "never read";
      return;
    }
    bases.set(element, { age_s, at: clock() });
    element.dataset.age = age_s;
  }
  function ageText(s) {
    if (s < 60) return s + " s";
    if (s < 300 && s % 60) return Math.floor(s / 60) + " min " + String(s % 60).padStart(2, "0") + " s";
    if (s < 3600) return Math.floor(s / 60) + " min";
    if (s < 86400) return Math.floor(s / 3600) + " h " + String(Math.floor(s / 60) % 60).padStart(2, "0") + " min";
    return Math.floor(s / 86400) + " d " + (Math.floor(s / 3600) % 24) + " h";
  }
  function tickAges() {
    for (const element of document.querySelectorAll(".age[data-age]")) {
      if (!bases.has(element)) bases.set(element, { age_s: Number(element.dataset.age), at: clock() });
      const base = bases.get(element);
      const age_s = base.age_s + Math.floor((clock() - base.at) / 1000);
      const text = ageText(age_s) + " ago";
      if (element.textContent !== text) element.textContent = text;
      const ticket = element.closest(".ticket");
      if (!ticket || Number(ticket.dataset.staleAfter) >= age_s || ticket.classList.contains("stale")) continue;
      ticket.classList.add("stale");
      stampTicket(ticket, ticket.classList.contains("act") ? "act" : "watch", false, true);
    }
  }

  // ---- values
  // What is read as one stays on one line, as the server writes it (daemon/base/together.c).
  const MONTHS = "Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec";
  const TOGETHER = [/() (?=\u00b0)/g, new RegExp("(\\d) (?=(?:min|h|s|ms|d|kg|g|mm|cm|K|" + MONTHS + ")\\b|%)", "g"),
    new RegExp("\\b(" + MONTHS + ") (?=\\d)", "g"), /\b(Sun|Mon|Tue|Wed|Thu|Fri|Sat|\d{4}|\d\d-\d\d) (?=\d\d:\d\d)/g];
  const DATE = /(\b\d{4}-\d\d-\d\d\b)/;
  function asWhole(part, index) {
    if (index % 2 === 0) return part;
    const span = document.createElement("span");
    span.className = "whole";
    span.textContent = part;
    return span;
  }
  function put(root, field, text) {
    const element = root.querySelector('[data-f="' + field + '"]');
    if (field !== "temp") for (const blank of TOGETHER) text = text.replace(blank, "$1\u00a0");
    if (element && element.textContent !== text) element.replaceChildren(...text.split(DATE).map(asWhole));
  }
  function putAhead(root, field, text) {
    const element = root.querySelector('[data-f="' + field + '"]');
    if (!element) return;
    element.hidden = !text;
    put(root, field, text || "");
  }
  function show(id, visible) {
    const element = $(id);
    if (element && element.hidden === visible) element.hidden = !visible;
  }
  // What is not known is not in order: a stale docket says so, unless it already calls for somebody.
  function stampTicket(root, concern, met, limited) {
    const stamp = root.querySelector('[data-f="stamp"]');
    if (!stamp) return;
    if (root.classList.contains("unwatched")) return;
    let [shape, word] = WORDS[concern] || WORDS.act;
    if (concern !== "act" && root.classList.contains("stale")) [shape, word] = ["\u2715", "No reading"];
    else if (!limited && concern === "none") [shape, word] = ["\u00b7", "No limit"];
    else if (met && concern === "none") [shape, word] = ["\u2713", "Limit met"];
    if (stamp.textContent === shape + " " + word) return;
    const mark = document.createElement("span");
    mark.setAttribute("aria-hidden", "true");
    mark.textContent = shape;
    stamp.replaceChildren(mark, " " + word);
    stamp.classList.toggle("none", !limited);
  }
  function applyTicket(root, data) {
    root.classList.remove("calm", "watch", "act");
    root.classList.add(CLASSES[data.concern] || "act");
    root.classList.toggle("stale", data.stale && data.watched);
    root.dataset.staleAfter = data.stale_after_s;
    put(root, "sentence", data.sentence);
    putAhead(root, "ahead", data.ahead);
    putAhead(root, "if_changed", data.if_changed);
    put(root, "temp", data.temp === null ? "\u2013" : data.temp);
    if (data.step_name !== undefined) put(root, "step", data.step_name);
    stampTicket(root, data.concern, data.verdict === "met", data.limited);
    const age = root.querySelector('[data-f="age"]');
    if (age) setAge(age, data.age_s);
  }
  const keysOf = (selector, name) => [...document.querySelectorAll(selector)].map((e) => e.dataset[name]).join();
  const statesOf = (selector) => [...document.querySelectorAll(selector)].map((e) => e.dataset.reference + " " + e.dataset.state).join();
  const wanting = (thermometers) => thermometers.filter((t) => t.concern !== "none").map((t) => t.id).join();
  const expiring = (references) => references.filter((r) => r.state !== "good").map((r) => r.id + " " + r.state).join();
  function structureChanged(now) {
    if ($("deviations") && keysOf("#deviations [data-deviation]", "deviation") !== now.deviations.map((d) => d.number).join()) return true;
    if ($("batches") && keysOf("#batches [data-batch]", "batch") !== now.batches.map((b) => b.number).join()) return true;
    if ($("places") && keysOf("#places [data-place]", "place") !== now.places.map((p) => p.id).join()) return true;
    if ($("undecided") && keysOf("#undecided [data-undecided]", "undecided") !== now.undecided.map((u) => u.batch).join()) return true;
    if ($("thermometers") && (keysOf("#thermometers [data-thermometer]", "thermometer") !== wanting(now.thermometers) ||
        statesOf("#thermometers [data-reference]") !== expiring(now.references))) return true;
    const dated = now.stored.filter((s) => s.date_mark);
    if ($("kept") && keysOf("#kept [data-kept]", "kept") !== dated.map((s) => [s.batch, s.place, s.date_mark.last_day,
        Number(s.date_mark.frozen), Number(s.date_mark.passed)].join("/")).join()) return true;
    const lines = $("lines");
    return Boolean(lines) && lines.querySelectorAll("li").length !== now.buses.filter((b) => !b.up).length + now.signals.filter((s) => s.faulty).length;
  }
  function apply(now) {
    heard();
    const asof = $("asof");
    if (asof) {
      put(asof, "clock", now.clock.slice(11, 16));
      setAge(asof.querySelector(".age"), now.age_s);
    }
    show("banner-demo", now.demo);
    show("banner-late", now.late);
    show("banner-unrecorded", now.unrecorded);
    show("banner-clock", !now.clock_trusted);
    show("banner-draft", now.plan_draft);
    show("banner-unverified", now.plan_accept_unverified);
    show("banner-plan", now.plan_refused !== "");
    put($("banner-plan"), "why", now.plan_refused);
    put($("banner-late"), "clock", now.clock.slice(11, 16));
    put($("banner-unrecorded"), "why", now.unrecorded_why);
    for (const batch of now.batches)
      for (const root of document.querySelectorAll('[data-batch="' + batch.number + '"]')) applyTicket(root, batch);
    for (const place of now.places)
      for (const root of document.querySelectorAll('[data-place="' + CSS.escape(place.id) + '"]')) applyTicket(root, place);
    for (const deviation of now.deviations)
      for (const root of document.querySelectorAll('[data-deviation="' + deviation.number + '"]')) {
        put(root, "sentence", deviation.sentence);
        put(root, "alarm", deviation.alarm_sentence);
      }
    for (const thermometer of now.thermometers)
      for (const root of document.querySelectorAll('[data-thermometer="' + CSS.escape(thermometer.id) + '"]')) put(root, "sentence", thermometer.sentence);
    document.body.dataset.version = now.version;
    tickAges();
    if (structureChanged(now)) refreshMain();
    refreshCurves(now);
  }

  // ---- what is drawn by the server
  async function refreshMain() {
    if (clock() - refreshAt < 2000) return;
    refreshAt = clock();
    try {
      const response = await fetch(location.href, { signal: AbortSignal.timeout(ASK_MS) });
      if (!response.ok) return;
      const page = new DOMParser().parseFromString(await response.text(), "text/html");
      const fresh = page.querySelector("main");
      if (!fresh) return;
      const focused = document.activeElement && document.activeElement.closest("main a[href]");
      const href = focused ? focused.getAttribute("href") : null;
      // The live region stays the same element, or a change in it would not be read out.
      const region = $("deviations"), freshRegion = fresh.querySelector("#deviations");
      if (region && freshRegion) {
        region.replaceChildren(...freshRegion.childNodes);
        freshRegion.replaceWith(region);
      }
      $("main").replaceChildren(...fresh.childNodes);
      if (href) {
        const again = $("main").querySelector('a[href="' + CSS.escape(href) + '"]');
        if (again) again.focus();
      }
    } catch { /* the watchdog below says when the server is gone */ }
  }
  async function refreshCurves(now) {
    if (clock() - sparkAt > SPARK_MS) {
      sparkAt = clock();
      for (const image of document.querySelectorAll(".spark img")) {
        const url = new URL(image.src);
        url.searchParams.set("v", now.version);
        image.src = url.href;
      }
    }
    const box = document.querySelector(".curvebox[data-curve]");
    if (!box || clock() - curveAt < CURVE_MS) return;
    curveAt = clock();
    try {
      const response = await fetch(box.dataset.curve, { signal: AbortSignal.timeout(ASK_MS) });
      if (!response.ok) return;
      const drawing = new DOMParser().parseFromString(await response.text(), "image/svg+xml");
      const curves = drawing.querySelectorAll("svg > svg.curve");
      if (curves.length === 2) box.replaceChildren(...curves);
    } catch { /* likewise */ }
  }

  // ---- connection
  function heard() {
    heardAt = clock();
    if (!lost) return;
    lost = false;
    document.body.classList.remove("lost");
    show("banner-lost", false);
  }
  function loseContact() {
    if (lost) return;
    lost = true;
    lostSince = new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit", hour12: false });
    document.body.classList.add("lost");
    const banner = $("banner-lost");
    const strong = document.createElement("strong");
    strong.textContent = "No connection to Trivet since " + lostSince + " (this screen's clock).";
    banner.replaceChildren(strong, " The numbers below are old and grow older. Measure by hand.");
    show("banner-lost", true);
  }
  async function ask() {
    if (asking) return;
    asking = true;
    try {
      const response = await fetch("/now.json", { signal: AbortSignal.timeout(ASK_MS), cache: "no-store" });
      if (response.ok) apply(await response.json());
      else if (response.status === 503) heard();
      else loseContact();
    } catch {
      loseContact();
    }
    asking = false;
  }
  function listen() {
    if (!("EventSource" in window)) return;
    const source = new EventSource("/events");
    source.addEventListener("now", (event) => apply(JSON.parse(event.data)));
    source.addEventListener("error", () => {
      ask(); // says within seconds whether anybody is there
      if (source.readyState === EventSource.CLOSED) setTimeout(listen, 10000);
    });
    addEventListener("pagehide", () => source.close(), { once: true });
  }
  setInterval(() => {
    tickAges();
    if (clock() - heardAt > QUIET_MS) ask();
  }, 1000);
  addEventListener("pageshow", (event) => { if (event.persisted) listen(); });
  listen();
})();
