"use strict";
(function () {
  var told = document.getElementById("told");
  var rows = Array.prototype.slice.call(document.querySelectorAll("tr[data-s]"));
  var now = null;
  var narrow = window.matchMedia("(max-width: 760px)").matches;
  // The parts after the first screens stand folded, some on a phone only; without scripts and on
  // paper all is open.
  var folding = Array.prototype.filter.call(document.querySelectorAll("[data-fold]"), function (section) {
    return narrow || section.getAttribute("data-fold") !== "phone";
  });
  var folds = folding.map(function (section, i) {
    var head = section.querySelector("h2, h3, figcaption"), body = head.nextElementSibling;
    var button = document.createElement("button");
    body.id = body.id || "fold" + i;
    button.type = "button";
    button.className = "fold";
    while (head.firstChild) { button.appendChild(head.firstChild); }
    button.setAttribute("aria-controls", body.id);
    button.addEventListener("click", function () { show(button.getAttribute("aria-expanded") !== "true"); });
    body.addEventListener("beforematch", function () { show(true); });
    head.appendChild(button);
    section.classList.add("folds");
    function show(open) {
      button.setAttribute("aria-expanded", String(open));
      if (open) { body.removeAttribute("hidden"); } else { body.setAttribute("hidden", "until-found"); }
    }
    show(false);
    return { section: section, show: show };
  });
  function each(what) { folds.forEach(what); }
  function unfold(goal) { each(function (fold) { if (fold.section.contains(goal)) { fold.show(true); } }); }
  function goTo() {
    var goal = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    if (goal) { unfold(goal); goal.scrollIntoView(); }
  }
  goTo();
  window.addEventListener("hashchange", goTo);
  window.addEventListener("beforeprint", function () { each(function (fold) { fold.show(true); }); });
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
      if (hit) { unfold(hit); }
      if (hit && hit.scrollIntoView) { hit.scrollIntoView({ block: "nearest", inline: "nearest" }); }
    });
  });
})();
