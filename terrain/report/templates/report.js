"use strict";
(function () {
  var told = document.getElementById("told");
  var rows = Array.prototype.slice.call(document.querySelectorAll("tr[data-s]"));
  var now = null;
  function mark(number, say) {
    if (now !== number) {
      document.querySelectorAll(".on[data-s]").forEach(function (e) { e.classList.remove("on"); });
      document.querySelectorAll('[data-s="' + number + '"]').forEach(function (e) { e.classList.add("on"); });
      now = number;
    }
    if (say) {
      var row = document.getElementById("s" + number);
      told.textContent = row ? row.getAttribute("data-told") : "";
      told.classList.toggle("on", told.textContent !== "");
    }
  }
  function numberOf(event) {
    var hit = event.target.closest ? event.target.closest("[data-s]") : null;
    return hit ? hit.getAttribute("data-s") : null;
  }
  document.addEventListener("pointerover", function (event) {
    var number = numberOf(event);
    if (number && event.pointerType === "mouse") { mark(number, event.target.closest("svg") !== null); }
  });
  document.addEventListener("click", function (event) {
    var number = numberOf(event);
    if (number) { mark(number, true); }
  });
  document.querySelectorAll(".scroll[data-keys]").forEach(function (box) {
    box.addEventListener("keydown", function (event) {
      var step = event.key === "ArrowRight" ? 1 : event.key === "ArrowLeft" ? -1 : 0;
      if (!step || !rows.length) { return; }
      event.preventDefault();
      var next = Math.min(rows.length, Math.max(1, (now ? Number(now) : step > 0 ? 0 : 2) + step));
      mark(String(next), true);
      var hit = box.querySelector('[data-s="' + next + '"]');
      if (hit && hit.scrollIntoView) { hit.scrollIntoView({ block: "nearest", inline: "nearest" }); }
    });
  });
})();
