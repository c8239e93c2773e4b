"use strict";
// Search and "my firmware". Everything here is a help: without it each page is whole.

const el = (name, text, attributes = {}) => {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
};

// ---- search ------------------------------------------------------------------------------------

const catalogue = {
  data: null,
  parts: new Map(),
  waiting: new Map(),
  words(data) { this.data = data; },
  part(name, words) { this.parts.set(name, words); },
  load(name) {
    if (!this.waiting.has(name)) {
      this.waiting.set(name, new Promise((done) => {
        const script = el("script", "", { src: `search/${name}.js` });
        script.onload = script.onerror = done;
        document.head.append(script);
      }));
    }
    return this.waiting.get(name);
  },
};

const fold = (text) => (text.toLowerCase()
  .replace(/ä/g, "ae").replace(/ö/g, "oe").replace(/ü/g, "ue").replace(/ß/g, "ss")
  .normalize("NFKD").replace(/\p{M}/gu, "").match(/[a-z0-9]+/g) || []);

// Whether one slip of typing lies between two words: a letter more, less, other, or two swapped.
const near = (one, other) => {
  if (Math.abs(one.length - other.length) > 1) return false;
  let at = 0;
  while (at < one.length && one[at] === other[at]) at += 1;
  const a = one.slice(at), b = other.slice(at);
  return a.slice(1) === b.slice(1) || a.slice(1) === b || a === b.slice(1) ||
    (a[0] === b[1] && a[1] === b[0] && a.slice(2) === b.slice(2));
};

// What a typed word may stand for: each a list of beginnings of words that go together.
const meanings = (word) => {
  const { words, trade } = catalogue.data;
  if (/^\d+$/.test(word)) return words.includes(word) ? [[word]] : [];
  const say = (typed) => Object.hasOwn(trade, typed) ? trade[typed].map(fold) : [];
  const found = say(word);
  if (words.some((one) => one.startsWith(word))) found.push([word]);
  if (word.length >= 4) {
    for (const one of words) if (!one.startsWith(word) && one.includes(word)) found.push([one]);
    for (const typed of Object.keys(trade)) {
      if (typed !== word && typed.startsWith(word)) found.push(...say(typed));
    }
  }
  if (found.length || word.length < 4) return found;
  const slips = words.filter((one) => near(word, one)).map((one) => [one]);
  for (const typed of Object.keys(trade)) if (near(word, typed)) slips.push(...say(typed));
  return slips;
};

// The words of a question; what the trade says in two words is one.
const split = (text) => {
  const words = fold(text).filter((one) => one !== "cv" && one !== "firmware");
  for (let at = 0; at + 1 < words.length; at += 1) {
    const two = `${words[at]} ${words[at + 1]}`;
    if (Object.hasOwn(catalogue.data.trade, two)) words.splice(at, 2, two);
  }
  return words;
};

// Everything that one typed word leads to.
const lookUp = async (word) => {
  const { words } = catalogue.data;
  const spread = (begin) => /^\d+$/.test(begin) ? [begin]
    : words.filter((one) => one.startsWith(begin));
  const groups = meanings(word).map((group) => group.map(spread));
  const names = new Set(groups.flat(2).map((one) => one.slice(0, 2)));
  await Promise.all([...names].map((name) => catalogue.load(name)));
  const found = new Map();
  for (const group of groups) {
    let common = null;
    for (const side of group) {
      const rows = side.flatMap((one) => (catalogue.parts.get(one.slice(0, 2)) || {})[one] || []);
      const keys = new Map(rows.map((row) => [JSON.stringify(row), row]));
      common = common === null ? keys : new Map([...common].filter(([key]) => keys.has(key)));
    }
    for (const [key, row] of common || []) found.set(key, row);
  }
  const decoders = new Set([...found.values()].filter((row) => row[0] === "d").map((r) => r[1]));
  return { found, decoders };
};

const fits = (row, key, sides) => sides.every((side) =>
  side.found.has(key) || side.decoders.has(row[1]));

const MOST = 60;
let asked = 0;

