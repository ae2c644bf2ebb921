"use strict";
(function () {
  var SVG = "http://www.w3.org/2000/svg";
  document.querySelectorAll("form[data-map-form]").forEach(function (form) {
    var box = form.querySelector("[data-map]");
    if (!box) { return; }
    box.hidden = false;
    var svg = box.querySelector("svg"), drawn = svg.querySelector(".drawn");
    var field = form.querySelector("[name=points]"), count = form.querySelector("[data-count]");
    var single = box.hasAttribute("data-single");
    function number(name) { return Number(svg.getAttribute(name)); }
    var west = number("data-west"), north = number("data-north");
    var pxLon = number("data-px-lon"), pxLat = number("data-px-lat");
    function points() {
      return field.value.split(";").filter(Boolean).map(function (part) { return part.split(",").map(Number); });
    }
    function make(name, values, text) {
      var element = document.createElementNS(SVG, name);
      Object.keys(values).forEach(function (key) { element.setAttribute(key, values[key]); });
      if (text) { element.textContent = text; }
      drawn.appendChild(element);
    }
    function show() {
      var all = points(), d = "";
      drawn.textContent = "";
      var spots = all.map(function (p) { return [(p[0] - west) * pxLon, (north - p[1]) * pxLat]; });
      spots.forEach(function (s, n) { d += (n ? "L" : "M") + s[0].toFixed(1) + " " + s[1].toFixed(1); });
      make("path", { "class": "line", d: d || "M0 0" });
      spots.forEach(function (s, n) {
        make("circle", { "class": "point", cx: s[0], cy: s[1], r: 6 });
        make("text", { "class": "n", x: s[0] + 9, y: s[1] + 4 }, String(n + 1));
      });
      if (count) { count.textContent = count.getAttribute("data-count").replace("{n}", all.length); }
    }
    function keep(all) {
      field.value = all.map(function (p) { return p[0].toFixed(5) + "," + p[1].toFixed(5); }).join(";");
      show();
    }
    svg.addEventListener("click", function (event) {
      var frame = svg.getBoundingClientRect();
      var scale = svg.viewBox.baseVal.width / frame.width;
      var x = (event.clientX - frame.left) * scale, y = (event.clientY - frame.top) * scale;
      var spot = [west + x / pxLon, north - y / pxLat];
      keep(single ? [spot] : points().concat([spot]));
    });
    function undo(event) { event.preventDefault(); keep(points().slice(0, -1)); }
    var take = form.querySelector("[name=undo]") || form.querySelector("[data-undo]");
    if (take) { take.hidden = false; take.addEventListener("click", undo); }
    // Look nearer at what is being drawn.
    form.querySelectorAll("[data-zoom]").forEach(function (link) {
      link.addEventListener("click", function () {
        var all = points(), at = new URL(link.href);
        if (all.length) { at.searchParams.set("lon", all[all.length - 1][0]); at.searchParams.set("lat", all[all.length - 1][1]); }
        link.href = at.href;
      });
    });
    box.scrollLeft = (box.scrollWidth - box.clientWidth) / 2;
    field.addEventListener("change", show);
    show();
  });
})();
