"""Fifty names that try to be more than text. Sources: OWASP cheat sheets on XSS, CSV injection
and header injection; Unicode TR 36 (bidirectional marks); the markup of each format."""

from __future__ import annotations

NAMES: tuple[str, ...] = (
    # HTML and scripts
    "<script>document.title='owned'</script>",
    "</script><script>document.title='owned'</script>",
    "<img src=x onerror=\"document.title='owned'\">",
    "\"><img src=x onerror=document.title='owned'>",
    "' onmouseover='document.title=1",
    "<svg onload=document.title='owned'>",
    "</svg><script>document.title='owned'</script>",
    "</title><script>document.title='owned'</script>",
    "</style><script>document.title='owned'</script>",
    "</textarea><iframe src=javascript:document.title='owned'>",
    "<a href=\"javascript:document.title='owned'\">x</a>",
    "<base href=//example.org>",
    "<link rel=stylesheet href=//example.org/x.css>",
    "<meta http-equiv=refresh content='0;url=//example.org'>",
    "<!--",
    "-->",
    "<![CDATA[x]]>",
    "&lt;b&gt; &amp; &#60;script&#62;",
    "{{ 7 * 7 }}",
    "{% for x in range(9) %}x{% endfor %}",
    "${7*7}",
    "{0} {name} {__class__}",
    "%s %d %n",
    # SVG
    "<text x='0'>",
    "]]></text><foreignObject/>",
    "url(#p-track)",
    # typst
    '#panic("owned")',
    '#read("/etc/hosts")',
    "$ 1 / 0 $",
    "*bold* _italic_ = heading",
    "\\ #let x = 1",
    '#image("/etc/x.png")',
    "@label <label>",
    # spreadsheets
    "=1+1",
    '=HYPERLINK("http://example.org")',
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    " =1+1",
    # headers and lines
    "Route\r\nBcc: someone@example.org",
    "Route\nX-Header: 1",
    "a\u2028b\u2029c\x85d",
    "a\x00b\x07c\x1b[31md",
    # direction and look-alikes
    "\u202etxt.gpx\u202c",
    "\u2066abc\u2069 \u200fxyz",
    "طريق الجبل",
    "山道 の 道",
    "Đường Hồ Chí Minh",
)