const search = async (text) => {
  const mine = asked += 1;
  await catalogue.load("words");
  if (!catalogue.data || mine !== asked) return;
  const { decoders, cvs } = catalogue.data;
  const words = split(text);
  const sides = await Promise.all(words.map(lookUp));
  if (mine !== asked) return;
  const rows = [];
  const add = (href, name, more) => rows.push([href, name, more]);
  if (words.length === 1 && /^\d+$/.test(words[0]) && cvs.includes(Number(words[0]))) {
    add(`cv/${Number(words[0])}.html`, `CV ${Number(words[0])}`, "every setting that had it");
  }
  const all = new Map();
  for (const side of sides) for (const [key, row] of side.found) all.set(key, row);
  const kinds = { d: [], s: [], v: [], c: [] };
  for (const [key, row] of all) if (fits(row, key, sides)) kinds[row[0]].push(row);
  // What is called just so stands first, then what begins so, then the shorter title.
  const typed = [words, ...words.flatMap((one) => meanings(one).slice(0, 3))];
  const rank = (row) => {
    const title = fold(row[3]);
    const leads = typed.some((group) => group.every((one, at) => (title[at] || "").startsWith(one)));
    return (leads ? 0 : 1000) + row[3].length;
  };
  kinds.s.sort((a, b) => rank(a) - rank(b));
  const name = (id) => decoders[id] || id;
  const page = (id) => `decoder/${id.split("/").map(encodeURIComponent).join("/")}.html`;
  for (const row of kinds.d) add(page(row[1]), name(row[1]), "decoder");
  for (const row of kinds.c) add(row[1], row[2], row[3]);
  for (const row of kinds.s) add(`${page(row[1])}#${row[2]}`, row[3], `${name(row[1])}: ${row[4]}`);
  for (const row of kinds.v) add(`${page(row[1])}#${row[3]}`, `firmware ${row[2]}`, name(row[1]));
  const list = document.getElementById("results");
  list.replaceChildren(...rows.slice(0, MOST).map(([href, title, more]) => {
    const item = el("li");
    item.append(el("a", title, { href }), ` ${more}`);
    return item;
  }));
  const rest = rows.length > MOST ? `, the first ${MOST} are shown` : "";
  document.getElementById("found").textContent =
    !words.length ? "" : rows.length ? `${rows.length} found${rest}.` : "Nothing found.";
};

// ---- my firmware -------------------------------------------------------------------------------

// The figures of a version as the page's steps have them, or nothing where it is no version.
const figures = (text, scheme) => {
  const said = text.trim().toLowerCase().replace(/^v/, "");
  if (scheme === "number") return /^\d{1,9}$/.test(said) ? [Number(said)] : null;
  if (scheme === "date") {
    const day = said.match(/^(\d{4})-(\d{2})-(\d{2})([a-z]?)$/);
    return day && [+day[1], +day[2], +day[3], day[4] ? day[4].charCodeAt(0) - 96 : 0];
  }
  if (!/^\d{1,9}[a-z]?(\.\d{1,9}[a-z]?)*$/.test(said)) return null;
  const held = said.split(".").flatMap((part) => {
    const letter = part.match(/[a-z]$/);
    return [parseInt(part, 10), letter ? letter[0].charCodeAt(0) - 96 : 0];
  });
  while (held.length && held[held.length - 1] === 0) held.pop();
  return held;
};

const isBefore = (one, [other, behind]) => {
  for (let at = 0; at < Math.max(one.length, other.length); at += 1) {
    if (at >= one.length) return true;
    if (at >= other.length) return false;
    if (one[at] !== other[at]) return one[at] < other[at];
  }
  return behind === 1;
};

