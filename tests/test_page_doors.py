"""Who gets in: nothing of another host, another origin, without the key, or outside the folder."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from brumal.page.codes import TRIES, Codes
from brumal.page.desk import Desk
from brumal.page.doors import MOST_BYTES, POLICY, Doors
from brumal.page.pencil import load
from brumal.page.server import application
from brumal.records.read import read_season
from season_folders import season_folder

PORT = 8620
HOSTS = (f"127.0.0.1:{PORT}", f"localhost:{PORT}")
OURS = f"http://{HOSTS[0]}"
KEY = "a-key-of-its-own"
CHANGES = ("/pencil", "/undo", "/stop")
LOOKS = ("/", "/style.css", "/page.js", "/answers", "/plan.json", "/why?animal=F01")
REST = {"kind": "hand", "animal": "F01", "what": "rest"}


@pytest.fixture
def season(tmp_path: Path) -> Path:
    folder = tmp_path / "season"
    folder.mkdir()
    return season_folder(folder)


@pytest.fixture
def client(season: Path) -> Iterator[TestClient]:
    """Return a browser at the door; no worker runs, as no lifespan is entered."""
    records, _ = read_season(season)
    assert records is not None
    desk = Desk(season, records, season.parent / "out" / "pencil.json")
    doors = partial(Doors, hosts=HOSTS, port=PORT, key=KEY)
    yield TestClient(application(desk, doors), base_url=OURS, follow_redirects=False)


def inside(client: TestClient) -> TestClient:
    answer = client.get(f"/?key={KEY}")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    return client


def files(folder: Path) -> Mapping[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.mark.parametrize("address", LOOKS)
def test_without_the_key_nothing_is_shown(client: TestClient, address: str) -> None:
    for more in ({}, {"cookie": f"brumal-{PORT}=guessed"}, {"cookie": f"brumal-{PORT}="}):
        answer = client.get(address, headers=more)
        assert answer.status_code == 403
        assert "Frost" not in answer.text


@pytest.mark.parametrize("address", CHANGES)
def test_without_the_key_nothing_is_changed(client: TestClient, season: Path, address: str) -> None:
    assert client.post(address, data=REST, headers={"origin": OURS}).status_code == 403
    assert not (season.parent / "out").exists()


def test_the_key_works_once_and_becomes_a_cookie(client: TestClient) -> None:
    answer = client.get(f"/?key={KEY}")
    cookie = answer.headers["set-cookie"].lower()
    assert cookie.startswith(f"brumal-{PORT}=")
    assert "httponly" in cookie and "samesite=strict" in cookie and "path=/" in cookie
    assert KEY not in cookie
    client.cookies.clear()
    assert client.get(f"/?key={KEY}").status_code == 403


@pytest.mark.parametrize("key", ["", "a-key-of-its-ow", KEY.upper(), KEY + "x", "\u00e9"])
def test_a_wrong_key_opens_nothing(client: TestClient, key: str) -> None:
    assert client.get("/", params={"key": key}).status_code == 403


def test_the_cookie_is_found_among_what_other_programs_put_in_the_jar(client: TestClient) -> None:
    client.get(f"/?key={KEY}")
    own = client.cookies[f"brumal-{PORT}"]
    client.cookies.clear()
    jar = f'a="b; {{c}}=é; =; brumal-1=x; brumal-{PORT}={own}; d'
    assert client.get("/style.css", headers={"cookie": jar.encode()}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:1", f"0.0.0.0:{PORT}", ""],
)
def test_a_host_that_is_not_ours_gets_nothing(client: TestClient, season: Path, host: str) -> None:
    """A name of somebody else's that points here (DNS rebinding) bears its own name along."""
    inside(client)
    kept = client.cookies[f"brumal-{PORT}"]
    sent = {"host": host, "cookie": f"brumal-{PORT}={kept}", "origin": f"http://{host}"}
    for address in LOOKS:
        assert client.get(address, headers=sent).status_code == 403
    assert client.post("/pencil", data=REST, headers=sent).status_code == 403
    assert load(season.parent / "out" / "pencil.json") == ()


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://evil.example", f"https://{HOSTS[0]}", f"http://127.0.0.1:{PORT}.x"],
)
def test_a_page_of_another_origin_changes_nothing(
    client: TestClient, season: Path, origin: str | None
) -> None:
    inside(client)
    headers = {} if origin is None else {"origin": origin}
    for address in CHANGES:
        assert client.post(address, data=REST, headers=headers).status_code == 403
    assert load(season.parent / "out" / "pencil.json") == ()


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_what_a_browser_says_comes_from_elsewhere_is_turned_away(
    client: TestClient, site: str
) -> None:
    inside(client)
    headers = {"sec-fetch-site": site, "origin": OURS}
    assert client.get("/", headers={"sec-fetch-site": site}).status_code == 403
    assert client.post("/pencil", data=REST, headers=headers).status_code == 403


def test_our_own_page_may_pencil(client: TestClient, season: Path) -> None:
    before = files(season)
    answer = inside(client).post("/pencil", data=REST, headers={"origin": OURS})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert len(load(season.parent / "out" / "pencil.json")) == 1
    assert files(season) == before


