"""Pages of the desk hold no keys of our data, in any language."""

from __future__ import annotations

import re

import pytest

from terrain.text.catalogue import LANGUAGES
from tests.report.plain_words import raw_words
from tests.web.conftest import Office

_PAGES = ("/desk", "/desk/new", "/desk/b/K1", "/desk/b/K1/riders", "/desk/b/K1/mail/1",
          "/desk/b/K1/sheet/1", "/desk/questions", "/desk/notes", "/desk/helpers", "/desk/bikes",
          "/desk/letters", "/desk/import", "/desk/people", "/desk/audit", "/guide",
          "/guide/1")  # fmt: skip
_WRONG = (
    ("/desk/b/K1", {"starts_on": "2027-05-04", "ends_on": "2027-05-03"}),
    ("/desk/b/K1", {"starts_on": "May"}),
    ("/desk/b/K1", {"depart": "noon"}),
    ("/desk/b/K1", {"email": "nobody"}),
    ("/desk/b/K1", {"rider": "keen", "state": "analysed"}),
    ("/guide/1", {"stop_km.1": "ten", "stop_kind.1": "pinned"}),
    ("/desk/new", {"ref": "a b"}),
)  # fmt: skip


@pytest.mark.parametrize("lang", LANGUAGES)
def test_no_raw_words(office: Office, lang: str) -> None:
    link = office.booking(lang=lang, starts_on="2027-05-03", wanted="dual-sport")
    office.send(link)
    office.work()
    staff = office.as_role("admin")
    staff.post("/account/language", {"lang": lang})
    staff.post("/desk/b/K1", {"starts_on": "2027-05-04"})
    office.work()
    pages = {path: staff.get(path) for path in _PAGES}
    pages |= {f"{path} {form}": staff.post(path, form) for path, form in _WRONG}
    pages |= {path: office.client.get(path) for path in (link + "/change", link + "/ride")}
    for path, page in pages.items():
        wrong = "{" in path
        assert page.status_code == (422 if wrong else 200), (path, page.text)
        # A table's columns are named as they have to stand in the file.
        shown = re.sub(r'<p class="hint columns">.*?</p>', " ", page.text, flags=re.S)
        assert raw_words(shown) == set(), path
        if wrong:
            fault = re.search(r'class="fault" role="alert">([^<]+)', page.text)
            assert fault is not None and "pinned" not in fault[1], path
