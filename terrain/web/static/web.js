"use strict";
(function () {
  // Progress: ask how far it is; show the report when it is there.
  var steps = document.querySelector("[data-state]");
  function look() {
    fetch(steps.getAttribute("data-state"), { headers: { accept: "application/json" } })
      .then(function (answer) { return answer.ok ? answer.json() : null; })
      .then(function (told) {
        if (told) {
          told.routes.forEach(function (route) {
            var place = steps.querySelector('[data-route="' + route.id + '"]');
            if (place && place.textContent !== route.text) { place.textContent = route.text; }
          });
          if (!told.working) { location.reload(); return; }
        }
        setTimeout(look, 1000);
      })
      .catch(function () { setTimeout(look, 4000); });
  }
  if (steps) { setTimeout(look, 600); }

  // Files may be dropped on their box.
  document.querySelectorAll("[data-drop]").forEach(function (box) {
    var input = box.querySelector("input[type=file]");
    box.querySelector(".drop-here").hidden = false;
    ["dragenter", "dragover"].forEach(function (name) {
      box.addEventListener(name, function (event) { event.preventDefault(); box.classList.add("over"); });
    });
    box.addEventListener("dragleave", function () { box.classList.remove("over"); });
    box.addEventListener("drop", function (event) {
      event.preventDefault();
      box.classList.remove("over");
      if (event.dataTransfer.files.length) { input.files = event.dataTransfer.files; }
    });
  });

  document.querySelectorAll("[data-copy]").forEach(function (button) {
    button.hidden = false;
    button.addEventListener("click", function () {
      var field = document.getElementById(button.getAttribute("data-copy"));
      field.select();
      if (navigator.clipboard) { navigator.clipboard.writeText(field.value); } else { document.execCommand("copy"); }
      button.textContent = button.getAttribute("data-done");
    });
  });

  // A page that answers a form stands at its own address, so that loading it again sends nothing.
  document.querySelectorAll("[data-here]").forEach(function (field) {
    history.replaceState(null, "", field.getAttribute("data-here"));
  });

  // A form is sent once, however often its button is pressed.
  document.querySelectorAll("form[method=post]").forEach(function (form) {
    form.addEventListener("submit", function (event) {
      if (form.dataset.sent) { event.preventDefault(); return; }
      form.dataset.sent = "1";
    });
  });
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(function (form) { delete form.dataset.sent; });
  });
})();