@pytest.mark.parametrize(
    "address",
    [
        "/../season/animals.csv",
        "/%2e%2e/season/animals.csv",
        "/..%2fseason%2fanimals.csv",
        "/static/page.css",
        "/templates/sheet.html",
        "/animals.csv",
        "//etc/passwd",
        "/why/../../etc/passwd",
    ],
)
def test_no_path_leads_to_a_file(client: TestClient, address: str) -> None:
    answer = inside(client).get(address)
    assert answer.status_code == 404
    assert "Frost" not in answer.text and "root:" not in answer.text


@pytest.mark.parametrize("address", ["/style.css", "/nowhere"])
def test_every_answer_bears_the_headers(client: TestClient, address: str) -> None:
    for answer in (client.get(address), inside(client).get(address)):
        assert answer.headers["content-security-policy"] == POLICY
        assert answer.headers["referrer-policy"] == "same-origin"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"] == "no-store"
        assert "server" not in answer.headers


def test_the_policy_lets_no_inline_script_or_style_run() -> None:
    assert "unsafe" not in POLICY and "data:" not in POLICY and "*" not in POLICY
    assert "default-src 'none'" in POLICY and "frame-ancestors 'none'" in POLICY


def test_what_is_too_large_is_refused(client: TestClient) -> None:
    inside(client)
    headers = {"origin": OURS, "content-length": str(MOST_BYTES + 1)}
    assert client.post("/pencil", content=b"", headers=headers).status_code == 413
    headers = {"origin": OURS, "content-length": "many"}
    assert client.post("/pencil", content=b"", headers=headers).status_code == 413


@pytest.mark.parametrize(
    "form",
    [
        {},
        {"kind": "hand", "animal": "F01", "what": "sing"},
        {"kind": "hand", "animal": "F01", "what": "with"},
        {"kind": "set", "path": "limits", "value": "1"},
        {"kind": "set", "path": "[]", "value": "1"},
        {"kind": "set", "path": "[1, 2]", "value": "1"},
        {"kind": "open", "path": "/etc/passwd"},
    ],
)
def test_a_form_of_no_page_of_ours_is_refused(
    client: TestClient, season: Path, form: dict[str, str]
) -> None:
    answer = inside(client).post("/pencil", data=form, headers={"origin": OURS})
    assert answer.status_code == 400
    assert load(season.parent / "out" / "pencil.json") == ()


def test_a_mark_on_what_is_not_there_is_told_and_not_kept(client: TestClient, season: Path) -> None:
    forms = [
        {"kind": "hand", "animal": "Nobody", "what": "rest"},
        {"kind": "set", "path": '["limits", "boxs"]', "value": "1"},
        {"kind": "set", "path": '["__class__", "x"]', "value": "1"},
    ]
    inside(client)
    for form in forms:
        client.post("/pencil", data=form, headers={"origin": OURS})
        assert "Not done." in client.get("/?now=1").text
        assert load(season.parent / "out" / "pencil.json") == ()


class Phones:
    """A client at a door that has codes, and the codes told so far."""

    def __init__(self, season: Path) -> None:
        records, _ = read_season(season)
        assert records is not None
        desk = Desk(season, records, season.parent / "out" / "pencil.json")
        self.told: list[str] = []
        doors = partial(Doors, hosts=HOSTS, port=PORT, key=KEY, codes=Codes(self.told.append))
        app = application(desk, doors)
        self.client = TestClient(app, base_url=OURS, follow_redirects=False)

    def say(self, code: str, origin: str = OURS) -> tuple[int, str]:
        answer = self.client.post("/code", data={"code": code}, headers={"origin": origin})
        return answer.status_code, answer.text


def test_a_code_lets_one_phone_in(season: Path) -> None:
    phones = Phones(season)
    first = phones.told[0]
    assert len(first) == 8 and first.isalpha() and first.isupper()
    assert phones.client.get("/week").headers["location"] == "/code"
    assert "Frost" not in phones.client.get("/code").text
    assert phones.say(f" {first[:4].lower()} {first[4:]}")[0] == 303
    assert phones.client.get("/week").status_code == 200
    phones.client.cookies.clear()
    assert phones.say(first)[0] == 403
    assert len(phones.told) == 2 and phones.told[1] != first
    assert phones.say(phones.told[1])[0] == 303


def test_tries_are_limited(season: Path) -> None:
    phones = Phones(season)
    for _ in range(TRIES):
        assert phones.say("AAAAAAAA")[0] == 403
    status, text = phones.say(phones.told[0])
    assert status == 403 and "Too many" in text
    assert phones.client.get("/week").status_code == 303


def test_another_origin_cannot_try_codes(season: Path) -> None:
    phones = Phones(season)
    assert phones.say(phones.told[0], "http://evil.example")[0] == 403
    assert len(phones.told) == 1


def test_without_the_network_there_is_no_code(client: TestClient) -> None:
    assert client.get("/code").status_code == 403
    answer = client.post("/code", data={"code": "AAAAAAAA"}, headers={"origin": OURS})
    assert answer.status_code == 403
    assert inside(client).get("/code").status_code == 404
