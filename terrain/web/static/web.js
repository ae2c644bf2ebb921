"use strict";
(function () {
  // Progress is asked for and told in its own part. When the work is done, the parts that are
  // marked live are put in place; the page itself, with what is typed on it, stands still.
  var watch = document.querySelector("[data-watch]");
  var wait_ms = 1000;
  function look() {
    fetch(watch.getAttribute("data-watch"), { headers: { accept: "application/json" } })
      .then(function (answer) { return answer.ok ? answer.json() : null; })
      .then(function (told) {
        if (told) {
          told.routes.forEach(function (route) {
            var place = watch.querySelector('[data-route="' + route.id + '"]');
            if (place && place.textContent !== route.text) { place.textContent = route.text; }
          });
          if (!told.working) { return renew(); }
        }
        wait_ms = Math.min(wait_ms * 1.1, 5000);
        setTimeout(look, wait_ms);
      })
      .catch(function () { setTimeout(look, 4000); });
  }
  function renew() {
    if (watch.getAttribute("data-then") === "load") { location.reload(); return null; }
    var here = watch.querySelector("[data-news] a").href;
    return fetch(here)
      .then(function (answer) { if (!answer.ok) { throw new Error(); } return answer.text(); })
      .then(function (text) {
        var fresh = new DOMParser().parseFromString(text, "text/html");
        var stays = false;
        document.querySelectorAll("[data-live]").forEach(function (part) {
          var name = part.getAttribute("data-live");
          var other = fresh.querySelector('[data-live="' + name + '"]');
          if (!other) { return; }
          if (touched(part)) { stays = true; return; }
          part.replaceWith(document.importNode(other, true));
          bind(document.querySelector('[data-live="' + name + '"]'));
        });
        if (!stays) { watch.remove(); return; }
        watch.querySelectorAll("[role=status]").forEach(function (line) { line.remove(); });
        watch.querySelector("[data-news]").hidden = false;
      });
  }
  // Whether something was typed or chosen in a part, or is about to be.
  function touched(part) {
    if (part.contains(document.activeElement)) { return true; }
    return Array.prototype.some.call(part.querySelectorAll("input, select, textarea"), function (field) {
      if (field.type === "checkbox" || field.type === "radio") { return field.checked !== field.defaultChecked; }
      if (field.tagName === "SELECT") {
        var marked = Array.prototype.findIndex.call(field.options, function (option) { return option.defaultSelected; });
        return field.selectedIndex !== Math.max(marked, 0);
      }
      return field.type !== "hidden" && field.value !== field.defaultValue;
    });
  }
  if (watch) { setTimeout(look, 600); }

  function bind(part) {
    // Files may be dropped on their box.
    part.querySelectorAll("[data-drop]").forEach(function (box) {
      var input = box.querySelector("input[type=file]");
      box.querySelector(".drop-here").hidden = false;
      var over = box.querySelector("[data-over]");
      // Told before it is sent: after a refusal nothing of the form would be left.
      function check() {
        var bytes = 0;
        Array.prototype.forEach.call(input.files, function (file) { bytes += file.size; });
        var large = input.files.length > Number(box.dataset.most) || bytes > Number(box.dataset.bytes);
        if (over) { over.hidden = !large; input.setCustomValidity(large ? over.textContent : ""); }
      }
      input.addEventListener("change", check);
      ["dragenter", "dragover"].forEach(function (name) {
        box.addEventListener(name, function (event) { event.preventDefault(); box.classList.add("over"); });
      });
      box.addEventListener("dragleave", function () { box.classList.remove("over"); });
      box.addEventListener("drop", function (event) {
        event.preventDefault();
        box.classList.remove("over");
        if (event.dataTransfer.files.length) { input.files = event.dataTransfer.files; check(); }
      });
    });

    part.querySelectorAll("[data-copy]").forEach(function (button) {
      button.hidden = false;
      button.addEventListener("click", function () {
        var field = document.getElementById(button.getAttribute("data-copy"));
        field.select();
        if (navigator.clipboard) { navigator.clipboard.writeText(field.value); } else { document.execCommand("copy"); }
        button.textContent = button.getAttribute("data-done");
      });
    });

    // A form is sent once, however often its button is pressed.
    part.querySelectorAll("form[method=post]").forEach(function (form) {
      form.addEventListener("submit", function (event) {
        if (form.dataset.sent) { event.preventDefault(); return; }
        form.dataset.sent = "1";
      });
    });
  }
  bind(document);

  // A page that answers a form stands at its own address, so that loading it again sends nothing.
  document.querySelectorAll("[data-here]").forEach(function (field) {
    history.replaceState(null, "", field.getAttribute("data-here"));
  });

  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(function (form) { delete form.dataset.sent; });
  });
})();