const firmware = (form) => {
  const steps = JSON.parse(form.dataset.steps), columns = JSON.parse(form.dataset.columns);
  const unread = JSON.parse(form.dataset.unread);
  const said = document.getElementById("firmware-said");
  const settings = [...document.querySelectorAll("tbody.setting")];
  const narrow = window.matchMedia("(max-width: 40rem)");
  const stepOf = (text) => {
    const held = figures(text, form.dataset.scheme);
    if (held === null) return -1;
    let found = 0;
    while (found + 1 < steps.length && !isBefore(held, steps[found + 1])) found += 1;
    return found;
  };
  const rowAt = (body, step) => [...body.rows].find((row) =>
    row.dataset.k !== undefined && +row.dataset.a <= step && step <= +row.dataset.b);

  const layOut = (step) => {
    let chosen = 0;
    while (chosen + 1 < columns.length && columns[chosen + 1] <= step) chosen += 1;
    if (step < 0) chosen = columns.length - 1;
    let shown = columns.map((_, at) => at);
    if (narrow.matches && columns.length > 7) {
      shown = shown.filter((at) => Math.abs(at - chosen) <= 1 || unread[at]);
      for (let far = columns.length; shown.length > 7 && far > 1; far -= 1) {
        shown = shown.filter((at) => Math.abs(at - chosen) < far);
      }
    }
    for (const svg of document.querySelectorAll(".track > svg")) {
      const parts = svg.querySelectorAll(":scope > svg[data-n]");
      if (!parts.length) continue;
      svg.style.minWidth = narrow.matches ? "0" : `${52 * columns.length}px`;
      for (const part of parts) {
        const at = shown.indexOf(+part.dataset.n);
        part.style.display = at < 0 ? "none" : "";
        part.setAttribute("x", `${(100 * at) / shown.length}%`);
        part.setAttribute("width", `${100 / shown.length}%`);
        part.classList.toggle("alone", at >= 0 && (at === 0 || shown[at - 1] !== shown[at] - 1));
        const frame = part.querySelector(".choice");
        if (frame) frame.classList.toggle("chosen", step >= 0 && +part.dataset.n === chosen);
      }
    }
  };

  const show = () => {
    const [one, other] = [form.at.value, form.against.value];
    const at = one ? stepOf(one) : -1, against = other ? stepOf(other) : -1;
    layOut(at);
    let different = 0;
    for (const body of settings) {
      const mine = at < 0 ? null : rowAt(body, at);
      const theirs = against < 0 ? null : rowAt(body, against);
      const both = at >= 0 && against >= 0;
      const same = both && mine && theirs && mine.dataset.k === theirs.dataset.k;
      different += both && !same ? 1 : 0;
      body.hidden = Boolean(same);
      for (const row of body.rows) {
        if (row.dataset.k === undefined) continue;
        row.hidden = both && row !== mine && row !== theirs;
        row.classList.toggle("here", row === mine);
        const mark = row.cells[0].querySelector(".mine");
        if (mark) mark.remove();
        if (row === mine) row.cells[0].append(el("span", " ← my firmware", { class: "mine" }));
      }
    }
    for (const group of document.querySelectorAll("div.group")) {
      group.hidden = ![...group.querySelectorAll("tbody.setting")].some((body) => !body.hidden);
    }
    said.replaceChildren();
    if (one && at < 0) said.append(`“${one}” is no firmware version as this decoder counts them.`);
    if (other && against < 0) said.append(` “${other}” is no firmware version either way.`);
    if (at >= 0) {
      said.append(el("a", `What is not certain at ${one}`, { href: `#step-${at}` }), ". ");
    }
    if (at >= 0 && against >= 0) {
      const words = different === 1 ? "setting differs" : "settings differ";
      said.append(el("a", `${different} ${words} between ${one} and ${other}`,
        { href: "#settings" }), ".");
    }
  };

  const fromAddress = () => {
    const found = decodeURIComponent(location.hash).match(/^#at[=-](.+)$/);
    if (!found) return;
    form.at.value = found[1];
    show();
    const at = stepOf(found[1]);
    if (location.hash.startsWith("#at=") && at >= 0) {
      document.getElementById(`step-${at}`).scrollIntoView();
    }
  };
  form.hidden = false;
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("input", show);
  form.addEventListener("reset", () => setTimeout(show));
  narrow.addEventListener("change", show);
  window.addEventListener("hashchange", fromAddress);
  show();
  fromAddress();
};

// ---- tables that sort and filter -----------------------------------------------------------------

const sortable = (table) => {
  const body = table.tBodies[0];
  [...table.tHead.rows[0].cells].forEach((cell, at) => {
    const button = el("button", cell.textContent, { type: "button" });
    cell.replaceChildren(button);
    button.addEventListener("click", () => {
      const up = cell.getAttribute("aria-sort") !== "ascending";
      for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
      cell.setAttribute("aria-sort", up ? "ascending" : "descending");
      const key = (row) => row.cells[at].dataset.sort || row.cells[at].textContent;
      const rows = [...body.rows].sort((a, b) =>
        key(a).localeCompare(key(b), "en", { numeric: true }));
      body.append(...(up ? rows : rows.reverse()));
    });
  });
  const field = document.getElementById("filter");
  if (!field) return;
  field.closest("[hidden]").hidden = false;
  const said = document.getElementById("filtered");
  field.addEventListener("input", () => {
    const words = fold(field.value);
    let shown = 0;
    for (const row of body.rows) {
      const text = fold(row.textContent).join(" ");
      row.hidden = !words.every((word) => text.includes(word));
      shown += row.hidden ? 0 : 1;
    }
    said.textContent = words.length ? `${shown} of ${body.rows.length} shown.` : "";
  });
};

const box = document.getElementById("search");
if (box) {
  const field = document.getElementById("query");
  box.hidden = false;
  field.addEventListener("input", () => search(field.value));
  if (field.value) search(field.value);
}
const form = document.getElementById("firmware-form");
if (form) firmware(form);
document.querySelectorAll("table.sortable").forEach(sortable);
