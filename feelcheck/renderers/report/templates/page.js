"use strict";
(function () {
  function key(row, k) {
    var cell = row.cells[k];
    return cell.dataset.sort === undefined ? null : parseFloat(cell.dataset.sort);
  }
  function order(k, sign) {
    return function (a, b) {
      var x = key(a, k), y = key(b, k);
      if (x !== null && y !== null) { return sign * (x - y); }
      if (x !== null || y !== null) { return x === null ? 1 : -1; }
      return sign * a.cells[k].textContent.localeCompare(b.cells[k].textContent);
    };
  }
  document.querySelectorAll("th button").forEach(function (button) {
    button.addEventListener("click", function () {
      var head = button.parentElement, table = head.closest("table"), body = table.tBodies[0];
      var up = head.getAttribute("aria-sort") !== "ascending";
      table.querySelectorAll("th").forEach(function (th) { th.setAttribute("aria-sort", "none"); });
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      Array.from(body.rows).sort(order(head.cellIndex, up ? 1 : -1)).forEach(function (row) { body.appendChild(row); });
    });
  });
  function harmless(text) {
    var number = /^[-+]?[0-9][0-9.,]*([eE][-+]?[0-9]+)?%?([ \u202f]?[A-Za-z\u00b5\u00b0%\/]{1,8})?( \([-+0-9., a-z]*\))?$/;
    return /^[=+\-@|%]/.test(text) && !number.test(text) ? "'" + text : text;
  }
  function asText(table) {
    return Array.from(table.rows).map(function (row) {
      return Array.from(row.cells).map(function (cell) { return harmless(cell.textContent.trim()); }).join("\t");
    }).join("\n");
  }
  function reachable() {
    document.querySelectorAll(".scroll").forEach(function (box) {
      if (box.scrollWidth > box.clientWidth) { box.tabIndex = 0; } else { box.removeAttribute("tabindex"); }
    });
  }
  reachable();
  addEventListener("resize", reachable);
  function unfold(target) {
    for (var box = target; box; box = box.parentElement) { if (box.tagName === "DETAILS") { box.open = true; } }
  }
  function follow() {
    var target = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    if (target) { unfold(target); target.scrollIntoView(); }
  }
  addEventListener("hashchange", follow);
  follow();
  addEventListener("beforeprint", function () { document.querySelectorAll("details:not([open])").forEach(function (box) { box.open = true; box.dataset.folded = ""; }); });
  addEventListener("afterprint", function () { document.querySelectorAll("details[data-folded]").forEach(function (box) { box.open = false; delete box.dataset.folded; }); });
  document.querySelectorAll("details").forEach(function (box) { box.addEventListener("toggle", reachable); });
  function say(words) { document.getElementById("said").textContent = words; }
  document.querySelectorAll(".copy").forEach(function (button) {
    button.addEventListener("click", function () {
      var table = button.parentElement.querySelector("table"), text = asText(table);
      function select() {
        var range = document.createRange();
        range.selectNodeContents(table);
        getSelection().removeAllRanges();
        getSelection().addRange(range);
        say("The table is selected; copy it with the keyboard.");
      }
      if (!navigator.clipboard) { select(); return; }
      navigator.clipboard.writeText(text).then(function () { say("Copied."); }, select);
    });
  });
}());
