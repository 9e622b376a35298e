"use strict";
// Filters the embedded choices. It computes no error: every figure was there before.
(function () {
  const SHOWN = 12;
  const NO_BREAK = "\u00a0"; // keeps an age together with its count
  const AGES = 0, COUNTS = 1, MODEL = 2, RMS = 3, INSIDE = 4, OVER = 5, COST = 6, VISITS = 8;
  const data = JSON.parse(document.getElementById("what-if-data").textContent);
  const find = (id) => document.getElementById(id);
  const hasCost = data.rows.some((row) => row[COST] !== null);
  const total = (counts) => counts.reduce((sum, count) => sum + count, 0);
  const percent = (share, digits) => (share === null ? "-" : (100 * share).toFixed(digits) + NO_BREAK + "%");

  function makeOption(select, value, text) {
    const option = document.createElement("option");
    option.value = value;
    option.textContent = text;
    select.append(option);
  }

  function makeControls() {
    makeOption(find("limit-age"), "", "any");
    data.ages.forEach((age, place) => {
      makeOption(find("limit-age"), String(place), age.label);
      const label = document.createElement("label");
      label.append(age.label + " ");
      const select = document.createElement("select");
      select.dataset.age = String(place);
      makeOption(select, "", "may");
      makeOption(select, "must", "must");
      makeOption(select, "not", "must not");
      label.append(select);
      find("limit-ages").append(label);
    });
    if (!hasCost) {
      find("limit-cost-label").hidden = true;
      find("limit-cost-label").style.display = "none";
      document.querySelector("#what-if-table [data-cost]").hidden = true;
    }
  }

  function numberFrom(id) {
    const number = parseFloat(find(id).value);
    return Number.isFinite(number) ? number : Infinity;
  }

  function limits() {
    const latest = find("limit-age").value;
    const wishes = Array.from(document.querySelectorAll("#limit-ages select"));
    const wanted = (wish) => wishes.filter((select) => select.value === wish).map((select) => Number(select.dataset.age));
    return {
      specimens: numberFrom("limit-specimens"),
      visits: numberFrom("limit-visits"),
      cost: numberFrom("limit-cost"),
      latest: latest === "" ? Infinity : Number(latest),
      must: wanted("must"),
      mustNot: wanted("not"),
    };
  }

  function keeps(row, limit) {
    const ages = row[AGES];
    return total(row[COUNTS]) <= limit.specimens
      && row[VISITS] <= limit.visits
      && ages[ages.length - 1] <= limit.latest
      && (limit.cost === Infinity || (row[COST] !== null && row[COST] <= limit.cost))
      && limit.must.every((age) => ages.includes(age))
      && !limit.mustNot.some((age) => ages.includes(age));
  }

  // Rows come best first: the first of each set of ages has the counts that serve it best.
  function firstOfEachAges(rows) {
    const seen = new Set();
    const firsts = [];
    for (const row of rows) {
      const key = row[AGES].join();
      if (!seen.has(key)) firsts.push(row);
      seen.add(key);
      if (firsts.length === SHOWN) break;
    }
    return firsts;
  }

  function addCell(line, text, isNumber) {
    const cell = document.createElement("td");
    cell.textContent = text;
    if (isNumber) cell.className = "number";
    line.append(cell);
  }

  function lineFor(row) {
    const line = document.createElement("tr");
    const name = document.createElement("th");
    name.scope = "row";
    name.textContent = row[AGES].map((age, place) => data.ages[age].label.replace(" ", NO_BREAK) + NO_BREAK + "x" + row[COUNTS][place]).join(", ");
    line.append(name);
    addCell(line, String(total(row[COUNTS])), true);
    addCell(line, String(row[VISITS]), true);
    addCell(line, percent(row[RMS], 1), true);
    addCell(line, percent(row[INSIDE], 0), true);
    addCell(line, percent(row[OVER], 0), true);
    if (hasCost) addCell(line, row[COST] === null ? "-" : row[COST].toFixed(0) + " " + data.currency, true);
    addCell(line, data.models[row[MODEL]].replace(/Q (\S+) K/, "Q\u00a0$1\u00a0K"), false);
    return line;
  }

  function show() {
    const limit = limits();
    const kept = data.rows.filter((row) => keeps(row, limit));
    const body = document.querySelector("#what-if-table tbody");
    body.replaceChildren(...firstOfEachAges(kept).map(lineFor));
    find("what-if-table").hidden = kept.length === 0;
    find("what-if-status").textContent = kept.length === 0
      ? "No embedded schedule keeps these limits. Loosen one, or run the planner with them."
      : kept.length + " of " + data.rows.length + " schedules keep these limits; the best has an RMS error of "
        + percent(kept[0][RMS], 1) + ", the recommended one " + percent(data.recommended.rms, 1) + ".";
  }

  makeControls();
  find("what-if-controls").hidden = false;
  find("what-if-controls").addEventListener("input", show);
  find("limit-reset").addEventListener("click", () => {
    document.querySelectorAll("#what-if-controls input, #what-if-controls select").forEach((field) => { field.value = ""; });
    show();
  });
  show();
})();
