// Swaps the parts of the page that changed, and keeps focus, scroll and open lines where they were.
// Without it every form works all the same: the page then loads anew.
"use strict";

(() => {
  const state = () => document.getElementById("state");
  let busy = false;
  let again = false;

  function isDirty(field) {
    if (field.dataset.sent !== undefined) return false;
    if (field.tagName === "SELECT") {
      return [...field.options].some((option) => option.selected !== option.defaultSelected);
    }
    return field.value !== field.defaultValue;
  }

  function copyAttributes(old, wanted) {
    for (const { name } of [...old.attributes]) {
      const own = name === "open" || name.startsWith("data-loaded") || name === "data-sent";
      if (!wanted.hasAttribute(name) && !own) old.removeAttribute(name);
    }
    for (const { name, value } of wanted.attributes) {
      if (old.getAttribute(name) !== value) old.setAttribute(name, value);
    }
  }

  function matches(node, wanted) {
    return node.nodeType === wanted.nodeType && node.nodeName === wanted.nodeName &&
      (node.id || "") === (wanted.id || "");
  }

  function fit(old, wanted) {
    if (old.nodeType !== Node.ELEMENT_NODE) {
      if (old.nodeValue !== wanted.nodeValue) old.nodeValue = wanted.nodeValue;
      return;
    }
    if (old.dataset.loaded !== undefined && wanted.classList.contains("why")) return;
    const field = old.matches("input:not([type=hidden]), select");
    const dirty = field && isDirty(old);
    copyAttributes(old, wanted);
    if (old.tagName === "OPTION") return fitChildren(old, wanted);
    fitChildren(old, wanted);
    if (field && !dirty) {
      delete old.dataset.sent;
      if (old.tagName === "SELECT") {
        for (const option of old.options) option.selected = option.defaultSelected;
      } else {
        old.value = old.defaultValue;
      }
    }
  }

  function fitChildren(old, wanted) {
    const named = new Map([...old.children].filter((each) => each.id).map((each) => [each.id, each]));
    let at = old.firstChild;
    for (const want of [...wanted.childNodes]) {
      let have = want.id ? named.get(want.id) : null;
      if (!have && at && !want.id && matches(at, want)) have = at;
      if (!have) {
        old.insertBefore(document.importNode(want, true), at);
        continue;
      }
      if (have === at) at = at.nextSibling;
      else old.insertBefore(have, at);
      fit(have, want);
    }
    while (at) {
      const next = at.nextSibling;
      at.remove();
      at = next;
    }
  }

  function show(page) {
    const held = document.activeElement && document.activeElement.id;
    fit(document.body, page.body);
    const lost = held && document.activeElement === document.body && document.getElementById(held);
    if (lost) lost.focus({ preventScroll: true });
    else if (document.activeElement === document.body && held) document.getElementById("main").focus();
    document.querySelectorAll("details[open][data-why]").forEach(load);
  }

  async function read(response) {
    if (!response.ok) throw new Error(await response.text());
    return new DOMParser().parseFromString(await response.text(), "text/html");
  }

  function trouble(problem) {
    const told = problem instanceof TypeError ?
      "No connection to the command: is `brumal open` still running?" : problem.message;
    if (state()) state().textContent = told;
  }

  async function refresh() {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    try {
      show(await read(await fetch(`${location.pathname}?now=1`)));
    } catch (problem) {
      trouble(problem);
    }
    busy = false;
    if (again) {
      again = false;
      refresh();
    }
  }

  async function load(line) {
    const place = line.querySelector(".why");
    const version = document.body.dataset.number;
    if (!place || place.dataset.loaded === version || document.body.dataset.busy === "yes") return;
    place.dataset.loaded = version;
    place.setAttribute("aria-busy", "true");
    if (!place.querySelector("form")) place.textContent = "Solving what else could be…";
    try {
      const page = await read(await fetch(line.dataset.why));
      if (place.dataset.loaded !== version) return;
      place.replaceChildren(...page.getElementById("why").childNodes);
    } catch (problem) {
      place.textContent = problem.message;
    }
    place.removeAttribute("aria-busy");
  }

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.method !== "post" || document.body.dataset.number === undefined) return;
    if (form.enctype === "multipart/form-data") return;
    event.preventDefault();
    for (const field of form.querySelectorAll("input, select")) field.dataset.sent = "";
    try {
      const body = new URLSearchParams(new FormData(form, event.submitter));
      const headers = { "x-page": "script" };
      show(await read(await fetch(form.action, { method: "POST", body, headers })));
    } catch (problem) {
      trouble(problem);
    }
  });

  // Entries made without a connection: kept in this browser, each under its own id and in a place
  // of its own (two tabs never write over each other's), and sent later.
  const SHELF = "brumal-waiting ";
  let sending = false;

  function waiting() {
    return Object.keys(localStorage)
      .filter((name) => name.startsWith(SHELF))
      .map((name) => JSON.parse(localStorage.getItem(name)))
      .filter((entry) => entry)
      .sort((one, other) => one.at - other.at);
  }

  function keep(entry) {
    localStorage.setItem(SHELF + entry.id, JSON.stringify(entry));
    showWaiting();
  }

  function letGo(entry) {
    localStorage.removeItem(SHELF + entry.id);
    showWaiting();
  }

  function showWaiting() {
    const entries = waiting();
    document.getElementById("waiting").hidden = entries.length === 0;
    document.getElementById("waiting-title").textContent =
      `Waiting for a connection: ${entries.length}`;
    document.getElementById("waiting-drop").hidden = !entries.some((entry) => entry.refused);
    document.getElementById("waiting-lines").textContent = entries
      .map((entry) => [...new URLSearchParams(entry.body)]
        .filter(([name, value]) => value && name !== "id")
        .map(([, value]) => value).join(", ") + (entry.refused ? `: ${entry.refused}` : ""))
      .join("\n");
  }

  async function post(entry) {
    const headers = { "x-page": "script", "content-type": "application/x-www-form-urlencoded" };
    return fetch("/enter", { method: "POST", body: entry.body, headers });
  }

  async function send() {
    if (sending) return;
    sending = true;
    try {
      for (const entry of waiting().filter((each) => !each.refused)) {
        const answer = await post(entry);
        if (answer.ok) letGo(entry);
        else if (answer.status === 422) keep({ ...entry, refused: await answer.text() });
        else break;
      }
    } catch {
      // Still no connection: it is tried again.
    }
    sending = false;
  }

  function freshId() {
    const bytes = crypto.getRandomValues(new Uint8Array(8));
    return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.dataset.queue === undefined) return;
    event.preventDefault();
    const body = new URLSearchParams(new FormData(form));
    const entry = { id: body.get("id"), body: body.toString(), at: Date.now() };
    let answer = null;
    try {
      answer = await post(entry);
    } catch {
      keep(entry);
      state().textContent = "No connection: the entry waits on this page.";
      // A second tap must not note the same again.
      form.reset();
      form.elements.animal.value = "";
      form.elements.id.value = freshId();
      return;
    }
    if (answer.ok) location.assign("/week?done=entered");
    else state().textContent = `Not entered. ${await answer.text()}`;
  });

  if (document.getElementById("waiting")) {
    showWaiting();
    send();
    setInterval(send, 10000);
    window.addEventListener("online", send);
    window.addEventListener("storage", showWaiting);
    document.getElementById("waiting-drop").addEventListener("click", () => {
      waiting().filter((entry) => entry.refused).forEach(letGo);
    });
  }

  // By the racks the tasks come with the plan; what is being entered stays as it is.
  async function lookForTasks() {
    try {
      const page = await read(await fetch("/week"));
      if (page.getElementById("looking")) return;
      document.getElementById("tasks").replaceWith(page.getElementById("tasks"));
    } catch {
      // No connection: what waits to be sent says so.
    }
  }

  if (document.getElementById("looking")) {
    const stream = new EventSource("/answers");
    stream.onmessage = async () => {
      await lookForTasks();
      if (!document.getElementById("looking")) stream.close();
    };
  }

  // A workbook dropped anywhere is as one chosen in the form for it.
  const bring = () => document.getElementById("bring");
  document.addEventListener("dragover", (event) => {
    if (bring() && event.dataTransfer.types.includes("Files")) event.preventDefault();
  });
  document.addEventListener("drop", (event) => {
    if (!bring() || event.dataTransfer.files.length === 0) return;
    event.preventDefault();
    bring().elements.book.files = event.dataTransfer.files;
    bring().requestSubmit();
  });

  document.addEventListener("toggle", (event) => {
    if (event.target.open && event.target.dataset.why) load(event.target);
  }, true);

  if (document.body.dataset.version !== undefined) {
    const stream = new EventSource("/answers");
    stream.onmessage = (event) => {
      if (event.data !== document.body.dataset.version) refresh();
    };
  }
})();
