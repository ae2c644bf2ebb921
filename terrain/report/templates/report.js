"use strict";
(function () {
  var told = document.getElementById("told");
  var rows = Array.prototype.slice.call(document.querySelectorAll("tr[data-s]"));
  var now = null;
  // On a phone the parts after the first screens stand folded; without scripts and on paper all is open.
  var narrow = window.matchMedia("screen and (max-width: 760px)");
  var folds = Array.prototype.map.call(document.querySelectorAll("[data-fold]"), function (section, i) {
    var head = section.querySelector("h2"), body = head.nextElementSibling, title = head.textContent;
    body.id = body.id || "fold" + i;
    body.addEventListener("beforematch", function () { show(true); });
    function show(open) {
      var button = head.querySelector("button");
      if (button) { button.setAttribute("aria-expanded", String(open)); }
      if (open || !button) { body.removeAttribute("hidden"); } else { body.setAttribute("hidden", "until-found"); }
    }
    return { body: body, show: show, arrange: function () {
      if (narrow.matches === (head.querySelector("button") !== null)) { return; }
      head.textContent = "";
      if (narrow.matches) {
        var button = document.createElement("button");
        button.type = "button";
        button.className = "fold";
        button.textContent = title;
        button.setAttribute("aria-controls", body.id);
        button.addEventListener("click", function () { show(button.getAttribute("aria-expanded") !== "true"); });
        head.appendChild(button);
      } else {
        head.textContent = title;
      }
      show(false);
    } };
  });
  function each(what) { folds.forEach(what); }
  function arrange() { each(function (fold) { fold.arrange(); }); }
  function goTo() {
    var goal = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    each(function (fold) { if (goal && fold.body.contains(goal)) { fold.show(true); goal.scrollIntoView(); } });
  }
  arrange();
  goTo();
  if (narrow.addEventListener) { narrow.addEventListener("change", arrange); }
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
      if (hit && hit.scrollIntoView) { hit.scrollIntoView({ block: "nearest", inline: "nearest" }); }
    });
  });
})();
